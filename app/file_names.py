"""Names for new files."""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path


def file_stem(name: str) -> str:
    """Make a file name of a recipe's name.

    Examples
    --------
    >>> file_stem("Eider, ohne Kreide / 2")
    'eider-ohne-kreide-2'
    """
    plain = unicodedata.normalize("NFKD", name)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "glaze"


def free_file(folder: Path, stem: str) -> Path:
    """Return a YAML file of this name that is not there yet; numbered if need be."""
    number, path = 1, folder / f"{stem}.yaml"
    while os.path.lexists(path):
        number += 1
        path = folder / f"{stem}-{number}.yaml"
    return path
