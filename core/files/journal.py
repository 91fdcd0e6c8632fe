"""The journal: what was done to a recipe since its last save, so that a crash loses none of it.

One file per window, in the user's own state folder. Its head says which file
the work began from and what stood there; each further line is one step with
the keys of the recipe that it changed, and the firings that are edited and
not saved. A line begins with its length and its checksum; a line that does
not answer to them ends the reading there, so that a torn tail costs the last
step at most. The order is that of the running numbers, never of a clock.

While the program lives it holds a system lock beside its journal. A journal
without one was left behind.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import zlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import core.files.disk as disk
from core.files.content import ABSENT, Stamp
from core.files.new_file import write_all
from core.files.process_lock import ProcessLock, take
from core.firing import Firing
from core.firing.files import firing_tree
from core.recipe import Recipe
from core.recipe_file import recipe_tree

JOURNAL_FORMAT = "1"
BOUND = 1_000_000
"""Bytes; a journal that grows beyond is begun anew with the state as it then stands."""
END, LOCK_END, NEW_END = ".journal", ".lock", ".new"
NAME = re.compile(r"(\d{6,12})-[0-9a-f]{8}")


@dataclass(frozen=True, slots=True)
class Work:
    """What a journal keeps: the recipe, and the firings that are edited and not saved."""

    recipe: Recipe
    firings: Mapping[str, Firing] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Origin:
    """What the work began from: the file, what stood in it, and the state when it was clean."""

    work: Work
    path: Path | None = None
    stamp: Stamp = ABSENT
    studio: Path | None = None
    firing_stamps: Mapping[str, Stamp] = field(default_factory=dict)
    """What stood in the files of the firings that are edited, by id; a new one has no file."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step, and what stands after it."""

    words: str
    """What the step is called."""
    steps: int
    """How many steps the state is away from the last save."""
    work: Work


class Journal:
    """Writes the journal of one window.

    Every method may raise OSError; nothing that was acknowledged before is
    lost by this or any other fault, and the next call begins a whole new file.

    Parameters
    ----------
    folder : Path
        Where journals lie; made where it lacks.
    bound : int
        Size from which on the file is begun anew [bytes].
    """

    def __init__(self, folder: Path, bound: int = BOUND) -> None:
        self._folder = folder
        self._bound = bound
        self._lock: ProcessLock | None = None
        self._handle: int | None = None
        self._origin: Origin | None = None
        self._work: Work | None = None
        self._number = 0
        self._size = 0
        self._most = bound

    @property
    def path(self) -> Path | None:
        """The file, once there is one."""
        return None if self._lock is None else self._lock.path.with_suffix(END)

    def keep(self, origin: Origin, steps: Sequence[Step]) -> None:
        """Add steps and return when they lie on the disk.

        Raises
        ------
        OSError
            If the disk refuses; nothing of `steps` counts as kept then.
        """
        if not steps:
            return
        if self._handle is None or origin != self._origin or self._size > self._most:
            # Begun anew, the first of these steps stands for all before it.
            self._begin(origin, steps)
            return
        try:
            lines = _lines(self._number, self._work or origin.work, steps)
            write_all(self._handle, lines)
            disk.flush(self._handle)
        except BaseException:
            # What was written may be torn, and a failed flush must not be tried again.
            self._let_go()
            raise
        self._number += len(steps)
        self._size += len(lines)
        self._work = steps[-1].work

    def clear(self) -> None:
        """Take the file away: there is nothing to keep.

        Raises
        ------
        OSError
            If the disk refuses.
        """
        self._let_go()
        path = self.path
        if path is not None:
            with suppress(FileNotFoundError):
                disk.remove(path)

    def close(self) -> None:
        """Let go of file and lock; what lies on the disk stays and is an orphan then."""
        self._let_go()
        lock, self._lock = self._lock, None
        if lock is not None:
            lock.release()

    def _begin(self, origin: Origin, steps: Sequence[Step]) -> None:
        """Write head and steps whole beside the file and put it in its place."""
        number = self._number
        self._let_go()
        if self._lock is None:
            disk.make_folder(self._folder)
            self._lock = _new_lock(self._folder)
        target = self._lock.path.with_suffix(END)
        beside = self._lock.path.with_suffix(NEW_END)
        data = _line(_head_tree(number, origin)) + _lines(number, origin.work, steps)
        with suppress(FileNotFoundError):
            disk.remove(beside)
        handle = disk.create(beside)
        try:
            try:
                write_all(handle, data)
                disk.flush(handle)
            finally:
                disk.close(handle)
            disk.replace(beside, target)
        except BaseException:
            with suppress(OSError):
                disk.remove(beside)
            raise
        # Some network folders cannot; the file itself is safe.
        with suppress(OSError):
            disk.flush_folder(self._folder)
        self._handle = _open_to_append(target)
        self._number, self._size = number + len(steps), len(data)
        self._origin, self._work = origin, steps[-1].work
        # A recipe larger than the bound must not be written whole at every step.
        self._most = max(self._bound, 4 * len(data))

    def _let_go(self) -> None:
        handle, self._handle = self._handle, None
        self._origin = self._work = None
        if handle is not None:
            with suppress(OSError):
                disk.close(handle)


