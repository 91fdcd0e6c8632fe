"""Whether a file is damaged, and which of its earlier versions is not."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from pathlib import Path

from core.bodies import read_bodies
from core.errors import InputError
from core.files.backups import Version
from core.files.content import Stamp, stamp_of_file
from core.files.formats import in_present_format
from core.files.restoring import newest_sound
from core.firing import read_firing
from core.material_table import read_materials
from core.plain_yaml import read_file
from core.recipe_file import recipe_from
from core.schema import FORMAT, expect_kind
from core.studio import STUDIO_FILE
from core.tiles.machine import letter_from
from core.tiles.run_file import run_from

_BY_NAME = {STUDIO_FILE: "studio", "materials.yaml": "materials", "bodies.yaml": "bodies"}
_BY_FOLDER = {"firings": "firing", "runs": "run", "machines": "machine"}


def read_alone(path: Path, kind: str) -> None:
    """Read a file of one kind, and nothing that it leans on.

    Raises
    ------
    InputError
        If it cannot be read as that.
    """
    if kind == "materials":
        read_materials(path)
    elif kind == "bodies":
        read_bodies(path)
    elif kind == "firing":
        read_firing(path)
    else:
        document = read_file(path)
        if kind == "recipe":
            recipe_from(document)
        elif kind == "run":
            run_from(document)
        elif kind == "machine":
            letter_from(document)
        else:
            expect_kind(in_present_format(document), kind)


@dataclass(frozen=True, slots=True)
class Damaged:
    """A file that cannot be read as what it is to be."""

    path: Path
    kind: str
    stamp: Stamp | None
    """Of the bytes that were found damaged; None where the disk cannot read them."""


def damaged_file(fault: Exception, opened: Path) -> Damaged | None:
    """Return the damaged file behind a fault of opening something.

    None where nothing is damaged: the file is not there, may not be read, is
    sound by itself, or is a sound file of another kind or a later format.

    Parameters
    ----------
    fault : Exception
        What opening raised.
    opened : Path
        The file that was opened; the fault may lie in one that it leans on.
    """
    if not isinstance(fault, InputError):
        return None
    named = Path(fault.source) if fault.source else opened
    path = named if named.is_file() else opened
    kind = _BY_NAME.get(path.name) or _BY_FOLDER.get(path.parent.name, "recipe")
    if not path.is_file():
        return None
    try:
        # Taken first: should it be mended in between, the stamp is of the damage.
        stamp = stamp_of_file(path)
    except OSError:
        stamp = None
    try:
        read_alone(path, kind)
    except InputError as own:
        cause = own.__cause__
        unreadable = isinstance(cause, OSError) and cause.errno != errno.EIO
        return None if unreadable or _is_another_matter(path, kind) else Damaged(path, kind, stamp)
    return None


def newest_undamaged(path: Path, kind: str) -> Version | None:
    """Return the newest earlier version of a file that reads as its kind, or None."""
    return newest_sound(path, lambda version: read_alone(version, kind))


def _is_another_matter(path: Path, kind: str) -> bool:
    """Tell whether a file is none of ours, or of another kind or format, and whole as such."""
    try:
        tree = read_file(path).tree
    except InputError:
        return False
    if not isinstance(tree, dict):
        return False
    return tree.get("glost", FORMAT) != FORMAT or tree.get("kind", kind) != kind
