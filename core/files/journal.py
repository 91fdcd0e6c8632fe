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

import errno
import json
import os
import re
import secrets
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import platformdirs

import core.files.disk as disk
from core.errors import InputError
from core.files.content import ABSENT, Stamp, stamp_of_file
from core.files.process_lock import ProcessLock, take
from core.firing import Firing
from core.firing.files import firing_from, firing_tree
from core.plain_yaml import DEEPEST, LARGEST_FILE, MOST_VALUES, Tree, parse, write
from core.recipe import Recipe
from core.recipe_file import read_recipe, recipe_from, recipe_tree
from core.studio import find_studio, open_studio

JOURNAL_FORMAT = "1"
BOUND = 1_000_000
"""Bytes; a journal that grows beyond is begun anew with the state as it then stands."""
LARGEST_JOURNAL = 4 * LARGEST_FILE
"""Bytes; more is no journal of ours."""
KEPT = 30
"""Journals that were put away and are still kept."""
_END, _LOCK, _NEW, _PUT_AWAY = ".journal", ".lock", ".new", "put-away"
_LINE = re.compile(rb"([1-9][0-9]{0,8}) ([0-9a-f]{8}) ")
_NAME = re.compile(r"(\d{6,12})-[0-9a-f]{8}")
_MOST_STEPS_BACK = 50
"""States tried from the last one backwards, should it not read as a file would."""
_ASIDE = "it is put aside"
T = TypeVar("T", bound=msgspec.Struct)


def journal_folder() -> Path:
    """Return where the journals of this user lie."""
    return Path(platformdirs.user_state_dir("glost", appauthor=False)) / "journals"


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


@dataclass(frozen=True, slots=True)
class Step:
    """One step, and what stands after it."""

    words: str
    """What the step is called."""
    steps: int
    """How many steps the state is away from the last save."""
    work: Work


@dataclass(frozen=True, slots=True)
class Kept:
    """What a journal gave back."""

    origin: Origin
    last: Step | None
    """The last step that reads; None when nothing was done since the save."""
    damaged: bool = False
    """Whether sound lines may stand behind a bad one, or a later state did not read."""


class _Stamp(msgspec.Struct):
    digest: str
    size: int


class _Head(msgspec.Struct):
    journal: str
    number: int
    path: str | None
    stamp: _Stamp
    studio: str | None
    recipe: dict[str, Any]
    firings: dict[str, Any]


class _StepRecord(msgspec.Struct):
    number: int
    words: str
    steps: int
    recipe: dict[str, Any] = {}
    gone: list[str] = []
    firings: dict[str, Any] = {}
    firings_gone: list[str] = []


