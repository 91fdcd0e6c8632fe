"""Checking files without opening them in the window."""

from __future__ import annotations

import shutil
from datetime import date

import pytest

from core.check import check_file, yaml_files
from core.errors import InputError
from core.tables import data_folder


def _write(folder, name: str, text: str):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_a_sound_recipe_has_nothing_odd(tmp_path, fixture_text):
    assert list(check_file(_write(tmp_path, "a.yaml", fixture_text))) == []


def test_what_is_odd_though_sound_is_said(tmp_path, fixture_text):
    text = fixture_text.replace("whiting", "moon-dust").replace("cone-10-medium", "raku")
    said = list(check_file(_write(tmp_path, "a.yaml", text)))
    assert len(said) == 2
    assert "moon-dust" in said[0]
    assert "raku" in said[1]


def test_a_recipe_is_checked_with_the_studio_around_it(tmp_path, fixture_text):
    _write(tmp_path, "studio.yaml", 'glost: "1"\nkind: studio\n')
    own = "{id: moon-dust, name: Moon, formula: CaCO3}"
    _write(tmp_path, "materials.yaml", f'glost: "1"\nkind: materials\nmaterials: [{own}]\n')
    path = _write(tmp_path, "recipes/a.yaml", fixture_text.replace("whiting", "moon-dust"))
    assert list(check_file(path)) == []


def test_an_analysis_that_does_not_add_up_is_said(tmp_path):
    text = 'glost: "1"\nkind: materials\nmaterials:\n- {id: a, name: Odd, analysis: {SiO2: "60"}}\n'
    assert "Odd" in next(check_file(_write(tmp_path, "materials.yaml", text)))


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("a.yaml", "", None),
        ("a.yaml", "hello\n", 1),
        ("a.yaml", 'glost: "1"\nkind: poem\n', 2),
        ("a.yaml", 'glost: "1"\nkind: recipe\nname: "x"\nbase: [{material: a, parts: b}]\n', 4),
        ("bodies.yaml", 'glost: "1"\nkind: bodies\nbodies: [{id: a}]\n', 3),
        ("f.yaml", 'glost: "1"\nkind: firing\nid: x\nsegments: [{to_c: "1"}]\n', 4),
        ("studio.yaml", 'glost: "1"\nkind: studio\nscales: x\n', 3),
        ("materials.yaml", 'glost: "1"\nkind: materials\nmaterials: [{id: a, name: b}]\n', 3),
    ],
)
def test_a_fault_names_the_file_and_the_line(tmp_path, name, text, line):
    path = _write(tmp_path, name, text)
    with pytest.raises(InputError) as fault:
        list(check_file(path))
    assert str(fault.value).startswith(str(path))
    assert fault.value.line == line
    assert str(fault.value).isprintable()


def test_a_recipe_in_a_spoilt_studio_names_the_spoilt_file(tmp_path, fixture_text):
    _write(tmp_path, "studio.yaml", 'glost: "1"\nkind: studio\n')
    _write(tmp_path, "materials.yaml", "nothing\n")
    path = _write(tmp_path, "recipes/a.yaml", fixture_text)
    with pytest.raises(InputError, match=r"materials\.yaml"):
        list(check_file(path))


def test_a_run_is_checked_down_to_its_tiles(tmp_path):
    good = 'glost: "1"\nkind: run\nname: "R"\ntiles:\n- {code: "KHJLQ"}\n'
    assert list(check_file(_write(tmp_path, "r.yaml", good))) == []
    with pytest.raises(InputError, match=r"line 5, tiles\[0\]\.code") as fault:
        list(check_file(_write(tmp_path, "s.yaml", good.replace("KHJLQ", "K0JLQ"))))
    assert fault.value.line == 5


ODD_RUN = """\
glost: "1"
kind: run
name: "R"
planned: "2031-02-11"
fired: "2031-02-09"
firing: "raku"
body: "moon-clay"
reserve_percent: "500"
tiles:
- {code: "KHJLQ", result: {body: "sun-clay", read: "2031-02-08"}}
- {code: "KXJMR", shares: ["1"]}
"""


@pytest.mark.parametrize(
    "word",
    ["reserve of 500", "before it was planned", "'raku'", "'moon-clay'", "'sun-clay'",
     "read on 2031-02-08, before", "KXJMR has shares"],
)  # fmt: skip
def test_what_is_odd_about_a_run_is_said(tmp_path, word):
    said = list(check_file(_write(tmp_path, "r.yaml", ODD_RUN), today=date(2031, 3, 1)))
    assert [word in line for line in said].count(True) == 1
    assert len(said) == 7


def test_a_day_that_is_still_to_come_is_said(tmp_path):
    path = _write(tmp_path, "r.yaml", 'glost: "1"\nkind: run\nname: "R"\nfired: "2031-02-09"\n')
    (said,) = check_file(path, today=date(2031, 2, 8))
    assert "2031-02-09" in said
    assert list(check_file(path, today=date(2031, 2, 9))) == []


def test_a_run_is_checked_with_the_studio_around_it(tmp_path):
    _write(tmp_path, "studio.yaml", 'glost: "1"\nkind: studio\n')
    own = "{id: moon-clay, name: Moon}"
    _write(tmp_path, "bodies.yaml", f'glost: "1"\nkind: bodies\nbodies: [{own}]\n')
    path = _write(tmp_path, "runs/r.yaml", ODD_RUN)
    said = list(check_file(path, today=date(2031, 3, 1)))
    assert not any("moon-clay" in line for line in said)


def test_a_machine_s_letter_is_checked(tmp_path):
    good = 'glost: "1"\nkind: machine\nletter: "K"\nmachine: "a1"\n'
    assert list(check_file(_write(tmp_path, "K.yaml", good))) == []
    with pytest.raises(InputError, match="letter"):
        list(check_file(_write(tmp_path, "O.yaml", good.replace('"K"', '"O"'))))


@pytest.mark.parametrize("name", ["surface_rules.yaml", "cones.yaml"])
def test_a_table_that_no_studio_holds_is_refused_in_words(name):
    with pytest.raises(InputError, match="kind"):
        list(check_file(data_folder() / name))


def test_the_files_of_a_folder_are_found_without_its_backups(tmp_path):
    for name in ("studio.yaml", "recipes/a.yaml", "backups/a.yaml", "photos/x.jpg"):
        _write(tmp_path, name, "")
    assert [p.relative_to(tmp_path).as_posix() for p in yaml_files(tmp_path)] == [
        "recipes/a.yaml",
        "studio.yaml",
    ]
    assert yaml_files(tmp_path / "studio.yaml") == [tmp_path / "studio.yaml"]


def test_a_studio_below_a_folder_called_backups_is_still_found(tmp_path):
    _write(tmp_path, "backups/studio/studio.yaml", "")
    assert len(yaml_files(tmp_path / "backups" / "studio")) == 1


def test_nothing_to_check_is_said(tmp_path):
    with pytest.raises(InputError, match="no YAML files"):
        yaml_files(tmp_path)
    with pytest.raises(InputError, match="does not exist"):
        yaml_files(tmp_path / "nowhere")


def test_a_code_that_stands_on_two_tiles_is_named(tmp_path):
    shutil.copytree(data_folder() / "demo-studio", tmp_path / "studio")
    runs = tmp_path / "studio" / "runs"
    first = next(runs.glob("*.yaml"))
    assert list(check_file(tmp_path / "studio" / "studio.yaml")) == []
    shutil.copy(first, runs / "again.yaml")
    said = list(check_file(tmp_path / "studio" / "studio.yaml"))
    assert len(said) == 11
    assert "the code KHJLQ stands on two tiles" in said
