"""The table of a schedule: every finished figure counts as it is typed, Esc takes it back."""

from __future__ import annotations

from itertools import count

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from app.document import Document
from app.segment_model import Column, Index, SegmentModel
from app.theme import apply_tabular_figures

ROW_HEIGHT = 28
_sessions = count()


class SegmentTable(QTableView):
    """Rates, targets and holds."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.segments = SegmentModel(document, self)
        self.setModel(self.segments)
        self.setItemDelegate(_FigureDelegate(document, self))
        self.setFont(apply_tabular_figures(self.font()))
        self.setShowGrid(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setAccessibleName(self.tr("Segments of the firing"))
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_HEIGHT)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(20)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(Column.NUMBER, QHeaderView.ResizeMode.Fixed)
        self.setColumnWidth(Column.NUMBER, 28)
        self.segments.rows_about_to_change.connect(self._close_editor)
        self.segments.modelReset.connect(self._on_reset)
        self._row = 0
        self.selectionModel().currentChanged.connect(self._on_current_changed)

    def sizeHint(self) -> QSize:
        return QSize(320, 6 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 2 * ROW_HEIGHT + self.horizontalHeader().sizeHint().height() + 4)

    def row(self) -> int:
        """Return the row of the cursor; the last one seen when there is none."""
        index = self.currentIndex()
        return index.row() if index.isValid() else self._row

    def go_to(self, row: int, column: Column = Column.TARGET) -> None:
        """Put the cursor on a cell."""
        self.setCurrentIndex(self.segments.index(row, column))

    def add(self) -> None:
        """Add a segment behind the cursor and go to it."""
        place = self.segments.add_after(self.row())
        if place is not None:
            self.go_to(place)

    def remove(self) -> None:
        """Take out the segment under the cursor."""
        row = self.row()
        if self.segments.remove(row):
            self.go_to(min(row, self.segments.rowCount() - 1))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        editing = self.state() == QAbstractItemView.State.EditingState
        if not editing and event.key() == Qt.Key.Key_Insert:
            self.add()
        elif not editing and event.key() == Qt.Key.Key_Delete:
            self.remove()
        else:
            super().keyPressEvent(event)

    def _on_current_changed(self, now: Index, _before: Index) -> None:
        if now.isValid():
            self._row = now.row()

    def _on_reset(self) -> None:
        rows = self.segments.rowCount()
        if rows and self.hasFocus():
            self.go_to(min(self._row, rows - 1))

    def _close_editor(self) -> None:
        editor = self.findChild(FigureEdit)
        if editor is not None:
            editor.setModified(False)
            self.closeEditor(editor, QStyledItemDelegate.EndEditHint.NoHint)


class FigureEdit(QLineEdit):
    """A line for one figure; all that is typed while it is open is one undo step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = ("segment", next(_sessions))
        self.setFrame(False)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setMaxLength(40)


class _FigureDelegate(QStyledItemDelegate):
    """Every text that makes a schedule counts at once; any other leaves the old one standing."""

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        editor = FigureEdit(parent)
        model = index.model()
        assert isinstance(model, SegmentModel)
        row, column = index.row(), Column(index.column())
        editor.setAccessibleName(str(model.headerData(column, Qt.Orientation.Horizontal)))

        def typed(text: str) -> None:
            if not model.set_text(row, column, text, editor.session):
                self._document.cancel(editor.session)

        editor.textEdited.connect(typed)
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, FigureEdit) and not editor.isModified():
            editor.setText(index.data(Qt.ItemDataRole.EditRole))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QObject, index: Index) -> None:
        """Every key has counted already."""

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if (
            isinstance(editor, FigureEdit)
            and event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Escape
        ):
            self._document.cancel(editor.session)
            editor.setModified(False)
        return super().eventFilter(editor, event)
