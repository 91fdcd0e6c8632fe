import errno
import os
import stat
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import replace
from threading import Barrier, Thread

import pytest

from core.check import yaml_files
from core.errors import InputError
from core.files import disk, studio_lock
from core.files.computer import birth_of, computer, has_ended
from core.files.studio_lock import (
    LOCK_FILE,
    QUIET_S,
    Holder,
    Pulse,
    StudioLock,
    in_use_words,
    read_holder,
    studio_held,
)

_HOLD = """
import sys
from pathlib import Path
from core.files.studio_lock import StudioLock
lock = StudioLock(Path(sys.argv[1]))
print(lock.take().ours, flush=True)
for word in sys.stdin:
    if word.strip() == "beat":
        print(lock.beat(), flush=True)
    else:
        lock.release()
        print("released", flush=True)
"""


@contextmanager
def other_process(folder):
    child = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert child.stdout.readline().strip() == "True"
        yield child
    finally:
        child.kill()
        child.communicate()


def ask(child, word):
    child.stdin.write(f"{word}\n")
    child.stdin.flush()
    return child.stdout.readline().strip()


def put_lock(folder, **fields):
    """Write a lock as another window would; returns the lock that wrote it."""
    lock = StudioLock(folder)
    assert lock.take().ours
    held = read_holder(folder)
    (folder / LOCK_FILE).write_bytes(studio_lock._text_of(replace(held, **fields), held.beats))
    return lock


def test_of_two_processes_one_holds_the_studio_and_the_other_learns_who(tmp_path):
    with other_process(tmp_path) as child:
        standing = StudioLock(tmp_path).take()
        assert not standing.ours
        assert standing.holder.process == child.pid
        assert standing.holder.is_here
        assert not standing.holder.is_gone
        assert standing.holder.since in in_use_words(standing)


def test_the_studio_is_free_once_the_other_process_lets_go(tmp_path):
    with other_process(tmp_path) as child:
        assert ask(child, "release") == "released"
        assert read_holder(tmp_path) is None
        standing = StudioLock(tmp_path).take()
        assert standing.ours
        assert standing.left is None


def test_a_holder_that_was_killed_is_stale_at_once_and_said(tmp_path):
    with other_process(tmp_path) as child:
        child.kill()
        child.wait()
        standing = StudioLock(tmp_path).take()
        assert standing.ours
        assert standing.left.process == child.pid


@pytest.mark.skipif(not os.path.exists("/proc/self/stat"), reason="tells the dead by /proc")
def test_a_process_that_ended_and_was_not_asked_for_is_gone(tmp_path):
    with other_process(tmp_path) as child:
        os.kill(child.pid, 9)
        os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOWAIT)  # it stays as a zombie
        assert StudioLock(tmp_path).take().left.process == child.pid


@pytest.mark.skipif(not birth_of(os.getpid()), reason="the system does not tell")
def test_a_process_id_that_was_used_again_is_not_taken_for_the_holder(tmp_path):
    put_lock(tmp_path, birth="another-1")
    standing = StudioLock(tmp_path).take()
    assert standing.ours
    assert standing.left.process == os.getpid()


def test_the_birth_of_a_process_stays_and_differs_from_that_of_another(tmp_path):
    own = birth_of(os.getpid())
    with other_process(tmp_path) as child:
        assert birth_of(os.getpid()) == own
        assert not has_ended(child.pid, birth_of(child.pid))
        if own:
            assert birth_of(child.pid) != own
    assert not has_ended(0, "")


def test_another_computers_lock_is_never_taken_unasked(tmp_path):
    # Of the same name even, and with the id of no process here.
    put_lock(tmp_path, computer="elsewhere", process=2**22 + 1, birth="other-1")
    lock = StudioLock(tmp_path)
    for _ in range(3):
        standing = lock.take()
        assert not standing.ours
        assert not standing.holder.is_gone
    assert read_holder(tmp_path).computer == "elsewhere"


