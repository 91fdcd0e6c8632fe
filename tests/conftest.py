"""What several tests lean on: the arithmetic fixture, the shipped studio, the reference tables.

Recipes and tables are values that nothing changes, so they are made once.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import settings

from core.files import state
from core.plain_yaml import parse
from core.recipe import Ingredient, Recipe
from core.recipe_file import recipe_from
from core.studio import Studio

DATA = Path(__file__).parent / "data"

# Every run tries the same examples: a failure can be repeated, and a machine
# under load is no fault of the code.
settings.register_profile("repeatable", deadline=None, derandomize=True, database=None)
settings.load_profile("repeatable")

FIXTURE_TEXT = """\
glost: "1"
kind: recipe
name: "Fixture"
firing: "cone-10-medium"
body: "stoneware"
base:
  - {material: "potash-feldspar", parts: "42"}
  - {material: "talc", parts: "16"}
  - {material: "whiting", parts: "12"}
  - {material: "kaolin", parts: "20"}
  - {material: "silica", parts: "10"}
additions: []
variants: []
notes: ""
"""


@pytest.fixture(scope="session")
def fixture_text() -> str:
    """The arithmetic fixture as the text of its file; nobody fired it."""
    return FIXTURE_TEXT


@pytest.fixture(scope="session")
def fixture_recipe() -> Recipe:
    """The arithmetic fixture, ideal minerals, total 100."""
    return recipe_from(parse(FIXTURE_TEXT, "fixture.yaml"))


@pytest.fixture(scope="session")
def studio() -> Studio:
    """The shipped tables alone."""
    return Studio()


@pytest.fixture(scope="session")
def base_of():
    """Make a recipe from material=parts, underscores standing for hyphens."""

    def make(**parts: float) -> Recipe:
        rows = (Ingredient(m.replace("_", "-"), float(p)) for m, p in parts.items())
        return Recipe("Test", base=tuple(rows))

    return make


def _table(name: str) -> Any:
    return yaml.safe_load((DATA / name).read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def minerals() -> Any:
    """Ideal raw materials and atomic weights; see the sources in the file."""
    return _table("minerals.yaml")


@pytest.fixture(scope="session")
def cone_chart() -> Any:
    """The cone maker's chart, published columns; see the sources in the file."""
    return _table("cones.yaml")


@pytest.fixture(autouse=True)
def state_folder(tmp_path_factory, monkeypatch) -> Path:
    """Keep what the program keeps for the user out of the user's own folders."""
    folder = tmp_path_factory.getbasetemp() / "state"
    monkeypatch.setattr(state, "state_folder", lambda: folder)
    return folder


@pytest.fixture(autouse=True, scope="module")
def _looked_through_once() -> Iterator[None]:
    """Spare Python's collector what outlives a module of tests: it looked through all of it anew.

    Modules, tables and Qt's classes come to hundreds of megabytes; a full round over
    them takes longer than most tests.
    """
    yield
    gc.collect()
    gc.freeze()
