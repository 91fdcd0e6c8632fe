"""Changing amounts by a step, with the total held or free."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from core.errors import InputError
from core.nudge import HELD_TOTAL, STEPS, nudge, scale_to, set_amount
from core.numbers import number_text
from core.recipe import Ingredient, Recipe, Section, total

BASE, ADDITIONS = Section.BASE, Section.ADDITIONS


def _recipe(*amounts: float, locked: tuple[int, ...] = ()) -> Recipe:
    rows = (Ingredient(f"m{i}", a, i in locked) for i, a in enumerate(amounts))
    return Recipe(base=tuple(rows), additions=(Ingredient("iron", 1.0),))


def test_a_tenth_ten_times_is_exactly_one():
    recipe = _recipe(0.0, 5.0)
    for _ in range(10):
        recipe = nudge(recipe, BASE, 0, 0.1)
    assert recipe.base[0].amount == 1.0
    assert number_text(recipe.base[0].amount) == "1"
    for _ in range(7):
        recipe = nudge(recipe, BASE, 0, -0.1)
    assert recipe.base[0].amount == 0.3


@given(st.integers(0, 1_000_000), st.sampled_from(STEPS), st.integers(1, 20))
def test_steps_there_and_back_change_nothing(thousandths, step, times):
    recipe = _recipe(thousandths / 1000)
    there = recipe
    for _ in range(times):
        there = nudge(there, BASE, 0, step)
    for _ in range(times):
        there = nudge(there, BASE, 0, -step)
    assert there == recipe


def test_a_nudge_never_goes_below_nothing():
    assert nudge(_recipe(0.3), BASE, 0, -0.5).base[0].amount == 0.0


def test_a_nudge_past_the_largest_amount_is_refused():
    with pytest.raises(InputError, match="cannot be weighed"):
        nudge(_recipe(1e6), BASE, 0, 5.0)


def test_without_a_held_total_the_other_rows_stay():
    recipe = _recipe(42, 16, 12, 20, 10)
    changed = nudge(recipe, BASE, 1, 1.0)
    assert [r.amount for r in changed.base] == [42, 17, 12, 20, 10]


AMOUNTS = st.lists(st.floats(0.01, 1000), min_size=2, max_size=12)


@given(AMOUNTS, st.data())
def test_a_held_total_is_a_hundred_and_shared_in_proportion(amounts, data):
    count = len(amounts)
    row = data.draw(st.integers(0, count - 1))
    others = [i for i in range(count) if i != row]
    locked = data.draw(st.sets(st.sampled_from(others), max_size=count - 2))
    new = data.draw(st.floats(0, 100))
    fixed = new + math.fsum(amounts[i] for i in locked)
    assume(fixed < 99.99)
    recipe = _recipe(*amounts, locked=tuple(locked))
    changed = set_amount(recipe, BASE, row, new, hold_total=True)
    assert total(changed.base) == pytest.approx(100.0, abs=1e-9)
    assert changed.base[row].amount == new
    assert all(changed.base[i] == recipe.base[i] for i in locked)
    free = [i for i in others if i not in locked]
    for i in free[1:]:
        before = amounts[i] / amounts[free[0]]
        after = changed.base[i].amount / changed.base[free[0]].amount
        assert after == pytest.approx(before, rel=1e-9)
    assert changed.additions == recipe.additions


def test_a_held_nudge_takes_from_the_free_rows_alone():
    recipe = _recipe(42, 16, 12, 20, 10, locked=(2,))
    changed = nudge(recipe, BASE, 1, 1.0, hold_total=True)
    # By hand: 100 - 17 - 12 = 71 parts are shared as 42 : 20 : 10.
    expected = [71 * 42 / 72, 17, 12, 71 * 20 / 72, 71 * 10 / 72]
    assert [r.amount for r in changed.base] == pytest.approx(expected, abs=1e-12)


def test_a_held_nudge_stops_at_what_the_locked_rows_leave():
    recipe = _recipe(42, 16, 42, locked=(0,))
    changed = nudge(recipe, BASE, 1, 500.0, hold_total=True)
    assert [r.amount for r in changed.base] == pytest.approx([42, 58, 0], abs=1e-12)


@pytest.mark.parametrize(
    ("amounts", "locked", "new"),
    [
        ((42, 16, 42), (0, 2), 17),  # no other row is free
        ((42, 16, 0), (0,), 17),  # the only free row weighs nothing
        ((60, 16, 30), (0,), 41),  # more than a hundred
        ((120, 16, 30), (0,), 0),  # the locked row alone is more
        ((10,), (), 5),  # there is no other row
    ],
)
def test_a_total_that_cannot_be_held_is_said_in_words(amounts, locked, new):
    recipe = _recipe(*amounts, locked=locked)
    with pytest.raises(InputError) as fault:
        set_amount(recipe, BASE, 1 if len(amounts) > 1 else 0, new, hold_total=True)
    assert "unlock" in str(fault.value)


def test_additions_are_never_held_to_a_hundred():
    recipe = _recipe(42, 58)
    changed = nudge(recipe, ADDITIONS, 0, 5.0, hold_total=True)
    assert changed.additions[0].amount == 6.0
    assert changed.base == recipe.base


@given(AMOUNTS, st.floats(1, 10_000))
def test_scaling_keeps_every_ratio(amounts, target):
    recipe = _recipe(*amounts, locked=(0,))
    scaled = scale_to(recipe, target)
    assert total(scaled.base) == pytest.approx(target, rel=1e-12)
    for before, after in zip(recipe.base, scaled.base, strict=True):
        expected = before.amount / recipe.base[0].amount
        assert after.amount / scaled.base[0].amount == pytest.approx(expected, rel=1e-12)
        assert replace(after, amount=before.amount) == before
    assert scaled.additions == recipe.additions


def test_scaling_goes_to_a_hundred_by_itself():
    assert [r.amount for r in scale_to(_recipe(1, 3)).base] == [25.0, 75.0]
    assert HELD_TOTAL == 100.0


def test_nothing_cannot_be_scaled():
    for recipe in (_recipe(0.0, 0.0), Recipe()):
        with pytest.raises(InputError, match="weighs nothing"):
            scale_to(recipe)


@pytest.mark.parametrize("amount", [1e-300, 1e-308, 5e-324])
def test_scaling_a_vanishing_base_gives_amounts_that_can_be_weighed(amount):
    # A file may hold such a figure; a recipe never holds infinities.
    recipe = _recipe(amount, amount)
    try:
        scaled = scale_to(recipe)
    except InputError:
        return
    assert [r.amount for r in scaled.base] == pytest.approx([50.0, 50.0])


def test_holding_the_total_of_a_vanishing_base_gives_amounts_that_can_be_weighed():
    recipe = _recipe(5.0, 5e-324, 5e-324)
    changed = nudge(recipe, BASE, 0, 1.0, hold_total=True)
    assert [r.amount for r in changed.base] == pytest.approx([6.0, 47.0, 47.0])
