"""The zone field: what every point of the map would be, for one basis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.reading.basis import Basis
from core.reading.surface import Rules, surfaces

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class ZoneField:
    """Probabilities of the surfaces over a grid of the map."""

    basis: Basis
    silica: Floats
    """Shape (nx,)."""
    alumina: Floats
    """Shape (ny,)."""
    probabilities: Floats
    """Shape (ny, nx, 4), in the order of `core.reading.surface.ZONES`; they sum to 1."""
    outside: Flags
    """Where the models have no data, shape (ny, nx)."""
    far: Floats
    """Distance from the data of the models, 1 at its rim, shape (ny, nx); above 1 wherever
    `outside`, for the sake of contours."""
    melt_margin_percent: Floats
    """Shape (ny, nx)."""


def zone_field(
    basis: Basis, silica: ArrayLike, alumina: ArrayLike, rules: Rules | None = None
) -> ZoneField:
    """Read every point of a grid.

    Parameters
    ----------
    basis : Basis
    silica : array_like, shape (nx,)
    alumina : array_like, shape (ny,)
        Unity formula.
    rules : Rules, optional
        As shipped where None.

    Returns
    -------
    ZoneField

    Raises
    ------
    ValueError
        If an axis has no point or more than one dimension.
    """
    x, y = np.asarray(silica, float), np.asarray(alumina, float)
    if x.ndim != 1 or y.ndim != 1 or not x.size or not y.size:
        raise ValueError("silica and alumina must each be one row of places")
    found = surfaces(basis, x, y[:, None], rules)
    far = found.melts.far()
    outside = ~found.melts.inside(far)
    return ZoneField(
        basis=basis,
        silica=x,
        alumina=y,
        probabilities=found.probabilities,
        outside=outside,
        far=np.where(outside, np.maximum(far, 1.0 + 1e-6), far),
        melt_margin_percent=found.margin.percent,
    )
