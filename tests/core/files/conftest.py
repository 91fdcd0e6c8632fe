import os

import pytest

from core.files import disk
from core.files.content import stamp_of
from core.files.journal import Origin, Work
from tests.core.files.watching import CALLS, WatchedDisk


@pytest.fixture
def watched(monkeypatch) -> WatchedDisk:
    """The disk, each call of it seen; what it is asked to flush is not waited for."""
    watching = WatchedDisk()
    for name in CALLS:
        # The promise of a flush is not tried here, only its failing.
        real = os.fstat if name == "flush" else getattr(disk, name)
        monkeypatch.setattr(disk, name, watching.wrap(name, real))
    return watching


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "journals"


@pytest.fixture
def origin(fixture_recipe, tmp_path):
    return Origin(
        Work(fixture_recipe),
        tmp_path / "fixture.yaml",
        stamp_of(b"was there"),
        tmp_path,
        {"mine": stamp_of(b"a schedule")},
    )
