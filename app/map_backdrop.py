"""The ground of the map: zones as computed, their names, rays of equal ratio, saved variants."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPainterPath, QPen, QPixmap

from app.label_place import label_place
from app.map_item import Floats, ScreenItem, halo_text, room_of_point
from app.theme import Palette, Role, zone_brush_pattern
from app.zone_picture import ZoneShape, outside_shape, zone_image, zone_shapes
from app.zone_roles import ZONE_ROLE
from core.reading.field import ZoneField

if TYPE_CHECKING:
    from core.tiles.on_map import MapTile

Flags = NDArray[np.bool_]

OUTSIDE = "outside the data"
TILE_PX = 9.0
"""Side of a tile's square."""
RATIOS = (3, 4, 5, 6, 7, 8, 10, 12)
_COARSE = 6
"""The colours fade so slowly that one point for so many pixels is enough."""


class BackdropItem(ScreenItem):
    """What an edit of the rows leaves where it is: zones, rays of equal ratio, saved variants.

    Painted into a picture that is kept until the view, the theme or what
    stands on it changes; a key press then costs one copy of it.
    """

    def __init__(self) -> None:
        super().__init__()
        self._field: ZoneField | None = None
        self._shapes: list[ZoneShape] = []
        self._outside: tuple[Floats, ...] = ()
        self._variants: dict[str, tuple[float, float]] = {}
        self._tiles: Sequence[MapTile] = ()
        self._font = QFont()
        self._picture = QPixmap()
        self._key: object = None
        self._names: list[QRectF] = []
        self._clear: tuple[float, float] | None = None

    @property
    def variants(self) -> dict[str, tuple[float, float]]:
        """The saved variants shown: letter to position."""
        return self._variants

    @property
    def field(self) -> ZoneField | None:
        """The zones shown."""
        return self._field

    def set_field(self, field: ZoneField | None) -> None:
        """Take the zones of a basis over the visible map; None leaves paper and rays."""
        self._field = field
        self._shapes = zone_shapes(field) if field is not None else []
        self._outside = outside_shape(field) if field is not None else ()
        self._repaint()

    def set_variants(self, variants: dict[str, tuple[float, float]]) -> None:
        """Take letters and positions: hollow rings with their letters."""
        self._variants = variants
        self._repaint()

    @property
    def tiles(self) -> Sequence[MapTile]:
        """The tiles shown."""
        return self._tiles

    def set_tiles(self, tiles: Sequence[MapTile]) -> None:
        """Take tiles: planned ones hollow, read ones filled by the surface seen."""
        if tiles != self._tiles:
            self._tiles = tiles
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
            try:
                inner.setRenderHint(QPainter.RenderHint.Antialiasing)
                inner.translate(-box.topLeft())
                self._paint_field(inner, palette, ratio)
                self._paint_tiles(inner, palette, ratio)
                self._paint_variants(inner, palette)
            finally:
                # A painter that outlives its pixmap, in the traceback of a fault, ends the process.
                inner.end()
            self._picture, self._key = pixmap, key
        painter.drawPixmap(box.topLeft(), self._picture)

    def _paint_field(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        self._names = []
        if self._field is not None:
            self._paint_zones(painter, palette, ratio, self._field)
        self._paint_rays(painter, palette)
        for shape in self._shapes:
            # Rather where the models have data than in their shadow.
            known = shape.cells & ~self._field.outside if self._field is not None else shape.cells
            name = str(shape.zone)
            if not self._paint_name(painter, palette, name, known):
                self._paint_name(painter, palette, name, shape.cells)
        if self._field is not None and self._outside:
            self._paint_name(painter, palette, OUTSIDE, self._field.outside, Role.MUTED)

    def _paint_zones(
        self, painter: QPainter, palette: Palette, ratio: float, field: ZoneField
    ) -> None:
        box = self.screen_box()
        ends = np.array(
            [[field.silica[0], field.alumina[-1]], [field.silica[-1], field.alumina[0]]]
        )
        corners = self.to_screen(ends)
        spread = QRectF(corners[0], corners[1])
        width, height = (max(2, round(side / _COARSE)) for side in (box.width(), box.height()))
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(spread, zone_image(field, palette, width, height))
        edge = QPen(palette.color(Role.EDGE), 1.0)
        for shape in self._shapes:
            pattern = zone_brush_pattern(ZONE_ROLE[shape.zone], palette, ratio, fill=False)
            painter.fillPath(self._path(shape.rings), pattern)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(edge)
        for shape in self._shapes:
            for line in shape.edges:
                painter.drawPolyline(self.to_screen(line))
        if self._outside:
            # Paper shines through where nobody measured.
            painter.fillPath(self._path(self._outside), palette.color(Role.PAPER, 0.45))
            painter.setPen(QPen(palette.color(Role.MUTED), 1.0, Qt.PenStyle.DashLine))
            for ring in self._outside:
                painter.drawPolyline(self.to_screen(ring))

    def _path(self, rings: Sequence[Floats]) -> QPainterPath:
        path = QPainterPath()
        for ring in rings:
            path.addPolygon(self.to_screen(ring))
        return path

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
        self,
        painter: QPainter,
        palette: Palette,
        name: str,
        cells: Flags,
        role: Role = Role.INK,
    ) -> bool:
        """Write a name where its cells have room; tell whether they have."""
        font = QFont(self._font)
        if role is Role.INK:
            font.setPointSizeF(font.pointSizeF() + 1)
        painter.setFont(font)
        size = painter.fontMetrics().boundingRect(name).size()
        spot = QRectF(0, 0, size.width() + 8, size.height() + 4)
        clear = None
        if self._clear is not None:
            clear = room_of_point(self.to_screen(np.array([self._clear]))[0])
        box = self.screen_box()
        place = label_place(self._on_screen(cells), box, spot, clear)
        if place is None:
            return False
        spot.moveCenter(place)
        self._names.append(QRectF(spot))
        halo_text(painter, palette, spot, name, role)
        return True

    def _on_screen(self, cells: Flags) -> Flags:
        """Return the cells in rows from the top, several to each place of the grid."""
        fine = np.repeat(np.repeat(cells[::-1], 2, axis=0), 2, axis=1)
        # A place of the grid reaches half way to its neighbours, those at the rim no further.
        return fine[1:-1, 1:-1]

    def _paint_tiles(self, painter: QPainter, palette: Palette, ratio: float) -> None:
        if not self._tiles:
            return
        spots = self.to_screen(np.array([(tile.silica, tile.alumina) for tile in self._tiles]))
        half = TILE_PX / 2
        for i, tile in enumerate(self._tiles):
            square = QRectF(spots[i].x() - half, spots[i].y() - half, TILE_PX, TILE_PX)
            painter.setPen(QPen(palette.color(Role.HALO), 4.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(square)
            painter.setPen(QPen(palette.color(Role.INK), 1.4))
            if tile.zone is not None:
                painter.setBrush(zone_brush_pattern(ZONE_ROLE[tile.zone], palette, ratio))
            painter.drawRect(square)

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
