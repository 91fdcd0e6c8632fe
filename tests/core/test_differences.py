"""What differs between two states of a recipe is said row by row."""

from dataclasses import replace

from core.differences import differences
from core.recipe import Ingredient, Section, Variant


def test_equal_recipes_differ_in_nothing(fixture_recipe):
    assert differences(fixture_recipe, replace(fixture_recipe)) == ()


def test_rows_that_changed_came_and_went_are_named(fixture_recipe):
    new = fixture_recipe.with_amount(Section.BASE, 1, 18.5)
    new = new.without_rows(Section.BASE, {3})
    new = new.with_rows(Section.ADDITIONS, (Ingredient("zircon", 5.0),))
    names = {"talc": "Talc", "zircon": "Zircon"}
    assert differences(fixture_recipe, new, lambda m: names.get(m, m)) == (
        "Talc 16 → 18.5",
        "kaolin 20 out",
        "Zircon 5 % new",
    )
    assert differences(new, fixture_recipe) == (
        "talc 18.5 → 16",
        "kaolin 20 new",
        "zircon 5 % out",
    )


def test_what_is_not_a_row_is_named_too(fixture_recipe):
    variant = Variant("A", "why", fixture_recipe.base, ())
    old = replace(fixture_recipe, variants=(variant, replace(variant, name="C")))
    new = replace(
        fixture_recipe,
        name="Other",
        body="",
        notes="thin",
        variants=(replace(variant, reason="why not"), replace(variant, name="B")),
    )
    assert differences(old, new) == (
        "name Fixture → Other",
        "body stoneware → none",
        "variant A changed",
        "variant C out",
        "variant B new",
        "notes changed",
    )


def test_rows_of_one_material_count_together_and_a_mere_move_is_said(fixture_recipe):
    moved = fixture_recipe.with_moved(Section.BASE, 0, 2)
    assert differences(fixture_recipe, moved) == ("order or locks of the rows changed",)
    split = fixture_recipe.with_amount(Section.BASE, 1, 6.0).with_inserted(
        Section.BASE, 5, (Ingredient("talc", 10.0),)
    )
    assert differences(fixture_recipe, split) == ("order or locks of the rows changed",)
