"""Variants: kept states of the rows, their tree and their differences."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.errors import InputError
from core.nudge import nudge
from core.recipe import Ingredient, Recipe, Section, Variant
from core.variants import (
    RowChange,
    changes,
    delete_variant,
    next_name,
    open_variant,
    rows_of,
    save_variant,
    with_reason,
)

BASE, ADDITIONS = Section.BASE, Section.ADDITIONS
DAY = "2026-11-25"


@pytest.fixture
def tree(fixture_recipe) -> Recipe:
    """A, then B from A, C from B, and D from A again."""
    recipe = save_variant(fixture_recipe, "base", DAY)
    recipe = save_variant(nudge(recipe, BASE, 1, 1.0), "talc", DAY)
    recipe = save_variant(nudge(recipe, BASE, 1, 1.0), "more talc", DAY)
    recipe = open_variant(recipe, "A")
    return save_variant(nudge(recipe, BASE, 3, 1.0), "kaolin", DAY)


def _parents(recipe: Recipe) -> dict[str, str]:
    return {variant.name: variant.based_on for variant in recipe.variants}


def test_each_variant_knows_what_it_was_based_on(tree):
    assert _parents(tree) == {"A": "", "B": "A", "C": "B", "D": "A"}
    assert tree.based_on == "D"
    assert tree.variant("C").reason == "more talc"
    assert tree.variant("C").saved == DAY
    assert [v.base[1].amount for v in tree.variants] == [16, 17, 18, 16]


def test_opening_a_variant_brings_its_rows_and_keeps_the_rest(tree):
    opened = open_variant(tree, "B")
    assert rows_of(opened) == rows_of(tree.variant("B"))
    assert opened.based_on == "B"
    assert opened.variants == tree.variants
    assert opened.notes == tree.notes


def test_opening_what_is_not_there_names_what_is(tree):
    with pytest.raises(InputError, match=r"no variant 'Z'.*A, B, C, D"):
        open_variant(tree, "Z")
    with pytest.raises(InputError, match="none"):
        open_variant(Recipe(), "A")


def test_what_was_based_on_a_deleted_variant_moves_up_to_its_parent(tree):
    assert _parents(delete_variant(tree, "B")) == {"A": "", "C": "A", "D": "A"}
    assert _parents(delete_variant(tree, "A")) == {"B": "", "C": "B", "D": ""}
    assert delete_variant(tree, "D").based_on == "A"
    assert delete_variant(tree, "C").based_on == "D"
    assert delete_variant(tree, "Z") is tree


def test_deleting_a_variant_leaves_the_rows_on_the_bench(tree):
    assert rows_of(delete_variant(tree, "D")) == rows_of(tree)


def test_the_first_free_letter_is_the_next_name(tree):
    assert next_name(tree) == "E"
    assert next_name(delete_variant(tree, "B")) == "B"


def test_letters_go_on_after_z():
    recipe = Recipe()
    names = []
    for _ in range(54):
        recipe = save_variant(recipe, "", DAY)
        names.append(recipe.based_on)
    assert names[:3] == ["A", "B", "C"]
    assert names[25:28] == ["Z", "AA", "AB"]
    assert names[51:] == ["AZ", "BA", "BB"]
    assert len(set(names)) == 54


def test_a_new_reason_changes_nothing_else(tree):
    changed = with_reason(tree, "B", "silkier")
    assert changed.variant("B").reason == "silkier"
    assert with_reason(changed, "B", "talc") == tree


def test_changes_list_what_differs_material_by_material(fixture_recipe):
    after = nudge(fixture_recipe, BASE, 1, 2.0)
    after = after.without_rows(BASE, {4})
    after = replace(after, additions=(Ingredient("tin-oxide", 5.0),))
    found = changes(rows_of(fixture_recipe), rows_of(after))
    assert found == [
        RowChange(BASE, "talc", 16.0, 18.0),
        RowChange(BASE, "silica", 10.0, None),
        RowChange(ADDITIONS, "tin-oxide", None, 5.0),
    ]
    assert [change.difference for change in found] == [2.0, -10.0, 5.0]


def test_rows_of_one_material_are_added_up(fixture_recipe):
    split = (Ingredient("talc", 10.0), Ingredient("talc", 6.0))
    rows = (fixture_recipe.base[0], *split, *fixture_recipe.base[2:])
    assert changes(rows_of(fixture_recipe), (rows, ())) == []


def test_a_difference_below_any_scale_is_none():
    before, after = ((Ingredient("talc", 16.0),), ()), ((Ingredient("talc", 16.0 + 4e-7),), ())
    assert changes(before, after) == []
    # A row of nothing is still a row that came or went.
    assert changes(before, ((*before[0], Ingredient("tin", 0.0)), ())) == [
        RowChange(BASE, "tin", None, 0.0)
    ]


def test_a_variant_keeps_its_place_in_the_order_when_others_go(tree):
    kept = delete_variant(delete_variant(tree, "A"), "C")
    assert [v.name for v in kept.variants] == ["B", "D"]
    assert all(isinstance(v, Variant) for v in kept.variants)
