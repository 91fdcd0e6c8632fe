"""Heat work: the cone that a firing reaches, and the peak that reaches a cone.

Each cone adds up a work, the integral of a rate k(T) over the firing, and is
down when the work reaches 1. The rate is activated,

    k(T) = a exp(-E/R (1/T - 1/T0)),  T in kelvin,

with one apparent energy E below the cone's end point T0 at its slowest
tabulated rate and another above it. On a straight ramp at the rate b the work
at T is F(T)/b, where F is the integral of k over temperature; so the end
points at 15, 60 and 150 °C/h say that F is 15, 60 and 150 there. These are
three equations for a and the two energies, and every cone of the chart solves
them exactly with positive energies. One energy alone, by least squares in
temperature, would miss ten cones by more than 2 °C and cone 14 by 3.8 °C. The
energies describe the chart; they are no properties of a material.

Cones 022 to 020 are tabulated at two rates only. There both energies are one:
the energy below the tabulated rates is borrowed from that between them.

What the kiln does on its way down counts where it takes longer than a kiln
switched off: the chart's end points are used for firings that end there, and
so already stand for the usual cooling (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.firing.cones import cones, nearest, position_text, rank
from core.firing.curve import FiringCurve
from core.firing.kiln import usual_kiln
from core.firing.schedule import FASTEST, HOTTEST_C, LONGEST_HOLD_MIN, ROOM_C, SLOWEST

Floats = NDArray[np.float64]

KELVIN = 273.15
_STEP_C = 10.0
"""Coolings are cut at multiples of this before their time is compared with the usual one."""
_APART = 0.02
"""Least distance of two neighbouring cones in the logarithm of their work; see `_levels`."""
_NEAR = 1.03
"""An equivalent rate this close to the chart's counts as one of them."""
_NO_WORK = -700.0
"""Logarithm that stands for none."""
TABLE_ERROR_C = 2.0
"""Reprints of the chart differ by so much [°C]."""
FORM_ERROR_C = 2.0
"""Between the tabulated rates this integral and interpolation in log(rate) differ by 3.5 °C at
most (cone 7) and by 0.8 °C as root mean square [°C]; computed, rounded up."""
BEYOND_ERROR_C = 8.0
"""Added for each factor of e that the firing lies outside the tabulated rates [°C]; judged, about
half of what such a factor does to an end point."""


@dataclass(frozen=True, slots=True, eq=False)
class _Laws:
    """Constants of every cone, coldest first; each of shape (n,)."""

    join_k: Floats
    """Where the two energies meet [K]."""
    done: Floats
    """Integral of the rate over temperature up to there [°C/h]."""
    speed: Floats
    """Rate there [1/h]."""
    low: Floats
    """E/R below [K]."""
    high: Floats
    """E/R above [K]."""
    slowest: Floats
    fastest: Floats

    def speeds(self, temperature_c: Floats) -> Floats:
        """Rate of every cone [1/h], shape (m, n) for m temperatures."""
        t = temperature_c[:, None] + KELVIN
        energy = np.where(t <= self.join_k, self.low, self.high)
        return np.asarray(self.speed * np.exp(np.minimum(energy / self.join_k - energy / t, 600.0)))

    def integrals(self, temperature_c: Floats) -> Floats:
        """Integral of the rate over temperature up to each one [°C/h], shape (m, n)."""
        t = temperature_c[:, None] + KELVIN
        below = t <= self.join_k
        energy = np.where(below, self.low, self.high)
        z = energy / t
        part = self.speed * t * np.exp(np.minimum(energy / self.join_k - z, 600.0)) * _scaled(z)
        joined = self.speed * self.join_k * _scaled(self.high / self.join_k)
        return np.asarray(np.where(below, part, self.done - joined + part))


