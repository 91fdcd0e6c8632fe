import os

import pytest

from core.files import disk
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
