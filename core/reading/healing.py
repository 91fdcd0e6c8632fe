"""Whether craters left by bubbles close in the time that the firing gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from statistics import NormalDist

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.curve import FiringCurve
from core.melt.sheet import CURVE_C, Figure, MeltSheet
from core.melt.surface_tension import USUAL_SET, tension_sets
from core.reading.dwell import dwell_s, factor_words, flow_error
from core.schema import Number, convert, expect_kind
from core.tables import shipped

Floats = NDArray[np.float64]

_LONGEST_HOLD_H = 2.0
"""A longer hold is no advice: potters hold for minutes, seldom for hours."""


class HealingVerdict(StrEnum):
    """What becomes of craters."""

    HEALS = "craters should heal"
    PINHOLES = "may leave pinholes"
    OPEN = "does not heal"


class HealingRule(msgspec.Struct, frozen=True):
    """What the reading of healing rests on; see ``flow.yaml``."""

    id: str
    crater_radius_mm: Number
    heals_from: Number
    """Closing times from which craters should heal."""
    fails_below: Number
    source: str
    confidence: str
    note: str


class _File(msgspec.Struct):
    healing: list[HealingRule]


@cache
def healing_rule() -> HealingRule:
    """Return the shipped rule; read once."""
    document = shipped("flow.yaml")
    expect_kind(document, "flow")
    return next(r for r in convert(document, _File).healing if r.id == "usual")


@dataclass(frozen=True, slots=True)
class Healing:
    """Craters against the time they get; errors are one standard error."""

    verdict: HealingVerdict
    number: float
    """How often a crater could close in this firing, dimensionless."""
    log10_error: float
    """Of log10 of the number: it may be off by this power of ten either way."""
    probability: float
    """That the number lies above the limit from which craters should heal, 0 to 1."""
    closing_time_s: float
    """Of one crater at the peak [s]; off by the same power of ten."""
    extra_hold_h: float | None
    """More time at the peak that would bring it to the limit [h]; 0 where it
    is there already, None where the hold would be longer than two hours."""
    crater_radius_mm: float
    inside_domain: bool
    reason: str
    source: str
    confidence: str


def closing_times(
    seconds: ArrayLike,
    log10_viscosity: ArrayLike,
    surface_tension_n_m: ArrayLike,
    radius_mm: float,
) -> Floats:
    """How often a round hole could close while melts are hot [1]_.

    A spherical hole of radius r in a viscous melt shrinks at half the surface
    tension over the viscosity, whatever its size, so it closes in 2 r times
    viscosity over surface tension; this is the integral of the inverse of
    that time over the firing.

    Parameters
    ----------
    seconds : array_like, shape (n,)
        `core.reading.dwell.dwell_s` [s].
    log10_viscosity : array_like, shape (..., n)
        At `core.melt.sheet.CURVE_C` [log10 Pa·s].
    surface_tension_n_m : array_like
        [N/m], broadcasts against (..., n).
    radius_mm : float
        [mm]

    Returns
    -------
    ndarray, shape (...)
        Dimensionless.

    References
    ----------
    .. [1] Mackenzie, J. K., Shuttleworth, R. (1949). A phenomenological theory
       of sintering. Proc. Phys. Soc. B 62, 833-852 (from memory); the case of
       one pore is Frenkel's (1945).

    Examples
    --------
    One hour at 1000 Pa·s with 0.3 N/m: 0.5 mm close in 3.3 s.

    >>> float(closing_times([3600.0], [3.0], 0.3, 0.5).round())
    1080.0
    """
    fluidity = 10.0 ** -np.asarray(log10_viscosity, float)
    rate = np.asarray(surface_tension_n_m, float) * fluidity / (2.0 * 1e-3 * radius_mm)
    return np.asarray(rate @ np.asarray(seconds, float))


def tension_along(sheet: MeltSheet) -> Floats | None:
    """Surface tension at the temperatures of the melt's curve [N/m], shape (n,), or None."""
    figure = sheet.surface_tension_n_m
    if figure is None:
        return None
    usual = tension_sets()[USUAL_SET]
    known_at = sheet.peak_c if sheet.peak_c is not None else float(usual.temperature_c)
    along = figure.value + 1e-3 * float(usual.per_kelvin) * (CURVE_C - known_at)
    # A sum of factors can fall below zero where nothing like it was measured.
    return np.asarray(np.maximum(along, 0.0))


def healing(
    curve: FiringCurve, sheet: MeltSheet | None, rule: HealingRule | None = None
) -> Healing | None:
    """Say whether bubble craters close in a firing.

    Parameters
    ----------
    curve : FiringCurve
        The same object at each edit: its dwell times are kept.
    sheet : MeltSheet or None
    rule : HealingRule, optional
        Other limits or another crater than the shipped ones.

    Returns
    -------
    Healing or None
        None where there is no melt, the firing stays below
        `core.melt.sheet.COOLEST_C`, or the surface tension at the peak is no
        figure above zero.
    """
    rule = rule or healing_rule()
    tension = tension_along(sheet) if sheet is not None else None
    seconds = dwell_s(curve)
    if sheet is None or tension is None or not seconds.any():
        return None
    radius = float(rule.crater_radius_mm)
    number = float(closing_times(seconds, sheet.curve, tension, radius))
    rate = tension * 10.0**-sheet.curve
    # A sum of factors that falls to zero at the peak is no surface tension to close anything.
    if not (number > 0 and np.interp(curve.peak_c, CURVE_C, tension) > 0):
        return None
    error = math.hypot(
        flow_error(seconds, sheet, rate),
        _relative(sheet.surface_tension_n_m) / math.log(10.0),
    )
    heals, fails = float(rule.heals_from), float(rule.fails_below)
    per_second = np.interp(curve.peak_c, CURVE_C, rate)
    closing = 2.0 * 1e-3 * radius / float(per_second)
    hold = max(heals - number, 0.0) * closing / 3600.0
    if number >= heals:
        verdict = HealingVerdict.HEALS
    else:
        verdict = HealingVerdict.OPEN if number < fails else HealingVerdict.PINHOLES
    return Healing(
        verdict,
        number,
        error,
        NormalDist().cdf(math.log10(number / heals) / error) if error > 0 else float(hold == 0),
        closing,
        hold if hold <= _LONGEST_HOLD_H else None,
        radius,
        sheet.inside_domain,
        f"A crater of {radius:g} mm could close {_two_figures(number)} times in this firing, "
        f"{factor_words(error)}: from {heals:g} craters should heal, "
        f"below {fails:g} they stay open",
        rule.source,
        rule.confidence,
    )


def _relative(figure: Figure | None) -> float:
    return figure.error / figure.value if figure is not None and figure.value > 0 else 0.0


def _two_figures(value: float) -> str:
    return f"{float(f'{value:.2g}'):,.10g}"
