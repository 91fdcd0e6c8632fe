"""A lock on a file that lasts as long as the process that holds it, however that ends."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_WAITS = 30
"""Windows waits 10 s at a time; five minutes in all."""


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


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold the lock of a file, after waiting for it; the system lets go even if the program dies.

    Raises
    ------
    OSError
        If the file cannot be made, the file system knows no locks, or the lock
        did not come free in the time that the system waits.
    """
    lock = take(path, wait=True)
    if lock is None:
        raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN), str(path))
    try:
        yield
    finally:
        lock.release()


def take(path: Path, wait: bool = False) -> ProcessLock | None:
    """Take the lock of a file, which is made where it lacks; None while another holds it.

    Parameters
    ----------
    path : Path
    wait : bool
        Wait until the other lets go; on Windows for five minutes at most.

    Raises
    ------
    OSError
        If the file cannot be made, or the file system knows no locks.
    """
    while True:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0)
        handle = os.open(path, flags, 0o600)
        try:
            if not _locked(handle, wait):
                os.close(handle)
                return None
            if _is(path, handle):
                return ProcessLock(path, handle)
        except BaseException:
            os.close(handle)
            raise
        # The one who held it has taken the file away meanwhile: its lock is worth nothing.
        os.close(handle)


def _locked(handle: int, wait: bool) -> bool:
    if sys.platform == "win32":
        import msvcrt

        for _ in range(_WAITS if wait else 1):
            try:
                msvcrt.locking(handle, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
            except OSError as fault:
                # Refused at once, or after the ten seconds that it waits.
                if fault.errno not in (errno.EACCES, errno.EDEADLK):
                    raise
                continue
            return True
        return False
    import fcntl

    try:
        # Not lockf: it is the process's, and lost when any handle of the file is closed.
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False
