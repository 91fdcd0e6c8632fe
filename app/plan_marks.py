"""Planned tiles on the map: hollow squares, with the marks of the surface that is expected."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPen

from app.map_item import Floats, ScreenItem, halo_text
from app.theme import Palette, Role
from app.zone_roles import ZONE_ROLE
from core.regions import Zone

SIDE = 13.0
"""Of a planned tile [px]."""
_CHOSEN_SIDE = 21.0
_DOT = 1.5


def paint_tile(
    painter: QPainter, palette: Palette, spot: QPointF, zone: Zone | None, side: float = SIDE
) -> None:
    """Paint one planned tile.

    The outline is hollow but for the soft colour of the zone; the marks echo
    the zone's pattern: none for glossy, one dot for satin, four for matte, a
    stroke for underfired. A tile not yet read has a broken outline.
    """
    half = side / 2.0
    square = QRectF(spot.x() - half, spot.y() - half, side, side)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(palette.color(Role.HALO), 4.0))
    painter.drawRect(square)
    ink = palette.color(Role.INK)
    line = QPen(ink, 1.4)
    if zone is None:
        line.setStyle(Qt.PenStyle.DotLine)
    else:
        painter.setBrush(palette.color(ZONE_ROLE[zone]))
    painter.setPen(line)
    painter.drawRect(square)
    if zone is Zone.UNDERFIRED:
        painter.drawLine(square.bottomLeft(), square.topRight())
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    reach = side / 4.0
    places = {
        Zone.SATIN: ((0.0, 0.0),),
        Zone.MATTE: ((-reach, -reach), (reach, -reach), (-reach, reach), (reach, reach)),
    }
    for x, y in places.get(zone, ()) if zone is not None else ():
        painter.drawEllipse(QPointF(spot.x() + x, spot.y() + y), _DOT, _DOT)


class TilesItem(ScreenItem):
    """Every tile of a plan, the corners with their letters, the chosen one framed."""

    def __init__(self) -> None:
        super().__init__()
        self._points: dict[int, tuple[float, float]] = {}
        self._zones: dict[int, Zone | None] = {}
        self._letters: dict[int, str] = {}
        self._chosen = -1
        self._font = QFont()

    def set_font(self, font: QFont) -> None:
        """Take the font of the letters."""
        self._font = font
        self.update()

    def set_tiles(
        self, points: Mapping[int, tuple[float, float]], letters: Mapping[int, str]
    ) -> None:
        """Take the points of the tiles by their place in the plan, none of them read yet."""
        self._points, self._letters, self._zones = dict(points), dict(letters), {}
        self.update()

    def set_zone(self, place: int, zone: Zone | None) -> None:
        """Take what is expected of a tile."""
        self._zones[place] = zone
        self.update()

    def choose(self, place: int) -> None:
        """Frame a tile; -1 frames none."""
        self._chosen = place
        self.update()

    def at(self, spot: QPointF) -> int:
        """Return the tile at a place of the viewport, or -1."""
        reach = SIDE
        best, found = reach, -1
        for place, point in self._points.items():
            there = self.to_screen(np.array([point]))[0]
            far = float(np.hypot(there.x() - spot.x(), there.y() - spot.y()))
            if far < best:
                best, found = far, place
        return found

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if not self._points:
            return
        painter.setClipRect(self.screen_box())
        spots = self.to_screen(np.array(list(self._points.values())))
        where = {place: spots[i] for i, place in enumerate(self._points)}
        for place, spot in where.items():
            paint_tile(painter, palette, spot, self._zones.get(place))
        chosen = where.get(self._chosen)
        if chosen is not None:
            self._paint_chosen(painter, palette, chosen)
        self._paint_letters(painter, palette, where)

    def _paint_chosen(self, painter: QPainter, palette: Palette, spot: QPointF) -> None:
        paint_tile(painter, palette, spot, self._zones.get(self._chosen))
        half = _CHOSEN_SIDE / 2.0
        frame = QRectF(spot.x() - half, spot.y() - half, _CHOSEN_SIDE, _CHOSEN_SIDE)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for role, width in ((Role.HALO, 5.0), (Role.ACCENT, 2.2)):
            painter.setPen(QPen(palette.color(role), width))
            painter.drawRect(frame)

    def _paint_letters(
        self, painter: QPainter, palette: Palette, where: Mapping[int, QPointF]
    ) -> None:
        if not self._letters:
            return
        font = QFont(self._font)
        font.setBold(True)
        painter.setFont(font)
        metrics = QFontMetricsF(font)
        spots: Floats = np.array([(spot.x(), spot.y()) for spot in where.values()])
        middle = (spots.min(axis=0) + spots.max(axis=0)) / 2.0
        box = self.screen_box()
        for place, letter in self._letters.items():
            spot = where.get(place)
            if spot is None:
                continue
            plate = QRectF(0, 0, metrics.horizontalAdvance(letter) + 6, metrics.height())
            # Outwards, where no other tile lies.
            left = spot.x() <= middle[0]
            x = spot.x() + (-1 if left else 1) * (SIDE / 2 + 4 + plate.width() / 2)
            plate.moveCenter(QPointF(x, spot.y()))
            plate.moveLeft(min(max(plate.left(), box.left()), box.right() - plate.width()))
            halo_text(painter, palette, plate, letter, Role.INK)
