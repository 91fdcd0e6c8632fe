"""Saving a file so that a complete version stands in it at every instant.

The steps of `save`, each a call of `core.files.disk`:

1. the text is read back in memory; what would not come back is not saved;
2. what stands in the file must be what its reader knows, or the save stops;
   comments that a person wrote there are carried over;
3. the new bytes go into a file of their own in the same folder, are counted,
   flushed to the disk and closed;
4. the version that stands there goes into the backups;
5. one rename puts the new file in the old one's place;
6. the folder is flushed and the file is read back. Only then is it saved.

A fault before step 5 leaves the old file as it was and takes the new one away:
what failed to reach the disk is never flushed a second time, because a system
may forget a write that failed and call the second flush a success. A fault
after it raises `NotSettled`: the new version stands there, complete, but the
disk has not confirmed it.
"""

from __future__ import annotations

import errno
import os
import stat
import time
from collections.abc import Callable
from pathlib import Path

import core.files.backups as backups
import core.files.disk as disk
from core.errors import InputError
from core.files.content import ABSENT, Stamp, stamp_of
from core.files.new_file import beside, clean, write_new
from core.files.remarks import keep_remarks

LARGEST_REPLACED = 64_000_000
"""Bytes; a larger file is none of ours and is not replaced."""
RETRY_AFTER_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8)
"""How long to wait for another program to let go of a file on Windows; under 2 s in all."""

_SHARING = (5, 32, 33)
"""Windows: denied, used by another process, locked by another process."""


class ChangedOutside(InputError):  # noqa: N818 - what happened, not whose mistake
    """A file does not hold what was read from it: somebody else wrote or removed it.

    Parameters
    ----------
    file : Path
        The file as the caller named it.
    data : bytes or None
        What stands in it now; None if it is gone.
    """

    def __init__(self, file: Path, data: bytes | None) -> None:
        self.file = file
        self.data = data
        if data is None:
            what = "was taken away or renamed since it was opened"
            mend = "save under another name, or look where it went"
        else:
            what = "was changed by another program or computer since it was opened"
            mend = "save under another name, or open it again to see the change"
        super().__init__(what, mend, str(file))

    @property
    def stamp(self) -> Stamp:
        """Of what stands there now."""
        return ABSENT if self.data is None else stamp_of(self.data)


class NotSettled(OSError):  # noqa: N818
    """The new version stands in the file, complete, but the disk did not confirm it.

    A power cut might bring the old version back. The caller takes `stamp` as
    what it knows of the file and goes on calling the change unsaved; saving
    once more writes everything anew.
    """

    def __init__(self, stamp: Stamp, number: int, words: str, file: Path) -> None:
        super().__init__(number, words, str(file))
        self.stamp = stamp


def save(path: Path, text: str, reads_back: Callable[[str], object], known: Stamp | None) -> Stamp:
    """Put a text in place of what stands in a file, safely, and return its stamp.

    Symbolic links are followed and stay links. A second name of the file (a
    hard link) keeps the old version: it is how snapshots and other people's
    copies hold on to a version, and writing into the shared file could stop
    half way. The mode is kept; a new file gets what the user's mask allows.
    Owner and extended attributes become those of a file made by this user.

    Parameters
    ----------
    path : Path
    text : str
    reads_back : callable
        Given a text, raises `InputError` unless it reads back to what is saved.
    known : Stamp or None
        What the caller last knew to stand there, `ABSENT` for no file; None
        replaces whatever it is. The file is looked at again right before it is
        replaced, so that two programs miss each other only within that moment.

    Raises
    ------
    InputError
        If the text would not read back, or there is no ordinary file at `path`.
    ChangedOutside
        If something else stands there than `known`, unless it is this very text.
    NotSettled
        If the new version stands there and the disk did not confirm it.
    OSError
        If the disk refuses, or the version that stands there cannot be kept among
        the backups; the old file is as it was, and nothing else is left.
    """
    reads_back(text)
    target = disk.real(path)
    status = _status_to_replace(target)
    old = None if status is None else disk.read(target)
    data = (text if old is None else _with_remarks(old, text, reads_back)).encode("utf-8")
    # What is to be written may stand there already: a rename can be done and yet be told as failed.
    if known is not None and old != data and known != _stamp(old):
        raise ChangedOutside(path, old)

    def keep_and_look_again() -> None:
        if old is not None and old != data:
            backups.keep(target, old)
        now = _bytes_of(target)
        if now != old:
            raise ChangedOutside(path, now)

    return _put(target, data, status, keep_and_look_again)


def write_in_place(path: Path, text: str) -> Stamp:
    """Put a text in place in the same way, whatever stood there and without a backup.

    For what the program keeps for itself, counts and caches, and for an earlier version that
    comes back byte by byte.

    Raises
    ------
    NotSettled, OSError
        As `save` does.
    """
    target = disk.real(path)
    return _put(target, text.encode("utf-8"), _status_to_replace(target), lambda: None)


def _status_to_replace(target: Path) -> os.stat_result | None:
    """Return the status of the file that would be replaced, None if there is none."""
    try:
        status = disk.status(target)
    except FileNotFoundError:
        # Without its folder nothing can be put there; that fault comes first.
        disk.status(target.parent)
        return None
    if not stat.S_ISREG(status.st_mode):
        raise InputError("is no ordinary file", "choose another name", str(target))
    if status.st_size > LARGEST_REPLACED:
        raise InputError("is too large to be a studio's file", "choose another name", str(target))
    # A rename would go through; but whoever protected the file meant it.
    if not status.st_mode & 0o222 or not disk.may_write(target):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(target))
    return status


def _bytes_of(target: Path) -> bytes | None:
    try:
        return disk.read(target)
    except FileNotFoundError:
        return None


def _stamp(data: bytes | None) -> Stamp:
    return ABSENT if data is None else stamp_of(data)


def _with_remarks(old: bytes, text: str, reads_back: Callable[[str], object]) -> str:
    """Return the text with the comments of the old one, or as it is where that is not sound."""
    try:
        kept = keep_remarks(old.decode("utf-8"), text)
        if kept != text:
            reads_back(kept)
    except (InputError, UnicodeDecodeError):
        return text
    return kept


def _put(
    target: Path, data: bytes, status: os.stat_result | None, before: Callable[[], object]
) -> Stamp:
    """Write beside the target, do what comes `before`, and rename into place."""
    clean(target.parent)
    with beside(target) as temporary:
        if status is None:
            write_new(temporary, data, 0o666)
        else:
            # A private file is never open to others, not even for the time of a save.
            write_new(temporary, data, 0o600, stat.S_IMODE(status.st_mode))
        before()
        _replace(temporary, target)
    return _settle(target, data)


def _replace(temporary: Path, target: Path) -> None:
    """Rename into place; on Windows wait a little for scanners and sync programs to let go."""
    for pause in (*RETRY_AFTER_S, None):
        try:
            disk.replace(temporary, target)
            return
        except OSError as fault:
            if pause is None or getattr(fault, "winerror", None) not in _SHARING:
                raise
        time.sleep(pause)


def _settle(target: Path, data: bytes) -> Stamp:
    stamp = stamp_of(data)
    try:
        backups.flush_folder(target.parent)
        found = disk.read(target)
    except OSError as fault:
        raise _not_settled(stamp, fault, target) from fault
    if found != data:
        raise NotSettled(stamp, errno.EIO, "other bytes were read back than were written", target)
    return stamp


def _not_settled(stamp: Stamp, fault: OSError, target: Path) -> NotSettled:
    return NotSettled(stamp, fault.errno or errno.EIO, fault.strerror or str(fault), target)
