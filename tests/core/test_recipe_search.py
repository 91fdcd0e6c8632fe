"""Finding recipes: with the full-text index of sqlite, without it, and by plain Python."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.recipe import Ingredient, Recipe, Variant
from core.recipe_library import entry_of
from core.recipe_search import (
    Field,
    ListedRecipe,
    Match,
    RecipeEntry,
    RecipeSearch,
    said_of,
    words_of,
)

NOTES = "Twice in the small kiln; crazed on the rim. " * 3 + "The third was silky, a keeper."


def listed(name, studio, stem="", materials=(), notes="", variants=()):
    base = tuple(Ingredient(material, 10.0) for material in materials)
    kept = tuple(Variant(name, reason, base, ()) for name, reason in variants)
    entry = entry_of(Recipe(name, base=base, notes=notes, variants=kept), studio)
    return ListedRecipe(Path(f"{stem or name}.yaml"), entry)


@pytest.fixture(scope="module")
def recipes(studio):
    return (
        listed("Harbour blue", studio, "winter", ("talc", "whiting"), NOTES),
        listed("Émail talqué", studio, materials=("kaolin",), variants=(("B", "more talc"),)),
        listed("Talc satin", studio, materials=("no-such-thing",)),
        listed("Ash 2,5", studio, materials=("china-clay", "silica"), notes="漢字 and ﬁne"),
        ListedRecipe(Path("half-written.yaml"), None, InputError("is empty", "write it")),
        ListedRecipe(Path("not-yet-read.yaml")),
    )


@pytest.fixture(scope="module", params=[True, False], ids=["full text", "plain"])
def search(request, recipes, studio):
    synonyms = {material.id: material.synonyms for material in studio.materials}
    made = RecipeSearch(recipes, synonyms, request.param)
    assert made.full_text == request.param
    return made


def names(found):
    return [recipe.name for recipe in found]


def test_every_word_has_to_stand_somewhere_and_the_last_may_be_unfinished(search):
    assert names(search.find("talc")) == ["Talc satin", "Harbour blue", "Émail talqué"]
    assert names(search.find("kil")) == ["Harbour blue"]
    assert names(search.find("kil rim")) == []
    assert names(search.find("RIM talc wint")) == ["Harbour blue"]
    assert names(search.find("small satin")) == []
    assert names(search.find("half")) == ["half written"]
    assert names(search.find("not read")) == ["not yet read"]


def test_what_is_in_the_name_comes_first_and_the_rest_by_name(search):
    assert names(search.find("tal")) == ["Talc satin", "Émail talqué", "Harbour blue"]
    assert names(search.find("")) == [
        "Ash 2,5",
        "half written",
        "Harbour blue",
        "not yet read",
        "Talc satin",
        "Émail talqué",
    ]


def test_accents_ligatures_and_the_size_of_letters_do_not_count(search):
    assert names(search.find("email TALQUE")) == ["Émail talqué"]
    assert names(search.find("E\u0301MAIL")) == ["Émail talqué"]
    assert names(search.find("fine")) == ["Ash 2,5"]
    assert names(search.find("漢")) == ["Ash 2,5"]


def test_a_material_is_found_by_its_other_names(search, studio):
    whiting, talc = studio.materials.get("whiting"), studio.materials.get("talc")
    assert "chalk" in whiting.synonyms
    assert "French chalk" in talc.synonyms
    for other in (whiting.id, whiting.name, *whiting.synonyms):
        (found,) = search.find(other)
        assert found.name == "Harbour blue"
    assert search.matches(found, "chalk") == [Match(Field.MATERIAL, "Whiting (chalk)")]
    assert search.matches(found, "french") == [Match(Field.MATERIAL, "Talc (French chalk)")]
    assert search.matches(found, "whit") == [Match(Field.MATERIAL, "Whiting")]


def test_it_tells_what_matched_beside_the_name(search):
    blue, email, ash, half = (search.find(w)[0] for w in ("harbour", "email", "ash", "half"))
    assert search.matches(blue, "harbour blu") == []
    assert search.matches(blue, "blue talc whit") == [
        Match(Field.MATERIAL, "Talc"),
        Match(Field.MATERIAL, "Whiting"),
    ]
    assert search.matches(email, "talc") == [Match(Field.VARIANT, "B: more talc")]
    assert search.matches(blue, "winter") == [Match(Field.FILE, "winter.yaml")]
    assert search.matches(ash, "字") == []
    assert search.matches(half, "half") == []
    # The place that holds most of the words is enough.
    (match,) = search.matches(blue, "small kiln crazed rim thi")
    assert match.field is Field.NOTE
    (match,) = search.matches(blue, "silk")
    assert match.field is Field.NOTE
    assert match.text.startswith("… ")
    assert "The third was silky, a keeper." in match.text
    (match,) = search.matches(blue, "twice")
    assert match.text.startswith("Twice in the small kiln")
    assert match.text.endswith("…")
    assert len(match.text) < 70


ODD = (
    *('"', "'", "*", "NEAR(", "NEAR(talc kiln, 2)", "talc AND", "OR", "NOT talc", "said:talc"),
    *("^talc", "%", "_", "t%c", "a" * 5000, "talc " * 300, "\x00", "\ud800", "--", "{talc}"),
    *("; DROP TABLE words", "+talc", "talc*", '"talc', "\\", "(", ")", "İ", "ß", "ﬃ", "\u0301"),
    *("٣", "²"),
)


@pytest.mark.parametrize("text", ODD)
def test_signs_that_mean_something_to_the_database_are_only_text(search, recipes, text):
    assert [r.path for r in search.find(text)] == expected(search, text)
    for recipe in recipes:
        search.matches(recipe, text)


def expected(search, text):
    """Paths by plain Python: each word among the recipe's words, the last as a beginning."""
    words = words_of(text)
    found = []
    for recipe in search.recipes:
        said = set(words_of(recipe.path.stem))
        if recipe.entry is not None:
            said |= set(recipe.entry.said.split())
        name = words_of(recipe.name)
        if all(holds(said, word, word == words[-1]) for word in words):
            first = all(holds(name, word, word == words[-1]) for word in words)
            found.append((not first if words else True, recipe.path))
    return [path for _, path in sorted(found, key=lambda pair: pair[0])]


