"""How likely a tile's surface is under rules, with a share of mistakes, and how that changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.learn.features import SHIFTS, Features
from core.learn.prior import edges_of, scales
from core.reading.surface import ZONES

Floats = NDArray[np.float64]

MISTAKES: Final = 0.08
"""Share of tiles taken to say nothing of the rules: misread, mixed up or badly weighed. Our own
choice. It bounds what one tile can say, so that a wrong one does not rule."""

_LEAST: Final = 1e-12
"""Probabilities below read as this."""

_STEP: Final = float(SHIFTS[1] - SHIFTS[0])


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Probabilities of the surfaces of n tiles as they are seen, mistakes included."""

    seen: Floats
    """Shape (n, 4), in the order of `core.reading.surface.ZONES`."""
    slopes: Floats
    """By the numbers of the rules, shape (n, 4, numbers)."""


def zone_chances(features: Features, numbers: Floats) -> Floats:
    """Probabilities of the zones, before any mistake.

    Parameters
    ----------
    features : Features
        Of n tiles.
    numbers : ndarray, shape (..., terms + 3)
        Of the rules, in units of the prior's sigma.

    Returns
    -------
    ndarray, shape (..., n, 4)
    """
    from scipy.special import ndtr

    moved = numbers * scales()
    score = np.exp(moved[..., :-3]) @ features.contributions.T
    gloss, matte = edges_of(moved[..., -3, None], moved[..., -2, None])
    under = ndtr(-_margins(features, moved[..., -1])[0])
    glossy, dull = _logistic(gloss - score), _logistic(score - matte)
    melted = 1.0 - under
    return np.stack([glossy * melted, (1.0 - glossy - dull) * melted, dull * melted, under], -1)


@dataclass(frozen=True, slots=True)
class Scatter:
    """How tiles scatter about the zones of their kiln."""

    crispness: float
    """Power of the zones' probabilities by which tiles follow them: 1 where each tile has all
    the doubt of the reading to itself, more where tiles of a kiln share it."""
    mistakes: float
    """Share of tiles that show one of the other three surfaces, any alike."""


def as_seen(chances: Floats, scatter: Scatter) -> Floats:
    """Probabilities of what is seen, from those of the zones, both of shape (..., 4)."""
    return _mistaken(_crisp(chances, scatter.crispness), scatter.mistakes)


def _crisp(chances: Floats, power: float) -> Floats:
    raised = np.maximum(chances, _LEAST) ** power
    return np.asarray(raised / raised.sum(axis=-1, keepdims=True))


def _mistaken(chances: Floats, mistakes: float) -> Floats:
    others = mistakes / (len(ZONES) - 1)
    return np.asarray(others + (1.0 - mistakes - others) * chances)


def seen_chances(features: Features, numbers: Floats, scatter: Scatter) -> Chances:
    """Probabilities as seen, with their slopes.

    Parameters
    ----------
    features : Features
        Of n tiles.
    numbers : ndarray, shape (terms + 3,)
        Of the rules, in units of the prior's sigma.
    scatter : Scatter
    """
    from scipy.special import ndtr

    sigma = scales()
    moved = numbers * sigma
    pulls = features.contributions * np.exp(moved[:-3])
    score = pulls.sum(axis=-1)
    gloss, matte = edges_of(moved[-3], moved[-2])
    z, rise = _margins(features, moved[-1])
    under, glossy, dull = ndtr(-z), _logistic(gloss - score), _logistic(score - matte)
    melted = 1.0 - under

    # By the numbers: what the score gains over the edge of gloss, and over that of matte.
    half = 0.5 * (matte - gloss)
    ones = np.ones((len(features), 1))
    over_gloss = np.hstack([pulls, -ones, half * ones]) * sigma[:-1]
    over_matte = np.hstack([pulls, -ones, -half * ones]) * sigma[:-1]
    less_glossy = (melted * glossy * (1.0 - glossy))[:, None] * over_gloss
    more_dull = (melted * dull * (1.0 - dull))[:, None] * over_matte
    less_under = rise * np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi) * sigma[-1]

    slopes = np.empty((len(features), len(ZONES), numbers.size))
    slopes[:, 0, :-1] = -less_glossy
    slopes[:, 1, :-1] = less_glossy - more_dull
    slopes[:, 2, :-1] = more_dull
    slopes[:, 3, :-1] = 0.0
    parts = np.stack([glossy, 1.0 - glossy - dull, dull], axis=-1)
    slopes[:, :3, -1] = parts * less_under[:, None]
    slopes[:, 3, -1] = -less_under
    chances = np.concatenate([parts * melted[:, None], under[:, None]], axis=-1)

    crisp = _crisp(chances, scatter.crispness)
    logs = slopes / np.maximum(chances, _LEAST)[..., None]
    means = (crisp[..., None] * logs).sum(axis=1, keepdims=True)
    kept = 1.0 - scatter.mistakes - scatter.mistakes / (len(ZONES) - 1)
    slopes = kept * scatter.crispness * crisp[..., None] * (logs - means)
    return Chances(_mistaken(crisp, scatter.mistakes), slopes)


def information(found: Chances) -> Floats:
    """Information that each tile is expected to give of the rules (Fisher's).

    Parameters
    ----------
    found : Chances
        Of n tiles.

    Returns
    -------
    ndarray, shape (n, numbers, numbers)
    """
    slopes = found.slopes
    return np.asarray(np.swapaxes(slopes, 1, 2) @ (slopes / found.seen[..., None]))


def _margins(features: Features, shift: Floats) -> tuple[Floats, Floats]:
    """Margins in units of their error with the limit moved, and their rise by it.

    `shift` of shape (...) gives (..., n). A cubic from place to place; straight on beyond.
    """
    table = features.margins
    rises = np.gradient(table, _STEP, axis=1) if len(table) else table
    held = np.minimum(np.maximum(shift, SHIFTS[0]), SHIFTS[-1])
    first = np.minimum(((held - SHIFTS[0]) / _STEP).astype(np.intp), SHIFTS.size - 2)
    t = ((held - SHIFTS[first]) / _STEP)[..., None]
    start, end = table.T[first], table.T[first + 1]
    off, on = _STEP * rises.T[first], _STEP * rises.T[first + 1]
    b, c = 3.0 * (end - start) - 2.0 * off - on, 2.0 * (start - end) + off + on
    rise = (off + t * (2.0 * b + t * 3.0 * c)) / _STEP
    value = start + t * (off + t * (b + t * c)) + rise * (shift - held)[..., None]
    return np.asarray(value), np.asarray(rise)


def _logistic(x: Floats) -> Floats:
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * x)))
