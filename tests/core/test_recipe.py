"""A recipe is a value: every edit gives a new one and leaves the old."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.numbers import LARGEST_AMOUNT
from core.recipe import MOST_ROWS, Ingredient, Recipe, Section, Variant, total

BASE, ADDITIONS = Section.BASE, Section.ADDITIONS
ROWS = tuple(Ingredient(m, float(i)) for i, m in enumerate(("spar", "talc", "clay", "silica")))
RECIPE = Recipe("R", base=ROWS, additions=(Ingredient("iron", 2.0),))


def _names(recipe: Recipe, section: Section = BASE) -> list[str]:
    return [row.material for row in recipe.rows(section)]


def test_a_recipe_cannot_be_changed_in_place():
    with pytest.raises(FrozenInstanceError):
        RECIPE.name = "other"
    with pytest.raises(FrozenInstanceError):
        RECIPE.base[0].amount = 3.0


def test_an_edit_leaves_the_old_recipe_as_it_was():
    changed = RECIPE.with_amount(BASE, 1, 7.5)
    assert changed.base[1].amount == 7.5
    assert RECIPE.base[1].amount == 1.0
    assert changed.base[0] is RECIPE.base[0]
    assert changed.additions is RECIPE.additions
    assert changed.with_amount(BASE, 1, 1.0) == RECIPE


def test_an_edit_of_the_additions_leaves_the_base():
    changed = RECIPE.with_amount(ADDITIONS, 0, 9.0)
    assert changed.additions[0].amount == 9.0
    assert changed.base is RECIPE.base


@pytest.mark.parametrize(
    "amount", [-0.1, float("nan"), float("inf"), -float("inf"), LARGEST_AMOUNT * 1.001]
)
def test_an_amount_that_cannot_be_weighed_is_refused(amount):
    with pytest.raises(InputError, match="cannot be weighed"):
        RECIPE.with_amount(BASE, 0, amount)


def test_the_limits_of_an_amount_can_be_set():
    assert RECIPE.with_amount(BASE, 0, 0.0).base[0].amount == 0.0
    assert RECIPE.with_amount(BASE, 0, LARGEST_AMOUNT).base[0].amount == LARGEST_AMOUNT


def test_a_material_is_swapped_with_its_amount_kept_or_put_last():
    swapped = RECIPE.with_material(BASE, 2, "kaolin")
    assert (swapped.base[2].material, swapped.base[2].amount) == ("kaolin", 2.0)
    longer = RECIPE.with_material(BASE, 4, "whiting")
    assert longer.base[4] == Ingredient("whiting", 0.0)


def test_rows_are_locked_inserted_removed_and_moved():
    assert RECIPE.with_lock(BASE, 1, True).base[1].locked
    new = (Ingredient("a", 1.0), Ingredient("b", 1.0))
    assert _names(RECIPE.with_inserted(BASE, 1, new)) == ["spar", "a", "b", *_names(RECIPE)[1:]]
    assert _names(RECIPE.without_rows(BASE, {0, 2, 77})) == ["talc", "silica"]
    assert _names(RECIPE.with_moved(BASE, 0, 3)) == ["talc", "clay", "silica", "spar"]
    assert _names(RECIPE.with_moved(BASE, 3, 0)) == ["silica", "spar", "talc", "clay"]


@given(st.integers(0, 3), st.integers(0, 3))
def test_moving_a_row_there_and_back_changes_nothing(row, to):
    assert RECIPE.with_moved(BASE, row, to).with_moved(BASE, to, row) == RECIPE


def test_a_recipe_holds_two_hundred_rows_and_no_more():
    full = Recipe(base=(Ingredient("a", 1.0),) * MOST_ROWS)
    assert MOST_ROWS == 200
    assert len(full.with_rows(BASE, full.base).base) == 200
    with pytest.raises(InputError, match="more than 200 rows"):
        full.with_material(BASE, 200, "b")


def test_every_material_is_named_once_in_order():
    variant = Variant("A", "", (Ingredient("old", 1.0),), (Ingredient("iron", 1.0),))
    recipe = Recipe(base=(*ROWS, ROWS[0]), additions=RECIPE.additions, variants=(variant,))
    assert recipe.material_ids() == ["spar", "talc", "clay", "silica", "iron", "old"]
    assert recipe.variant("A") is variant
    assert recipe.variant("B") is None


def test_a_total_does_not_gather_rounding_errors():
    # Ten tenths are one whole, though 0.1 has no exact binary value.
    assert total((Ingredient("a", 0.1),) * 10) == 1.0
    assert total(()) == 0.0
