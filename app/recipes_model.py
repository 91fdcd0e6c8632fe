"""The recipes of a studio as Qt lists them, with what the find line met in each."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from app import formatting
from core.oxides import INDEX
from core.recipe_search import Field, ListedRecipe, RecipeEntry, RecipeSearch

PATH_ROLE: Final = Qt.ItemDataRole.UserRole + 1
MATCH_ROLE: Final = Qt.ItemDataRole.UserRole + 2
FAULT_ROLE: Final = Qt.ItemDataRole.UserRole + 3
_NOWHERE = QModelIndex()


class RecipesModel(QAbstractListModel):
    """Holds the recipes that were found, in their order."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._search = RecipeSearch()
        self._text = ""
        self._found: list[ListedRecipe] = []
        self._said: dict[int, str] = {}

    @property
    def search(self) -> RecipeSearch:
        """The recipes among which is looked."""
        return self._search

    def show_found(self, search: RecipeSearch, text: str) -> None:
        """Show the recipes that hold the words of a text."""
        found = search.find(text)
        self._text = text
        if search is self._search and found == self._found:
            self._said.clear()
            if found:
                self.dataChanged.emit(self.index(0), self.index(len(found) - 1))
            return
        self.beginResetModel()
        self._search, self._found = search, found
        self._said.clear()
        self.endResetModel()

    def row_of(self, path: Path | None) -> int:
        """Return the row of a file, or -1."""
        return next((row for row, one in enumerate(self._found) if one.path == path), -1)

    def rowCount(self, parent: QModelIndex | QPersistentModelIndex = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._found)

    def data(
        self,
        index: QModelIndex | QPersistentModelIndex,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        if not index.isValid():
            return None
        recipe = self._found[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return recipe.name
        if role == PATH_ROLE:
            return recipe.path
        if role == FAULT_ROLE:
            return recipe.fault is not None
        if role == MATCH_ROLE:
            return self._match_words(index.row())
        if role == Qt.ItemDataRole.ToolTipRole:
            return self._tooltip(recipe, self._match_words(index.row()))
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return ", ".join(part for part in (recipe.name, self._match_words(index.row())) if part)
        return None

    def _match_words(self, row: int) -> str:
        words = self._said.get(row)
        if words is None:
            recipe = self._found[row]
            words = self._words(recipe) if recipe.fault is None else self.tr("cannot be read")
            self._said[row] = words
        return words

    def _words(self, recipe: ListedRecipe) -> str:
        patterns = {
            Field.MATERIAL: "{}",
            Field.VARIANT: self.tr("variant {}"),
            Field.NOTE: self.tr("note: {}"),
            Field.FILE: self.tr("file {}"),
        }
        found = self._search.matches(recipe, self._text)
        return " · ".join(patterns[match.field].format(match.text) for match in found)

    def _tooltip(self, recipe: ListedRecipe, match: str) -> str:
        if recipe.fault is not None:
            return str(recipe.fault)
        lines = [recipe.name, match, self._figures(recipe.entry), str(recipe.path)]
        return "\n".join(line for line in lines if line)

    def _figures(self, entry: RecipeEntry | None) -> str:
        if entry is None or entry.unity is None:
            return ""
        unity = dict(entry.unity)
        return self.tr("SiO₂ {}, Al₂O₃ {} in the unity formula").format(
            formatting.decimals(unity.get(INDEX["SiO2"], 0.0)),
            formatting.decimals(unity.get(INDEX["Al2O3"], 0.0)),
        )


def listed_by_files(paths: Sequence[Path]) -> RecipeSearch:
    """Return the recipes by the names of their files, before any is read."""
    return RecipeSearch(ListedRecipe(path) for path in paths)
