"""What stands on the map: each item is made once and moved with its own setter.

Chart coordinates are (SiO2, Al2O3) of the unity formula.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QPainter,
    QPen,
    QPixmap,
    QPolygonF,
    QRadialGradient,
    QTransform,
)

from app.theme import Palette, Role, zone_brush_pattern
from app.zone_roles import ZONE_ROLE
from core.regions import Zone

Floats = NDArray[np.float64]

POINT_PX = 14
RATIOS = (3, 4, 5, 6, 7, 8, 10, 12)
_LONGEST_LABEL = 150
"""Of a row's name at the arrow [px]."""
_LABEL_ROOM = 14.0
"""Margin that a zone's name would like around it [px]."""


class _ScreenItem(pg.GraphicsObject):
    """Painted in screen pixels, placed in chart coordinates, over the whole view."""

    def __init__(self) -> None:
        super().__init__()
        self._palette: Palette | None = None

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._palette = palette
        self.update()

    def viewRangeChanged(self) -> None:
        self.prepareGeometryChange()
        super().viewRangeChanged()
        self.update()

    def boundingRect(self) -> QRectF:
        return QRectF(self.viewRect())

    def paint(self, painter: QPainter, *_: object) -> None:
        if self._palette is None or self.getViewBox() is None:
            return
        painter.save()
        # The scene of the view is laid out in pixels of its viewport.
        painter.resetTransform()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.paint_screen(painter, self._palette, painter.device().devicePixelRatio())
        painter.restore()

    def paint_screen(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        """Paint in logical pixels of the view's viewport."""
        raise NotImplementedError

    def to_screen(self, points: Floats) -> QPolygonF:
        """Chart coordinates, shape (n, 2), to pixels of the viewport."""
        view = self.getViewBox()
        box = view.mapRectToScene(view.boundingRect())
        (x0, x1), (y0, y1) = view.viewRange()
        sx, sy = box.width() / (x1 - x0), box.height() / (y1 - y0)
        return QPolygonF(
            [QPointF(box.left() + (x - x0) * sx, box.bottom() - (y - y0) * sy) for x, y in points]
        )

    def screen_box(self) -> QRectF:
        """The chart's area in pixels of the viewport."""
        view = self.getViewBox()
        return QRectF(view.mapRectToScene(view.boundingRect()))


class BackdropItem(_ScreenItem):
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
        spot = _around(self.to_screen(np.array([point]))[0])
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
            _halo_text(painter, palette, spot, text, Role.INK)

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
            clear = _around(self.to_screen(np.array([self._clear]))[0])
        place = _roomiest(corners, self.screen_box(), spot, clear)
        if place is not None:
            spot.moveCenter(place)
            self._names.append(QRectF(spot))
            _halo_text(painter, palette, spot, str(zone), Role.INK)

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
                _halo_text(painter, palette, spot, name, Role.INK)

    def _small(self) -> QFont:
        font = QFont(self._font)
        font.setPointSizeF(max(font.pointSizeF() - 1, 7))
        return font


class CloudItem(_ScreenItem):
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


class TrailItem(_ScreenItem):
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


class PointItem(_ScreenItem):
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
        _halo_text(painter, palette, plate, text, Role.INK)


class NudgeItem(_ScreenItem):
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
        spot = self._label_spot(size, tip, unit, box, _around(ends[0]))
        _halo_text(painter, palette, spot, text, Role.INK)

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


def _halo_text(painter: QPainter, palette: Palette, spot: QRectF, text: str, role: Role) -> None:
    """Write text on a soft plate of paper, so that it reads on any fill."""
    plate: QColor = palette.color(Role.HALO, 0.82)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(plate))
    painter.drawRoundedRect(spot, 3, 3)
    painter.setPen(palette.color(role))
    painter.drawText(spot, Qt.AlignmentFlag.AlignCenter, text)


def _around(spot: QPointF) -> QRectF:
    """Return the room that the point takes at a place of the screen."""
    reach = POINT_PX / 2 + 4
    return QRectF(spot.x() - reach, spot.y() - reach, 2 * reach, 2 * reach)


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
