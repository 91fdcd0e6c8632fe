"""Who has a studio in use: a lock file in its folder, held by one window at a time.

The file says who, on which computer and since when. No clock decides anything:
on one computer a holder is gone when its process is; of another computer only
its count tells, which a living holder raises now and then. Such a lock is
never taken over unasked.
"""

from __future__ import annotations

import os
import re
import secrets
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

import core.files.disk as disk
from core.errors import InputError
from core.files.computer import birth_of, computer, computer_name, has_ended
from core.files.new_file import beside, clean, fill, take_away, write_new
from core.plain_yaml import Tree, parse, write
from core.schema import FORMAT, check_line, convert, expect_kind

LOCK_FILE = ".glost-in-use"
BEAT_S = 15
"""How often a holder raises its count, and others look [s]."""
QUIET_S = 60
"""A count that stood still for so long tells of a holder that sleeps or ended [s]."""
_LARGEST = 4096
_DIGITS = 12
_NOTE = "A Glost window has this studio open. The file goes when the window closes."


@dataclass(frozen=True, slots=True)
class Holder:
    """A window that has a studio in use; all fields empty where its lock cannot be read."""

    host: str = ""
    computer: str = ""
    process: int = 0
    birth: str = ""
    token: str = ""
    """Made for one opening of the studio."""
    since: str = ""
    """The day and time it began, by its own clock; for people alone."""
    beats: int = 0

    @property
    def is_here(self) -> bool:
        """Whether it is a process of this computer."""
        return bool(self.computer) and self.computer == computer()

    @property
    def is_gone(self) -> bool:
        """Whether its process has surely ended."""
        return self.is_here and has_ended(self.process, self.birth)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a window stands to the lock of its studio."""

    ours: bool
    holder: Holder | None = None
    """Who else has it."""
    left: Holder | None = None
    """Whose lock was taken over, as its process has ended."""
    fault: OSError | None = None
    """Why no lock could be written."""


class _Record(msgspec.Struct):
    glost: str
    kind: str
    host: str
    computer: str
    process: str
    token: str
    birth: str = ""
    since: str = ""
    beats: str = "0"


def read_holder(folder: Path) -> Holder | None:
    """Return who has a studio in use; None without a lock.

    A lock that is empty or no lock at all counts as that of an unknown holder;
    a `StudioLock` takes an empty one once it has seen it stay so for `QUIET_S`.

    Raises
    ------
    OSError
        If it is there and cannot be read.
    """
    return _read(folder / LOCK_FILE)


class StudioLock:
    """One window's part in the lock of a studio.

    Parameters
    ----------
    folder : Path
        The studio's.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / LOCK_FILE
        self.token = secrets.token_hex(8)
        self._blank: tuple[tuple[int, int], float] | None = None
        """Which empty lock was seen, and since when by a clock that only runs forward [s]."""

    def take(self, over: Holder | None = None) -> Standing:
        """Take the lock where it is free, or find out who has it.

        A window that holds it may call this at any time to be sure of it.

        Parameters
        ----------
        over : Holder, optional
            Whose lock is to be taken over though it may live; another one's is not.
        """
        left = holder = None
        try:
            for _ in range(4):  # others may come and go between two steps
                holder = _read(self.path)
                if holder is None:
                    if self._create():
                        return Standing(True, left=left)
                    continue
                if holder.token == self.token:
                    return Standing(True)
                if over is not None and holder.token == over.token:
                    self._put_in_place()
                    continue
                if not (holder.is_gone or self._is_left_blank(holder)):
                    break
                if self._put_aside(holder) and holder.is_gone:
                    left = holder
        except OSError as fault:
            return Standing(False, holder, fault=fault)
        return Standing(False, holder, left)

    def beat(self) -> bool:
        """Raise the count of a lock that is held; False where it is held no more.

        Raises
        ------
        OSError
            If the disk refuses.
        """
        try:
            # Written in place and not put there anew: were it taken over between reading
            # and writing, this would reach the file that was put aside.
            with self.path.open("r+b") as file:
                held = _holder_from(file.read(_LARGEST))
                if held.token != self.token:
                    return False
                file.seek(0)
                file.write(_text_of(held, held.beats + 1))
        except FileNotFoundError:
            return False
        return True

    def release(self) -> None:
        """Let go of the lock, if it is held.

        Raises
        ------
        OSError
            If the disk refuses.
        """
        held = _read(self.path)
        if held is not None and held.token == self.token:
            self.path.unlink(missing_ok=True)

    def _put_in_place(self) -> None:
        """Put our lock over another's in one step, so that it is free for nobody in between."""
        with beside(self.path) as own:
            write_new(own, self._own_text(), 0o666)
            disk.replace(own, self.path)

    def _own_text(self) -> bytes:
        process = os.getpid()
        me = Holder(
            computer_name(),
            computer(),
            process,
            birth_of(process),
            self.token,
            time.strftime("%Y-%m-%d %H:%M"),
        )
        return _text_of(me, 0)

    def _create(self) -> bool:
        data = self._own_text()
        clean(self.folder)
        # Whole and on the disk before it has its name: a power cut must not leave an
        # empty lock, which nobody would know what to make of.
        with beside(self.path) as own:
            write_new(own, data, 0o666)
            try:
                os.link(own, self.path)
            except FileExistsError:
                return False
            except OSError:
                return self._create_in_place(data)
            finally:
                with suppress(OSError):
                    take_away(own)
        return True

    def _create_in_place(self, data: bytes) -> bool:
        """Make the lock where the file system gives no file a second name."""
        try:
            handle = disk.create(self.path, 0o666)
        except FileExistsError:
            return False
        try:
            fill(handle, self.path, data)
        except BaseException:
            with suppress(OSError):
                self.path.unlink()
            raise
        return True

    def _is_left_blank(self, holder: Holder) -> bool:
        """Tell whether the lock has stood empty far longer than it takes to fill it.

        A power cut may leave one; who lives has written its name into it long ago.
        """
        found = _blank_of(self.path) if holder == Holder() else None
        if found is None:
            self._blank = None
            return False
        now_s = time.monotonic()
        if self._blank is None or self._blank[0] != found:
            self._blank = (found, now_s)
        return now_s - self._blank[1] >= QUIET_S

    def _put_aside(self, holder: Holder) -> bool:
        """Take the lock of `holder` away; False where it was another's by then."""
        aside = self.path.with_name(f"{LOCK_FILE}-{self.token}")
        try:
            self.path.rename(aside)
        except FileNotFoundError:
            return False
        found = _read(aside)
        if found is not None and found.token != holder.token:
            # Somebody else was quicker; a link, unlike a name given, goes over nobody's.
            with suppress(OSError):
                os.link(aside, self.path)
        aside.unlink(missing_ok=True)
        return found is not None and found.token == holder.token


