"""Nothing in a file, and nothing that the window does, reaches the network or starts a program."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

SESSION = Path(__file__).with_name("quiet_session.py")
ROOT = Path(__file__).parents[2]
OWN_NAME = "socket.gethostname"
"""Asks the system what this machine is called; nothing is sent."""


@pytest.fixture
def told(studio_folder, tmp_path):
    homes = {
        name: str(tmp_path / name.lower())
        for name in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")
    }
    environment = {**os.environ, **homes, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen"}
    done = subprocess.run(
        [sys.executable, str(SESSION), str(studio_folder), str(tmp_path)],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


def test_a_day_s_work_leaves_the_process_nowhere(told):
    assert len(told["done"]) >= 14
    assert [event for event in told["seen"] if not event.startswith(OWN_NAME)] == []
    if sys.platform == "linux":
        assert any("Qt6Widgets" in name for name in told["libraries"])
    assert [name for name in told["libraries"] if "Network" in name or "WebEngine" in name] == []


def test_the_audit_would_see_a_call():
    code = (
        "import runpy, sys, subprocess, socket, os\n"
        f"made = runpy.run_path({str(SESSION)!r})\n"
        "socket.socket().close()\n"
        "subprocess.run([sys.executable, '-c', ''])\n"
        "os.system('true')\n"
        "print(sorted({line.split()[0] for line in made['seen']}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert "'os.system'" in done.stdout
    assert "'socket.__new__'" in done.stdout
    assert "'subprocess.Popen'" in done.stdout
