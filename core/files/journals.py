"""The journals of a user: those that a crash left behind are found, held and put away."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import core.files.disk as disk
import core.files.state as state
from core.errors import InputError
from core.files.content import stamp_of_file
from core.files.journal import END, LOCK_END, NAME, NEW_END
from core.files.journal_reading import Kept, read
from core.files.process_lock import ProcessLock, take
from core.recipe_file import read_recipe
from core.studio import find_studio, open_studio

KEPT = 30
"""Journals that were put away and are still kept."""
_PUT_AWAY = "put-away"


def journal_folder() -> Path:
    """Return where the journals of this user lie."""
    return state.state_folder() / "journals"


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

    @property
    def is_put_away(self) -> bool:
        """Whether it lies among those that are not offered any more."""
        return self.path.parent != self._home

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
        target = folder / f"{number:06d}-{self.path.name[-8 - len(END) :]}"
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
        home = self._lock.path.with_suffix(END)
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
            lock = take(folder / (stem + LOCK_END))
        if lock is None:
            continue
        with suppress(OSError):
            disk.remove(folder / (stem + NEW_END))
        path = folder / (stem + END)
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
    known = [(int(found[1]), stem) for stem in stems if (found := NAME.fullmatch(stem))]
    return [stem for _, stem in sorted(known, reverse=True)]


def _says_nothing(kept: Kept, newer: Sequence[Orphan]) -> bool:
    """Tell whether nothing was done, or a newer journal holds the same."""
    if kept.last is None:
        return not kept.damaged
    return any(
        other.kept is not None
        and other.kept.last is not None
        and other.kept.origin.path == kept.origin.path
        and other.kept.origin.studio == kept.origin.studio
        and other.kept.last.work == kept.last.work
        for other in newer
    )
