"""The few tiles that would tell most about where a kiln's zones lie."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.learn.features import Features
from core.learn.fit import LearntRules
from core.learn.likelihood import Scatter, as_seen, information, seen_chances, zone_chances
from core.learn.prior import scales
from core.reading.surface import ZONES

Floats = NDArray[np.float64]

_SAMPLES: Final = 256
_GAIN_SAMPLES: Final = 24
"""Draws over which the information that a tile gives is averaged."""
_AT_ONCE: Final = 500
"""Candidates weighed in one go: keeps the memory small."""
_MOST_PLACES: Final = 250
"""Places whose zone is asked about; of more every so many is taken."""


@dataclass(frozen=True, slots=True)
class NextTile:
    """A tile worth firing."""

    candidate: int
    """Its place among the candidates."""
    information: float
    """How much its surface is expected to tell of the zone of a place, on average [bit], once the
    tiles proposed before it are fired."""


def next_tiles(
    learnt: LearntRules, candidates: Features, count: int, places: Features | None = None
) -> tuple[NextTile, ...]:
    """Propose the tiles that would most reduce the doubt about where the zones lie.

    Parameters
    ----------
    learnt : LearntRules
        What is known so far; of no tile at the start.
    candidates : Features
        Tiles that could be made.
    count : int
        How many to propose; fewer where there are fewer candidates.
    places : Features, optional
        Where the zones are wanted; the candidates' own places where None.

    Returns
    -------
    tuple of NextTile
        The best first, no candidate twice, always the same for the same input.

    Raises
    ------
    ValueError
        If count is negative.

    Notes
    -----
    Rules are drawn from the posterior's normal distribution. A tile is worth
    the mutual information of the surface that would be seen on it, mistakes
    included, and of the zone of a place, averaged over the places. After each
    choice the posterior narrows by the information that the tile is expected
    to give, so that the next does not ask the same again.
    """
    if count < 0:
        raise ValueError(f"cannot propose {count} tiles")
    asked = candidates if places is None else places
    asked = asked.part(np.arange(0, len(asked), max(1, -(-len(asked) // _MOST_PLACES))))
    if not len(candidates) or not len(asked):
        return ()
    precision = np.linalg.inv(learnt.covariance)
    drawn = learnt.numbers + _normals() @ np.linalg.cholesky(learnt.covariance).T
    asked_of = drawn[:_GAIN_SAMPLES]
    gains = np.mean(
        [information(seen_chances(candidates, one, learnt.scatter)) for one in asked_of], axis=0
    )
    free = np.ones(len(candidates), bool)
    parts = [
        candidates.part(slice(first, first + _AT_ONCE))
        for first in range(0, len(candidates), _AT_ONCE)
    ]
    chosen: list[NextTile] = []
    for _ in range(min(count, len(candidates))):
        root = np.linalg.cholesky(np.linalg.inv(precision))
        drawn = learnt.numbers + _normals() @ root.T
        each = [told(drawn, part, asked, learnt.scatter) for part in parts]
        worth = np.where(free, np.concatenate(each), -np.inf)
        best = int(worth.argmax())
        chosen.append(NextTile(best, float(worth[best])))
        precision = precision + gains[best]
        free[best] = False
    return tuple(chosen)


def told(drawn: Floats, candidates: Features, places: Features, scatter: Scatter) -> Floats:
    """How much the surface of each candidate tells of the zone of a place, on average.

    Parameters
    ----------
    drawn : ndarray, shape (samples, terms + 3)
        Numbers of the rules, as likely as what is known.
    candidates : Features
        Of n tiles.
    places : Features
    scatter : Scatter

    Returns
    -------
    ndarray, shape (n,)
        Mutual information [bit].
    """
    seen = as_seen(zone_chances(candidates, drawn), scatter)
    zone = zone_chances(places, drawn).argmax(axis=-1)
    is_zone = (zone[..., None] == np.arange(len(ZONES))).astype(float)
    samples, kinds = len(drawn), len(ZONES)
    both = seen.reshape(samples, -1).T @ is_zone.reshape(samples, -1) / samples
    both = both.reshape(len(candidates), kinds * len(places) * kinds)
    # Mutual information is the two entropies less that of both.
    of_seen = _entropy(seen.mean(axis=0))
    of_zones = float(_entropy(is_zone.mean(axis=0).reshape(1, -1))[0]) / len(places)
    return np.asarray(of_seen + of_zones - _entropy(both) / len(places))


def _entropy(chances: Floats) -> Floats:
    """Entropy summed over the last axis [bit]."""
    return np.asarray(-(chances * np.log2(np.maximum(chances, 1e-300))).sum(axis=-1))


@cache
def _normals() -> Floats:
    """Draws of the standard normal in pairs that cancel, shape (samples, numbers)."""
    half = np.random.default_rng(0).standard_normal((_SAMPLES // 2, scales().size))
    return np.concatenate([half, -half])
