"""Firings: a named schedule of segments, with its cone and its logs. Every edit gives a new one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from core.errors import InputError
from core.firing.log import FiringLog
from core.numbers import number_text, read_number
from core.plain_yaml import Tree

HOTTEST_C = 1800.0
ROOM_C = 20.0
"""Where every schedule begins [°C]."""
SLOWEST, FASTEST = 0.1, 3000.0
"""Rates [°C/h] outside these are slips of the key."""
SURELY_RATE = 400.0
"""A natural cooling [°C/h] up to this is never taken for a temperature; judged."""
LONGEST_HOLD_MIN = 10_000.0
MOST_SEGMENTS = 100
FULL = "full"
"""The rate of a segment that goes as fast as the kiln does."""
_FREEZING_F, _F_PER_C = 32.0, 1.8


def celsius(fahrenheit: float) -> float:
    """Convert a temperature.

    Examples
    --------
    >>> round(celsius(1900.0))
    1038
    """
    return (fahrenheit - _FREEZING_F) / _F_PER_C


def celsius_rate(fahrenheit_per_h: float) -> float:
    """Convert a rate, which is a difference of temperatures.

    Examples
    --------
    >>> round(celsius_rate(100.0), 1)
    55.6
    """
    return fahrenheit_per_h / _F_PER_C


@dataclass(frozen=True, slots=True)
class Segment:
    """One leg of a schedule: a ramp with an optional hold, or natural cooling.

    The figures stand as they were written, in °C or in °F; `rate` and
    `target_c` give them in °C.
    """

    rate_c_per_h: str = ""
    """[°C/h], or "full" for as fast as the kiln goes."""
    to_c: float | None = None
    hold_min: float = 0.0
    natural_cooling: float | None = None
    """Cooling rate of the kiln switched off, at the start [°C/h]."""
    rate_f_per_h: str = ""
    """[°F/h], in place of `rate_c_per_h`."""
    to_f: float | None = None
    """[°F], in place of `to_c`."""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)
    """Keys of the file that this program does not know."""

    @property
    def rate(self) -> float | None:
        """Rate without its direction [°C/h]; None where the kiln itself decides.

        Raises
        ------
        InputError
            If the text is no number.
        """
        text = self.rate_c_per_h or self.rate_f_per_h
        if self.natural_cooling is not None or text.strip() == FULL:
            return None
        value = read_number(text)
        return value if self.rate_c_per_h else celsius_rate(value)

    @property
    def target_c(self) -> float | None:
        """Temperature that the segment ends at [°C]; None when a natural cooling says none."""
        return self.to_c if self.to_f is None else celsius(self.to_f)

    def end_c(self, start_c: float, opened_c: float) -> float:
        """Temperature that the segment ends at [°C], coming from `start_c`.

        A natural cooling ends where the kiln is opened, unless it says otherwise.
        """
        target = self.target_c
        return min(start_c, opened_c) if target is None else target


@dataclass(frozen=True, slots=True)
class Firing:
    """A schedule; `cone` is text and may be empty when nobody said it."""

    id: str
    name: str = ""
    cone: str = ""
    atmosphere: str = ""
    segments: tuple[Segment, ...] = ()
    note: str = ""
    source: str = ""
    confidence: str = ""
    log: tuple[FiringLog, ...] = ()
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)
    """Keys of the file that this program does not know."""

    @property
    def peak_c(self) -> float | None:
        """Highest set point of the schedule [°C]."""
        points = [s.target_c for s in self.segments]
        return max((p for p in points if p is not None), default=None)

    def with_segment(self, row: int, segment: Segment) -> Firing:
        """Return a copy in which segment `row` is another.

        Raises
        ------
        InputError
            If no kiln could fire the changed schedule; see `check_segments`.
        """
        return self.with_segments((*self.segments[:row], segment, *self.segments[row + 1 :]))

    def with_segments(self, segments: Sequence[Segment]) -> Firing:
        """Return a copy with other segments.

        Raises
        ------
        InputError
            If no kiln could fire them; see `check_segments`.
        """
        check_segments(segments)
        return replace(self, segments=tuple(segments))


@dataclass(frozen=True, slots=True)
class SegmentFault:
    """What is wrong with a schedule, and in which segment (from 0)."""

    row: int
    what: str
    mend: str


def check_segments(segments: Sequence[Segment]) -> None:
    """Check that a kiln can fire the segments.

    Raises
    ------
    InputError
        Naming the first segment that it cannot, counted from 1.

    Examples
    --------
    >>> check_segments([Segment("60", 900.0), Segment("-65", 1100.0)])
    Traceback (most recent call last):
        ...
    core.errors.InputError: segment 2 is written as a cooling (the rate -65 is not positive) but \
