"""A run of a line that the tile tests share; nobody fired it."""

from __future__ import annotations

import pytest

from core.blend.plan import line_blend
from core.recipe import Ingredient, Recipe
from core.tiles.codes import code_of
from core.tiles.run import Run, run_of


@pytest.fixture(scope="session")
def run(fixture_recipe, studio) -> Run:
    """Five tiles from the fixture to one with more silica."""
    base = tuple(
        Ingredient(row.material, 40.0) if row.material == "silica" else row
        for row in fixture_recipe.base
    )
    other = Recipe("More silica", fixture_recipe.firing, fixture_recipe.body, base)
    plan = line_blend(fixture_recipe, other, 5, studio)
    codes = [code_of("K", number) for number in range(5)]
    made = run_of(plan, codes, "Silica line", "2031-02-01", studio, cup_ml=50.0, batch_g=300.0)
    return made.fired_on("2031-02-09", studio)
