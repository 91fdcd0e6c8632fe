"""Which machine this is, and whether a program that left its mark is still running on it."""

from __future__ import annotations

import os
import platform
import re
import sys

_STILL_ACTIVE = 259
_QUERY_LIMITED = 0x1000
_DENIED = 5


def host_name() -> str:
    """Return this machine's name in letters, digits and underscores, at most 24 of them."""
    return re.sub(r"[^A-Za-z0-9]", "_", platform.node())[:24] or "machine"


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
