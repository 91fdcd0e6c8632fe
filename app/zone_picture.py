"""The zones of the map as shapes and soft colours, from the probabilities over a grid."""

from __future__ import annotations

from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False, slots=True)
class ZoneShape:
    """The part of the map where one zone is the likeliest."""

    zone: Zone
    rings: tuple[Floats, ...]
    """Closed outlines, holes among them, each of shape (n, 2): (SiO2, Al2O3)."""


def zone_shapes(field: ZoneField) -> list[ZoneShape]:
    """Return where each zone is the likeliest; zones that are nowhere are left out."""
    chances = field.probabilities
    shapes = []
    for place, zone in enumerate(ZONES):
        others = np.delete(chances, place, axis=-1).max(axis=-1)
        lead = chances[..., place] - others
        if lead.max() <= 0:
            continue
        shapes.append(ZoneShape(zone, _rings(field, lead, 0.0)))
    return shapes


def zone_edges(field: ZoneField) -> list[Floats]:
    """Return the lines between the likeliest zones, each of shape (n, 2): (SiO2, Al2O3)."""
    chances = field.probabilities
    lines: list[Floats] = []
    for place in range(len(ZONES)):
        lead = chances[..., place] - np.delete(chances, place, axis=-1).max(axis=-1)
        if lead.min() < 0 < lead.max():
            made = contour_generator(
                field.silica, field.alumina, lead, line_type=LineType.Separate
            )
            lines += made.lines(0.0)
    return lines


def outside_shape(field: ZoneField) -> tuple[Floats, ...]:
    """Return the outlines of the region where the models have no data."""
    if not field.outside.any():
        return ()
    return _rings(field, field.outside.astype(float), 0.5)


def _rings(field: ZoneField, values: Floats, level: float) -> tuple[Floats, ...]:
    made = contour_generator(
        field.silica, field.alumina, values, fill_type=FillType.OuterOffset
    )
    points, offsets = made.filled(level, float(values.max()) + 1.0)
    return tuple(
        polygon[begin:end]
        for polygon, offset in zip(points, offsets, strict=True)
        for begin, end in zip(offset[:-1], offset[1:], strict=True)
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
    colors = np.array(
        [palette.color(ZONE_ROLE[zone]).getRgb()[:3] for zone in ZONES], np.float32
    )
    chances = np.moveaxis(field.probabilities, -1, 0).astype(np.float32)
    fine = rows @ chances @ columns.T
    share = np.clip((fine - low) / (high - low), 0.0, 1.0)
    share *= share * (3.0 - 2.0 * share)
    # Where none reaches the soft range the likeliest stands alone.
    share += 1e-3 * fine**4
    mixed = np.tensordot(share, colors, axes=(0, 0)) / share.sum(axis=0)[..., None]
    pixels = np.empty((height, width, 4), np.uint8)
    # As a 32-bit word in the machine's order, so that no copy is needed to show it.
    pixels[..., :3] = mixed[..., ::-1] + 0.5
    pixels[..., 3] = 255
    return QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGB32).copy()


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
