"""Reading a file that may have been cut short.

The beginning of a recipe can be a sound recipe by itself, with its variants,
notes and analyses gone. What was saved last is kept among the versions, so
that a file which ends in the middle of it is known for what it is.
"""

from __future__ import annotations

from pathlib import Path

import core.files.backups as backups
import core.files.disk as disk
from core.errors import InputError
from core.files.content import stamp_of
from core.plain_yaml import PlainYaml, read_file


def read_whole(path: Path) -> PlainYaml:
    """Read a file as `read_file` does, and refuse one that ends in the middle of what was saved.

    Somebody who means to leave the end away can do so: one more blank line, and
    the file is no longer a beginning of the saved one.

    Raises
    ------
    InputError
        If it cannot be read, or was cut short.
    """
    document = read_file(path)
    if backups.is_backup(path):
        return document
    try:
        known = backups.versions(disk.real(path))
        if not known or known[0].size <= document.stamp.size:
            return document
        saved = backups.read_version(known[0])
    except (InputError, OSError):  # without its versions nothing can be told
        return document
    if stamp_of(saved[: document.stamp.size]) == document.stamp:
        raise InputError(
            f"ends in the middle: {len(saved) - document.stamp.size} bytes less than were saved",
            "bring the saved version back; if the end was left away on purpose, add an empty line",
            str(path),
        )
    return document
