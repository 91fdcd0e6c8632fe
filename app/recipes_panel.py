"""The panel of the studio: its recipes, with a line to find one."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import platformdirs
from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPaintEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget

from app import problems
from app.cell_copy import copy_as_cell
from app.document import Document
from app.message_label import MessageLabel
from app.recipes_list import RecipesList
from app.recipes_model import PATH_ROLE, RecipesModel, listed_by_files
from app.theme import Palette, Role, Theme
from app.worker import run_in_background
from core.files.studio_index import Kept
from core.recipe_library import RecipeLibrary, open_recipes
from core.recipe_search import RecipeSearch
from core.studio import Studio

_AT_A_TIME: Final = 250
"""Recipes that are read before the list shows them; about half a second."""
_LONGEST_QUESTION: Final = 200


class RecipesPanel(QWidget):
    """Lists the recipe files of the studio and finds them by what they hold.

    The files are listed by their names at once; names, materials and notes follow from the
    studio's index in the background, when the panel is to be seen.
    """

    open_asked = Signal(Path)
    filled = Signal()
    """All recipes are listed with what they hold."""

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._folder: Path | None = None
        self._search = RecipeSearch()
        self._known: Mapping[str, Kept] | None = None
        self._stale = True
        self.cache_folder = Path(platformdirs.user_cache_dir("glost", appauthor=False))
        self.studio_label = QLabel()
        self.studio_label.setTextFormat(Qt.TextFormat.PlainText)
        self.studio_label.setWordWrap(True)
        self.find_edit = QLineEdit()
        self.find_edit.setPlaceholderText(self.tr("find by name, material, note or variant"))
        self.find_edit.setClearButtonEnabled(True)
        self.find_edit.setMaxLength(_LONGEST_QUESTION)
        self.find_edit.setAccessibleName(self.tr("Find a recipe of the studio"))
        self.find_edit.setToolTip(
            self.tr("Every word has to stand in the recipe; the last may be unfinished")
        )
        self.model = RecipesModel(self)
        self.list = RecipesList()
        copy_as_cell(self.list)
        self.list.setModel(self.model)
        self.list.setAccessibleName(self.tr("Recipes of the studio"))
        self.message = MessageLabel(self.tr("What became of the recipes"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.studio_label)
        layout.addWidget(self.find_edit)
        layout.addWidget(self.message)
        layout.addWidget(self.list, 1)
        self.find_edit.textChanged.connect(self._find)
        self.find_edit.returnPressed.connect(self._open_first)
        self.find_edit.installEventFilter(self)
        self.list.open_asked.connect(self.open_asked)
        self.list.left_upwards.connect(self.find_edit.setFocus)
        document.studio_changed.connect(self._on_studio_changed)
        document.path_changed.connect(self._on_path_changed)
        document.undo_stack.cleanChanged.connect(self._on_clean_changed)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self._on_studio_changed(document.studio)

    def refresh(self) -> None:
        """Read again what moved on; in the background, as soon as the panel is to be seen."""
        self._stale = self.visibleRegion().isEmpty()
        if self._stale:
            return
        studio, cache, known = self._document.studio, self.cache_folder, self._known
        run_in_background(
            self,
            lambda: open_recipes(studio, cache, _AT_A_TIME, known),
            lambda library: self._on_library(studio, library),
            self._on_library_failed,
        )

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if (
            watched is self.find_edit
            and isinstance(event, QKeyEvent)
            and event.type() == QEvent.Type.KeyPress
            and event.key() == Qt.Key.Key_Down
            and self.model.rowCount()
        ):
            self.list.setFocus()
            if not self.list.currentIndex().isValid():
                self.list.setCurrentIndex(self.model.index(0))
            return True
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:
        # A panel behind a tab counts as shown to Qt, but it is not painted.
        super().paintEvent(event)
        if self._stale:
            self.refresh()

    def _set_palette(self, palette: Palette) -> None:
        self.list.set_palette(palette)
        self.message.set_palette(palette)

    def _on_studio_changed(self, studio: Studio) -> None:
        if studio.folder is None:
            text = self.tr("No studio is open. Open a folder that has a studio.yaml.")
        else:
            text = f"{studio.name or studio.folder.name}. {studio.note}".strip()
        self.studio_label.setText(text)
        if studio.folder != self._folder:
            self._folder = studio.folder
            self._known = None
            self._show(listed_by_files(studio.recipe_paths()))
        self.refresh()

    def _on_path_changed(self, path: Path | None) -> None:
        if path is not None and not any(r.path == path for r in self._search.recipes):
            self.refresh()
        self._choose(path)

    def _on_clean_changed(self, clean: bool) -> None:
        if clean:  # saved, perhaps under another name or with another note
            self.refresh()

    def _on_library(self, studio: Studio, library: RecipeLibrary) -> None:
        if studio.folder != self._folder:  # another one was opened, and is read when it is seen
            return
        self._known = library.known
        self._show(library.search)
        if library.waiting:
            many = len(library.search)
            self.message.say(
                self.tr("Reading the recipes: {} of {}").format(many - library.waiting, many)
            )
            self.message.show()
            self.refresh()
        else:
            self.filled.emit()

    def _on_library_failed(self, fault: Exception) -> None:
        # The files are listed by their names and open as well.
        self.message.say(problems.words_of(fault), Role.STOP)
        self.message.show()

    def _show(self, search: RecipeSearch) -> None:
        """Look among other recipes; the chosen one stays chosen."""
        self._search = search
        kept = self.list.currentIndex().data(PATH_ROLE)
        self._list_found(self.find_edit.text())
        self._choose(kept or self._document.path)

    def _find(self, text: str) -> None:
        self._list_found(text)
        if text.strip() and self.model.rowCount():
            self.list.setCurrentIndex(self.model.index(0))  # Enter opens it
        else:
            self._choose(self._document.path)

    def _list_found(self, text: str) -> None:
        self.model.show_found(self._search, text)
        self.list.setEnabled(self.model.rowCount() > 0)
        self._say_empty(text)

    def _say_empty(self, text: str) -> None:
        words = ""
        if self._document.studio.folder is not None and not self.model.rowCount():
            if len(self._search):
                said = " ".join(text.split())
                words = self.tr("No recipe of this studio holds “{}”.").format(said)
            else:
                words = self.tr("No recipes yet. What is saved in this studio is listed here.")
        self.message.say(words)
        self.message.setVisible(bool(words))

    def _choose(self, path: Path | None) -> None:
        row = self.model.row_of(path)
        if row >= 0 and row != self.list.currentIndex().row():
            self.list.setCurrentIndex(self.model.index(row))

    def _open_first(self) -> None:
        if self.find_edit.text().strip():
            self.list.open_current()
