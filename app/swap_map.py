"""A small map about two points: where a recipe was, and where it would be."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF, QTransform
from PySide6.QtWidgets import QWidget

from app.formatting import NOTHING
from app.map_item import POINT_PX, halo_text
from app.theme import LIGHT, Palette, Role, zone_brush_pattern
from app.zone_picture import ZoneShape, zone_image, zone_shapes
from app.zone_roles import ZONE_ROLE
from core.reading.basis import Basis
from core.reading.field import zone_field
from core.reading.surface import Rules

Point = tuple[float, float]
"""(SiO2, Al2O3) of the unity formula."""

_NARROWEST: Point = (1.2, 0.24)
_TIMES = 3.0
"""The map is so many times as wide as the way from point to point."""
_GRID = (28, 20)
_LEAST = 1e-3
_STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)


class SwapMap(QWidget):
    """Paints the point before as a ring and the point after as a disc, over the zones."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors: Palette = LIGHT
        self._before: Point | None = None
        self._after: Point | None = None
        self._basis: Basis | None = None
        self._rules: Rules | None = None
        self._kept: tuple[object, QImage, list[ZoneShape]] | None = None
        self.setAccessibleName(self.tr("Small map"))
        self._say()

    def show_points(
        self,
        before: Point | None,
        after: Point | None,
        basis: Basis | None,
        rules: Rules | None = None,
    ) -> None:
        """Show both points, and the zones of a basis where there is one."""
        self._before, self._after, self._basis, self._rules = before, after, basis, rules
        self._say()
        self.update()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self._kept = None
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(240, 180)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 130)

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box, view = self._box(), self._view()
        painter.fillRect(box, self._colors.color(Role.PAPER))
        to_screen = QTransform.fromTranslate(box.left(), box.bottom())
        to_screen.scale(box.width() / view.width(), -box.height() / view.height())
        to_screen.translate(-view.left(), -view.top())
        painter.save()
        painter.setClipRect(box)
        if self._basis is not None:
            self._paint_zones(painter, box, view, to_screen)
        self._paint_points(painter, to_screen)
        painter.restore()
        painter.setPen(QPen(self._colors.color(Role.EDGE), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)
        self._paint_axes(painter, box, view)
        painter.end()

    def _box(self) -> QRectF:
        metrics = self.fontMetrics()
        left, line = metrics.horizontalAdvance("0.00") + 6, metrics.height()
        return QRectF(self.rect()).adjusted(left, 0.5 * line, -8, -line - 4)

    def _view(self) -> QRectF:
        """What is shown, in chart coordinates; its top is the least alumina."""
        spots = [spot for spot in (self._before, self._after) if spot is not None]
        if not spots:
            return QRectF(0.0, 0.0, 6.0, 1.0)
        sides = []
        for axis, least in enumerate(_NARROWEST):
            values = [spot[axis] for spot in spots]
            wide = max(_TIMES * (max(values) - min(values)), least)
            # In steps, so that the map does not swim while ticks are turned.
            step = least / 4
            begin = math.floor((0.5 * (max(values) + min(values)) - 0.5 * wide) / step) * step
            sides.append((max(begin, 0.0), math.ceil(wide / step) * step))
        (x, width), (y, height) = sides
        return QRectF(x, y, width, height)

    def _paint_zones(
        self, painter: QPainter, box: QRectF, view: QRectF, to_screen: QTransform
    ) -> None:
        assert self._basis is not None
        size = (max(round(box.width()), 2), max(round(box.height()), 2))
        key = (self._basis, view.getRect(), size)
        if self._kept is None or self._kept[0] != key:
            silica = np.linspace(max(view.left(), _LEAST), view.right(), _GRID[0])
            alumina = np.linspace(max(view.top(), _LEAST), view.bottom(), _GRID[1])
            field = zone_field(self._basis, silica, alumina, self._rules)
            self._kept = (key, zone_image(field, self._colors, *size), zone_shapes(field))
        _, image, shapes = self._kept
        painter.drawImage(box, image)
        for shape in shapes:
            brush = zone_brush_pattern(
                ZONE_ROLE[shape.zone], self._colors, self.devicePixelRatioF(), fill=False
            )
            # Holes are rings as well: odd and even fill leaves them out.
            area = QPainterPath()
            for ring in shape.rings:
                area.addPolygon(to_screen.map(_polygon(ring)))
            painter.fillPath(area, brush)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._colors.color(Role.EDGE), 1))
            for edge in shape.edges:
                painter.drawPolyline(to_screen.map(_polygon(edge)))
        for shape in shapes:
            self._paint_name(painter, shape, box, to_screen)

    def _paint_name(
        self, painter: QPainter, shape: ZoneShape, box: QRectF, to_screen: QTransform
    ) -> None:
        metrics, text = self.fontMetrics(), shape.zone.value
        width, height = metrics.horizontalAdvance(text) + 8, metrics.height()
        rows, columns = np.nonzero(shape.cells)
        # The corner of the zone that is furthest from the points has room for its name.
        across = box.left() + (columns + 0.5) / _GRID[0] * box.width()
        up = box.bottom() - (rows + 0.5) / _GRID[1] * box.height()
        inside = (
            (across > box.left() + width / 2 + 3)
            & (across < box.right() - width / 2 - 3)
            & (up > box.top() + height / 2 + 3)
            & (up < box.bottom() - height / 2 - 3)
        )
        if not inside.any():
            return
        across, up = across[inside], up[inside]
        middle = np.hypot(across - across.mean(), 2 * (up - up.mean()))
        clear = np.full(len(across), np.inf)
        spots = [np.array(spot) for spot in (self._before, self._after) if spot is not None]
        if len(spots) == 2:
            # The way between them as well.
            spots = [spots[0] + part * (spots[1] - spots[0]) for part in np.linspace(0, 1, 9)]
        for spot in spots:
            place = to_screen.map(QPointF(*spot))
            clear = np.minimum(clear, np.hypot(across - place.x(), 2 * (up - place.y())))
        free = clear > 0.5 * width + POINT_PX
        if not free.any():
            return
        best = int(np.argmin(np.where(free, middle, np.inf)))
        plate = QRectF(across[best] - width / 2, up[best] - height / 2, width, height)
        halo_text(painter, self._colors, plate, text, Role.INK)

    def _paint_points(self, painter: QPainter, to_screen: QTransform) -> None:
        halo, accent = self._colors.color(Role.HALO), self._colors.color(Role.ACCENT)
        places = [to_screen.map(QPointF(*s)) for s in (self._before, self._after) if s is not None]
        if len(places) == 2:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for color, width in ((halo, 4), (accent, 1.5)):
                painter.setPen(QPen(color, width))
                painter.drawLine(*places)
        radius = POINT_PX / 2
        if self._before is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for color, width in ((halo, 5), (self._colors.color(Role.INK), 2)):
                painter.setPen(QPen(color, width))
                painter.drawEllipse(to_screen.map(QPointF(*self._before)), radius + 2, radius + 2)
        if self._after is not None:
            painter.setPen(QPen(halo, 2))
            painter.setBrush(accent)
            painter.drawEllipse(to_screen.map(QPointF(*self._after)), radius, radius)

    def _paint_axes(self, painter: QPainter, box: QRectF, view: QRectF) -> None:
        metrics = self.fontMetrics()
        painter.setPen(self._colors.color(Role.MUTED))
        base = box.bottom() + metrics.ascent() + 2
        name = "SiO₂"
        name_x = box.right() - metrics.horizontalAdvance(name)
        painter.drawText(QPointF(name_x, base), name)
        for value, text in _ticks(view.left(), view.right(), 4):
            x = box.left() + (value - view.left()) / view.width() * box.width()
            begin = x - metrics.horizontalAdvance(text) / 2
            if begin + metrics.horizontalAdvance(text) + 6 < name_x:
                painter.drawText(QPointF(begin, base), text)
        for value, text in _ticks(view.top(), view.bottom(), 4):
            y = box.bottom() - (value - view.top()) / view.height() * box.height()
            if box.top() + 1.4 * metrics.height() < y:
                begin = box.left() - metrics.horizontalAdvance(text) - 4
                painter.drawText(QPointF(begin, y + 0.35 * metrics.ascent()), text)
        plate = QRectF(
            box.left() + 2, box.top() + 2, metrics.horizontalAdvance("Al₂O₃") + 6, metrics.height()
        )
        halo_text(painter, self._colors, plate, "Al₂O₃", Role.MUTED)

    def _say(self) -> None:
        def spoken(spot: Point | None) -> str:
            return f"SiO₂ {spot[0]:.3f}, Al₂O₃ {spot[1]:.3f}" if spot is not None else NOTHING

        self.setAccessibleDescription(
            self.tr("Before: {}. After: {}.").format(spoken(self._before), spoken(self._after))
        )


def _polygon(points: np.ndarray) -> QPolygonF:
    return QPolygonF([QPointF(float(x), float(y)) for x, y in points])


def _ticks(begin: float, end: float, most: int) -> list[tuple[float, str]]:
    step = next((s for s in _STEPS if (end - begin) / s <= most), _STEPS[-1])
    places = 0 if step >= 1 else 1 if step >= 0.1 else 2
    first = math.ceil(begin / step - 1e-9)
    return [(n * step, f"{n * step:.{places}f}") for n in range(first, math.floor(end / step) + 1)]
