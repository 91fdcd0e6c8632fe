"""Counts and shares of the blends.

Source: reference table of systematic blends (blends.yaml of the design): counts computed, the
grid of 35 after I. Currie, Revealing Glazes (2000); its parts of 24 computed.
"""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from core.blend.additions import addition_series, doubling
from core.blend.grid import grid_shares
from core.blend.line import line_shares
from core.blend.triaxial import STEPS, triangle_place, triaxial_shares
from core.errors import InputError
from core.recipe import Ingredient, Recipe


def test_a_line_of_eleven_steps_by_tenths():
    a = [100, 90, 80, 70, 60, 50, 40, 30, 20, 10, 0]
    assert [100 * first for first, _ in line_shares(11)] == a
    assert [100 * last for _, last in line_shares(11)] == a[::-1]


@pytest.mark.parametrize("tiles", range(3, 22))
def test_a_line_has_as_many_tiles_as_asked_for(tiles):
    shares = line_shares(tiles)
    assert len(set(shares)) == tiles
    assert all(sum(one) == 1 for one in shares)


@pytest.mark.parametrize("tiles", [-1, 0, 1, 2, 22])
def test_a_line_of_other_lengths_is_refused(tiles):
    with pytest.raises(InputError, match="3 to 21"):
        line_shares(tiles)


@pytest.mark.parametrize(("percent", "tiles"), [("20", 21), ("12.5", 45), ("10", 66)])
def test_triangles_have_the_usual_counts(percent, tiles):
    steps = STEPS[percent]
    shares = triaxial_shares(steps)
    # Simplex lattice {3, k}: C(k + 2, k).
    assert len(set(shares)) == len(shares) == tiles == comb(steps + 2, steps)
    assert all(sum(one) == 1 and min(one) >= 0 for one in shares)
    assert Fraction(1, steps) == Fraction(percent) / 100


def test_a_triangle_runs_row_by_row_from_corner_a_to_the_side_b_c():
    shares = triaxial_shares(5)
    assert shares[0] == (1, 0, 0)
    assert shares[15] == (0, 1, 0)
    assert shares[20] == (0, 0, 1)
    places = [triangle_place(one, 5) for one in shares]
    assert places == [(row, column) for row in range(6) for column in range(row + 1)]


@pytest.mark.parametrize(
    ("number", "parts"),
    [
        (1, (24, 0, 0, 0)),
        (3, (12, 12, 0, 0)),
        (5, (0, 24, 0, 0)),
        (7, (15, 5, 3, 1)),
        (16, (12, 0, 12, 0)),
        (18, (6, 6, 6, 6)),
        (20, (0, 12, 0, 12)),
        (31, (0, 0, 24, 0)),
        (33, (0, 0, 12, 12)),
        (35, (0, 0, 0, 24)),
    ],
)
def test_the_grid_of_35_has_the_tabled_parts_of_24(number, parts):
    assert [24 * share for share in grid_shares()[number - 1]] == list(parts)


def test_the_grid_of_35_uses_every_corner_alike():
    assert [sum(column) * 24 for column in zip(*grid_shares(), strict=True)] == [210] * 4


@pytest.mark.parametrize(("columns", "rows"), [(2, 2), (3, 3), (5, 5), (7, 5), (10, 12)])
def test_grids_of_other_sizes_follow_the_same_rule(columns, rows):
    shares = grid_shares(columns, rows)
    assert len(shares) == columns * rows
    for number, (a, b, c, d) in enumerate(shares):
        row, column = divmod(number, columns)
        assert a + b + c + d == 1
        assert b + d == Fraction(column, columns - 1)
        assert c + d == Fraction(row, rows - 1)
        assert a * d == b * c  # bilinear


@pytest.mark.parametrize(("columns", "rows"), [(1, 7), (16, 2), (11, 11)])
def test_a_grid_that_no_shelf_holds_is_refused(columns, rows):
    with pytest.raises(InputError):
        grid_shares(columns, rows)


def test_additions_double():
    assert doubling(0.25, 4) == (0.25, 0.5, 1.0, 2.0)


def test_a_series_replaces_its_own_addition_and_keeps_the_others():
    base = (Ingredient("silica", 60.0), Ingredient("whiting", 40.0))
    recipe = Recipe(
        "T", base=base, additions=(Ingredient("rutile", 4.0), Ingredient("zircon", 9.0))
    )
    series = addition_series(recipe, "rutile", (0.0, 1.0))
    assert series[0].additions == (Ingredient("zircon", 9.0),)
    assert series[1].additions == (Ingredient("zircon", 9.0), Ingredient("rutile", 1.0))
    assert all(one.base == base for one in series)


@pytest.mark.parametrize("percents", [(), (1.0, 1.0), (-1.0,), (float("nan"),), (51.0,)])
def test_a_series_that_cannot_be_is_refused(percents):
    with pytest.raises(InputError):
        addition_series(Recipe(base=(Ingredient("silica", 1.0),)), "rutile", percents)
