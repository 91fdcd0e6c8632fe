"""The melt of one recipe, ready to show: figures with errors, its curve and working lines."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from core.melt import (
    Floats,
    MeltProperties,
    expansion_sets,
    properties,
    properties_of,
)
from core.melt.composition import on_basis
from core.melt.errors import viscosity_error
from core.melt.expansion import FITTED, expansion_shares
from core.melt.melt import Melt
from core.schema import Number
from core.tables import read_records, shipped

COOLEST_C: Final = 700.0
HOTTEST_C: Final = 1400.0
CURVE_C: Final[NDArray[np.float64]] = np.arange(COOLEST_C, HOTTEST_C + 1.0, 10.0)
"""Temperatures of the curve [°C]."""
CURVE_C.setflags(write=False)


class WorkingLine(msgspec.Struct, frozen=True):
    """A viscosity that means something at the bench."""

    id: str
    name: str
    log10_viscosity: Number
    says: str
    source: str
    confidence: str


@cache
def working_lines() -> tuple[WorkingLine, ...]:
    """Return the working lines from fluid to stiff; read once."""
    rows = read_records(shipped("melt_lines.yaml"), "melt-lines", WorkingLine, True)
    return tuple(line for _, line in rows)


@dataclass(frozen=True, slots=True)
class Figure:
    """A predicted value with its one-sigma error, in the same unit."""

    value: float
    error: float


@dataclass(frozen=True, eq=False, slots=True)
class MeltSheet:
    """What the models say of one melt; figures that do not exist are None, never NaN."""

    peak_c: float | None
    log10_viscosity: Figure | None
    """At the peak [log10 Pa·s]."""
    liquidus_c: Figure | None
    glass_transition_c: Figure | None
    expansion: Figure | None
    """Linear, by the chosen set [1e-6/K]."""
    expansion_set: str
    youngs_modulus_gpa: Figure | None
    surface_tension_n_m: Figure | None
    inside_domain: bool
    unmodelled: float
    """Mole fraction of oxides without melt data."""
    curve: Floats
    """Viscosity at `CURVE_C`, shape (n,) [log10 Pa·s]."""
    curve_error: Floats
    """One sigma of it, shape (n,)."""
    reached_c: tuple[tuple[WorkingLine, float], ...]
    """Temperature at which each working line is reached [°C]."""
    expansion_shares: Floats
    """What each oxide brings to the linear sum, shape (25,) [1e-6/K]."""


def melt_sheet(
    moles: Floats, peak_c: float | None, expansion_set: str = FITTED
) -> MeltSheet | None:
    """Work out the melt of one recipe.

    Parameters
    ----------
    moles : ndarray, shape (25,)
        In the order of `core.oxides.OXIDES`, in any unit.
    peak_c : float or None
        Peak of the firing [°C].
    expansion_set : str
        One of `core.melt.expansion_sets`.

    Returns
    -------
    MeltSheet or None
        None where no oxide with melt data is there.
    """
    if not (moles > 0).any():
        return None
    melt = Melt(moles)
    found = properties_of(melt, peak_c, expansion_set)
    transition = _figure(found.glass_transition_c, found.glass_transition_error_c)
    if transition is None:
        return None
    lines = working_lines()
    reached = melt.viscosity.temperature_at([float(line.log10_viscosity) for line in lines])
    return MeltSheet(
        peak_c=peak_c,
        log10_viscosity=_figure(found.log10_viscosity, found.log10_viscosity_error),
        liquidus_c=_figure(found.liquidus_c, found.liquidus_error_c),
        glass_transition_c=transition,
        expansion=_figure(found.expansion, found.expansion_error),
        expansion_set=expansion_set,
        youngs_modulus_gpa=_figure(found.youngs_modulus_gpa, found.youngs_modulus_error_gpa),
        surface_tension_n_m=_figure(found.surface_tension_n_m, found.surface_tension_error_n_m),
        inside_domain=bool(found.inside_domain),
        unmodelled=float(found.unmodelled),
        curve=melt.viscosity.log10_viscosity(CURVE_C),
        curve_error=viscosity_error(melt.composition, CURVE_C, melt.far) * melt.doubt,
        reached_c=tuple(
            (line, float(celsius)) for line, celsius in zip(lines, reached, strict=True)
        ),
        expansion_shares=on_basis(expansion_shares(melt.composition.fractions)),
    )


def expansion_by_set(moles: Floats) -> dict[str, Figure | None]:
    """Return the expansion by every set that can be chosen, for comparison [1e-6/K]."""

    def by(name: str) -> Figure | None:
        found: MeltProperties = properties(moles, None, name)
        return _figure(found.expansion, found.expansion_error)

    return {name: by(name) for name in expansion_sets()}


def _figure(value: Floats | None, error: Floats | None) -> Figure | None:
    if value is None or error is None:
        return None
    figure = Figure(float(value), float(error))
    return figure if math.isfinite(figure.value) and math.isfinite(figure.error) else None
