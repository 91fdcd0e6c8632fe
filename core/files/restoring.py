"""Bringing an earlier version back, and setting a damaged file aside; nothing is written over."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import core.files.backups as backups
import core.files.disk as disk
from core.errors import InputError
from core.files.backups import Version
from core.files.content import ABSENT, Stamp, stamp_of
from core.files.saving import ChangedOutside, save, write_in_place


def newest_sound(path: Path, read: Callable[[Path], object]) -> Version | None:
    """Return the newest version that can be read; None if there is none.

    Parameters
    ----------
    path : Path
        The file.
    read : callable
        Reads the file of a version, and raises InputError if it is not sound.
    """
    try:
        known = backups.versions(path)
    except OSError:
        return None
    for version in known:
        with suppress(InputError, OSError):
            backups.read_version(version)  # the bytes are those that were kept
            read(version.path)
            return version
    return None


def restore(path: Path, version: Version) -> None:
    """Write a version back to its file; what stands there now is kept first.

    Raises
    ------
    OSError
        If the disk refuses; the file is as it was then.
    InputError
        If the version is not sound.
    """
    text = backups.read_version(version).decode("utf-8")
    with suppress(FileNotFoundError):
        backups.keep(path, disk.read(path))
    write_in_place(path, text)


def set_aside(path: Path) -> Path:
    """Move a damaged file to a name beside it that is never loaded, and return that.

    ``eider.yaml`` becomes ``eider.yaml.damaged-1``, or the next number that is free.

    Raises
    ------
    OSError
        If it cannot be moved; it is where it was then.
    """
    number = 1
    while True:
        aside = path.with_name(f"{path.name}.damaged-{number}")
        try:
            # Taking the name first means that nothing there is ever written over.
            handle = disk.create(aside)
            break
        except FileExistsError:
            number += 1
    try:
        disk.close(handle)
        disk.replace(path, aside)
    except OSError:
        with suppress(OSError):
            disk.remove(aside)
        raise
    with suppress(OSError):  # it lies there whole under the one name or the other
        disk.flush_folder(path.parent)
    return aside


def restore_damaged(path: Path, version: Version, known: Stamp | None) -> Path:
    """Set a damaged file aside, write a version in its place, and return where it is now.

    Parameters
    ----------
    path : Path
    version : Version
    known : Stamp or None
        Of what was found damaged; None where the disk could not even read it.

    Raises
    ------
    ChangedOutside
        If something else stands there by now: it may be sound. Nothing of it was
        moved; what was damaged lies aside if it was written over in the very moment.
    OSError
        If the disk refuses; the damaged file is where it was then.
    InputError
        If the version is not sound; nothing was moved then.
    """
    text = backups.read_version(version).decode("utf-8")
    now, data = None, None
    try:
        data = disk.read(path)
        now = stamp_of(data)
    except FileNotFoundError:
        now = ABSENT
    except OSError:
        if known is not None:
            raise
    if now != known:
        raise ChangedOutside(path, data)
    aside = set_aside(path)
    try:
        save(path, text, lambda _text: None, ABSENT)
    except BaseException:
        with suppress(OSError):
            _put_back(aside, path)
        raise
    return aside


def _put_back(aside: Path, path: Path) -> None:
    try:
        disk.status(path)
    except FileNotFoundError:
        disk.replace(aside, path)
