"""What is believed of a kiln's rules before its first tile, and rules from numbers and back.

The rules are moved along numbers that are 0 for the shipped rules and whose
prior is the standard normal distribution, each by itself:

- for every term of the score the logarithm of its weight over the shipped
  weight, so that a term never turns round: no tile makes magnesia a gloss;
- the middle of the two edges, which every shift of the score comes to, be it
  of the ratio's middle or of the potter's eye for satin;
- the logarithm of the width of satin;
- the melting limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from core.reading.melting import MeltingRules
from core.reading.surface import Rules, ScoreRules, score_rules, shipped_rules
from core.schema import Number

Floats = NDArray[np.float64]

# A weight set by hand is believed within a factor of 1.65, where the models or trade
# rules that agree with each other stand behind it within 1.4: our own choice.
_WEIGHT_SIGMA: Final[Mapping[str, float]] = {
    "practice": 0.50,
    "memory": 0.50,
    "mixed": 0.35,
    "computed": 0.35,
    "published": 0.35,
}

MIDDLE_SIGMA: Final = 0.8
"""Of the middle of the edges. The ratio at which trade rules put satin runs from 4.5 to 5.5
about the middle of 5, which its weight of 8 makes 0.8 either way."""

WIDTH_SIGMA: Final = 0.4
"""Of the logarithm of satin's width: within a factor of 1.5. Our own choice: satin is a word."""

LIMIT_SIGMA: Final = 0.25
"""Of the melting limit [log10 Pa·s]: the shipped error of 0.15, and 0.2 for a kiln that is one
cone, about 25 °C, off what it says (54 °C make a factor of e in viscosity), as two errors."""


def scales() -> Floats:
    """Return one sigma of each number of the rules, shape (terms + 3,)."""
    weights = [_WEIGHT_SIGMA[term.confidence] for term in score_rules().terms.values()]
    return np.array([*weights, MIDDLE_SIGMA, WIDTH_SIGMA, LIMIT_SIGMA])


def edges_of(middle: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Scores where gloss ends and matte begins, from the moved middle and the logarithm of width.

    Parameters
    ----------
    middle, width : ndarray, shape (...)

    Returns
    -------
    ndarray, ndarray, shape (...)
    """
    edges = score_rules().edges
    centre = 0.5 * (edges.gloss + edges.matte) + middle
    half = 0.5 * (edges.matte - edges.gloss) * np.exp(width)
    return np.asarray(centre - half), np.asarray(centre + half)


def rules_of(numbers: Floats, source: str) -> Rules:
    """Return the rules that the numbers stand for.

    Parameters
    ----------
    numbers : ndarray, shape (terms + 3,)
        In units of their prior's sigma.
    source : str
        Where the numbers come from, for whatever shows a source.

    Returns
    -------
    Rules
        The shipped ones themselves where every number is 0.
    """
    shipped = shipped_rules()
    if not numbers.any():
        return shipped
    moved = numbers * scales()
    terms = {}
    for term, factor in zip(shipped.score.terms.values(), np.exp(moved[:-3]), strict=True):
        terms[term.id] = msgspec.structs.replace(
            term,
            weight=Number(term.weight * factor),
            # The whole term grows, its ends as well: the score stays a weighted sum.
            cap=Number(term.cap * factor),
            source=f"{source}; as shipped: {term.source}",
        )
    gloss, matte = edges_of(moved[-3], moved[-2])
    edges = msgspec.structs.replace(
        shipped.score.edges, gloss=Number(gloss), matte=Number(matte), source=source
    )
    melting: MeltingRules = replace(
        shipped.melting,
        limit=shipped.melting.limit + float(moved[-1]),
        source=f"{source}; as shipped: {shipped.melting.source}",
    )
    return Rules(ScoreRules(terms, edges), melting)
