"""What moves on the map with every edit: doubt, trail, point and the next nudge.

Each is made once and moved with its own setter.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QBrush,
    QFont,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
    QRadialGradient,
    QTransform,
)

from app.map_item import POINT_PX, Floats, ScreenItem, halo_text, room_of_point
from app.theme import Palette, Role

_LONGEST_LABEL = 150
"""Of a row's name at the arrow [px]."""
_LABEL_ROOM = 14.0
"""Margin that a zone's name would like around it [px]."""


class CloudItem(ScreenItem):
    """Where the point may really lie: a soft cloud within its 90 % outline."""

    def __init__(self) -> None:
        super().__init__()
        self._outline: Floats = np.empty((0, 2))

    def set_outline(self, outline: Floats) -> None:
        """Take the outline in chart coordinates; none hides the cloud."""
        self._outline = outline
        self.update()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if len(self._outline) == 0:
            return
        painter.setClipRect(self.screen_box())
        outline = self.to_screen(self._outline)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._softness(outline, palette))
        painter.drawPolygon(outline)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(palette.color(Role.HALO), 3.0))
        painter.drawPolyline(outline)
        painter.setPen(QPen(palette.color(Role.ACCENT), 1.2, Qt.PenStyle.DashLine))
        painter.drawPolyline(outline)

    @staticmethod
    def _softness(outline: QPolygonF, palette: Palette) -> QBrush:
        """A round gradient stretched to the outline: dense in the middle, thin at the rim."""
        quarter = (len(outline) - 1) // 4
        centre = (outline[0] + outline[2 * quarter]) / 2
        a, b = outline[0] - centre, outline[quarter] - centre
        gradient = QRadialGradient(0, 0, 1)
        gradient.setColorAt(0.0, palette.color(Role.ACCENT, 0.60))
        gradient.setColorAt(0.6, palette.color(Role.ACCENT, 0.30))
        gradient.setColorAt(1.0, palette.color(Role.ACCENT, 0.08))
        brush = QBrush(gradient)
        brush.setTransform(QTransform(a.x(), a.y(), b.x(), b.y(), centre.x(), centre.y()))
        return brush


class ReachItem(ScreenItem):
    """What the rows can reach: outlined, the rest of the map a little veiled."""

    def __init__(self) -> None:
        super().__init__()
        self._corners: Floats = np.empty((0, 2))
        self._shown = False

    @property
    def corners(self) -> Floats:
        """Of the outline, shape (n, 2)."""
        return self._corners

    def set_corners(self, corners: Floats | None) -> None:
        """Take the outline in chart coordinates; None hides it."""
        self._shown = corners is not None
        self._corners = np.empty((0, 2)) if corners is None else corners
        self.update()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if not self._shown:
            return
        box = self.screen_box()
        painter.setClipRect(box)
        outline = self.to_screen(self._corners)
        # Twice inside is outside: the veil has a hole where the rows reach.
        veil = QPainterPath()
        veil.setFillRule(Qt.FillRule.OddEvenFill)
        veil.addRect(box)
        veil.addPolygon(outline)
        veil.closeSubpath()
        # Soft edges of so large a shape would take most of a frame; the outline hides them.
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.fillPath(veil, palette.color(Role.PAPER, 0.4))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for role, width in ((Role.HALO, 4.0), (Role.ACCENT, 1.4)):
            painter.setPen(QPen(palette.color(role), width))
            painter.drawPolygon(outline)


