"""Additive factors: sets of one figure per oxide, and the sum over a composition."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.oxides import INDEX, MOLAR_MASS, parse_formula
from core.schema import Number

Floats = NDArray[np.float64]
_TRACE = 1e-12


class FactorSet(msgspec.Struct, frozen=True, kw_only=True):
    """A published set of factors, as its table holds it."""

    id: str
    name: str
    basis: Literal["mol", "weight"]
    """In which percent the amounts stand."""
    source: str
    confidence: str
    factors: dict[str, Number]
    """Factor of each oxide, in the set's own unit per percent."""


@lru_cache(maxsize=8)
def molar_masses(oxides: tuple[str, ...]) -> Floats:
    """Molar masses of oxides, also of those outside the basis such as FeO [g/mol]."""
    found = [
        MOLAR_MASS[INDEX[oxide]] if oxide in INDEX else parse_formula(oxide).molar_mass
        for oxide in oxides
    ]
    return np.array(found, float)


@dataclass(frozen=True, eq=False)
class Factors:
    """A set laid out over an order of oxides."""

    weights: Floats
    """What a mole of each oxide counts in the set's percent: 1 or its molar
    mass [g/mol], 0 for oxides that the set does not know; shape (k,)."""
    values: Floats
    """Factor of each oxide in the set's own unit, shape (k,)."""

    def percent(self, fractions: ArrayLike) -> Floats:
        """Amounts of the oxides that the set knows, brought to 100.

        Parameters
        ----------
        fractions : array_like, shape (..., k)
            Mole fractions, or any unit of amount.

        Returns
        -------
        ndarray, shape (..., k)
            [mol%] or [wt%]; all 0 where nothing is known.

        Raises
        ------
        ValueError
            If the last axis has another length.
        """
        moles = self._checked(fractions)
        scale = 100.0 / np.maximum(moles @ self.weights, _TRACE)
        return np.asarray(moles * self.weights * scale[..., None])

    def sum(self, fractions: ArrayLike) -> Floats:
        """Sum of percent times factor, shape (...); arguments as for `percent`."""
        moles = self._checked(fractions)
        total = np.maximum(moles @ self.weights, _TRACE)
        return np.asarray(100.0 * (moles @ (self.weights * self.values)) / total)

    def left_out(self, fractions: ArrayLike) -> Floats:
        """Mole fraction of the oxides that the set does not know, shape (...)."""
        moles = self._checked(fractions)
        unknown = moles @ (self.weights == 0).astype(float)
        return np.asarray(unknown / np.maximum(moles.sum(axis=-1), _TRACE))

    def _checked(self, fractions: ArrayLike) -> Floats:
        moles = np.asarray(fractions, float)
        if moles.ndim == 0 or moles.shape[-1] != len(self.weights):
            raise ValueError(
                f"the last axis must hold {len(self.weights)} oxides, not {moles.shape}"
            )
        return moles


def lay_out(table: FactorSet, oxides: tuple[str, ...], others: Iterable[str] = ()) -> Factors:
    """Lay a set out over an order of oxides.

    Parameters
    ----------
    table : FactorSet
    oxides : tuple of str, length k
    others : iterable of str
        Oxides that the set knows without a fixed factor.

    Returns
    -------
    Factors
    """
    known = {*table.factors, *others}
    mask = np.array([oxide in known for oxide in oxides], float)
    return Factors(
        mask * molar_masses(oxides) if table.basis == "weight" else mask,
        np.array([float(table.factors.get(oxide, 0.0)) for oxide in oxides]),
    )
