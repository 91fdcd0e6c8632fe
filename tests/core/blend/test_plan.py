"""Plans: every cell is the mix of its corners, by a calculation of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.blend.mix import dry_weight, mixed
from core.blend.names import corner_names
from core.blend.plan import (
    BlendKind,
    additions_plan,
    evaluations,
    grid_blend,
    line_blend,
    recipes_plan,
    triaxial_blend,
    variants_plan,
)
from core.errors import InputError
from core.evaluate import formula_alone
from core.materials import Analysis
from core.oxides import OXIDES
from core.recipe import Ingredient, Pin, Recipe
from core.variants import save_variant

# Ideal formulas as they stand in mineralogy books: oxides that stay, and what leaves.
_MINERALS = {
    "potash-feldspar": ({"K2O": 1, "Al2O3": 1, "SiO2": 6}, {}),
    "talc": ({"MgO": 3, "SiO2": 4}, {"H2O": 1}),
    "whiting": ({"CaO": 1}, {"CO2": 1}),
    "kaolin": ({"Al2O3": 1, "SiO2": 2}, {"H2O": 2}),
    "silica": ({"SiO2": 1}, {}),
    "tin-oxide": ({"SnO2": 1}, {}),
}
_FLUXES = ("K2O", "MgO", "CaO")


def _moles_per_gram_of_slop(recipe: Recipe) -> dict[str, float]:
    """Oxides of one gram of dry glaze, additions included, by atomic weights of periodictable."""
    base = sum(row.amount for row in recipe.base)
    weights = [(row.material, row.amount) for row in recipe.base]
    weights += [(row.material, row.amount * base / 100) for row in recipe.additions]
    whole = sum(weight for _, weight in weights)
    moles: dict[str, float] = {}
    for material, weight in weights:
        stays, leaves = _MINERALS[material]
        mass = sum(n * periodictable.formula(f).mass for f, n in {**stays, **leaves}.items())
        for oxide, count in stays.items():
            moles[oxide] = moles.get(oxide, 0.0) + weight / whole / mass * count
    return moles


def _unity_of_mix(recipes, volumes) -> dict[str, float]:
    moles: dict[str, float] = {}
    for recipe, volume in zip(recipes, volumes, strict=True):
        for oxide, amount in _moles_per_gram_of_slop(recipe).items():
            moles[oxide] = moles.get(oxide, 0.0) + float(volume) * amount
    fluxes = sum(moles.get(oxide, 0.0) for oxide in _FLUXES)
    return {oxide: amount / fluxes for oxide, amount in moles.items()}


def _agrees(cell, expected) -> None:
    for oxide, value in zip(OXIDES, cell.formula.unity, strict=True):
        assert value == pytest.approx(expected.get(oxide, 0.0), abs=1e-9)


@pytest.mark.parametrize(("columns", "rows"), [(5, 7), (3, 4)])
def test_a_grid_s_cells_are_the_mix_of_the_corners_by_volume(corners, studio, columns, rows):
    plan = grid_blend(corners, studio, columns, rows)
    assert len(plan.cells) == columns * rows
    assert (plan.columns, plan.rows) == (columns, rows)
    for cell in plan.cells:
        u, v = cell.column / (columns - 1), cell.row / (rows - 1)
        volumes = ((1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v)
        _agrees(cell, _unity_of_mix(corners, volumes))


def test_a_line_s_cells_are_the_mix_of_its_ends(corners, studio):
    plan = line_blend(corners[1], corners[2], 11, studio)
    assert plan.kind is BlendKind.LINE
    for number, cell in enumerate(plan.cells):
        _agrees(cell, _unity_of_mix(corners[1:3], (1 - number / 10, number / 10)))


def test_a_triangle_s_cells_are_the_mix_of_its_corners(corners, studio):
    plan = triaxial_blend(corners[:3], 5, studio)
    assert len(plan.cells) == 21
    for cell in plan.cells:
        c = cell.column / 5
        a = 1 - cell.row / 5
        _agrees(cell, _unity_of_mix(corners[:3], (a, 1 - a - c, c)))


def test_the_corners_come_back_whole(corners, studio):
    plan = grid_blend(corners, studio)
    for number, corner in zip((1, 5, 31, 35), corners, strict=True):
        cell = plan.cells[number - 1]
        np.testing.assert_allclose(
            cell.formula.unity, formula_alone(corner, studio).unity, rtol=0, atol=1e-9
        )
        assert sum(row.amount for row in cell.recipe.base) == pytest.approx(100.0, abs=1e-9)


def test_additions_stay_percent_of_the_base_and_count_in_the_dry_weight(corners):
    half = mixed(corners[1:3], (0.5, 0.5))
    base_b, base_c = 180.0, 77.0
    whole_b = base_b * 1.075
    expected = 100 * (0.5 * 0.075 * base_b / whole_b) / (0.5 * base_b / whole_b + 0.5)
    assert half.additions[0].amount == pytest.approx(expected, abs=1e-9)
    assert dry_weight(corners[1]) == pytest.approx(whole_b)
    assert dry_weight(corners[2]) == pytest.approx(base_c)


_AMOUNT = st.floats(0.5, 90.0)


@given(st.lists(_AMOUNT, min_size=6, max_size=6), st.floats(0.0, 1.0))
def test_a_mix_of_any_two_recipes_is_their_mix_in_moles(studio, amounts, share):
    names = ["potash-feldspar", "whiting", "silica"]
    one, other = (
        Recipe("x", base=tuple(map(Ingredient, names, part))) for part in (amounts[:3], amounts[3:])
    )
    expected = _unity_of_mix((one, other), (1 - share, share))
    found = formula_alone(mixed((one, other), (1 - share, share)), studio).unity
    for oxide, value in zip(OXIDES, found, strict=True):
        assert value == pytest.approx(expected.get(oxide, 0.0), rel=1e-9, abs=1e-9)


def test_corners_are_named_by_what_they_hold(corners, studio):
    plan = grid_blend(corners, studio)
    names = [corner.name for corner in plan.corners]
    assert names == ["most clay", "least flux", "most flux", "most silica"]
    assert [corner.letter for corner in plan.corners] == ["A", "B", "C", "D"]


def test_ends_are_named_by_what_they_differ_in_most(base_of, studio):
    ends = [
        base_of(potash_feldspar=40, talc=5, whiting=22, kaolin=19, silica=14),
        base_of(potash_feldspar=40, talc=25, whiting=2, kaolin=19, silica=14),
    ]
    assert corner_names(ends, studio) == ("most whiting", "most talc")


def test_twins_are_told_apart(base_of, studio):
    one = base_of(silica=50, whiting=50)
    names = corner_names((one, one, one), studio)
    assert len(set(names)) == 3


def test_additions_and_variants_are_plans_too(fixture_recipe, studio):
    plan = additions_plan(fixture_recipe, "tin-oxide", (0.25, 0.5, 1.0, 2.0), studio)
    assert [cell.label for cell in plan.cells] == [
        f"{percent} % Tin oxide" for percent in ("0.25", "0.5", "1", "2")
    ]
    assert [cell.recipe.additions[0].amount for cell in plan.cells] == [0.25, 0.5, 1.0, 2.0]
    assert all(cell.recipe.base == fixture_recipe.base for cell in plan.cells)
    two = save_variant(save_variant(fixture_recipe, "one", "2031-01-01"), "two", "2031-01-01")
    chosen = variants_plan(two, ("B", "A"), studio)
    assert [cell.label for cell in chosen.cells] == ["B", "A"]
    assert [cell.recipe.based_on for cell in chosen.cells] == ["B", "A"]
    assert [tuple(map(int, cell.shares)) for cell in chosen.cells] == [(1, 0), (0, 1)]
    with pytest.raises(InputError, match="no variant"):
        variants_plan(two, ("C",), studio)
    with pytest.raises(InputError, match="twice"):
        variants_plan(two, ("A", "A"), studio)
    with pytest.raises(InputError):
        recipes_plan((), studio)


def test_neighbours_lie_one_step_apart(corners, studio):
    grid = grid_blend(corners, studio)
    # 4 gaps in each of 7 rows and 6 in each of 5 columns.
    assert len(grid.neighbours) == 4 * 7 + 6 * 5
    triangle = triaxial_blend(corners[:3], 5, studio)
    # Three directions, 15 edges in each.
    assert len(triangle.neighbours) == 45
    cells = triangle.cells
    for a, b in triangle.neighbours:
        moved = [abs(x - y) for x, y in zip(cells[a - 1].shares, cells[b - 1].shares, strict=True)]
        assert sorted(map(float, moved)) == [0.0, 0.2, 0.2]


def test_every_cell_is_read_as_the_bench_reads_it(corners, studio):
    plan = line_blend(corners[0], corners[3], 3, studio)
    read = list(evaluations(plan, studio))
    assert len(read) == 3
    for cell, evaluation in zip(plan.cells, read, strict=True):
        assert evaluation.point == cell.formula.point
        assert evaluation.reading.surface is not None


def test_two_meanings_of_one_material_are_not_blended(corners, studio):
    pin = Pin("Whiting", Analysis.from_percent({"CaO": 50.0, "SiO2": 5.0}, 45.0))
    other = replace(corners[1], name="Old heron", pinned={"whiting": pin})
    with pytest.raises(InputError, match="different analyses of Whiting"):
        line_blend(corners[0], other, 5, studio)


def test_an_empty_corner_is_refused(corners, studio):
    with pytest.raises(InputError):
        line_blend(corners[0], Recipe("Nothing"), 5, studio)
    with pytest.raises(InputError, match="takes 4"):
        grid_blend(corners[:3], studio)
