"""The tiles of one recipe as points of its map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.oxides import INDEX
from core.regions import Zone
from core.tiles.index import UNREAD, TileIndex
from core.tiles.result import ZONE_OF, Surface


@dataclass(frozen=True, slots=True)
class MapTile:
    """One tile on the map."""

    code: str
    silica: float
    """In the unity formula [mol]."""
    alumina: float
    zone: Zone | None
    """Of the surface that was seen; None while the tile is planned or not read."""


def tiles_of(name: str, index: TileIndex) -> tuple[MapTile, ...]:
    """Return the tiles that were planned from a recipe, by its name.

    They stand in the order of the runs; tiles without a point, for want of a
    flux or of a known material, are left out.
    """
    unity = index.unity()
    silica, alumina = unity[:, INDEX["SiO2"]], unity[:, INDEX["Al2O3"]]
    found = []
    for row, entry in enumerate(index.entries):
        if name not in entry.sources or entry.moles is None:
            continue
        if not np.isfinite(silica[row] + alumina[row]):
            continue
        zone = None if entry.surface == UNREAD else ZONE_OF[Surface(entry.surface)]
        found.append(MapTile(entry.code, float(silica[row]), float(alumina[row]), zone))
    return tuple(found)
