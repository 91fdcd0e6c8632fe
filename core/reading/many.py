"""Many different compositions read at one go, for searches that weigh a whole cloud of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.firing import FiringSheet
from core.firing.curve import FiringCurve
from core.formula import flux_sum
from core.melt.composition import Modelled
from core.melt.crystal_window import growth_rules
from core.melt.viscosity import ViscosityCurve
from core.oxides import INDEX, OXIDES, Convention
from core.reading.basis import _ALUMINA, _LEAST_FLUX, _SILICA, Basis, Heat, heat_of
from core.reading.margin import (
    _ABOUT,
    _LOG_RADII,
    _LOG_STEP,
    _RAYS,
    _STRETCH,
    _TURN,
    LEAST_PERCENT,
    Margin,
    _along,
    _margin,
    _passes,
    _search,
)
from core.reading.melting import MeltingRules, Melts, melts_of
from core.reading.surface import (
    ZONES,
    Rules,
    _bent,
    _cooled,
    _filled,
    _ratio,
    probabilities,
    shipped_rules,
)
from core.regions import Zone

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

_AT_A_TIME: Final = 512
"""Rows; what they need at once stays within a few megabytes."""
_EVERY: Final = 4
"""Radii between two that are looked at before it is known where melting gives out."""
_SPARE: Final = 0.5
"""Radii by which the first look may miss it."""
_CLEAR: Final = 0.1
_TIMES: Final = 3.0
"""Where nobody looked, the index counts as this much lower [log10 Pa·s], and so many times what
straight lines missed where somebody did."""
_LOOKS: Final = 4


def judge_of(
    heat: FiringSheet | FiringCurve,
    convention: Convention | None = None,
    rules: Rules | None = None,
) -> Callable[[Floats], tuple[Floats, Floats]]:
    """Return what reads many compositions in one firing.

    Parameters
    ----------
    heat : FiringSheet or FiringCurve
        Of a sheet, what the recipe's shelf feels.
    convention : Convention, optional
        Which oxides sum to one.
    rules : Rules, optional
        As shipped when left out.

    Returns
    -------
    callable
        From moles in the order of `core.oxides.OXIDES`, shape (n, 25), in any
        unit, to the probabilities in the order of `core.reading.surface.ZONES`,
        shape (n, 4), and the melt margin, shape (n,) [%].

    Notes
    -----
    Each row is what `core.reading.surface.read_surface` gives. Where that
    gives nothing, without flux or without silica, there is no glaze: such a
    row counts as underfired with certainty, its margin as the least that is
    reported, -90 %.
    """
    felt = heat_of(heat.felt if isinstance(heat, FiringSheet) else heat)
    known = rules or shipped_rules()

    def judge(moles: Floats) -> tuple[Floats, Floats]:
        rows = np.asarray(moles, float)
        if rows.ndim != 2 or rows.shape[1] != len(OXIDES):
            raise ValueError(f"moles must have the shape (n, {len(OXIDES)}), not {rows.shape}")
        chances, percent = np.empty((len(rows), len(ZONES))), np.empty(len(rows))
        for start in range(0, len(rows), _AT_A_TIME):
            part = slice(start, start + _AT_A_TIME)
            chances[part], percent[part] = _judged(rows[part], felt, convention, known)
        return chances, percent

    return judge


def _judged(
    moles: Floats, heat: Heat, convention: Convention | None, rules: Rules
) -> tuple[Floats, Floats]:
    amounts = np.fmax(moles, 0.0)
    fluxes = np.asarray(flux_sum(amounts, convention))
    sound = (fluxes > 0) & (fluxes > _LEAST_FLUX * amounts.sum(axis=1))
    unity = amounts / np.where(sound, fluxes, 1.0)[:, None]
    sound &= np.isfinite(unity).all(axis=1) & (unity[:, _SILICA] > 0)
    chances = np.zeros((len(moles), len(ZONES)))
    chances[:, ZONES.index(Zone.UNDERFIRED)] = 1.0
    percent = np.full(len(moles), LEAST_PERCENT)
    if sound.any():
        chances[sound], percent[sound] = _read(unity[sound], heat, rules)
    return chances, percent


def _read(unity: Floats, heat: Heat, rules: Rules) -> tuple[Floats, Floats]:
    """Probabilities and margins of unity formulas, shape (n, 25)."""
    silica, alumina = unity[:, _SILICA], unity[:, _ALUMINA]
    shares = unity.copy()
    shares[:, [_SILICA, _ALUMINA]] = 0.0
    margin = _margins(shares, silica, alumina, heat, rules.melting)
    score = _score(melts_of(unity, heat), shares, silica, alumina, heat, rules)
    return probabilities(score, margin.z, rules.score.edges), margin.percent


def _margins(
    shares: Floats, silica: Floats, alumina: Floats, heat: Heat, rules: MeltingRules
) -> Margin:
    """Melt margins as `core.reading.margin.melts_and_margin` finds them, each on its own basis."""
    across, up = np.maximum(silica, 0.0), _STRETCH * np.maximum(alumina, 0.0)
    place = np.arctan2(up, across) / _TURN
    ray = np.minimum(place.astype(np.intp), _RAYS - 1)
    part = place - ray
    # All lower rays first, then all upper ones.
    rays = np.concatenate([ray, ray + 1])
    limit, error = _limits(np.concatenate([shares, shares]), rays, heat, rules)
    n = len(shares)
    log_limit = limit[:n] + part * (limit[n:] - limit[:n])
    log_error = error[:n] + part * (error[n:] - error[:n])
    return _margin(log_limit - np.log(np.maximum(np.hypot(across, up), 1e-9)), log_error)


def _limits(shares: Floats, ray: Places, heat: Heat, rules: MeltingRules) -> tuple[Floats, Floats]:
    """Logarithm of the radius where melting gives out and its error, for rays of many bases.

    A first look at few radii of the lower rays tells about where. Then every
    radius is looked at that decides about the limit, or that might lie low
    enough to do so, until none is left.
    """
    lines, radii = len(ray), _LOG_RADII.size
    index, liquidus = np.empty((lines, radii)), np.empty((lines, radii))
    seen = np.zeros((lines, radii), bool)

    def look(where: Flags) -> None:
        line, radius = np.nonzero(where)
        moles = shares[line]
        moles[:, _SILICA], moles[:, _ALUMINA] = _along(ray[line], _LOG_RADII[radius])
        melts = melts_of(moles, heat)
        index[where], liquidus[where] = melts.index, melts.liquidus_c
        seen[where] = True

    half, first = lines // 2, np.zeros((lines, radii), bool)
    first[:half, ::_EVERY] = True
    look(first)
    for found in (index, liquidus):
        found[:half] = _between(found[:half, ::_EVERY])
        found[half:] = found[:half]
    drawn = index.copy()
    limit, error = np.empty(lines), np.empty(lines)
    limit[:] = _passes(_rising(index, rules), rules.limit, rules.usual_slope)
    wanted = _around(limit, _SPARE) & ~seen
    open_ = np.arange(lines)
    for last in range(_LOOKS):
        look(wanted)
        part = _melts(index[open_], liquidus[open_], heat)
        limit[open_], error[open_] = _search(_bases(shares[open_], heat), ray[open_], part, rules)
        wanted = _deciding(index, drawn, seen, limit, rules) & ~seen
        open_ = np.flatnonzero(wanted.any(axis=1))
        if not open_.size:
            break
        if last == _LOOKS - 2:
            wanted[open_] = ~seen[open_]
    return limit, error


def _between(few: Floats) -> Floats:
    """Draw straight lines between every so many-th radius, shape (n, radii)."""
    part = np.arange(_EVERY) / _EVERY
    inner = few[:, :-1, None] + part * np.diff(few, axis=1)[:, :, None]
    return np.concatenate([inner.reshape(len(few), -1), few[:, -1:]], axis=1)


def _rising(index: Floats, rules: MeltingRules) -> Floats:
    """Make lines rise all the way, as `core.reading.margin` does."""
    tilt = rules.least_slope * _LOG_RADII
    return np.asarray(np.minimum.accumulate((index - tilt)[:, ::-1], axis=1)[:, ::-1] + tilt)


def _around(limit: Floats, spare: float = 0.0) -> Flags:
    """Radii that the limit and the slope about it are read from, shape (lines, radii)."""
    radius, last = np.arange(_LOG_RADII.size), _LOG_RADII.size - 1
    place = ((limit - _LOG_RADII[0]) / _LOG_STEP)[:, None]
    reach = _ABOUT / _LOG_STEP + spare
    low, high = np.clip(place - reach, 0, last), np.clip(place + reach, 0, last)
    return np.asarray((radius >= np.floor(low)) & (radius <= np.ceil(high)))


def _deciding(
    index: Floats, drawn: Floats, seen: Flags, limit: Floats, rules: MeltingRules
) -> Flags:
    """Radii about the limit, and those further out that may press the rising line down there.

    How far the `drawn` index was from what was then seen tells how far it may
    be where nobody looked.
    """
    about = _around(limit)
    tilted = index - rules.least_slope * _LOG_RADII
    most = np.where(about, tilted, -np.inf).max(axis=1)
    missed = np.where(seen, np.abs(index - drawn), 0.0).max(axis=1)
    further = np.cumsum(about, axis=1) == about.sum(axis=1)[:, None]
    low = tilted <= (most + _CLEAR + _TIMES * missed)[:, None]
    return np.asarray(about | (further & low))


def _bases(shares: Floats, heat: Heat) -> Basis:
    """Bases of many lines in one: `Basis.moles` gives each line its own shares."""
    return Basis(shares, heat, "", (b"", b""))


def _melts(index: Floats, liquidus: Floats, heat: Heat) -> Melts:
    """Melts of which the index and the liquidus alone are told."""
    none = np.empty(0)
    return Melts(ViscosityCurve(none, none, none), liquidus, index, Modelled(none, none), heat)


def _score(
    melts: Melts, shares: Floats, silica: Floats, alumina: Floats, heat: Heat, rules: Rules
) -> Floats:
    """Sum of the terms toward matte as `core.reading.surface.surfaces` adds them, shape (n,)."""
    lag, stiff = growth_rules()["lag"], growth_rules()["stiff"]
    low = melts.viscosity.temperature_at(float(stiff.value))
    values = {
        "ratio": np.log(_ratio(silica, alumina)),
        "viscosity": melts.log10_viscosity_at_peak(),
        "liquidus": melts.liquidus_c - heat.peak_c,
        "cooling": heat.hours_between(melts.liquidus_c - float(lag.value), low),
    }
    score, ready = np.zeros(len(shares)), np.zeros(len(shares))
    terms = rules.score.terms.values()
    for term in terms:
        if term.form == "step":
            filled = _filled(term, shares[:, INDEX[term.of]], alumina)
            ready = np.maximum(ready, filled)
            score += term.weight * filled
        elif term.form == "bend":
            score += _bent(term, values[term.id])
    for term in terms:
        if term.form == "cooling":
            score += _cooled(term, values[term.id], ready)
    return score
