"""The melt margin: how far a glaze could move outward before melting gives out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import from_basis
from core.melt.domain import distance
from core.reading.basis import Basis
from core.reading.melting import MeltingRules, Melts, index_error, melting_rules, melts_of

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_PERCENT: Final = -90.0
MOST_PERCENT: Final = 300.0
_LEAST_LOG: Final = float(np.log1p(LEAST_PERCENT / 100.0))
_MOST_LOG: Final = float(np.log1p(MOST_PERCENT / 100.0))

# Rays are numbered by angle. Alumina is stretched so that ratios of 2 to 15,
# where glazes lie, take up most of the quarter turn.
_STRETCH: Final = 5.0
_RAYS: Final = 64
"""Intervals between rays."""
_TURN: Final = 0.5 * np.pi / _RAYS
_LOG_RADII: Final = np.linspace(np.log(0.6), np.log(50.0), 33)
_LOG_STEP: Final = float(_LOG_RADII[1] - _LOG_RADII[0])
_ABOUT: Final = 0.3
"""The slope is taken over so much of the logarithm to either side: local ripples say nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Margin:
    """How far points could move outward before melting gives out; arrays of shape (...)."""

    percent: Floats
    """The melt margin [%], kept within -90 to 300; negative where the point is underfired."""
    error_percent: Floats
    """One sigma of it [%]: the same share of the radius, at the margin that is reported."""
    clamped: Flags
    """Whether the margin lies beyond what is reported."""
    z: Floats
    """Reported margin in units of its error: ln(1 + percent / 100) × (100 + percent) / error."""


def _margin(log_room: Floats, log_error: Floats) -> Margin:
    """From the logarithm of the limit over the point's own radius, and its error."""
    held = np.minimum(np.maximum(log_room, _LEAST_LOG), _MOST_LOG)
    whole = np.exp(held)
    return Margin(
        100.0 * (whole - 1.0), 100.0 * whole * log_error, held != log_room, held / log_error
    )


def melt_margin(basis: Basis, silica: ArrayLike, alumina: ArrayLike) -> Margin:
    """Melt margin of points of the map; see `melts_and_margin`."""
    return melts_and_margin(basis, silica, alumina)[1]


def melts_and_margin(
    basis: Basis, silica: ArrayLike, alumina: ArrayLike, rules: MeltingRules | None = None
) -> tuple[Melts, Margin]:
    """Melts at points of the map and their melt margin.

    Along a ray from the origin silica and alumina grow alike while the fluxes
    and all else stay. Melting gives out at the outermost radius where the
    index passes its limit: further in, a liquidus above the peak means
    crystals of a saturated flux, which is no underfiring. As the limit belongs
    to the ray, more of the same flux always raises the margin.

    Parameters
    ----------
    basis : Basis
    silica, alumina : array_like
        Unity formula; they broadcast to (...).
    rules : MeltingRules, optional
        Where melting gives out; as shipped where None. The index itself goes by
        the shipped figures.

    Returns
    -------
    Melts, Margin
        Of shape (...). Between rays, at most 1.4° of the stretched map apart,
        the limit is interpolated in a straight line.
    """
    x, y = np.broadcast_arrays(np.asarray(silica, float), np.asarray(alumina, float))
    across, up = np.maximum(x, 0.0), _STRETCH * np.maximum(y, 0.0)
    place = np.arctan2(up, across) / _TURN
    ray = np.minimum(place.astype(np.intp), _RAYS - 1)
    part = place - ray
    rules = rules or melting_rules()
    limit, error = _found(basis, rules.limit, rules.limit_error)
    wanted = np.zeros(_RAYS + 1, bool)
    wanted[ray] = wanted[ray + 1] = True
    missing = np.flatnonzero(wanted & np.isnan(error))
    points = basis.moles(x, y)
    if missing.size:
        # One call of the models for the rays and the points: each call costs more than its rows.
        rays = basis.moles(*_along(missing[:, None], _LOG_RADII))
        rows, width = missing.size * _LOG_RADII.size, points.shape[-1]
        stacked = np.concatenate([rays.reshape(-1, width), points.reshape(-1, width)])
        both = melts_of(stacked, basis.heat)
        found = _search(basis, missing, both.part(slice(0, rows), rays.shape[:-1]), rules)
        limit[missing], error[missing] = found
        melts = both.part(slice(rows, None), x.shape)
    else:
        melts = melts_of(points, basis.heat)
    log_limit = limit[ray] + part * (limit[ray + 1] - limit[ray])
    log_error = error[ray] + part * (error[ray + 1] - error[ray])
    return melts, _margin(log_limit - np.log(np.maximum(np.hypot(across, up), 1e-9)), log_error)