class Journal:
    """Writes the journal of one window.

    Every method may raise OSError; nothing that was acknowledged before is
    lost by it, and the next call begins a whole new file.

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
        return None if self._lock is None else self._lock.path.with_suffix(_END)

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
        lines = _lines(self._number, self._work or origin.work, steps)
        try:
            _write_all(self._handle, lines)
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
        target = self._lock.path.with_suffix(_END)
        beside = self._lock.path.with_suffix(_NEW)
        data = _line(_head_tree(number, origin)) + _lines(number, origin.work, steps)
        with suppress(FileNotFoundError):
            disk.remove(beside)
        handle = disk.create(beside)
        try:
            try:
                _write_all(handle, data)
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


class Orphan:
    """A journal that was left behind, held so that no other window takes it too.

    Attributes
    ----------
    path : Path
        Where it lies now.
    name : str
        Tells it from others, wherever it lies.
    kept : Kept or None
        What it gives back; None when it does not read.
    fault : InputError or None
        Why it does not read.
    """

    def __init__(self, path: Path, lock: ProcessLock) -> None:
        self.path = path
        self.name = path.stem
        self.kept: Kept | None = None
        self.fault: InputError | None = None
        self._lock = lock
        self._home = path.parent
        try:
            self.kept = read(path)
        except InputError as fault:
            self.fault = fault

    def put_away(self) -> None:
        """Move it among the last `KEPT` that are kept for a while; it is offered no more.

        Raises
        ------
        OSError
            If the disk refuses; it stays where it is then.
        """
        folder = self._home / _PUT_AWAY
        disk.make_folder(folder)
        known = sorted(name for name in disk.names(folder) if re.match(r"\d{6}-", name))
        number = int(known[-1][:6]) + 1 if known else 1
        target = folder / f"{number:06d}-{self.path.name[-8 - len(_END) :]}"
        disk.replace(self.path, target)
        self.path = target
        for name in known[: max(0, len(known) + 1 - KEPT)]:
            with suppress(OSError):
                disk.remove(folder / name)

    def take_back(self) -> None:
        """Undo `put_away`.

        Raises
        ------
        OSError
            If the disk refuses, or it is gone by now.
        """
        home = self._lock.path.with_suffix(_END)
        disk.replace(self.path, home)
        self.path = home

    def let_go(self) -> None:
        """Give it up: where it still lies, the next start finds it again."""
        self._lock.release()


def orphans(folder: Path) -> list[Orphan]:
    """Return the journals in a folder that no living process holds, the newest first.

    Those that hold nothing unsaved are taken away, and so is what a crash
    left lying about. Of two that hold the same state the newer is given.

    Raises
    ------
    OSError
        If the folder cannot be read.
    """
    try:
        names = disk.names(folder)
    except FileNotFoundError:
        return []
    found: list[Orphan] = []
    for stem in _stems(names):
        lock = None
        # Where it cannot be locked it may be in use.
        with suppress(OSError):
            lock = take(folder / (stem + _LOCK))
        if lock is None:
            continue
        with suppress(OSError):
            disk.remove(folder / (stem + _NEW))
        path = folder / (stem + _END)
        if not path.exists():
            lock.release()
            continue
        orphan = Orphan(path, lock)
        if orphan.kept is not None and _says_nothing(orphan.kept, found):
            with suppress(OSError):
                orphan.put_away()
            orphan.let_go()
        else:
            found.append(orphan)
    return found


def is_saved(kept: Kept) -> bool:
    """Tell whether the files hold the kept state already: the crash came after the save."""
    path = kept.origin.path
    if path is None or kept.last is None:
        return False
    work = kept.last.work
    try:
        now = stamp_of_file(path)
        if now == kept.origin.stamp:
            return bool(now) and work == kept.origin.work
        recipe = read_recipe(path)
        firings = open_studio(find_studio(path.parent)).firings if work.firings else {}
    except (InputError, OSError):
        return False
    # A save pins the analyses, which the bench does not.
    same = replace(recipe, pinned={}) == replace(work.recipe, pinned={})
    return same and all(firings.get(i) == firing for i, firing in work.firings.items())


def _stems(names: Sequence[str]) -> list[str]:
    """Return the names of sessions, the newest first, by their numbers."""
    stems = {name.rpartition(".")[0] for name in names}
    known = [(int(found[1]), stem) for stem in stems if (found := _NAME.fullmatch(stem))]
    return [stem for _, stem in sorted(known, reverse=True)]


def _says_nothing(kept: Kept, newer: Sequence[Orphan]) -> bool:
    """Tell whether nothing was done, or a newer journal holds the same."""
    if kept.last is None:
        return not kept.damaged
    return any(
        other.kept is not None
        and other.kept.last is not None
        and other.kept.origin.path == kept.origin.path
        and other.kept.last.work == kept.last.work
        for other in newer
    )


def read(path: Path) -> Kept:
    """Read a journal up to its first bad line.

    Raises
    ------
    InputError
        If it has no sound head, or what it holds would not read as a file.
    """
    source = path.name
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_JOURNAL + 1)
    except OSError as fault:
        raise InputError(
            f"cannot be read ({fault.strerror or fault})", "check its rights", source
        ) from fault
    return read_bytes(data, source)


def read_bytes(data: bytes, source: str) -> Kept:
    """Read the bytes of a journal; see `read`.

    Raises
    ------
    InputError
        If there is no sound head, or what it holds would not read as a file.
    """
    if len(data) > LARGEST_JOURNAL:
        raise InputError("is too large for a journal", _ASIDE, source)
    lines = _SoundLines(data)
    payloads = iter(lines)
    head = _record(next(payloads, b""), _Head, source)
    if head.journal != JOURNAL_FORMAT:
        raise InputError(
            f"has the format {head.journal[:20]!r}, this program reads {JOURNAL_FORMAT!r}",
            "start the Glost that wrote it",
            source,
        )
    origin = Origin(
        _work(head.recipe, head.firings, source),
        None if head.path is None else Path(head.path),
        Stamp(head.stamp.digest, head.stamp.size),
        None if head.studio is None else Path(head.studio),
    )
    number, recipe, firings = head.number, head.recipe, head.firings
    states: list[tuple[_StepRecord, dict[str, Any], dict[str, Any]]] = []
    damaged = False
    for payload in payloads:
        try:
            step = _record(payload, _StepRecord, source)
        except InputError:
            damaged = True
            break
        if step.number != number + 1:
            damaged = True
            break
        number = step.number
        recipe = {k: v for k, v in recipe.items() if k not in step.gone} | step.recipe
        kept = {k: v for k, v in firings.items() if k not in step.firings_gone}
        firings = kept | step.firings
        states.append((step, recipe, firings))
    last, skipped = _last_that_reads(states, source)
    return Kept(origin, last, damaged or lines.damaged or skipped)


def _last_that_reads(
    states: Sequence[tuple[_StepRecord, dict[str, Any], dict[str, Any]]], source: str
) -> tuple[Step | None, bool]:
    """Return the last step whose state a file could hold, and whether later ones could not."""
    first: InputError | None = None
    for step, recipe, firings in reversed(states[-_MOST_STEPS_BACK:]):
        try:
            work = _work(recipe, firings, source)
        except InputError as fault:
            first = first or fault
            continue
        return Step(step.words, step.steps, work), first is not None
    if first is not None:
        raise first
    return None, False


class _SoundLines:
    """The sound lines of a journal from its beginning, without their heads."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.damaged = False
        """Whether something stands behind the line that ended the reading."""

    def __iter__(self) -> Iterator[bytes]:
        data, start = self._data, 0
        while start < len(data):
            payload = _payload(data, start)
            if payload is None:
                end = data.find(b"\n", start)
                self.damaged = 0 <= end < len(data) - 1
                return
            yield payload
            start = data.index(b"\n", start + len(payload)) + 1