def test_taking_it_over_is_noticed_by_who_had_it(tmp_path):
    first, second = StudioLock(tmp_path), StudioLock(tmp_path)
    assert first.take().ours
    other = second.take()
    assert not other.ours
    assert second.take(over=other.holder).ours
    assert not first.beat()
    lost = first.take()
    assert not lost.ours
    assert lost.holder.token == second.token
    first.release()  # not its own any more
    assert read_holder(tmp_path).token == second.token
    assert second.take().ours
    assert sorted(p.name for p in tmp_path.iterdir()) == [LOCK_FILE]


def test_only_the_lock_that_was_shown_is_taken_over(tmp_path):
    first = StudioLock(tmp_path)
    first.take()
    shown = read_holder(tmp_path)
    first.release()
    third = StudioLock(tmp_path)
    third.take()
    assert not StudioLock(tmp_path).take(over=shown).ours
    assert third.take().ours


def test_a_lock_that_another_took_in_between_is_put_back(tmp_path):
    stale = put_lock(tmp_path, computer="elsewhere")
    seen = read_holder(tmp_path)
    quick, slow = StudioLock(tmp_path), StudioLock(tmp_path)
    assert quick.take(over=seen).ours
    assert not slow._put_aside(seen)
    assert read_holder(tmp_path).token == quick.token
    assert quick.take().ours
    assert not stale.take().ours
    assert sorted(p.name for p in tmp_path.iterdir()) == [LOCK_FILE]


def test_a_beat_under_way_while_it_is_taken_over_does_not_win_it_back(tmp_path, monkeypatch):
    first, second = StudioLock(tmp_path), StudioLock(tmp_path)
    first.take()
    seen = read_holder(tmp_path)
    really = studio_lock._text_of

    def taken_over_meanwhile(holder, beats):
        monkeypatch.setattr(studio_lock, "_text_of", really)
        assert second.take(over=seen).ours
        return really(holder, beats)

    monkeypatch.setattr(studio_lock, "_text_of", taken_over_meanwhile)
    first.beat()
    assert read_holder(tmp_path).token == second.token
    assert not first.take().ours


def test_of_many_that_find_a_stale_lock_at_once_exactly_one_gets_it(tmp_path):
    for _ in range(20):
        with_death = put_lock(tmp_path, process=os.getpid(), birth="another-1")
        locks = [StudioLock(tmp_path) for _ in range(6)]
        together, standings = Barrier(len(locks)), {}

        def take(lock, together=together, standings=standings):
            together.wait()
            standings[lock.token] = lock.take()

        threads = [Thread(target=take, args=(lock,)) for lock in locks]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        # Whoever was told yes looks again before a save; one of them stays.
        holders = [lock for lock in locks if lock.take().ours]
        assert len(holders) == 1
        assert any(standing.left for standing in standings.values())
        assert not with_death.take().ours
        holders[0].release()
        assert list(tmp_path.iterdir()) == []


def test_the_count_of_a_living_holder_moves_and_its_lock_keeps_its_length(tmp_path):
    with other_process(tmp_path) as child:
        before = (tmp_path / LOCK_FILE).stat().st_size
        assert read_holder(tmp_path).beats == 0
        assert ask(child, "beat") == "True"
        assert ask(child, "beat") == "True"
        assert read_holder(tmp_path).beats == 2
        assert (tmp_path / LOCK_FILE).stat().st_size == before


def test_a_count_that_stands_still_is_quiet_by_the_watchers_own_clock_alone():
    pulse, holder = Pulse(), Holder("elsewhere", "other", 7, "", "token", "2099-01-01 00:00", 4)
    assert not pulse.is_quiet(holder, 1000.0)
    assert not pulse.is_quiet(holder, 1000.0 + QUIET_S - 1)
    assert pulse.is_quiet(holder, 1000.0 + QUIET_S)
    moved = replace(holder, beats=5)
    assert not pulse.is_quiet(moved, 1001.0 + QUIET_S)
    assert not pulse.is_quiet(replace(moved, token="next"), 1002.0 + 3 * QUIET_S)


