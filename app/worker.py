"""Slow work beside the window: the newest result of an owner is delivered, older ones are not.

While a thread works, Python's collector of cycles rests. It runs in whatever
thread asks for memory, and would take windows that were closed apart in the
wrong one, which ends the process.
"""

from __future__ import annotations

import atexit
import gc
from collections.abc import Callable
from concurrent.futures import Future
from functools import cache
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from PySide6.QtCore import QObject, Qt, QThreadPool, Signal
from shiboken6 import isValid

T = TypeVar("T")

_THREADS = 2
"""One for work whose result nobody waits for any more, one for the work that followed it."""


class Task:
    """A piece of work that was begun; it cannot be broken off, but its result can be dropped."""

    def __init__(
        self,
        owner: QObject,
        function: Callable[[], Any],
        done: Callable[[Any], object],
        failed: Callable[[Exception], object],
    ) -> None:
        self._owner: QObject | None = owner
        self._function = function
        self._done: Callable[[Any], object] | None = done
        self._failed: Callable[[Exception], object] | None = failed
        self._values: tuple[Any, ...] = ()
        self._fault: Exception | None = None

    @property
    def wanted(self) -> bool:
        """Whether the result will still be delivered."""
        return self._owner is not None

    def drop(self) -> None:
        """Deliver nothing; work that has not begun is not begun."""
        self._owner = self._done = self._failed = None

    def _run(self) -> None:
        """Do the work; runs in a thread of the pool."""
        if self.wanted:
            try:
                self._values = (self._function(),)
            except Exception as fault:
                self._fault = fault
        _post().ended.emit(self)

    def _deliver(self) -> None:
        owner, done, failed = self._owner, self._done, self._failed
        self.drop()
        # An owner whose window is gone has no use for an answer.
        if owner is None or not isValid(owner) or done is None or failed is None:
            return
        if self._fault is not None:
            failed(self._fault)
        else:
            done(*self._values)


class _Post(QObject):
    """Carries what ended from the threads to the one that asked."""

    ended = Signal(object)  # Task
    rested = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.ended.connect(self._on_ended, Qt.ConnectionType.QueuedConnection)
        self.rested.connect(self._on_rested, Qt.ConnectionType.QueuedConnection)

    def _on_ended(self, task: Task) -> None:
        _collector.let_go()
        task._deliver()

    def _on_rested(self) -> None:
        _collector.let_go()


class _Collector:
    """Rests from the first piece of work that is begun to the end of the last."""

    def __init__(self) -> None:
        self._works = 0
        self._was_on = False

    def hold(self) -> None:
        if self._works == 0:
            self._was_on = gc.isenabled()
            gc.disable()
        self._works += 1

    def let_go(self) -> None:
        self._works -= 1
        if self._works == 0 and self._was_on:
            gc.enable()

    def switch_on(self) -> None:
        self._was_on = True
        if self._works == 0:
            gc.enable()


_collector = _Collector()
"""Held and let go in the thread of the windows alone."""


_newest: WeakKeyDictionary[QObject, Task] = WeakKeyDictionary()


def run_in_background(
    owner: QObject,
    function: Callable[[], T],
    done: Callable[[T], object],
    failed: Callable[[Exception], object],
) -> Task:
    """Call `function` in another thread, and `done` or `failed` in this one.

    Called from the thread of the windows. `function` works on values alone and
    touches no widget. What the same owner began before is dropped, and so is
    everything whose owner is gone by the time it ends.
    """
    earlier = _newest.get(owner)
    if earlier is not None:
        earlier.drop()
    _post()
    task = Task(owner, function, done, failed)
    _newest[owner] = task
    _collector.hold()
    _pool().start(task._run)
    return task


def rest_collector_until_done(work: Future[Any]) -> None:
    """Let Python's collector rest while a thread that is not ours does its work.

    Called from the thread of the windows.
    """
    post = _post()
    _collector.hold()
    work.add_done_callback(lambda _work: post.rested.emit())


def collect_from_now_on() -> None:
    """Let Python's collector work from now on, as soon as no thread of ours does."""
    _collector.switch_on()


@cache
def _post() -> _Post:
    return _Post()


@cache
def _pool() -> QThreadPool:
    pool = QThreadPool()
    pool.setMaxThreadCount(_THREADS)
    # A thread that still runs Python while the interpreter is taken down ends in a crash.
    atexit.register(_finish)
    return pool


def _finish() -> None:
    for task in list(_newest.values()):
        task.drop()
    _pool().waitForDone()
