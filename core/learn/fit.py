"""The rules of a kiln and body from its tiles, with the shipped rules as the prior.

The likeliest rules under prior and tiles, found by Fisher's scoring; their
covariance is that of the normal distribution that touches the posterior there.
Three tiles nudge, thirty decide, and without a tile the rules are the shipped
ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.learn.features import Features
from core.learn.likelihood import MISTAKES, Scatter, information, seen_chances, zone_chances
from core.learn.prior import rules_of, scales
from core.learn.words import changes
from core.reading.surface import ZONES, Rules
from core.regions import Zone

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

CRISPNESS: Final[Mapping[float, float]] = {1.0: 0.25, 2.0: 0.5, 4.0: 0.25}
"""How crisply tiles may follow the zones, and how far each is believed beforehand. The doubt of
the reading is mostly that of its models, which the tiles of a kiln share; how much is left to
each tile alone is for the tiles to say. Our own choice."""

SPREAD: Final[Mapping[float, float]] = {0.25: 0.7, 1.0: 0.3}
"""Of the prior, in its own sigmas, and how far each is believed beforehand: a kiln that is nearly
as shipped, or one of its own. The tiles say which; few tiles say little. Our own choice: so that
a kiln that is just as shipped loses little by learning."""

_MOST_STEPS: Final = 200
_STILL: Final = 1e-7
"""A step this short, in sigmas of the prior, ends the search."""


@dataclass(frozen=True, slots=True, eq=False)
class LearntRules:
    """What the tiles of one kiln and body teach, and how well it holds."""

    whose: str
    """Kiln and body, in words."""
    rules: Rules
    """For `zone_field` and `read_surface`: terms, edges and melting limit."""
    tiles: int
    says: tuple[str, ...]
    """What changed, in plain words, one sentence each; never empty."""
    right: float | None
    """Share of tiles whose surface the rules foretold that were learnt from all other tiles; None
    without tiles."""
    right_as_shipped: float | None
    """Share of the same tiles that the shipped rules foretold."""
    numbers: Floats
    """Of the rules, as `core.learn.prior` counts them, shape (terms + 3,)."""
    covariance: Floats
    """Of the numbers, shape (terms + 3, terms + 3)."""
    scatter: Scatter
    """How far the tiles scatter about the zones."""

    def limit(self) -> tuple[float, float]:
        """Return the melting limit and its error [log10 Pa·s]."""
        sigma = float(scales()[-1] * np.sqrt(self.covariance[-1, -1]))
        return self.rules.melting.limit, sigma


def learn(
    features: Features, seen: Sequence[Zone], whose: str = "", mistakes: float = MISTAKES
) -> LearntRules:
    """Learn the rules of a kiln and body from its tiles.

    Parameters
    ----------
    features : Features
        Of n tiles, of one map or of many.
    seen : sequence of Zone
        Their surfaces, n of them; a matte is a matte, silky or dry, and what did
        not melt is underfired.
    whose : str
        Kiln and body, for the words.
    mistakes : float
        Share of tiles taken for wrong, above 0 and at most 0.5.

    Returns
    -------
    LearntRules
        The same to the last bit for the same tiles in the same order.

    Raises
    ------
    ValueError
        If the counts differ, or the share of mistakes is out of range.
    """
    if len(features) != len(seen):
        raise ValueError(f"{len(features)} tiles, but {len(seen)} surfaces")
    if not 0.0 < mistakes <= 0.5:
        raise ValueError(f"share of mistakes must be above 0 and at most 0.5: {mistakes}")
    zones = np.array([ZONES.index(zone) for zone in seen], np.intp)
    fits = fits_of(features, zones, mistakes)
    numbers, covariance, scatter = averaged(fits)
    for array in (numbers, covariance):
        array.setflags(write=False)
    tiles = len(seen)
    source = f"learnt from {tiles} tile{'' if tiles == 1 else 's'}"
    right = right_as_shipped = None
    if tiles:
        right = float((left_out(features, zones, fits).argmax(axis=-1) == zones).mean())
        shipped = zone_chances(features, np.zeros_like(numbers))
        right_as_shipped = float((shipped.argmax(axis=-1) == zones).mean())
    return LearntRules(
        whose=whose,
        rules=rules_of(numbers, f"{source} of {whose}" if whose else source),
        tiles=tiles,
        says=changes(numbers, covariance, tiles),
        right=right,
        right_as_shipped=right_as_shipped,
        numbers=numbers,
        covariance=covariance,
        scatter=scatter,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The likeliest rules for one scatter of the tiles and one spread of the prior."""

    numbers: Floats
    covariance: Floats
    scatter: Scatter
    evidence: float
    """Logarithm of how likely the tiles are under scatter and spread, by Laplace's method, and of
    how far the two were believed beforehand; but for a constant."""


