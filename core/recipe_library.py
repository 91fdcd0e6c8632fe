"""All recipes of a studio, through the index that is kept from one start to the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import msgspec
import numpy as np

from core.evaluate import formula_alone, material_of
from core.files.studio_index import Kept, database_of, indexed
from core.formula import State
from core.recipe import Recipe
from core.recipe_file import recipe_from
from core.recipe_search import ListedRecipe, RecipeEntry, RecipeSearch, said_of
from core.studio import Studio

RECIPES_FORMAT = 1
"""Of what the index keeps; another number, and all recipes are read anew."""


@dataclass(frozen=True)
class RecipeLibrary:
    """The recipes of a studio, with those that could not be read among them."""

    search: RecipeSearch = field(default_factory=RecipeSearch)
    read_anew: int = 0
    """Recipes that the index did not hold as they are."""
    waiting: int = 0
    """Recipes that are listed by their files alone, until the next call."""
    known: Mapping[str, Kept] | None = None
    """For the next call."""


def open_recipes(
    studio: Studio,
    cache_folder: Path | None = None,
    most_anew: int | None = None,
    known: Mapping[str, Kept] | None = None,
) -> RecipeLibrary:
    """Index every recipe of a studio.

    Parameters
    ----------
    studio : Studio
    cache_folder : Path, optional
        Where the index is kept; a folder that cannot be used only costs time.
    most_anew : int, optional
        After so many recipes that had to be read the others are listed by their files alone.
    known : mapping, optional
        What an earlier call of this session knew of the same studio.
    """
    if studio.folder is None:
        return RecipeLibrary()
    paths, synonyms = studio.recipe_paths(), _synonyms(studio)
    found = indexed(
        database_of(cache_folder, studio.folder) if cache_folder is not None else None,
        "recipes",
        paths,
        RecipeEntry,
        f"{RECIPES_FORMAT} {studio.tables_mark()}",
        lambda document: entry_of(recipe_from(document), studio, synonyms),
        most_anew=most_anew,
        known=known,
    )
    listed = {*found.records, *found.faults, *found.waiting}
    recipes = [
        ListedRecipe(path, found.records.get(path.name), found.faults.get(path.name))
        for path in paths
        if path.name in listed
    ]
    search = RecipeSearch(recipes, synonyms)
    search.prepare()
    return RecipeLibrary(search, found.read_anew, len(found.waiting), found.known)


def entry_of(
    recipe: Recipe, studio: Studio, synonyms: Mapping[str, Sequence[str]] | None = None
) -> RecipeEntry:
    """Return what the index keeps of a recipe.

    Parameters
    ----------
    recipe : Recipe
    studio : Studio
    synonyms : mapping, optional
        Other names of the studio's materials by id, where they are at hand.

    Examples
    --------
    >>> entry_of(Recipe("Fixture", notes="nobody fired it"), Studio()).said
    ' fixture nobody fired it '
    """
    materials = []
    for material_id in recipe.material_ids():
        material = material_of(recipe, studio, material_id)
        materials.append((material_id, material.name if material is not None else material_id))
    formula = formula_alone(recipe, studio)
    unity = None
    if formula.unity is not None and State.INCOMPLETE not in formula.states:
        unity = tuple((int(i), float(formula.unity[i])) for i in np.flatnonzero(formula.unity))
    entry = RecipeEntry(
        name=recipe.name,
        firing=recipe.firing,
        body=recipe.body,
        materials=tuple(materials),
        notes=recipe.notes,
        variants=tuple((variant.name, variant.reason) for variant in recipe.variants),
        unity=unity,
    )
    said = said_of(entry, _synonyms(studio) if synonyms is None else synonyms)
    return msgspec.structs.replace(entry, said=said)


def _synonyms(studio: Studio) -> dict[str, tuple[str, ...]]:
    return {material.id: material.synonyms for material in studio.materials}
