"""How far a predicted figure may be off: one sigma, from held-out publications."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.card import card
from core.melt.composition import UNMODELLED_LIMIT, Composition, Families, composition_of
from core.melt.domain import distance

Floats = NDArray[np.float64]

# Places [°C] at which the errors of the four bands stand; straight lines
# between them, so that the band on a melt curve has no steps.
_KNOTS_C: Final = np.array([700.0, 900.0, 1000.0, 1350.0, 1500.0])
_BAND_AT_KNOT: Final = np.array([0, 1, 2, 2, 3])
_FLUX_OF_GLAZES: Final = 0.04
"""Mole fraction of fluxes below which nothing like a glaze was measured."""


def viscosity_error(
    fractions: ArrayLike | Composition, temperature_c: ArrayLike, far: ArrayLike | None = None
) -> Floats:
    """One sigma of the predicted viscosity [log10 Pa·s].

    Root mean square residual over publications that the fit never saw, by
    family and temperature; a melt of two families takes the larger. It grows
    with the distance to the training data, as measured on the same rows, and
    beyond the farthest of them in proportion: twice as far, twice as large.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
    temperature_c : array_like
        [°C]; broadcasts against (...).
    far : array_like, shape (...), optional
        `core.melt.domain.distance`, if it is known already.

    Returns
    -------
    ndarray
    """
    melt = composition_of(fractions)
    celsius = np.asarray(temperature_c, float)
    curves = [np.interp(celsius, _KNOTS_C, sigma) for sigma in _knots()]
    return by_family(melt.families, curves) * _growth_of(melt, far, "viscosity")


def doubt_beyond(fractions: ArrayLike | Composition, unmodelled: ArrayLike) -> Floats:
    """How many times wider than measured the errors are where there are no data at all.

    The growth with distance was measured on melts that somebody melted. Melts
    with next to no flux, and melts full of oxides without data, are beyond
    them, and the distance does not see it. The factors are judged, not
    measured: 20 for a melt without flux (pure silica is some 17 times off), and
    one more for each twentieth of the oxides that have no data.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
    unmodelled : array_like, shape (...)
        Mole fraction of oxides without data.

    Returns
    -------
    ndarray, shape (...)
        1 for a glaze on familiar oxides.
    """
    flux = composition_of(fractions).flux
    poverty = np.minimum(np.maximum(1.0 - flux / _FLUX_OF_GLAZES, 0.0), 1.0)
    foreign = np.maximum(np.asarray(unmodelled, float) - UNMODELLED_LIMIT, 0.0)
    return np.asarray((1.0 + 19.0 * poverty) * (1.0 + 20.0 * foreign))


@cache
def _knots() -> tuple[Floats, ...]:
    """Errors at `_KNOTS_C` by family."""
    return tuple(np.array(bands)[_BAND_AT_KNOT] for bands in card().viscosity_error)


def liquidus_error(fractions: ArrayLike | Composition, far: ArrayLike | None = None) -> Floats:
    """One sigma of the predicted liquidus [K], shape (...).

    Parameters and growth as for `viscosity_error`.
    """
    melt = composition_of(fractions)
    return by_family(melt.families, card().liquidus_error) * _growth_of(melt, far, "liquidus")


def growth(far: ArrayLike, prop: str) -> Floats:
    """How many times larger an error is at a distance from the training data.

    Parameters
    ----------
    far : array_like, shape (...)
        `core.melt.domain.distance`.
    prop : str
        "viscosity" or "liquidus".

    Returns
    -------
    ndarray, shape (...)
    """
    gap = np.asarray(far, float)
    places, factors = _growth_measured(prop)
    return np.asarray(np.interp(gap, places, factors) * np.maximum(gap / places[-1], 1.0))


@cache
def _growth_measured(prop: str) -> tuple[Floats, Floats]:
    return np.array(card().distances), np.array(card().growth[prop])


def _growth_of(melt: Composition, far: ArrayLike | None, prop: str) -> Floats:
    return growth(distance(melt, prop) if far is None else far, prop)


def by_family(found: Families, sigma: Sequence[ArrayLike]) -> Floats:
    """Pick for each melt the largest figure of its families.

    Parameters
    ----------
    found : Families
        Flags of shape (...).
    sigma : sequence of four array_like
        In the order of `core.melt.card.FAMILIES`; each broadcasts against (...).

    Returns
    -------
    ndarray
    """
    magnesia, boron, lime, other = sigma
    chosen = np.where(found.alkali_lime, lime, other)
    chosen = np.where(found.boron_bearing, boron, chosen)
    rich = np.where(found.boron_bearing, np.maximum(magnesia, boron), magnesia)
    return np.asarray(np.where(found.magnesia_rich, rich, chosen), float)
