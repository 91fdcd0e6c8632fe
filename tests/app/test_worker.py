"""Work in the background: the newest result of an owner arrives, no other, and none too late."""

import gc
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from PySide6.QtCore import QObject, QThread
from shiboken6 import delete

from app.worker import rest_collector_until_done, run_in_background

PATIENCE_S = 10.0


@pytest.fixture
def gate():
    """Holds work back until it is opened, and opens itself at the end."""
    gate = threading.Event()
    yield gate
    gate.set()


@pytest.fixture
def deliver_another(qtbot):
    """Begin work of another owner, and wait for it: what ended before has arrived by then."""

    def make():
        owner, got = QObject(), []
        run_in_background(owner, lambda: True, got.append, got.append)
        qtbot.waitUntil(lambda: bool(got))

    return make


def test_the_result_arrives_in_the_thread_of_the_windows(qtbot):
    owner, got = QObject(), []
    here = QThread.currentThread()
    threads = []

    def work():
        threads.append(threading.current_thread().ident)
        return 42

    def done(value):
        got.append((value, QThread.currentThread() is here, threading.current_thread().ident))

    run_in_background(owner, work, done, got.append)
    qtbot.waitUntil(lambda: bool(got))
    assert got == [(42, True, threading.main_thread().ident)]
    assert threads != [threading.main_thread().ident]


def test_a_fault_arrives_as_a_fault(qtbot):
    owner, done, failed = QObject(), [], []
    run_in_background(owner, lambda: 1 / 0, done.append, failed.append)
    qtbot.waitUntil(lambda: bool(failed))
    assert isinstance(failed[0], ZeroDivisionError)
    assert not done


def test_only_the_newest_of_one_owner_arrives(qtbot, gate):
    owner, got = QObject(), []

    def held(number):
        assert gate.wait(PATIENCE_S)
        return number

    tasks = [
        run_in_background(owner, lambda n=n: held(n), got.append, got.append) for n in range(6)
    ]
    assert [task.wanted for task in tasks] == [False] * 5 + [True]
    gate.set()
    qtbot.waitUntil(lambda: bool(got))
    assert got == [5]


def test_owners_do_not_disturb_each_other(qtbot):
    owners, got = [QObject() for _ in range(20)], []
    for number, owner in enumerate(owners):
        run_in_background(owner, lambda n=number: n, got.append, got.append)
    qtbot.waitUntil(lambda: len(got) == len(owners))
    assert sorted(got) == list(range(20))


def test_what_is_dropped_or_has_no_owner_left_is_not_delivered(gate, qtbot, deliver_another):
    dropped, gone = QObject(), QObject()
    got, begun, ended = [], [], []

    def work():
        begun.append(True)
        assert gate.wait(PATIENCE_S)
        ended.append(True)

    task = run_in_background(dropped, work, got.append, got.append)
    run_in_background(gone, work, got.append, got.append)
    qtbot.waitUntil(lambda: len(begun) == 2)
    task.drop()
    delete(gone)
    gate.set()
    qtbot.waitUntil(lambda: len(ended) == 2)
    deliver_another()
    assert not got


class _Closed:
    """Stands for a window that was closed: a ring of references that only the collector opens."""

    def __init__(self, taken_apart):
        self.ring = self
        self.taken_apart = taken_apart

    def __del__(self):
        self.taken_apart.append(threading.current_thread().ident)


def test_what_was_closed_is_never_taken_apart_in_a_thread_of_the_work(qtbot):
    taken_apart, got = [], []

    def work():
        kept = []
        for _ in range(3):
            # More containers than the collector waits for, in every generation.
            kept.append([[] for _ in range(200_000)])
        return len(kept)

    owner = QObject()
    gc.collect()
    _Closed(taken_apart)
    run_in_background(owner, work, got.append, got.append)
    qtbot.waitUntil(lambda: bool(got))
    assert got == [3]
    assert set(taken_apart) <= {threading.main_thread().ident}
    assert gc.isenabled()
    gc.collect()
    assert taken_apart == [threading.main_thread().ident]


def test_the_collector_rests_as_long_as_any_work_runs(qtbot, gate):
    first, second, got = QObject(), QObject(), []
    run_in_background(first, lambda: gate.wait(PATIENCE_S), got.append, got.append)
    run_in_background(second, lambda: "quick", got.append, got.append)
    qtbot.waitUntil(lambda: got == ["quick"])
    assert not gc.isenabled()
    gate.set()
    qtbot.waitUntil(lambda: len(got) == 2)
    assert gc.isenabled()


def test_the_collector_rests_for_a_thread_that_is_not_ours(qtbot, gate):
    with ThreadPoolExecutor(1) as thread:
        rest_collector_until_done(thread.submit(gate.wait, PATIENCE_S))
        assert not gc.isenabled()
        gate.set()
        qtbot.waitUntil(gc.isenabled)
