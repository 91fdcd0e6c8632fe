"""The tiles of one recipe as points of its map."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from core.evaluate import formula_alone
from core.regions import Zone
from core.studio import Studio
from core.tiles.result import ZONE_OF
from core.tiles.run import Run


@dataclass(frozen=True, slots=True)
class MapTile:
    """One tile on the map."""

    code: str
    silica: float
    alumina: float
    zone: Zone | None
    """Of the surface that was seen; None while the tile is planned or not read."""


def tiles_of(name: str, runs: Iterable[Run], studio: Studio) -> tuple[MapTile, ...]:
    """Return the tiles that were planned from a recipe.

    Parameters
    ----------
    name : str
        Of the recipe.
    runs : iterable of Run
    studio : Studio
        Whose tables stand behind what the runs pin.

    Returns
    -------
    tuple of MapTile
        In the order of the runs; tiles without a point are left out.
    """
    found = []
    for run in runs:
        from_it = any(corner.recipe == name for corner in run.corners)
        for tile in run.tiles:
            if not (from_it or tile.recipe == name):
                continue
            point = formula_alone(run.recipe_of(tile), studio).point
            if point is None:
                continue
            seen = tile.result.surface if tile.result is not None else None
            zone = ZONE_OF[seen] if seen is not None else None
            found.append(MapTile(tile.code, *point, zone))
    return tuple(found)
