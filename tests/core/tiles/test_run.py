"""Runs as values: results pin the recipe they were read from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.blend.plan import line_blend
from core.errors import InputError
from core.evaluate import evaluate, formula_alone
from core.materials import Analysis, Material, MaterialTable
from core.recipe import Section
from core.tiles.result import ZONE_OF, Defect, Result, Surface, check_result
from core.tiles.run import codes_of, run_of, share_of
from core.tiles.soundness import Proof, standing


def test_a_run_holds_the_cells_of_its_plan(run, fixture_recipe, studio):
    assert len(run.tiles) == 5
    assert [(c.letter, c.name) for c in run.corners] == [
        ("A", "least silica"),
        ("B", "most silica"),
    ]
    assert [row.amount for row in run.tiles[0].base] == pytest.approx([42, 16, 12, 20, 10])
    assert run.recipe_of(run.tiles[0]).firing == fixture_recipe.firing
    assert evaluate(run.recipe_of(run.tiles[2]), studio).reading.surface is not None


def test_a_tile_is_found_however_its_code_is_typed(run):
    code = run.tiles[3].code
    assert run.tile(f" {code.lower()[:2]}-{code.lower()[2:]}") is run.tiles[3]
    with pytest.raises(InputError, match="no tile"):
        run.tile("KKKKK")


def test_a_result_pins_the_recipe_as_it_was(run, studio):
    code = run.tiles[1].code
    read = run.with_result(code, Result(Surface.SATIN, touch="silk", read="2031-02-10"))
    tile = read.tile(code)
    assert tile.result is not None
    assert tile.result.version == run.version_of(run.tiles[1])
    rows = tile.base[:1]
    with pytest.raises(InputError, match="was read with the recipe as it is"):
        read.with_tile_rows(code, rows, ())
    assert read.oddities() == ()
    # Rows changed by hand in the file show.
    spoilt = replace(read, tiles=tuple(replace(t, base=rows) for t in read.tiles))
    assert any("read with other rows" in said for said in spoilt.oddities())
    # An unread tile may still be weighed otherwise.
    other = read.with_tile_rows(run.tiles[2].code, rows, ())
    assert other.tiles[2].base == rows


def test_a_tile_reads_the_same_when_the_table_has_moved_on(run, studio):
    tile = run.tiles[2]
    before = formula_alone(run.recipe_of(tile), studio).unity
    talc = Material("talc", "Talc", Analysis.from_percent({"MgO": 25.0, "SiO2": 70.0}, 5.0))
    moved = replace(studio, materials=MaterialTable([talc]).over(studio.materials))
    after = formula_alone(run.recipe_of(tile), moved).unity
    np.testing.assert_array_equal(before, after)


def test_every_surface_lies_in_a_zone():
    assert set(ZONE_OF) == set(Surface)
    assert [surface.value for surface in Surface] == [
        *("glossy", "satin", "silky matte", "dry matte", "unmelted")
    ]


@pytest.mark.parametrize(
    ("result", "path"),
    [
        (Result(marks=4), "marks"),
        (Result(cleans=-1), "cleans"),
        (Result(gloss_units=-1.0), "gloss_units"),
        (Result(gloss_units=float("nan")), "gloss_units"),
        (Result(gloss_units=30.0, gloss_angle=45.0), "gloss_angle"),
        (Result(gloss_angle=60.0), "gloss_angle"),
        (Result(thickness_mm=50.0), "thickness_mm"),
        (Result(local_cone="eleventy"), "local_cone"),
        (Result(photo="../studio.yaml"), "photo"),
        (Result(photo="C:\\a.jpg"), "photo"),
        (Result(photo=".."), "photo"),
        (Result(defects=(Defect(" "),)), "defects[0].name"),
        (Result(defects=(Defect("specks", share_percent=101.0),)), "defects[0].share_percent"),
    ],
)
def test_figures_that_cannot_be_are_refused_with_their_field(run, result, path):
    with pytest.raises(InputError) as fault:
        check_result(result)
    assert fault.value.path == path
    with pytest.raises(InputError):
        run.with_result(run.tiles[0].code, result)


def test_tests_speak_for_the_tile_as_it_is(run, studio):
    code = run.tiles[1].code
    tested = run.with_test(code, "acid", "2031-02-12", True, "no change")
    (test,) = tested.tile(code).tests
    assert test.fired == "2031-02-09"
    assert test.subject == run.subject_of(run.tiles[1])
    found = standing(tested.subject_of(tested.tile(code)), (test,))
    assert found.proof is Proof.PARTLY
    elsewhere = replace(tested, body="porcelain")
    found = standing(elsewhere.subject_of(elsewhere.tile(code)), (test,))
    assert found.proof is Proof.CHANGED
    with pytest.raises(InputError, match="before the firing"):
        run.with_test(code, "acid", "2031-02-08", True)


def test_a_tile_on_another_body_is_read_on_that_body(run):
    code = run.tiles[1].code
    read = run.with_result(code, Result(Surface.SATIN, body="porcelain", shelf="top"))
    recipe = read.recipe_of(read.tile(code))
    assert (recipe.body, recipe.shelf) == ("porcelain", "top")


def test_codes_must_be_enough_and_different(fixture_recipe, run, studio):
    other = fixture_recipe.with_amount(Section.BASE, 4, 40.0)
    plan = line_blend(fixture_recipe, other, 3, studio)
    codes = codes_of([run])
    for some in (codes[:2], [codes[0]] * 3, codes):
        with pytest.raises(InputError, match="take new codes"):
            run_of(plan, some, "R", "2031-02-01", studio)


@pytest.mark.parametrize("text", ["", "x", "1/0", "-1/2", "3/2", "nan", "1e-1", "9" * 50])
def test_shares_that_are_none_are_refused(text):
    with pytest.raises(InputError, match="no share"):
        share_of(text)
