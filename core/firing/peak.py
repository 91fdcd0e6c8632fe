"""The peak that brings a whole schedule, its holds and its slow cooling included, to a cone."""

from __future__ import annotations

from dataclasses import replace

from core.errors import InputError
from core.firing.cones import cones, rank
from core.firing.curve import firing_curve
from core.firing.entry import fahrenheit
from core.firing.heat_work import cone_position
from core.firing.kiln import Kiln
from core.firing.schedule import HOTTEST_C, Firing

_CLOSE_C = 0.05


def peak_row(firing: Firing) -> int | None:
    """Return the first segment that ends at the peak, or None."""
    targets = [s.target_c for s in firing.segments]
    known = [t for t in targets if t is not None]
    return targets.index(max(known)) if known else None


def with_peak_for(
    firing: Firing, cone: str, kiln: Kiln | None = None, cones_more: float = 0.0
) -> Firing:
    """Return the schedule with the peak at which it reaches a cone.

    Only the segment that ends at the peak changes. Solved from the integral
    that `core.firing.cone_reached` reads, by bisection.

    Parameters
    ----------
    firing : Firing
    cone : str
        As text.
    kiln : Kiln, optional
        The usual kiln when left out.
    cones_more : float
        How many cones to fire higher, such as for a shelf that sees less [cones].

    Raises
    ------
    InputError
        If there is no such cone, the schedule has no peak, or none that it
        may have reaches the cone.
    """
    place = rank(cone)
    if place is None:
        raise InputError(f"there is no cone {cone!r}", "write it as text, from 022 to 14")
    row = peak_row(firing)
    if row is None:
        raise InputError("the schedule has no peak", "add a segment that climbs")
    goal = place + cones_more
    if not 0.0 <= goal <= len(cones()) - 1:
        raise InputError(
            f"{cones_more:+.1f} cones from cone {cone} is off the series", "choose a nearer cone"
        )
    others = [s.target_c for i, s in enumerate(firing.segments) if i != row]
    # Above every other target the peak stays the peak.
    low = max((t for t in others if t is not None), default=20.0) + 1.0
    high = HOTTEST_C
    if low >= high or not _reached(firing, row, high, kiln) >= goal > _reached(
        firing, row, low, kiln
    ):
        raise InputError(
            f"no peak between {low:.0f} and {high:.0f} °C brings this schedule to cone {cone}",
            "change the other segments",
        )
    while high - low > _CLOSE_C:
        middle = 0.5 * (low + high)
        if _reached(firing, row, middle, kiln) < goal:
            low = middle
        else:
            high = middle
    return _at(firing, row, round(0.5 * (low + high)))


def _at(firing: Firing, row: int, peak_c: float) -> Firing:
    segment = firing.segments[row]
    if segment.to_f is not None:
        return firing.with_segment(row, replace(segment, to_f=float(round(fahrenheit(peak_c)))))
    return firing.with_segment(row, replace(segment, to_c=float(peak_c)))


def _reached(firing: Firing, row: int, peak_c: float, kiln: Kiln | None) -> float:
    segment = replace(firing.segments[row], to_c=peak_c, to_f=None)
    segments = (*firing.segments[:row], segment, *firing.segments[row + 1 :])
    return cone_position(firing_curve(replace(firing, segments=segments), kiln))
