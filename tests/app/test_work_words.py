"""What differs between two states of the work on a recipe is said thing by thing."""

from dataclasses import replace

from app.work_words import differences, listed
from core.files.journal import Work
from core.firing import shipped_firings
from core.recipe import Ingredient, Section, Variant
from core.variants import save_variant


def said_of(old, new, name_of=str):
    return differences(Work(old), Work(new), name_of)


def test_what_differs_is_said_in_words(fixture_recipe):
    firing = shipped_firings()["cone-10-medium"]
    old = fixture_recipe
    new = replace(
        save_variant(old.with_amount(Section.BASE, 1, 12.5), "", "2031-02-09"),
        name="Dune",
        notes="x",
        firing="other",
    ).without_rows(Section.BASE, {4})
    said = differences(Work(old), Work(new, {"f": firing}), str)
    assert said == [
        "the name, Dune",
        "talc from 16 to 12.5",
        "silica taken out",
        "variant A saved",
        "the firing",
        "the notes",
        f"the schedule {firing.name}",
    ]
    assert listed(said).endswith("; and 3 more")
    locked = old.with_lock(Section.BASE, 0, True)
    assert differences(Work(old), Work(locked), str) == ["the order or the locks of rows"]
    assert differences(Work(old), Work(replace(old, extra={"a": "b"})), str) == [
        "entries of its file that are not shown here"
    ]


def test_equal_states_differ_in_nothing(fixture_recipe):
    assert said_of(fixture_recipe, replace(fixture_recipe)) == []
    assert listed([]) == "as it was"


def test_rows_that_changed_came_and_went_are_named(fixture_recipe):
    new = fixture_recipe.with_amount(Section.BASE, 1, 18.5)
    new = new.without_rows(Section.BASE, {3})
    new = new.with_rows(Section.ADDITIONS, (Ingredient("zircon", 5.0),))
    names = {"talc": "Talc", "zircon": "Zircon"}
    assert said_of(fixture_recipe, new, lambda m: names.get(m, m)) == [
        "Talc from 16 to 18.5",
        "kaolin taken out",
        "Zircon 5 % added",
    ]
    assert said_of(new, fixture_recipe) == [
        "talc from 18.5 to 16",
        "kaolin 20 added",
        "zircon taken out",
    ]


def test_what_is_not_a_row_is_named_too(fixture_recipe):
    variant = Variant("A", "why", fixture_recipe.base, ())
    old = replace(fixture_recipe, variants=(variant, replace(variant, name="C")))
    new = replace(
        fixture_recipe,
        name="Other",
        body="",
        shelf="top",
        notes="thin",
        variants=(replace(variant, reason="why not"), replace(variant, name="B")),
    )
    assert said_of(old, new) == [
        "the name, Other",
        "variant B saved",
        "variant C deleted",
        "variant A",
        "the shelf",
        "the body",
        "the notes",
    ]


def test_rows_of_one_material_count_together_and_a_mere_move_is_said(fixture_recipe):
    moved = fixture_recipe.with_moved(Section.BASE, 0, 2)
    assert said_of(fixture_recipe, moved) == ["the order or the locks of rows"]
    split = fixture_recipe.with_amount(Section.BASE, 1, 6.0).with_inserted(
        Section.BASE, 5, (Ingredient("talc", 10.0),)
    )
    assert said_of(fixture_recipe, split) == ["the order or the locks of rows"]
