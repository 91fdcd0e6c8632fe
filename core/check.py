"""Checking files without opening them in the window."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path

from core.bodies import read_bodies
from core.errors import InputError
from core.evaluate import evaluate
from core.files.formats import in_present_format
from core.files.sync_copies import copy_words, original_of
from core.firing import read_firing
from core.material_table import read_materials
from core.plain_yaml import read_file
from core.recipe_file import recipe_from
from core.schema import expect_kind
from core.studio import Studio, find_studio, open_studio
from core.tiles.machine import clashes, held_letters, letter_from
from core.tiles.run import Run
from core.tiles.run_file import read_run, run_from

KINDS = ("studio", "recipe", "materials", "bodies", "firing", "run", "machine")


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


def check_file(
    path: Path, studios: dict[Path | None, Studio] | None = None, today: date | None = None
) -> Iterator[str]:
    """Check one file; yield what is odd about it though it is sound.

    Parameters
    ----------
    path : Path
    studios : dict, optional
        Studios that were read already, by folder; filled as more are needed.
    today : date, optional
        By the clock when left out; days beyond it are odd.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    studios = {} if studios is None else studios
    original = original_of(path)
    if original is not None:
        yield copy_words(path, original)
    document = in_present_format(read_file(path))
    kind = expect_kind(document, *KINDS)
    if kind == "studio":
        studio = _studio(path.parent, studios)
        for fault in studio.faults:
            yield str(fault)
        yield from clashes(held_letters(path.parent), _codes(studio))
    elif kind == "materials":
        for material in read_materials(path):
            yield from material.warnings
    elif kind == "bodies":
        read_bodies(path)
    elif kind == "firing":
        read_firing(path)
    elif kind == "recipe":
        recipe = recipe_from(document)
        evaluation = evaluate(recipe, _studio(find_studio(path.parent), studios))
        for missing in evaluation.missing:
            yield f"the material {missing!r} is not in the tables"
        yield from evaluation.warnings
    elif kind == "machine":
        letter_from(document)
    else:
        run = run_from(document)
        yield from run.oddities()
        yield from _unknown_to(run, _studio(find_studio(path.parent), studios))
        ahead = [day for day in _days_of(run) if day > (today or date.today()).isoformat()]
        if ahead:
            yield f"the day {max(ahead)} is still to come, by this computer's clock"


def _unknown_to(run: Run, studio: Studio) -> Iterator[str]:
    """Name the firing and the bodies that a studio does not know."""
    if run.firing and run.firing not in studio.firings:
        yield f"the firing {run.firing!r} is not in the tables"
    read = (tile.result.body for tile in run.tiles if tile.result is not None)
    for body in dict.fromkeys((run.body, *read)):
        if body and body not in studio.bodies:
            yield f"the body {body!r} is not in the tables"


def _days_of(run: Run) -> Iterator[str]:
    """Days on which something was done; a plan may lie ahead."""
    yield run.fired
    for tile in run.tiles:
        if tile.result is not None:
            yield tile.result.read
        yield from (test.day for test in tile.tests)


def _codes(studio: Studio) -> Iterator[str]:
    for path in studio.run_paths():
        # A run that cannot be read is told when its own file is checked.
        with suppress(InputError):
            yield from (tile.code for tile in read_run(path).tiles)


def _studio(folder: Path | None, studios: dict[Path | None, Studio]) -> Studio:
    if folder not in studios:
        studios[folder] = open_studio(folder)
    return studios[folder]
