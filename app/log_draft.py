"""A firing log as it is being typed: texts, what they read as, and what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum, StrEnum
from pathlib import Path
from typing import Final

from core.errors import InputError
from core.firing.cones import rank
from core.firing.entry import fahrenheit
from core.firing.log import FiringLog, SetPoint, WitnessCone, check_witness
from core.firing.schedule import HOTTEST_C, celsius
from core.numbers import number_text, read_number

DATE_EXAMPLE: Final = "2031-02-09 07:30"
_DATE: Final = re.compile(r"\d{4}-\d\d-\d\d([ T]\d\d:\d\d(:\d\d)?)?", re.ASCII)
_DAY: Final = len("2031-02-09")


class Field(StrEnum):
    """The parts of a log that a fault can lie in, in reading order."""

    BEGUN = "begun"
    ENDED = "ended"
    CONES = "cones"
    POINTS = "points"
    NOTES = "notes"
    PHOTO = "photo"


class ConeColumn(IntEnum):
    """Columns of a witness cone."""

    SHELF = 0
    CONE = 1
    CLOCK = 2


class PointColumn(IntEnum):
    """Columns of a set point."""

    HOURS = 0
    SET = 1
    READ = 2


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table as typed, and the record that it was first shown from."""

    texts: tuple[str, ...]
    record: WitnessCone | SetPoint | None = None
    shown: tuple[str, ...] = ()
    """The texts of the record; while they stand, the record itself counts."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in it; such a line is no fault and no record."""
        return not any(text.strip() for text in self.texts)


@dataclass(frozen=True, slots=True)
class LogFault:
    """What is wrong with a draft, and where; rows and columns count from 0."""

    field: Field
    words: str
    row: int = -1
    column: int = -1
    is_gap: bool = False
    """Something is still to be typed, rather than typed wrongly."""


@dataclass(frozen=True, slots=True)
class LogDraft:
    """The texts of one log."""

    original: FiringLog
    begun: str
    ended: str
    cones: tuple[Line, ...]
    points: tuple[Line, ...]
    notes: str
    photo: str
    """Name of a file in the studio's photos."""
    new_photo: Path | None = None
    """A file that is to be copied there."""
    in_fahrenheit: bool = False


def draft_of(log: FiringLog, in_fahrenheit: bool = False) -> LogDraft:
    """Write a log as texts; with `in_fahrenheit` its temperatures are in °F."""

    def degrees(value: float | None) -> str:
        if value is None:
            return ""
        return number_text(round(fahrenheit(value), 1) if in_fahrenheit else value)

    cones = [(w, (w.shelf, w.cone, number_text(w.clock))) for w in log.witness_cones]
    points = [
        (p, (number_text(p.hours), degrees(p.set_c), degrees(p.read_c))) for p in log.set_points
    ]
    return LogDraft(
        original=log,
        begun=log.begun,
        ended=log.ended,
        cones=tuple(Line(texts, record, texts) for record, texts in cones),
        points=tuple(Line(texts, record, texts) for record, texts in points),
        notes=log.notes,
        photo=log.photo,
        in_fahrenheit=in_fahrenheit,
    )


def read_draft(draft: LogDraft) -> tuple[FiringLog, list[LogFault]]:
    """Read a draft.

    Returns
    -------
    (log, faults) : (FiringLog, list of LogFault)
        The log holds all that is sound; keys that this program does not know
        stay with their log and their line. Set points are sorted by time.
    """
    faults: list[LogFault] = []
    begun = _date(Field.BEGUN, draft.begun, draft.original.begun, faults)
    ended = _date(Field.ENDED, draft.ended, draft.original.ended, faults)
    dates_hold = _DATE.fullmatch(begun) and _DATE.fullmatch(ended)
    if dates_hold and (begun, ended) != (draft.original.begun, draft.original.ended):
        # A day without a time ends no earlier than anything of that day.
        length = min(len(begun), len(ended), len(DATE_EXAMPLE))
        if ended[:length] < begun[:length]:
            faults.append(LogFault(Field.ENDED, "ends before it begins; look at both dates"))
            ended = ""
    cones = [_witness(line, row, faults) for row, line in enumerate(draft.cones)]
    points = [
        _set_point(line, row, draft.in_fahrenheit, faults) for row, line in enumerate(draft.points)
    ]
    log = replace(
        draft.original,
        begun=begun,
        ended=ended,
        witness_cones=tuple(cone for cone in cones if cone is not None),
        set_points=tuple(sorted((p for p in points if p is not None), key=lambda p: p.hours)),
        notes=draft.notes,
        photo=draft.photo,
    )
    return log, faults