class TrailItem(ScreenItem):
    """The path that the point has taken, older steps fainter."""

    def __init__(self) -> None:
        super().__init__()
        self._points: Floats = np.empty((0, 2))

    @property
    def points(self) -> Floats:
        """The positions, the newest last."""
        return self._points

    def set_points(self, points: Floats) -> None:
        """Take positions, the newest last, shape (n, 2)."""
        self._points = points
        self.update()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if len(self._points) < 2:
            return
        painter.setClipRect(self.screen_box())
        spots = self.to_screen(self._points)
        newest = len(self._points) - 1
        for i in range(newest):
            age = (i + 1) / newest
            painter.setPen(QPen(palette.color(Role.ACCENT, 0.15 + 0.75 * age), 1.6))
            painter.drawLine(spots[i], spots[i + 1])
        painter.setPen(Qt.PenStyle.NoPen)
        for i in range(newest):
            age = (i + 1) / newest
            painter.setBrush(palette.color(Role.ACCENT, 0.15 + 0.75 * age))
            painter.drawEllipse(spots[i], 2.0, 2.0)


class PointItem(ScreenItem):
    """The recipe's point, and a hollow one for today's table where that differs."""

    def __init__(self) -> None:
        super().__init__()
        self._point: tuple[float, float] | None = None
        self._other: tuple[float, float] | None = None
        self._focused = False
        self._font = QFont()

    def set_font(self, font: QFont) -> None:
        """Take the font of the marker at the rim."""
        self._font = font

    def set_focused(self, focused: bool) -> None:
        """Frame the chart while the keyboard acts on it."""
        self._focused = focused
        self.update()

    @property
    def point(self) -> tuple[float, float] | None:
        """Where the point stands, in chart coordinates."""
        return self._point

    def set_point(
        self, point: tuple[float, float] | None, other: tuple[float, float] | None = None
    ) -> None:
        """Take the point, and the one by today's table."""
        self._point, self._other = point, other
        self.update()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        box = self.screen_box()
        if self._focused:
            painter.setPen(QPen(palette.color(Role.ACCENT), 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(box.adjusted(1, 1, -1, -1))
        if self._point is None:
            return
        spot = self.to_screen(np.array([self._point]))[0]
        if not box.contains(spot):
            self._paint_at_rim(painter, palette, box, spot)
            return
        painter.setClipRect(box)
        radius = POINT_PX / 2
        if self._other is not None:
            ends = self.to_screen(np.array([self._point, self._other]))
            painter.setPen(QPen(palette.color(Role.INK), 1.0, Qt.PenStyle.DotLine))
            painter.drawLine(ends[0], ends[1])
            painter.setPen(QPen(palette.color(Role.ACCENT), 1.8))
            painter.setBrush(palette.color(Role.HALO))
            painter.drawEllipse(ends[1], radius - 1.5, radius - 1.5)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(palette.color(Role.HALO))
        painter.drawEllipse(spot, radius + 2, radius + 2)
        painter.setBrush(palette.color(Role.ACCENT))
        painter.drawEllipse(spot, radius, radius)

    def _paint_at_rim(
        self, painter: QPainter, palette: Palette, box: QRectF, spot: QPointF
    ) -> None:
        """Say at the rim where the point lies that is beyond it."""
        assert self._point is not None
        rim = QPointF(
            min(max(spot.x(), box.left() + 9), box.right() - 9),
            min(max(spot.y(), box.top() + 9), box.bottom() - 9),
        )
        way = spot - rim
        length = max(float(np.hypot(way.x(), way.y())), 1e-9)
        unit = way / length
        side = QPointF(-unit.y(), unit.x())
        tip = rim + unit * 7
        painter.setPen(QPen(palette.color(Role.HALO), 2.0))
        painter.setBrush(palette.color(Role.ACCENT))
        painter.drawPolygon(QPolygonF([tip, rim + side * 7, rim - side * 7]))
        painter.setFont(self._font)
        text = f"SiO₂ {self._point[0]:.3g}, Al₂O₃ {self._point[1]:.3g}"
        metrics = painter.fontMetrics()
        plate = QRectF(0, 0, metrics.horizontalAdvance(text) + 8, metrics.height() + 2)
        plate.moveCenter(rim - unit * 12)
        plate.moveLeft(min(max(plate.left(), box.left() + 2), box.right() - plate.width() - 20))
        plate.moveTop(min(max(plate.top(), box.top() + 18), box.bottom() - plate.height() - 18))
        halo_text(painter, palette, plate, text, Role.INK)


class NudgeItem(ScreenItem):
    """The arrow that the next nudge of the selected row would make."""

    def __init__(self) -> None:
        super().__init__()
        self._from: tuple[float, float] | None = None
        self._to: tuple[float, float] | None = None
        self._name = ""
        self._change = ""
        self._names: Sequence[QRectF] = ()
        self._font = QFont()

    @property
    def end(self) -> tuple[float, float] | None:
        """Where the arrow ends, in chart coordinates."""
        return self._to

    @property
    def text(self) -> str:
        """The row's name and the change."""
        return f"{self._name} {self._change}".strip()

    def set_nudge(
        self,
        begin: tuple[float, float] | None,
        end: tuple[float, float] | None,
        name: str = "",
        change: str = "",
        names: Sequence[QRectF] = (),
    ) -> None:
        """Take both ends, the row's name and the change; None hides the arrow.

        `names` are places of the screen that the label should leave free [px].
        """
        self._from, self._to, self._name, self._change = begin, end, name, change
        self._names = names
        self.update()

    def set_font(self, font: QFont) -> None:
        """Take the font of the row's name."""
        self._font = font

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if self._from is None or self._to is None:
            return
        box = self.screen_box()
        painter.setClipRect(box)
        ends = self.to_screen(np.array([self._from, self._to]))
        if not box.contains(ends[0]):
            return
        line = ends[1] - ends[0]
        length = float(np.hypot(line.x(), line.y()))
        if length < 0.5:
            return
        unit = line / length
        # A short nudge would hide under the point: the shaft begins at its
        # rim, and the head stands where the nudge ends or just beyond the rim.
        start = ends[0] + unit * (POINT_PX / 2 + 3)
        tip = ends[0] + unit * max(length, POINT_PX / 2 + 14)
        side = QPointF(-unit.y(), unit.x())
        head = QPolygonF([tip, tip - unit * 8 + side * 4.5, tip - unit * 8 - side * 4.5])
        for color, width in ((Role.HALO, 5.0), (Role.INK, 1.8)):
            pen = QPen(palette.color(color), width)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            painter.setBrush(palette.color(color))
            painter.drawLine(start, tip - unit * 7)
            painter.drawPolygon(head)
        painter.setFont(self._font)
        metrics = painter.fontMetrics()
        name = metrics.elidedText(self._name, Qt.TextElideMode.ElideRight, _LONGEST_LABEL)
        text = f"{name} {self._change}"
        size = QSizeF(metrics.horizontalAdvance(text) + 8, metrics.height() + 2)
        spot = self._label_spot(size, tip, unit, box, room_of_point(ends[0]))
        halo_text(painter, palette, spot, text, Role.INK)

    def _label_spot(
        self, size: QSizeF, tip: QPointF, unit: QPointF, box: QRectF, point: QRectF
    ) -> QRectF:
        """Place the label beside the tip where it hides neither a name nor the point."""
        width, height = size.width(), size.height()
        beyond = tip + unit * 6
        left = -1 if unit.x() < 0 else 1
        offsets = [
            QPointF(left * (width / 2 + 2), 0),
            QPointF(left * (width / 2 + 2), -height),
            QPointF(left * (width / 2 + 2), height),
            QPointF(-left * (width / 2 + 20), -height),
            QPointF(-left * (width / 2 + 20), height),
        ]
        first = None
        for offset in offsets:
            spot = QRectF(QPointF(), size)
            spot.moveCenter(beyond + offset)
            spot.moveLeft(min(max(spot.left(), box.left() + 2), box.right() - width - 2))
            spot.moveTop(min(max(spot.top(), box.top() + 2), box.bottom() - height - 2))
            first = first or spot
            if not any(spot.intersects(other) for other in (point, *self._names)):
                return spot
        assert first is not None
        return first
