"""Files that cannot be read: what is wrong, and an earlier version in their place if wanted."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QObject, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QMessageBox, QWidget

from app import problems
from app.formatting import day_text
from app.notice_bar import NoticeBar
from core.errors import InputError
from core.files.backups import Version, root_of
from core.files.content import ABSENT
from core.files.restoring import restore, restore_damaged
from core.studio import STUDIO_FILE

_SUBJECT = "damaged"


class DamagedBox(QMessageBox):
    """Says what is wrong with a file and asks what to do; leaving it alone is the usual answer.

    Parameters
    ----------
    parent : QWidget or None
    path : Path
    fault : Exception
        What reading it raised.
    version : Version
        May take its place.
    missing : bool
        The file is not there at all.
    """

    def __init__(
        self,
        parent: QWidget | None,
        path: Path,
        fault: Exception,
        version: Version,
        missing: bool = False,
    ) -> None:
        title = self.tr("{} is gone") if missing else self.tr("{} cannot be read")
        title = title.format(path.name)
        super().__init__(QMessageBox.Icon.Warning, title, title, parent=parent)
        self._path = path
        says = (
            self.tr(
                "\n\nThe version of {} (no. {}) is kept, reads soundly and can take its place."
                " Nothing else in the folder is changed."
            )
            if missing
            else self.tr(
                "\n\nIt was not opened, and nothing in it was changed.\n\nThe version of {} (no."
                " {}) reads soundly and can take its place. The damaged file then stays beside it"
                " under a name that ends in .damaged-1 or the next free number, to be mended later."
            )
        )
        self.setInformativeText(
            problems.words_of(fault) + says.format(day_text(version.day), version.number)
        )
        self.restore_button = self.addButton(
            self.tr("&Restore the version of {}").format(day_text(version.day, year=False)),
            QMessageBox.ButtonRole.AcceptRole,
        )
        self.folder_button = self.addButton(
            self.tr("Show its &folder"), QMessageBox.ButtonRole.ActionRole
        )
        self.leave_button = self.addButton(
            self.tr("&Leave it as it is"), QMessageBox.ButtonRole.RejectRole
        )
        self.setDefaultButton(self.leave_button)
        self.setEscapeButton(self.leave_button)

    def ask(self) -> bool:
        """Show it; True if the version is to take the file's place."""
        self.exec()
        if self.clickedButton() is self.folder_button:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._path.parent)))
        return self.clickedButton() is self.restore_button


class DamagedFiles(QObject):
    """Keeps a line above the bench about files of the studio that were left out as damaged."""

    def __init__(
        self,
        notices: NoticeBar,
        mended: Callable[[], object],
        may_write: Callable[[Path], None],
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._notices = notices
        self._may_write = may_write
        self._mended = mended
        self._window = window

    def tell(self, faults: Sequence[InputError]) -> None:
        """Say which files were left out; nothing if there are none."""
        self._notices.drop(_SUBJECT)
        if not faults:
            return
        from core.damage import damaged_file  # reads every kind of file: too much for the start

        text = self.tr("Left out: {}").format(faults[0])
        if len(faults) > 1:
            text += self.tr(" (and {} more)").format(len(faults) - 1)
        answers = []
        if any(damaged_file(fault, Path(fault.source)) is not None for fault in faults):
            answers.append((self.tr("What can be done…"), lambda: self._offer(faults)))
        self._notices.tell(_SUBJECT, text, answers, self.tr("Not now"))

    def _offer(self, faults: Sequence[InputError]) -> None:
        self._notices.drop(_SUBJECT)
        done = [offer(self._window, fault, Path(fault.source), self._may_write) for fault in faults]
        if any(done):
            self._mended()


def offer(
    window: QWidget, fault: Exception, opened: Path, may_write: Callable[[Path], None]
) -> bool:
    """Tell of a fault of opening something; True if a sound version took a damaged file's place.

    Of a folder whose studio file is gone, its newest version is offered too.

    Parameters
    ----------
    window : QWidget
        Over which it is told.
    fault : Exception
    opened : Path
        What was to be opened; the fault may lie in a file that it leans on.
    may_write : callable
        Raises InputError for a file that this window may not write.
    """
    from core.damage import Damaged, damaged_file, newest_undamaged

    unread = QCoreApplication.translate("DamagedFiles", "{} could not be opened")
    words = problems.words_of(fault)
    missing = _missing_studio_file(opened)
    found = damaged_file(fault, opened) if missing is None else Damaged(missing, "studio", ABSENT)
    if found is None:
        problems.tell(window, unread.format(opened.name), words)
        return False
    path = found.path
    version = newest_undamaged(path, found.kind)
    if version is None and missing is not None:
        problems.tell(window, unread.format(opened.name), words)
        return False
    if version is None:
        problems.tell(window, unread.format(path.name), f"{words}\n\n{_without_versions(path)}")
        return False
    if not DamagedBox(window, path, fault, version, missing is not None).ask():
        return False
    try:
        may_write(path)
        if missing is None:
            restore_damaged(path, version, found.stamp)
        else:
            restore(path, version)
    except (InputError, OSError) as failure:
        title = QCoreApplication.translate("DamagedFiles", "{} was not restored")
        problems.tell(
            window,
            title.format(path.name),
            problems.words_of(failure)
            + QCoreApplication.translate("DamagedFiles", "\n\nAll else is as it was."),
        )
        return False
    return True


def _missing_studio_file(opened: Path) -> Path | None:
    path = opened / STUDIO_FILE
    return path if opened.is_dir() and not os.path.lexists(path) else None


def _without_versions(path: Path) -> str:
    return QCoreApplication.translate(
        "DamagedFiles",
        "Nothing in it was changed. No earlier version of it that reads soundly is kept; those of"
        " other files lie in {}.",
    ).format(root_of(path))
