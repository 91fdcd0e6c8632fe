"""The fit of the viscosity networks."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.melt.composition import features
from core.melt.network import Ensemble, join
from core.melt.rows import Rows
from core.melt.training import (
    Head,
    Shape,
    fit_network,
    huber,
    scaling,
)
from core.melt.viscosity import (
    CURVE_MIDDLE,
    KELVIN,
    LIMIT_MIDDLE,
    LIMIT_REACH,
    LOG10_AT_TRANSITION,
    TG_MIDDLE_K,
    TG_REACH,
    TG_STEP,
)

SHAPE: Final = Shape(hidden=(16, 16), decay=1e-4, steps=800)
HUBER_LOG10: Final = 0.3
# What a potter asks for weighs more: glaze-like melts, and the firing range.
CORE_WEIGHT: Final = 1.5
FIRING_WEIGHT: Final = 2.5
FIRING_C: Final = (900.0, 1400.0)
SUSPECT_WEIGHT: Final = 0.1


def fit(rows: Rows, networks: int, seed: int) -> Ensemble:
    """Fit networks of three outputs to viscosity rows, as many as `networks`."""
    _, first, glass = np.unique(rows.glass, return_index=True, return_inverse=True)
    inputs = features(rows.fractions[first])
    weight = row_weight(rows, glass)
    scale = scaling(inputs, np.bincount(glass, weight).astype(float))
    head = _head(rows, glass, weight)
    return join([fit_network(inputs, scale, 3, head, SHAPE, seed + i) for i in range(networks)])


def row_weight(rows: Rows, glass: NDArray[np.intp]) -> NDArray[np.float64]:
    """Weights of rows, sum 1: the more points a glass has, the less each counts."""
    weight = 1.0 / np.sqrt(np.bincount(glass)[glass])
    firing = (rows.temperature_c > FIRING_C[0]) & (rows.temperature_c < FIRING_C[1])
    weight *= np.where(rows.core, CORE_WEIGHT, 1.0) * np.where(firing, FIRING_WEIGHT, 1.0)
    weight *= np.where(rows.suspect, SUSPECT_WEIGHT, 1.0)
    return np.asarray(weight / weight.sum())


def _head(rows: Rows, glass: NDArray[np.intp], weight: NDArray[np.float64]) -> Head:
    inverse_k = (1.0 / (rows.temperature_c + KELVIN)).astype(np.float32)
    measured = rows.value.astype(np.float32)

    def head(outputs: NDArray[np.float32]) -> tuple[float, NDArray[np.float32]]:
        value, by_output = slopes(outputs, inverse_k, glass)
        loss, slope = huber(value - measured, HUBER_LOG10)
        pull = weight * slope
        back = [np.bincount(glass, pull * part, len(outputs)) for part in by_output]
        return float(weight @ loss), np.stack(back, axis=-1).astype(np.float32)

    return head


def slopes(
    outputs: NDArray[np.float32], inverse_k: NDArray[np.float32], glass: NDArray[np.intp]
) -> tuple[NDArray[np.float32], tuple[NDArray[np.float32], ...]]:
    """Log10 viscosity of rows and its slopes by the three outputs, for the fit.

    Parameters
    ----------
    outputs : ndarray, shape (glasses, 3)
    inverse_k : ndarray, shape (rows,)
        One over the temperature [1/K].
    glass : ndarray, shape (rows,)
        Which glass each row measures.

    Returns
    -------
    log10 viscosity, shape (rows,), and three slopes of the same shape
    """
    turn = np.tanh(outputs[:, 0] / np.float32(LIMIT_REACH))
    limit = np.float32(LIMIT_MIDDLE) + np.float32(LIMIT_REACH) * turn
    bound = np.tanh(outputs[:, 1] * np.float32(TG_STEP / TG_REACH))
    transition = np.float32(TG_MIDDLE_K) * np.exp(np.float32(TG_REACH) * bound)
    third = outputs[:, 2] + np.float32(CURVE_MIDDLE)
    bend = np.logaddexp(np.float32(0.0), third)
    bend_slope = np.float32(1.0) / (np.float32(1.0) + np.exp(-third))
    limit, bend = limit[glass], bend[glass]
    ratio = transition[glass] * inverse_k
    rise = ratio * np.exp(np.clip(bend * (ratio - 1), -30, 30))
    span = np.float32(LOG10_AT_TRANSITION) - limit
    value = limit + span * rise
    return value, (
        (1 - rise) * (1 - turn**2)[glass],
        span * rise * (1 + bend * ratio) * (np.float32(TG_STEP) * (1 - bound**2))[glass],
        span * rise * (ratio - 1) * bend_slope[glass],
    )
