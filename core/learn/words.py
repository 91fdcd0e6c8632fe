"""What learning changed, in plain words."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.learn.prior import edges_of, scales
from core.reading.surface import score_rules, shipped_rules

Floats = NDArray[np.float64]

# Smaller changes are not worth a sentence.
_WEIGHT: Final = 0.1
_EDGE: Final = 0.15
_LIMIT: Final = 0.03


def changes(numbers: Floats, covariance: Floats, tiles: int) -> tuple[str, ...]:
    """Say what the tiles changed, the melting limit first.

    Parameters
    ----------
    numbers : ndarray, shape (terms + 3,)
        Of the rules, as `core.learn.prior` counts them.
    covariance : ndarray, shape (terms + 3, terms + 3)
    tiles : int

    Returns
    -------
    tuple of str
        Sentences; one that says so where nothing changed.
    """
    if not tiles:
        return ("No tile yet: the rules are as shipped.",)
    moved = numbers * scales()
    sigma = scales() * np.sqrt(np.diag(covariance))
    said = [
        *_limit(float(moved[-1]), float(sigma[-1])),
        *_edges(moved[-3], moved[-2]),
        *_weights(moved[:-3], sigma[:-3]),
    ]
    return tuple(said) or ("The tiles agree with the shipped rules: next to nothing changed.",)


def _limit(shift: float, sigma: float) -> list[str]:
    if abs(shift) < _LIMIT:
        return []
    shipped = shipped_rules().melting
    further = 100.0 * np.expm1(abs(shift) / shipped.usual_slope)
    what = "more" if shift > 0 else "less"
    way = "up" if shift > 0 else "down"
    limit = shipped.limit + shift
    return [
        f"This kiln melts {what} than the shipped rules say: the limit of the melt index goes "
        f"{way} from {shipped.limit:.2f} to {limit:.2f} ± {sigma:.2f}, which moves the edge of "
        f"melting about {further:.0f} % {'out' if shift > 0 else 'in'}."
    ]


def _edges(middle: Floats, width: Floats) -> list[str]:
    edges = score_rules().edges
    gloss, matte = (float(edge) for edge in edges_of(middle, width))
    said = []
    if abs(gloss - edges.gloss) >= _EDGE:
        more = "more" if gloss > edges.gloss else "less"
        said.append(
            f"{more.capitalize()} reads as glossy: satin begins at a score of {gloss:+.1f}, "
            f"not {edges.gloss:+.1f}."
        )
    if abs(matte - edges.matte) >= _EDGE:
        more = "more" if matte < edges.matte else "less"
        said.append(
            f"{more.capitalize()} reads as matte: matte begins at a score of {matte:+.1f}, "
            f"not {edges.matte:+.1f}."
        )
    return said


def _weights(logs: Floats, sigma: Floats) -> list[str]:
    terms = list(score_rules().terms.values())
    said = []
    for place in np.argsort(-np.abs(logs), kind="stable"):
        factor = float(np.exp(logs[place]))
        if abs(factor - 1.0) < _WEIGHT:
            continue
        low, high = np.exp(logs[place] + sigma[place] * np.array([-1.0, 1.0]))
        name = terms[place].says
        said.append(
            f"{name[0].upper()}{name[1:]} counts {'more' if factor > 1 else 'less'}: {factor:.2f} "
            f"times as much as shipped (likely {low:.2f} to {high:.2f})."
        )
    return said
