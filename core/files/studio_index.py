"""What was made of a studio's files, kept in a database of the cache folder.

Reading and computing thousands of recipes and tiles takes seconds; what came
of each file is therefore kept beside what the file was then. The database
holds nothing that the files do not: it may be deleted at any time, also while
the program runs, and one that is damaged, foreign or of another format is
thrown away and made anew. Without a cache folder that can be written, every
start reads the files.

A file whose size, times and number on the disk are all as they were is taken
to hold what it held; otherwise its bytes are hashed, and only new bytes are
read for their meaning. A clock that is wrong cannot fool this by itself: the
bytes would have to change in place, to the same length, within the very
nanosecond that the file's times told before, and a file whose time lies close
to the moment of reading is hashed again at the next start. And no more than a
list would be out of date, for what is opened is always read from its file,
and what is saved is compared with the bytes that were read.
"""

from __future__ import annotations

import hashlib
import os
import stat
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Generic, TypeVar

import msgspec

from core.errors import InputError
from core.files.content import Stamp, stamp_of
from core.plain_yaml import LARGEST_FILE, PlainYaml, parse, read_file

if TYPE_CHECKING:
    import sqlite3

T = TypeVar("T")
R = TypeVar("R")

FORMAT: Final = 1
_RECORD, _FAULT = b"+", b"-"
_OURS: Final = 0x676C6F73
"""In the header of the database: "glos"."""
_PATIENCE_S: Final = 0.5
"""How long another writer is waited for; the files are read without the index after that."""
_SETTLED_NS: Final = 3_000_000_000
"""Some disks keep times in steps of two seconds [ns]."""
_TABLE: Final = """
CREATE TABLE files (
    room BLOB NOT NULL,
    name BLOB NOT NULL,
    looks BLOB NOT NULL,
    digest BLOB NOT NULL,
    size INTEGER NOT NULL,
    mark BLOB NOT NULL,
    said BLOB NOT NULL,
    seal BLOB NOT NULL,
    PRIMARY KEY (room, name)
)
"""


@dataclass(frozen=True, slots=True)
class Kept:
    """What the bytes of a file came to, as the database holds it."""

    looks: str
    """Size, times and number of the file; empty where they cannot vouch for it."""
    stamp: Stamp
    mark: str
    said: bytes
    """The record or, after another sign, the fault."""


@dataclass(frozen=True)
class Indexed(Generic[T]):
    """What is known of the files of one kind, by their names."""

    records: Mapping[str, T]
    faults: Mapping[str, InputError] = field(default_factory=dict)
    """Of files that are there and cannot be read."""
    read_anew: int = 0
    """Files whose meaning was not known as it is."""
    waiting: tuple[str, ...] = ()
    """Files that are left for the next call."""
    known: Mapping[str, Kept] = field(default_factory=dict)
    """For the next call."""


def database_of(cache_folder: Path, studio_folder: Path) -> Path:
    """Return the database of a studio; another folder, even of the same name, has its own."""
    whole = os.path.normcase(os.path.realpath(studio_folder))
    name = hashlib.sha256(os.fsencode(whole)).hexdigest()[:24]
    return cache_folder / f"studio-{name}.sqlite3"


