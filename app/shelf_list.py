"""The materials that a recipe may be made from, each with a tick."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPalette
from PySide6.QtWidgets import QListView, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from app.cell_copy import copy_as_cell
from app.formatting import oxide_text
from app.theme import LIGHT, Palette, Role
from core.cautions import cautions_for
from core.materials import Material, MaterialTable

Index = QModelIndex | QPersistentModelIndex
_ROW_HEIGHT = 28
_NOWHERE = QModelIndex()
_SHOWN_PERCENT = 1.0


class ShelfModel(QAbstractListModel):
    """The recipe's own materials, then the studio's, then the rest of the table if asked."""

    ticked_changed = Signal()

    def __init__(
        self,
        own: Sequence[Material],
        table: MaterialTable,
        ticked: Iterable[str],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._own = tuple(own)
        self._rest = tuple(m for m in table if m.id not in {o.id for o in own})
        self._search = MaterialTable([*self._own, *self._rest])
        self._ticked = set(ticked)
        self._all = False
        self._words = ""
        self._shown: list[Material] = self._wanted()

    @property
    def ticked(self) -> tuple[str, ...]:
        """Ids of what may be taken, the recipe's own first."""
        return tuple(m.id for m in (*self._own, *self._rest) if m.id in self._ticked)

    @property
    def shown(self) -> tuple[str, ...]:
        """Ids in the order of the list."""
        return tuple(m.id for m in self._shown)

    def show_all(self, everything: bool) -> None:
        """List the whole table, or what is at hand and what is ticked."""
        self._all = everything
        self._list()

    def find(self, words: str) -> None:
        """List what the words find in the whole table; no words list everything as before."""
        self._words = words
        self._list()

    def tick(self, ids: Iterable[str], on: bool = True) -> None:
        """Tick some, or take their ticks away."""
        ids = set(ids)
        changed = ids - self._ticked if on else ids & self._ticked
        if not changed:
            return
        self._ticked ^= changed
        for row, material in enumerate(self._shown):
            if material.id in changed:
                index = self.index(row)
                self.dataChanged.emit(index, index, [Qt.ItemDataRole.CheckStateRole])
        if on and not changed <= {m.id for m in self._shown}:
            self._list()
        self.ticked_changed.emit()

    def turn(self, row: int) -> None:
        """Tick a row that is not, and the other way round."""
        material_id = self._shown[row].id
        self.tick([material_id], material_id not in self._ticked)

    def rowCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._shown)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        return (
            Qt.ItemFlag.ItemIsEnabled
            | Qt.ItemFlag.ItemIsSelectable
            | Qt.ItemFlag.ItemIsUserCheckable
            | Qt.ItemFlag.ItemNeverHasChildren
        )

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid():
            return None
        material = self._shown[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return material.name
        if role == Qt.ItemDataRole.CheckStateRole:
            on = material.id in self._ticked
            return Qt.CheckState.Checked if on else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.ToolTipRole:
            return "\n".join([_analysis(material), *(text for text, _ in cautions_for([material]))])
        if role == Qt.ItemDataRole.AccessibleDescriptionRole:
            return _analysis(material)
        if role == Qt.ItemDataRole.SizeHintRole:
            return QSize(120, _ROW_HEIGHT)
        return None

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.CheckStateRole or not index.isValid():
            return False
        on = Qt.CheckState(value) == Qt.CheckState.Checked
        self.tick([self._shown[index.row()].id], on)
        return True

    def _wanted(self) -> list[Material]:
        if self._words.strip():
            return self._search.find(self._words)
        rest = [m for m in self._rest if self._all or m.id in self._ticked]
        return [*self._own, *rest]

    def _list(self) -> None:
        wanted = self._wanted()
        if wanted != self._shown:
            self.beginResetModel()
            self._shown = wanted
            self.endResetModel()


class ShelfList(QListView):
    """Shows a `ShelfModel`; a click anywhere on a line, or Space, turns its tick."""

    def __init__(self, model: ShelfModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        copy_as_cell(self)
        self.shelf = model
        self.setModel(model)
        self._ticks = _TickDelegate(self)
        self.setItemDelegate(self._ticks)
        self.setUniformItemSizes(True)
        self.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(self.tr("Materials to choose from; Space ticks one"))

    def minimumSizeHint(self) -> QSize:
        return QSize(160, 4 * _ROW_HEIGHT)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._ticks.colors = palette
        self.viewport().update()


class _TickDelegate(QStyledItemDelegate):
    """Makes the whole line the target of a tick."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.colors: Palette = LIGHT

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        # Fusion draws the box in a shade of the window's colour, too faint on a dark ground.
        palette = QPalette(option.palette)
        palette.setColor(QPalette.ColorRole.Window, self.colors.color(Role.MUTED))
        option.palette = palette

    def editorEvent(
        self, event: QEvent, model: QObject, option: QStyleOptionViewItem, index: Index
    ) -> bool:
        assert isinstance(model, ShelfModel)
        clicked = (
            event.type() == QEvent.Type.MouseButtonRelease
            and isinstance(event, QMouseEvent)
            and event.button() == Qt.MouseButton.LeftButton
        )
        pressed = (
            event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Select)
        )
        if clicked or pressed:
            model.turn(index.row())
            return True
        return False


def _analysis(material: Material) -> str:
    """Say in one line what a material brings."""
    figures = [
        f"{oxide_text(oxide)} {percent:.1f} %"
        for oxide, percent in material.analysis.percent
        if percent >= _SHOWN_PERCENT
    ]
    return f"{material.name}: {', '.join(figures)}"
