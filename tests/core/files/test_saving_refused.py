"""Disks that are really full, protected or gone; each in a child that may bear the limit."""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
NOBODY = 65534
FREEZE_S = 2.0
OLD, NEW = 'glost: "1"\nname: "old"\n', 'glost: "1"\nname: "new"\nnotes: "' + "x" * 9000 + '"\n'


def tried(path: Path) -> dict[str, object]:
    """Save and say how it went, what stands there and what lies beside it."""
    from core.files.content import stamp_of_file
    from core.files.fault_words import words_of_fault
    from core.files.saving import save

    begun = time.monotonic()
    words, number = "", 0
    try:
        save(path, NEW, lambda _text: None, stamp_of_file(path))
    except OSError as fault:
        words, number = words_of_fault(fault), fault.errno or -1
    text = path.read_text(encoding="utf-8") if path.exists() else None
    return {
        "words": words,
        "errno": number,
        "stands": {OLD: "old", NEW: "new", None: "nothing"}.get(text, "torn"),
        "beside": sorted(p.name for p in path.parent.iterdir()) if path.parent.exists() else [],
        "seconds": time.monotonic() - begun,
    }


def child_full(path: Path) -> list[dict[str, object]]:
    """Save under a limit of the size of files, then without."""
    import resource
    import signal

    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    _soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    first = tried(path)
    resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
    return [first, tried(path)]


def child_nobody(path: Path) -> list[dict[str, object]]:
    """Save without any rights in the folder, as a user who is nobody."""
    import core.files.fault_words  # noqa: F401 - read while there are rights to

    if os.getuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    return [tried(path)]


def child_small(path: Path) -> list[dict[str, object]]:
    """Save on a disk that is filled to the last page, then make room and save again."""
    filler = path.with_name("filler")
    handle = os.open(filler, os.O_WRONLY | os.O_CREAT)
    try:
        while True:
            os.write(handle, b"\0" * 4096)
    except OSError:
        pass
    finally:
        os.close(handle)
    first = tried(path)
    filler.unlink()
    return [first, tried(path)]


def said(what: str, path: Path, state: Path) -> list[dict[str, object]]:
    """Run one of the children above and return what it says."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_STATE_HOME": str(state)}
    done = subprocess.run(
        [sys.executable, __file__, what, str(path)],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: list[dict[str, object]] = json.loads(done.stdout)
    return found


@contextmanager
def open_folder():
    """A folder that also a user without rights can reach, unlike pytest's own."""
    folder = Path(tempfile.mkdtemp(prefix="glost-refused-"))
    folder.chmod(0o755)
    try:
        yield folder
    finally:
        for inner, _folders, _files in os.walk(folder):
            os.chmod(inner, 0o755)
        shutil.rmtree(folder)


unix = pytest.mark.skipif(os.name == "nt", reason="no such limits on this system")


@unix
def test_where_files_may_not_grow_the_old_one_stays_and_room_mends_it(tmp_path):
    path = tmp_path / "studio" / "a.yaml"
    path.parent.mkdir()
    path.write_text(OLD, encoding="utf-8")
    first, second = said("full", path, tmp_path)
    assert first["errno"] == errno.EFBIG
    assert "larger than this disk" in first["words"]
    assert (first["stands"], first["beside"]) == ("old", ["a.yaml"])
    assert first["seconds"] < FREEZE_S
    assert (second["stands"], second["words"]) == ("new", "")


@unix
def test_on_a_full_disk_the_old_file_stays_and_room_mends_it(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode != 0:
        pytest.skip("a small disk cannot be mounted here")
    try:
        path = disk / "a.yaml"
        path.write_text(OLD, encoding="utf-8")
        first, second = said("small", path, tmp_path)
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    assert first["errno"] == errno.ENOSPC
    assert "disk is full" in first["words"]
    assert (first["stands"], first["beside"]) == ("old", ["a.yaml", "filler"])
    assert first["seconds"] < FREEZE_S
    assert (second["stands"], second["words"]) == ("new", "")


@unix
def test_on_a_disk_that_can_only_be_read_the_words_say_so(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("a disk cannot be mounted here")
    try:
        path = disk / "a.yaml"
        path.write_text(OLD, encoding="utf-8")
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        (first,) = said("once", path, tmp_path)
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    assert first["errno"] in (errno.EROFS, errno.EACCES)
    assert first["stands"] == "old"
    assert first["seconds"] < FREEZE_S


@unix
def test_a_protected_file_is_not_replaced_not_even_by_who_may(tmp_path):
    path = tmp_path / "studio" / "a.yaml"
    path.parent.mkdir()
    path.write_text(OLD, encoding="utf-8")
    path.chmod(0o444)
    (first,) = said("once", path, tmp_path)
    assert first["errno"] == errno.EACCES
    assert "protected" in first["words"]
    assert (first["stands"], first["beside"]) == ("old", ["a.yaml"])
    assert stat.S_IMODE(path.stat().st_mode) == 0o444


@unix
def test_in_a_protected_folder_the_old_file_stays(tmp_path):
    with open_folder() as folder:
        path = folder / "studio" / "a.yaml"
        path.parent.mkdir()
        path.write_text(OLD, encoding="utf-8")
        path.chmod(0o666)
        path.parent.chmod(0o555)
        state = folder / "state"
        state.mkdir()
        state.chmod(0o777)
        (first,) = said("nobody", path, state)
    assert first["errno"] == errno.EACCES
    assert "protected" in first["words"]
    assert (first["stands"], first["beside"]) == ("old", ["a.yaml"])
    assert first["seconds"] < FREEZE_S


def test_a_folder_that_is_gone_is_said_and_not_made_anew(tmp_path):
    path = tmp_path / "studio" / "a.yaml"
    (first,) = said("once", path, tmp_path)
    assert first["errno"] == errno.ENOENT
    assert "not there" in first["words"]
    assert "drive" in first["words"]
    assert not path.parent.exists()


@pytest.mark.parametrize(
    "word", ["ENOSPC", "EDQUOT", "EACCES", "EPERM", "EROFS", "EIO", "ENOENT", "EFBIG", "EBUSY"]
)
def test_each_refusal_has_words_of_its_own_and_a_way_out(word):
    from core.files.fault_words import words_of_fault

    number = getattr(errno, word)
    words = words_of_fault(OSError(number, os.strerror(number), "a.yaml"))
    happened, way_out, system = words.split(". ")
    assert happened
    assert way_out
    assert system == f"({os.strerror(number)}: a.yaml)"
    assert "refused" not in words


def test_a_refusal_that_nobody_foresaw_still_has_a_way_out():
    from core.files.fault_words import words_of_fault

    assert "choose another place" in words_of_fault(OSError("odd"))
    held = OSError(13, "in use")
    held.winerror = 32
    assert "Another program" in words_of_fault(held)


def main() -> None:
    children = {
        "full": child_full,
        "small": child_small,
        "nobody": child_nobody,
        "once": lambda path: [tried(path)],
    }
    print(json.dumps(children[sys.argv[1]](Path(sys.argv[2]))))


if __name__ == "__main__":
    main()
