"""Keeps the journal of the open document: gathers steps and hands them to the disk in time."""

from __future__ import annotations

import errno
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as TookTooLong
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from typing import Final
from weakref import ref

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from shiboken6 import isValid

from app import problems
from app.document import Change, Document
from app.notice_bar import NoticeBar
from app.worker import rest_collector_until_done
from core.files.journal import Journal, Origin, Step, Work
from core.firing import Firing
from core.recipe import Recipe

GATHER_MS: Final = 500
"""From a first step to the disk; typing goes on meanwhile."""
AGAIN_MS: Final = 3_000
"""After the disk refused."""
_PATIENCE_S = 2.0
"""For the disk, when the window has to wait for it."""
_SUBJECT = "journal"


class JournalWriter(QObject):
    """Listens to the document; a step costs the one who types a note of it and no more.

    The disk has a thread of its own: one of the shared ones may be solving for
    longer than a step may stay unwritten.
    """

    kept = Signal()
    """Every step up to a moment ago lies on the disk."""
    cleaned = Signal()
    """There is nothing unsaved: it was saved, taken back, or another recipe lies there."""

    def __init__(
        self, document: Document, notices: NoticeBar, folder: Path, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._notices = notices
        self._journal = Journal(folder)
        self._thread: ThreadPoolExecutor | None = None
        self._over = False
        self._last: Future[None] | None = None
        self._clean = self._work()
        self._waiting: list[Step] = []
        self._earlier = 0
        self._has_draft = False
        self._round = 0
        """Counts the times that everything was saved: what belongs to an earlier one is past."""
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.flush)
        document.undo_stack.indexChanged.connect(self._on_step)
        document.undo_stack.cleanChanged.connect(self._on_clean_changed)
        document.drafted.connect(self._on_drafted)
        document.opened.connect(self._on_opened)

    @property
    def path(self) -> Path | None:
        """The file, once there is one."""
        return self._journal.path

    def count_on(self, brought_back: Step) -> None:
        """Take the last step for those that it brought back."""
        self._earlier = brought_back.steps - 1
        if self._waiting:
            self._waiting[-1] = replace(brought_back, work=self._waiting[-1].work)

    def flush(self) -> None:
        """Hand what waits to the disk, and do not wait for it."""
        self._timer.stop()
        if not self._waiting:
            return
        document = self._document
        steps, self._waiting = self._waiting, []
        origin = Origin(
            self._clean,
            document.path,
            document.stamp,
            document.studio.folder,
            document.stamps_of(steps[-1].work.firings),
        )
        journal, post, turn, reader = self._journal, _post(), self._round, ref(self)

        def write() -> None:
            fault = None
            try:
                journal.keep(origin, steps)
            except Exception as found:
                fault = found
            post.ended.emit(_Ended(reader, steps, turn, fault))

        self._submit(write)

    def flush_now(self) -> None:
        """Hand what waits to the disk, and wait for it a little."""
        self.flush()
        if self._last is not None:
            with suppress(TookTooLong):
                self._last.result(_PATIENCE_S)

    def put_away(self) -> None:
        """Before the end of the program: unsaved work stays on the disk, anything else goes."""
        if self._document.modified or self._has_draft:
            self.flush()
        else:
            self._clear()
        if self._thread is not None:
            self._submit(self._journal.close)
            self._thread.shutdown()
        self._over = True

    def _work(self) -> Work:
        return Work(self._document.recipe, self._document.edited_firings)

    def _on_step(self, _index: int) -> None:
        document, stack = self._document, self._document.undo_stack
        # A stack that is being taken down still tells that it is emptied.
        if self._over or not isValid(stack) or stack.isClean():
            return
        words = stack.undoText()
        if document.change is Change.UNDO:
            words = self.tr("take back: {}").format(stack.redoText())
        self._add(Step(words, self._steps(), self._work()))

    def _steps(self) -> int:
        """Return how many steps the bench is away from the last save."""
        index, clean = self._document.undo_stack.index(), self._document.undo_stack.cleanIndex()
        return (abs(index - clean) if clean >= 0 else max(1, index)) + self._earlier

    def _on_drafted(self, words: str, state: tuple[Recipe, dict[str, Firing]] | None) -> None:
        """Keep what a dialog holds like a step that was done."""
        if self._over or (state is None and not self._has_draft):
            return
        stack = self._document.undo_stack
        if state is None and stack.isClean():
            self._clear()
            return
        done = self._steps()
        if self._has_draft and self._waiting:
            self._waiting.pop()
        self._has_draft = state is not None
        if state is None:
            self._add(Step(stack.undoText(), done, self._work()))
        else:
            self._add(Step(words, done + 1, Work(*state)))

    def _add(self, step: Step) -> None:
        going_on = self._document.change is Change.GOING_ON and not self._has_draft
        if self._waiting and going_on:
            self._waiting[-1] = step
        else:
            self._waiting.append(step)
        if not self._timer.isActive():
            self._timer.start(GATHER_MS)

    def _on_clean_changed(self, clean: bool) -> None:
        if self._over or not isValid(self._document.undo_stack):
            return
        if clean:
            self._begin_anew()
        elif not self._waiting:
            # Nothing was edited: the file is gone, or what is shown never was in one.
            self._add(Step("", 1 + self._earlier, self._work()))

    def _on_opened(self) -> None:
        self._begin_anew()

    def _begin_anew(self) -> None:
        self._clean = self._work()
        self._clear()
        self.cleaned.emit()

    def _clear(self) -> None:
        self._timer.stop()
        self._waiting.clear()
        self._earlier = 0
        self._has_draft = False
        self._round += 1
        self._notices.drop(_SUBJECT)
        if self._thread is not None:
            self._submit(partial(_take_away, self._journal))

    def _submit(self, work: Callable[[], None]) -> None:
        if self._over:
            return
        if self._thread is None:
            self._thread = ThreadPoolExecutor(1, "journal")
        self._last = self._thread.submit(work)
        rest_collector_until_done(self._last)

    def _on_ended(self, steps: list[Step], turn: int, fault: Exception | None) -> None:
        if turn != self._round or self._over:
            return
        if fault is None:
            self._notices.drop(_SUBJECT)
            if not self._waiting:
                self.kept.emit()
            return
        # The state after the last step holds all before it.
        self._waiting = (steps + self._waiting)[-1:]
        self._timer.start(AGAIN_MS)
        if _SUBJECT not in self._notices.subjects():
            if not isinstance(fault, OSError):
                problems.log.error("the journal was not written", exc_info=fault)
            self._notices.tell(_SUBJECT, self._refusal(fault))

    def _refusal(self, fault: Exception) -> str:
        full = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
        if not isinstance(fault, OSError):
            why = f"{type(fault).__name__}: {fault}".rstrip(": .")
        elif fault.errno in full:
            why = self.tr("the disk is full")
        else:
            why = problems.words_of(fault).rstrip(".")
        return self.tr(
            "Unsaved work is not being kept: {}. Save now and then until this line goes."
        ).format(why)


@dataclass(frozen=True, slots=True)
class _Ended:
    """How a write ended; the thread of the disk only carries the reference to the writer."""

    reader: ref[JournalWriter]
    steps: list[Step]
    turn: int
    fault: Exception | None


class _Post(QObject):
    """Carries what ended from the thread of the disk to that of the windows."""

    ended = Signal(object)  # _Ended

    def __init__(self) -> None:
        super().__init__()
        self.ended.connect(self._on_ended, Qt.ConnectionType.QueuedConnection)

    def _on_ended(self, ended: _Ended) -> None:
        writer = ended.reader()
        if writer is not None and isValid(writer):
            writer._on_ended(ended.steps, ended.turn, ended.fault)


@cache
def _post() -> _Post:
    """Outlives every writer, so that no thread is the last to hold it."""
    return _Post()


def _take_away(journal: Journal) -> None:
    # One that cannot go holds what was saved, and is known by that at the next start.
    with suppress(OSError):
        journal.clear()
