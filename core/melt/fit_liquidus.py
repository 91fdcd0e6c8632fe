"""The fit of the liquidus networks."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.melt.composition import features
from core.melt.liquidus import MIDDLE_C, STEP_C, magnesia_ramp
from core.melt.network import Ensemble, join
from core.melt.rows import Rows
from core.melt.training import Shape, fit_network, huber, scaling

SHAPE: Final = Shape(hidden=(16, 16), decay=1e-4, steps=300)
HUBER_K: Final = 60.0
CORE_WEIGHT: Final = 2.0
SUSPECT_WEIGHT: Final = 0.1
# Between each row alike (0) and each publication alike (1).
PUBLICATION_POWER: Final = 0.3


def fit(rows: Rows, networks: int, seed: int) -> Ensemble:
    """Fit networks of one output to liquidus rows, as many as `networks`."""
    inputs = features(rows.fractions)
    weight = np.where(rows.core, CORE_WEIGHT, 1.0) * np.where(rows.suspect, SUSPECT_WEIGHT, 1.0)
    weight = publication_weight(rows.publication, weight)
    measured = ((rows.value - MIDDLE_C) / STEP_C).astype(np.float32)

    def head(outputs: NDArray[np.float32]) -> tuple[float, NDArray[np.float32]]:
        loss, slope = huber(outputs[:, 0] - measured, HUBER_K / STEP_C)
        return float(weight @ loss), (weight * slope).astype(np.float32)[:, None]

    scale = scaling(inputs, weight)
    return join([fit_network(inputs, scale, 1, head, SHAPE, seed + i) for i in range(networks)])


def magnesia_bias(fractions: NDArray[np.float64], residual: NDArray[np.float64]) -> float:
    """Bias [K] of held-out predictions that follows the magnesia ramp (least squares).

    Parameters
    ----------
    fractions : ndarray, shape (n, 18)
    residual : ndarray, shape (n,)
        Predicted less measured [K].
    """
    ramp = magnesia_ramp(fractions)
    return float(ramp @ residual / max(float(ramp @ ramp), 1e-12))


def publication_weight(
    publication: NDArray[np.str_], weight: NDArray[np.floating]
) -> NDArray[np.float64]:
    """Lower the weights of rows from large publications; the new sum is 1.

    A paper's rows share its furnace and its thermocouple: a hundred of them
    are not a hundred independent measurements.
    """
    _, which = np.unique(publication, return_inverse=True)
    total = np.bincount(which, weight)
    held = weight * (np.maximum(total[which], 1e-12) / total.mean()) ** -PUBLICATION_POWER
    return np.asarray(held / held.sum(), float)
