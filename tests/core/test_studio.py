"""A studio's own tables before the shipped ones, and the demo studio."""

from __future__ import annotations

import json
from datetime import date

import pytest

from core.check import check_file, yaml_files
from core.errors import InputError
from core.evaluate import evaluate
from core.formula import State
from core.oxides import INDEX
from core.recipe_file import read_recipe
from core.regions import Zone
from core.report import report
from core.studio import begin_studio, find_studio, open_studio, studio_of
from core.tables import data_folder
from core.telling import report_text

DEMO = data_folder() / "demo-studio"
DEMO_RECIPES = sorted((DEMO / "recipes").glob("*.yaml"))

STUDIO = 'glost: "1"\nkind: studio\nname: "Test"\n'
MATERIALS = """\
glost: "1"
kind: materials
materials:
  - {id: "whiting", name: "Our whiting", analysis: {CaO: "54", MgO: "1"}, loi: "44.5"}
  - {id: "our-spar", name: "Our spar", formula: "K2O.Al2O3.6SiO2"}
"""
BODIES = """\
glost: "1"
kind: bodies
bodies:
  - {id: "stoneware", name: "Our stoneware", expansion_1e6_per_k: "6.1"}
"""
FIRING = """\
glost: "1"
kind: firing
id: "cone-10-medium"
name: "Our cone 10"
cone: "10"
segments:
  - {rate_c_per_h: "60", to_c: "1280"}
"""


@pytest.fixture
def folder(tmp_path):
    """A studio with a material, a body and a firing over the shipped ones."""
    for name, text in {
        "studio.yaml": STUDIO,
        "materials.yaml": MATERIALS,
        "bodies.yaml": BODIES,
        "firings/ours.yaml": FIRING,
    }.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (tmp_path / "recipes").mkdir()
    return tmp_path


def test_without_a_folder_there_are_the_shipped_tables(studio):
    alone = open_studio(None)
    assert alone.folder is None
    assert {m.origin for m in alone.materials} == {"shipped"}
    assert alone.convention == studio.convention
    assert studio.recipe_paths() == []


def test_a_studio_sees_its_own_materials_bodies_and_firings_first(folder, studio):
    # Source: design, section 6.
    own = open_studio(folder)
    assert own.name == "Test"
    assert own.materials.get("whiting").name == "Our whiting"
    assert own.materials.get("whiting").origin == "studio"
    assert own.materials.get("our-spar") is not None
    assert own.materials.get("talc") is studio.materials.get("talc")
    assert len(own.materials) == len(studio.materials) + 1
    assert own.bodies["stoneware"].expansion_1e6_per_k == 6.1
    assert own.bodies["porcelain"] == studio.bodies["porcelain"]
    assert own.firings["cone-10-medium"].peak_c == 1280
    assert own.firings["cone-6-medium"] == studio.firings["cone-6-medium"]
    assert own.faults == ()


def test_opening_a_studio_leaves_the_shipped_tables_as_they_were(folder, studio):
    open_studio(folder)
    again = open_studio(None)
    assert again.materials.get("whiting").origin == "shipped"
    assert again.bodies["stoneware"] == studio.bodies["stoneware"]
    assert again.firings["cone-10-medium"].peak_c == 1285


def test_a_recipe_is_computed_with_the_studio_s_own_material(folder, fixture_recipe):
    evaluation = evaluate(fixture_recipe, open_studio(folder))
    # By hand, IUPAC abridged weights: 54 % CaO in 12 parts of our whiting, and 1 % MgO.
    lime = 12 * 0.54 / 56.077
    fluxes = lime + 16 * 3 / 379.26 + 12 * 0.01 / 40.304 + 42 / 556.65
    assert evaluation.formula.unity[INDEX["CaO"]] == pytest.approx(lime / fluxes, rel=1e-4)
    assert evaluation.material_name("whiting") == "Our whiting"
    assert evaluation.moved == ()


def test_the_nearest_studio_above_a_file_is_found(folder):
    (folder / "recipes" / "old" / "deep").mkdir(parents=True)
    assert find_studio(folder) == folder
    assert find_studio(folder / "recipes") == folder
    assert find_studio(folder / "recipes" / "old" / "deep" / "x.yaml") == folder
    inner = folder / "recipes" / "old"
    (inner / "studio.yaml").write_text(STUDIO, encoding="utf-8")
    assert find_studio(inner / "deep") == inner


def test_outside_any_studio_there_is_none(tmp_path):
    assert find_studio(tmp_path / "x.yaml") is None


def test_recipes_are_listed_by_name(folder):
    for name in ("b.yaml", "A.yaml", "c.txt"):
        (folder / "recipes" / name).write_text("", encoding="utf-8")
    assert [p.name for p in open_studio(folder).recipe_paths()] == ["A.yaml", "b.yaml"]


def test_a_spoilt_firing_is_told_and_the_rest_still_opens(folder):
    (folder / "firings" / "bad.yaml").write_text(FIRING.replace("60", "hot"), encoding="utf-8")
    own = open_studio(folder)
    assert len(own.faults) == 1
    assert own.faults[0].source.endswith("bad.yaml")
    assert own.faults[0].line == 7
    assert own.faults[0].path == "segments[0]"
    assert own.firings["cone-10-medium"].name == "Our cone 10"


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("materials.yaml", MATERIALS.replace('"54"', '"-54"'), 4),
        ("bodies.yaml", BODIES.replace("6.1", "610"), 4),
        ("studio.yaml", STUDIO + 'count_as_flux: ["MnO", "UO2"]\n', 4),
        ("studio.yaml", STUDIO + 'scales:\n  - {id: "a", readout_g: "0"}\n', 5),
        ("studio.yaml", STUDIO + "test_batch_g: lots\n", 4),
        ("studio.yaml", STUDIO.replace("studio", "recipe"), 2),
    ],
)
def test_what_is_wrong_in_a_studio_is_named_with_its_file_and_line(folder, name, text, line):
    (folder / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as fault:
        open_studio(folder)
    assert fault.value.source.endswith(name)
    assert fault.value.line == line
    assert str(fault.value).isprintable()


def test_a_folder_without_a_studio_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"studio\.yaml"):
        open_studio(tmp_path)