def _date(field: Field, text: str, original: str, faults: list[LogFault]) -> str:
    if text == original:
        return text
    words = text.strip()
    if not words:
        return ""
    try:
        if not _DATE.fullmatch(words):
            raise ValueError(words)
        datetime.fromisoformat(words)
    except ValueError:
        faults.append(LogFault(field, f"no such date; write {DATE_EXAMPLE}"))
        return ""
    # Logs are put in order by this text, so that every one has the same form.
    return words[:_DAY] + words[_DAY:].replace("T", " ")


def _witness(line: Line, row: int, faults: list[LogFault]) -> WitnessCone | None:
    known = line.record if isinstance(line.record, WitnessCone) else None
    if known is not None and line.texts == line.shown:
        return known
    if line.is_empty:
        return None
    shelf, cone, clock = (text.strip() for text in line.texts)

    def fault(column: ConeColumn, words: str, is_gap: bool = False) -> None:
        faults.append(LogFault(Field.CONES, words, row, column, is_gap))

    if not cone:
        fault(ConeColumn.CONE, "names no cone; write its number, such as 06 or 6", True)
        return None
    if not clock:
        fault(ConeColumn.CLOCK, "does not say where the tip points; write 12, 1 to 6, or 7", True)
        return None
    try:
        position = read_number(clock)
    except InputError as found:
        fault(ConeColumn.CLOCK, str(found))
        return None
    witness = WitnessCone(shelf, cone, position, known.extra if known is not None else {})
    try:
        check_witness(witness)
    except InputError as found:
        fault(ConeColumn.CONE if rank(cone) is None else ConeColumn.CLOCK, str(found))
        return None
    return witness


def _set_point(
    line: Line, row: int, in_fahrenheit: bool, faults: list[LogFault]
) -> SetPoint | None:
    known = line.record if isinstance(line.record, SetPoint) else None
    if known is not None and line.texts == line.shown:
        return known
    if line.is_empty:
        return None
    before = len(faults)

    def fault(column: PointColumn, words: str, is_gap: bool = False) -> None:
        faults.append(LogFault(Field.POINTS, words, row, column, is_gap))

    def number(column: PointColumn) -> float | None:
        text = line.texts[column].strip()
        try:
            return read_number(text) if text else None
        except InputError as found:
            fault(column, str(found))
            return None

    def degrees(column: PointColumn, kept: float | None) -> float | None:
        if line.shown and line.texts[column] == line.shown[column]:
            return kept
        value = number(column)
        if value is None:
            return None
        value_c = celsius(value) if in_fahrenheit else value
        if not 0 <= value_c <= HOTTEST_C:
            unit = "°F" if in_fahrenheit else "°C"
            most = fahrenheit(HOTTEST_C) if in_fahrenheit else HOTTEST_C
            fault(column, f"{value:g} {unit} is out of a kiln's reach; stay below {most:.0f}")
        return value_c

    hours = number(PointColumn.HOURS)
    if hours is None and len(faults) == before:
        fault(PointColumn.HOURS, "has no time; write the hours since the start", True)
    elif hours is not None and hours < 0:
        fault(PointColumn.HOURS, f"{hours:g} h is before the start; give zero or more")
    set_c = degrees(PointColumn.SET, known.set_c if known is not None else None)
    read_c = degrees(PointColumn.READ, known.read_c if known is not None else None)
    if hours is None or len(faults) > before:
        return None
    return SetPoint(hours, set_c, read_c, known.extra if known is not None else {})


def shelves_of(logs: Sequence[FiringLog]) -> list[str]:
    """Return the shelves of several logs, in the order in which they first appear."""
    return list(dict.fromkeys(shelf for log in logs for shelf in log.shelves()))
