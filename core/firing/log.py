"""Logs of firings: set points, witness cones by shelf, and the cone that a shelf saw."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from core.errors import InputError
from core.firing.cones import cones, end_point, position_text, rank
from core.plain_yaml import Tree

UPRIGHT, FIRST_BEND, ENDED, FLAT = 12.0, 1.0, 6.0, 7.0
"""Where the tip of a cone points on a clock face; at `ENDED` it has reached its end point."""
BEND_MIN = 20.0
"""Time from the first bend to the end [min]; the notes to the cone chart say 15 to 25."""
MEDIUM = 60.0
"""Heating rate [°C/h] at which the bend is turned into cones."""
BEND_ERROR_H = 0.5
"""Standard error of a clock position read by eye [clock hours]; judged."""
CONE_ERROR_C = 2.0
"""Scatter between cones of one number, standard error [°C]; judged."""
FEWEST_FIRINGS = 5
"""Drift is not read from fewer."""


@dataclass(frozen=True, slots=True)
class SetPoint:
    """What the controller asked for, and what was read, at a time."""

    hours: float
    """From the start [h]."""
    set_c: float | None = None
    read_c: float | None = None
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class WitnessCone:
    """A cone that stood on a shelf: 12 upright, 1 to 6 bending, 6 ended, 7 flat."""

    shelf: str
    cone: str
    clock: float
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class FiringLog:
    """What happened in one firing of a schedule."""

    begun: str = ""
    """Date, with the time if known, as in 2031-02-09 07:30."""
    ended: str = ""
    set_points: tuple[SetPoint, ...] = ()
    witness_cones: tuple[WitnessCone, ...] = ()
    notes: str = ""
    photo: str = ""
    """Name of a file in the studio's photos."""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)

    def shelves(self) -> tuple[str, ...]:
        """Return the shelves with witness cones, in the order of the log."""
        return tuple(dict.fromkeys(witness.shelf for witness in self.witness_cones))


@dataclass(frozen=True, slots=True)
class LocalCone:
    """The cone that a shelf saw.

    `position` counts cones of the series from the coldest (0); `uncertainty`
    is one standard error in cones. `bound` is "at least" when every witness
    was down, "at most" when none was, else empty.
    """

    shelf: str
    position: float
    uncertainty: float
    bound: str = ""

    @property
    def text(self) -> str:
        """The reading in words, such as "at least cone 6"."""
        return f"{self.bound} {position_text(self.position)}".strip()


@dataclass(frozen=True, slots=True)
class Drift:
    """How the cone of the same schedule moves from firing to firing.

    `positions` are those of `dates`; `slope` is in cones per firing, with its
    standard error; `scatter` is the standard deviation about the line.
    """

    dates: tuple[str, ...]
    positions: tuple[float, ...]
    slope: float
    slope_error: float
    scatter: float


def check_witness(witness: WitnessCone) -> None:
    """Check a witness cone.

    Raises
    ------
    InputError
        If there is no such cone, or no cone can point there.
    """
    if rank(witness.cone) is None:
        raise InputError(f"there is no cone {witness.cone!r}", "write one from 022 to 14")
    if witness.clock != UPRIGHT and not FIRST_BEND <= witness.clock <= FLAT:
        raise InputError(
            f"no cone points to {witness.clock:g} o'clock",
            "write 12 for upright, 1 to 6 for its bend, 7 for flat",
        )


def local_cone(log: FiringLog, shelf: str) -> LocalCone | None:
    """Cone that a shelf saw, from its witness cones.

    A bending cone gives a figure: from the first bend to the end it takes
    about `BEND_MIN` minutes, which at 60 °C/h are so many degrees and, by the
    distance to the next cone, so many cones. A flat one and an upright one
    only bound it. Reading the bend is common practice, no source; the time of
    bending is from the notes to the published chart.

    Parameters
    ----------
    log : FiringLog
    shelf : str

    Returns
    -------
    LocalCone or None
        None when the shelf had no witness.

    Raises
    ------
    InputError
        If a witness is no cone, or points nowhere.
    """
    values, weights = [], []
    lowest, highest = -math.inf, math.inf
    for witness in log.witness_cones:
        if witness.shelf != shelf:
            continue
        check_witness(witness)
        place = rank(witness.cone)
        assert place is not None
        per_cone = _spacing_c(place)
        bend = BEND_MIN / 60.0 * MEDIUM / per_cone
        if witness.clock == UPRIGHT:
            highest = min(highest, place - bend)
        elif witness.clock > ENDED:
            lowest = max(lowest, float(place))
        else:
            values.append(place - bend * (ENDED - witness.clock) / ENDED)
            error = math.hypot(BEND_ERROR_H / ENDED * bend, CONE_ERROR_C / per_cone)
            weights.append(1.0 / error**2)
    if values:
        mean = float(np.average(values, weights=weights))
        spread = float(np.average((np.array(values) - mean) ** 2, weights=weights))
        # Witnesses that contradict each other count as a wider error, not a smaller one.
        return LocalCone(shelf, mean, math.sqrt(1.0 / sum(weights) + spread))
    if math.isinf(lowest) and math.isinf(highest):
        return None
    if math.isinf(highest):
        return LocalCone(shelf, lowest, 1.0, "at least")
    if math.isinf(lowest):
        return LocalCone(shelf, highest, 1.0, "at most")
    # Between two bounds every place is as likely: a rectangle's standard deviation.
    width = max(abs(highest - lowest), 0.0)
    return LocalCone(shelf, (lowest + highest) / 2, max(width / math.sqrt(12.0), 0.1))


def _spacing_c(place: int) -> float:
    """Mean distance of a cone to its neighbours at the medium rate [°C]."""
    series = cones()
    low, high = max(place - 1, 0), min(place + 1, len(series) - 1)
    distance = end_point(series[high].cone, MEDIUM) - end_point(series[low].cone, MEDIUM)
    return distance / (high - low)


def drift(logs: Sequence[FiringLog], shelf: str | None = None) -> Drift | None:
    """Drift of the local cone over firings of one schedule, by their dates.

    A straight line by least squares. Firings whose witnesses only bound the
    cone are left out.

    Parameters
    ----------
    logs : sequence of FiringLog
    shelf : str, optional
        One shelf; the mean of each firing's shelves when left out.

    Returns
    -------
    Drift or None
        None with fewer than `FEWEST_FIRINGS` readings.
    """
    found = []
    for log in sorted(logs, key=lambda one: one.begun):
        readings = [local_cone(log, name) for name in log.shelves() if shelf in (None, name)]
        read = [r.position for r in readings if r is not None and not r.bound]
        if read:
            found.append((log.begun, sum(read) / len(read)))
    if len(found) < FEWEST_FIRINGS:
        return None
    y = np.array([position for _, position in found])
    x = np.arange(len(y)) - (len(y) - 1) / 2
    slope = float(x @ y / (x @ x))
    rest = y - y.mean() - slope * x
    scatter = math.sqrt(float(rest @ rest) / (len(y) - 2))
    return Drift(
        dates=tuple(date for date, _ in found),
        positions=tuple(y.tolist()),
        slope=slope,
        slope_error=scatter / math.sqrt(float(x @ x)),
        scatter=scatter,
    )
