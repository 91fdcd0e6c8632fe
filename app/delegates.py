"""Editors of the recipe table: an amount that counts as it is typed, and a material picker."""

from __future__ import annotations

from itertools import count

from PySide6.QtCore import QEvent, QObject, QStringListModel, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCompleter,
    QLineEdit,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app.document import Document
from app.icons import icon_pixmap
from app.recipe_model import LOCKED_ROLE, MISSING_ROLE, SHARE_ROLE, Index, RecipeModel
from app.theme import Role, Theme
from core.errors import InputError
from core.numbers import is_unfinished, read_amount
from core.recipe import Section

_sessions = count()


class AmountDelegate(QStyledItemDelegate):
    """Edits an amount: every finished number counts at once, Esc takes it back.

    What is no amount counts as not typed at all: the row has its old amount
    until the text makes sense again.
    """

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        editor = AmountEdit(parent)
        model, row = index.model(), index.row()
        assert isinstance(model, RecipeModel)

        def typed(text: str) -> None:
            if not is_unfinished(text) and not model.set_amount_text(row, text, editor.session):
                self._document.cancel(editor.session)

        editor.textEdited.connect(typed)
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        # The model changes with every key; the text under the cursor is the newer one.
        if isinstance(editor, AmountEdit) and not editor.isModified():
            editor.setText(index.data(Qt.ItemDataRole.EditRole))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QObject, index: Index) -> None:
        assert isinstance(editor, AmountEdit)
        assert isinstance(model, RecipeModel)
        if editor.isModified() and not model.set_amount_text(
            index.row(), editor.text(), editor.session
        ):
            self._document.cancel(editor.session)

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if isinstance(editor, AmountEdit) and event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            if event.key() == Qt.Key.Key_Escape:
                self._document.cancel(editor.session)
                editor.setModified(False)
            entered = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
            if entered and editor.isModified() and not _is_amount(editor.text()):
                # Stay until the text is an amount, and say again why it is none.
                editor.textEdited.emit(editor.text())
                editor.selectAll()
                return True
        return super().eventFilter(editor, event)


class AmountEdit(QLineEdit):
    """A line for one amount; all that is typed while it is open is one undo step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = ("amount", next(_sessions))
        self.setFrame(False)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setMaxLength(40)
        self.setAccessibleName(self.tr("parts"))


def _is_amount(text: str) -> bool:
    try:
        read_amount(text)
    except InputError:
        return False
    return True


class MaterialDelegate(QStyledItemDelegate):
    """Picks a material by typing any part of its names."""

    def __init__(self, document: Document, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._theme = theme

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        editor = MaterialEdit(self._document, parent)
        editor.picked.connect(lambda: self._finish(editor))
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, MaterialEdit) and not editor.isModified():
            editor.show_material(index.data(Qt.ItemDataRole.EditRole) or "")

    def setModelData(self, editor: QWidget, model: QObject, index: Index) -> None:
        assert isinstance(editor, MaterialEdit)
        assert isinstance(model, RecipeModel)
        chosen = editor.material_id()
        if chosen:
            model.setData(index, chosen)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        super().paint(painter, option, index)
        if index.data(MISSING_ROLE):
            pixmap = icon_pixmap(
                "warning", self._theme.palette, 16, Role.STOP, painter.device().devicePixelRatio()
            )
            rect = option.rect  # type: ignore[attr-defined]
            painter.drawPixmap(rect.right() - 20, rect.center().y() - 8, pixmap)

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        model = index.model()
        if isinstance(model, RecipeModel) and model.is_new_line(index.row()):
            palette = option.palette  # type: ignore[attr-defined]
            muted = self._theme.palette.color(Role.MUTED)
            palette.setColor(palette.ColorRole.Text, muted)
            palette.setColor(palette.ColorRole.HighlightedText, muted)
            option.palette = palette  # type: ignore[attr-defined]

    def _finish(self, editor: MaterialEdit) -> None:
        # The list of names can outlive the editor by an event.
        if not editor.isVisible():
            return
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)


class MaterialEdit(QLineEdit):
    """A line that lists the materials whose names hold what is typed."""

    picked = Signal()

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._table = document.studio.materials
        self._ids: dict[str, str] = {}
        self._shown_id = ""
        self.setFrame(False)
        self.setMaxLength(80)
        self.setAccessibleName(self.tr("material"))
        self.setPlaceholderText(self.tr("type a name, such as spar or chalk"))
        self._names = QStringListModel(self)
        completer = QCompleter(self._names, self)
        completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        completer.setMaxVisibleItems(12)
        self.setCompleter(completer)
        popup = completer.popup()
        popup.setMinimumWidth(300)
        popup.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        completer.activated.connect(self._on_activated)
        self.textEdited.connect(self._list)
        self._list("")

    def show_material(self, material_id: str) -> None:
        """Begin with the material of the row."""
        self._shown_id = material_id
        material = self._table.get(material_id)
        self.setText(material.name if material is not None else material_id)
        self.selectAll()

    def material_id(self) -> str:
        """Return the material that is meant, or empty when nothing was typed."""
        text = self.text().strip()
        if not self.isModified():
            return self._shown_id
        if text in self._ids:
            return self._ids[text]
        found = self._table.find(text) if text else []
        if found:
            return found[0].id
        return text

    def _list(self, text: str) -> None:
        found = self._table.find(text)
        self._ids = {material.name: material.id for material in found}
        self._names.setStringList(list(self._ids))

    def _on_activated(self, name: str) -> None:
        self.setText(name)
        self.setModified(True)
        self.picked.emit()


class BarDelegate(QStyledItemDelegate):
    """Paints how much of a row there is as a thin bar."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        _paint_ground(painter, option)
        share = index.data(SHARE_ROLE)
        if share is None:
            return
        palette = self._theme.palette
        rect = option.rect.adjusted(4, 0, -6, 0)  # type: ignore[attr-defined]
        middle = rect.center().y()
        painter.save()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(palette.color(Role.EDGE, 0.25))
        painter.drawRect(rect.left(), middle - 1, rect.width(), 3)
        painter.setBrush(palette.color(Role.ACCENT if self._is_current(index) else Role.EDGE))
        width = round(rect.width() * share)
        painter.drawRect(rect.left(), middle - 3, width, 7)
        # The grip says that the bar can be taken hold of.
        painter.drawRect(rect.left() + width - 2, middle - 7, 4, 15)
        painter.restore()

    def _is_current(self, index: Index) -> bool:
        view = self.parent()
        return isinstance(view, QAbstractItemView) and view.currentIndex().row() == index.row()


