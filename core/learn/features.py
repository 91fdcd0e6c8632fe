"""What the rules of the reading see of a tile: all that a fit needs to know of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.curve import FiringCurve
from core.formula import unity_formula
from core.oxides import INDEX, Convention
from core.reading.basis import Basis, basis_of
from core.reading.margin import melts_and_margin
from core.reading.melting import melting_rules
from core.reading.surface import score_rules, surfaces

Floats = NDArray[np.float64]

SHIFTS: Final = np.linspace(-0.8, 0.8, 9)
"""Limits at which the margin is taken, less the shipped limit [log10 Pa·s]: to about three
sigma of the prior to either side."""


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """Tiles, fired or only thought of, as the rules see them."""

    contributions: Floats
    """What each term adds to the score by its shipped weight, shape (n, terms), in the order of
    `core.reading.surface.score_rules`."""
    margins: Floats
    """Melt margin in units of its error with the limit moved by each of `SHIFTS`, shape
    (n, shifts)."""

    def __len__(self) -> int:
        return len(self.contributions)

    def part(self, rows: ArrayLike | slice) -> Features:
        """Return some of the tiles, by their numbers, by a mask or by a slice."""
        chosen = rows if isinstance(rows, slice) else np.asarray(rows)
        return Features(self.contributions[chosen], self.margins[chosen])


def no_features() -> Features:
    """Return the features of no tile at all."""
    return Features(np.empty((0, len(score_rules().terms))), np.empty((0, SHIFTS.size)))


def joined(parts: Sequence[Features]) -> Features:
    """Put the tiles of several maps in one row."""
    parts = [no_features(), *parts]
    return Features(
        np.concatenate([part.contributions for part in parts]),
        np.concatenate([part.margins for part in parts]),
    )


def features_at(basis: Basis, silica: ArrayLike, alumina: ArrayLike) -> Features:
    """Features of points of the map of a basis.

    Parameters
    ----------
    basis : Basis
    silica, alumina : array_like
        Unity formula; they broadcast to n points, taken row by row. Many points
        of one basis at once cost little more than one.

    Returns
    -------
    Features
        Of length n.
    """
    x, y = (a.ravel() for a in np.broadcast_arrays(*map(np.asarray, (silica, alumina))))
    shipped = melting_rules()
    limits = [replace(shipped, limit=shipped.limit + float(shift)) for shift in SHIFTS]
    found = [melts_and_margin(basis, x, y, rules)[1].z for rules in limits]
    contributions = surfaces(basis, x, y).contributions
    return Features(
        np.stack([contributions[id_] for id_ in score_rules().terms], axis=-1),
        np.stack(found, axis=-1),
    )


def features_of(
    moles: ArrayLike, curve: FiringCurve, convention: Convention | None = None
) -> Features:
    """Features of one recipe in one firing.

    Parameters
    ----------
    moles : array_like, shape (25,)
        In the order of `core.oxides.OXIDES`, in any unit.
    curve : FiringCurve
        As felt by the tile.
    convention : Convention, optional
        Which oxides sum to one.

    Returns
    -------
    Features
        Of length 1; of length 0 without flux or without silica, from which
        nothing can be learnt.
    """
    basis = basis_of(moles, curve, convention)
    unity = unity_formula(np.fmax(np.asarray(moles, float), 0.0), convention)
    silica, alumina = float(unity[INDEX["SiO2"]]), float(unity[INDEX["Al2O3"]])
    if basis is None or not (silica > 0 and np.isfinite(silica) and np.isfinite(alumina)):
        return no_features()
    return features_at(basis, silica, alumina)
