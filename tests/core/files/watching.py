"""Every call of `core.files.disk` seen, refused or cut short."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from core.files import disk

Meddle = Callable[[int, str, Callable[[], object]], object]

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
        self.meddle: Meddle | None = None

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
    def meddling(self, meddle: Meddle | None) -> Iterator[None]:
        """Count anew and let `meddle(number, name, do)` stand for each call."""
        self.calls, self.asked = [], []
        self.meddle = meddle
        try:
            yield
        finally:
            self.meddle = None
