"""The runs that are open: each edit is saved at once and can be undone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from core.errors import InputError
from core.files.content import ABSENT, Stamp
from core.files.saving import ChangedOutside, NotSettled
from core.files.whole import read_whole
from core.tiles.run import Run
from core.tiles.run_file import run_from, save_run


class RunEdits(QObject):
    """Reads runs when they are asked for, and writes every edit before it counts."""

    changed = Signal(str, str)
    """A run, by the name of its file, and the code of the tile that was edited ("" for the run)."""

    def __init__(self, folder: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._folder = folder
        self.may_write: Callable[[Path], None] = lambda _path: None
        """Raises InputError for a file that this window may not write."""
        self._runs: dict[str, Run] = {}
        self._stamps: dict[str, Stamp] = {}
        self.undo_stack = QUndoStack(self)

    def path(self, file: str) -> Path:
        """Return the path of a run's file."""
        return self._folder / file

    def run(self, file: str) -> Run:
        """Return a run as it stands.

        Raises
        ------
        InputError
            If its file cannot be read.
        """
        known = self._runs.get(file)
        if known is None:
            document = read_whole(self.path(file))
            known = self._runs[file] = run_from(document)
            self._stamps[file] = document.stamp
        return known

    def forget(self) -> None:
        """Read every run anew when it is asked for next; what was done cannot be undone then."""
        self.undo_stack.clear()
        self._runs.clear()
        self._stamps.clear()

    def edit(
        self, text: str, file: str, run: Run, code: str = "", *, going_on: bool = False
    ) -> None:
        """Save a run and make it one undoable step; `going_on`, more of the step before.

        Raises
        ------
        InputError, OSError
            If it cannot be saved; nothing has changed then.
        NotSettled
            If the file holds it and the disk did not confirm it; the step is made.
        """
        before = self.run(file)
        if run == before:
            return
        with self._saved(file, run):
            self.undo_stack.push(_ReplaceRun(self, text, file, before, run, code, going_on))

    def undo(self) -> None:
        """Take the last step back.

        Raises
        ------
        InputError, OSError
            If the run cannot be saved; the step stands then.
        """
        self._step(self.undo_stack.index() - 1, forward=False)

    def redo(self) -> None:
        """Take the next step again; raises as `undo` does."""
        self._step(self.undo_stack.index(), forward=True)

    def _step(self, place: int, *, forward: bool) -> None:
        command = self.undo_stack.command(place) if 0 <= place < self.undo_stack.count() else None
        if not isinstance(command, _ReplaceRun):
            return
        with self._saved(command.file, command.after if forward else command.before):
            if forward:
                self.undo_stack.redo()
            else:
                self.undo_stack.undo()

    @contextmanager
    def _saved(self, file: str, run: Run) -> Iterator[None]:
        """Save a run, then do what follows from it; what stands here is what the file holds."""
        path = self.path(file)
        self.may_write(path)
        unsettled = None
        try:
            # In a shared folder somebody else may have written; theirs is not written over.
            self._stamps[file] = save_run(path, run, self._stamps.get(file, ABSENT))
        except ChangedOutside as fault:
            raise InputError(
                fault.what,
                "press F5 to read the tiles again; what is typed and not saved stays",
                path.name,
            ) from fault
        except NotSettled as fault:
            self._stamps[file] = fault.stamp
            unsettled = fault
        yield
        if unsettled is not None:
            raise unsettled

    def _take(self, file: str, run: Run, code: str) -> None:
        if self._runs.get(file) is not run:
            self._runs[file] = run
            self.changed.emit(file, code)


class _ReplaceRun(QUndoCommand):
    """One edit of one run; the file is written before it is pushed, undone or redone."""

    def __init__(
        self,
        edits: RunEdits,
        text: str,
        file: str,
        before: Run,
        after: Run,
        code: str,
        going_on: bool = False,
    ) -> None:
        super().__init__(text)
        self._edits = edits
        self._code = code
        self._going_on = going_on
        self.file, self.before, self.after = file, before, after

    def id(self) -> int:
        return 1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _ReplaceRun) or not other._going_on:
            return False
        if (other.file, other._code) != (self.file, self._code) or other.before is not self.after:
            return False
        self.after = other.after
        self.setObsolete(self.after == self.before)
        return True

    def undo(self) -> None:
        self._edits._take(self.file, self.before, self._code)

    def redo(self) -> None:
        self._edits._take(self.file, self.after, self._code)