def holds(said, word, begun):
    return any(w.startswith(word) for w in said) if begun else word in said


@given(
    st.lists(st.tuples(st.text(max_size=12), st.text(max_size=60)), max_size=6),
    st.text(max_size=20),
)
def test_any_text_is_found_where_plain_python_finds_it(made, text):
    recipes = []
    for number, (name, notes) in enumerate(made):
        entry = RecipeEntry(name, notes=notes)
        said = said_of(entry, {})
        recipes.append(
            ListedRecipe(Path(f"{number}.yaml"), RecipeEntry(name, notes=notes, said=said))
        )
    for full_text in (True, False):
        search = RecipeSearch(recipes, {}, full_text)
        # What stands in the recipes themselves is asked as well.
        for asked in (text, *(notes[:7] for _, notes in made), *(name for name, _ in made)):
            found = search.find(asked)
            assert [r.path for r in found] == expected(search, asked)
            for recipe in found:
                assert len(search.matches(recipe, asked)) <= len(words_of(asked))


def test_what_is_found_beside_the_name_is_told(search, recipes):
    for recipe in recipes:
        said = recipe.entry.said if recipe.entry is not None else recipe.path.stem
        for word in words_of(said):
            assert recipe in search.find(word)
            if word not in words_of(recipe.name):
                assert search.matches(recipe, word)


def test_this_build_of_sqlite_tells_whether_it_has_full_text():
    made = RecipeSearch()
    with sqlite3.connect(":memory:") as connection:
        options = {row[0] for row in connection.execute("PRAGMA compile_options")}
    connection.close()
    assert made.full_text == ("ENABLE_FTS5" in options)
