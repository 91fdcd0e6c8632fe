"""Reading a journal: every line is checked, and what it holds goes through the checks of a file.

The reading ends at the first line that does not answer to its length, its
checksum and its number. What stands before it was true once.
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from core.errors import InputError
from core.files.content import Stamp
from core.files.journal import JOURNAL_FORMAT, Origin, Step, Work
from core.firing.files import firing_from
from core.plain_yaml import DEEPEST, LARGEST_FILE, MOST_VALUES, Tree, parse, write
from core.recipe_file import recipe_from

LARGEST_JOURNAL = 4 * LARGEST_FILE
"""Bytes; more is no journal of ours."""
_LINE = re.compile(rb"([1-9][0-9]{0,8}) ([0-9a-f]{8}) ")
_MOST_STEPS_BACK = 50
"""States tried from the last one backwards, should it not read as a file would."""
_ASIDE = "it is put aside"
T = TypeVar("T", bound=msgspec.Struct)


@dataclass(frozen=True, slots=True)
class Kept:
    """What a journal gave back."""

    origin: Origin
    last: Step | None
    """The last step that reads; None when nothing was done since the save."""
    damaged: bool = False
    """Whether sound lines may stand behind a bad one, or a later state did not read."""


class _Stamp(msgspec.Struct):
    digest: str
    size: int


class _Head(msgspec.Struct):
    journal: str
    number: int
    path: str | None
    stamp: _Stamp
    studio: str | None
    recipe: dict[str, Any]
    firings: dict[str, Any]
    firing_stamps: dict[str, _Stamp] = {}


class _StepRecord(msgspec.Struct):
    number: int
    words: str
    steps: int
    recipe: dict[str, Any] = {}
    gone: list[str] = []
    firings: dict[str, Any] = {}
    firings_gone: list[str] = []


def read(path: Path) -> Kept:
    """Read a journal up to its first bad line.

    Raises
    ------
    InputError
        If it has no sound head, or what it holds would not read as a file.
    """
    source = path.name
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_JOURNAL + 1)
    except OSError as fault:
        raise InputError(
            f"cannot be read ({fault.strerror or fault})", "check its rights", source
        ) from fault
    return read_bytes(data, source)


def read_bytes(data: bytes, source: str) -> Kept:
    """Read the bytes of a journal; see `read`.

    Raises
    ------
    InputError
        If there is no sound head, or what it holds would not read as a file.
    """
    if len(data) > LARGEST_JOURNAL:
        raise InputError("is too large for a journal", _ASIDE, source)
    lines = _SoundLines(data)
    payloads = iter(lines)
    head = _record(next(payloads, b""), _Head, source)
    if head.journal != JOURNAL_FORMAT:
        raise InputError(
            f"has the format {head.journal[:20]!r}, this program reads {JOURNAL_FORMAT!r}",
            "start the Glost that wrote it",
            source,
        )
    origin = Origin(
        _work(head.recipe, head.firings, source),
        None if head.path is None else Path(head.path),
        _stamp(head.stamp),
        None if head.studio is None else Path(head.studio),
        {i: _stamp(stamp) for i, stamp in head.firing_stamps.items()},
    )
    number, recipe, firings = head.number, head.recipe, head.firings
    states: list[tuple[_StepRecord, dict[str, Any], dict[str, Any]]] = []
    damaged = False
    for payload in payloads:
        try:
            step = _record(payload, _StepRecord, source)
        except InputError:
            damaged = True
            break
        if step.number != number + 1:
            damaged = True
            break
        number = step.number
        recipe = {k: v for k, v in recipe.items() if k not in step.gone} | step.recipe
        kept = {k: v for k, v in firings.items() if k not in step.firings_gone}
        firings = kept | step.firings
        states.append((step, recipe, firings))
    last, skipped = _last_that_reads(states, source)
    return Kept(origin, last, damaged or lines.damaged or skipped)


def _last_that_reads(
    states: Sequence[tuple[_StepRecord, dict[str, Any], dict[str, Any]]], source: str
) -> tuple[Step | None, bool]:
    """Return the last step whose state a file could hold, and whether later ones could not."""
    first: InputError | None = None
    for step, recipe, firings in reversed(states[-_MOST_STEPS_BACK:]):
        try:
            work = _work(recipe, firings, source)
        except InputError as fault:
            first = first or fault
            continue
        return Step(step.words, step.steps, work), first is not None
    if first is not None:
        raise first
    return None, False


class _SoundLines:
    """The sound lines of a journal from its beginning, without their heads."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.damaged = False
        """Whether something stands behind the line that ended the reading."""

    def __iter__(self) -> Iterator[bytes]:
        data, start = self._data, 0
        while start < len(data):
            payload = _payload(data, start)
            if payload is None:
                end = data.find(b"\n", start)
                self.damaged = 0 <= end < len(data) - 1
                return
            yield payload
            start = data.index(b"\n", start + len(payload)) + 1


def _payload(data: bytes, start: int) -> bytes | None:
    """Return what the line that begins at `start` holds; None if it is torn or changed."""
    found = _LINE.match(data, start)
    if found is None:
        return None
    end = found.end() + int(found[1])
    payload = data[found.end() : end]
    sound = zlib.crc32(payload) == int(found[2], 16)
    return payload if sound and data[end : end + 1] == b"\n" else None


def _record(payload: bytes, kind: type[T], source: str) -> T:
    try:
        return msgspec.convert(json.loads(payload), kind)
    # Much nested text runs into the recursion limit before anything is built.
    except (ValueError, RecursionError, msgspec.ValidationError) as fault:
        raise InputError("holds a line that is no step", _ASIDE, source) from fault


def _stamp(record: _Stamp) -> Stamp:
    return Stamp(record.digest, record.size)


def _work(recipe: Mapping[str, Any], firings: Mapping[str, Any], source: str) -> Work:
    """Build the state; what stands in a journal goes through the checks of a file."""
    read_firings = {}
    for firing_id, tree in firings.items():
        firing = firing_from(parse(write(_plain(tree, source)), source))
        if firing.id != firing_id:
            raise InputError(f"keeps the firing {firing.id!r} under another id", _ASIDE, source)
        read_firings[firing_id] = firing
    return Work(recipe_from(parse(write(_plain(dict(recipe), source)), source)), read_firings)


def _plain(tree: Any, source: str) -> Tree:
    """Check without recursion that a tree is text, lists and mappings, and of a file's depth."""
    waiting, seen = [(tree, 1)], 0
    while waiting:
        value, depth = waiting.pop()
        seen += 1
        if seen > MOST_VALUES or depth > DEEPEST + 1:
            raise InputError("holds more than a file may", _ASIDE, source)
        if isinstance(value, dict):
            waiting += [(inner, depth + 1) for inner in value.values()]
        elif isinstance(value, list):
            waiting += [(inner, depth + 1) for inner in value]
        elif not isinstance(value, str):
            raise InputError("holds a value that is no text", _ASIDE, source)
    checked: Tree = tree
    return checked
