"""New, open, save and close: what happens to files, and the one question before work is lost."""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from app import problems
from app.damaged import offer
from app.document import Document
from app.file_names import file_stem
from app.formatting import in_a_sentence
from app.save_conflict import SaveConflict, Saving
from app.settings import Settings
from core.errors import InputError
from core.files.content import stamp_of_file
from core.files.saving import ChangedOutside, NotSettled
from core.studio import STUDIO_FILE, begin_studio

FILTER = "Glaze recipes (*.yaml *.yml);;All files (*)"


class FileActions(QObject):
    """Opens and saves the document; a fault leaves everything as it was."""

    recent_changed = Signal()
    saved = Signal(object)  # Path
    about_to_save = Signal()

    def __init__(self, document: Document, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._settings = settings
        self._window = window
        self._conflict = SaveConflict(document, window)

    @property
    def window(self) -> QWidget:
        """The window that questions and problems belong to."""
        return self._window

    def new(self) -> None:
        """Begin an empty recipe."""
        if self.may_leave():
            self._document.new()

    def choose_and_open(self) -> None:
        """Ask for a recipe file and open it."""
        name, _ = QFileDialog.getOpenFileName(
            self._window, self.tr("Open a recipe"), str(self._folder()), FILTER
        )
        if name:
            self.open(Path(name))

    def begin_studio(self) -> None:
        """Ask for a folder, make it a studio and open it."""
        name = QFileDialog.getExistingDirectory(
            self._window, self.tr("Choose or make a folder for the studio"), str(Path.home())
        )
        if not name:
            return
        folder = Path(name)
        try:
            begin_studio(folder, folder.name)
        except (InputError, OSError) as fault:
            problems.tell(
                self._window,
                self.tr("{} was not made a studio").format(folder.name),
                problems.words_of(fault),
            )
            return
        self.open(folder)

    def choose_and_open_studio(self) -> None:
        """Ask for a studio folder and open it."""
        name = QFileDialog.getExistingDirectory(
            self._window, self.tr("Open a studio folder"), str(self._folder())
        )
        if name:
            self.open(Path(name))

    def open(self, path: Path) -> bool:
        """Open a recipe file, or a studio folder with its first recipe."""
        return self.may_leave() and self._open_or_tell(path)

    def _open_or_tell(self, path: Path) -> bool:
        try:
            self._open(path)
        except (InputError, OSError) as fault:
            if not path.exists():
                self._settings.forget_recent(path)
                self.recent_changed.emit()
            mended = offer(self._window, fault, path, self._document.may_write)
            return mended and self._open_or_tell(path)
        if self._document.path is not None:
            self._settings.add_recent(self._document.path)
            self.recent_changed.emit()
        return True

    def read_again(self) -> bool:
        """Open the studio and the recipe anew, to take up what was mended."""
        folder, path = self._document.studio.folder, self._document.path
        if folder is not None and not self.open(folder):
            return False
        return path is None or self.open(path)

    def save(self) -> bool:
        """Save to the recipe's own file, or ask for one."""
        path = self._document.path
        return self.save_as() if path is None else self._save(Saving(path))

    def save_as(self) -> bool:
        """Ask for a file and save to it."""
        start = self._folder() / f"{file_stem(self._document.recipe.name)}.yaml"
        name, _ = QFileDialog.getSaveFileName(
            self._window, self.tr("Save the recipe"), str(start), FILTER
        )
        if not name:
            return False
        path, own = Path(name), self._document.path
        # With an ending put behind it, it is a name that the dialog did not ask about.
        asked = bool(path.suffix)
        if not asked:
            path = path.with_suffix(".yaml")
        if own is not None and os.path.realpath(path) == os.path.realpath(own):
            # What the dialog asked is not whether somebody else's change may go.
            return self._save(Saving(own))
        if not asked:
            return self._save(Saving(path))
        try:
            return self._save(Saving(path, {path: stamp_of_file(path)}))
        except OSError as fault:
            self._tell_not_saved(path, fault)
            return False

    def may_leave(self) -> bool:
        """Ask once what to do with unsaved work; False keeps it open."""
        if not self._document.modified:
            return True
        answer = self._ask_about_unsaved()
        if answer == QMessageBox.StandardButton.Save:
            # A firing may not have been able to go along.
            return self.save() and not self._document.modified
        return answer == QMessageBox.StandardButton.Discard

    def _ask_about_unsaved(self) -> QMessageBox.StandardButton:
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.Question)
        box.setWindowTitle(self.tr("Unsaved work"))
        box.setText(self.tr("Save the changes to {}?").format(self._document.recipe.name))
        box.setInformativeText(self.tr("Without saving they are gone."))
        box.setStandardButtons(
            QMessageBox.StandardButton.Save
            | QMessageBox.StandardButton.Discard
            | QMessageBox.StandardButton.Cancel
        )
        box.setDefaultButton(QMessageBox.StandardButton.Save)
        return QMessageBox.StandardButton(box.exec())

    def _open(self, path: Path) -> None:
        if path.is_dir():
            if not (path / STUDIO_FILE).is_file():
                raise InputError(
                    f"is no studio: it has no {STUDIO_FILE}",
                    "open a recipe file, or begin a studio there",
                    str(path),
                )
            self._document.open_studio(path)
            first = self._document.studio.first_recipe()
            if first is not None:
                self._document.open(first)
        else:
            self._document.open(path)

    def _save(self, saving: Saving) -> bool:
        self.about_to_save.emit()
        written = False
        try:
            while not saving.done:
                try:
                    self._document.save(saving.path, saving.seen)
                    saving.done = written = True
                except ChangedOutside as fault:
                    if not self._conflict.settle(fault, saving):
                        self._conflict.give_up(saving)
                        return False
        except (InputError, OSError) as fault:
            self._conflict.give_up(saving)
            self._tell_not_saved(saving.path, fault)
            return False
        self._settings.add_recent(saving.path)
        self.recent_changed.emit()
        if written:
            self.saved.emit(saving.path)
        return True

    def _tell_not_saved(self, path: Path, fault: Exception) -> None:
        title = self.tr("{} was not saved")
        stands = self.tr("Your changes are still here, and the old file is as it was.")
        if isinstance(fault, NotSettled):
            title = self.tr("{} may not be safe yet")
            stands = self.tr("Your changes are still here, too.")
        why = in_a_sentence(problems.words_of(fault))
        problems.tell(self._window, title.format(path.name), f"{why}\n\n{stands}")

    def _folder(self) -> Path:
        if self._document.path is not None:
            return self._document.path.parent
        studio = self._document.studio.folder
        if studio is not None:
            recipes = studio / "recipes"
            return recipes if recipes.is_dir() else studio
        return Path.home()
