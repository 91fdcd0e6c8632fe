"""How long a firing stays about each temperature at which the melt's curve is known."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.firing.curve import FiringCurve
from core.melt.sheet import CURVE_C, MeltSheet

Floats = NDArray[np.float64]

_MANY_POWERS = 3.0
"""An error of more powers of ten than this says nothing any more."""


@lru_cache(maxsize=32)
def dwell_s(curve: FiringCurve) -> Floats:
    """Time that a firing spends about each temperature of the melt's curve.

    With it an integral over the firing of anything that depends on
    temperature alone becomes one sum: of rate at `CURVE_C` times this. Exact
    where the rate is straight between two of these temperatures.

    Parameters
    ----------
    curve : FiringCurve
        Kept by identity: hold on to the curve of a firing rather than make
        it anew at each edit.

    Returns
    -------
    ndarray, shape (n,)
        [s] at `core.melt.sheet.CURVE_C`. Time below the coolest of them is
        left out; time above the hottest counts there.

    Examples
    --------
    >>> held = FiringCurve([0.0, 1.0], [1200.0, 1200.0])
    >>> float(dwell_s(held).sum()), float(dwell_s(held)[CURVE_C == 1200.0][0])
    (3600.0, 3600.0)
    """
    start, end = curve.temperatures_c[:-1], curve.temperatures_c[1:]
    seconds = 3600.0 * np.diff(curve.hours)
    moved = end != start
    span = np.where(moved, end - start, 1.0)
    ramps = (_area(end) - _area(start)) / span[:, None]
    found = np.asarray(seconds @ np.where(moved[:, None], ramps, _share(start)))
    found.setflags(write=False)
    return found


def flow_error(seconds: Floats, sheet: MeltSheet, rate: Floats) -> float:
    """Power of ten by which an integral over the viscosity may be off.

    The models err alike all along one curve, so errors add up straight, each
    with the part of the integral that its temperature brings.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        `dwell_s` [s].
    sheet : MeltSheet
    rate : ndarray, shape (n,)
        What is integrated, at `core.melt.sheet.CURVE_C`.
    """
    parts = seconds * rate
    return float(parts @ sheet.curve_error / parts.sum())


def factor_words(log10_error: float) -> str:
    """Say how far off a figure may be, from the error of its logarithm.

    Examples
    --------
    >>> factor_words(0.2), factor_words(400.0)
    ('off by a factor of 1.6 either way', 'off by many powers of ten either way')
    """
    if log10_error > _MANY_POWERS:
        return "off by many powers of ten either way"
    return f"off by a factor of {10.0**log10_error:.1f} either way"


def _share(temperatures_c: Floats) -> Floats:
    """Weights of straight interpolation between the temperatures of the curve, shape (m, n)."""
    step = float(CURVE_C[1] - CURVE_C[0])
    at = np.minimum(temperatures_c, CURVE_C[-1])[:, None]
    shares = np.clip(1.0 - np.abs(at - CURVE_C) / step, 0.0, None)
    return np.where(at >= CURVE_C[0], shares, 0.0)


def _area(temperatures_c: Floats) -> Floats:
    """Integral of `_share` from below the curve up to these temperatures [K], shape (m, n)."""
    step = float(CURVE_C[1] - CURVE_C[0])
    at = temperatures_c[:, None]
    # A share rises over one step and falls over the next; the first only falls.
    below = np.clip((at - CURVE_C) / step + 1.0, 0.0, 1.0)
    above = np.clip((at - CURVE_C) / step, 0.0, 1.0)
    area = step * (0.5 * below**2 + above - 0.5 * above**2)
    area[:, 0] -= step * 0.5 * below[:, 0] ** 2
    # Beyond the hottest the share stays one.
    area[:, -1] = step * 0.5 * below[:, -1] ** 2 + np.maximum(temperatures_c - CURVE_C[-1], 0.0)
    return np.asarray(area)
