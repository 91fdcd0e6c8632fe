"""Photos of a studio: a file is copied into the folder as it is, under a name of its own."""

from __future__ import annotations

import os
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import BinaryIO, Final

from PySide6.QtCore import QMimeDatabase

_LONGEST_STEM: Final = 80
_BLOCK: Final = 1 << 20
_UNUSABLE: Final = frozenset('<>:"/\\|?*')
"""In the name of a file, on one system or another."""


def is_photo(path: Path) -> bool:
    """Tell whether a file is an ordinary one and some kind of picture, shown here or not."""
    kind = QMimeDatabase().mimeTypeForFile(str(path)).name()
    return path.is_file() and kind.startswith("image/")


def is_plain_name(name: str) -> bool:
    """Tell whether a stored name stays inside the folder."""
    return bool(name) and name not in (".", "..") and not _UNUSABLE & set(name)


def copy_photo(source: Path, folder: Path) -> str:
    """Copy a photo, byte by byte, and return the name it got; never over another file.

    A file that already lies in the folder is not copied.

    Raises
    ------
    OSError
        If the disk refuses; no half a copy is left.
    """
    folder.mkdir(exist_ok=True)
    if source.resolve().parent == folder.resolve() and is_plain_name(source.name):
        return source.name
    with source.open("rb") as original:
        name, copy = _create(folder, source)
        try:
            with copy:
                while block := original.read(_BLOCK):
                    copy.write(block)
                copy.flush()
                os.fsync(copy.fileno())
        except BaseException:
            with suppress(OSError):
                (folder / name).unlink()
            raise
    return name


def _create(folder: Path, source: Path) -> tuple[str, BinaryIO]:
    stem, suffix = (
        "".join("-" if c in _UNUSABLE or not c.isprintable() else c for c in part)
        for part in (source.stem[:_LONGEST_STEM], source.suffix[:16])
    )
    for number in count(1):
        name = f"{stem}{suffix}" if number == 1 else f"{stem}-{number}{suffix}"
        try:
            # Fails where the name is taken, even by a link or in other letters' case.
            return name, (folder / name).open("xb")
        except FileExistsError:
            continue
    raise AssertionError("there is always a further number")
