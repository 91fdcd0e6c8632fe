"""Triaxial blends: three members at the corners of a triangle."""

from __future__ import annotations

from fractions import Fraction

from core.blend.shares import Shares
from core.errors import InputError

STEPS = {"20": 5, "12.5": 8, "10": 10}
"""Steps along a side by the percent of one: 21, 45 and 66 tiles."""
MOST_STEPS = 20


def triaxial_shares(steps: int) -> list[Shares]:
    """Shares of the three corners, row by row from corner A down to the side B to C.

    Parameters
    ----------
    steps : int
        k steps along a side give (k + 1)(k + 2)/2 tiles.

    Raises
    ------
    InputError
        If the side has fewer than 2 or more than `MOST_STEPS` steps.

    Examples
    --------
    >>> len(triaxial_shares(STEPS["20"]))
    21
    """
    if not 2 <= steps <= MOST_STEPS:
        raise InputError(
            f"a triangle of {steps} steps is not planned", f"take 2 to {MOST_STEPS} steps"
        )
    return [
        (Fraction(steps - row, steps), Fraction(row - column, steps), Fraction(column, steps))
        for row in range(steps + 1)
        for column in range(row + 1)
    ]


def triangle_place(shares: Shares, steps: int) -> tuple[int, int]:
    """Row from the top and column from the left of a tile in the triangle.

    Examples
    --------
    >>> triangle_place((Fraction(0), Fraction(0), Fraction(1)), 5)
    (5, 5)
    """
    return steps - int(shares[0] * steps), int(shares[2] * steps)
