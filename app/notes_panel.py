"""The panel of the recipe's notes."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QPlainTextEdit, QVBoxLayout, QWidget

from app.document import Document
from core.recipe import Recipe

_sessions = count()


class NotesPanel(QWidget):
    """Edits the notes; what is typed in one visit is one undo step."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self.edit = _NotesEdit()
        self.edit.setAccessibleName(self.tr("Notes"))
        self.edit.setPlaceholderText(
            self.tr("Notes: how it went on, what the kiln did, what to try next.")
        )
        # The document's stack undoes; the editor's own would know half the story.
        self.edit.setUndoRedoEnabled(False)
        self.edit.setTabChangesFocus(True)
        self.edit.setMinimumHeight(60)
        self.edit.textChanged.connect(self._on_text_changed)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.addWidget(self.edit)
        document.recipe_changed.connect(self._on_recipe_changed)
        self._on_recipe_changed(document.recipe)

    def _on_text_changed(self) -> None:
        recipe = self._document.recipe
        text = self.edit.toPlainText()
        if text != recipe.notes:
            self._document.edit(
                self.tr("Notes"), replace(recipe, notes=text), ("notes", self.edit.session)
            )

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        if self.edit.toPlainText() != recipe.notes:
            self.edit.setPlainText(recipe.notes)


class _NotesEdit(QPlainTextEdit):
    """Counts the visits of the cursor."""

    def __init__(self) -> None:
        super().__init__()
        self.session = next(_sessions)

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.session = next(_sessions)
        super().focusInEvent(event)
