"""What a person reads and types in a schedule: rates, targets and holds as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from core.errors import InputError
from core.firing.kiln import Kiln
from core.firing.schedule import FULL, ROOM_C, Segment
from core.numbers import number_text, read_number

OFF = "off"
"""What stands for a kiln switched off; a rate may follow."""
_F_PER_C = 1.8
_NEW_RATE = 100.0
"""Of a new ramp with nothing beside it [°C/h]."""


def fahrenheit(celsius_: float) -> float:
    """Convert a temperature.

    Examples
    --------
    >>> round(fahrenheit(1222.0))
    2232
    """
    return celsius_ * _F_PER_C + 32.0


def rate_text(segment: Segment, in_fahrenheit: bool = False) -> str:
    """Write the rate of a segment: per hour, "full", or "off" with the rate at its start.

    Examples
    --------
    >>> rate_text(Segment("60", 900.0)), rate_text(Segment(natural_cooling=150.0))
    ('60', 'off 150')
    >>> rate_text(Segment("60", 900.0), in_fahrenheit=True)
    '108'
    """
    scale = _F_PER_C if in_fahrenheit else 1.0
    if segment.natural_cooling is not None:
        return f"{OFF} {_short(segment.natural_cooling * scale)}"
    if in_fahrenheit and segment.rate_f_per_h:
        return segment.rate_f_per_h
    if not in_fahrenheit and segment.rate_c_per_h:
        return segment.rate_c_per_h
    rate = segment.rate
    return FULL if rate is None else _short(rate * scale)


def target_text(segment: Segment, in_fahrenheit: bool = False) -> str:
    """Write where a segment ends; empty for a cooling that only ends with the firing."""
    if in_fahrenheit and segment.to_f is not None:
        return _short(segment.to_f)
    target = segment.target_c
    if target is None:
        return ""
    return _short(fahrenheit(target) if in_fahrenheit else target)


def hold_text(segment: Segment) -> str:
    """Write a hold in minutes; empty without one."""
    return number_text(segment.hold_min) if segment.hold_min else ""


def with_rate(segment: Segment, text: str, in_fahrenheit: bool, kiln: Kiln) -> Segment:
    """Return a segment with another rate.

    Parameters
    ----------
    segment : Segment
    text : str
        A number per hour, "full", or "off" with or without the rate at which
        the kiln switched off begins to cool.
    in_fahrenheit : bool
        The number is in °F/h.
    kiln : Kiln
        Whose cooling rate a bare "off" means.

    Raises
    ------
    InputError
        If the text is none of these.
    """
    words = text.strip().casefold()
    if words.startswith(OFF):
        rest = words.removeprefix(OFF).strip(" ,")
        rate = float(kiln.cooling_c_per_h)
        if rest:
            rate = read_number(rest) / (_F_PER_C if in_fahrenheit else 1.0)
        return Segment(natural_cooling=rate, extra=segment.extra)
    if segment.target_c is None:
        # A ramp has to end somewhere; the kiln is opened there.
        segment = replace(segment, to_c=float(kiln.opened_c))
    segment = replace(segment, rate_c_per_h="", rate_f_per_h="", natural_cooling=None)
    if words == FULL:
        return replace(segment, rate_c_per_h=FULL)
    figure = number_text(read_number(words))
    if in_fahrenheit:
        return replace(segment, rate_f_per_h=figure)
    return replace(segment, rate_c_per_h=figure)


def with_target(segment: Segment, text: str, in_fahrenheit: bool) -> Segment:
    """Return a segment that ends elsewhere [°C or °F]; an empty text takes the target away.

    Raises
    ------
    InputError
        If the text is no number.
    """
    if not text.strip():
        return replace(segment, to_c=None, to_f=None)
    figure = read_number(text)
    if in_fahrenheit:
        return replace(segment, to_c=None, to_f=figure)
    return replace(segment, to_c=figure, to_f=None)


def with_hold(segment: Segment, text: str) -> Segment:
    """Return a segment with another hold, in minutes or as hours:minutes.

    Raises
    ------
    InputError
        If the text is neither.

    Examples
    --------
    >>> with_hold(Segment("60", 900.0), "1:30").hold_min
    90.0
    """
    words = text.strip()
    if not words:
        return replace(segment, hold_min=0.0)
    hours, colon, minutes = words.partition(":")
    if not colon:
        return replace(segment, hold_min=read_number(words))
    if not (hours.isascii() and hours.isdigit() and minutes.isascii() and minutes.isdigit()):
        raise InputError(f"{words!r} is no time", "write minutes, or hours:minutes as in 1:30")
    if len(minutes) != 2 or int(minutes) > 59:
        raise InputError(f"{words!r} is no time", "write minutes, or hours:minutes as in 1:30")
    return replace(segment, hold_min=60.0 * float(hours) + float(minutes))


def new_segment_at(segments: Sequence[Segment], row: int, in_fahrenheit: bool) -> Segment:
    """Return a ramp that may stand before segment `row`: half way to the next target.

    Parameters
    ----------
    segments : sequence of Segment
    row : int
        The number of segments puts it last; before a natural cooling it cools.
    in_fahrenheit : bool
        Write its figures in °F.
    """
    here = ROOM_C
    for segment in segments[:row]:
        here = segment.end_c(here, here)
    following = segments[row] if row < len(segments) else None
    target = following.target_c if following is not None else None
    if target is not None and abs(target - here) > 2.0:
        goal = (here + target) / 2
    else:
        goal = here - 100.0 if here > 200.0 else here + 100.0
    rate = following.rate if following is not None else None
    rate = rate or _NEW_RATE
    if in_fahrenheit:
        return Segment(
            rate_f_per_h=number_text(round(rate * _F_PER_C)), to_f=float(round(fahrenheit(goal)))
        )
    return Segment(number_text(round(rate)), float(round(goal)))


def _short(value: float) -> str:
    return number_text(round(value, 1))
