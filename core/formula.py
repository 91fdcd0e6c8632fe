"""From weights to moles, the unity formula, ratios and fired percentages."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.oxides import INDEX, MOLAR_MASS, OXIDES, R2O, Convention, mask_of

Floats = NDArray[np.float64]

_SILICA = INDEX["SiO2"]
_ALUMINA = INDEX["Al2O3"]
_MAGNESIA = INDEX["MgO"]


class State(StrEnum):
    """What keeps a formula from being complete, in words for the screen."""

    NO_ROWS = "no rows yet"
    NO_WEIGHT = "nothing weighed yet"
    NO_FLUX = "no flux: nothing here melts the glaze, so there is no unity formula"
    NO_SILICA = "no silica: nothing here makes a glass"
    NO_ALUMINA = "no alumina: the silica-alumina ratio has no value"
    INCOMPLETE = "a material is missing from the tables; its oxides are not in these figures"


def oxide_moles(amounts: ArrayLike, moles_per_gram: ArrayLike) -> Floats:
    """Moles of each fired oxide that recipes bring.

    Parameters
    ----------
    amounts : array_like, shape (..., n)
        Weight of each of n materials [g, or any parts].
    moles_per_gram : array_like, shape (n, 25)
        Of each oxide in the order of `OXIDES` [mol/g].

    Returns
    -------
    ndarray, shape (..., 25)
        [mol, or mol per gram-part].
    """
    return np.asarray(np.asarray(amounts, float) @ np.asarray(moles_per_gram, float))


def unity_formula(moles: ArrayLike, convention: Convention | None = None) -> Floats:
    """Moles of each oxide per mole of fluxes (the Seger formula).

    Parameters
    ----------
    moles : array_like, shape (..., 25)
    convention : Convention, optional
        Which oxides sum to one.

    Returns
    -------
    ndarray, shape (..., 25)
        NaN throughout where a recipe has no flux; see `flux_sum`.

    Examples
    --------
    >>> lime_glass = np.zeros(25)
    >>> lime_glass[INDEX["CaO"]], lime_glass[INDEX["SiO2"]] = 0.5, 1.0
    >>> float(unity_formula(lime_glass)[INDEX["SiO2"]])
    2.0
    """
    amounts = np.asarray(moles, float)
    fluxes = flux_sum(amounts, convention)[..., None]
    return np.asarray(amounts / np.where(fluxes > 0, fluxes, np.nan))


def flux_sum(moles: ArrayLike, convention: Convention | None = None) -> Floats:
    """Sum of the fluxes that the convention counts, shape (...), in the unit of `moles`."""
    return np.asarray(np.asarray(moles, float) @ (convention or _USUAL).mask)


_USUAL = Convention()


@dataclass(frozen=True, eq=False)
class Formula:
    """What a recipe comes to; values that do not exist are None, never NaN."""

    moles: Floats
    """Shape (25,) [mol per 100 parts of base]."""
    unity: Floats | None
    """Moles per mole of fluxes, shape (25,)."""
    mole_percent: Floats | None
    weight_percent: Floats | None
    """Fired [wt%], shape (25,)."""
    loss_on_ignition_percent: float | None
    convention: Convention
    states: tuple[State, ...] = ()

    @property
    def point(self) -> tuple[float, float] | None:
        """Place on the map: (SiO2, Al2O3) in the unity formula."""
        if self.unity is None:
            return None
        return float(self.unity[_SILICA]), float(self.unity[_ALUMINA])

    @property
    def silica_alumina(self) -> float | None:
        """Moles of silica to one of alumina."""
        alumina, silica = float(self.moles[_ALUMINA]), float(self.moles[_SILICA])
        if alumina <= 0:
            return None
        ratio = silica / alumina
        return ratio if math.isfinite(ratio) else None

    @property
    def r2o_share(self) -> float | None:
        """Li2O, Na2O and K2O in the fluxes, 0 to 1."""
        return None if self.unity is None else float(self.unity @ mask_of(R2O))

    @property
    def magnesia_share(self) -> float | None:
        """MgO in the fluxes, 0 to 1."""
        return None if self.unity is None else float(self.unity[_MAGNESIA])

    def share(self, *oxides: str) -> float:
        """Share of oxides in the unity formula; zero where there is none."""
        return 0.0 if self.unity is None else float(self.unity @ mask_of(oxides))


def formula_of(
    amounts: Floats,
    moles_per_gram: Floats,
    loi_percent: Floats,
    convention: Convention | None = None,
    incomplete: bool = False,
) -> Formula:
    """Compute the formula of one recipe.

    Parameters
    ----------
    amounts : ndarray, shape (n,)
        Weight of each material.
    moles_per_gram : ndarray, shape (n, 25)
    loi_percent : ndarray, shape (n,)
        Loss on ignition of each material [wt%].
    convention : Convention, optional
    incomplete : bool
        Whether rows are missing from these arrays.
    """
    convention = convention or _USUAL
    weight = float(amounts.sum())
    moles = oxide_moles(amounts, moles_per_gram) if len(amounts) else np.zeros(len(OXIDES))
    states = [State.INCOMPLETE] if incomplete else []
    if weight <= 0:
        states.append(State.NO_WEIGHT if len(amounts) else State.NO_ROWS)
        return Formula(moles, None, None, None, None, convention, tuple(states))
    loss = float(amounts @ loi_percent) / weight
    everything = float(moles.sum())
    mole_percent = weight_percent = unity = None
    if everything > 0:
        mole_percent = 100.0 * moles / everything
        fired = moles * MOLAR_MASS
        weight_percent = 100.0 * fired / float(fired.sum())
    # A trace of flux in clay alone gives a formula of thousands of silica.
    if flux_sum(moles, convention) > 1e-9 * max(everything, 1e-300):
        unity = unity_formula(moles, convention)
    else:
        states.append(State.NO_FLUX)
    if moles[_SILICA] <= 0:
        states.append(State.NO_SILICA)
    if moles[_ALUMINA] <= 0:
        states.append(State.NO_ALUMINA)
    return Formula(moles, unity, mole_percent, weight_percent, loss, convention, tuple(states))
