"""Compositions as the melt models read them: 18 oxides, derived shares, families."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.oxides import OXIDES as BASIS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MODELLED: Final = (
    *("SiO2", "Al2O3", "B2O3", "Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO"),
    *("TiO2", "ZrO2", "P2O5", "Fe2O3", "FeO", "MnO"),
)
"""The oxides of the melt data, in its order."""
COLUMN: Final = {oxide: i for i, oxide in enumerate(MODELLED)}
ALKALIS: Final = ("Li2O", "Na2O", "K2O")
MELT_FLUXES: Final = (*ALKALIS, "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO", "MnO", "FeO")
"""Fluxes as the melt data count them: manganous and ferrous oxide among them."""
DERIVED: Final = (
    *("excess flux", "excess alumina", "alkali excess", "four-fold boron"),
    "non-bridging oxygen",
)

# Above this share of oxides without data, a figure says nothing of the glaze.
UNMODELLED_LIMIT: Final = 0.01
MAGNESIA_RICH: Final = 0.3
BORON_BEARING: Final = 0.05
ALKALI_LIME: Final = 0.8

_TRACE: Final = 1e-12


def _columns(*oxides: str) -> Floats:
    mask = np.zeros(len(MODELLED))
    mask[[COLUMN[oxide] for oxide in oxides]] = 1.0
    mask.setflags(write=False)
    return mask


_FLUX: Final = _columns(*MELT_FLUXES)
_ALKALI: Final = _columns(*ALKALIS)
_ALKALI_LIME: Final = _columns(*ALKALIS, "CaO")
_OXYGENS: Final = np.array([2, 3, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 5, 3, 1, 1], float)
_OXYGENS.setflags(write=False)

_FROM_BASIS: Final = np.zeros((len(BASIS), len(MODELLED)))
for _i, _oxide in enumerate(BASIS):
    if _oxide in COLUMN:
        _FROM_BASIS[_i, COLUMN[_oxide]] = 1.0
_FROM_BASIS.setflags(write=False)
_LEFT_OUT: Final = 1.0 - _FROM_BASIS.sum(axis=1)
_LEFT_OUT.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Composition:
    """Compositions that were checked, and what several models read of them, worked out once."""

    fractions: Floats
    """Mole fractions on `MODELLED`, shape (..., 18); sum 1, or all 0 if nothing is left."""

    @cached_property
    def features(self) -> Floats:
        """What the networks see; see `features`."""
        return features(self.fractions)

    @cached_property
    def flux(self) -> Floats:
        """Sum of the fluxes [mole fraction], shape (...)."""
        return flux_total(self.fractions)

    @cached_property
    def unity(self) -> Floats:
        """Moles of each oxide per mole of fluxes, shape (..., 18)."""
        return unity(self.fractions)

    @cached_property
    def families(self) -> Families:
        """Families that they belong to."""
        return families(self.fractions)


@dataclass(frozen=True, eq=False)
class Modelled(Composition):
    """Compositions on the oxides of the melt data, and what was left out."""

    unmodelled: Floats
    """Mole fraction of oxides without data (tin, chromium, cobalt, ...), shape (...)."""


def from_basis(moles: ArrayLike) -> Modelled:
    """Carry compositions from the basis of 25 oxides to the 18 of the melt data.

    SnO2, Cr2O3, V2O5, CeO2, CoO, NiO, CuO and F have no data: they are left
    out, the rest is brought to a sum of 1, and their share is reported. All
    iron of the basis is Fe2O3. Amounts that are negative or not finite count
    as 0.

    Parameters
    ----------
    moles : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES` [mol, mole fractions, or any unit
        of amount].

    Returns
    -------
    Modelled

    Raises
    ------
    ValueError
        If the last axis is not 25 long.

    Examples
    --------
    >>> moles = np.zeros(25)
    >>> moles[BASIS.index("SiO2")], moles[BASIS.index("CoO")] = 9.0, 1.0
    >>> melt = from_basis(moles)
    >>> float(melt.fractions[COLUMN["SiO2"]]), round(float(melt.unmodelled), 9)
    (1.0, 0.1)
    """
    amounts = np.asarray(moles, float)
    if amounts.ndim == 0 or amounts.shape[-1] != len(BASIS):
        raise ValueError(f"the last axis must hold {len(BASIS)} oxides, not {amounts.shape}")
    amounts = _sound(amounts)
    kept, left_out = amounts @ _FROM_BASIS, amounts @ _LEFT_OUT
    total = kept.sum(axis=-1)
    return Modelled(_share(kept, total[..., None]), _share(left_out, total + left_out))


def on_basis(shares: Floats) -> Floats:
    """Carry shares of the 18 oxides to the basis of 25, shape (..., 25); FeO has no place there."""
    return np.asarray(shares @ _FROM_BASIS.T)


def fractions_of(fractions: ArrayLike) -> Floats:
    """Check mole fractions on the 18 oxides and bring them to a sum of 1.

    Parameters
    ----------
    fractions : array_like, shape (..., 18)
        In the order of `MODELLED`, in any unit of amount.

    Returns
    -------
    ndarray, shape (..., 18)
        Never negative, never NaN; all 0 where nothing was given.

    Raises
    ------
    ValueError
        If the last axis is not 18 long.
    """
    amounts = np.asarray(fractions, float)
    if amounts.ndim == 0 or amounts.shape[-1] != len(MODELLED):
        raise ValueError(f"the last axis must hold {len(MODELLED)} oxides, not {amounts.shape}")
    amounts = _sound(amounts)
    return _share(amounts, amounts.sum(axis=-1)[..., None])


def composition_of(fractions: ArrayLike | Composition) -> Composition:
    """Check mole fractions as `fractions_of` does; what was checked before passes as it is."""
    if isinstance(fractions, Composition):
        return fractions
    return Composition(fractions_of(fractions))


def _sound(amounts: Floats) -> Floats:
    held: Floats = np.fmax(amounts, 0.0)  # fmax takes the 0 where the other is NaN
    if not np.isfinite(held.sum()):
        held[np.isinf(held)] = 0.0
    # The largest becomes 1, so that no unit of amount is too large or too small to add up.
    return _share(held, held.max(axis=-1, keepdims=True))


def _share(part: Floats, whole: Floats) -> Floats:
    """Part over whole, 0 where the whole is (and so the part)."""
    return np.asarray(part / np.where(whole > 0, whole, 1.0))


def derived(fractions: Floats) -> Floats:
    """Shares that say how the network is held together, from mole fractions.

    Each alumina is taken to use one flux for its charge; alkali left over
    turns boron four-fold; what flux still remains breaks bridges. A usual
    first approximation (Greaves and Sen 2007, Adv. Phys. 56, 1-166, sections
    on aluminosilicates and borosilicates; rules from memory).

    Parameters
    ----------
    fractions : ndarray, shape (..., 18)
        Mole fractions, sum 1.

    Returns
    -------
    ndarray, shape (..., 5)
        In the order of `DERIVED`: flux above alumina, alumina above flux,
        alkali above alumina, boron in four-fold places [all mole fraction of
        oxide], non-bridging oxygens per oxygen.
    """
    flux = fractions @ _FLUX
    alkali = fractions @ _ALKALI
    alumina = fractions[..., COLUMN["Al2O3"]]
    boron = fractions[..., COLUMN["B2O3"]]
    excess_flux = np.maximum(flux - alumina, 0.0)
    alkali_excess = np.maximum(alkali - alumina, 0.0)
    fourfold = np.minimum(alkali_excess, boron)
    oxygen = np.maximum(fractions @ _OXYGENS, _TRACE)
    bridges_broken = 2.0 * np.maximum(excess_flux - fourfold, 0.0) / oxygen
    found = np.empty((*flux.shape, len(DERIVED)))
    found[..., 0] = excess_flux
    found[..., 1] = np.maximum(alumina - flux, 0.0)
    found[..., 2] = alkali_excess
    found[..., 3] = fourfold
    found[..., 4] = bridges_broken
    return found


def features(fractions: Floats) -> Floats:
    """Mole fractions with the derived shares beside them, shape (..., 23)."""
    return np.concatenate([fractions, derived(fractions)], axis=-1)


def flux_total(fractions: Floats) -> Floats:
    """Sum of the fluxes (`MELT_FLUXES`) [mole fraction], shape (...)."""
    return np.asarray(fractions @ _FLUX)


def unity(fractions: Floats) -> Floats:
    """Moles of each oxide per mole of fluxes, shape (..., 18); 0 where there is no flux."""
    flux = flux_total(fractions)
    scale = np.where(flux > _TRACE, 1.0 / np.maximum(flux, _TRACE), 0.0)
    return np.asarray(fractions * scale[..., None])


def magnesia_share(fractions: Floats) -> Floats:
    """MgO in the fluxes, 0 to 1, shape (...); 0 where there is no flux."""
    return np.asarray(unity(fractions)[..., COLUMN["MgO"]])


@dataclass(frozen=True, slots=True, eq=False)
class Families:
    """Which families compositions belong to; flags of shape (...).

    A composition may be rich in magnesia and bear boron at once; `alkali_lime`
    holds only what is neither.
    """

    magnesia_rich: Flags
    """MgO above 0.3 of the fluxes."""
    boron_bearing: Flags
    """B2O3 above 0.05 in the unity formula."""
    alkali_lime: Flags
    """Neither, and R2O with CaO above 0.8 of the fluxes."""


def families(fractions: Floats) -> Families:
    """Sort compositions, shape (..., 18) of mole fractions, into families."""
    shares = unity(fractions)
    magnesia = shares[..., COLUMN["MgO"]] > MAGNESIA_RICH
    boron = shares[..., COLUMN["B2O3"]] > BORON_BEARING
    lime = ~magnesia & ~boron & (shares @ _ALKALI_LIME > ALKALI_LIME)
    return Families(np.asarray(magnesia), np.asarray(boron), np.asarray(lime))
