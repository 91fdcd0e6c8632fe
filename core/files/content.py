"""What stands in a file, told by its bytes and never by its time."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Stamp:
    """The bytes of a file at one moment, by their SHA-256 [hex] and how many they are."""

    digest: str = ""
    size: int = 0

    def __bool__(self) -> bool:
        """Tell whether there was a file at all."""
        return bool(self.digest)


ABSENT = Stamp()
"""There is no such file."""


def stamp_of(data: bytes) -> Stamp:
    """Return the stamp of some bytes.

    Examples
    --------
    >>> stamp_of(b"talc") == stamp_of(b"talc"), stamp_of(b"talc") == stamp_of(b"clay")
    (True, False)
    """
    return Stamp(hashlib.sha256(data).hexdigest(), len(data))


def stamp_of_file(path: Path) -> Stamp:
    """Return the stamp of a file as it lies on the disk; `ABSENT` where there is none.

    Raises
    ------
    OSError
        If it is there and cannot be read.
    """
    try:
        return stamp_of(path.read_bytes())
    except FileNotFoundError:
        return ABSENT
