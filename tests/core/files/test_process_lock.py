"""A lock is one's at a time, and goes when it is let go of or its process ends."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from threading import Thread

import pytest

import core
from core.files.process_lock import held, take

_HOLD = """
import sys
from pathlib import Path
from core.files.process_lock import take
lock = take(Path(sys.argv[1]))
print(lock is not None, flush=True)
sys.stdin.read()
"""


def test_who_does_not_wait_is_told_no_and_the_file_goes_with_the_lock(tmp_path):
    path = tmp_path / "a.lock"
    with held(path):
        assert take(path) is None
    assert not path.exists()
    lock = take(path)
    assert lock is not None
    lock.release()
    lock.release()
    assert not path.exists()


def test_of_many_that_wait_one_is_inside_at_a_time(tmp_path):
    path, inside, seen = tmp_path / "a.lock", [], []

    def work():
        for _ in range(50):
            with held(path):
                inside.append(1)
                seen.append(len(inside))
                inside.pop()

    threads = [Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == [1] * 200
    assert not path.exists()


def test_who_waits_for_a_process_gets_the_lock_when_that_is_killed(tmp_path):
    path = tmp_path / "a.lock"
    child = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(core.__file__).parent.parent,
    )
    try:
        assert child.stdout.readline().strip() == "True"
        assert take(path) is None
        got = []

        def wait():
            with held(path):
                got.append(child.poll())

        waiting = Thread(target=wait)
        waiting.start()
        child.kill()
        child.wait()
        waiting.join()
    finally:
        child.kill()
        child.communicate()
    assert len(got) == 1
    assert take(path) is not None


def test_a_fault_inside_lets_go(tmp_path):
    path = tmp_path / "a.lock"
    with pytest.raises(ZeroDivisionError), held(path):
        raise ZeroDivisionError
    lock = take(path)
    assert lock is not None
    lock.release()