class LockDelegate(QStyledItemDelegate):
    """Paints the lock of a row; a click or Space turns it."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        _paint_ground(painter, option)
        model = index.model()
        assert isinstance(model, RecipeModel)
        if model.section is not Section.BASE or model.is_new_line(index.row()):
            return
        locked = bool(index.data(LOCKED_ROLE))
        pixmap = icon_pixmap(
            "lock" if locked else "unlock",
            self._theme.palette,
            16,
            Role.INK if locked else Role.MUTED,
            painter.device().devicePixelRatio(),
        )
        centre = option.rect.center()  # type: ignore[attr-defined]
        if not locked:
            painter.setOpacity(0.45)
        painter.drawPixmap(centre.x() - 8, centre.y() - 8, pixmap)
        painter.setOpacity(1.0)

    def editorEvent(
        self, event: QEvent, model: QObject, option: QStyleOptionViewItem, index: Index
    ) -> bool:
        assert isinstance(model, RecipeModel)
        clicked = event.type() == QEvent.Type.MouseButtonRelease
        pressed = (
            event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Space
        )
        if (clicked or pressed) and index.flags() & Qt.ItemFlag.ItemIsUserCheckable:
            locked = bool(index.data(LOCKED_ROLE))
            state = Qt.CheckState.Unchecked if locked else Qt.CheckState.Checked
            return model.setData(index, state, Qt.ItemDataRole.CheckStateRole)
        return False


class FigureDelegate(QStyledItemDelegate):
    """Paints a column of figures that changes with every key press.

    The usual delegate asks the model seven questions for each cell; this one
    asks for the text alone.
    """

    def __init__(self, alignment: Qt.AlignmentFlag, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._alignment = alignment | Qt.AlignmentFlag.AlignVCenter

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        _paint_ground(painter, option)
        text = index.data()
        if text:
            painter.setPen(option.palette.text().color())  # type: ignore[attr-defined]
            rect = option.rect.adjusted(4, 0, -4, 0)  # type: ignore[attr-defined]
            painter.drawText(rect, self._alignment, text)


def _paint_ground(painter: QPainter, option: QStyleOptionViewItem) -> None:
    """Fill a cell that is all drawing as the style fills the others of its row."""
    if option.state & QStyle.StateFlag.State_Selected:  # type: ignore[attr-defined]
        palette = option.palette  # type: ignore[attr-defined]
        painter.fillRect(option.rect, palette.highlight())  # type: ignore[attr-defined]