def test_a_clock_set_wrong_changes_nothing_but_a_word(tmp_path, monkeypatch):
    monkeypatch.setattr(time, "time", lambda: 0.0)
    monkeypatch.setattr(time, "strftime", lambda _form: "1970-01-01 00:00")
    first = StudioLock(tmp_path)
    assert first.take().ours
    os.utime(tmp_path / LOCK_FILE, (0, 0))
    standing = StudioLock(tmp_path).take()
    assert not standing.ours
    assert standing.holder.since == "1970-01-01 00:00"
    os.utime(tmp_path / LOCK_FILE, (4e9, 4e9))
    assert first.take().ours
    assert first.beat()


def test_a_lock_that_vanished_is_taken_again_by_its_holder(tmp_path):
    lock = StudioLock(tmp_path)
    lock.take()
    (tmp_path / LOCK_FILE).unlink()
    assert not lock.beat()
    assert not (tmp_path / LOCK_FILE).exists()
    assert lock.take().ours


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff\xfe\x00", b"glost: [", b'glost: "1"\nkind: recipe\n', b"a" * 100_000],
)
def test_a_lock_that_cannot_be_read_is_somebodys_and_can_be_taken_over(tmp_path, data):
    (tmp_path / LOCK_FILE).write_bytes(data)
    lock = StudioLock(tmp_path)
    standing = lock.take()
    assert not standing.ours
    assert standing.holder == Holder()
    assert "does not say" in in_use_words(standing)
    assert lock.take(over=standing.holder).ours


@pytest.mark.parametrize("data", [b"", b"\0" * 400])
def test_a_lock_that_a_power_cut_left_empty_is_taken_once_it_stayed_so(tmp_path, monkeypatch, data):
    now = [1000.0]
    monkeypatch.setattr(studio_lock.time, "monotonic", lambda: now[0])
    (tmp_path / LOCK_FILE).write_bytes(data)
    lock = StudioLock(tmp_path)
    assert not lock.take().ours
    now[0] += QUIET_S - 1
    assert not lock.take().ours
    # Another one stands there now: its maker has all the time again.
    (tmp_path / LOCK_FILE).write_bytes(data)
    os.utime(tmp_path / LOCK_FILE, (7, 7))
    assert not lock.take().ours
    now[0] += QUIET_S
    standing = lock.take()
    assert standing.ours
    assert standing.left is None
    assert read_holder(tmp_path).token == lock.token
    assert sorted(p.name for p in tmp_path.iterdir()) == [LOCK_FILE]


def test_a_lock_with_anything_in_it_is_never_taken_unasked(tmp_path, monkeypatch):
    now = [1000.0]
    monkeypatch.setattr(studio_lock.time, "monotonic", lambda: now[0])
    (tmp_path / LOCK_FILE).write_bytes(b"glost: [")
    lock = StudioLock(tmp_path)
    for _ in range(5):
        assert not lock.take().ours
        now[0] += QUIET_S


def test_a_lock_is_whole_and_flushed_before_it_has_its_name(tmp_path, watched, monkeypatch):
    link = os.link
    named = []

    def seen(own, path):
        named.append(watched.calls.copy())
        assert studio_lock._read(own).process == os.getpid()
        link(own, path)

    monkeypatch.setattr(studio_lock.os, "link", seen)
    with watched.meddling(None):
        assert StudioLock(tmp_path).take().ours
    (before,) = named
    assert [name for name in before if name != "names"] == [
        "create",
        "write",
        "status",
        "flush",
        "close",
    ]
    assert [p.name for p in tmp_path.iterdir()] == [LOCK_FILE]


@pytest.fixture
def no_links(monkeypatch):
    """A file system that gives no file a second name, such as that of most sticks."""

    def refuse(*_args, **_more):
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(studio_lock.os, "link", refuse)


@pytest.mark.usefixtures("no_links")
def test_without_second_names_there_is_one_holder_all_the_same(tmp_path):
    for _ in range(20):
        locks = [StudioLock(tmp_path) for _ in range(6)]
        together, ours = Barrier(len(locks)), []

        def take(lock, together=together, ours=ours):
            together.wait()
            if lock.take().ours:
                ours.append(lock)

        threads = [Thread(target=take, args=(lock,)) for lock in locks]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(ours) == 1
        assert [p.name for p in tmp_path.iterdir()] == [LOCK_FILE]
        ours[0].release()