def _scaled(z: Floats) -> Floats:
    """exp(z) E2(z), E2 the exponential integral, for z of 10 and more.

    The integral of exp(-E/(RT)) from 0 to T is T E2(E/(RT)). The continued
    fraction is that of Abramowitz and Stegun (1964), Handbook of Mathematical
    Functions, 5.1.22 in its even form; six terms are right to 1e-9 there.
    """
    tail = np.zeros_like(z)
    for term in range(6, 0, -1):
        tail = term * (term + 1.0) / (z + (2.0 + 2.0 * term) - tail)
    return np.asarray(1.0 / (z + 2.0 - tail))


@cache
def _laws() -> _Laws:
    """Solve the constants of every cone from its end points; done once."""
    columns = [
        sorted((float(r), float(t) + KELVIN) for r, t in cone.self_supporting.items())
        for cone in cones()
    ]
    join = np.array([points[0][1] for points in columns])
    done = np.array([points[0][0] for points in columns])
    middle = np.array([points[-2][1] for points in columns])
    top = np.array([points[-1][1] for points in columns])
    two = np.array([len(points) == 2 for points in columns])
    gain_top = np.array([points[-1][0] - points[-2][0] for points in columns])
    gain_low = np.array([points[-2][0] - points[0][0] for points in columns])
    gain_low = np.where(two, done, gain_low)

    def part(energy: Floats, t: Floats) -> Floats:
        z = energy / t
        return np.asarray(t * np.exp(energy / join - z) * _scaled(z))

    def ratio(energy: Floats) -> Floats:
        start, lower, upper = part(energy, join), part(energy, middle), part(energy, top)
        return np.asarray((upper - lower) / np.where(two, start, lower - start))

    # With a steeper rate more of the work falls into the upper interval.
    high = _bisect(ratio, gain_top / gain_low, 10.0 * top, 3000.0 * join)
    start, lower = part(high, join), part(high, middle)
    speed = gain_low / np.where(two, start, lower - start)
    low = _bisect(lambda e: -join * _scaled(e / join), -done / speed, 5.0 * join, 3000.0 * join)
    rates = [[rate for rate, _ in points] for points in columns]
    return _Laws(
        join_k=join,
        done=done,
        speed=speed,
        low=low,
        high=high,
        slowest=np.array([row[0] for row in rates]),
        fastest=np.array([row[-1] for row in rates]),
    )


