"""No file can hurt: spoilt, bent or made to hurt, it is refused in words or loaded right.

The trials run in a process of their own, with 500 MB and two seconds of processor time for each
case; ``torture.py`` says how. ``GLOST_TORTURE=full`` runs them in full, which takes an hour.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

if sys.platform == "win32":
    pytest.skip("limits of memory and time are laid on by the system", allow_module_level=True)

TORTURE = Path(__file__).with_name("torture.py")
ROOT = Path(__file__).parents[3]
FULL = os.environ.get("GLOST_TORTURE") == "full"
CHANGES = 100_000 if FULL else 5_000
BENT_S, BENT = (600, 10**9) if FULL else (60, 400)
"""Seconds and examples at most; in CI the examples end it, so that every run is the same."""
PATIENCE_S = 7200 if FULL else 600
BOMB_S = 0.2
"""Processor time in which a bomb of aliases is refused, however deep it is."""


def _tried(*arguments: object) -> dict[str, Any]:
    # One thread: its address space counts against the limit.
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, str(TORTURE), *map(str, arguments)],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )
    assert done.stdout, done.stderr[-3000:]
    told: dict[str, Any] = json.loads(done.stdout)
    assert not told["failures"], "\n\n".join(told["failures"])
    assert done.returncode == 0
    assert told["refused"] + told["loaded"] == told["cases"] > 0
    return told


def test_every_prefix_of_every_sample_is_refused_or_loaded_right():
    told = _tried("prefixes")
    samples = (ROOT / "tests" / "samples" / "format-1").glob("*.yaml")
    assert told["cases"] == sum(path.stat().st_size for path in samples)


def test_thousands_of_changed_bytes_do_no_harm():
    told = _tried("bytes", CHANGES)
    assert told["cases"] == CHANGES
    assert min(told["refused"], told["loaded"]) > CHANGES // 20


def test_files_bent_out_of_shape_do_no_harm():
    told = _tried("trees", BENT_S, BENT)
    assert min(told["refused"], told["loaded"]) > 0


def test_pasted_text_does_no_harm():
    told = _tried("paste", BENT_S, BENT)
    assert min(told["refused"], told["loaded"]) > 0


def test_bombs_are_refused_at_once():
    told = _tried("bombs")
    assert told["peak_mb"] < 500
    for name in ("aliases that double", "aliases after a sound head", "merges that double"):
        assert told["took_s"][name] < BOMB_S