def indexed(
    database: Path | None,
    room: str,
    paths: Iterable[Path],
    kind: type[T],
    mark: str,
    read: Callable[[PlainYaml], T],
    fits: Callable[[T], bool] = lambda _: True,
    most_anew: int | None = None,
    known: Mapping[str, Kept] | None = None,
) -> Indexed[T]:
    """Return what is to be known of some files, reading only those that moved on.

    Faults of the database are never told: it is made anew, or done without.

    Parameters
    ----------
    database : Path, optional
        Made or renewed where files were read anew.
    room : str
        The kind of file, such as "recipes".
    paths : iterable of Path
        Files of one folder; what the room holds of others is dropped.
    kind : type
        A msgspec type, of the records.
    mark : str
        Everything besides the file that its record rests on; another mark, another record.
    read : callable
        Makes the record; may raise `InputError`.
    fits : callable
        Tells whether a record still holds, where the mark cannot.
    most_anew : int, optional
        After so many files that were read and kept the others are left waiting.
    known : mapping, optional
        What an earlier call of the same session knew; the database is then only written.
    """
    found = known
    if found is None and database is not None:
        found = _kept(database, room)
    kept = found or {}
    records: dict[str, T] = {}
    faults: dict[str, InputError] = {}
    waiting: list[str] = []
    now: dict[str, Kept] = {}
    anew = newly_kept = 0
    decoder = msgspec.msgpack.Decoder(kind)
    seen: set[str] = set()
    for path in paths:
        looks = _looks(path)
        if looks is None:
            continue
        name = path.name
        seen.add(name)
        old = kept.get(name)
        vouched = old is not None and bool(looks) and looks == old.looks
        data = None if vouched else _bytes(path)
        if old is not None and old.mark == mark and (vouched or _holds(data, old)):
            outcome = _said(old.said, decoder, path)
            if isinstance(outcome, InputError):
                faults[name] = outcome
            elif outcome is not None and fits(outcome):
                records[name] = outcome
            if name in faults or name in records:
                now[name] = replace(old, looks=looks)
                continue
        if most_anew is not None and newly_kept >= most_anew:
            waiting.append(name)
            continue
        anew += 1
        if vouched:
            data = _bytes(path)
        outcome = _read(path, data, read)
        if isinstance(outcome, InputError):
            faults[name] = outcome
        else:
            records[name] = outcome
        # What is no ordinary file is refused at once, and a name that is no text cannot be kept.
        if data is not None:
            with suppress(UnicodeError, msgspec.MsgspecError):
                now[name] = Kept(looks, stamp_of(data), mark, _saying(outcome, path))
                newly_kept += 1
    fresh = {name: one for name, one in now.items() if kept.get(name) != one}
    gone = kept.keys() - seen
    if database is not None and found is not None and (fresh or gone):
        _keep(database, room, fresh, gone)
    return Indexed(records, faults, anew, tuple(waiting), now)


def _read(path: Path, data: bytes | None, read: Callable[[PlainYaml], T]) -> T | InputError:
    try:
        return read(parse(data, str(path)) if data is not None else read_file(path))
    except InputError as fault:
        return fault


def _saying(outcome: object, path: Path) -> bytes:
    if not isinstance(outcome, InputError):
        return _RECORD + msgspec.msgpack.encode(outcome)
    own = outcome.source == str(path)
    source = None if own else outcome.source
    fault = (outcome.what, outcome.mend, source, outcome.line, outcome.path)
    return _FAULT + msgspec.msgpack.encode(fault)


def _said(said: bytes, decoder: msgspec.msgpack.Decoder[T], path: Path) -> T | InputError | None:
    try:
        if said[:1] == _RECORD:
            return decoder.decode(said[1:])
        what, mend, source, line, place = msgspec.msgpack.decode(
            said[1:], type=tuple[str, str, str | None, int | None, str]
        )
    except msgspec.MsgspecError:
        return None
    return InputError(what, mend, str(path) if source is None else source, line, place)


def _looks(path: Path) -> str | None:
    """Return how a file looks from outside, empty where that vouches for nothing; None if gone."""
    try:
        found = path.stat()
    except OSError:
        return "" if path.is_symlink() or os.path.lexists(path) else None
    if not stat.S_ISREG(found.st_mode) or not found.st_ino:
        return ""
    # It may be written once more within the same step of its disk's clock.
    if any(abs(time.time_ns() - t) < _SETTLED_NS for t in (found.st_mtime_ns, found.st_ctime_ns)):
        return ""
    return f"{found.st_size} {found.st_mtime_ns} {found.st_ctime_ns} {found.st_ino}"


def _bytes(path: Path) -> bytes | None:
    """Return what is in a file; None where a recipe or run cannot be."""
    try:
        # A device or pipe might never end.
        if not path.is_file() or path.stat().st_size > LARGEST_FILE:
            return None
        return path.read_bytes()
    except OSError:
        return None


def _holds(data: bytes | None, old: Kept) -> bool:
    return data is not None and len(data) == old.stamp.size and stamp_of(data) == old.stamp


