"""The lock of the studio that lies on the bench: this window writes, or it only reads."""

from __future__ import annotations

import os
import time
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from app.document import Document
from app.notice_bar import Answer, NoticeBar
from app.worker import run_in_background
from core.errors import InputError
from core.files.studio_lock import (
    BEAT_S,
    Holder,
    Pulse,
    Standing,
    StudioLock,
    in_use_words,
    read_holder,
)
from core.studio import Studio, studio_of

SUBJECT = "lock"


class StudioKeeper(QObject):
    """Holds the lock of the document's studio, and is asked before anything in it is written."""

    changed = Signal(bool)
    """Whether this window only reads the studio."""

    def __init__(self, document: Document, notices: NoticeBar, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._notices = notices
        self._lock: StudioLock | None = None
        self._standing = Standing(True)
        self._pulse = Pulse()
        self._held = self._lost = False
        self._looking = False
        self._watcher = QFileSystemWatcher(self)
        self._watcher.directoryChanged.connect(self.look)
        self._timer = QTimer(self)
        self._timer.setInterval(BEAT_S * 1000)
        self._timer.timeout.connect(self.beat)
        document.may_write = self.check
        document.studio_changed.connect(self._on_studio_changed)
        self._on_studio_changed(document.studio)

    @property
    def read_only(self) -> bool:
        """Whether this window only reads the studio."""
        return not self._standing.ours

    def check(self, path: Path) -> None:
        """Make sure, on the disk itself, that this window may write a file.

        Raises
        ------
        InputError
            If it belongs to a studio that another window has in use.
        """
        studio = studio_of(path)
        if studio is None:
            return
        if self._lock is not None and _same(studio, self._lock.folder):
            self.look()
            standing = self._standing
        else:
            standing = _standing_of(studio)
        if not standing.ours:
            mend = self.tr("save a copy elsewhere")
            if standing.holder is not None:
                mend = self.tr("save a copy elsewhere, or take the studio over")
            raise InputError(f"the studio is {in_use_words(standing)}", mend)

    def look(self) -> None:
        """See who has the lock, and take it where it is free."""
        if self._lock is not None:
            self._take(self._lock.take())

    def take_over(self) -> None:
        """Take the lock from the window that has it, as the potter asked for."""
        if self._lock is not None:
            self._take(self._lock.take(over=self._standing.holder))

    def beat(self) -> None:
        """Raise the count of the lock, or look who has it; a slow folder is waited for elsewhere.

        This window goes on meanwhile, and asks no second time before there is an answer.
        """
        if self._lock is None or self._looking:
            return
        self._looking = True
        lock, ours = self._lock, self._standing.ours

        def reach() -> bool:
            if ours:
                return lock.beat()
            read_holder(lock.folder)
            return False

        run_in_background(self, reach, self._on_reached, self._on_not_reached)

    def release(self) -> None:
        """Let go of the studio, as another is opened or the window closes."""
        lock, self._lock = self._lock, None
        self._timer.stop()
        if self._watcher.directories():
            self._watcher.removePaths(self._watcher.directories())
        if lock is None:
            return
        # If the disk refuses, the next window finds that this process has ended.
        with suppress(OSError):
            lock.release()

    def _on_reached(self, held: bool) -> None:
        self._looking = False
        if not held:
            self.look()

    def _on_not_reached(self, fault: Exception) -> None:
        self._looking = False
        if not isinstance(fault, OSError):
            raise fault
        self.look()

    def _on_studio_changed(self, studio: Studio) -> None:
        folder = studio.folder
        if folder == (self._lock.folder if self._lock is not None else None):
            return
        self.release()
        self._notices.drop(SUBJECT)
        self._pulse, self._held, self._lost = Pulse(), False, False
        was, self._standing = self._standing, Standing(True)
        if not was.ours:
            self.changed.emit(False)
        if folder is not None:
            self._lock = StudioLock(folder)
            self._watcher.addPath(str(folder))
            self._timer.start()
            self.look()

    def _take(self, standing: Standing) -> None:
        was, self._standing = self._standing, standing
        if standing.ours:
            self._held, self._lost = True, False
            if standing.left is not None:
                self._tell(
                    self.tr(
                        "The last window on this computer that had this studio open ended without "
                        "closing. This window has it now."
                    )
                )
            elif not was.ours:
                self._tell(self.tr("The studio is free again: this window can save."))
        else:
            self._lost = self._lost or self._held
            self._held = False
            words, answer = self._read_only_words(standing)
            if words != self._notices.text(SUBJECT):
                self._notices.tell(SUBJECT, words, [answer])
        if was.ours != standing.ours:
            self.changed.emit(self.read_only)

    def _tell(self, text: str) -> None:
        self._notices.tell(SUBJECT, text, dismiss=self.tr("Close"), passing=True)

    def _read_only_words(self, standing: Standing) -> tuple[str, Answer]:
        holder = standing.holder
        if holder is None:
            text = self.tr(
                "This studio is {}. This window only reads it: try what you like, and save copies "
                "elsewhere."
            ).format(in_use_words(standing))
            return text, (self.tr("Try again"), self.look)
        who = self._who(holder)
        if self._lost:
            text = self.tr(
                "{} has taken this studio over, so this window only reads it now. What you have "
                "not saved is still here: save a copy elsewhere, or take the studio back."
            ).format(who)
            answer = (self.tr("Take it back"), self.take_over)
        else:
            since = self.tr(" since {}").format(holder.since) if holder.since else ""
            text = self.tr(
                "{} has this studio open{}, so this one only reads it until that closes: try what "
                "you like, save copies elsewhere. Taken over, the studio is read only there, and "
                "what is unsaved there stays in that window."
            ).format(who, since)
            answer = (self.tr("Take it over"), self.take_over)
        if self._pulse.is_quiet(holder, time.monotonic()):
            text += " " + self.tr(
                "Nothing has been heard of it for a while: it may be asleep, out of reach, or "
                "have ended without closing."
            )
        return text, answer

    def _who(self, holder: Holder) -> str:
        if not holder.host:
            return self.tr("A window that does not say whose it is")
        if holder.is_here:
            return self.tr("Another window on this computer")
        return self.tr("A window on {}").format(holder.host)


def _same(folder: Path, other: Path) -> bool:
    return folder == other or os.path.realpath(folder) == os.path.realpath(other)


def _standing_of(studio: Path) -> Standing:
    """Return how things stand with a studio that is not open here; its lock is not taken."""
    try:
        holder = read_holder(studio)
    except OSError as fault:
        return Standing(False, fault=fault)
    return Standing(holder is None or holder.is_gone, holder)