def fits_of(features: Features, zones: Indices, mistakes: float) -> list[Fit]:
    """Fit the rules for every scatter and spread that is thought possible.

    Parameters
    ----------
    features : Features
        Of n tiles.
    zones : ndarray of int, shape (n,)
        Places of what was seen in `ZONES`.
    mistakes : float
    """
    fits = []
    cases = product(CRISPNESS.items(), SPREAD.items())
    for (crispness, crisp_belief), (spread, spread_belief) in cases:
        scatter = Scatter(crispness, mistakes)
        numbers = likeliest(features, zones, scatter, spread)
        found = seen_chances(features, numbers, scatter)
        prior = np.eye(numbers.size) / spread**2
        precision = prior + information(found).sum(axis=0)
        worth = _worth(found.seen[np.arange(len(zones)), zones], numbers, spread)
        # Against the prior's own, so that without tiles no spread gains by being narrow.
        narrowed = float(np.linalg.slogdet(precision)[1] - np.linalg.slogdet(prior)[1])
        evidence = worth - 0.5 * narrowed + float(np.log(crisp_belief * spread_belief))
        fits.append(Fit(numbers, np.linalg.inv(precision), scatter, evidence))
    return fits


def averaged(fits: Sequence[Fit]) -> tuple[Floats, Floats, Scatter]:
    """Average fits by their evidence: numbers, their covariance, and the likeliest scatter."""
    evidence = np.array([fit.evidence for fit in fits])
    shares = np.exp(evidence - evidence.max())
    shares /= shares.sum()
    numbers = shares @ np.stack([fit.numbers for fit in fits])
    covariance = np.zeros((numbers.size, numbers.size))
    for share, fit in zip(shares, fits, strict=True):
        away = fit.numbers - numbers
        covariance += share * (fit.covariance + np.outer(away, away))
    return numbers, covariance, fits[int(shares.argmax())].scatter


def likeliest(features: Features, zones: Indices, scatter: Scatter, spread: float) -> Floats:
    """Numbers of the likeliest rules under the prior and the tiles.

    Parameters
    ----------
    features : Features
        Of n tiles.
    zones : ndarray of int, shape (n,)
        Places of what was seen in `ZONES`.
    scatter : Scatter
    spread : float
        Of the prior, in its own sigmas.

    Returns
    -------
    ndarray, shape (terms + 3,)
        0 without tiles. The top that is reached from the shipped rules: with
        mistakes there may be another.
    """
    numbers = np.zeros(scales().size)
    if not len(features):
        return numbers
    line = np.arange(len(zones))
    found = seen_chances(features, numbers, scatter)
    worth = _worth(found.seen[line, zones], numbers, spread)
    for _ in range(_MOST_STEPS):
        pulls = found.slopes[line, zones] / found.seen[line, zones, None]
        pull = pulls.sum(axis=0) - numbers / spread**2
        bend = np.eye(numbers.size) / spread**2 + information(found).sum(axis=0)
        step = np.linalg.solve(bend, pull)
        gain = float(step @ pull)
        for _halving in range(30):
            tried = seen_chances(features, numbers + step, scatter)
            better = _worth(tried.seen[line, zones], numbers + step, spread)
            if better >= worth + 1e-4 * gain:
                break
            step, gain = 0.5 * step, 0.5 * gain
        else:
            return numbers  # no way is up, to the last bits
        numbers, found, worth = numbers + step, tried, better
        if np.abs(step).max() < _STILL:
            break
    return numbers


def _worth(seen: Floats, numbers: Floats, spread: float) -> float:
    """Logarithm of the posterior, but for a constant."""
    return float(np.log(seen).sum() - 0.5 * (numbers @ numbers) / spread**2)


def left_out(features: Features, zones: Indices, fits: Sequence[Fit]) -> Floats:
    """Probabilities of the zones of each tile by what all other tiles teach.

    Parameters
    ----------
    features : Features
        Of n tiles.
    zones : ndarray of int, shape (n,)
        Places of what was seen in `ZONES`.
    fits : sequence of Fit
        Of all n tiles.

    Returns
    -------
    ndarray, shape (n, 4)

    Notes
    -----
    One step of the search away from the fits of all tiles, rather than n
    searches: hundreds of tiles are then left out in a moment.
    """
    line = np.arange(len(zones))
    numbers, evidence = [], []
    for fit in fits:
        found = seen_chances(features, fit.numbers, fit.scatter)
        seen = found.seen[line, zones]
        pulls = found.slopes[line, zones] / seen[:, None]
        precision = np.linalg.inv(fit.covariance)
        bends = precision - information(found)
        steps = np.linalg.solve(bends, pulls[..., None])[..., 0]
        numbers.append(fit.numbers - steps)
        loosened = np.linalg.slogdet(precision)[1] - np.linalg.slogdet(bends)[1]
        regained = -np.log(seen) + 0.5 * (steps * pulls).sum(axis=-1)
        evidence.append(fit.evidence + regained + 0.5 * loosened)
    shares = np.exp(np.array(evidence) - np.max(evidence, axis=0))
    shares /= shares.sum(axis=0)
    others = (shares[..., None] * np.array(numbers)).sum(axis=0)
    return np.stack([zone_chances(features.part([i]), others[i])[0] for i in line])