climbs from 900 to 1100 °C; give a lower to_c, or a rate without its sign
    """
    fault = segment_fault(segments)
    if fault is not None:
        raise InputError(f"segment {fault.row + 1} {fault.what}", fault.mend)


def segment_fault(segments: Sequence[Segment]) -> SegmentFault | None:
    """Return the first thing that a kiln cannot fire, or None."""
    if len(segments) > MOST_SEGMENTS:
        return SegmentFault(MOST_SEGMENTS, "is one too many", f"use at most {MOST_SEGMENTS}")
    here = ROOM_C
    for row, segment in enumerate(segments):
        found = _fault_of(segment, here, row == len(segments) - 1)
        if found:
            return SegmentFault(row, *found)
        here = segment.end_c(here, here)
    return None


def _fault_of(segment: Segment, here: float, last: bool) -> tuple[str, str] | None:
    if segment.to_c is not None and segment.to_f is not None:
        return "says twice where it ends", "keep to_c or to_f"
    if not 0 <= segment.hold_min <= LONGEST_HOLD_MIN:
        return (
            f"holds for {segment.hold_min:g} minutes, which no firing does",
            f"give 0 to {LONGEST_HOLD_MIN:.0f} minutes",
        )
    if segment.natural_cooling is not None:
        return _cooling_fault(segment, segment.natural_cooling, here, last)
    target = segment.target_c
    if target is None:
        return "goes nowhere", "give to_c, the temperature it ends at"
    if not 0 < target <= HOTTEST_C:
        return f"ends at {target:g} °C, out of a kiln's reach", f"stay below {HOTTEST_C:.0f}"
    return _rate_fault(segment, target, here)


def _rate_fault(segment: Segment, target: float, here: float) -> tuple[str, str] | None:
    if segment.rate_c_per_h and segment.rate_f_per_h:
        return "says its rate twice", "keep rate_c_per_h or rate_f_per_h"
    try:
        rate = segment.rate
    except InputError as fault:
        return f"has a rate that cannot be read: {fault.what}", f'give °C per hour, or "{FULL}"'
    if rate is None:
        if target <= ROOM_C < here:
            return f"cools to {target:g} °C, below the room", f"end above {ROOM_C:.0f} °C"
    elif rate < 0 and target > here:
        return (
            f"is written as a cooling (the rate {rate:g} is not positive) but climbs"
            f" from {here:g} to {target:g} °C",
            "give a lower to_c, or a rate without its sign",
        )
    elif not rate > 0:
        return f"has the rate {rate:g}, which is not positive", "the direction follows from to_c"
    elif not SLOWEST <= rate <= FASTEST:
        return (
            f"has the rate {rate:g} °C/h, which no kiln has",
            f"give {number_text(SLOWEST)} to {FASTEST:.0f} °C per hour",
        )
    if math.isclose(target, here, abs_tol=1e-9) and not segment.hold_min:
        return f"stays at {here:g} °C for no time", "give another to_c, or hold_min"
    return None


def _cooling_fault(
    segment: Segment, rate: float, here: float, last: bool
) -> tuple[str, str] | None:
    if segment.rate_c_per_h or segment.rate_f_per_h:
        return "has a rate and a natural cooling", "keep one of them"
    if not SLOWEST <= rate <= FASTEST:
        return (
            f"has the natural cooling {rate:g}, which is not a positive rate of a kiln",
            "give °C per hour at its start, such as 150",
        )
    if not last:
        return "cools naturally before the end", "a kiln switched off stays off: put it last"
    target = segment.target_c
    if target is not None and target >= here:
        return (
            f"is a natural cooling but climbs from {here:g} to {target:g} °C",
            "give a lower to_c, or none",
        )
    if target is not None and target <= ROOM_C:
        return f"cools to {target:g} °C, below the room", f"end above {ROOM_C:.0f} °C"
    if here <= ROOM_C:
        return "cools a kiln that is cold", "put a ramp before it"
    if rate > SURELY_RATE and rate >= here:
        return (
            f"has the natural cooling {rate:g} °C/h from {here:g} °C, which no kiln has",
            "give a rate, such as 150; the temperature it ends at stands in to_c",
        )
    if segment.hold_min:
        return "holds in a kiln that is switched off", "leave hold_min out"
    return None
