"""Files of every released format open, and mean what is written down beside them.

The promise for every later version: a sample is never changed and never taken out.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml

from core.bodies import read_bodies
from core.check import check_file
from core.firing import firing_text, read_firing
from core.material_table import read_materials
from core.plain_yaml import read_file
from core.recipe_file import read_recipe, recipe_text
from core.studio import open_studio
from core.tiles.machine import letter_from, letter_text
from core.tiles.run_file import read_run, run_text

FOLDER = Path(__file__).parents[2] / "samples"
SAMPLES = sorted((FOLDER / "format-1").glob("*.yaml"))
EXPECTED = yaml.safe_load((FOLDER / "format-1-expected.yaml").read_text(encoding="utf-8"))
WRITERS = {"recipe": recipe_text, "run": run_text, "firing": firing_text, "machine": letter_text}


def _kind(path: Path) -> str:
    return str(yaml.load(path.read_bytes(), yaml.BaseLoader)["kind"])


def _opened(path: Path, folder: Path) -> Any:
    kind = _kind(path)
    if kind == "studio":
        shutil.copy(path, folder / "studio.yaml")
        return open_studio(folder)
    readers = {
        "recipe": read_recipe,
        "run": read_run,
        "firing": read_firing,
        "materials": lambda p: list(read_materials(p)),
        "bodies": read_bodies,
        "machine": lambda p: letter_from(read_file(p)),
    }
    return readers[kind](path)


def _at(value: Any, path: str) -> Any:
    for step in path.split("."):
        if step == "#":
            value = len(value)
        elif isinstance(value, Mapping):
            value = value[step]
        elif step.isdigit():
            value = value[int(step)]
        else:
            value = getattr(value, step)
    return _plain(value)


def _plain(value: Any) -> Any:
    """As YAML would write it."""
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, Enum):
        return value.value
    return bool(value) if type(value).__name__ == "Flag" else value


def test_there_are_twenty_of_every_kind():
    assert len(SAMPLES) == 20
    assert {path.name for path in SAMPLES} == set(EXPECTED)
    kinds = {_kind(path) for path in SAMPLES}
    assert kinds == {"recipe", "run", "firing", "materials", "bodies", "studio", "machine"}


def test_some_are_typed_by_hand_as_people_type():
    data = {path.name: path.read_bytes() for path in SAMPLES}
    assert b"\r\n" in data["recipe-crlf.yaml"]
    assert data["recipe-bom.yaml"].startswith(b"\xef\xbb\xbf")
    assert sum(b"# " in one for one in data.values()) >= 6


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_each_is_marked_as_invented(path):
    assert b"nvented" in path.read_bytes()


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_each_opens_and_means_what_the_table_says(path, tmp_path):
    value = _opened(path, tmp_path)
    expected = EXPECTED[path.name]
    assert {place: _at(value, place) for place in expected} == expected


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_each_is_called_sound(path, tmp_path):
    target = tmp_path / ("studio.yaml" if _kind(path) == "studio" else path.name)
    shutil.copy(path, target)
    assert all(isinstance(said, str) for said in check_file(target))


@pytest.mark.parametrize(
    "path", [path for path in SAMPLES if _kind(path) in WRITERS], ids=lambda path: path.name
)
def test_each_that_the_program_writes_comes_back_as_it_was(path, tmp_path):
    write = WRITERS[_kind(path)]
    value = _opened(path, tmp_path)
    again = tmp_path / path.name
    again.write_bytes(write(value).encode("utf-8"))
    assert _opened(again, tmp_path) == value
    assert write(_opened(again, tmp_path)).encode("utf-8") == again.read_bytes()
