"""Surface tension of the melt, by additive factors."""

from __future__ import annotations

from functools import cache

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import MODELLED
from core.melt.factors import Factors, FactorSet, lay_out
from core.schema import Number
from core.tables import read_records, shipped

Floats = NDArray[np.float64]

USUAL_SET = "kucuk"
ERROR_N_M = 0.02
"""One standard error [N/m]. Over the glasses of the expansion data that a
glaze could be, the published sets scatter about each other by about this much
once brought to one temperature; each alone claims less."""


class TensionSet(FactorSet, frozen=True, kw_only=True):
    """Factors of the surface tension [mN/m per percent]."""

    intercept: Number
    """[mN/m]"""
    temperature_c: Number
    """Where the set holds [°C]."""
    per_kelvin: Number
    """Change with temperature [mN/(m K)]."""
    neutral: list[str] = msgspec.field(default_factory=list)
    """Oxides that were in the data of the set and got no factor."""


@cache
def tension_sets() -> dict[str, TensionSet]:
    """Return the shipped sets by id; read once."""
    document = shipped("surface_tension.yaml")
    return {row.id: row for _, row in read_records(document, "surface-tension", TensionSet, True)}


@cache
def _factors(name: str, oxides: tuple[str, ...]) -> Factors:
    table = tension_sets()[name]
    return lay_out(table, oxides, table.neutral)


def surface_tension_n_m(
    fractions: ArrayLike,
    temperature_c: ArrayLike | None = None,
    name: str = USUAL_SET,
    oxides: tuple[str, ...] = MODELLED,
) -> Floats:
    """Surface tension of melts in air, summed over their oxides [1]_.

    Parameters
    ----------
    fractions : array_like, shape (..., k)
        Mole fractions in the order of `oxides`; oxides that the set does not
        know are left out and the rest brought to a sum of 1.
    temperature_c : array_like, optional
        [°C], broadcasts against (...); else the temperature of the set.
    name : str
        One of `tension_sets`.
    oxides : tuple of str

    Returns
    -------
    ndarray, shape (...)
        [N/m]; one standard error is `ERROR_N_M`.

    Raises
    ------
    ValueError
        If there is no such set or the oxide axis has another length.

    References
    ----------
    .. [1] Kucuk, A., Clare, A. G., Jones, L. (1999). An estimation of the
       surface tension of silicate glass melts at 1400 °C using statistical
       analysis. Glass Technology 40, 149-153.
    """
    sets = tension_sets()
    if name not in sets:
        raise ValueError(f"there is no set {name!r} of surface tension; take one of {list(sets)}")
    table = sets[name]
    sum_mn = float(table.intercept) + _factors(name, oxides).sum(fractions)
    if temperature_c is not None:
        above = np.asarray(temperature_c, float) - float(table.temperature_c)
        sum_mn = sum_mn + float(table.per_kelvin) * above
    return np.asarray(1e-3 * sum_mn)
