"""What the tests of a save share: every call to the disk seen, refused or cut short."""

from __future__ import annotations

import inspect
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from core.files import disk

CALLS = sorted(
    name
    for name, found in vars(disk).items()
    if inspect.isfunction(found) and found.__module__ == disk.__name__
)
"""Every function of `core.files.disk`, also one that is added tomorrow."""


class WatchedDisk:
    """Calls of `core.files.disk` go through here: counted, and handed to `meddle`."""

    def __init__(self) -> None:
        self.calls: list[str] = []
        self.asked: list[tuple[object, ...]] = []
        self.meddle: Callable[[int, str, Callable[[], object]], object] | None = None

    def wrap(self, name: str, real: Callable[..., object]) -> Callable[..., object]:
        """Return a function that stands for one of the disk's."""

        def watched(*arguments: object) -> object:
            number = len(self.calls)
            self.calls.append(name)
            self.asked.append(arguments)
            if self.meddle is None:
                return real(*arguments)
            return self.meddle(number, name, lambda: real(*arguments))

        return watched

    @contextmanager
    def meddling(
        self, meddle: Callable[[int, str, Callable[[], object]], object] | None
    ) -> Iterator[None]:
        """Count anew and let `meddle(number, name, do)` stand for each call."""
        self.calls, self.asked = [], []
        self.meddle = meddle
        try:
            yield
        finally:
            self.meddle = None


@pytest.fixture
def watched(monkeypatch) -> WatchedDisk:
    """The disk, each call of it seen; what it is asked to flush is not waited for."""
    watching = WatchedDisk()
    for name in CALLS:
        real = getattr(disk, name)
        if name == "flush":
            # The promise of a flush is not tried here, only its failing.
            real = os.fstat
        monkeypatch.setattr(disk, name, watching.wrap(name, real))
    return watching
