"""Round parts hold the formula as nearly as parts of that step can."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from core.errors import InputError
from core.recipe import Section
from core.solve import round_recipe

ROUGH = {
    **{"potash_feldspar": 42.37, "talc": 16.21, "whiting": 12.44},
    **{"kaolin": 20.1, "silica": 9.3},
}


def _shift(by_hand, parts, before):
    found = by_hand(parts)
    return sum(abs(found.get(o, 0.0) - v) for o, v in before.items())


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0, 2.0])
def test_parts_become_whole_steps_that_add_up(step, base_of, studio, by_hand, parts_of):
    recipe = base_of(**ROUGH)
    rounded = round_recipe(recipe, studio, step)
    parts = parts_of(rounded.recipe)
    assert sum(parts.values()) == pytest.approx(100.0, abs=1e-9)
    for amount in parts.values():
        assert amount / step == pytest.approx(round(amount / step), abs=1e-9)
    before, after = by_hand(parts_of(recipe)), by_hand(parts)
    for oxide, shift in rounded.shifts.items():
        assert shift == pytest.approx(after[oxide] - before[oxide], abs=2e-4)
    assert rounded.worst < 0.1 * step


@pytest.mark.parametrize("step", [1.0, 2.0])
def test_no_neighbour_holds_the_formula_better(step, base_of, studio, by_hand, parts_of):
    recipe = base_of(**ROUGH)
    before = by_hand(parts_of(recipe))
    names = [row.material for row in recipe.base]
    exact = np.array([row.amount for row in recipe.base]) / sum(parts_of(recipe).values()) * 100
    best = np.inf
    for moves in product((-1, 0, 1, 2), repeat=len(names)):
        tried = (np.floor(exact / step) + np.array(moves)) * step
        if tried.min() > 0 and abs(tried.sum() - 100) < 1e-9:
            parts = dict(zip(names, tried, strict=True))
            best = min(best, _shift(by_hand, parts, before))
    mine = parts_of(round_recipe(recipe, studio, step).recipe)
    # The program is linear about the recipe; to second order another may be as good.
    assert _shift(by_hand, mine, before) <= best * 1.05 + 1e-3


def test_locked_rows_stay(base_of, studio, parts_of):
    recipe = base_of(**ROUGH).with_lock(Section.BASE, 0, True)
    with pytest.raises(InputError, match="locked"):
        round_recipe(recipe, studio, 0.5)
    even = recipe.with_amount(Section.BASE, 0, 42.5)
    parts = parts_of(round_recipe(even, studio, 0.5).recipe)
    assert parts["potash-feldspar"] == 42.5
    assert sum(parts.values()) == pytest.approx(100.0)


def test_a_trace_that_comes_to_nothing_is_told(base_of, studio):
    recipe = base_of(**ROUGH, zinc_oxide=0.1)
    rounded = round_recipe(recipe, studio, 5.0)
    assert rounded.dropped == ("zinc-oxide",)
    assert "zinc-oxide" not in [row.material for row in rounded.recipe.base]


@pytest.mark.parametrize("step", [0.0, -1.0, float("nan"), 50.0])
def test_a_step_of_no_use_is_said(step, fixture_recipe, studio):
    with pytest.raises(InputError, match="step"):
        round_recipe(fixture_recipe, studio, step)


def test_without_flux_there_is_nothing_to_hold(base_of, studio):
    with pytest.raises(InputError, match="flux"):
        round_recipe(base_of(silica=60.4, kaolin=39.6), studio, 1.0)