@dataclass(slots=True)
class Pulse:
    """Tells a living holder from a dead one by its count, seen now and then.

    How long it stood still is measured by the clock of who looks, which only
    runs forward; what any clock on the wall shows has no part in it.
    """

    _seen: tuple[str, int] | None = field(default=None, init=False)
    _since_s: float = field(default=0.0, init=False)

    def is_quiet(self, holder: Holder, now_s: float) -> bool:
        """Tell whether the count has stood still for `QUIET_S` and longer.

        Parameters
        ----------
        holder : Holder
            As just read.
        now_s : float
            A clock that only runs forward, such as `time.monotonic` [s].
        """
        seen = (holder.token, holder.beats)
        if seen != self._seen:
            self._seen, self._since_s = seen, now_s
        return now_s - self._since_s >= QUIET_S


@contextmanager
def studio_held(folder: Path | None) -> Iterator[None]:
    """Hold the lock of a studio for one write of a command; None is no studio.

    Raises
    ------
    InputError
        If a window has it in use, or no lock can be written.
    """
    if folder is None:
        yield
        return
    lock = StudioLock(folder)
    standing = lock.take()
    if not standing.ours:
        mend = "give a recipe file elsewhere"
        if standing.holder is not None:
            mend = f"close that window, or {mend}"
        raise InputError(f"the studio is {in_use_words(standing)}", mend, str(folder))
    try:
        yield
    finally:
        with suppress(OSError):
            lock.release()


def in_use_words(standing: Standing) -> str:
    """Say who has a studio in use, or why it cannot be written.

    Examples
    --------
    >>> in_use_words(Standing(False, Holder("wheelhouse", since="2026-11-28 14:05")))
    'open in another window (wheelhouse since 2026-11-28 14:05)'
    """
    holder, fault = standing.holder, standing.fault
    if holder is not None and (holder.host or fault is None):
        if not holder.host:
            return "in use, though its lock does not say by whom"
        since = f" since {holder.since}" if holder.since else ""
        if holder.is_here:
            return f"open in another window on this computer{since}"
        return f"open in another window ({holder.host}{since})"
    why = (fault.strerror or str(fault)) if fault is not None else "in use"
    return f"in a folder that nothing can be written to ({why})"


def _read(path: Path) -> Holder | None:
    try:
        # A pipe of that name would be waited for without end.
        if not stat.S_ISREG(path.stat().st_mode):
            return Holder()
        with path.open("rb") as file:
            return _holder_from(file.read(_LARGEST))
    except FileNotFoundError:
        return Holder() if path.is_symlink() else None


def _blank_of(path: Path) -> tuple[int, int] | None:
    """Return what tells an empty file from others; None for one with anything in it."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode) or status.st_size > _LARGEST:
            return None
        # Some file systems keep the length over a power cut, and zeros for the bytes.
        blank = not path.read_bytes().strip(b"\0")
    except FileNotFoundError:
        return None
    return (status.st_ino, status.st_mtime_ns) if blank else None


def _holder_from(data: bytes) -> Holder:
    try:
        document = parse(data, LOCK_FILE)
        expect_kind(document, "in-use")
        record = convert(document, _Record)
        for name in ("host", "token", "computer", "birth", "since"):
            check_line(document, (name,), getattr(record, name), needed=name in ("host", "token"))
    except InputError:
        return Holder()
    return Holder(
        record.host,
        record.computer,
        _count(record.process),
        record.birth,
        record.token,
        record.since,
        _count(record.beats),
    )


def _count(text: str) -> int:
    return int(text) if re.fullmatch(rf"[0-9]{{1,{_DIGITS}}}", text) else 0


def _text_of(holder: Holder, beats: int) -> bytes:
    """Return the text of a lock, of the same length whatever the count."""
    tree: dict[str, Tree] = {
        "glost": FORMAT,
        "kind": "in-use",
        "note": _NOTE,
        "host": holder.host,
        "since": holder.since,
        "computer": holder.computer,
        "process": str(holder.process),
        "birth": holder.birth,
        "token": holder.token,
        "beats": f"{beats % 10**_DIGITS:0{_DIGITS}d}",
    }
    return write(tree).encode()