def _bisect(rising: Callable[[Floats], Floats], goal: Floats, low: Floats, high: Floats) -> Floats:
    """Where a rising function of each cone's energy meets its goal."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        under = rising(middle) < goal
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return 0.5 * (low + high)


def log_work(curve: FiringCurve) -> Floats:
    """Logarithm of the work that a firing does on each cone.

    Parameters
    ----------
    curve : FiringCurve

    Returns
    -------
    ndarray, shape (n,)
        Coldest cone first; 0 where the cone is just down. It never falls when
        the firing is hotter at every time, slower or longer.
    """
    laws = _laws()
    temperatures, hours = _cut(curve.temperatures_c, curve.hours)
    took, start, end = np.diff(hours), temperatures[:-1], temperatures[1:]
    falling = end < start
    took = np.where(falling, np.maximum(took - _usual_cooling(start, end), 0.0), took)
    # What is too cold or takes no time to count is left out before the costly part.
    keep = (took > 0) & (np.maximum(start, end) > _coldest_c())
    start, end, took = start[keep], end[keep], took[keep]
    if not took.size:
        return np.full(len(laws.speed), _NO_WORK)
    level = start == end
    moving = ~level
    ends = laws.integrals(np.concatenate((start[moving], end[moving])))
    rises = np.abs(ends[moving.sum() :] - ends[: moving.sum()])
    work = (took[moving] / np.abs(end - start)[moving]) @ rises
    if level.any():
        work = work + took[level] @ laws.speeds(start[level])
    return np.asarray(np.log(np.maximum(work, math.exp(_NO_WORK))))


def _cut(temperatures: Floats, hours: Floats) -> tuple[Floats, Floats]:
    """Cut the falling pieces of a curve where they cross multiples of `_STEP_C`."""
    start, end = temperatures[:-1], temperatures[1:]
    floor = _coldest_c()
    first = np.ceil(np.maximum(start, floor) / _STEP_C) - 1.0
    last = np.floor(np.maximum(end, floor) / _STEP_C) + 1.0
    count = np.where(end < start, np.maximum(first - last + 1.0, 0.0), 0.0).astype(np.intp)
    if not count.any():
        return temperatures, hours
    piece = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    cut = (first[piece] - number) * _STEP_C
    share = (start[piece] - cut) / (start[piece] - end[piece])
    when = hours[:-1][piece] + share * np.diff(hours)[piece]
    return np.insert(temperatures, piece + 1, cut), np.insert(hours, piece + 1, when)


def _usual_cooling(start_c: Floats, end_c: Floats) -> Floats:
    """Time in which the usual kiln, switched off, cools from one temperature to another [h]."""
    kiln = usual_kiln()
    above = np.maximum(start_c - kiln.room_c, 1e-6) / np.maximum(end_c - kiln.room_c, 1e-6)
    return np.asarray(kiln.time_constant_h * np.log(np.maximum(above, 1.0)))


@cache
def _coldest_c() -> float:
    """Temperature below which a year does nothing to any cone [°C]."""
    laws = _laws()
    grid = np.arange(0.0, 1000.0, _STEP_C)
    idle = (laws.speeds(grid) < 1e-9).all(axis=1)
    return float(grid[int(np.flatnonzero(idle).max(initial=0))])


@dataclass(frozen=True, slots=True)
class ConeReading:
    """The cone that a firing reaches, as a number between cones of the series."""

    position: float
    """Place in the series, the coldest cone 0; -1 far below it, one more than the last beyond."""
    cone: str
    """Nearest cone, as text; empty below the series and beyond it."""
    fraction: float
    """How far from the nearest cone towards the next (or, negative, the one before) [cones]."""
    uncertainty: float
    """One standard error [cones], of the reading alone: the pyrometer and the place in the kiln
    come on top."""
    equivalent_rate_c_per_h: float
    """The straight ramp to the same peak that reaches the same cone [°C/h]; 0 if none does."""
    tabulated: bool
    """Whether that rate lies among those of the chart."""

    @property
    def text(self) -> str:
        """The reading in words, such as "cone 6 + 0.2"."""
        return position_text(self.position)


def cone_reached(curve: FiringCurve) -> ConeReading:
    """Cone that a firing reaches, holds and slow cooling included.

    Between two cones the place is interpolated in the logarithm of their
    works. A straight ramp at a tabulated rate to a tabulated end point reads
    that cone.

    Parameters
    ----------
    curve : FiringCurve

    Returns
    -------
    ConeReading

    Examples
    --------
    >>> cone_reached(FiringCurve([0, 1202 / 60], [20, 1222])).text
    'cone 6'
    """
    levels = _levels(log_work(curve))
    position = _position(levels)
    last = len(levels) - 1
    cone, fraction = nearest(position)
    rate, slope = _at_the_peak(curve.peak_c, position)
    slowest, fastest = (
        float(_between(row, position)) for row in (_laws().slowest, _laws().fastest)
    )
    beyond = max(math.log(slowest / rate), math.log(rate / fastest), 0.0) if rate > 0 else math.inf
    error_c = math.hypot(TABLE_ERROR_C, FORM_ERROR_C, BEYOND_ERROR_C * beyond)
    per_cone = -_between(np.gradient(levels), position)
    # Where the cones come close in work, a degree is many cones; the guard keeps them apart.
    uncertainty = min(error_c * slope / per_cone, float(last)) if rate > 0 else float(last)
    return ConeReading(
        position=position,
        cone=cone,
        fraction=fraction,
        uncertainty=uncertainty,
        equivalent_rate_c_per_h=rate,
        tabulated=bool(cone) and slowest / _NEAR <= rate <= fastest * _NEAR,
    )


def cone_position(curve: FiringCurve) -> float:
    """Place in the series that a firing reaches, as in `cone_reached`, and nothing else."""
    return _position(_levels(log_work(curve)))


def _levels(work: Floats) -> Floats:
    """Keep the cones in their order: each at least `_APART` behind every colder one.

    At rates far from the chart the laws of neighbouring cones cross. A cone
    then counts as down only when the colder ones are, so that the place in
    the series stays one number, and still never falls when any work rises.
    """
    ladder = _APART * np.arange(len(work))
    return np.asarray(np.minimum.accumulate(work + ladder) - ladder)


def _position(levels: Floats) -> float:
    """Place at which the falling levels pass zero, from -1 to one beyond the last."""
    standing = int(np.argmax(levels < 0)) if levels[-1] < 0 else len(levels)
    if standing == 0:
        return max(-1.0, float(levels[0]))
    reached = float(levels[standing - 1])
    if standing == len(levels):
        return standing - 1 + min(1.0, reached)
    return standing - 1 + reached / (reached - float(levels[standing]))


def _between(row: Floats, position: float) -> float:
    return float(np.interp(position, np.arange(len(row)), row))


def _at_the_peak(peak_c: float, position: float) -> tuple[float, float]:
    """Equivalent rate [°C/h] and how fast the logarithm of the work grows there [1/°C]."""
    laws, peak = _laws(), np.array([peak_c])
    integrals = laws.integrals(peak)[0]
    if not integrals.min() > 0:
        return 0.0, 0.0
    slope = laws.speeds(peak)[0] / integrals
    return math.exp(_between(np.log(integrals), position)), _between(slope, position)


def peak_for(
    cone: str,
    rate_c_per_h: float,
    hold_min: float = 0.0,
    cones_more: float = 0.0,
) -> float:
    """Peak that reaches a cone on a straight ramp with a hold at the end [°C].

    Solved from the integral that `cone_reached` reads.

    Parameters
    ----------
    cone : str
        As text.
    rate_c_per_h : float
        Heating rate [°C/h].
    hold_min : float
        Hold at the peak [min].
    cones_more : float
        How many cones to fire higher, such as for a shelf that sees less [cones].

    Raises
    ------
    InputError
        If there is no such cone, a figure is absurd, or no peak below 1800 °C does it.

    Examples
    --------
    >>> round(peak_for("6", 60.0))
    1222
    """
    place = rank(cone)
    if place is None:
        raise InputError(f"there is no cone {cone!r}", "write it as text, from 022 to 14")
    if not SLOWEST <= rate_c_per_h <= FASTEST:
        raise InputError(f"no kiln heats at {rate_c_per_h:g} °C/h", "give °C per hour, such as 60")
    if not 0.0 <= hold_min <= LONGEST_HOLD_MIN:
        raise InputError(f"no firing holds for {hold_min:g} minutes", "give zero minutes or more")
    goal = place + cones_more
    if not 0.0 <= goal <= len(cones()) - 1:
        raise InputError(
            f"{cones_more:+.1f} cones from cone {cone} is off the series", "choose a nearer cone"
        )
    low, high = ROOM_C, HOTTEST_C
    if _ramp_position(high, rate_c_per_h, hold_min) < goal:
        raise InputError(f"no peak below {HOTTEST_C:.0f} °C does it", "fire more slowly")
    while high - low > 1e-7:
        middle = 0.5 * (low + high)
        if _ramp_position(middle, rate_c_per_h, hold_min) < goal:
            low = middle
        else:
            high = middle
    return high


def _ramp_position(peak_c: float, rate: float, hold_min: float) -> float:
    heating = (peak_c - ROOM_C) / rate
    hours = (0.0, heating, heating + hold_min / 60.0)
    return cone_position(FiringCurve(hours, (ROOM_C, peak_c, peak_c)))
