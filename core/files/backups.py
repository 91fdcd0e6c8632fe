"""Earlier versions of files: kept before each save, thinned by age, never written over.

A version is a read-only copy of the bytes of a file, in the folder `backups`
of its studio: ``backups/recipes/eider/000123-2026-11-28-1420-5d41402a.yaml`` is the
123rd version of ``recipes/eider.yaml``. The number alone gives the order. The
day is the clock's word, which may be wrong: a label to read and to thin by.
Then how many bytes it has, so that those of a large studio are added up from
the names; and the start of their SHA-256, so that two computers that share a
folder never write over each other's version, and a rotten one is found.
"""

from __future__ import annotations

import errno
import hashlib
import heapq
import os
import re
import stat
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import core.files.disk as disk
import core.files.state as state
from core.errors import InputError
from core.files.content import Stamp
from core.files.new_file import take_away, write_new

FOLDER = "backups"
LATEST = 30
"""So many last versions of a file stay, whatever their days."""
DAYS = 30
"""Before those, the last version of each day, for so many days on which there was one."""
ALWAYS = 3
"""The last versions of a file that stay even over the cap."""
CAP_BYTES = 200_000_000
"""Room for the versions of one studio; a recipe takes a few thousand."""

_STUDIO_FILE = "studio.yaml"
_NAME = re.compile(r"(\d{6,12})-(\d{4}-\d{2}-\d{2})-(\d{1,12})-([0-9a-f]{8})(\..*)?")
_PART = re.compile(r"\.(\d{6,12})-.*\.part")
_NO_FOLDER_FLUSH = (errno.EINVAL, errno.EBADF, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS)
_Parsed = tuple[int, str, date, int]
"""A version by its name: number, name, day and size."""
_LONGEST_NAME = 255
_MOST_LEVELS = 8
_SELDOM = 10


@dataclass(frozen=True, slots=True)
class Version:
    """A kept version of a file."""

    number: int
    day: date
    """The day on which it was kept, by the clock of then."""
    size: int
    """Bytes."""
    path: Path

    def is_of(self, stamp: Stamp) -> bool:
        """Tell by its name whether it was kept of these bytes; nothing is read."""
        named = _NAME.fullmatch(self.path.name)
        return named is not None and self.size == stamp.size and stamp.digest.startswith(named[4])


@dataclass(frozen=True, slots=True)
class Room:
    """What the versions of a studio take."""

    folder: Path
    versions: int
    size: int
    """Bytes."""


def root_of(path: Path) -> Path:
    """Return the folder that holds the versions of a file and of those beside it.

    That is `backups` in the studio that the file lies in, which still counts
    while its own file is gone; else in the user's state folder.
    """
    return _place_of(path).root


def folder_of(path: Path) -> Path:
    """Return the folder of one file's versions; it need not exist."""
    return _place_of(path).folder


def is_backup(path: Path) -> bool:
    """Tell whether a file lies among the kept versions, where nothing is saved."""
    return _place_of(path).among_versions


def day_of(path: Path) -> date | None:
    """Return the day of a kept version by its name; None for any other file."""
    found = _listed(path.parent, [path.name], None) if is_backup(path) else []
    return found[0].day if found else None


def versions(path: Path) -> list[Version]:
    """Return the kept versions of a file, the newest first.

    Raises
    ------
    OSError
        If their folder is there and cannot be read.
    """
    place = _place_of(path)
    return _listed(place.folder, _names(place.folder), place.suffix)[::-1]


