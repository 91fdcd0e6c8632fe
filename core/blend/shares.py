"""Shares of the corners in a cell: exact fractions that sum to one."""

from __future__ import annotations

from fractions import Fraction

from core.numbers import number_text

Shares = tuple[Fraction, ...]

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def shares_text(shares: Shares) -> str:
    """Write the shares that are not zero, in percent.

    Examples
    --------
    >>> shares_text((Fraction(7, 10), Fraction(3, 10), Fraction(0)))
    'A 70 B 30'
    """
    return " ".join(
        f"{letter} {number_text(round(100.0 * float(share), 2))}"
        for letter, share in zip(LETTERS, shares, strict=False)
        if share
    )
