"""Attaching photos to tiles: which goes where, and copying them in the background."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.photo_files import copy_photo, is_photo
from app.worker import Task, run_in_background
from core.errors import InputError
from core.tiles.codes import tidy

Pairs = tuple[tuple[str, Path], ...]
"""Codes of tiles and the photos that go to them."""


def match_photos(photos: Sequence[Path], codes: Sequence[str], first: str) -> Pairs:
    """Tell which photo goes to which tile.

    A file whose name holds a code, such as "KHJLQ.jpg" or "wall khjlq 2.jpg",
    goes to that tile; the others go, in their order, to the tile `first` and
    those after it that have none yet.

    Raises
    ------
    InputError
        If a file is no picture, two go to one tile, or there are more photos than tiles.
    """
    given: dict[str, Path] = {}
    loose = []
    known = set(codes)
    for photo in photos:
        if not is_photo(photo):
            raise InputError(f"{photo.name} is no picture", "choose photos")
        named = [w for w in map(tidy, re.split(r"[\s._-]+", photo.stem)) if w in known]
        if not named or len(photos) == 1:
            loose.append(photo)
        elif named[0] in given:
            raise InputError(
                f"{given[named[0]].name} and {photo.name} both name the tile {named[0]}",
                "choose one of them",
            )
        else:
            given[named[0]] = photo
    place = codes.index(first) if first in known else 0
    free = [code for code in codes[place:] if code not in given]
    if len(loose) > len(free):
        raise InputError(
            f"{len(loose)} photos are too many for the {len(free)} tiles from {first} on",
            "choose fewer, or begin at an earlier tile",
        )
    given.update(zip(free, loose, strict=False))
    return tuple((code, given[code]) for code in codes if code in given)


class PhotoBatch(QObject):
    """Copies photos into the studio one after the other; all of them count, or none."""

    progressed = Signal(int, int)
    """How many are copied, of how many."""
    finished = Signal(object)
    """Names of the copies by code."""
    stopped = Signal(str)
    """Nothing was attached; with the reason, empty if it was asked for."""

    def __init__(self, folder: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._folder = folder
        self._waiting: list[tuple[str, Path]] = []
        self._done: dict[str, str] = {}
        self._made: list[Path] = []
        self._many = 0
        self._task: Task | None = None

    @property
    def is_busy(self) -> bool:
        """Whether photos are being copied."""
        return self._many > 0

    def begin(self, pairs: Pairs) -> None:
        """Begin to copy; one batch at a time."""
        if self.is_busy or not pairs:
            return
        self._waiting, self._done, self._made = list(pairs), {}, []
        self._many = len(pairs)
        self.progressed.emit(0, self._many)
        if self.is_busy:
            self._next()

    def cancel(self) -> None:
        """Stop, and take away what was copied so far."""
        if self.is_busy:
            self._stop("")

    def _next(self) -> None:
        _, photo = self._waiting[0]
        folder, batch = self._folder, self._made

        def copy() -> str:
            before = folder / photo.name
            own = photo.resolve().parent == folder.resolve()
            name = copy_photo(photo, folder)
            # A photo that lay in the folder already is not ours to take away.
            if not (own and name == before.name):
                batch.append(folder / name)
            if self._made is not batch:  # stopped while this one was being copied
                _remove(batch)
            return name

        self._task = run_in_background(self, copy, self._on_copied, self._on_failed)

    def _on_copied(self, name: str) -> None:
        code, _ = self._waiting.pop(0)
        self._done[code] = name
        self.progressed.emit(len(self._done), self._many)
        if not self.is_busy:  # stopped by who was told
            return
        if self._waiting:
            self._next()
            return
        done, self._many, self._made = self._done, 0, []
        self.finished.emit(done)

    def _on_failed(self, fault: Exception) -> None:
        self._stop(str(fault))

    def _stop(self, reason: str) -> None:
        if self._task is not None:
            self._task.drop()
        made, self._made = self._made, []
        _remove(made)
        self._waiting, self._many = [], 0
        self.stopped.emit(reason)


def _remove(files: list[Path]) -> None:
    while files:
        # Both threads may be at it when a batch is stopped.
        with suppress(OSError, IndexError):
            files.pop().unlink()