def _lines(number: int, before: Work, steps: Sequence[Step]) -> bytes:
    """Write steps, each by what it changed, numbered behind `number`."""
    data = b""
    for own, step in enumerate(steps, number + 1):
        data += _line(_step_tree(own, before, step))
        before = step.work
    return data


def _line(tree: Mapping[str, object]) -> bytes:
    # Everything outside ASCII is escaped, so that no line end hides in a text.
    payload = json.dumps(tree, separators=(",", ":")).encode("ascii")
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


def _head_tree(number: int, origin: Origin) -> dict[str, object]:
    return {
        "journal": JOURNAL_FORMAT,
        "number": number,
        "path": None if origin.path is None else str(origin.path),
        "stamp": _stamp_tree(origin.stamp),
        "studio": None if origin.studio is None else str(origin.studio),
        "recipe": recipe_tree(origin.work.recipe),
        "firings": {i: firing_tree(f) for i, f in origin.work.firings.items()},
        "firing_stamps": {i: _stamp_tree(stamp) for i, stamp in origin.firing_stamps.items()},
    }


def _stamp_tree(stamp: Stamp) -> dict[str, object]:
    return {"digest": stamp.digest, "size": stamp.size}


def _step_tree(number: int, before: Work, step: Step) -> dict[str, object]:
    tree: dict[str, object] = {"number": number, "words": step.words, "steps": step.steps}
    old, new = before.recipe, step.work.recipe
    if old.variants == new.variants and old.pinned == new.pinned:
        # Most of a recipe and seldom touched: not written out only to be compared.
        old, new = (replace(recipe, variants=(), pinned={}) for recipe in (old, new))
    was, now = recipe_tree(old), recipe_tree(new)
    if changed := {key: value for key, value in now.items() if was.get(key) != value}:
        tree["recipe"] = changed
    if gone := [key for key in was if key not in now]:
        tree["gone"] = gone
    firings, earlier = step.work.firings, before.firings
    if edited := {i: firing_tree(f) for i, f in firings.items() if earlier.get(i) != f}:
        tree["firings"] = edited
    if back := [i for i in earlier if i not in firings]:
        tree["firings_gone"] = back
    return tree


def _new_lock(folder: Path) -> ProcessLock:
    """Take a name that no other window has, numbered behind those that lie there."""
    found = (NAME.match(name) for name in disk.names(folder))
    number = max((int(known[1]) for known in found if known), default=0) + 1
    while True:
        name = f"{number:06d}-{secrets.token_hex(4)}"
        lock = take(folder / (name + LOCK_END))
        if lock is not None:
            return lock


def _open_to_append(path: Path) -> int:
    return os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
