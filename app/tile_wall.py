"""The wall of tiles: each with its photo or the pattern of its surface, its code and label."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import (
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QBrush, QFont, QFontMetrics, QKeyEvent, QPainter, QPen, QPixmap
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.theme import LIGHT, Palette, Role, apply_tabular_figures, zone_brush_pattern
from app.thumbnails import Thumbnails
from app.tile_model import ENTRY_ROLE, Key, TileModel, key_of
from app.zone_roles import ZONE_ROLE
from core.tiles.index import UNREAD, TileEntry
from core.tiles.result import ZONE_OF, Surface

_PICTURE: Final = QSize(100, 66)
_GAP: Final = 4
_STRIP: Final = 10
"""Height of the pattern along the foot of a photo [px]."""
DEFECT_SIGN: Final = "◆"
_LEFT: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class TilePainter:
    """Paints the picture of a tile: photo, pattern of the surface, or a hollow square."""

    def __init__(self) -> None:
        self._colors: Palette = LIGHT
        self._brushes: dict[tuple[Role, float], QBrush] = {}

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self._brushes.clear()

    def paint(
        self, painter: QPainter, rect: QRect, surface: str, photo: QPixmap | None, scale: float
    ) -> None:
        """Paint into `rect`; without a photo the pattern fills it."""
        role = ZONE_ROLE[ZONE_OF[Surface(surface)]] if surface != UNREAD else None
        painter.save()
        painter.setPen(QPen(self._colors.color(Role.EDGE), 1))
        frame = QRectF(rect).adjusted(0.5, 0.5, -0.5, -0.5)
        if photo is not None and not photo.isNull():
            self._paint_photo(painter, rect, photo)
            strip = QRect(rect.left(), rect.bottom() - _STRIP + 1, rect.width(), _STRIP)
            if role is not None:
                self._fill(painter, strip, role, scale)
                painter.drawRect(QRectF(strip).adjusted(0.5, 0.5, -0.5, -0.5))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(frame)
        elif role is not None:
            self._fill(painter, rect, role, scale)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(frame)
        else:
            # Planned tiles are hollow, here as on the map.
            side = min(rect.width(), rect.height()) // 2
            square = QRect(0, 0, side, side)
            square.moveCenter(rect.center())
            painter.setPen(QPen(self._colors.color(Role.EDGE), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(square)
        painter.restore()

    def _fill(self, painter: QPainter, rect: QRect, role: Role, scale: float) -> None:
        brush = self._brushes.get((role, scale))
        if brush is None:
            brush = zone_brush_pattern(role, self._colors, scale)
            self._brushes[role, scale] = brush
        # The pattern begins at the tile, so that it does not swim as the wall is scrolled.
        painter.setBrushOrigin(rect.topLeft())
        painter.fillRect(rect, brush)

    def _paint_photo(self, painter: QPainter, rect: QRect, photo: QPixmap) -> None:
        size = photo.size().scaled(rect.size(), Qt.AspectRatioMode.KeepAspectRatioByExpanding)
        ratio = photo.width() / size.width()
        shown = QRectF(
            (size.width() - rect.width()) / 2 * ratio,
            (size.height() - rect.height()) / 2 * ratio,
            rect.width() * ratio,
            rect.height() * ratio,
        )
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawPixmap(QRectF(rect), photo, shown)


class _TileDelegate(QStyledItemDelegate):
    """Paints one tile of the wall."""

    def __init__(self, wall: TileWall) -> None:
        super().__init__(wall)
        self._wall = wall
        self.colors: Palette = LIGHT
        self.picture = TilePainter()
        self.thumbnails: Thumbnails | None = None

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        return self._wall.gridSize()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        entry: TileEntry = index.data(ENTRY_ROLE)
        colors = self.colors
        cell = option.rect.adjusted(_GAP // 2, _GAP // 2, -_GAP // 2, -_GAP // 2)
        selected = bool(option.state & QStyle.StateFlag.State_Selected)
        if selected:
            painter.fillRect(cell, colors.color(Role.SELECTION))
        inside = cell.adjusted(_GAP, _GAP, -_GAP, -_GAP)
        picture = QRect(inside.topLeft(), QSize(inside.width(), _PICTURE.height()))
        photo = None
        if entry.photo and self.thumbnails is not None:
            photo = self.thumbnails.picture(entry.photo)
        scale = painter.device().devicePixelRatio()
        self.picture.paint(painter, picture, entry.surface, photo, scale)
        bold, small = self._wall.bold, self._wall.small
        high = QFontMetrics(bold).height()
        line = QRect(inside.left(), picture.bottom() + 3, inside.width(), high)
        painter.setFont(bold)
        painter.setPen(colors.color(Role.INK))
        painter.drawText(
            line, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, entry.code
        )
        if entry.defects:
            painter.setPen(colors.color(Role.LOOK))
            painter.drawText(
                line, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, DEFECT_SIGN
            )
        painter.setFont(small)
        metrics = QFontMetrics(small)
        surface = self.tr("planned") if entry.surface == UNREAD else entry.surface
        muted = Role.INK if selected else Role.MUTED
        for words, role in ((entry.label, muted), (surface, Role.INK)):
            line = QRect(line.left(), line.bottom() + 1, line.width(), metrics.height())
            painter.setPen(colors.color(role))
            text = metrics.elidedText(words, Qt.TextElideMode.ElideRight, line.width())
            painter.drawText(line, _LEFT, text)
        if option.state & QStyle.StateFlag.State_HasFocus:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(colors.color(Role.ACCENT), 2))
            painter.drawRect(cell.adjusted(1, 1, -1, -1))
        elif index.row() == self._wall.currentIndex().row():
            painter.fillRect(
                QRect(cell.left(), cell.top(), 3, cell.height()), colors.color(Role.ACCENT)
            )


class TileWall(QListView):
    """Shows a `TileModel`; only what is seen is painted, so that ten thousand cost no more."""

    tile_chosen = Signal(object)
    """Key of the tile that is current now; None without one."""
    chosen_changed = Signal(int)
    """How many tiles are selected."""
    entry_asked = Signal()
    """Enter: the tile is to be read."""

    def __init__(self, model: TileModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        copy_as_cell(self)
        self.tiles = model
        self._colors: Palette = LIGHT
        self.empty_words = ""
        """Said in place of tiles while there are none."""
        self._delegate = _TileDelegate(self)
        self.setModel(model)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName(self.tr("Wall of tiles"))
        self.setFlow(QListView.Flow.LeftToRight)
        self.setWrapping(True)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._set_fonts()
        selection = self.selectionModel()
        selection.currentChanged.connect(self._on_current_changed)
        selection.selectionChanged.connect(self._on_selection_changed)

    def show_thumbnails(self, thumbnails: Thumbnails | None) -> None:
        """Take the small pictures of a studio's photos."""
        self._delegate.thumbnails = thumbnails
        if thumbnails is not None:
            thumbnails.ready.connect(self.tiles.announce_photo)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = self._delegate.colors = palette
        self._delegate.picture.set_palette(palette)
        self.viewport().update()

    def current_key(self) -> Key | None:
        """Return the tile that is current, if any."""
        entry = self.currentIndex().data(ENTRY_ROLE)
        return key_of(entry) if entry is not None else None

    def selected_entries(self) -> list[TileEntry]:
        """Return the selected tiles in the order of the wall."""
        rows = sorted(index.row() for index in self.selectedIndexes())
        entries = self.tiles.entries
        return [entries[row] for row in rows]

    def go_to(self, key: Key) -> bool:
        """Make a tile the current one; False if it is not on the wall."""
        row = self.tiles.row_of(key)
        if row < 0:
            return False
        self._go_to_row(row)
        return True

    def step(self, by: int) -> bool:
        """Go to a tile before or behind; False at the end of the wall."""
        row = self.currentIndex().row() + by
        if not 0 <= row < self.tiles.rowCount():
            return False
        self._go_to_row(row)
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.entry_asked.emit()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: object) -> None:
        super().paintEvent(event)  # type: ignore[arg-type]
        if self.tiles.rowCount() or not self.empty_words:
            return
        painter = QPainter(self.viewport())
        painter.setPen(self._colors.color(Role.MUTED))
        painter.drawText(
            self.viewport().rect().adjusted(24, 24, -24, -24),
            Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap,
            self.empty_words,
        )
        painter.end()

    def say_empty(self, words: str) -> None:
        """Take what to say while there are no tiles."""
        self.empty_words = words
        self.setAccessibleDescription("" if self.tiles.rowCount() else words)
        self.viewport().update()

    def _go_to_row(self, row: int) -> None:
        index = self.tiles.index(row)
        self.selectionModel().setCurrentIndex(
            index, QItemSelectionModel.SelectionFlag.ClearAndSelect
        )
        self.scrollTo(index)

    def _on_current_changed(self, current: QModelIndex, _before: QModelIndex) -> None:
        entry = current.data(ENTRY_ROLE)
        self.tile_chosen.emit(key_of(entry) if entry is not None else None)

    def _on_selection_changed(self, *_: object) -> None:
        self.chosen_changed.emit(len(self.selectionModel().selectedIndexes()))

    def _set_fonts(self) -> None:
        self.bold = apply_tabular_figures(self.font())
        self.bold.setBold(True)
        self.small = QFont(self.font())
        if self.small.pointSizeF() > 0:
            self.small.setPointSizeF(self.small.pointSizeF() - 1)
        lines = QFontMetrics(self.bold).height() + 2 * QFontMetrics(self.small).height()
        self.setGridSize(QSize(_PICTURE.width() + 3 * _GAP, _PICTURE.height() + lines + 4 * _GAP))