def _kept(database: Path, room: str) -> dict[str, Kept] | None:
    """Return what the database holds by file name; None where there is no getting at it."""
    import sqlite3

    def work(connection: sqlite3.Connection) -> dict[str, Kept]:
        rows = connection.execute(
            "SELECT name, looks, digest, size, mark, said, seal FROM files WHERE room = ?",
            (room.encode(),),
        )
        found = {}
        for name, looks, digest, size, mark, said, seal in rows:
            values = (name, looks, digest, size, mark, said)
            # What sqlite takes for sound may still be damaged inside a value.
            if seal != _seal(room, values):
                raise sqlite3.DatabaseError("a value is not what was written")
            found[os.fsdecode(name)] = Kept(
                looks.decode(), Stamp(digest.decode(), size), mark.decode(), said
            )
        return found

    return _with_database(database, work)


def _keep(database: Path, room: str, fresh: Mapping[str, Kept], gone: Iterable[str]) -> None:
    rows = []
    for name, kept in fresh.items():
        stamp = kept.stamp
        values = (
            os.fsencode(name),
            kept.looks.encode(),
            stamp.digest.encode(),
            stamp.size,
            kept.mark.encode(),
            kept.said,
        )
        rows.append((room.encode(), *values, _seal(room, values)))
    lost = [(room.encode(), os.fsencode(name)) for name in gone]

    def work(connection: sqlite3.Connection) -> None:
        with _transaction(connection):
            connection.executemany("DELETE FROM files WHERE room = ? AND name = ?", lost)
            connection.executemany(
                "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows
            )

    _with_database(database, work)


def _seal(room: str, values: Sequence[object]) -> bytes:
    parts = [part if isinstance(part, bytes) else repr(part).encode() for part in values]
    seal = hashlib.blake2b(digest_size=16)
    for part in (room.encode(), *parts):
        seal.update(len(part).to_bytes(8, "big"))
        seal.update(part)
    return seal.digest()


def _with_database(database: Path, work: Callable[[sqlite3.Connection], R]) -> R | None:
    """Do something with the database, made anew where it is not sound; None if that fails."""
    import sqlite3

    in_use = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    for _ in range(2):
        try:
            database.parent.mkdir(parents=True, exist_ok=True)
            with closing(_connection(database)) as connection:
                return work(connection)
        except sqlite3.Error as fault:
            # The low byte is the kind of fault. What another window works with stays.
            if getattr(fault, "sqlite_errorcode", 0) & 0xFF in in_use:
                return None
            if not _throw_away(database):
                return None
        except (OSError, ValueError, OverflowError):
            return None
    return None


def _connection(database: Path) -> sqlite3.Connection:
    import sqlite3

    connection = sqlite3.connect(database, timeout=_PATIENCE_S, isolation_level=None)
    try:
        # Values may be damaged into what is no text.
        connection.text_factory = bytes
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
        # What a power cut takes from it is read anew.
        connection.execute("PRAGMA synchronous = OFF")
        if _format(connection) != (_OURS, FORMAT):
            with _transaction(connection):
                if _format(connection) != (_OURS, FORMAT):  # nobody was quicker
                    if connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                        raise sqlite3.DatabaseError("of another format, or not ours")
                    connection.execute(_TABLE)
                    connection.execute(f"PRAGMA application_id = {_OURS}")
                    connection.execute(f"PRAGMA user_version = {FORMAT}")
    except BaseException:
        connection.close()
        raise
    return connection


def _format(connection: sqlite3.Connection) -> tuple[int, int]:
    return (
        connection.execute("PRAGMA application_id").fetchone()[0],
        connection.execute("PRAGMA user_version").fetchone()[0],
    )


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _throw_away(database: Path) -> bool:
    """Take the database and its journal away; False where something is in the way."""
    journal = database.with_name(f"{database.name}-journal")
    for path in (journal, database):
        try:
            if path.is_dir() and not path.is_symlink():
                path.rmdir()  # only an empty one: what is in it may be somebody's
            else:
                path.unlink(missing_ok=True)
        except OSError:
            return False
    return True