def _payload(data: bytes, start: int) -> bytes | None:
    """Return what the line that begins at `start` holds; None if it is torn or changed."""
    found = _LINE.match(data, start)
    if found is None:
        return None
    end = found.end() + int(found[1])
    payload = data[found.end() : end]
    sound = zlib.crc32(payload) == int(found[2], 16)
    return payload if sound and data[end : end + 1] == b"\n" else None


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
        "stamp": {"digest": origin.stamp.digest, "size": origin.stamp.size},
        "studio": None if origin.studio is None else str(origin.studio),
        "recipe": recipe_tree(origin.work.recipe),
        "firings": {i: firing_tree(f) for i, f in origin.work.firings.items()},
    }


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


def _record(payload: bytes, kind: type[T], source: str) -> T:
    try:
        return msgspec.convert(json.loads(payload), kind)
    # Much nested text runs into the recursion limit before anything is built.
    except (ValueError, RecursionError, msgspec.ValidationError) as fault:
        raise InputError("holds a line that is no step", _ASIDE, source) from fault


def _work(recipe: Mapping[str, Any], firings: Mapping[str, Any], source: str) -> Work:
    """Build the state; what stands in a journal goes through the checks of a file."""
    read_firings = {}
    for firing_id, tree in firings.items():
        firing = firing_from(parse(write(_plain(tree, source)), source))
        if firing.id != firing_id:
            raise InputError(f"keeps the firing {firing.id!r} under another id", _ASIDE, source)
        read_firings[firing_id] = firing
    return Work(recipe_from(parse(write(_plain(dict(recipe), source)), source)), read_firings)


def _plain(tree: Any, source: str) -> Tree:
    """Check without recursion that a tree is text, lists and mappings, and of a file's depth."""
    waiting, seen = [(tree, 1)], 0
    while waiting:
        value, depth = waiting.pop()
        seen += 1
        if seen > MOST_VALUES or depth > DEEPEST + 1:
            raise InputError("holds more than a file may", _ASIDE, source)
        if isinstance(value, dict):
            waiting += [(inner, depth + 1) for inner in value.values()]
        elif isinstance(value, list):
            waiting += [(inner, depth + 1) for inner in value]
        elif not isinstance(value, str):
            raise InputError("holds a value that is no text", _ASIDE, source)
    checked: Tree = tree
    return checked


def _new_lock(folder: Path) -> ProcessLock:
    """Take a name that no other window has, numbered behind those that lie there."""
    found = (_NAME.match(name) for name in disk.names(folder))
    number = max((int(known[1]) for known in found if known), default=0) + 1
    while True:
        name = f"{number:06d}-{secrets.token_hex(4)}"
        lock = take(folder / (name + _LOCK))
        if lock is not None:
            return lock


def _write_all(handle: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        written = disk.write(handle, bytes(view))
        if written <= 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        view = view[written:]


def _open_to_append(path: Path) -> int:
    return os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
