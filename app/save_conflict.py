"""A file was changed by somebody else: the one question, and what each answer does."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import Enum, auto
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMessageBox, QPushButton, QWidget

import core.files.backups as backups
from app.document import Document
from app.file_names import file_stem, free_file
from core.errors import InputError
from core.files.content import Stamp
from core.files.saving import ChangedOutside
from core.firing import firing_from
from core.firing.files import firing_text
from core.plain_yaml import parse
from core.recipe_file import recipe_from, recipe_text

_ROOM_FOR_MINE = 72
"""Characters of a name, so that what is put behind it still fits."""


class Answer(Enum):
    """What the potter chose."""

    MINE = auto()
    THEIRS = auto()
    BOTH = auto()
    GO_ON = auto()
    """Edit on; nothing is saved."""


@dataclass(slots=True)
class Saving:
    """A save on its way through the questions."""

    path: Path
    seen: dict[Path, Stamp] = field(default_factory=dict)
    """What may be replaced: the potter was asked."""
    done: bool = False
    """Whether nothing is left to write."""
    renaming: object = None
    """Merge key of the step that gave the recipe another name."""


class SaveConflict(QObject):
    """Asks whose version counts, and sees that the other one is kept."""

    def __init__(self, document: Document, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._window = window

    def settle(self, fault: ChangedOutside, saving: Saving) -> bool:
        """Ask what to do about a file, and make the save ready to go on; False stops it.

        Raises
        ------
        InputError, OSError
            If the other version cannot be read or kept; nothing has changed then.
        """
        answer = self._ask(fault, saving)
        if answer is Answer.GO_ON:
            return False
        if answer is Answer.MINE:
            # What is replaced goes among the earlier versions.
            saving.seen[fault.file] = fault.stamp
        elif answer is Answer.THEIRS:
            self._take_theirs(fault.file, saving)
        else:
            self._keep_both(fault.file, saving)
        return True

    def give_up(self, saving: Saving) -> None:
        """Take the other name back: the recipe was not saved under it."""
        if saving.renaming is not None:
            self._document.cancel(saving.renaming)

    def _take_theirs(self, file: Path, saving: Saving) -> None:
        document = self._document
        firing = document.firing_of(file)
        mine = firing_text(firing) if firing is not None else recipe_text(document.as_saved())
        backups.keep(file, mine.encode("utf-8"))
        document.take_outside(self.tr("Take what {} holds").format(file.name), file)
        saving.done = not document.modified

    def _keep_both(self, file: Path, saving: Saving) -> None:
        document = self._document
        firing = document.firing_of(file)
        if firing is not None:
            name = self._called_mine(firing.name or firing.id)
            document.keep_firing_apart(self.tr("Keep both firings"), file, name)
            return
        name = document.recipe.name
        if file == document.path:
            name = self._called_mine(name)
            saving.renaming = ("keep both", file)
            document.edit(
                self.tr("Keep both"), replace(document.recipe, name=name), saving.renaming
            )
        saving.path = free_file(file.parent, file_stem(name))

    def _called_mine(self, name: str) -> str:
        return self.tr("{} (mine)").format(name[:_ROOM_FOR_MINE])

    def _ask(self, fault: ChangedOutside, saving: Saving) -> Answer:
        box, buttons = self.question(fault, saving)
        box.exec()
        clicked = box.clickedButton()
        box.deleteLater()
        return next((a for a, button in buttons.items() if button is clicked), Answer.GO_ON)

    def question(
        self, fault: ChangedOutside, saving: Saving
    ) -> tuple[QMessageBox, dict[Answer, QPushButton]]:
        """Return the question about a file and its buttons."""
        document = self._document
        firing = document.firing_of(fault.file)
        own = firing is not None or fault.file == document.path
        if fault.data is None:
            answers = {Answer.MINE: self.tr("&Write it anew")}
            text = self.tr("{} is not there any more.")
            more = self.tr(
                "It was taken away or renamed since you opened it. Write it anew, or go on "
                "editing and save under another name."
            )
        elif not own:
            answers = {
                Answer.MINE: self.tr("&Replace it"),
                Answer.BOTH: self.tr("Keep &both"),
            }
            text = self.tr("There is another file {} already.")
            more = self.tr(
                "Replace it: what it holds is kept as an earlier version.\n\n"
                "Keep both: yours is saved beside it under a new name."
            )
        else:
            answers = {Answer.MINE: self.tr("Keep &mine")}
            text = self.tr("{} was changed by another program or computer since you opened it.")
            parts = [
                self.tr(
                    "Keep mine: yours goes into the file; theirs is kept as an earlier version."
                )
            ]
            said = self._unreadable(fault, firing is not None)
            if said:
                parts.append(self.tr("Theirs cannot be opened as it stands: {}").format(said))
            else:
                answers |= {Answer.THEIRS: self.tr("Take &theirs")}
                parts.append(
                    self.tr(
                        "Take theirs: theirs comes to the bench; yours is kept as an earlier "
                        "version, and Undo brings it back."
                    )
                )
            if not said or firing is None:
                answers |= {Answer.BOTH: self.tr("Keep &both")}
                name = self._called_mine(
                    document.recipe.name if firing is None else firing.name or firing.id
                )
                parts.append(
                    self.tr("Keep both: yours is saved as “{}”; theirs stays in its file.").format(
                        name
                    )
                )
            more = "\n\n".join(parts)
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.Question)
        box.setWindowTitle(self.tr("Not saved yet"))
        box.setText(text.format(fault.file.name))
        box.setInformativeText(more)
        buttons = {
            answer: box.addButton(words, QMessageBox.ButtonRole.ActionRole)
            for answer, words in answers.items()
        }
        go_on = box.addButton(self.tr("&Go on editing"), QMessageBox.ButtonRole.RejectRole)
        box.setEscapeButton(go_on)
        # What Enter does loses neither of the two.
        box.setDefaultButton(buttons.get(Answer.BOTH, go_on))
        return box, buttons

    def _unreadable(self, fault: ChangedOutside, firing: bool) -> str:
        """Say why what stands in the file cannot be opened; nothing if it can."""
        assert fault.data is not None
        try:
            document = parse(fault.data, fault.file.name)
            _ = firing_from(document) if firing else recipe_from(document)
        except InputError as refused:
            return str(refused)
        return ""
