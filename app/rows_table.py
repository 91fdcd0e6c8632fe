"""The table of one section: keys, wheel and bar change the amounts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QSize, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QApplication,
    QHeaderView,
    QSizePolicy,
    QTableView,
    QWidget,
)

from app.bench_state import BenchState, SelectedRow
from app.delegates import (
    AmountDelegate,
    BarDelegate,
    FigureDelegate,
    LockDelegate,
    MaterialDelegate,
)
from app.document import Document
from app.recipe_model import BAR_FULL, Column, RecipeModel
from app.theme import Theme, apply_tabular_figures
from core.recipe import Section

ROW_HEIGHT = 28
_BAR_MARGIN = 4
_WHEEL_NOTCH = 120
_drags = count()


@dataclass(slots=True)
class _BarDrag:
    """A bar that the mouse holds."""

    row: int
    begin: float
    """Where the mouse took hold [px]."""
    amount: float
    """What the row had then."""
    moving: bool = False
    session: tuple[str, int] = field(default_factory=lambda: ("bar", next(_drags)))


class RowsTable(QTableView):
    """Rows of the base or the additions."""

    def __init__(
        self,
        document: Document,
        state: BenchState,
        theme: Theme,
        section: Section,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._state = state
        self.section = section
        self.rows_model = RecipeModel(document, state, section, self)
        self.setModel(self.rows_model)
        self._drag: _BarDrag | None = None
        self._wheel = 0
        self.neighbour: Callable[[int], None] | None = None
        """Called with -1 or +1 when the cursor leaves the table at its top or bottom."""
        self._set_look(theme)
        self.selectionModel().currentChanged.connect(self._on_current_changed)
        state.selection_changed.connect(self._on_selected_elsewhere)
        self.rows_model.rows_about_to_change.connect(self._close_editor)
        self.rows_model.rowsInserted.connect(self._on_rows_came)
        self.rows_model.rowsRemoved.connect(self._on_rows_went)

    def _set_look(self, theme: Theme) -> None:
        self.setFont(apply_tabular_figures(self.font()))
        self.setShowGrid(False)
        self.setAlternatingRowColors(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setMouseTracking(True)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        self.verticalHeader().setMinimumSectionSize(ROW_HEIGHT)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(24)
        header.setSectionResizeMode(Column.MATERIAL, QHeaderView.ResizeMode.Stretch)
        wide = self.fontMetrics().horizontalAdvance
        widths = {
            Column.LOCK: 28 if self.section is Section.BASE else 8,
            Column.PARTS: wide("1000.0" if self.section is Section.BASE else "% of base") + 14,
            Column.PERCENT: wide("100.0") + 12,
            Column.BAR: 72,
        }
        for column, width in widths.items():
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            self.setColumnWidth(column, width)
        if self.section is Section.ADDITIONS:
            self.setColumnHidden(Column.PERCENT, True)
        self.setItemDelegateForColumn(Column.LOCK, LockDelegate(theme, self))
        self.setItemDelegateForColumn(
            Column.MATERIAL, MaterialDelegate(self._document, theme, self)
        )
        self.setItemDelegateForColumn(Column.PARTS, AmountDelegate(self._document, self))
        percent = FigureDelegate(Qt.AlignmentFlag.AlignRight, self)
        self.setItemDelegateForColumn(Column.PERCENT, percent)
        self.setItemDelegateForColumn(Column.BAR, BarDelegate(theme, self))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        names = {Section.BASE: self.tr("Base"), Section.ADDITIONS: self.tr("Additions")}
        self.setAccessibleName(names[self.section])

    def sizeHint(self) -> QSize:
        rows = max(self.rows_model.rowCount(), 2)
        height = rows * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4
        return QSize(320, height)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 2 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def selected_rows(self) -> set[int]:
        """Return the numbers of the selected rows, without the line for a new one."""
        rows = {index.row() for index in self.selectionModel().selectedRows(Column.MATERIAL)}
        return {row for row in rows if not self.rows_model.is_new_line(row)}

    def go_to(self, row: int, column: Column = Column.PARTS) -> None:
        """Put the cursor on a row."""
        last = self.rows_model.rowCount() - 1
        row = min(max(row, 0), last)
        if self.rows_model.is_new_line(row):
            column = Column.MATERIAL
        self.selectionModel().setCurrentIndex(
            self.rows_model.index(row, column),
            QItemSelectionModel.SelectionFlag.ClearAndSelect
            | QItemSelectionModel.SelectionFlag.Rows,
        )

    def edit_new_line(self) -> None:
        """Open the picker on the line that waits for a new material."""
        self.setFocus()
        self.go_to(self.rows_model.rowCount() - 1)
        self.edit(self.currentIndex())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, index = event.key(), self.currentIndex()
        plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.KeypadModifier,
            Qt.KeyboardModifier.ShiftModifier,
        )
        last = self.rows_model.rowCount() - 1
        if event.text() in ("+", "-", "−") and plain:
            self.nudge(1 if event.text() == "+" else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain and index.isValid():
            if not self.edit(index, QAbstractItemView.EditTrigger.AllEditTriggers, event):
                self.go_to(index.row(), Column.PARTS)
        elif key == Qt.Key.Key_Up and plain and index.row() == 0 and self.neighbour:
            self.neighbour(-1)
        elif key == Qt.Key.Key_Down and plain and index.row() == last and self.neighbour:
            self.neighbour(1)
        elif key == Qt.Key.Key_Space and index.isValid() and index.column() != Column.LOCK:
            lock = self.rows_model.index(index.row(), Column.LOCK)
            self.edit(lock, QAbstractItemView.EditTrigger.AllEditTriggers, event)
        else:
            super().keyPressEvent(event)

    def edit(self, index: QModelIndex, trigger: object = None, event: object = None) -> bool:
        """Open an editor; a letter or digit typed anywhere in a row edits its amount."""
        if trigger is None:
            editing = self.state() == QAbstractItemView.State.EditingState
            editable = index.flags() & Qt.ItemFlag.ItemIsEditable
            if editing or not editable or not self.isVisible():
                return False
            super().edit(index)
            return True
        any_key = QAbstractItemView.EditTrigger.AnyKeyPressed
        if trigger == any_key and isinstance(event, QKeyEvent):
            typed = event.text()
            if not typed.isprintable() or not typed:
                return False
            new_line = self.rows_model.is_new_line(index.row())
            if not new_line and (typed.isdigit() or typed in ".,"):
                index = self.rows_model.index(index.row(), Column.PARTS)
                self.setCurrentIndex(index)
            elif not new_line and index.column() == Column.PARTS:
                return False
        return super().edit(index, trigger, event)

    def nudge(self, steps: int) -> None:
        """Nudge the current row."""
        index = self.currentIndex()
        if index.isValid():
            self.rows_model.nudge(index.row(), steps)

    def wheelEvent(self, event: QWheelEvent) -> None:
        index = self.indexAt(event.position().toPoint())
        on_current = index.isValid() and index.row() == self.currentIndex().row()
        amounts = (Column.PARTS, Column.PERCENT, Column.BAR)
        if not (self.hasFocus() and on_current and index.column() in amounts):
            super().wheelEvent(event)
            return
        # A fine wheel sends parts of a notch.
        self._wheel += event.angleDelta().y()
        notches = int(self._wheel / _WHEEL_NOTCH)
        self._wheel -= notches * _WHEEL_NOTCH
        if notches:
            self.rows_model.nudge(index.row(), notches)
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        super().mousePressEvent(event)
        index = self.indexAt(event.position().toPoint())
        if event.button() == Qt.MouseButton.LeftButton and self._has_bar(index):
            amount = self._document.recipe.rows(self.section)[index.row()].amount
            self._drag = _BarDrag(index.row(), event.position().x(), amount)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._drag is not None:
            self._drag_to(self._drag, event.position().x())
            return
        on_bar = self._has_bar(self.indexAt(event.position().toPoint()))
        self.viewport().setCursor(
            Qt.CursorShape.SplitHCursor if on_bar else Qt.CursorShape.ArrowCursor
        )
        super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._drag = None
        super().mouseReleaseEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        hints = QAbstractItemDelegate.EndEditHint
        steps = {hints.EditNextItem: 1, hints.EditPreviousItem: -1}
        if hint not in steps:
            super().closeEditor(editor, hint)
            return
        # Tab goes from amount to amount; the cells between cannot be edited.
        super().closeEditor(editor, hints.NoHint)
        self.go_to(self.currentIndex().row() + steps[hint])
        self.edit(self.currentIndex())

    def _has_bar(self, index: QModelIndex) -> bool:
        return (
            index.isValid()
            and index.column() == Column.BAR
            and not self.rows_model.is_new_line(index.row())
        )

    def _drag_to(self, drag: _BarDrag, x: float) -> None:
        """Change the amount by as many steps as the mouse has moved; a click changes nothing."""
        if not drag.moving and abs(x - drag.begin) < QApplication.startDragDistance():
            return
        drag.moving = True
        per_pixel = BAR_FULL[self.section] / (self.columnWidth(Column.BAR) - 2 * _BAR_MARGIN - 2)
        step = self._state.step
        steps = round((x - drag.begin) * per_pixel / step)
        amount = max(round(drag.amount + steps * step, 9), 0.0)
        self.rows_model.set_amount(drag.row, amount, drag.session)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if not self.currentIndex().isValid():
            self.go_to(0)
        self._on_current_changed(self.currentIndex())

    def _on_current_changed(self, current: QModelIndex, _before: QModelIndex | None = None) -> None:
        self.viewport().update()
        if current.isValid() and not self.rows_model.is_new_line(current.row()):
            self._state.select(SelectedRow(self.section, current.row()))
        elif self._state.selected and self._state.selected.section is self.section:
            self._state.select(None)

    def _on_selected_elsewhere(self, selected: SelectedRow | None) -> None:
        if selected is not None and selected.section is not self.section:
            # One row of the whole recipe is the chosen one.
            self.selectionModel().clear()
            self.viewport().update()
        elif selected is not None and self.currentIndex().row() != selected.row:
            self.go_to(selected.row)

    def _close_editor(self) -> None:
        """Close an open editor; what counts of it has been taken as it was typed."""
        if self.state() == QAbstractItemView.State.EditingState:
            self.setFocus()

    def _on_rows_came(self, _parent: QModelIndex, first: int, _last: int) -> None:
        self.updateGeometry()
        # A row that was just added here wants its amount next.
        focus = QApplication.focusWidget()
        if focus is None or not (focus is self or self.isAncestorOf(focus)):
            return
        self.go_to(first)

    def _on_rows_went(self, _parent: QModelIndex, first: int, _last: int) -> None:
        self.updateGeometry()
        if not self.hasFocus():
            self._on_current_changed(self.currentIndex())
