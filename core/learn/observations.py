"""The studio's own tiles as a fit takes them: what the rules see of each, and what was seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from core.evaluate import batch_amounts, formula_alone
from core.firing import firing_sheet
from core.formula import State
from core.learn.features import Features, features_of, joined
from core.regions import Zone
from core.studio import Studio
from core.tiles.result import ZONE_OF
from core.tiles.run import Run, Tile


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Tiles that were read, ready for `core.learn.fit.learn`."""

    features: Features
    seen: tuple[Zone, ...]
    left_out: int
    """Tiles with a surface that cannot count: a material, a flux or the firing is missing."""


def observations(runs: Iterable[Run], studio: Studio, body: str | None = None) -> Observations:
    """Collect the tiles whose surface was read.

    Each is read in the firing of its run, on the shelf that it stood on.

    Parameters
    ----------
    runs : iterable of Run
    studio : Studio
    body : str, optional
        Tiles on this body alone; those that name no body count as well.

    Returns
    -------
    Observations
    """
    parts: list[Features] = []
    seen: list[Zone] = []
    left_out = 0
    for run in runs:
        for tile in run.tiles:
            surface = tile.result.surface if tile.result is not None else None
            if surface is None:
                continue
            recipe = run.recipe_of(tile)
            if body and recipe.body and recipe.body != body:
                continue
            found = _features(run, tile, studio)
            if found is None or not len(found):
                left_out += 1
                continue
            parts.append(found)
            seen.append(ZONE_OF[surface])
    return Observations(joined(parts), tuple(seen), left_out)


def _features(run: Run, tile: Tile, studio: Studio) -> Features | None:
    recipe = run.recipe_of(tile)
    firing = studio.firings.get(recipe.firing)
    heat = firing_sheet(firing, studio.kiln, recipe.shelf) if firing is not None else None
    if heat is None or not batch_amounts(recipe):
        return None
    formula = formula_alone(recipe, studio)
    if formula.unity is None or State.INCOMPLETE in formula.states:
        return None
    return features_of(formula.moles, heat.felt, studio.convention)