def keep(path: Path, data: bytes, today: date | None = None) -> None:
    """Put the bytes of a file, about to be replaced, among its versions.

    Complete or not at all: they are written under another name, flushed and
    renamed. Bytes equal to the newest version are not kept twice. Then old
    versions are thinned out, see `to_drop`; if all versions of the studio take
    more than `CAP_BYTES`, the file whose versions take most room loses its
    oldest, again and again, but the last three of a file always stay. What
    cannot be taken away now goes another time.

    Parameters
    ----------
    path : Path
        The file, not the version.
    data : bytes
    today : date, optional
        The label; the clock's if not given.

    Raises
    ------
    OSError
        If they could not be kept, or `path` is a kept version itself.
    """
    place = _place_of(path)
    if place.among_versions:
        raise PermissionError(errno.EPERM, "A kept version is never written over", str(path))
    folder = place.folder
    try:
        names = disk.names(folder)
    except FileNotFoundError:
        names = []
        _make_folders(folder, place.root.parent)
    known = _parsed(names, place.suffix)
    if known and _holds(folder / known[-1][1], data):
        flush_folder(folder)  # a former attempt may have stopped short of it
        return
    number = known[-1][0] + 1 if known else 1
    day = today or date.today()
    name = f"{number:06d}-{day.isoformat()}-{len(data)}-{_mark(data)}{place.suffix}"
    _write(folder, name, data)
    with suppress(OSError):
        _thin(folder, [*known, (number, name, day, len(data))], names)
    # A look at every version of a large studio takes a while.
    if number % _SELDOM == 0 or len(data) > CAP_BYTES // 1000:
        with suppress(OSError):
            _fit(place.root)


def to_drop(days: Sequence[date]) -> set[int]:
    """Return which versions are thinned out, by their place in the order.

    The last `LATEST` stay; before those the last version of each day, for
    `DAYS` days that have one; before those the last of each month, for ever.
    Days and months are those of the labels, whatever the clock said in
    between: a jump to another year costs no version of a true day.

    Parameters
    ----------
    days : sequence of date
        The labels of a file's versions, the oldest version first.

    Examples
    --------
    >>> to_drop([date(2026, 11, 2)] * 32)
    {0}
    """
    dropped = set()
    seen_days: set[date] = set()
    seen_months: set[tuple[int, int]] = set()
    for place in range(len(days) - LATEST - 1, -1, -1):
        day = days[place]
        month = (day.year, day.month)
        if day in seen_days:
            dropped.add(place)
        elif len(seen_days) < DAYS:
            seen_days.add(day)
        elif month in seen_months:
            dropped.add(place)
        else:
            seen_months.add(month)
    return dropped


def read_version(version: Version) -> bytes:
    """Return the bytes of a kept version.

    Raises
    ------
    OSError
        If it cannot be read.
    InputError
        If they are not the bytes that were kept.
    """
    data = disk.read(version.path)
    found = _NAME.fullmatch(version.path.name)
    if found is None or found[4] != _mark(data):
        raise InputError("is not what was kept any more", "take another version", str(version.path))
    return data


