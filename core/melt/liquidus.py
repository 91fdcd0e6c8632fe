"""Liquidus: above which temperature no crystal remains in the melt."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.card import card
from core.melt.composition import COLUMN, Composition, composition_of
from core.melt.network import Ensemble, load
from core.tables import data_folder

Floats = NDArray[np.float64]

LOWEST_C: Final = 600.0
HIGHEST_C: Final = 1750.0

# The middle of the network's output and what one unit of it stands for.
MIDDLE_C: Final = 1100.0
STEP_C: Final = 200.0

# Between these shares of magnesia in the fluxes the correction comes in.
RAMP_FROM: Final = 0.15
RAMP_TO: Final = 0.45


@cache
def _ensemble() -> Ensemble:
    return load(data_folder() / "melt" / "liquidus.npz")


def magnesia_ramp(fractions: ArrayLike | Composition) -> Floats:
    """How much of the magnesia correction applies: 0 to 1, smooth in MgO of the fluxes.

    Half of it at the share 0.3, above which a melt counts as rich in magnesia.
    """
    magnesia = composition_of(fractions).unity[..., COLUMN["MgO"]]
    part = np.minimum(np.maximum((magnesia - RAMP_FROM) / (RAMP_TO - RAMP_FROM), 0.0), 1.0)
    return np.asarray(part * part * (3.0 - 2.0 * part))


def uncorrected_c(fractions: ArrayLike | Composition, ensemble: Ensemble) -> Floats:
    """Liquidus of the networks alone [°C], shape (...), neither corrected nor clipped."""
    return MIDDLE_C + STEP_C * ensemble.mean(composition_of(fractions).features)[..., 0]


def liquidus_c(fractions: ArrayLike | Composition) -> Floats:
    """Liquidus of melts [°C], within 600 to 1750.

    The mean of small networks fitted on SciGlass rows, less the bias that
    they show on held-out publications for melts rich in magnesia (its size
    stands in the card of the fit, ``data/melt/card.yaml``).

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.

    Returns
    -------
    ndarray, shape (...)
        Never NaN. The standard error depends on the family; see
        `core.melt.errors`.
    """
    melt = composition_of(fractions)
    found = uncorrected_c(melt, _ensemble()) - card().magnesia_bias_c * magnesia_ramp(melt)
    return np.asarray(np.minimum(np.maximum(found, LOWEST_C), HIGHEST_C))
