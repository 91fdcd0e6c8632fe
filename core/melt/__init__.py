"""What a glaze does when it is hot: figures of the melt, each with its error.

`properties` is the door; the files beside it hold one property each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import UNMODELLED_LIMIT, from_basis, on_basis
from core.melt.domain import inside
from core.melt.errors import liquidus_error, viscosity_error
from core.melt.expansion import (
    FITTED,
    LINEAR,
    additive_expansion,
    expansion_error,
    expansion_sets,
    expansion_shares,
    fitted_expansion,
    linear_expansion,
)
from core.melt.liquidus import liquidus_c
from core.melt.melt import Melt
from core.melt.stiffness import relative_error, youngs_modulus_gpa
from core.melt.surface_tension import ERROR_N_M, surface_tension_n_m
from core.melt.viscosity import KELVIN, curve
from core.oxides import OXIDES

__all__ = [
    "MeltProperties",
    "expansion_sets",
    "expansion_shares_of",
    "properties",
    "properties_of",
    "temperature_at",
    "viscosity_curve",
]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class MeltProperties:
    """Figures of melts and glasses; every array has the leading shape (...).

    Errors are one standard error. Where nothing was given (all oxides zero)
    the figures are NaN and `inside_domain` is False: show words there.
    Where `inside_domain` is False the figure is a guess beyond the data.
    """

    log10_viscosity: Floats | None
    """[log10 Pa·s]; None if no temperature was asked for."""
    log10_viscosity_error: Floats | None
    liquidus_c: Floats
    """[°C], within 600 to 1750."""
    liquidus_error_c: Floats
    """[K]"""
    glass_transition_c: Floats
    """Temperature at 10^12 Pa·s [°C]."""
    glass_transition_error_c: Floats
    """[K]"""
    expansion: Floats
    """Linear, below the glass transition [1e-6/K]."""
    expansion_error: Floats
    youngs_modulus_gpa: Floats
    """Of the glass at room temperature [GPa]."""
    youngs_modulus_error_gpa: Floats
    surface_tension_n_m: Floats
    """[N/m], at the temperature asked for, else at 1400 °C."""
    surface_tension_error_n_m: Floats
    inside_domain: Flags
    """Whether the composition lies where the models were fitted."""
    unmodelled: Floats
    """Mole fraction of oxides without melt data, left out of the figures."""


def properties(
    mole_fractions: ArrayLike,
    temperature_c: ArrayLike | None = None,
    expansion_set: str = FITTED,
) -> MeltProperties:
    """Figures of melts from their oxides, with errors and domain.

    Parameters
    ----------
    mole_fractions : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES`; any unit of amount, for they are
        brought to a sum of 1. Amounts below zero count as none.
    temperature_c : array_like, optional
        [°C], broadcasts against (...): for viscosity and surface tension.
    expansion_set : str
        One of `expansion_sets`: "fitted", "linear" or a published set.

    Returns
    -------
    MeltProperties
        Arrays over (...), broadcast with `temperature_c` where one is given.

    Raises
    ------
    ValueError
        If the last axis is not 25 long, the shapes do not broadcast or there
        is no such set.

    Notes
    -----
    Viscosity, liquidus and fitted expansion come from networks fitted on open
    data (SciGlass, ODbL 1.0); the source of each other figure stands in its
    own file. Whoever needs but a few figures of many compositions calls that
    file.

    Examples
    --------
    >>> moles = np.zeros(25)
    >>> for oxide, amount in {"SiO2": 72, "Na2O": 14, "CaO": 11, "Al2O3": 3}.items():
    ...     moles[OXIDES.index(oxide)] = amount
    >>> glass = properties(moles, 1200.0)
    >>> bool(7.5 < glass.expansion < 10.0), bool(glass.inside_domain)
    (True, True)
    """
    return properties_of(Melt(mole_fractions), temperature_c, expansion_set)


def properties_of(
    melt: Melt, temperature_c: ArrayLike | None = None, expansion_set: str = FITTED
) -> MeltProperties:
    """Figures of melts, as `properties` gives them, for whoever goes on with the melt."""
    made = melt.composition
    lead = made.fractions.shape[:-1]
    if temperature_c is not None:
        lead = np.broadcast_shapes(lead, np.shape(temperature_c))
    given = made.fractions.any(axis=-1)
    all_given = bool(given.all())

    def figure(values: ArrayLike) -> Floats:
        found = np.array(values) if all_given else np.where(given, values, np.nan)
        return found if found.shape == lead else np.broadcast_to(found, lead).copy()

    viscosity, far, doubt = melt.viscosity, melt.far, melt.doubt
    # Rules of addition: their errors are not measured by distance, so they
    # grow in proportion to it outside the data.
    doubt_of_sums = doubt * np.maximum(far, 1.0)
    transition = viscosity.transition_k - KELVIN
    modulus = youngs_modulus_gpa(made)
    hot = hot_error = None
    # One call for the errors at both temperatures: looking up families costs more than either.
    asked = transition if temperature_c is None else np.asarray(temperature_c, float)
    error, error_at_transition = viscosity_error(
        made, np.array(np.broadcast_arrays(asked, transition)), far
    )
    if temperature_c is not None:
        hot = figure(viscosity.log10_viscosity(temperature_c))
        hot_error = figure(error * doubt)
    domain = inside(made, far=far) & (made.unmodelled <= UNMODELLED_LIMIT) & given
    return MeltProperties(
        hot,
        hot_error,
        figure(liquidus_c(made)),
        figure(liquidus_error(made, far) * doubt),
        figure(transition),
        # Over the slope by temperature there: the fragility over Tg [1/K].
        figure(error_at_transition * doubt * viscosity.transition_k / viscosity.fragility),
        figure(_expansion(melt, expansion_set)),
        figure(expansion_error(made, expansion_set, far) * doubt),
        figure(modulus),
        figure(relative_error() * modulus * doubt_of_sums),
        figure(surface_tension_n_m(made.fractions, temperature_c)),
        figure(ERROR_N_M * doubt_of_sums),
        np.broadcast_to(domain, lead).copy(),
        np.broadcast_to(made.unmodelled, lead).copy(),
    )


def _expansion(melt: Melt, name: str) -> Floats:
    if name == FITTED:
        return fitted_expansion(melt.composition)
    if name == LINEAR:
        return linear_expansion(melt.composition.fractions)
    # The published sets know some oxides that the melt data lack.
    amounts = np.nan_to_num(np.asarray(melt.moles, float), nan=0.0, posinf=0.0, neginf=0.0)
    return additive_expansion(np.maximum(amounts, 0.0), name, OXIDES)


def expansion_shares_of(mole_fractions: ArrayLike) -> Floats:
    """What each oxide brings to the linear sum of the expansion.

    Parameters
    ----------
    mole_fractions : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES`.

    Returns
    -------
    ndarray, shape (..., 25)
        [1e-6/K]; they sum to the figure of the set "linear". 0 for oxides
        without data.

    Raises
    ------
    ValueError
        If the last axis is not 25 long.
    """
    return on_basis(expansion_shares(from_basis(mole_fractions).fractions))


def viscosity_curve(mole_fractions: ArrayLike, temperatures_c: ArrayLike) -> Floats:
    """Viscosity of melts over temperatures, for a chart.

    Parameters
    ----------
    mole_fractions : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES`.
    temperatures_c : array_like, shape (n,)
        [°C]

    Returns
    -------
    ndarray, shape (..., n)
        [log10 Pa·s]; NaN where no oxide was given.

    Raises
    ------
    ValueError
        If an axis has another length.
    """
    temperatures = np.asarray(temperatures_c, float)
    if temperatures.ndim != 1:
        raise ValueError(f"give temperatures along one axis, not of shape {temperatures.shape}")
    melt = from_basis(mole_fractions)
    found = curve(melt.fractions[..., None, :]).log10_viscosity(temperatures)
    return np.where(melt.fractions.sum(axis=-1, keepdims=True) > 0, found, np.nan)


def temperature_at(mole_fractions: ArrayLike, log10_eta: ArrayLike) -> Floats:
    """Temperature at which melts reach a viscosity.

    Parameters
    ----------
    mole_fractions : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES`.
    log10_eta : array_like
        [log10 Pa·s], broadcasts against (...).

    Returns
    -------
    ndarray
        [°C], within 0 to 3000; NaN where no oxide was given.

    Raises
    ------
    ValueError
        If the last axis is not 25 long, or the shapes do not broadcast.
    """
    melt = from_basis(mole_fractions)
    found = curve(melt).temperature_at(log10_eta)
    return np.where(melt.fractions.sum(axis=-1) > 0, found, np.nan)
