"""Additions in a series over one base."""

from __future__ import annotations

import math
from collections.abc import Sequence

from core.errors import InputError
from core.recipe import Ingredient, Recipe, Section

MOST_TILES = 21
MOST_PERCENT = 50.0


def doubling(first: float = 0.25, tiles: int = 4) -> tuple[float, ...]:
    """Percentages that double from one tile to the next (common practice, no source).

    Examples
    --------
    >>> doubling()
    (0.25, 0.5, 1.0, 2.0)
    """
    return tuple(first * 2**number for number in range(tiles))


def addition_series(recipe: Recipe, material: str, percents: Sequence[float]) -> list[Recipe]:
    """Return the recipe with each percentage of one addition in turn.

    What the recipe holds of that addition already is replaced, other
    additions stay.

    Raises
    ------
    InputError
        If a percentage is not between 0 and `MOST_PERCENT`, one stands twice,
        or there are none or more than `MOST_TILES`.
    """
    if not 1 <= len(percents) <= MOST_TILES:
        raise InputError(f"{len(percents)} tiles are no series", f"take 1 to {MOST_TILES}")
    if len(set(percents)) < len(percents):
        raise InputError("an addition stands twice in the series", "give each amount once")
    for percent in percents:
        if not (math.isfinite(percent) and 0 <= percent <= MOST_PERCENT):
            raise InputError(
                f"an addition of {percent:g} % is not planned", f"take 0 to {MOST_PERCENT:.0f} %"
            )
    others = tuple(row for row in recipe.additions if row.material != material)
    found = []
    for percent in percents:
        new = (Ingredient(material, float(percent)),) if percent else ()
        found.append(recipe.with_rows(Section.ADDITIONS, (*others, *new)))
    return found


def addition_grams(percent: float, wet_ml: float, dry_g_per_ml: float) -> float:
    """Grams of an addition for a cup of wet base glaze.

    Percent of the dry base in it: `wet_ml` × `dry_g_per_ml` × percent / 100.

    Examples
    --------
    >>> round(addition_grams(2.0, 2000.0, 1.6667 / 2), 1)
    33.3
    """
    return wet_ml * dry_g_per_ml * percent / 100.0
