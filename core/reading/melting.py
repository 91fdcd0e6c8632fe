"""How well a glaze melts in a firing: the melt index, its limit and its error.

The index is a viscosity: that of the melt over the time that the firing gives
it near the peak, plus a term for what is still solid there. Above a limit the
glaze takes up its batch and heals no more. Limit and weights stand with their
evidence in ``data/melting_limit.yaml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import (
    ALKALI_LIME,
    ALKALIS,
    BORON_BEARING,
    COLUMN,
    MAGNESIA_RICH,
    UNMODELLED_LIMIT,
    Composition,
    Modelled,
    from_basis,
)
from core.melt.domain import distance, inside
from core.melt.errors import doubt_beyond, growth, liquidus_error, viscosity_error
from core.melt.liquidus import liquidus_c
from core.melt.viscosity import ViscosityCurve, curve
from core.oxides import vector
from core.reading.basis import Heat
from core.schema import Number, convert, expect_kind
from core.tables import read_records, shipped

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


class _Figure(msgspec.Struct, frozen=True):
    id: str
    value: Number
    error: Number
    says: str
    source: str
    confidence: str


class Evidence(msgspec.Struct, frozen=True):
    """Something that potters or publications say, by which the limit was judged."""

    says: str
    source: str
    confidence: str


class _Evidence(msgspec.Struct):
    evidence: list[Evidence]


@dataclass(frozen=True, slots=True)
class MeltingRules:
    """Figures of the melt index; their meaning and source stand in the table."""

    reference_hours: float
    solids_weight: float
    """[log10 Pa·s per K]"""
    solids_from: float
    """[K]"""
    solids_width: float
    """[K]"""
    limit: float
    """[log10 Pa·s]"""
    limit_error: float
    usual_slope: float
    """[log10 Pa·s per factor of e]"""
    least_slope: float
    source: str
    confidence: str
    evidence: tuple[Evidence, ...]


@cache
def melting_rules() -> MeltingRules:
    """Return the shipped figures of the melt index; read once."""
    document = shipped("melting_limit.yaml")
    expect_kind(document, "melting-limit")
    rows = {row.id: row for _, row in read_records(document, "melting-limit", _Figure, True)}
    return MeltingRules(
        reference_hours=float(rows["reference-hours"].value),
        solids_weight=float(rows["solids-weight"].value),
        solids_from=float(rows["solids-from"].value),
        solids_width=float(rows["solids-width"].value),
        limit=float(rows["limit"].value),
        limit_error=float(rows["limit"].error),
        usual_slope=float(rows["usual-slope"].value),
        least_slope=float(rows["least-slope"].value),
        source=rows["limit"].source,
        confidence=rows["limit"].confidence,
        evidence=tuple(convert(document, _Evidence).evidence),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Melts:
    """Melts in one firing; every array has the shape (...) of the compositions."""

    viscosity: ViscosityCurve
    liquidus_c: Floats
    index: Floats
    """[log10 Pa·s]"""
    melt: Modelled
    heat: Heat

    def part(self, rows: slice, shape: tuple[int, ...]) -> Melts:
        """Some rows of melts of shape (n,), in another shape."""
        stiff = self.viscosity
        return Melts(
            ViscosityCurve(
                stiff.limit[rows].reshape(shape),
                stiff.transition_k[rows].reshape(shape),
                stiff.bend[rows].reshape(shape),
            ),
            self.liquidus_c[rows].reshape(shape),
            self.index[rows].reshape(shape),
            Modelled(
                self.melt.fractions[rows].reshape(*shape, -1),
                self.melt.unmodelled[rows].reshape(shape),
            ),
            self.heat,
        )

    def log10_viscosity_at_peak(self) -> Floats:
        """[log10 Pa·s]."""
        return self.viscosity.log10_viscosity(self.heat.peak_c)

    def far(self) -> Floats:
        """Distance from the data of the models; see `core.melt.domain.distance`."""
        return distance(self.melt)

    def inside(self, far: Floats) -> Flags:
        """Whether the models have data there."""
        known = self.melt.unmodelled <= UNMODELLED_LIMIT
        return np.asarray(inside(self.melt, far=far) & known)

    def errors(self, far: Floats) -> tuple[Floats, Floats]:
        """One sigma of the viscosity at the peak [log10 Pa·s] and of the liquidus [K]."""
        return _errors(self.melt, far, self.heat)


def index_error(melt: Modelled, liquidus_c: Floats, far: Floats, heat: Heat) -> Floats:
    """One sigma of the melt index from both models.

    Parameters
    ----------
    melt : Modelled
        Of shape (...).
    liquidus_c, far : ndarray, shape (...)
        Liquidus [°C] and distance from the data, as `Melts` gives them.
    heat : Heat

    Returns
    -------
    ndarray, shape (...)
        [log10 Pa·s]
    """
    rules = melting_rules()
    stiff, hot = _smooth_errors(melt, far, heat.peak_c)
    over = (liquidus_c - heat.peak_c - rules.solids_from) / rules.solids_width
    counted = rules.solids_weight / (1.0 + np.exp(np.minimum(-over, 50.0)))
    doubt = doubt_beyond(melt, melt.unmodelled)
    return np.asarray(doubt * np.hypot(stiff, counted * hot))


def _errors(melt: Modelled, far: Floats, heat: Heat) -> tuple[Floats, Floats]:
    doubt = doubt_beyond(melt, melt.unmodelled)
    return (
        viscosity_error(melt, heat.peak_c, far) * doubt,
        liquidus_error(melt, far) * doubt,
    )


# One melt that belongs to each family of `core.melt.card.FAMILIES` alone.
_TYPICAL: Final = (
    {"SiO2": 4.0, "Al2O3": 0.5, "MgO": 1.0},
    {"SiO2": 4.0, "Al2O3": 0.5, "B2O3": 0.5, "CaO": 1.0},
    {"SiO2": 4.0, "Al2O3": 0.5, "CaO": 1.0},
    {"SiO2": 4.0, "Al2O3": 0.5, "ZnO": 1.0},
)


_LIME_AND_ALKALIS: Final = np.zeros(len(COLUMN))
_LIME_AND_ALKALIS[[COLUMN[oxide] for oxide in (*ALKALIS, "CaO")]] = 1.0


@cache
def _typical() -> Composition:
    return from_basis(np.stack([vector(melt) for melt in _TYPICAL]))


@lru_cache(maxsize=32)
def _family_errors(peak_c: float) -> tuple[Floats, Floats]:
    """Errors of the models by family: viscosity at the peak, and liquidus.

    They are to be multiplied with their growth with the distance.
    """
    amid = np.zeros(len(_TYPICAL))
    return (
        viscosity_error(_typical(), peak_c, amid) / growth(amid, "viscosity"),
        liquidus_error(_typical(), amid) / growth(amid, "liquidus"),
    )


def _smooth_errors(melt: Composition, far: Floats, peak_c: float) -> tuple[Floats, Floats]:
    """Errors of the two models, led smoothly from family to family.

    The measured errors step where a melt enters a family. A probability that
    stepped with them would turn a verdict on a hair of magnesia.
    """
    shares = melt.unity
    magnesia = _ramp(shares[..., COLUMN["MgO"]], MAGNESIA_RICH, 0.05)
    boron = _ramp(shares[..., COLUMN["B2O3"]], BORON_BEARING, 0.02)
    lime = _ramp(shares @ _LIME_AND_ALKALIS, ALKALI_LIME, 0.05)

    def mixed(sigma: Floats, prop: str) -> Floats:
        rich, borate, alkaline, other = sigma.tolist()
        plain = lime * alkaline + (1.0 - lime) * other
        plain = boron * borate + (1.0 - boron) * plain
        of_magnesia = boron * max(rich, borate) + (1.0 - boron) * rich
        # Distance from the data tells on every family alike.
        found = (magnesia * of_magnesia + (1.0 - magnesia) * plain) * growth(far, prop)
        return np.asarray(found)

    stiff, hot = _family_errors(peak_c)
    return mixed(stiff, "viscosity"), mixed(hot, "liquidus")


def _ramp(share: Floats, middle: float, reach: float) -> Floats:
    """Rise from 0 to 1 about a share, without corners."""
    part = np.minimum(np.maximum((share - middle) / (2.0 * reach) + 0.5, 0.0), 1.0)
    return np.asarray(part * part * (3.0 - 2.0 * part))


def melts_of(moles: ArrayLike, heat: Heat) -> Melts:
    """Melts of compositions in a firing.

    Parameters
    ----------
    moles : array_like, shape (..., 25)
        In the order of `core.oxides.OXIDES`, in any unit.
    heat : Heat

    Returns
    -------
    Melts
        Their index is log10 of reference hours over the integral of dt over
        viscosity, which is the viscosity at the peak in a plain firing, plus
        ``solids_weight`` times the liquidus above the peak.
    """
    rules = melting_rules()
    melt = from_basis(moles)
    stiffness = curve(melt)
    near = ViscosityCurve(
        stiffness.limit[..., None], stiffness.transition_k[..., None], stiffness.bend[..., None]
    ).log10_viscosity(heat.near_c)
    # The most fluid place, which is the hottest and stands first, is taken out of the sum, so
    # that no power under- or overflows.
    least = near[..., 0].copy()
    near -= least[..., None]
    near *= -np.log(10.0)
    flow = np.exp(near, out=near) @ heat.near_h
    felt = least - np.log10(np.maximum(flow, 1e-12) / rules.reference_hours)
    liquidus = liquidus_c(melt)
    over = (liquidus - heat.peak_c - rules.solids_from) / rules.solids_width
    solids = rules.solids_weight * rules.solids_width * np.logaddexp(0.0, over)
    return Melts(stiffness, liquidus, np.asarray(felt + solids), melt, heat)
