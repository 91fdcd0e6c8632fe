"""A small table to type into: keys add, change and remove its lines."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.entry_model import EntryModel, Index
from app.theme import LIGHT, Palette, Role, apply_tabular_figures

ROW_HEIGHT = 28
_BEGUN_WITH = "glost-begun-with"
_LONGEST = 80


class EntryTable(QTableView):
    """Shows an `EntryModel`. Ins adds a line, Del removes one, typing or Enter changes a cell."""

    edited = Signal()
    """A text was typed, or a line came or went."""
    left_cell = Signal()
    """The editor of a cell was closed."""

    def __init__(self, model: EntryModel, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        copy_as_cell(self)
        self.entries = model
        self._colors: Palette = LIGHT
        self.empty_words = ""
        """Said in place of lines while there are none."""
        self.setModel(model)
        self.setAccessibleName(name)
        self.setFont(apply_tabular_figures(self.font()))
        self.setItemDelegate(_EntryDelegate(self))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.SelectedClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(40)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        model.dataChanged.connect(self._on_data_changed)
        model.rowsInserted.connect(self.edited)
        model.rowsRemoved.connect(self.edited)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.entries.set_palette(palette)
        self.viewport().update()

    def add_line(self) -> None:
        """Put a line after the current one and begin typing in it."""
        index = self.currentIndex()
        row = index.row() + 1 if index.isValid() else self.entries.rowCount()
        self._leave_editor()
        self.entries.add_line(row)
        self.setFocus()
        self._begin(row, 0)

    def remove_line(self) -> None:
        """Take the current line out."""
        index = self.currentIndex()
        if not index.isValid():
            return
        row, column = index.row(), index.column()
        self._leave_editor()
        self.entries.remove_line(row)
        last = self.entries.rowCount() - 1
        if last >= 0:
            self.setCurrentIndex(self.entries.index(min(row, last), column))

    def go_to(self, row: int, column: int) -> None:
        """Put the cursor on a cell and the focus on the table."""
        self._leave_editor()
        self.setFocus()
        self.setCurrentIndex(self.entries.index(row, column))

    def cell_in_hand(self) -> tuple[int, int] | None:
        """Return row and column of the cell that is being typed in, if any."""
        index = self.currentIndex()
        if self.state() != QAbstractItemView.State.EditingState or not index.isValid():
            return None
        return index.row(), index.column()

    def sizeHint(self) -> QSize:
        return QSize(280, 5 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def minimumSizeHint(self) -> QSize:
        return QSize(180, 2 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == QAbstractItemView.State.EditingState:
            # Keys that an editor leaves over come here; they mean nothing for the lines.
            super().keyPressEvent(event)
            return
        key, index = event.key(), self.currentIndex()
        enter = key in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        with_control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if key == Qt.Key.Key_Insert or (enter and with_control):
            self.add_line()
        elif key == Qt.Key.Key_Delete:
            self.remove_line()
        elif key == Qt.Key.Key_Backspace and index.isValid():
            self.entries.setData(index, "")
        elif enter and index.isValid():
            self.edit(index)
        elif enter:
            self.add_line()
        else:
            super().keyPressEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        hints = QAbstractItemDelegate.EndEditHint
        steps = {hints.EditNextItem: 1, hints.EditPreviousItem: -1}
        index = self.currentIndex()
        if hint not in steps or not index.isValid():
            super().closeEditor(editor, hint)
            self.left_cell.emit()
            return
        # Tab goes from cell to cell; past the last one it asks for a further line, and on a
        # line that stayed empty it leads out of the editor instead of round in a circle.
        super().closeEditor(editor, hints.NoHint)
        self.left_cell.emit()
        across = self.entries.columnCount()
        place = index.row() * across + index.column() + steps[hint]
        if place < 0:
            return
        if place >= self.entries.rowCount() * across:
            if self.entries.lines[index.row()].is_empty:
                return
            self.entries.add_line(index.row() + 1)
        self._begin(*divmod(place, across))

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if not self.currentIndex().isValid() and self.entries.rowCount():
            self.setCurrentIndex(self.entries.index(0, 0))

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.entries.rowCount() or not self.empty_words:
            return
        painter = QPainter(self.viewport())
        painter.setPen(self._colors.color(Role.MUTED))
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        room = self.viewport().rect().adjusted(8, 4, -8, -4)
        painter.drawText(room, flags, self.empty_words)
        painter.end()

    def _begin(self, row: int, column: int) -> None:
        index = self.entries.index(row, column)
        self.setCurrentIndex(index)
        if self.isVisible():
            self.edit(index)

    def _leave_editor(self) -> None:
        """Close an open editor; what was typed in it has been taken key by key."""
        if self.state() == QAbstractItemView.State.EditingState:
            self.setFocus()

    def _on_data_changed(self, _first: Index, _last: Index, roles: list[int]) -> None:
        # A fault that comes or goes changes what is shown, not what was typed.
        if Qt.ItemDataRole.EditRole in roles:
            self.edited.emit()


class _EntryDelegate(QStyledItemDelegate):
    """Edits a cell: every key counts at once, Esc takes all of them back."""

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        model = index.model()
        assert isinstance(model, EntryModel)
        column = model.columns[index.column()]
        editor: QWidget
        if column.may_choose:
            box = QComboBox(parent)
            box.setEditable(True)
            box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
            # A completer would turn a typed 1 into 10.
            box.setCompleter(None)
            box.setMaxVisibleItems(12)
            box.addItems(list(model.offered(index.column())))
            box.lineEdit().setMaxLength(_LONGEST)
            box.setEditText(index.data(Qt.ItemDataRole.EditRole))
            # What is typed next takes its place, as in the other columns.
            box.lineEdit().selectAll()
            box.editTextChanged.connect(lambda: self.commitData.emit(box))
            editor = box
        else:
            line = QLineEdit(parent)
            line.setFrame(False)
            line.setMaxLength(_LONGEST)
            if column.is_figure:
                line.setAlignment(Qt.AlignmentFlag.AlignRight)
            line.textEdited.connect(lambda: self.commitData.emit(line))
            editor = line
        editor.setAccessibleName(column.name)
        editor.setProperty(_BEGUN_WITH, index.data(Qt.ItemDataRole.EditRole))
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        # The model changes with every key; setting the same text would move the cursor.
        text = index.data(Qt.ItemDataRole.EditRole)
        if isinstance(editor, QComboBox):
            if editor.currentText() != text:
                editor.setEditText(text)
        elif isinstance(editor, QLineEdit) and editor.text() != text:
            editor.setText(text)

    def setModelData(self, editor: QWidget, model: QObject, index: Index) -> None:
        assert isinstance(model, EntryModel)
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText())
        elif isinstance(editor, QLineEdit):
            model.setData(index, editor.text())

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            escaped = event.key() == Qt.Key.Key_Escape
            if escaped and isinstance(editor, QComboBox):
                editor.setEditText(editor.property(_BEGUN_WITH))
            elif escaped and isinstance(editor, QLineEdit):
                editor.setText(editor.property(_BEGUN_WITH))
                self.commitData.emit(editor)
        return super().eventFilter(editor, event)
