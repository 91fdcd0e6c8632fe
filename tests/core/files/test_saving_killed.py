"""A saving loop is killed at random instants; what it had called saved must be there.

A few kills run with the other tests. The full count:

    python -m tests.core.files.test_saving_killed 2000 [SEED]

The checker reads with a stock YAML loader and the checksum in the text, never
with the program's own.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import select
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
import yaml

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")

ROOT = Path(__file__).parents[3]
KILLS = int(os.environ.get("GLOST_KILLS", "100"))
SAVES = 6
"""A loop lives as long as so many saves take at the most: kills fall before, in and between."""
REMARK = "# written by hand"
_NUMBER = struct.Struct("<q")


def text_of(number: int) -> str:
    """Return a text that says which it is and can be checked to be whole."""
    body = "".join(
        random.Random(number).choices("abcdef ", k=random.Random(-number).randint(0, 9000))
    )
    check = hashlib.sha256(f"{number}{body}".encode()).hexdigest()
    return f'glost: "1"\nnumber: "{number}"\nbody: "{body}"\ncheck: "{check}"\n'


def checked_number(path: Path) -> int:
    """Return which text stands in a file, read by a stock loader; ValueError if it is not whole."""
    text = path.read_text(encoding="utf-8")
    tree = yaml.load(text, Loader=yaml.BaseLoader)
    check = hashlib.sha256(f"{tree['number']}{tree['body']}".encode()).hexdigest()
    if set(tree) != {"glost", "number", "body", "check"} or tree["check"] != check:
        raise ValueError(f"{path} holds no whole text")
    if REMARK not in text:
        raise ValueError(f"{path} lost what was written by hand")
    return int(tree["number"])


def keep_saving(path: Path, said: int) -> None:
    """Save one text after the other for ever; write each number into a pipe once it is saved."""
    from core.files.content import stamp_of_file
    from core.files.saving import save

    known = stamp_of_file(path)
    number = checked_number(path)
    while True:
        number += 1
        known = save(path, text_of(number), lambda _text: None, known)
        os.write(said, _NUMBER.pack(number))


def kill_once(path: Path, after_s: float) -> list[int]:
    """Start a saving loop, kill it, and return the numbers that it called saved."""
    ours, theirs = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(ours)
        try:
            keep_saving(path, theirs)
        finally:
            os._exit(1)
    os.close(theirs)
    heard = b""
    end = time.monotonic() + after_s
    while (left := end - time.monotonic()) > 0:
        if select.select([ours], [], [], left)[0]:
            piece = os.read(ours, 4096)
            if not piece:
                break
            heard += piece
    os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    while piece := os.read(ours, 4096):
        heard += piece
    os.close(ours)
    if not os.WIFSIGNALED(status):
        raise ValueError("the saving loop ended by itself")
    return [number for (number,) in _NUMBER.iter_unpack(heard)]


def kill_many(count: int, seed: int, folder: Path) -> dict[str, int]:
    """Kill a saving loop so many times, look after each, and return what was seen."""
    from core.files.content import stamp_of_file
    from core.files.saving import save

    rng = random.Random(seed)
    (folder / "studio.yaml").write_text('glost: "1"\nkind: studio\n', encoding="utf-8")
    path = folder / "kept.yaml"
    path.write_text(f"{REMARK}\n{text_of(0)}", encoding="utf-8")
    seen = dict.fromkeys(("kills", "saved", "lost", "unreadable", "not_yet_said", "parts_left"), 0)
    begun = time.monotonic()
    stands = kill_once(path, 1.0)[-1]
    pace_s = (time.monotonic() - begun) / stands
    for _ in range(count):
        after_s = rng.uniform(0.0, SAVES * pace_s)
        said = kill_once(path, after_s)
        if said:
            # The machine may get busier, or less busy, on the way.
            pace_s += 0.1 * (after_s / len(said) - pace_s)
        last = said[-1] if said else stands
        seen["kills"] += 1
        seen["saved"] += len(said)
        try:
            found = checked_number(path)
        except (ValueError, KeyError, TypeError, yaml.YAMLError, OSError):
            seen["unreadable"] += 1
            path.write_text(f"{REMARK}\n{text_of(last)}", encoding="utf-8")
            found = last
        seen["lost"] += found < last
        # The one after the last may be there already, never more.
        seen["unreadable"] += found > last + 1
        seen["not_yet_said"] += found == last + 1
        seen["parts_left"] += any(p.name.endswith(".part") for p in folder.iterdir())
        stands = found
    # What the dead left behind goes with the next save.
    save(path, text_of(stands + 1), lambda _text: None, stamp_of_file(path))
    seen["never_cleaned"] = sum(p.name.endswith(".part") for p in folder.iterdir())
    return seen


def test_a_loop_killed_at_random_instants_loses_no_save_that_it_called_saved():
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, __file__, str(KILLS)],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=1800,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    assert seen["kills"] == KILLS
    assert seen["lost"] == seen["unreadable"] == seen["never_cleaned"] == 0
    # The kills fell into saves, not only between them.
    assert seen["saved"] > KILLS
    assert seen["parts_left"] + seen["not_yet_said"] > KILLS // 20


def test_the_checker_finds_what_is_torn_or_mixed(tmp_path):
    path = tmp_path / "kept.yaml"
    whole = f"{REMARK}\n{text_of(7)}"
    path.write_text(whole, encoding="utf-8")
    assert checked_number(path) == 7
    for torn in (whole[:-9], whole.replace('number: "7"', 'number: "8"'), text_of(7), ""):
        path.write_text(torn, encoding="utf-8")
        with pytest.raises((ValueError, KeyError, TypeError, yaml.YAMLError)):
            checked_number(path)


def main() -> None:
    # What the loop needs is imported once, before the forks.
    import core.files.saving  # noqa: F401

    count = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    folder = Path(tempfile.mkdtemp(prefix="glost-kills-"))
    try:
        print(json.dumps(kill_many(count, seed, folder)))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
