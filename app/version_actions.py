"""Earlier versions of the open recipe: looked at, brought back, opened as a copy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QWidget

from app import problems
from app.document import Document
from app.formatting import day_text
from app.theme import Theme
from app.versions_dialog import VersionsDialog
from core.files.backups import Version, versions
from core.recipe import Recipe


class VersionActions(QObject):
    """Shows the versions of the document's file; a restore is one step of the document."""

    told = Signal(str)
    restored = Signal()

    def __init__(
        self,
        document: Document,
        open_file: Callable[[Path], object],
        theme: Theme,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._document = document
        self._open_file = open_file
        self._theme = theme
        self._window = window
        self.dialog: VersionsDialog | None = None
        """The dialog while it is open."""

    def show(self) -> None:
        """List what is kept of the open recipe."""
        path = self._document.path
        try:
            found = versions(path) if path is not None else []
        except OSError as fault:
            problems.tell(
                self._window,
                self.tr("The earlier versions could not be read"),
                problems.words_of(fault),
            )
            return
        dialog = VersionsDialog(
            path,
            found,
            self._document.as_saved(),
            self._document.evaluation.material_name,
            self._theme.palette,
            self._window,
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.restore_asked.connect(self._restore)
        dialog.copy_asked.connect(lambda version: self._open_file(version.path))
        dialog.finished.connect(self._forget)
        self.dialog = dialog
        dialog.open()

    def _restore(self, version: Version, recipe: Recipe) -> None:
        day = day_text(version.day, year=False)
        before = self._document.recipe
        self._document.edit(self.tr("Restore the version of {}").format(day), recipe)
        self.restored.emit()
        if recipe == before:
            self.told.emit(self.tr("The recipe stands as in the version of {}.").format(day))
        else:
            self.told.emit(
                self.tr(
                    "The version of {} is on the bench. Undo takes it back, Save writes it."
                ).format(day)
            )

    def _forget(self, _result: int) -> None:
        self.dialog = None
