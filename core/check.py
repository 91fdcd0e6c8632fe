"""Checking files without opening them in the window."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from core.bodies import read_bodies
from core.errors import InputError
from core.evaluate import evaluate
from core.firings import read_firing
from core.material_table import read_materials
from core.plain_yaml import read_file
from core.recipe_file import recipe_from
from core.schema import expect_kind
from core.studio import find_studio, open_studio

KINDS = ("studio", "recipe", "materials", "bodies", "firing", "run")


def yaml_files(path: Path) -> list[Path]:
    """Return the file itself, or the studio files below a folder.

    Raises
    ------
    InputError
        If there is no such file or folder.
    """
    if not path.exists():
        raise InputError("does not exist", "check the name", str(path))
    if not path.is_dir():
        return [path]
    files = [
        file
        for file in sorted(path.rglob("*.yaml"))
        if "backups" not in file.relative_to(path).parts
    ]
    if not files:
        raise InputError("holds no YAML files", "name a studio folder or a file", str(path))
    return files


def check_file(path: Path) -> Iterator[str]:
    """Check one file; yield what is odd about it though it is sound.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    document = read_file(path)
    kind = expect_kind(document, *KINDS)
    if kind == "studio":
        open_studio(path.parent)
    elif kind == "materials":
        for material in read_materials(path):
            yield from material.warnings
    elif kind == "bodies":
        read_bodies(path)
    elif kind == "firing":
        read_firing(path)
    elif kind == "recipe":
        recipe = recipe_from(document)
        evaluation = evaluate(recipe, open_studio(find_studio(path.parent)))
        for missing in evaluation.missing:
            yield f"the material {missing!r} is not in the tables"
        yield from evaluation.warnings
    else:
        yield "a run: only its YAML was checked"
