"""Reading and writing one firing with its logs, and the shipped firings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from core.errors import InputError
from core.files.content import Stamp
from core.files.formats import in_present_format
from core.files.records import save_record
from core.firing.cones import rank
from core.firing.log import FiringLog, SetPoint, WitnessCone, check_witness
from core.firing.schedule import Firing, Segment, segment_fault
from core.numbers import number_text
from core.plain_yaml import Place, PlainYaml, Tree, read_file, write
from core.schema import FORMAT, Number, convert, expect_kind, unknown_keys
from core.tables import read_records, shipped


class _SegmentRecord(msgspec.Struct):
    rate_c_per_h: str = ""
    rate_f_per_h: str = ""
    to_c: Number | None = None
    to_f: Number | None = None
    hold_min: Number = Number(0.0)
    natural_cooling: Number | None = None


class _SetPointRecord(msgspec.Struct):
    hours: Number
    set_c: Number | None = None
    read_c: Number | None = None


class _WitnessRecord(msgspec.Struct):
    cone: str
    clock: Number
    shelf: str = ""


class _LogRecord(msgspec.Struct):
    begun: str = ""
    ended: str = ""
    set_points: list[_SetPointRecord] = []
    witness_cones: list[_WitnessRecord] = []
    notes: str = ""
    photo: str = ""


class _FiringRecord(msgspec.Struct):
    id: str
    glost: str = ""
    kind: str = ""
    name: str = ""
    cone: str = ""
    atmosphere: str = ""
    segments: list[_SegmentRecord] = []
    note: str = ""
    source: str = ""
    confidence: str = ""
    log: list[_LogRecord] = []


def read_firing(path: Path) -> Firing:
    """Read a file of ``kind: firing``.

    Raises
    ------
    InputError
        With file, line and path of the first fault; nothing is half loaded.
    """
    return firing_from(read_file(path))


def firing_from(document: PlainYaml) -> Firing:
    """Build a firing from a parsed file.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    document = in_present_format(document)
    expect_kind(document, "firing")
    return _firing(document, convert(document, _FiringRecord), ())


@cache
def shipped_firings() -> Mapping[str, Firing]:
    """Return the shipped firings by id; read once."""
    document = shipped("firings.yaml")
    rows = read_records(document, "firings", _FiringRecord, True)
    found = [_firing(document, record, ("firings", number)) for number, record in rows]
    return {firing.id: firing for firing in found}


def _firing(document: PlainYaml, record: _FiringRecord, place: Place) -> Firing:
    tree: Any = document.tree
    for step in place:
        tree = tree[step]
    if not record.id.strip():
        raise document.fault((*place, "id"), "is empty", "give it an id")
    if record.cone and rank(record.cone) is None:
        raise document.fault(
            (*place, "cone"), f"there is no cone {record.cone!r}", "write one from 022 to 14"
        )
    segments = tuple(
        Segment(
            rate_c_per_h=s.rate_c_per_h,
            to_c=_plain(s.to_c),
            hold_min=float(s.hold_min),
            natural_cooling=_plain(s.natural_cooling),
            rate_f_per_h=s.rate_f_per_h,
            to_f=_plain(s.to_f),
            extra=unknown_keys(tree["segments"][number], _SegmentRecord),
        )
        for number, s in enumerate(record.segments)
    )
    fault = segment_fault(segments)
    if fault is not None:
        what = f"segment {fault.row + 1} {fault.what}"
        raise document.fault((*place, "segments", fault.row), what, fault.mend)
    return Firing(
        id=record.id,
        name=record.name,
        cone=record.cone,
        atmosphere=record.atmosphere,
        segments=segments,
        note=record.note,
        source=record.source,
        confidence=record.confidence,
        log=tuple(
            _log(document, one, tree["log"][number], (*place, "log", number))
            for number, one in enumerate(record.log)
        ),
        extra=unknown_keys(tree, _FiringRecord),
    )