def _along(ray: NDArray[np.intp], log_radius: Floats) -> tuple[Floats, Floats]:
    """Silica and alumina at radii of the stretched map, on rays."""
    angle, radius = _TURN * ray, np.exp(log_radius)
    return radius * np.cos(angle), radius * np.sin(angle) / _STRETCH


@lru_cache(maxsize=8)
def _found(basis: Basis, limit: float, limit_error: float) -> tuple[Floats, Floats]:
    """Radii and errors of the rays of a basis so far; NaN where none was asked for.

    Kept so that hovering over a map costs no more than the point.
    """
    return np.full(_RAYS + 1, np.nan), np.full(_RAYS + 1, np.nan)


def forget() -> None:
    """Drop the limits that were found so far, so that a benchmark starts anew."""
    _found.cache_clear()


def _search(
    basis: Basis, ray: NDArray[np.intp], melts: Melts, rules: MeltingRules
) -> tuple[Floats, Floats]:
    """Logarithm of the radius where melting gives out, and its error, of shape (n,).

    `melts` are those along the rays, shape (n, radii).
    """
    # The outermost crossing, of an index that rises at least a little all the way.
    tilted = melts.index - rules.least_slope * _LOG_RADII
    rising = np.minimum.accumulate(tilted[:, ::-1], axis=1)[:, ::-1]
    rising = rising + rules.least_slope * _LOG_RADII
    limit = _passes(rising, rules.limit, rules.usual_slope)
    over, under = _read(rising, np.array([limit + _ABOUT, limit - _ABOUT]), rules.usual_slope)
    slope = (over - under) / (2.0 * _ABOUT)
    held = np.minimum(np.maximum(limit, _LOG_RADII[0]), _LOG_RADII[-1])
    there = from_basis(basis.moles(*_along(ray, held)))
    liquidus = _read(melts.liquidus_c, held, 0.0)
    error = index_error(there, liquidus, distance(there), basis.heat)
    return limit, np.hypot(error, rules.limit_error) / slope


def _passes(rows: Floats, value: float, slope: float) -> Floats:
    """Logarithm of the radius where each rising row passes a value; straight on beyond its ends."""
    first = np.minimum(np.maximum((rows <= value).sum(axis=1) - 1, 0), rows.shape[1] - 2)
    line = np.arange(len(rows))
    start, end = rows[line, first], rows[line, first + 1]
    inner = _LOG_RADII[first] + _LOG_STEP * (value - start) / (end - start)
    before = _LOG_RADII[0] + (value - rows[:, 0]) / slope
    after = _LOG_RADII[-1] + (value - rows[:, -1]) / slope
    found = np.where(value > rows[:, -1], after, inner)
    return np.asarray(np.where(value < rows[:, 0], before, found))


def _read(rows: Floats, at: Floats, slope: float) -> Floats:
    """Value of n rows at places of shape (..., n); straight on with a slope beyond their ends."""
    held = np.minimum(np.maximum(at, _LOG_RADII[0]), _LOG_RADII[-1])
    place = (held - _LOG_RADII[0]) / _LOG_STEP
    first = np.minimum(place.astype(np.intp), rows.shape[1] - 2)
    line = np.arange(len(rows))
    start, end = rows[line, first], rows[line, first + 1]
    return np.asarray(start + (place - first) * (end - start) + slope * (at - held))
