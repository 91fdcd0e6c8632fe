"""Young's modulus of the glass, from how tightly its ions pack and how strongly they bind."""

from __future__ import annotations

from functools import cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.errors import InputError
from core.melt.composition import COLUMN, DERIVED, MODELLED, Composition, composition_of
from core.schema import Number, convert, expect_kind
from core.tables import shipped

Floats = NDArray[np.float64]

_SILICA: Final = COLUMN["SiO2"]
_FOURFOLD: Final = len(MODELLED) + DERIVED.index("four-fold boron")
"""Among the features."""


class _Ion(msgspec.Struct):
    packing: Number
    energy: Number
    volume: Number


class _OxideRow(_Ion):
    id: str
    source: str = ""


class _Boron(msgspec.Struct):
    three_fold: _Ion
    four_fold: _Ion


class _SilicaRich(msgspec.Struct):
    begin_mole_percent: Number
    volume_slope: Number


class _File(msgspec.Struct):
    source: str
    confidence: str
    relative_error: Number
    error_source: str
    oxides: list[_OxideRow]
    boron: _Boron
    silica_rich: _SilicaRich


@cache
def _table() -> tuple[Floats, Floats, _File]:
    """Return figures of shape (18, 3), those that four-fold boron adds to B2O3, and the file."""
    document = shipped("stiffness.yaml")
    expect_kind(document, "stiffness")
    file = convert(document, _File)
    rows = {row.id: _figures(row) for row in file.oxides}
    rows["B2O3"] = _figures(file.boron.three_fold)
    missing = [oxide for oxide in MODELLED if oxide not in rows]
    if missing:
        raise InputError(
            f"the oxide {missing[0]} is missing", "add its row", document.source, path="oxides"
        )
    extra = np.array(_figures(file.boron.four_fold)) - np.array(rows["B2O3"])
    return np.array([rows[oxide] for oxide in MODELLED]), extra, file


def _figures(ion: _Ion) -> list[float]:
    return [float(ion.packing), float(ion.energy), float(ion.volume)]


def youngs_modulus_gpa(fractions: ArrayLike | Composition) -> Floats:
    """Young's modulus of glasses at room temperature, twice packing times energy [1]_.

    Packing is the volume of the ions in the molar volume of the glass, and
    the latter a sum of partial volumes [2]_. Boron in four-fold places, taken
    as what the alkali above alumina allows, counts as such.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.

    Returns
    -------
    ndarray, shape (...)
        [GPa]; 0 where nothing was given. One standard error is
        `relative_error` of it.

    References
    ----------
    .. [1] Makishima, A., Mackenzie, J. D. (1973). Direct calculation of
       Young's modulus of glass. J. Non-Cryst. Solids 12, 35-45.
       doi:10.1016/0022-3093(73)90053-7
    .. [2] Appen, A. A. (1974). Khimiya Stekla. Factors from memory.
    """
    melt = composition_of(fractions)
    by_oxide, fourfold, file = _table()
    sums = melt.fractions @ by_oxide + melt.features[..., _FOURFOLD, None] * fourfold
    packing, energy, volume = sums[..., 0], sums[..., 1], sums[..., 2]
    silica = melt.fractions[..., _SILICA]
    rich = np.maximum(100.0 * silica - float(file.silica_rich.begin_mole_percent), 0.0)
    volume = volume + silica * float(file.silica_rich.volume_slope) * rich
    return np.asarray(2.0 * packing * energy / np.maximum(volume, 1e-12))


def relative_error() -> float:
    """One standard error of the Young's modulus, as a share of it."""
    return float(_table()[2].relative_error)
