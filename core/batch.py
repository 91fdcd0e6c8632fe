"""A batch to weigh: grams of each line to the scale's readout, adding up to the printed total."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from core.errors import InputError
from core.numbers import number_text
from core.recipe import Recipe, Rows, Section

LARGEST_BATCH_G = 1_000_000
FINEST_READOUT_G = Decimal("0.0001")
COARSE_SHARE = Fraction(1, 20)
"""A line of fewer than ten readouts may be off by more than this."""


@dataclass(frozen=True, slots=True)
class WeighingLine:
    """One line to weigh."""

    section: Section
    material: str
    grams: Decimal
    running_total: Decimal
    """Of everything weighed up to here, base and additions [g]."""
    coarse: bool
    """Whether half a readout is more than 5 % of the line."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Lines in the order of the recipe."""

    lines: tuple[WeighingLine, ...]
    base_total: Decimal
    total: Decimal
    readout: Decimal

    def section(self, section: Section) -> list[WeighingLine]:
        """Return the lines of one section."""
        return [line for line in self.lines if line.section is section]


def batch_of(recipe: Recipe, base_grams: float, readout_g: float) -> Batch:
    """Work out the grams of each line for a batch of dry base.

    The base lines are rounded to the readout so that they add up to the
    batch exactly (largest remainders are rounded up first); each addition is
    rounded by itself. Arithmetic is exact.

    Parameters
    ----------
    recipe : Recipe
    base_grams : float
        Dry weight of the base [g]; additions come on top.
    readout_g : float
        Step of the scale [g].

    Raises
    ------
    InputError
        If the batch or the readout cannot be weighed, or the base is empty.

    Examples
    --------
    >>> from core.recipe import Ingredient
    >>> thirds = Recipe(base=tuple(Ingredient(m, 1.0) for m in ("talc", "silica", "kaolin")))
    >>> [str(line.grams) for line in batch_of(thirds, 100.0, 0.1).lines]
    ['33.4', '33.3', '33.3']
    """
    if not (math.isfinite(readout_g) and math.isfinite(base_grams)):
        raise InputError("the batch is no number", "give grams, such as 500")
    readout = Decimal(number_text(readout_g))
    batch = Decimal(number_text(base_grams))
    if not FINEST_READOUT_G <= readout <= 1000:
        raise InputError(f"the readout {readout_g:g} g is no scale's", "give it in grams, like 0.1")
    if not readout <= batch <= LARGEST_BATCH_G:
        raise InputError(
            f"a batch of {base_grams:g} g cannot be weighed",
            f"give {readout} g to {LARGEST_BATCH_G / 1000:.0f} kg",
        )
    base = [Fraction(row.amount) for row in recipe.base]
    parts = sum(base)
    if parts <= 0:
        raise InputError("the base weighs nothing", "give a row some parts first")
    steps = int((batch / readout).to_integral_value(ROUND_HALF_UP))
    counts = _shared_out(steps, [amount / parts for amount in base])
    additions = [_nearest(Fraction(row.amount) / 100 * steps) for row in recipe.additions]
    lines: list[WeighingLine] = []
    running = 0
    for section, rows, numbers in (
        (Section.BASE, recipe.base, counts),
        (Section.ADDITIONS, recipe.additions, additions),
    ):
        running = _append(lines, section, rows, numbers, running, readout)
    return Batch(tuple(lines), steps * readout, running * readout, readout)


def _append(
    lines: list[WeighingLine],
    section: Section,
    rows: Rows,
    numbers: Sequence[int],
    running: int,
    readout: Decimal,
) -> int:
    for row, number in zip(rows, numbers, strict=True):
        running += number
        coarse = row.amount > 0 and number * COARSE_SHARE < Fraction(1, 2)
        lines.append(
            WeighingLine(section, row.material, number * readout, running * readout, coarse)
        )
    return running


def _shared_out(steps: int, shares: Sequence[Fraction]) -> list[int]:
    """Share out whole steps, the largest remainders first; earlier rows win a tie."""
    exact = [share * steps for share in shares]
    counts = [int(amount) for amount in exact]
    by_remainder = sorted(range(len(exact)), key=lambda i: (counts[i] - exact[i], i))
    for i in by_remainder[: steps - sum(counts)]:
        counts[i] += 1
    return counts


def _nearest(amount: Fraction) -> int:
    return int(amount + Fraction(1, 2))
