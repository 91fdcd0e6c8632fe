"""A firing as a curve: temperature over time, and what is read off it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.kiln import Kiln, usual_kiln
from core.firing.schedule import Firing, Segment

Floats = NDArray[np.float64]
_PIECES = 48
"""Straight pieces that stand for one natural cooling; its chords lie within 1 °C of it."""


@dataclass(frozen=True, slots=True, eq=False)
class FiringCurve:
    """Temperature over time, straight between its points.

    Parameters
    ----------
    hours : array_like, shape (n,)
        From the start, never falling [h].
    temperatures_c : array_like, shape (n,)
        [°C].

    Raises
    ------
    ValueError
        If the shapes differ, there is no point, a figure is not finite or time runs back.
    """

    hours: Floats
    temperatures_c: Floats

    def __init__(self, hours: ArrayLike, temperatures_c: ArrayLike) -> None:
        times, temperatures = np.array(hours, float), np.array(temperatures_c, float)
        if times.ndim != 1 or times.shape != temperatures.shape or not times.size:
            raise ValueError("hours and temperatures must be two rows of one length")
        if not (np.isfinite(times).all() and np.isfinite(temperatures).all()):
            raise ValueError("hours and temperatures must be finite")
        if (times[1:] < times[:-1]).any():
            raise ValueError("time must not run back")
        times.flags.writeable = temperatures.flags.writeable = False
        object.__setattr__(self, "hours", times)
        object.__setattr__(self, "temperatures_c", temperatures)

    @property
    def total_hours(self) -> float:
        """Time from the first point to the last [h]."""
        return float(self.hours[-1] - self.hours[0])

    @property
    def peak_c(self) -> float:
        """Highest temperature [°C]."""
        return float(self.temperatures_c.max())

    def temperature_at(self, hours: ArrayLike) -> Floats:
        """Temperature at these times [°C], any shape; the ends go on level."""
        return np.asarray(np.interp(np.asarray(hours, float), self.hours, self.temperatures_c))

    def rate_at(self, hour: float) -> float:
        """Rate of heating, or of cooling as a negative figure [°C/h]; 0 beyond the ends."""
        piece = int(np.searchsorted(self.hours, hour, side="right")) - 1
        if not 0 <= piece < len(self.hours) - 1:
            return 0.0
        # side="right" puts `hour` into a piece that takes time, so this never divides by 0.
        took = self.hours[piece + 1] - self.hours[piece]
        return float((self.temperatures_c[piece + 1] - self.temperatures_c[piece]) / took)

    def hours_above(self, temperature_c: ArrayLike) -> Floats:
        """Time spent above each temperature [h].

        Parameters
        ----------
        temperature_c : array_like, shape (...)
            [°C].

        Returns
        -------
        ndarray, shape (...)
        """
        limit = np.asarray(temperature_c, float)[..., None]
        start, end = self.temperatures_c[:-1], self.temperatures_c[1:]
        low, high = np.minimum(start, end), np.maximum(start, end)
        span = np.where(high > low, high - low, 1.0)
        share = np.where(high > low, np.clip((high - limit) / span, 0.0, 1.0), high > limit)
        return np.asarray((share * np.diff(self.hours)).sum(axis=-1))

    def cooling_rate_between(self, high_c: float, low_c: float) -> float | None:
        """Mean rate of the last cooling from one temperature to another, holds included [°C/h].

        Returns
        -------
        float or None
            None where the curve does not cool through both.

        Raises
        ------
        ValueError
            If `high_c` is not above `low_c`.
        """
        if not high_c > low_c:
            raise ValueError(f"{high_c} is not above {low_c}")
        hot = np.flatnonzero(self.temperatures_c >= high_c)
        if not hot.size or hot[-1] == len(self.hours) - 1:
            return None
        last = int(hot[-1])
        cold = np.flatnonzero(self.temperatures_c[last:] <= low_c)
        if not cold.size:
            return None
        took = self._crossing(last + int(cold[0]) - 1, low_c) - self._crossing(last, high_c)
        return (high_c - low_c) / took if took > 0 else None

    def _crossing(self, piece: int, temperature_c: float) -> float:
        """Time at which a falling piece passes a temperature [h]."""
        start, end = self.temperatures_c[piece : piece + 2]
        share = (start - temperature_c) / (start - end)
        return float(self.hours[piece] + share * (self.hours[piece + 1] - self.hours[piece]))


@dataclass(frozen=True, slots=True)
class SegmentSpan:
    """Where one segment lies on the curve: from its start to its target, and its hold after."""

    start_h: float
    reached_h: float
    """Its target is reached [h]; the hold follows."""
    end_h: float
    start_c: float
    end_c: float


def firing_curve(firing: Firing, kiln: Kiln | None = None) -> FiringCurve:
    """Curve of a schedule, begun at the temperature of the room.

    Parameters
    ----------
    firing : Firing
        One that was checked; see `core.firing.schedule.check_segments`.
    kiln : Kiln, optional
        What "full" means, and the room; the usual kiln when left out.

    Returns
    -------
    FiringCurve
        One point for the start and for each end of a ramp and of a hold; a
        cooling at the kiln's own rate is drawn in short straight pieces.
    """
    return curve_and_spans(firing, kiln)[0]


def curve_and_spans(
    firing: Firing, kiln: Kiln | None = None
) -> tuple[FiringCurve, tuple[SegmentSpan, ...]]:
    """Curve of a schedule, and where each segment lies on it; see `firing_curve`."""
    kiln = kiln or usual_kiln()
    now, here = 0.0, float(kiln.room_c)
    hours, temperatures, spans = [now], [here], []
    for segment in firing.segments:
        start, goal = now, segment.end_c(here, float(kiln.opened_c))
        cooling = _time_constant(segment, here, goal, kiln)
        if cooling is not None:
            fallen = math.log((here - kiln.room_c) / (goal - kiln.room_c))
            steps = np.linspace(0.0, fallen, _PIECES + 1)[1:]
            hours.extend((now + cooling * steps).tolist())
            drawn = kiln.room_c + (here - kiln.room_c) * np.exp(-steps)
            drawn[-1] = goal
            temperatures.extend(drawn.tolist())
            now += cooling * fallen
        elif goal != here:
            now += abs(goal - here) / (segment.rate or float(kiln.heating_c_per_h))
            hours.append(now)
            temperatures.append(goal)
        reached = now
        if segment.hold_min:
            now += segment.hold_min / 60.0
            hours.append(now)
            temperatures.append(goal)
        spans.append(SegmentSpan(start, reached, now, here, goal))
        here = goal
    return FiringCurve(hours, temperatures), tuple(spans)


def _time_constant(segment: Segment, here: float, goal: float, kiln: Kiln) -> float | None:
    """Return the time constant [h] of a segment that cools by itself, or None."""
    # Newton's law never reaches the room itself, nor what lies below it.
    if not here > goal > kiln.room_c:
        return None
    if segment.natural_cooling is not None:
        return (here - kiln.room_c) / segment.natural_cooling
    return kiln.time_constant_h if segment.rate is None else None