def test_a_studio_may_count_a_colouring_oxide_among_the_fluxes(folder):
    # Source: design, section 4.
    text = STUDIO + 'count_as_flux: ["MnO", "CaO", "MnO"]\n'
    (folder / "studio.yaml").write_text(text, encoding="utf-8")
    convention = open_studio(folder).convention
    assert convention.mask[INDEX["MnO"]] == 1.0
    assert convention.mask.sum() == 10
    assert str(convention).count("MnO") == 1


def test_the_default_scale_is_the_one_named(folder):
    scales = (
        'scales:\n  - {id: "a", readout_g: "1"}\n  - {id: "b", readout_g: "0,01"}\n'
        'default_scale: "b"\n'
    )
    (folder / "studio.yaml").write_text(STUDIO + scales, encoding="utf-8")
    own = open_studio(folder)
    assert own.scale.readout_g == 0.01
    assert [scale.id for scale in own.scales] == ["a", "b"]


@pytest.mark.parametrize("path", DEMO_RECIPES, ids=lambda p: p.stem)
def test_a_demo_recipe_opens_and_is_computed_whole(path):
    recipe = read_recipe(path)
    evaluation = evaluate(recipe, open_studio(DEMO))
    assert evaluation.missing == ()
    assert evaluation.warnings == ()
    assert evaluation.moved == ()
    assert State.INCOMPLETE not in evaluation.formula.states
    assert evaluation.point is not None
    assert evaluation.firing is not None
    assert evaluation.body is not None
    assert sum(row.amount for row in recipe.base) > 0
    json.dumps(report(evaluation), allow_nan=False)
    assert report_text(evaluation)


def test_the_demo_studio_says_in_every_file_that_it_is_invented():
    assert len(DEMO_RECIPES) >= 8
    for path in DEMO.rglob("*.yaml"):
        # A firing has no ware and no figures of a glaze to be taken for tested.
        if path.parent.name != "firings":
            assert "invented" in path.read_text(encoding="utf-8").lower(), path.name
    for path in DEMO_RECIPES:
        notes = " ".join(read_recipe(path).notes.split())
        assert "Invented, never fired, not for food." in notes


def test_the_demo_studio_shows_the_forgotten_whiting():
    own = open_studio(DEMO)
    whole = evaluate(read_recipe(DEMO / "recipes" / "eider.yaml"), own)
    without = evaluate(read_recipe(DEMO / "recipes" / "eider-without-its-whiting.yaml"), own)
    assert without.formula.silica_alumina == pytest.approx(whole.formula.silica_alumina, rel=1e-9)
    assert whole.zone is not Zone.UNDERFIRED
    assert without.zone is Zone.UNDERFIRED


def test_every_file_of_the_demo_studio_passes_the_check():
    files = yaml_files(DEMO)
    # The studio, its materials, bodies, a firing, a run and the letter of a machine.
    assert len(files) == len(DEMO_RECIPES) + 6
    for path in files:
        # Its invented days are those of a year to come.
        assert list(check_file(path, today=date(2031, 4, 1))) == []


def test_a_broken_link_to_the_materials_is_a_fault_not_an_empty_table(tmp_path):
    (tmp_path / "studio.yaml").write_text('glost: "1"\nkind: studio\n', encoding="utf-8")
    (tmp_path / "materials.yaml").symlink_to(tmp_path / "nowhere.yaml")
    with pytest.raises(InputError, match=r"materials\.yaml"):
        open_studio(tmp_path)


def test_a_firing_id_that_stands_in_two_files_is_told_and_the_first_one_holds(tmp_path):
    (tmp_path / "studio.yaml").write_text('glost: "1"\nkind: studio\n', encoding="utf-8")
    (tmp_path / "firings").mkdir()
    for name, cone in (("a", "6"), ("b", "10")):
        (tmp_path / "firings" / f"{name}.yaml").write_text(
            f'glost: "1"\nkind: firing\nid: mine\ncone: "{cone}"\n', encoding="utf-8"
        )
    studio = open_studio(tmp_path)
    assert studio.firings["mine"].cone == "6"
    assert "b.yaml" in str(studio.faults[0])


def test_a_file_behind_a_link_lies_in_the_studio_that_it_is_saved_in(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    begin_studio(one, "One")
    begin_studio(two, "Two")
    recipe = one / "recipes" / "eider.yaml"
    recipe.touch()
    link = two / "recipes" / "eider.yaml"
    link.symlink_to(recipe)
    assert studio_of(recipe) == studio_of(link) == one
    assert studio_of(one / "recipes" / "not-there-yet.yaml") == one
    assert studio_of(tmp_path / "alone.yaml") is None


def test_a_studio_keeps_the_name_that_it_was_opened_under(tmp_path):
    begin_studio(tmp_path / "real", "Real")
    alias = tmp_path / "alias"
    alias.symlink_to(tmp_path / "real", target_is_directory=True)
    assert studio_of(alias / "recipes" / "eider.yaml") == alias
