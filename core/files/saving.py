"""Putting the text of a file in place in one step."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path


def write_in_place(path: Path, text: str) -> None:
    """Write a text beside its file, flush it to the disk and rename it into place.

    A write that fails leaves the old file as it was and no litter.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    target = Path(os.path.realpath(path))
    # A new file gets what the user's mask allows; mkstemp alone would give 0600.
    mode = target.stat().st_mode & 0o7777 if target.exists() else 0o666 & ~_umask()
    handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:80]}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, mode)
        os.replace(temporary, target)
    except BaseException:
        with suppress(OSError):
            os.unlink(temporary)
        raise
    _sync_folder(target.parent)


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the new name itself last through a power cut, where the system lets us."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:  # some network folders cannot; the file itself is safe
        pass
    finally:
        os.close(handle)
