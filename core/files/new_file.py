"""A new file: under a name of its own beside the one that it is made for, whole and on the disk.

The name says which computer, which process and which life of that process made
it, and ends in random letters. No two programs ever use the same one, be they
in two containers or on two computers of one name that share a folder; so
nobody takes or renames what another is writing.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import core.files.disk as disk
from core.files.computer import birth_of, computer, has_ended

_NAME_BYTES = 100
_PART = re.compile(r"\..*\.glost-([0-9a-f]{16})-(\d{1,10})-((?:[0-9a-f]+-\d+)?)-[0-9a-f]{8}\.part")

_in_use: set[str] = set()


@contextmanager
def beside(target: Path) -> Iterator[Path]:
    """Give a hidden name beside a file that no reader of ``*.yaml`` takes.

    Whoever asks makes the file, and renames or removes it in the end; if it
    comes to a fault first, it is taken away here.
    """
    name = target.name.encode("utf-8", "surrogateescape")[:_NAME_BYTES].decode("utf-8", "ignore")
    process = os.getpid()
    owner = f"{computer()}-{process}-{birth_of(process)}-{secrets.token_hex(4)}"
    own = target.with_name(f".{name}.glost-{owner}.part")
    _in_use.add(own.name)
    try:
        yield own
    except BaseException:
        with suppress(OSError):
            take_away(own)
        raise
    finally:
        _in_use.discard(own.name)


def write_new(path: Path, data: bytes, mode: int, exactly: int | None = None) -> None:
    """Make a file that must not exist yet, fill it, count it, flush it and close it.

    Parameters
    ----------
    path : Path
    data : bytes
    mode : int
        The most that the file is ever open for; the user's mask takes from it.
    exactly : int, optional
        The permissions that it has in the end, whatever the mask.

    Raises
    ------
    OSError
        If the disk refuses. A file may stand there then: it is the caller's to take away.
    """
    fill(disk.create(path, mode), path, data, exactly)


def fill(handle: int, path: Path, data: bytes, exactly: int | None = None) -> None:
    """Do what `write_new` does once the file is made; the handle is closed in any case."""
    try:
        write_all(handle, data)
        written = disk.status(path)
        if written.st_size != len(data):
            raise OSError(errno.EIO, os.strerror(errno.EIO), str(path))
        # Some file systems give every file one mode and refuse to be asked.
        if exactly is not None and stat.S_IMODE(written.st_mode) != exactly:
            disk.set_mode(path, exactly)
        disk.flush(handle)
    except BaseException:
        with suppress(OSError):
            disk.close(handle)
        raise
    # A network folder may tell of a full disk only now.
    disk.close(handle)


def write_all(handle: int, data: bytes) -> None:
    """Write until all bytes went.

    Raises
    ------
    OSError
        If the disk refuses, or takes nothing.
    """
    rest = memoryview(data)
    while rest:
        went = disk.write(handle, rest)
        if went <= 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        rest = rest[went:]


def take_away(path: Path) -> None:
    """Remove a file that this program made, a read-only one too."""
    try:
        disk.remove(path)
    except PermissionError:  # what Windows says of a read-only file
        disk.set_mode(path, 0o600)
        disk.remove(path)


def clean(folder: Path) -> None:
    """Take away what programs of this computer left behind when they were ended half way.

    What cannot be taken away lies there a while longer, and what another computer
    left lies there for good; nobody reads it.
    """
    with suppress(OSError):
        for name in disk.names(folder):
            if _is_left_behind(name):
                take_away(folder / name)


def _is_left_behind(name: str) -> bool:
    found = _PART.fullmatch(name)
    if found is None or found[1] != computer() or name in _in_use:
        return False
    process, birth = int(found[2]), found[3]
    own = process == os.getpid() and birth == birth_of(process)
    return own or has_ended(process, birth)
