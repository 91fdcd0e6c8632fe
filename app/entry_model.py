"""Lines of text that are typed into a table, each with the record that it was shown from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from app.log_draft import Line
from app.theme import LIGHT, Palette, Role

Index = QModelIndex | QPersistentModelIndex
FAULT_SIGN = "✕"
_NOWHERE = QModelIndex()


@dataclass(frozen=True, slots=True)
class EntryColumn:
    """A column: its header, and what a screen reader calls its editor."""

    title: str
    name: str
    tip: str = ""
    is_figure: bool = False
    may_choose: bool = False
    """The editor offers what `EntryModel.offer` was given; anything else may be typed."""


class EntryModel(QAbstractTableModel):
    """Holds the texts as typed; what is wrong with one is shown in its cell."""

    def __init__(self, columns: Sequence[EntryColumn], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self._lines: list[Line] = []
        self._faults: dict[tuple[int, int], str] = {}
        self._offered: dict[int, tuple[str, ...]] = {}
        self._colors: Palette = LIGHT

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines, empty ones among them."""
        return tuple(self._lines)

    def offer(self, column: int, choices: Iterable[str]) -> None:
        """Take what the editors of a column offer from now on."""
        self._offered[column] = tuple(choices)

    def offered(self, column: int) -> tuple[str, ...]:
        """Return what the editors of a column offer."""
        return self._offered.get(column, ())

    def show_lines(self, lines: Iterable[Line]) -> None:
        """Show other lines."""
        self.beginResetModel()
        self._lines, self._faults = list(lines), {}
        self.endResetModel()

    def show_faults(self, faults: Mapping[tuple[int, int], str]) -> None:
        """Show what is wrong, by row and column."""
        if faults == self._faults:
            return
        changed = set(faults) ^ set(self._faults)
        self._faults = dict(faults)
        for row, column in changed:
            if row < len(self._lines):
                index = self.index(row, column)
                self.dataChanged.emit(index, index, [Qt.ItemDataRole.DisplayRole])

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette

    def add_line(self, row: int) -> None:
        """Put an empty line before `row`."""
        self.beginInsertRows(QModelIndex(), row, row)
        self._lines.insert(row, Line(("",) * len(self.columns)))
        self.endInsertRows()

    def remove_line(self, row: int) -> None:
        """Take a line out."""
        self.beginRemoveRows(QModelIndex(), row, row)
        del self._lines[row]
        self.endRemoveRows()

    def rowCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._lines)

    def columnCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self.columns)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        return super().flags(index) | Qt.ItemFlag.ItemIsEditable

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if orientation != Qt.Orientation.Horizontal:
            return None
        column = self.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.title
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.tip or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._alignment(section)
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid():
            return None
        text = self._lines[index.row()].texts[index.column()]
        fault = self._faults.get((index.row(), index.column()), "")
        if role == Qt.ItemDataRole.EditRole:
            return text
        if role == Qt.ItemDataRole.DisplayRole:
            return f"{FAULT_SIGN} {text}" if fault else text
        if role == Qt.ItemDataRole.ForegroundRole and fault:
            return self._colors.color(Role.STOP)
        if role == Qt.ItemDataRole.ToolTipRole:
            return fault or None
        if role == Qt.ItemDataRole.AccessibleDescriptionRole:
            return fault or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._alignment(index.column())
        return None

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        line = self._lines[index.row()]
        texts = list(line.texts)
        if texts[index.column()] == str(value):
            return True
        texts[index.column()] = str(value)
        self._lines[index.row()] = replace(line, texts=tuple(texts))
        self.dataChanged.emit(index, index, [role])
        return True

    def _alignment(self, column: int) -> Qt.AlignmentFlag:
        side = Qt.AlignmentFlag.AlignLeft
        if self.columns[column].is_figure:
            side = Qt.AlignmentFlag.AlignRight
        return side | Qt.AlignmentFlag.AlignVCenter
