"""A table of figures before and after, whose lines may carry a tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QMouseEvent, QPalette
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from app import formatting
from app.cell_copy import copy_as_cell
from app.theme import LIGHT, Palette, Role, apply_tabular_figures

ROW_HEIGHT = 28


class Column(IntEnum):
    """Columns of the table."""

    NAME = 0
    BEFORE = 1
    AFTER = 2
    CHANGE = 3


@dataclass(frozen=True, slots=True)
class Line:
    """One line: a name and its figures, of which either may be missing."""

    key: str
    name: str
    before: float | None
    after: float | None
    ticked: bool | None = None
    """None where there is no tick."""
    why_not: str = ""
    """Why the tick cannot be turned; empty where it can."""
    bold: bool = False
    compared: bool = True
    """Whether there is an after at all; a row may also be there before or after alone."""


class BeforeAfterTable(QTableWidget):
    """Shows lines; a click on a name, or Space, turns its tick."""

    turned = Signal(str, bool)
    """Key of the line and whether it is ticked now."""

    def __init__(
        self, name: str, header: Sequence[str], places: int, parent: QWidget | None = None
    ) -> None:
        super().__init__(0, len(Column), parent)
        copy_as_cell(self)
        self._places = places
        self._lines: tuple[Line, ...] = ()
        self._ticks = _TickDelegate(self)
        self.setItemDelegateForColumn(Column.NAME, self._ticks)
        self.setHorizontalHeaderLabels(list(header))
        self.setFont(apply_tabular_figures(self.font()))
        self.setShowGrid(False)
        self.setAccessibleName(name)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        header_view = self.horizontalHeader()
        header_view.setHighlightSections(False)
        header_view.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header_view.setSectionResizeMode(Column.NAME, QHeaderView.ResizeMode.Stretch)
        widest = QFont(self.font())
        widest.setBold(True)
        width = QFontMetrics(widest).horizontalAdvance(f"−{100:.{places}f}") + 12
        for column in (Column.BEFORE, Column.AFTER, Column.CHANGE):
            self.setColumnWidth(column, width)
            self.horizontalHeaderItem(column).setTextAlignment(
                Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            )
        self.horizontalHeaderItem(Column.NAME).setTextAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )

    @property
    def lines(self) -> tuple[Line, ...]:
        """What is shown."""
        return self._lines

    def show_lines(self, lines: Sequence[Line]) -> None:
        """Show these lines; the cursor stays on its line."""
        held = self._lines[self.currentRow()].key if self.currentRow() >= 0 else None
        self._lines = tuple(lines)
        self.setRowCount(len(lines))
        for row, line in enumerate(lines):
            self._fill(row, line)
        keys = [line.key for line in lines]
        if held in keys and keys.index(held) != self.currentRow():
            self.setCurrentCell(keys.index(held), Column.NAME)

    def show_names_alone(self) -> None:
        """Leave out header and figures: a list of names to tick."""
        self.horizontalHeader().hide()
        for column in (Column.BEFORE, Column.AFTER, Column.CHANGE):
            self.setColumnHidden(column, True)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._ticks.colors = palette
        self.viewport().update()

    def turn(self, row: int) -> None:
        """Turn the tick of a line, where it has one that can be turned."""
        line = self._lines[row]
        if line.ticked is not None and not line.why_not:
            self.turned.emit(line.key, not line.ticked)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 3 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Select) and self.currentRow() >= 0:
            self.turn(self.currentRow())
            return
        super().keyPressEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        index = self.indexAt(event.position().toPoint())
        left = event.button() == Qt.MouseButton.LeftButton
        if left and index.isValid() and index.column() == Column.NAME:
            self.turn(index.row())

    def _fill(self, row: int, line: Line) -> None:
        change = (line.after or 0.0) - (line.before or 0.0)
        changed = line.compared and abs(change) >= 0.5 * 10**-self._places
        sign = "+" if change > 0 else "−"
        texts = (
            line.name,
            formatting.decimals(line.before, self._places),
            formatting.decimals(line.after, self._places),
            f"{sign}{abs(change):.{self._places}f}" if changed else "",
        )
        for column, text in zip(Column, texts, strict=True):
            item = self.item(row, column) or QTableWidgetItem()
            item.setText(text)
            font = self.font()
            font.setBold(line.bold)
            item.setFont(font)
            if column is Column.NAME:
                state = Qt.CheckState.Checked if line.ticked else Qt.CheckState.Unchecked
                item.setData(Qt.ItemDataRole.CheckStateRole, None if line.ticked is None else state)
                item.setToolTip(f"{line.name}: {line.why_not}" if line.why_not else line.name)
                item.setData(Qt.ItemDataRole.AccessibleDescriptionRole, line.why_not)
            else:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
            if self.item(row, column) is None:
                self.setItem(row, column, item)

    def why_not(self, row: int) -> str:
        """Return why the tick of a line cannot be turned."""
        return self._lines[row].why_not


class _TickDelegate(QStyledItemDelegate):
    """Draws a tick box that is seen on any ground, pale where it cannot be turned."""

    colors: Palette = LIGHT

    def initStyleOption(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().initStyleOption(option, index)
        # Fusion draws the box in a shade of the window's colour, too faint on a dark ground.
        palette = QPalette(option.palette)
        palette.setColor(QPalette.ColorRole.Window, self.colors.color(Role.MUTED))
        table = self.parent()
        if isinstance(table, BeforeAfterTable) and table.why_not(index.row()):
            palette.setColor(QPalette.ColorRole.Text, self.colors.color(Role.MUTED))
        option.palette = palette
