"""The zones of the map as shapes and soft colours, from the probabilities over a grid."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray
from PySide6.QtGui import QImage

from app.theme import Palette
from app.zone_roles import ZONE_ROLE
from core.reading.field import ZoneField
from core.reading.surface import ZONES
from core.regions import Zone

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SOFT: Final = (0.3, 0.7)
"""Between these probabilities a zone fades into its neighbour."""
_SMALLEST: Final = 0.2
"""An island smaller than this, width and height as shares of the map, is not drawn."""


@dataclass(frozen=True, eq=False, slots=True)
class ZoneShape:
    """The part of the map where one zone is the likeliest."""

    zone: Zone
    rings: tuple[Floats, ...]
    """Closed outlines, holes among them, each of shape (n, 2): (SiO2, Al2O3)."""
    edges: tuple[Floats, ...]
    """Its boundaries with other zones, the rim of the map not among them; each (n, 2)."""
    cells: Flags
    """The places of the grid that it has, shape (ny, nx)."""


def zone_shapes(field: ZoneField) -> list[ZoneShape]:
    """Return where each zone is the likeliest; zones that are nowhere are left out."""
    chances = field.probabilities
    shapes = []
    for place, zone in enumerate(ZONES):
        lead = chances[..., place] - np.delete(chances, place, axis=-1).max(axis=-1)
        if lead.max() <= 0:
            continue
        made = contour_generator(
            field.silica,
            field.alumina,
            lead,
            fill_type=FillType.OuterOffset,
            line_type=LineType.Separate,
        )
        edges = tuple(made.lines(0.0)) if lead.min() < 0 else ()
        shapes.append(ZoneShape(zone, _rings(*made.filled(0.0, 2.0)), edges, lead > 0))
    return shapes


def outside_shape(field: ZoneField) -> tuple[Floats, ...]:
    """Return the outlines of the region where the models have no data.

    Islands too small to mean anything to an eye are left out; the reading of
    a point there says it all the same.
    """
    if not field.outside.any():
        return ()
    made = contour_generator(field.silica, field.alumina, field.far, fill_type=FillType.OuterOffset)
    rings = _rings(*made.filled(1.0, float(field.far.max()) + 1.0))
    across = field.silica[-1] - field.silica[0]
    up = field.alumina[-1] - field.alumina[0]
    return tuple(
        ring for ring in rings if np.ptp(ring[:, 0]) / across + np.ptp(ring[:, 1]) / up > _SMALLEST
    )


def _rings(points: list[Floats], offsets: list[NDArray[np.uint32]]) -> tuple[Floats, ...]:
    return tuple(
        polygon[begin:end]
        for polygon, offset in zip(points, offsets, strict=True)
        for begin, end in pairwise(offset)
    )


def zone_image(field: ZoneField, palette: Palette, width: int, height: int) -> QImage:
    """Paint the zones' colours, each fading into the next where it is uncertain.

    Parameters
    ----------
    field : ZoneField
        Over an even grid whose corners are the corners of the picture.
    palette : Palette
    width, height : int
        Of the picture [px]; the top row is the largest alumina.
    """
    low, high = SOFT
    rows = _weights(len(field.alumina), height)[::-1]
    columns = _weights(len(field.silica), width)
    colors = np.array([palette.color(ZONE_ROLE[zone]).getRgb()[:3] for zone in ZONES], np.float32)
    chances = np.moveaxis(field.probabilities, -1, 0).astype(np.float32)
    fine = rows @ chances @ columns.T
    share = np.clip((fine - low) / (high - low), 0.0, 1.0)
    share *= share * (3.0 - 2.0 * share)
    # Where none reaches the soft range the likeliest stands alone.
    fine *= fine
    share += 1e-3 * fine * fine
    share /= share.sum(axis=0)
    mixed = (colors.T @ share.reshape(len(ZONES), -1) + 0.5).astype(np.uint32)
    # A word for each pixel, in the machine's order.
    words = (0xFF000000 | mixed[0] << 16 | mixed[1] << 8 | mixed[2]).astype(np.uint32)
    return QImage(words.data, width, height, 4 * width, QImage.Format.Format_RGB32).copy()


def _weights(count: int, length: int) -> NDArray[np.float32]:
    """Linear interpolation from `count` places to the middles of `length` pixels."""
    place = (np.arange(length) + 0.5) / length * (count - 1)
    begin = np.minimum(place.astype(np.intp), max(count - 2, 0))
    share = (place - begin).astype(np.float32)
    weights = np.zeros((length, count), np.float32)
    weights[np.arange(length), begin] = 1.0 - share
    if count > 1:
        weights[np.arange(length), begin + 1] += share
    return weights
