"""Every call that a save makes to the file system, one function each and nothing more.

They stand here so that each can be made to fail, once or for ever, and the
promises of a save can be tried at every step of it.
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path


def read(path: Path) -> bytes:
    """Return the bytes of a file."""
    return path.read_bytes()


def names(folder: Path) -> list[str]:
    """Return what lies in a folder, sorted by name."""
    return sorted(os.listdir(folder))


def real(path: Path) -> Path:
    """Return where a path leads once every symbolic link is followed."""
    return Path(os.path.realpath(path))


def may_write(path: Path) -> bool:
    """Tell whether the system would let this user write into a file."""
    return os.access(path, os.W_OK)


def status(path: Path) -> os.stat_result:
    """Return size, mode and the like of a file."""
    return os.stat(path)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it where they lack."""
    folder.mkdir(parents=True, exist_ok=True)


def create(path: Path, mode: int = 0o600) -> int:
    """Make a file that must not exist yet and return its handle, open for writing."""
    # On Windows line ends would be changed without O_BINARY.
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)


def write(handle: int, data: bytes | memoryview) -> int:
    """Write once and return how many bytes went; it may be fewer than given."""
    return os.write(handle, data)


def flush(handle: int) -> None:
    """Ask for the bytes to reach the disk itself, and wait."""
    if sys.platform == "darwin":
        import fcntl

        # There fsync leaves the bytes in the drive's own memory.
        try:
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
        except OSError as fault:
            # Network folders know no such call. A write that failed is no reason to go on.
            if fault.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                raise
    os.fsync(handle)


def close(handle: int) -> None:
    """Close a handle."""
    os.close(handle)


def set_mode(path: Path, mode: int) -> None:
    """Give a file its permissions."""
    os.chmod(path, mode)


def replace(source: Path, target: Path) -> None:
    """Put one file in the place of another in one step."""
    os.replace(source, target)


def remove(path: Path) -> None:
    """Take a file away."""
    os.unlink(path)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder last through a power cut, where the system lets us."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
