"""The commands aim and swap, as a script and a person meet them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from app.command_line import run
from core.files.studio_lock import StudioLock, read_holder
from core.recipe_file import read_recipe
from core.studio import begin_studio


@pytest.fixture
def recipe(tmp_path, fixture_text) -> Path:
    path = tmp_path / "fixture.yaml"
    path.write_text(fixture_text, encoding="utf-8")
    return path


def said(capsys, *arguments):
    assert run(list(map(str, arguments))) == 0
    return capsys.readouterr().out


def failure(capsys, *arguments):
    assert run(list(map(str, arguments))) == 1
    out, err = capsys.readouterr()
    assert not out
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


def test_aim_prints_recipes_whose_formula_read_confirms(capsys, recipe):
    asked = ("--set", "SiO2=3.2", "--set", "Al2O3=0.5")
    values = json.loads(said(capsys, "aim", recipe, *asked, "--save", "drier", "--json"))
    assert values["reached"] is True
    assert values["saved"] == "drier"
    assert 1 <= len(values["recipes"]) <= 5
    first = values["recipes"][0]
    assert sum(first["parts"].values()) == pytest.approx(100.0)
    # The variant, read anew by the command that knows nothing of solving.
    read = json.loads(said(capsys, "read", recipe, "--variant", "drier", "--json"))
    assert read["unity"]["SiO2"] == pytest.approx(3.2, abs=0.001)
    assert read["unity"]["Al2O3"] == pytest.approx(0.5, abs=0.001)
    # What was not asked for stays as in the recipe: K2O 0.234, CaO 0.372, MgO 0.393.
    for oxide, value in (("K2O", 0.234), ("CaO", 0.372), ("MgO", 0.393)):
        assert read["unity"][oxide] == pytest.approx(value, abs=0.002)
    assert read["unity"] == pytest.approx(first["unity"], abs=1e-6)


def test_saving_leaves_the_rows_of_the_recipe_alone(capsys, recipe):
    before = read_recipe(recipe)
    said(capsys, "aim", recipe, "--set", "SiO2=3.2", "--save", "first")
    said(capsys, "swap", recipe, "--out", "kaolin", "--in", "calcined-kaolin", "--save", "second")
    after = read_recipe(recipe)
    assert after.base == before.base
    assert [v.name for v in after.variants] == ["first", "second"]
    assert "SiO2 3.2" in after.variants[0].reason
    assert "kaolin" in after.variants[1].reason
    text = recipe.read_bytes()
    assert "already" in failure(capsys, "aim", recipe, "--set", "SiO2=3", "--save", "first")
    assert "name" in failure(capsys, "aim", recipe, "--set", "SiO2=3", "--save", "  ")
    assert recipe.read_bytes() == text


def test_ranges_limits_and_rounding(capsys, recipe):
    out = said(
        capsys,
        *("aim", recipe, "--set", "MgO=0.3..0.35", "--set", "SiO2=3.0", "--set", "Al2O3=0.45"),
        *("--others", "free", "--clay", "10..20", "--loi", "..11", "--round", "0.5", "--json"),
    )
    values = json.loads(out)
    first = values["recipes"][0]
    assert all(2 * p == pytest.approx(round(2 * p)) for p in first["parts"].values())
    assert 0.27 < first["unity"]["MgO"] < 0.38
    assert 9.5 <= first["clay_percent"] <= 20.5
    assert first["loss_on_ignition_percent"] <= 11.3
    assert values["goals"][0] == {"oxide": "MgO", "low": 0.3, "high": 0.35}


def test_what_is_missing_is_named(capsys, recipe):
    using = ("--using", "talc,silica,whiting,kaolin,potash-feldspar")
    out = said(capsys, "aim", recipe, "--set", "B2O3=0.2", *using)
    assert "No material here brings B2O3: add a borate frit, colemanite or borax." in out
    values = json.loads(said(capsys, "aim", recipe, "--set", "B2O3=0.2", *using, "--json"))
    assert values["reached"] is False
    assert values["shortfalls"][0]["oxide"] == "B2O3"
    assert values["shortfalls"][0]["materials_that_would_do"]


def test_swap_prints_rows_and_formula(capsys, recipe):
    out = said(capsys, "swap", recipe, "--out", "kaolin", "--in", "calcined-kaolin")
    assert "17.21" in out
    assert "The formula stays as it was." in out
    values = json.loads(
        said(capsys, "swap", recipe, "--out", "kaolin", "--in", "calcined-kaolin", "--json")
    )
    # The fixture's own table: 17.21 for 20, and the point stays.
    assert values["base"]["calcined-kaolin"] == pytest.approx(17.21, abs=0.005)
    assert values["exact"] is True
    assert values["point_after"] == pytest.approx([2.929, 0.475], abs=0.001)
    moved = json.loads(
        said(
            capsys,
            *("swap", recipe, "--out", "whiting", "--in", "wollastonite"),
            *("--move", "silica", "--keep", "SiO2,CaO", "--json"),
        )
    )
    assert moved["exact"] is True
    assert moved["base"]["silica"] < 10


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("aim", "--set", "SiO2"), "SiO2"),
        (("aim", "--set", "SiO2=plenty"), "plenty"),
        (("aim", "--set", "SiO2=.."), ".."),
        (("aim", "--set", "Xx=1"), "Xx"),
        (("aim", "--set", "SiO2=3", "--set", "SiO2=4"), "twice"),
        (("aim", "--others", "free"), "nothing is asked for"),
        (("aim", "--set", "SiO2=3", "--using", "foo"), "foo"),
        (("aim", "--set", "SiO2=3", "--using", ","), "no material"),
        (("aim", "--set", "SiO2=3", "--round", "0"), "step"),
        (("aim", "--set", "SiO2=3", "--loi", "9..2"), "loss on ignition"),
        (("swap", "--out", "foo", "--in", "silica"), "foo"),
        (("swap", "--out", "kaolin", "--in", "foo"), "foo"),
        (("swap", "--out", "kaolin", "--in", "calcined-kaolin", "--keep", "Xx"), "Xx"),
        (("swap", "--out", "kaolin", "--in", "calcined-kaolin", "--move", "zircon"), "zircon"),
    ],
)
def test_wrong_input_is_one_line(capsys, recipe, arguments, word):
    command, *rest = arguments
    assert word in failure(capsys, command, recipe, *rest)


def test_wrong_use_is_told(recipe):
    for arguments in (["swap", str(recipe)], ["swap", str(recipe), "--out", "kaolin"], ["aim"]):
        with pytest.raises(SystemExit) as stop:
            run(arguments)
        assert stop.value.code == 2


def test_the_json_is_clean_and_loads_no_window_system(recipe):
    script = (
        "import sys; from app.command_line import run; "
        f"code = run(['aim', {str(recipe)!r}, '--set', 'SiO2=3.1', '--set', 'B2O3=0.05', "
        "'--json']); "
        "assert not any(m.startswith(('PySide6', 'pyqtgraph')) for m in sys.modules); "
        "sys.exit(code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    # Nothing that the solver prints of itself gets in between.
    assert json.loads(done.stdout)["name"] == "Fixture"


def test_a_disk_that_refuses_is_said_in_one_line_with_the_way_out(recipe, capsys, monkeypatch):
    before = recipe.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("core.files.disk.create", full)
    said = failure(capsys, "aim", recipe, "--set", "SiO2=3.2", "--save", "first")
    assert "disk is full" in said
    assert recipe.read_bytes() == before


def test_no_command_writes_into_a_studio_that_a_window_has_open(capsys, tmp_path, fixture_text):
    folder = tmp_path / "studio"
    begin_studio(folder, "Tern Hollow")
    recipe = folder / "recipes" / "fixture.yaml"
    recipe.write_text(fixture_text, encoding="utf-8")
    # Reading never takes the studio.
    for arguments in (("read", recipe), ("check", folder)):
        said(capsys, *arguments)
        assert read_holder(folder) is None
    window = StudioLock(folder)
    window.take()
    before = recipe.read_bytes()
    words = failure(capsys, "aim", recipe, "--set", "SiO2=3.2", "--save", "drier")
    assert "open in another window" in words
    link = tmp_path / "link.yaml"
    link.symlink_to(recipe)
    words = failure(capsys, "aim", link, "--set", "SiO2=3.2", "--save", "drier")
    assert "open in another window" in words
    assert recipe.read_bytes() == before
    said(capsys, "read", recipe)
    said(capsys, "aim", recipe, "--set", "SiO2=3.2")
    window.release()
    said(capsys, "aim", recipe, "--set", "SiO2=3.2", "--save", "drier")
    assert recipe.read_bytes() != before
    assert read_holder(folder) is None


def test_a_recipe_changed_while_it_is_solved_is_not_written_over(recipe, capsys, monkeypatch):
    def changed(solved, *_):
        recipe.write_text("theirs", encoding="utf-8")
        return solved

    monkeypatch.setattr("app.solve_commands.with_analysis_pins", changed)
    said = failure(capsys, "aim", recipe, "--set", "SiO2=3.2", "--save", "first")
    assert "changed by another program" in said
    assert recipe.read_text(encoding="utf-8") == "theirs"
