"""The table in which a unity formula is asked for: every key counts, Esc takes them back."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from app.goal_model import Column, GoalModel, Index
from app.theme import apply_tabular_figures

_ROW_HEIGHT = 28
_LONGEST = 40


class GoalTable(QTableView):
    """Shows a `GoalModel`; the cursor stays in the column that can be typed into."""

    edited = Signal()
    """What is wanted has changed."""

    def __init__(self, model: GoalModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.goals = model
        self.setModel(model)
        self.setAccessibleName(self.tr("Unity formula: now, wanted and got"))
        self.setFont(apply_tabular_figures(self.font()))
        self.setItemDelegate(_WantedDelegate(self))
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.SelectedClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(_ROW_HEIGHT)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(40)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        model.dataChanged.connect(self._on_data_changed)
        self.selectionModel().currentChanged.connect(self._on_current_changed)

    def sizeHint(self) -> QSize:
        return QSize(360, 9 * _ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def minimumSizeHint(self) -> QSize:
        return QSize(340, 4 * _ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def go_to(self, oxide: str) -> None:
        """Put the cursor on an oxide and the focus on the table."""
        if oxide in self.goals.oxides:
            self.setFocus()
            self.setCurrentIndex(self.goals.index(self.goals.oxides.index(oxide), Column.WANTED))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        editing = self.state() == QAbstractItemView.State.EditingState
        key, index = event.key(), self.currentIndex()
        if editing or not index.isValid():
            super().keyPressEvent(event)
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.goals.setData(index, "")
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.edit(index)
        else:
            super().keyPressEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        hints = QAbstractItemDelegate.EndEditHint
        steps = {hints.EditNextItem: 1, hints.EditPreviousItem: -1, hints.SubmitModelCache: 1}
        row = self.currentIndex().row()
        super().closeEditor(editor, hints.NoHint)
        if hint not in steps:
            return
        # Tab and Enter go down the column; behind its last line Tab finds the next field.
        row += steps[hint]
        if 0 <= row < self.goals.rowCount():
            self.setCurrentIndex(self.goals.index(row, Column.WANTED))
            if hint != hints.SubmitModelCache:
                self.edit(self.currentIndex())

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if not self.currentIndex().isValid() and self.goals.rowCount():
            self.setCurrentIndex(self.goals.index(0, Column.WANTED))

    def _on_current_changed(self, now: Index, _before: Index) -> None:
        if now.isValid() and now.column() != Column.WANTED:
            self.setCurrentIndex(self.goals.index(now.row(), Column.WANTED))

    def _on_data_changed(self, _first: Index, _last: Index, roles: list[int]) -> None:
        if Qt.ItemDataRole.EditRole in roles:
            self.edited.emit()


class _WantedDelegate(QStyledItemDelegate):
    """Edits what is wanted of one oxide."""

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        line = _WantedEdit(index.data(Qt.ItemDataRole.EditRole) or "", parent)
        model = index.model()
        assert isinstance(model, GoalModel)
        line.setAccessibleName(self.tr("{} wanted").format(model.oxides[index.row()]))
        line.textEdited.connect(lambda: self.commitData.emit(line))
        return line

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        # The model changes with every key; setting the same text would move the cursor.
        assert isinstance(editor, QLineEdit)
        text = index.data(Qt.ItemDataRole.EditRole) or ""
        if editor.text().strip() != text:
            editor.setText(text)

    def setModelData(self, editor: QWidget, model: QObject, index: Index) -> None:
        assert isinstance(editor, QLineEdit)
        assert isinstance(model, GoalModel)
        model.setData(index, editor.text())

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if (
            isinstance(editor, _WantedEdit)
            and event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Escape
        ):
            editor.setText(editor.begun_with)
            self.commitData.emit(editor)
        return super().eventFilter(editor, event)


class _WantedEdit(QLineEdit):
    """A line for one oxide, which remembers what it began with."""

    def __init__(self, text: str, parent: QWidget) -> None:
        super().__init__(text, parent)
        self.begun_with = text
        self.setFrame(False)
        self.setMaxLength(_LONGEST)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.selectAll()
