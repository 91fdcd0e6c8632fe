"""Robust choice: how much of a recipe's uncertainty stays where it is wanted.

The reading is handed in, so that this file knows no chemistry of the melt.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.evaluate import batch_amounts
from core.recipe import Recipe, Section, total
from core.solve.shelf import found
from core.studio import Studio
from core.uncertainty import DRAWS, drawn

Floats = NDArray[np.float64]
Judge = Callable[[Floats], tuple[Floats, Floats]]
"""Moles of the oxides, shape (n, 25), to the probabilities of the surfaces, shape (n, 4), and
the melt margin, shape (n,) [%]."""

_SCREEN: Final = 4
"""While looking about, every so many-th draw will do."""
_MOST_ROUNDS: Final = 12
_SMALLEST_STEP: Final = 0.1
_BETTER: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Robustness:
    """What becomes of a recipe within the tolerances of its analyses and weights."""

    kept: float
    """Share of the draws whose likeliest surface is wanted and whose melt margin is above zero."""
    likely: float
    """Mean probability of the wanted surfaces, draws without a melt margin counting nothing."""
    melted: float
    """Share of the draws with a melt margin above zero."""

    def better_than(self, other: Robustness) -> bool:
        """Whether it keeps more, or as much with greater likelihood."""
        if abs(self.kept - other.kept) > _BETTER:
            return self.kept > other.kept
        return self.likely > other.likely + _BETTER


@dataclass(frozen=True, eq=False, slots=True)
class Steadiest:
    """The neighbouring recipe that is least likely to go wrong."""

    recipe: Recipe
    """The one given, where no neighbour is better."""
    robustness: Robustness
    start: Robustness
    """Of the recipe that was given."""
    distance: float
    """Parts of 100 that changed places."""
    tried: int
    """How many recipes were judged."""


def robustness(recipe: Recipe, studio: Studio, judge: Judge, wanted: Sequence[int]) -> Robustness:
    """Judge a recipe as it may really turn out.

    Parameters
    ----------
    recipe : Recipe
    studio : Studio
        Its scale and test batch give the error of the weights.
    judge : callable
        See `Judge`.
    wanted : sequence of int
        Columns of the probabilities that are wanted.

    Raises
    ------
    InputError
        If a material is not in the tables, or nothing is weighed.
    """
    cloud = _Cloud(recipe, studio)
    return cloud.judged(cloud.base[None], judge, wanted)[0]


def steadiest(
    recipe: Recipe,
    studio: Studio,
    judge: Judge,
    wanted: Sequence[int],
    distance: float = 5.0,
    forbidden: Sequence[str] = (),
) -> Steadiest:
    """Look for the neighbour that keeps the most of its cloud where it is wanted.

    A pattern search: parts change places between two rows at a time, in steps
    that halve when none helps. The draws are the same for every recipe, so
    two differ by their parts alone. It finds the best it meets, not proof
    that there is none better. Takes seconds: run it beside the window.

    Parameters
    ----------
    recipe, studio, judge, wanted
        As for `robustness`.
    distance : float
        Parts of 100 that may change places in all.
    forbidden : sequence of ids
        Rows that stay, beside the locked ones.

    Raises
    ------
    InputError
        As for `robustness`, or if the distance is not above zero.
    """
    if not (np.isfinite(distance) and 0 < distance <= 100):
        raise InputError(f"{distance:g} is no distance", "give parts, 0 to 100")
    cloud = _Cloud(recipe, studio)
    free = [
        i
        for i, row in enumerate(recipe.base)
        if row.amount > 0 and not row.locked and row.material not in forbidden
    ]
    here = cloud.base
    start = cloud.judged(here[None], judge, wanted)[0]
    now = cloud.judged(here[None], judge, wanted, _SCREEN)[0]
    step, tried = distance / 2.0, 1
    for _ in range(_MOST_ROUNDS):
        if step < _SMALLEST_STEP or len(free) < 2:
            break
        moves = []
        for giver, taker in permutations(free, 2):
            moved = here.copy()
            moved[giver] -= step
            moved[taker] += step
            near = np.abs(moved - cloud.base).sum() / 2.0 <= distance + 1e-9
            if moved[giver] > 0 and near:
                moves.append(moved)
        if not moves:
            step /= 2.0
            continue
        tried += len(moves)
        found_ = cloud.judged(np.array(moves), judge, wanted, _SCREEN)
        best = max(range(len(moves)), key=lambda i: (found_[i].kept, found_[i].likely))
        if found_[best].better_than(now):
            here, now = moves[best], found_[best]
        else:
            step /= 2.0
    final = cloud.judged(here[None], judge, wanted)[0]
    if not final.better_than(start):
        return Steadiest(recipe, start, start, 0.0, tried)
    parts = here * total(recipe.base) / 100.0
    rows = tuple(
        replace(row, amount=round(float(part), 9))
        for row, part in zip(recipe.base, parts, strict=True)
    )
    moved_parts = float(np.abs(here - cloud.base).sum() / 2.0)
    after = recipe.with_rows(Section.BASE, rows)
    return Steadiest(after, final, start, moved_parts, tried)


class _Cloud:
    """The draws of a recipe's materials, for any amounts of them."""

    def __init__(self, recipe: Recipe, studio: Studio) -> None:
        base_total = total(recipe.base)
        if base_total <= 0:
            raise InputError("nothing is weighed yet", "give a row some parts first")
        amounts = batch_amounts(recipe)
        materials = [found(recipe, studio, i) for i, _ in amounts]
        percent = np.array([w for _, w in amounts]) * 100.0 / base_total
        self.base = percent[: len(recipe.base)]
        self._additions = percent[len(recipe.base) :]
        analyses, errors = drawn(materials)
        self._analyses = analyses
        half = float(studio.scale.readout_g) / 2.0 * 100.0 / studio.test_batch_g
        self._errors = half * errors

    def judged(
        self, bases: Floats, judge: Judge, wanted: Sequence[int], every: int = 1
    ) -> list[Robustness]:
        """Judge several bases, shape (m, rows), in parts of 100."""
        draws = slice(None, None, every)
        count = len(range(0, DRAWS, every))
        extra = np.broadcast_to(self._additions, (len(bases), len(self._additions)))
        amounts = np.concatenate([bases, extra], axis=1)[:, :, None]
        weights = np.where(
            amounts > 0, np.maximum(amounts + self._errors[None, :, draws], 0.0), 0.0
        )
        moles = np.einsum("mnd,ndk->mdk", weights, self._analyses[:, draws])
        probabilities, margin = judge(moles.reshape(-1, moles.shape[-1]))
        surfaces = probabilities.reshape(len(bases), count, -1)
        molten = margin.reshape(len(bases), count) > 0
        likeliest = np.isin(surfaces.argmax(axis=2), list(wanted))
        share = surfaces[:, :, list(wanted)].sum(axis=2)
        return [
            Robustness(
                float((likeliest[i] & molten[i]).mean()),
                float((share[i] * molten[i]).mean()),
                float(molten[i].mean()),
            )
            for i in range(len(bases))
        ]
