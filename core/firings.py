"""Firings: a named schedule with its cone and peak."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import msgspec

from core.cones import rank
from core.errors import InputError
from core.numbers import read_number
from core.plain_yaml import Place, PlainYaml, read_file
from core.schema import Number, convert, expect_kind
from core.tables import read_records, shipped

HOTTEST_C = 1800.0


class Segment(msgspec.Struct, frozen=True):
    """One leg of a schedule: a ramp with an optional hold, or natural cooling."""

    rate_c_per_h: str = ""
    """[°C/h], or "full" for as fast as the kiln goes."""
    to_c: Number | None = None
    hold_min: Number = Number(0.0)
    natural_cooling: Number | None = None
    """Cooling rate of the kiln switched off, at the start [°C/h]."""


class Firing(msgspec.Struct, frozen=True):
    """A schedule; `cone` is text and may be empty when nobody said it."""

    id: str
    name: str = ""
    cone: str = ""
    atmosphere: str = ""
    segments: list[Segment] = []
    note: str = ""
    source: str = ""
    confidence: str = ""

    @property
    def peak_c(self) -> float | None:
        """Highest set point of the schedule [°C]."""
        points = [float(s.to_c) for s in self.segments if s.to_c is not None]
        return max(points, default=None)


def read_firing(path: Path) -> Firing:
    """Read a file of ``kind: firing``.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    document = read_file(path)
    expect_kind(document, "firing")
    firing = convert(document, Firing)
    _check(document, firing, ())
    return firing


@cache
def shipped_firings() -> Mapping[str, Firing]:
    """Return the shipped firings by id; read once."""
    document = shipped("firings.yaml")
    found = {}
    for number, firing in read_records(document, "firings", Firing, True):
        _check(document, firing, ("firings", number))
        found[firing.id] = firing
    return found


def _check(document: PlainYaml, firing: Firing, place: Place) -> None:
    if not firing.id.strip():
        raise document.fault((*place, "id"), "is empty", "give it an id")
    if firing.cone and rank(firing.cone) is None:
        raise document.fault(
            (*place, "cone"), f"there is no cone {firing.cone!r}", "write one from 022 to 14"
        )
    for number, segment in enumerate(firing.segments):
        fault = _fault_of(segment)
        if fault:
            raise document.fault((*place, "segments", number), *fault)


def _fault_of(segment: Segment) -> tuple[str, str] | None:
    if segment.natural_cooling is not None:
        if segment.natural_cooling <= 0:
            return "natural cooling must be a positive rate", "give °C per hour, such as 150"
        return None
    if segment.to_c is None:
        return "goes nowhere", "give to_c, the temperature it ends at"
    if not 0 < segment.to_c <= HOTTEST_C:
        return f"{segment.to_c:g} °C is out of a kiln's reach", f"stay below {HOTTEST_C:.0f}"
    if segment.hold_min < 0:
        return "holds for less than no time", "give zero minutes or more"
    if segment.rate_c_per_h == "full":
        return None
    try:
        rate = read_number(segment.rate_c_per_h)
    except InputError as fault:
        return f"the rate {fault.what}", 'give °C per hour, or "full"'
    if not (math.isfinite(rate) and rate > 0):
        return f"the rate {rate:g} is not positive", "the direction follows from to_c"
    return None
