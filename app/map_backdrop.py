"""The ground of the map: zones with their names, rays of equal ratio, saved variants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QFont,
    QPainter,
    QPen,
    QPixmap,
    QPolygonF,
)

from app.map_item import Floats, ScreenItem, halo_text, room_of_point
from app.theme import Palette, Role, zone_brush_pattern
from app.zone_roles import ZONE_ROLE
from core.regions import Zone

RATIOS = (3, 4, 5, 6, 7, 8, 10, 12)
_LABEL_ROOM = 14.0
"""Margin that a zone's name would like around it [px]."""


class BackdropItem(ScreenItem):
    """What an edit of the rows leaves where it is: zones, rays of equal ratio, saved variants.

    Painted into a picture that is kept until the view, the theme or what
    stands on it changes; a key press then costs one copy of it.
    """

    def __init__(self) -> None:
        super().__init__()
        self._areas: Sequence[tuple[Zone, Floats]] = ()
        self._variants: dict[str, tuple[float, float]] = {}
        self._font = QFont()
        self._picture = QPixmap()
        self._key: object = None
        self._names: list[QRectF] = []
        self._clear: tuple[float, float] | None = None

    @property
    def variants(self) -> dict[str, tuple[float, float]]:
        """The saved variants shown: letter to position."""
        return self._variants

    def set_zones(self, areas: Sequence[tuple[Zone, Floats]]) -> None:
        """Take convex areas in chart coordinates."""
        self._areas = areas
        self._repaint()

    def set_variants(self, variants: dict[str, tuple[float, float]]) -> None:
        """Take letters and positions: hollow rings with their letters."""
        self._variants = variants
        self._repaint()

    def set_palette(self, palette: Palette) -> None:
        self._key = None
        super().set_palette(palette)

    def set_font(self, font: QFont) -> None:
        """Take the font of names and letters."""
        self._font = font
        self._repaint()

    @property
    def names(self) -> list[QRectF]:
        """Where the names of the zones stand [px of the viewport]."""
        return self._names

    def keep_clear(self, point: tuple[float, float] | None) -> None:
        """Move the names away when the point comes to lie under one."""
        if point is None or self._palette is None:
            return
        spot = room_of_point(self.to_screen(np.array([point]))[0])
        if any(name.intersects(spot) for name in self._names):
            self._clear = point
            self._repaint()

    def _repaint(self) -> None:
        self._key = None
        self.update()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        box = self.screen_box().toAlignedRect()
        key = (box.getRect(), tuple(map(tuple, self.getViewBox().viewRange())), ratio)
        if key != self._key:
            pixmap = QPixmap(box.size() * ratio)
            pixmap.setDevicePixelRatio(ratio)
            pixmap.fill(palette.color(Role.PAPER))
            inner = QPainter(pixmap)
            inner.setRenderHint(QPainter.RenderHint.Antialiasing)
            inner.translate(-box.topLeft())
            self._paint_field(inner, palette, ratio)
            self._paint_variants(inner, palette)
            inner.end()
            self._picture, self._key = pixmap, key
        painter.drawPixmap(box.topLeft(), self._picture)

    def _paint_field(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        edge = QPen(palette.color(Role.EDGE), 1.0)
        shapes = [(zone, self.to_screen(corners)) for zone, corners in self._areas]
        for zone, shape in shapes:
            painter.setPen(edge)
            painter.setBrush(zone_brush_pattern(ZONE_ROLE[zone], palette, ratio))
            painter.drawPolygon(shape)
        self._paint_rays(painter, palette)
        self._names = []
        for zone, shape in shapes:
            self._paint_name(painter, palette, zone, shape)

    def _paint_rays(self, painter: QPainter, palette: Palette) -> None:
        box = self.screen_box()
        (x0, x1), (y0, y1) = self.getViewBox().viewRange()
        pen = QPen(palette.color(Role.EDGE, 0.45), 1.0, Qt.PenStyle.DotLine)
        painter.setFont(self._small())
        metrics = painter.fontMetrics()
        taken: list[QRectF] = []
        for ratio in RATIOS:
            # Where the ray leaves the view: at its top or its right side.
            x, y = (ratio * y1, y1) if ratio * y1 <= x1 else (x1, x1 / ratio)
            if x <= x0 or y <= y0:
                continue
            ends = self.to_screen(np.array([[0.0, 0.0], [x, y]]))
            painter.setPen(pen)
            painter.drawLine(ends[0], ends[1])
            text = f"{ratio}:1"
            size = metrics.boundingRect(text).size()
            spot = QRectF(0, 0, size.width() + 6, size.height() + 2)
            if ratio * y1 <= x1:
                spot.moveTopLeft(QPointF(ends[1].x() - spot.width() / 2, box.top() + 2))
            else:
                spot.moveTopRight(QPointF(box.right() - 2, ends[1].y() - spot.height() / 2))
            if not box.contains(spot) or any(spot.intersects(other) for other in taken):
                continue
            taken.append(spot)
            halo_text(painter, palette, spot, text, Role.INK)

    def _paint_name(
        self, painter: QPainter, palette: Palette, zone: Zone, shape: QPolygonF
    ) -> None:
        font = QFont(self._font)
        font.setPointSizeF(font.pointSizeF() + 1)
        painter.setFont(font)
        size = painter.fontMetrics().boundingRect(str(zone)).size()
        spot = QRectF(0, 0, size.width() + 8, size.height() + 4)
        corners = np.array([(corner.x(), corner.y()) for corner in shape])
        clear = None
        if self._clear is not None:
            clear = room_of_point(self.to_screen(np.array([self._clear]))[0])
        place = _roomiest(corners, self.screen_box(), spot, clear)
        if place is not None:
            spot.moveCenter(place)
            self._names.append(QRectF(spot))
            halo_text(painter, palette, spot, str(zone), Role.INK)

    def _paint_variants(self, painter: QPainter, palette: Palette) -> None:
        if not self._variants:
            return
        spots = self.to_screen(np.array(list(self._variants.values())))
        halo, ink = QPen(palette.color(Role.HALO), 4.5), QPen(palette.color(Role.INK), 1.8)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in (halo, ink):
            painter.setPen(pen)
            for i in range(len(spots)):
                painter.drawEllipse(spots[i], 5.5, 5.5)
        painter.setFont(self._font)
        metrics = painter.fontMetrics()
        # Letters that would run into each other stay off; hovering names them.
        taken: list[QRectF] = []
        for i, name in reversed(list(enumerate(self._variants))):
            width = metrics.horizontalAdvance(name)
            spot = QRectF(spots[i].x() - 10 - width, spots[i].y() - 18, width + 4, 16)
            if not any(spot.intersects(other) for other in taken):
                taken.append(spot)
                halo_text(painter, palette, spot, name, Role.INK)

    def _small(self) -> QFont:
        font = QFont(self._font)
        font.setPointSizeF(max(font.pointSizeF() - 1, 7))
        return font


def _roomiest(
    corners: Floats, box: QRectF, label: QRectF, clear: QRectF | None = None
) -> QPointF | None:
    """Find where a label has most room inside a convex area, and among such places the middle.

    Parameters
    ----------
    corners : ndarray, shape (n, 2)
        Of the area [px], in either sense of rotation.
    box : QRectF
        What is visible of the chart [px].
    label : QRectF
        Of the wanted size [px].
    clear : QRectF, optional
        What the label should leave free [px].
    """
    low = np.maximum(corners.min(axis=0), (box.left(), box.top()))
    high = np.minimum(corners.max(axis=0), (box.right(), box.bottom()))
    if (high - low <= 0).any():
        return None
    grid = np.stack(
        np.meshgrid(np.linspace(0, 1, 33)[1:-1], np.linspace(0, 1, 25)[1:-1]), axis=-1
    ).reshape(-1, 2)
    centres = low + grid * (high - low)
    half = np.array([label.width(), label.height()]) / 2
    # Distance of a label to an edge is that of its centre less its own reach
    # along the edge's normal; turned so that inside is positive.
    edges = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(*edges.T)
    edges, begins = edges[lengths > 0], corners[lengths > 0]
    normals = np.stack([-edges[:, 1], edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None]
    inward = np.sign(((corners.mean(axis=0) - begins) * normals).sum(axis=1))
    normals *= inward[:, None]
    depth = ((centres[:, None, :] - begins) * normals).sum(axis=2)
    room = (depth - np.abs(normals) @ half).min(axis=1)
    in_view = np.minimum(centres - (box.left(), box.top()), (box.right(), box.bottom()) - centres)
    room = np.minimum(room, (in_view - half).min(axis=1))
    if room.max() < 0:
        return None
    # Beyond what a name likes around it, more room is worth nothing.
    score = np.minimum(room, _LABEL_ROOM) - 1e-3 * np.hypot(*(centres - (low + high) / 2).T)
    if clear is not None:
        middle = np.array([clear.center().x(), clear.center().y()])
        reach = half + np.array([clear.width(), clear.height()]) / 2
        score[(np.abs(centres - middle) < reach).all(axis=1)] -= 2 * _LABEL_ROOM
    return QPointF(*centres[int(score.argmax())])