def _log(document: PlainYaml, record: _LogRecord, tree: Any, place: Place) -> FiringLog:
    for key in ("begun", "ended"):
        text = getattr(record, key)
        try:
            if text:
                datetime.fromisoformat(text)
        except ValueError as fault:
            raise document.fault(
                (*place, key), f"{text!r} is no date", "write it like 2031-02-09 07:30"
            ) from fault
    points = tuple(
        SetPoint(float(p.hours), _plain(p.set_c), _plain(p.read_c), unknown_keys(row, type(p)))
        for p, row in _pairs(record.set_points, tree, "set_points")
    )
    for number, point in enumerate(points):
        if point.hours < 0 or (number and point.hours < points[number - 1].hours):
            raise document.fault(
                (*place, "set_points", number, "hours"), "runs back in time", "sort them by hours"
            )
    cones: list[WitnessCone] = []
    for w, row in _pairs(record.witness_cones, tree, "witness_cones"):
        witness = WitnessCone(w.shelf, w.cone, float(w.clock), unknown_keys(row, type(w)))
        try:
            check_witness(witness)
        except InputError as fault:
            at = (*place, "witness_cones", len(cones))
            raise document.fault(at, fault.what, fault.mend) from fault
        cones.append(witness)
    return FiringLog(
        begun=record.begun,
        ended=record.ended,
        set_points=points,
        witness_cones=tuple(cones),
        notes=record.notes,
        photo=record.photo,
        extra=unknown_keys(tree, _LogRecord),
    )


def _pairs(records: list[Any], tree: Any, key: str) -> Iterable[tuple[Any, Any]]:
    return zip(records, tree[key], strict=True) if records else ()


def _plain(value: Number | None) -> float | None:
    return None if value is None else float(value)


def firing_text(firing: Firing) -> str:
    """Write a firing as the text of its file; the same firing gives the same bytes.

    Keys that this program does not know are written back.
    """
    return write(firing_tree(firing))


def firing_tree(firing: Firing) -> dict[str, Tree]:
    """Return what the file of a firing holds, as text by key."""
    tree: dict[str, Tree] = {"glost": FORMAT, "kind": "firing", "id": firing.id}
    for key in ("name", "cone", "atmosphere"):
        if text := getattr(firing, key):
            tree[key] = text
    tree["segments"] = [_segment_tree(segment) for segment in firing.segments]
    for key in ("note", "source", "confidence"):
        if text := getattr(firing, key):
            tree[key] = text
    if firing.log:
        tree["log"] = [_log_tree(one) for one in firing.log]
    return {**tree, **firing.extra}


def write_firing(path: Path, firing: Firing, known: Stamp | None) -> Stamp:
    """Save a firing in its file and return what stands there now.

    Raises
    ------
    InputError
        If the text would not read back to the same firing.
    ChangedOutside
        If something else stands in the file than `known`; None replaces whatever it is.
    NotSettled, OSError
        If the disk refuses; see `core.files.saving.save`.
    """
    return save_record(path, firing, firing_text, firing_from, "firing", known)


def _segment_tree(segment: Segment) -> Tree:
    tree: dict[str, Tree] = {}
    for key in ("rate_c_per_h", "rate_f_per_h"):
        if text := getattr(segment, key):
            tree[key] = text
    tree |= _figures(segment, "to_c", "to_f")
    if segment.hold_min:
        tree["hold_min"] = number_text(segment.hold_min)
    return {**tree, **_figures(segment, "natural_cooling"), **segment.extra}


def _log_tree(log: FiringLog) -> Tree:
    tree: dict[str, Tree] = {}
    for key in ("begun", "ended"):
        if text := getattr(log, key):
            tree[key] = text
    if log.set_points:
        tree["set_points"] = [
            {**_figures(point, "hours", "set_c", "read_c"), **point.extra}
            for point in log.set_points
        ]
    if log.witness_cones:
        tree["witness_cones"] = [
            {"shelf": w.shelf, "cone": w.cone, "clock": number_text(w.clock), **w.extra}
            for w in log.witness_cones
        ]
    for key in ("notes", "photo"):
        if text := getattr(log, key):
            tree[key] = text
    return {**tree, **log.extra}


def _figures(record: object, *keys: str) -> dict[str, Tree]:
    values = ((key, getattr(record, key)) for key in keys)
    return {key: number_text(value) for key, value in values if value is not None}
