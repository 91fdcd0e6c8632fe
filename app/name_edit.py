"""The line for the recipe's name: it counts as it is typed, Esc takes it back."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from PySide6.QtCore import Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from app.document import UNNAMED, Document
from core.recipe import Recipe
from core.schema import LONGEST_NAME

_sessions = count()


class NameEdit(QLineEdit):
    """Renames the recipe; what is typed in one visit is one undo step."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._session = ("name", next(_sessions))
        self.setMaxLength(LONGEST_NAME)
        self.setPlaceholderText(self.tr("name of the recipe"))
        self.setAccessibleName(self.tr("Name of the recipe"))
        self.textEdited.connect(self._on_typed)
        self.editingFinished.connect(self._tidy)
        document.recipe_changed.connect(self._on_recipe_changed)
        self._on_recipe_changed(document.recipe)

    def focusInEvent(self, event: QFocusEvent) -> None:
        self._session = ("name", next(_sessions))
        super().focusInEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._document.cancel(self._session)
            self._tidy()
        else:
            super().keyPressEvent(event)

    def _on_typed(self, text: str) -> None:
        name = " ".join(text.split())
        if name:
            renamed = replace(self._document.recipe, name=name)
            self._document.edit(self.tr("Rename to {}").format(name), renamed, self._session)

    def _tidy(self) -> None:
        """Show the name as it is kept; an empty one was not taken."""
        if self.text() != self._document.recipe.name:
            self.setText(self._document.recipe.name)

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        # While somebody types, blanks at the end may become part of the name.
        if " ".join(self.text().split()) != recipe.name:
            self.setText(recipe.name)
        if recipe.name == UNNAMED and not recipe.base:
            self.selectAll()