def room_of(path: Path) -> Room:
    """Return what all versions take that lie with those of a file.

    Raises
    ------
    OSError
        If their folder is there and cannot be read.
    """
    root = root_of(path)
    sizes = _sizes(root)
    return Room(root, len(sizes), sum(sizes))


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the versions of a file lie."""

    root: Path
    folder: Path
    suffix: str
    among_versions: bool


def _place_of(path: Path) -> _Place:
    # A save follows links too; a link and its target share their versions.
    real = Path(os.path.realpath(path))
    outside = Path(os.path.realpath(state.state_folder())) / FOLDER
    studio = next((f for f in real.parents if os.path.lexists(f / _STUDIO_FILE)), None)
    if studio is None and outside not in real.parents:
        studio = _studio_by_versions(real)
    if studio is not None:
        root = studio / FOLDER
        folder = root / real.relative_to(studio).parent / real.stem
    else:
        # Files of one name may lie in many folders; the longest names leave no room for a mark.
        mark = hashlib.sha256(os.fsencode(real.parent)).hexdigest()[:8]
        name = f"{real.stem}-{mark}"
        if len(os.fsencode(name)) > _LONGEST_NAME:
            name = hashlib.sha256(os.fsencode(real)).hexdigest()
        root, folder = outside, outside / name
    among = root in real.parents or outside in real.parents
    return _Place(root, folder, real.suffix, among)


def _studio_by_versions(real: Path) -> Path | None:
    """Return the folder that keeps versions of a file and whose studio file is gone, or None.

    A folder that happens to be called `backups` makes no studio; versions of this very
    file do.
    """
    for folder in real.parents:
        if folder.name == FOLDER and _NAME.fullmatch(real.name) is not None:
            return folder.parent
        kept = folder / FOLDER / real.relative_to(folder).parent / real.stem
        with suppress(OSError):  # what cannot be looked into keeps nothing for us
            if any(_NAME.fullmatch(name) for name in disk.names(kept)):
                return folder
    return None


def _mark(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:8]


def _names(folder: Path) -> list[str]:
    try:
        return disk.names(folder)
    except FileNotFoundError:
        return []


def _parsed(names: Sequence[str], suffix: str | None) -> list[_Parsed]:
    """Pick the versions with an ending (None: any) out of names; the oldest first."""
    found = []
    for name in names:
        parts = _NAME.fullmatch(name)
        if parts is None or suffix not in (None, parts[5] or ""):
            continue
        with suppress(ValueError):  # a day that no calendar has
            found.append((int(parts[1]), name, date.fromisoformat(parts[2]), int(parts[3])))
    return sorted(found)


def _listed(folder: Path, names: Sequence[str], suffix: str | None) -> list[Version]:
    return [
        Version(number, day, size, folder / name)
        for number, name, day, size in _parsed(names, suffix)
    ]


def _make_folders(folder: Path, above: Path) -> None:
    disk.make_folder(folder)
    parent = folder
    while parent not in (above, parent.parent):
        parent = parent.parent
        flush_folder(parent)


def _holds(path: Path, data: bytes) -> bool:
    try:
        return disk.read(path) == data
    except OSError:
        return False


def _write(folder: Path, name: str, data: bytes) -> None:
    part = folder / f".{name}.{os.getpid()}-{os.urandom(4).hex()}.part"
    try:
        # Read-only from the first: nobody opens it to write but this handle.
        write_new(part, data, 0o444)
        disk.replace(part, folder / name)
    except BaseException:
        with suppress(OSError):
            take_away(part)
        raise
    flush_folder(folder)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder last, where the folder is of a kind that can.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    try:
        disk.flush_folder(folder)
    except OSError as fault:
        if fault.errno not in _NO_FOLDER_FLUSH:  # some network folders cannot
            raise


def _thin(folder: Path, known: Sequence[_Parsed], names: Sequence[str]) -> None:
    for place in to_drop([day for _number, _name, day, _size in known]):
        take_away(folder / known[place][1])
    newest = known[-1][0]
    for name in names:
        part = _PART.fullmatch(name)
        # One of the last numbers may be another window's, being written now.
        if part is not None and int(part[1]) < newest - 1:
            take_away(folder / name)


def _folders(root: Path, levels: int = _MOST_LEVELS) -> Iterator[tuple[Path, list[str]]]:
    """Walk the folders of versions below one, each with what lies in it.

    What cannot be read below it is passed over: it must not hinder the rest.
    """
    names = _names(root)
    yield root, names
    if levels:
        for name in names:
            if _NAME.fullmatch(name) is None and not name.startswith("."):
                inner = root / name
                if _is_folder(inner):
                    yield from _folders(inner, levels - 1)


def _is_folder(path: Path) -> bool:
    try:
        return stat.S_ISDIR(disk.status(path).st_mode)
    except OSError:
        return False


def _sizes(root: Path) -> list[int]:
    """Return the size of every version below a folder, read off their names."""
    parts = (_NAME.fullmatch(name) for _folder, names in _folders(root) for name in names)
    return [int(found[3]) for found in parts if found is not None]


def _files(root: Path) -> Iterator[list[Version]]:
    """Walk the versions below a folder, file by file; the oldest version first."""
    for folder, names in _folders(root):
        by_suffix: dict[str, list[Version]] = {}
        for version in _listed(folder, names, None):
            by_suffix.setdefault(version.path.suffix, []).append(version)
        yield from by_suffix.values()


def _fit(root: Path) -> None:
    """Bring the versions below a folder under the cap."""
    if sum(_sizes(root)) <= CAP_BYTES:
        return
    files = [(found, sum(v.size for v in found)) for found in _files(root)]
    total = sum(size for _found, size in files)
    heap = [(-size, str(found[0].path), found) for found, size in files if len(found) > ALWAYS]
    heapq.heapify(heap)
    while total > CAP_BYTES and heap:
        size, name, found = heapq.heappop(heap)
        oldest, *rest = found
        take_away(oldest.path)
        total -= oldest.size
        if len(rest) > ALWAYS:
            heapq.heappush(heap, (size + oldest.size, name, rest))
