"""How far a coat runs down an upright wall over the firing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.curve import FiringCurve
from core.melt.sheet import MeltSheet
from core.reading.dwell import dwell_s, factor_words, flow_error
from core.schema import Number, convert, expect_kind
from core.tables import shipped

Floats = NDArray[np.float64]

GRAVITY_M_S2: Final = 9.80665
"""Standard gravity [m/s2] (3rd General Conference on Weights and Measures, 1901)."""


class RunningVerdict(StrEnum):
    """How a coat behaves on an upright wall."""

    STAYS = "stays put"
    MOVES = "moves: keep the usual margin above the foot"
    RUNS = "runs: leave more room above the foot"


class RunningRule(msgspec.Struct, frozen=True):
    """What the reading of running rests on; see ``flow.yaml``."""

    id: str
    thickness_mm: Number
    """Of the fired layer [mm]."""
    density_g_cm3: Number
    """Of the melt [g/cm3]."""
    density_error: Number
    """One standard error [g/cm3]."""
    stays_below_mm: Number
    runs_from_mm: Number
    source: str
    confidence: str
    note: str


class _File(msgspec.Struct):
    running: list[RunningRule]


@cache
def running_rule() -> RunningRule:
    """Return the shipped rule; read once."""
    document = shipped("flow.yaml")
    expect_kind(document, "flow")
    return next(r for r in convert(document, _File).running if r.id == "usual")


@dataclass(frozen=True, slots=True)
class Running:
    """How far a layer runs; an upper figure, for it thins as it runs."""

    verdict: RunningVerdict
    distance_mm: float
    """Mean over the layer, which is how far its lower edge comes [mm]."""
    surface_mm: float
    """How far the outer skin slides over the wall [mm]; half as far again."""
    log10_error: float
    """One standard error of log10 of both distances, dimensionless."""
    thickness_mm: float
    """Of the layer it was worked out for; the distance goes with its square."""
    inside_domain: bool
    reason: str
    source: str
    confidence: str


def mean_run_mm(
    seconds: ArrayLike, log10_viscosity: ArrayLike, thickness_mm: float, density_g_cm3: float
) -> Floats:
    """How far a thin even layer runs down a wall, mean over its thickness [1]_.

    The flow of a film that sticks to the wall and is free outside: mean
    velocity = density times gravity times thickness squared over three times
    the viscosity.

    Parameters
    ----------
    seconds : array_like, shape (n,)
        `core.reading.dwell.dwell_s` [s].
    log10_viscosity : array_like, shape (..., n)
        At `core.melt.sheet.CURVE_C` [log10 Pa·s].
    thickness_mm : float
        [mm]
    density_g_cm3 : float
        [g/cm3]

    Returns
    -------
    ndarray, shape (...)
        [mm]

    References
    ----------
    .. [1] Nusselt, W. (1916). Die Oberflächenkondensation des Wasserdampfes.
       Z. VDI 60, 541-546 (from memory).

    Examples
    --------
    >>> float(mean_run_mm([3600.0], [3.0], 0.4, 2.5).round(1))
    4.7
    """
    fluidity = 10.0 ** -np.asarray(log10_viscosity, float)
    push = 1e3 * density_g_cm3 * GRAVITY_M_S2 * (1e-3 * thickness_mm) ** 2 / 3.0
    return np.asarray(1e3 * push * (fluidity @ np.asarray(seconds, float)))


def running(
    curve: FiringCurve,
    sheet: MeltSheet | None,
    thickness_mm: float | None = None,
    rule: RunningRule | None = None,
) -> Running | None:
    """Say how far a coat runs over a firing.

    Parameters
    ----------
    curve : FiringCurve
        The same object at each edit: its dwell times are kept.
    sheet : MeltSheet or None
    thickness_mm : float, optional
        Of the fired layer [mm]; the usual one when left out.
    rule : RunningRule, optional
        Another than the shipped one.

    Returns
    -------
    Running or None
        None where there is no melt, or the firing stays below
        `core.melt.sheet.COOLEST_C`.

    Raises
    ------
    ValueError
        If the thickness is not a finite number above zero.
    """
    rule = rule or running_rule()
    thick = float(rule.thickness_mm) if thickness_mm is None else float(thickness_mm)
    if not (math.isfinite(thick) and thick > 0):
        raise ValueError(f"a layer must have a thickness above zero, not {thick:g} mm")
    seconds = dwell_s(curve)
    if sheet is None or not seconds.any():
        return None
    density = float(rule.density_g_cm3)
    distance = float(mean_run_mm(seconds, sheet.curve, thick, density))
    if not distance > 0:
        return None
    error = math.hypot(
        flow_error(seconds, sheet, 10.0**-sheet.curve),
        float(rule.density_error) / density / math.log(10.0),
    )
    stays, runs = float(rule.stays_below_mm), float(rule.runs_from_mm)
    if distance < stays:
        verdict = RunningVerdict.STAYS
    else:
        verdict = RunningVerdict.RUNS if distance >= runs else RunningVerdict.MOVES
    return Running(
        verdict,
        distance,
        1.5 * distance,
        error,
        thick,
        sheet.inside_domain,
        f"A layer of {thick:g} mm runs about {distance:.2g} mm down a wall, "
        f"{factor_words(error)}; twice as thick, four times as far; {stays:g} to {runs:g} "
        "mm are usually left bare above the foot",
        rule.source,
        rule.confidence,
    )
