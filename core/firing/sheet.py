"""One firing as a recipe meets it: its curve, the cone it reaches, what a shelf of it felt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from core.firing.cones import nearest
from core.firing.curve import FiringCurve, SegmentSpan, curve_and_spans
from core.firing.heat_work import ConeReading, cone_position, cone_reached
from core.firing.kiln import Kiln, usual_kiln
from core.firing.log import FiringLog, LocalCone, local_cone
from core.firing.schedule import Firing

_CLOSE = 1e-3
"""How near the felt curve comes to the local cone [cones]."""
_MOST_TRIES = 12


@dataclass(frozen=True, eq=False, slots=True)
class FiringSheet:
    """What is known of a firing on one shelf."""

    firing: Firing
    kiln: Kiln
    shelf: str
    curve: FiringCurve
    """As the controller is set."""
    spans: tuple[SegmentSpan, ...]
    """Where each segment lies on it."""
    cone: ConeReading
    """Reached by the set curve."""
    local: LocalCone | None
    """Cone that the shelf saw in the last firing with a witness there; None without one."""
    local_log: FiringLog | None
    """The log that it was read from."""
    felt: FiringCurve
    """As the ware on that shelf feels it: the set curve, made hotter or cooler until it reaches
    the local cone; the set curve itself where no witness says otherwise."""
    felt_position: float
    """Cone that the felt curve reaches, as a place in the series."""
    felt_error: float
    """One standard error of that [cones]."""

    @property
    def felt_cone(self) -> str:
        """Nearest cone of the shelf, as text; empty off the series."""
        return nearest(self.felt_position)[0]


@lru_cache(maxsize=64)
def firing_sheet(firing: Firing, kiln: Kiln | None = None, shelf: str = "") -> FiringSheet | None:
    """Work out a firing.

    Parameters
    ----------
    firing : Firing
        One that was checked; see `core.firing.schedule.check_segments`.
    kiln : Kiln, optional
        The usual kiln when left out.
    shelf : str
        Where the ware stands, as the logs call it.

    Returns
    -------
    FiringSheet or None
        None where the schedule has no segments.
    """
    if not firing.segments:
        return None
    kiln = kiln or usual_kiln()
    curve, spans = curve_and_spans(firing, kiln)
    reading = cone_reached(curve)
    log, local = _last_witness(firing, shelf)
    felt, position, error = curve, reading.position, reading.uncertainty
    if local is not None:
        goal = _goal(local, reading.position)
        felt = _stretched(curve, float(kiln.room_c), reading.position, goal)
        position, error = goal, local.uncertainty
    return FiringSheet(
        firing=firing,
        kiln=kiln,
        shelf=shelf,
        curve=curve,
        spans=spans,
        cone=reading,
        local=local,
        local_log=log,
        felt=felt,
        felt_position=position,
        felt_error=error,
    )


def _last_witness(firing: Firing, shelf: str) -> tuple[FiringLog | None, LocalCone | None]:
    """Return the last log, by its date, with a witness cone on the shelf."""
    for log in sorted(firing.log, key=lambda one: one.begun, reverse=True):
        local = local_cone(log, shelf)
        if local is not None:
            return log, local
    return None, None


def _goal(local: LocalCone, position: float) -> float:
    """Cone that the shelf is taken to have seen: a bound moves the set curve only past it."""
    if local.bound == "at least":
        return max(position, local.position)
    if local.bound == "at most":
        return min(position, local.position)
    return local.position


def _stretched(curve: FiringCurve, room_c: float, position: float, goal: float) -> FiringCurve:
    """Stretch a curve in temperature, from the room up, until it reaches a cone.

    The shelf is taken to be hotter or cooler in proportion to the heat above
    the room: right at the start of a firing, and where the cone is decided.
    Found by secants on the monotone reading.
    """
    if abs(goal - position) < _CLOSE:
        return curve
    above = curve.temperatures_c - room_c

    def at(factor: float) -> FiringCurve:
        return FiringCurve(curve.hours, room_c + factor * above)

    # A cone is about 20 °C of some 1200: a first step of its size.
    factors = [1.0, 1.0 + 0.016 * (goal - position)]
    places = [position, cone_position(at(factors[1]))]
    for _ in range(_MOST_TRIES):
        (a, b), (start, end) = factors[-2:], places[-2:]
        if abs(end - goal) < _CLOSE or end == start:
            break
        factors.append(min(max(b + (goal - end) * (b - a) / (end - start), 0.5), 1.5))
        places.append(cone_position(at(factors[-1])))
    return at(factors[-1])
