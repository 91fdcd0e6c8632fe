"""A lock on a file that lasts as long as the process that holds it, however that ends."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path


class ProcessLock:
    """A held lock; `take` gives one."""

    def __init__(self, path: Path, handle: int) -> None:
        self.path = path
        self._handle: int | None = handle

    def release(self) -> None:
        """Let go, and take the file away; once is enough."""
        handle, self._handle = self._handle, None
        if handle is None:
            return
        # Windows keeps a file that is open; elsewhere it goes while it is held, so
        # that nobody takes a lock on a file that is about to go.
        with suppress(OSError):
            os.unlink(self.path)
        os.close(handle)
        if sys.platform == "win32":
            with suppress(OSError):
                os.unlink(self.path)


def take(path: Path) -> ProcessLock | None:
    """Take the lock of a file, which is made where it lacks; None while another holds it.

    Raises
    ------
    OSError
        If the file cannot be made, or the file system knows no locks.
    """
    while True:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0)
        handle = os.open(path, flags, 0o600)
        try:
            if not _locked(handle):
                os.close(handle)
                return None
            if _is(path, handle):
                return ProcessLock(path, handle)
        except BaseException:
            os.close(handle)
            raise
        # The one who held it has taken the file away meanwhile: its lock is worth nothing.
        os.close(handle)


def _locked(handle: int) -> bool:
    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True
    import fcntl

    try:
        # Not lockf: it is the process's, and lost when any handle of the file is closed.
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False
