"""The panel of the studio: its recipes, with a line to find one."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSortFilterProxyModel, Qt, Signal
from PySide6.QtGui import QStandardItem, QStandardItemModel
from PySide6.QtWidgets import QLabel, QLineEdit, QListView, QVBoxLayout, QWidget

from app.cell_copy import copy_as_cell
from app.document import Document
from core.studio import Studio

PATH_ROLE = Qt.ItemDataRole.UserRole + 1


class RecipesPanel(QWidget):
    """Lists the recipe files of the studio."""

    open_asked = Signal(Path)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self.studio_label = QLabel()
        self.studio_label.setWordWrap(True)
        self.find_edit = QLineEdit()
        self.find_edit.setPlaceholderText(self.tr("find a recipe"))
        self.find_edit.setClearButtonEnabled(True)
        self.find_edit.setAccessibleName(self.tr("Find a recipe of the studio"))
        self.model = QStandardItemModel(self)
        self.filtered = QSortFilterProxyModel(self)
        self.filtered.setSourceModel(self.model)
        self.filtered.setFilterCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.find_edit.textChanged.connect(self.filtered.setFilterFixedString)
        self.list = QListView()
        copy_as_cell(self.list)
        self.list.setModel(self.filtered)
        self.list.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.list.setAccessibleName(self.tr("Recipes of the studio"))
        self.list.setMinimumHeight(60)
        self.list.activated.connect(lambda index: self.open_asked.emit(index.data(PATH_ROLE)))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.studio_label)
        layout.addWidget(self.find_edit)
        layout.addWidget(self.list, 1)
        document.studio_changed.connect(self._on_studio_changed)
        document.path_changed.connect(self._on_path_changed)
        self._on_studio_changed(document.studio)

    def _on_studio_changed(self, studio: Studio) -> None:
        if studio.folder is None:
            text = self.tr("No studio is open. Open a folder that has a studio.yaml.")
        else:
            text = f"{studio.name or studio.folder.name}. {studio.note}".strip()
        self.studio_label.setText(text)
        self.refresh()

    def _on_path_changed(self, path: Path | None) -> None:
        known = {self.model.item(i).data(PATH_ROLE) for i in range(self.model.rowCount())}
        if path is not None and path not in known:
            self.refresh()
        for i in range(self.filtered.rowCount()):
            index = self.filtered.index(i, 0)
            if index.data(PATH_ROLE) == path:
                self.list.setCurrentIndex(index)

    def refresh(self) -> None:
        """List the files again."""
        self.model.clear()
        for path in self._document.studio.recipe_paths():
            # File names are made from the recipe's name; reading each file
            # for it would make a large studio slow to open.
            item = QStandardItem(path.stem.replace("-", " "))
            item.setData(path, PATH_ROLE)
            item.setToolTip(str(path))
            self.model.appendRow(item)
        self.list.setEnabled(self.model.rowCount() > 0)
