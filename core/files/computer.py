"""Which computer this is, and whether a process of it that left its mark has ended."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
import uuid
from functools import cache
from pathlib import Path

_STILL_ACTIVE = 259
_QUERY_LIMITED = 0x1000
_DENIED = 5
"""Windows: what it says of a process that lives, what to ask for, and the word for no."""
_PROC = Path("/proc")
_STATE, _START = 0, 19
"""Fields of /proc/PID/stat behind the name in brackets: see proc(5), `state` and `starttime`."""


def computer_name() -> str:
    """Return the computer's name, for people; two computers may share one."""
    return "".join(c for c in platform.node() if c.isprintable())[:60] or "a computer"


@cache
def computer() -> str:
    """Return what tells this computer from others, so that a process id means something.

    Made of the system's own id, hashed since it is not for others to see, and
    of the room that process ids are counted in, where the system has several.
    """
    own = ""
    for place in ("/etc/machine-id", "/var/lib/dbus/machine-id"):
        own = own or _text(Path(place)).strip()
    own = own or f"{uuid.getnode():x} {platform.node()}"
    try:
        room = os.readlink("/proc/self/ns/pid")
    except OSError:
        room = ""
    return hashlib.sha256(f"glost {own} {room}".encode()).hexdigest()[:16]


def birth_of(process: int) -> str:
    """Return what tells a process from later ones of the same id; empty where unknown.

    A word without meaning of its own: which start of the computer, and how long
    after it. No clock that somebody could set goes into it.
    """
    fields = _fields(process)
    boot = _text(_PROC / "sys/kernel/random/boot_id").strip()
    if len(fields) <= _START or not boot:
        return ""
    return f"{boot[:8]}-{fields[_START]}"


def has_ended(process: int, birth: str) -> bool:
    """Tell whether a process of this computer has surely ended.

    Parameters
    ----------
    process : int
        Its id.
    birth : str
        What `birth_of` said of it while it lived.
    """
    if process <= 0:
        return False
    if not is_running(process):
        return True
    fields = _fields(process)
    if fields and fields[_STATE] in ("Z", "X"):
        return True  # ended, and nobody has asked for it yet
    now = birth_of(process)
    return bool(birth and now) and birth != now


def is_running(pid: int) -> bool:
    """Tell whether a process of this machine is running; yes where that cannot be known.

    Examples
    --------
    >>> is_running(os.getpid())
    True
    """
    if pid <= 0:
        return False
    if sys.platform == "win32":
        return _is_running_on_windows(pid)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):  # somebody else's process, or no number of one
        return pid < 2**31
    return True


def _is_running_on_windows(pid: int) -> bool:
    # There os.kill would end the process that it is asked about.
    import ctypes

    kernel = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
    handle = kernel.OpenProcess(_QUERY_LIMITED, False, pid)
    if not handle:
        return bool(kernel.GetLastError() == _DENIED)
    code = ctypes.c_ulong()
    known = kernel.GetExitCodeProcess(handle, ctypes.byref(code))
    kernel.CloseHandle(handle)
    return not known or code.value == _STILL_ACTIVE


def _fields(process: int) -> list[str]:
    # A process may have any name, brackets and blanks included.
    return _text(_PROC / str(process) / "stat").rpartition(")")[2].split()


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
