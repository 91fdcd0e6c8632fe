"""A save is stopped dead before and after each call that it makes to the disk.

The process ends with `os._exit`: nothing is cleaned up, nothing is flushed.
What then stands is judged by its bytes and by a stock YAML loader, never by
the program's own.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
import yaml

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")

ROOT = Path(__file__).parents[3]
REMARK = "# written by hand\n"
OLD, NEW = ('glost: "1"\nnumber: "1"\n', 'glost: "1"\nnumber: "2"\n')
STOPPED, DONE, FAILED = 9, 0, 1


def stop_at(path: Path, at: int, moment: str) -> tuple[int, str]:
    """Save in a child that stops dead at a call; return how it ended and the name of the call."""
    from core.files import disk
    from core.files.content import stamp_of_file
    from core.files.saving import save
    from tests.core.files.watching import CALLS

    ours, theirs = os.pipe()
    pid = os.fork()
    if pid == 0:
        number = [0]

        def stopping(name, real):
            def call(*arguments):
                here, number[0] = number[0], number[0] + 1
                if here == at:
                    os.write(theirs, name.encode())
                    if moment == "before":
                        os._exit(STOPPED)
                    try:
                        # Part of the bytes is the worst that a write can leave.
                        real(*arguments) if name != "write" else real(arguments[0], b"glost:")
                    finally:
                        os._exit(STOPPED)
                return real(*arguments)

            return call

        try:
            known = stamp_of_file(path)
            for name in CALLS:
                setattr(disk, name, stopping(name, getattr(disk, name)))
            save(path, NEW, lambda _text: None, known)
            os._exit(DONE)
        finally:
            os._exit(FAILED)
    os.close(theirs)
    _, status = os.waitpid(pid, 0)
    name = os.read(ours, 100).decode()
    os.close(ours)
    return os.waitstatus_to_exitcode(status), name


def stop_everywhere(folder: Path) -> list[dict[str, str]]:
    """Stop a save at each call in turn until it gets through; say what stood there each time."""
    from core.files.content import stamp_of_file
    from core.files.saving import save

    (folder / "studio.yaml").write_text('glost: "1"\nkind: studio\n', encoding="utf-8")
    path = folder / "recipes" / "a.yaml"
    path.parent.mkdir()
    seen = []
    at = 0
    while True:
        for moment in ("before", "after"):
            shutil.rmtree(folder / "backups", ignore_errors=True)
            path.write_text(REMARK + OLD, encoding="utf-8")
            code, name = stop_at(path, at, moment)
            if code == DONE:
                return seen
            if code != STOPPED:
                raise ValueError(f"the save failed at {moment} {at}")
            stands = path.read_text(encoding="utf-8")
            yaml.load(stands, Loader=yaml.BaseLoader)
            versions = {REMARK + OLD: "old", REMARK + NEW: "new"}
            # The next start reads and saves again; what the dead process left goes.
            save(path, NEW, lambda _text: None, stamp_of_file(path))
            after = path.read_text(encoding="utf-8") == REMARK + NEW
            left = [p.name for p in path.parent.iterdir()]
            seen.append(
                {
                    "moment": moment,
                    "call": name,
                    "stands": versions.get(stands, "torn"),
                    "next": "works" if after and left == ["a.yaml"] else f"{after} {left}",
                }
            )
        at += 1


def test_stopped_dead_at_any_call_a_save_leaves_the_old_version_or_the_new():
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, __file__],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    calls = [one["call"] for one in seen if one["moment"] == "before"]
    assert {"read", "create", "write", "flush", "close", "replace", "flush_folder"} <= set(calls)
    put = [one["stands"] for one in seen].index("new")
    assert (seen[put]["call"], seen[put]["moment"]) == ("replace", "after")
    assert [one["stands"] for one in seen] == ["old"] * put + ["new"] * (len(seen) - put)
    assert {one["next"] for one in seen} == {"works"}


def main() -> None:
    import core.files.saving  # noqa: F401

    folder = Path(tempfile.mkdtemp(prefix="glost-stops-"))
    try:
        print(json.dumps(stop_everywhere(folder)))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
