"""What every item of the map builds on: painting in screen pixels at chart coordinates.

Chart coordinates are (SiO2, Al2O3) of the unity formula.
"""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QPainter,
    QPolygonF,
)

from app.theme import Palette, Role

Floats = NDArray[np.float64]

POINT_PX = 14
"""Diameter of the recipe's point."""


class ScreenItem(pg.GraphicsObject):
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
        spots = np.asarray(points, float).reshape(-1, 2)
        x = box.left() + (spots[:, 0] - x0) * (box.width() / (x1 - x0))
        y = box.bottom() - (spots[:, 1] - y0) * (box.height() / (y1 - y0))
        return pg.functions.arrayToQPolygonF(x, y)

    def screen_box(self) -> QRectF:
        """The chart's area in pixels of the viewport."""
        view = self.getViewBox()
        return QRectF(view.mapRectToScene(view.boundingRect()))


def halo_text(painter: QPainter, palette: Palette, spot: QRectF, text: str, role: Role) -> None:
    """Write text on a soft plate of paper, so that it reads on any fill."""
    plate: QColor = palette.color(Role.HALO, 0.82)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(plate))
    painter.drawRoundedRect(spot, 3, 3)
    painter.setPen(palette.color(role))
    painter.drawText(spot, Qt.AlignmentFlag.AlignCenter, text)


def room_of_point(spot: QPointF) -> QRectF:
    """Return the room that the point takes at a place of the screen."""
    reach = POINT_PX / 2 + 4
    return QRectF(spot.x() - reach, spot.y() - reach, 2 * reach, 2 * reach)
