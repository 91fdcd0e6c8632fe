"""Segments under a hand: moved by a difference, rounded in the unit that they are written in."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from core.firing.schedule import Segment
from core.numbers import number_text

_F_PER_C: Final = 1.8
_SHORTEST_H: Final = 1e-3


def rounded(value: float, step: float) -> float:
    """Return `value` rounded to a multiple of `step`.

    Examples
    --------
    >>> rounded(1143.0, 5.0)
    1145.0
    """
    return math.floor(value / step + 0.5) * step


def written_target(segment: Segment) -> float:
    """Target of a segment in the unit that it is written in."""
    written = segment.to_c if segment.to_f is None else segment.to_f
    return 0.0 if written is None else float(written)


def with_target_figure(segment: Segment, target: float) -> Segment:
    """Return a segment with another target, in the unit that it is written in."""
    if segment.to_f is not None:
        return replace(segment, to_f=target)
    return replace(segment, to_c=target)


def written_rate(segment: Segment) -> float:
    """Rate of a segment in the unit that it is written in; 0 where the kiln decides."""
    rate = segment.rate or 0.0
    return rate if segment.rate_c_per_h else rate * _F_PER_C


def with_rate_figure(segment: Segment, rate: float) -> Segment:
    """Return a segment with another rate, in the unit that it is written in."""
    # Converting there and back leaves crumbs that nobody wrote.
    text = number_text(round(rate, 6))
    if segment.rate_c_per_h:
        return replace(segment, rate_c_per_h=text)
    return replace(segment, rate_f_per_h=text)


def aimed(segment: Segment, by_c: float, step: float) -> Segment:
    """Return a segment whose target is moved by a difference [°C], in its own unit."""
    by = by_c if segment.to_f is None else by_c * _F_PER_C
    return with_target_figure(segment, rounded(written_target(segment) + by, step))


def paced(segment: Segment, start_c: float, took_h: float, step: float) -> Segment:
    """Return a segment that takes about so long from `start_c` to its target."""
    target = segment.target_c
    if segment.rate is None or target is None or target == start_c:
        return segment
    rate = abs(target - start_c) / max(took_h, _SHORTEST_H)
    if not segment.rate_c_per_h:
        rate *= _F_PER_C
    return with_rate_figure(segment, max(rounded(rate, step), step))
