"""The list of recipes: each a name, and in muted words what was met in it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from app.recipes_model import FAULT_ROLE, MATCH_ROLE, PATH_ROLE
from app.theme import LIGHT, Palette, Role

_Index = QModelIndex | QPersistentModelIndex
_ROW = 28
_SIDE, _GAP = 6, 10
_MOST_NAME = 0.62
"""Of the width, where there are words beside the name."""
_ELIDE = Qt.TextElideMode.ElideRight
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
FAULT_SIGN = "✕"


class RecipesList(QListView):
    """Lists recipes; Enter or a double click opens one, Up from the first goes back."""

    open_asked = Signal(Path)
    left_upwards = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setUniformItemSizes(True)
        self.setMinimumHeight(60)
        self._lines = _RecipeDelegate(self)
        self.setItemDelegate(self._lines)
        self.activated.connect(self._open)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._lines.colors = palette
        self.viewport().update()

    def open_current(self) -> None:
        """Open the current recipe, or the first."""
        index = self.currentIndex()
        self._open(index if index.isValid() else self.model().index(0, 0))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # Whether Enter activates depends on the system.
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.open_current()
        elif event.key() == Qt.Key.Key_Up and self.currentIndex().row() <= 0:
            self.left_upwards.emit()
        else:
            super().keyPressEvent(event)

    def _open(self, index: QModelIndex) -> None:
        if index.isValid():
            self.open_asked.emit(index.data(PATH_ROLE))


class _RecipeDelegate(QStyledItemDelegate):
    """Paints a recipe on one line."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.colors: Palette = LIGHT

    def sizeHint(self, option: QStyleOptionViewItem, index: _Index) -> QSize:
        return QSize(0, max(_ROW, option.fontMetrics.height() + 8))  # type: ignore[attr-defined]

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        own = QStyleOptionViewItem(option)
        self.initStyleOption(own, index)
        own.text = ""  # type: ignore[attr-defined]
        view = self.parent()
        assert isinstance(view, QWidget)
        # Ground and focus as the style draws them.
        view.style().drawControl(QStyle.ControlElement.CE_ItemViewItem, own, painter, view)
        rect = option.rect.adjusted(_SIDE, 0, -_SIDE, 0)  # type: ignore[attr-defined]
        metrics = option.fontMetrics  # type: ignore[attr-defined]
        painter.save()
        painter.setFont(option.font)  # type: ignore[attr-defined]
        if index.data(FAULT_ROLE):
            painter.setPen(self.colors.color(Role.STOP))
            painter.drawText(rect, _LEFT, FAULT_SIGN)
            rect.adjust(metrics.horizontalAdvance(FAULT_SIGN) + _SIDE, 0, 0, 0)
        name, words = index.data(), index.data(MATCH_ROLE)
        room = round(rect.width() * _MOST_NAME) if words else rect.width()
        name = metrics.elidedText(name, _ELIDE, room)
        painter.setPen(self.colors.color(Role.INK))
        painter.drawText(rect, _LEFT, name)
        if words:
            rect.adjust(metrics.horizontalAdvance(name) + _GAP, 0, 0, 0)
            painter.setPen(self.colors.color(Role.MUTED))
            painter.drawText(rect, _LEFT, metrics.elidedText(words, _ELIDE, rect.width()))
        painter.restore()
