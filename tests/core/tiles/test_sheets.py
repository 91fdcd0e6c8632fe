"""What a run puts on paper, from its file alone."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from core.blend.plan import additions_plan, line_blend, variants_plan
from core.blend.slop import Slop
from core.errors import InputError
from core.plain_yaml import parse
from core.recipe import Section
from core.tiles.codes import code_of
from core.tiles.run import Run, run_of
from core.tiles.run_file import run_from, run_text
from core.tiles.sheets import plan_of, run_sheets
from core.variants import save_variant

DAY = "2031-02-01"


def _through_the_file(run: Run) -> Run:
    return run_from(parse(run_text(run), "r.yaml"))


def _codes(number: int) -> list[str]:
    return [code_of("K", n) for n in range(number)]


@pytest.fixture
def line(fixture_recipe, studio) -> Run:
    """Eleven tiles to more silica, cups of 50 ml, no reserve."""
    other = replace(fixture_recipe.with_amount(Section.BASE, 4, 40.0), name="More silica")
    plan = line_blend(fixture_recipe, other, 11, studio)
    return _through_the_file(
        run_of(plan, _codes(11), "Line", DAY, studio, cup_ml=50.0, reserve_percent=0.0)
    )


def test_a_run_gives_back_its_plan(line, fixture_recipe, studio):
    other = replace(fixture_recipe.with_amount(Section.BASE, 4, 40.0), name="More silica")
    first = line_blend(fixture_recipe, other, 11, studio)
    again = plan_of(line, studio)
    assert again.kind is first.kind
    assert again.neighbours == first.neighbours
    assert [cell.shares for cell in again.cells] == [cell.shares for cell in first.cells]
    for one, other_cell in zip(again.cells, first.cells, strict=True):
        assert one.formula.unity == pytest.approx(other_cell.formula.unity, abs=1e-12)
    with pytest.raises(InputError, match="no tiles"):
        plan_of(Run("Empty"), studio)


def test_a_wet_line_has_corners_to_weigh_and_a_chart(line, studio):
    sheets = run_sheets(line, studio)
    assert [code for code, _ in sheets.codes] == _codes(11)
    assert sheets.chart is not None
    assert sheets.chart.needed_ml == (Decimal(275), Decimal(275))
    assert all(sum(cup.volumes_ml) == 50 for cup in sheets.chart.cups)
    # Brongniart at 1.45 and 2.6: 731 g in a litre, so some 201 g in 275 ml.
    for corner in sheets.corner_batches:
        assert float(corner.batch.total) == pytest.approx(201, abs=3)
        assert corner.batch.lines[-1].running_total == corner.batch.total
    assert "specific gravity" in sheets.words[0]


def test_measured_corners_correct_the_chart(line, studio):
    thin = line.with_measured("A", Slop(300.0, 300.0))
    assert run_sheets(thin, studio).chart == run_sheets(line, studio).chart  # one is not enough
    both = _through_the_file(thin.with_measured("B", Slop(300.0, 200.0)))
    sheets = run_sheets(both, studio)
    assert sheets.chart is not None
    assert sheets.chart.corrected
    assert "43:57" in sheets.words[0]
    assert sheets.chart.cups[5].dry_shares == pytest.approx((0.5, 0.5), abs=0.002)
    assert sheets.corner_batches == run_sheets(line, studio).corner_batches
    with pytest.raises(InputError, match="no corner"):
        line.with_measured("Q", None)
    with pytest.raises(InputError):
        line.with_measured("A", Slop(specific_gravity=0.5))


def test_a_dry_run_is_weighed_tile_by_tile(line, studio):
    sheets = run_sheets(replace(line, method="dry", batch_g=100.0), studio)
    assert sheets.chart is None
    assert len(sheets.tile_batches) == 11
    assert all(batch.base_total == 100 for batch in sheets.tile_batches)
    coarse = run_sheets(replace(line, method="dry", batch_g=100.0), studio, readout_g=5.0)
    assert "silica" in {warning.material for warning in coarse.scale}


def test_additions_go_into_cups_of_wet_base(fixture_recipe, studio):
    plan = additions_plan(fixture_recipe, "red-iron-oxide", (0.5, 1.0, 2.0), studio)
    run = run_of(plan, _codes(3), "Iron", DAY, studio, cup_ml=100.0)
    measured = run.with_measured("A", Slop(specific_gravity=1.5, solid_density=2.5))
    sheets = run_sheets(_through_the_file(measured), studio)
    # By hand: 100 ml hold 83.33 g of dry glaze.
    grams = [dose.grams for dose in sheets.doses]
    assert grams == pytest.approx([0.41667, 0.83333, 1.66667], abs=1e-4)
    assert [dose.code for dose in sheets.doses] == _codes(3)
    assert sheets.scale == ()
    assert run_sheets(measured, studio, readout_g=1.0).scale


def test_an_addition_counts_against_the_base_where_the_slop_holds_others(fixture_recipe, studio):
    with_zircon = fixture_recipe.with_material(Section.ADDITIONS, 0, "zircon")
    with_zircon = with_zircon.with_amount(Section.ADDITIONS, 0, 10.0)
    plan = additions_plan(with_zircon, "red-iron-oxide", (1.0,), studio)
    run = run_of(plan, _codes(1), "Iron", DAY, studio, cup_ml=110.0)
    measured = run.with_measured("A", Slop(dry_g=100.0, volume_ml=100.0))
    (dose,) = run_sheets(measured, studio).doses
    # 110 ml hold 110 g dry, of which 100 g is base: 1 % of it.
    assert (dose.material, dose.grams) == ("red-iron-oxide", pytest.approx(1.0))


def test_variants_are_weighed_by_themselves(fixture_recipe, studio):
    recipe = save_variant(save_variant(fixture_recipe, "one", DAY), "two", DAY)
    plan = variants_plan(recipe, ("A", "B"), studio)
    run = _through_the_file(run_of(plan, _codes(2), "Two", DAY, studio))
    assert [tile.variant for tile in run.tiles] == ["A", "B"]
    assert len(run_sheets(run, studio).tile_batches) == 2


def test_additions_without_a_base_of_their_own_are_weighed_one_by_one(fixture_recipe, studio):
    plan = additions_plan(fixture_recipe, "red-iron-oxide", (0.5, 1.0, 2.0), studio)
    run = run_of(plan, _codes(3), "Iron", DAY, studio, batch_g=100.0)
    tiles = tuple(replace(tile, shares=()) for tile in run.tiles)
    sheets = run_sheets(replace(run, corners=(), tiles=tiles), studio)
    assert [batch.base_total for batch in sheets.tile_batches] == [100, 100, 100]


def test_a_tile_without_shares_is_named_before_anything_is_blended(line, studio):
    tiles = (line.tiles[0], replace(line.tiles[1], shares=()), *line.tiles[2:])
    with pytest.raises(InputError, match=f"{line.tiles[1].code} .* no shares"):
        run_sheets(replace(line, tiles=tiles), studio)
