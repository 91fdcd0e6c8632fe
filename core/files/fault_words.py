"""What the disk's refusals mean for the potter, and the way out of each."""

from __future__ import annotations

import errno

from core.files.saving import NotSettled

_NO_ANSWER = (
    "The folder on the network does not answer.",
    "Look at the connection, or choose a place on this computer.",
)
_PROTECTED = (
    "The file or its folder is protected.",
    "Take the protection away, or choose another place.",
)
_NOT_THERE = (
    "The file or its folder is not there.",
    "Look whether it was moved or renamed, or lies on a drive that was taken out.",
)
_HELD = (
    "Another program holds the file.",
    "Close it there or wait a moment, then try again.",
)
_TOO_MANY = (
    "Too many files are open on this computer.",
    "Close other programs, then try again.",
)

_WORDS: dict[int, tuple[str, str]] = {
    errno.ENOSPC: ("The disk is full.", "Make room on it, or choose another one."),
    errno.EDQUOT: (
        "Your share of the disk is used up.",
        "Remove what you no longer need, or choose another disk.",
    ),
    errno.EFBIG: (
        "The file grows larger than this disk or this account allows.",
        "Choose another disk.",
    ),
    errno.EACCES: _PROTECTED,
    errno.EPERM: _PROTECTED,
    errno.EROFS: (
        "This disk can only be read, not written.",
        "Choose a place on another disk.",
    ),
    errno.EIO: (
        "The disk reports an error.",
        "Save to another disk now, then have this one looked at.",
    ),
    errno.ENOENT: _NOT_THERE,
    errno.ENOTDIR: _NOT_THERE,
    errno.ENODEV: _NOT_THERE,
    errno.ENXIO: _NOT_THERE,
    errno.EISDIR: ("There is a folder of this name.", "Choose another name."),
    errno.ENAMETOOLONG: ("The name is too long for this disk.", "Choose a shorter one."),
    errno.ELOOP: ("The link leads back to itself.", "Choose another name."),
    errno.EBUSY: _HELD,
    errno.ETXTBSY: _HELD,
    errno.EMFILE: _TOO_MANY,
    errno.ENFILE: _TOO_MANY,
    errno.ESTALE: _NO_ANSWER,
    errno.ETIMEDOUT: _NO_ANSWER,
    errno.ENOTCONN: _NO_ANSWER,
    errno.ENETDOWN: _NO_ANSWER,
    errno.ENETUNREACH: _NO_ANSWER,
    errno.EHOSTUNREACH: _NO_ANSWER,
}
_SHARING_ON_WINDOWS = {32, 33}
_UNKNOWN = ("The system refused.", "Try again, or choose another place.")


def words_of_fault(fault: OSError) -> str:
    """Return what happened and what to do, with the system's own words in brackets.

    Examples
    --------
    >>> words_of_fault(OSError(errno.ENOSPC, "No space left on device", "a.yaml"))
    'The disk is full. Make room on it, or choose another one. (No space left on device: a.yaml)'
    """
    if isinstance(fault, NotSettled):
        what = "The new version stands in the file, but the disk did not confirm it."
        mend = "Save again; if that fails too, save to another disk."
    elif getattr(fault, "winerror", None) in _SHARING_ON_WINDOWS:
        what, mend = _HELD
    else:
        what, mend = _WORDS.get(fault.errno or 0, _UNKNOWN)
    own = fault.strerror or str(fault)
    place = f": {fault.filename}" if fault.filename else ""
    return f"{what} {mend} ({own}{place})" if own else f"{what} {mend}"