@pytest.mark.usefixtures("no_links")
def test_without_second_names_a_full_disk_leaves_no_lock(tmp_path, watched):
    made = []

    def meddle(_number, name, do):
        if name == "create":
            made.append(name)
        if name == "flush" and len(made) == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        return do()

    with watched.meddling(meddle):
        standing = StudioLock(tmp_path).take()
    assert standing.fault.errno == errno.ENOSPC
    assert list(tmp_path.iterdir()) == []


def test_a_link_that_was_made_and_yet_told_as_failed_is_ours(tmp_path, monkeypatch):
    """As a network folder may answer when the first answer was lost."""
    link = os.link

    def made_and_refused(own, path):
        link(own, path)
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(studio_lock.os, "link", made_and_refused)
    lock = StudioLock(tmp_path)
    assert lock.take().ours
    assert read_holder(tmp_path).token == lock.token
    assert [p.name for p in tmp_path.iterdir()] == [LOCK_FILE]


def test_a_full_disk_leaves_nothing_and_is_said(tmp_path, watched):
    def meddle(_number, name, do):
        if name == "write":
            raise OSError(errno.ENOSPC, "No space left on device")
        return do()

    with watched.meddling(meddle):
        standing = StudioLock(tmp_path).take()
    assert not standing.ours
    assert standing.fault.errno == errno.ENOSPC
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name")
def test_a_pipe_in_its_place_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / LOCK_FILE)
    assert StudioLock(tmp_path).take().holder == Holder()


def test_words_made_up_for_the_screen_are_refused(tmp_path):
    lock = put_lock(tmp_path, host="wheel\nhouse")
    assert StudioLock(tmp_path).take().holder == Holder()
    lock.path.unlink()
    put_lock(tmp_path, since="x" * 500)
    assert StudioLock(tmp_path).take().holder == Holder()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="rights do not bind here")
def test_a_folder_that_cannot_be_written_gives_no_lock_and_says_why_by_rights(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        standing = StudioLock(tmp_path).take()
    finally:
        tmp_path.chmod(stat.S_IRWXU)
    assert not standing.ours
    assert "nothing can be written" in in_use_words(standing)


def test_a_folder_that_cannot_be_written_gives_no_lock_and_says_why(tmp_path, monkeypatch):
    def refuse(*_args, **_more):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(studio_lock.os, "open", refuse)
    standing = StudioLock(tmp_path).take()
    assert not standing.ours
    assert standing.fault.errno == 30
    assert "Read-only file system" in in_use_words(standing)
    assert list(tmp_path.iterdir()) == []


def test_the_lock_is_no_file_of_the_studio(tmp_path):
    (tmp_path / "studio.yaml").write_text('glost: "1"\nkind: studio\nname: "a"\n')
    StudioLock(tmp_path).take()
    assert [path.name for path in yaml_files(tmp_path)] == ["studio.yaml"]


def test_a_command_writes_only_while_no_window_has_the_studio(tmp_path):
    with (
        other_process(tmp_path),
        pytest.raises(InputError, match="open in another window"),
        studio_held(tmp_path),
    ):
        raise AssertionError("held by another")
    with studio_held(tmp_path):
        assert read_holder(tmp_path).process == os.getpid()
        assert read_holder(tmp_path).computer == computer()
    assert read_holder(tmp_path) is None
    with studio_held(None):
        pass


def test_a_lock_that_is_taken_over_is_free_for_nobody_in_between(tmp_path, monkeypatch):
    first, second = StudioLock(tmp_path), StudioLock(tmp_path)
    assert first.take().ours
    holder = read_holder(tmp_path)
    real, seen = disk.replace, []

    def watched(source, target):
        # The window that had it looks at the worst moments.
        seen.append(first.take().ours)
        real(source, target)
        seen.append(first.take().ours)

    monkeypatch.setattr(disk, "replace", watched)
    assert second.take(over=holder).ours
    assert seen == [True, False]
    assert not first.take().ours
    assert second.beat()
    assert not first.beat()
