"""Four corners mixed by volume over a rectangle of tiles."""

from __future__ import annotations

from fractions import Fraction

from core.blend.shares import Shares
from core.errors import InputError

COLUMNS, ROWS = 5, 7
"""The usual grid of 35 tiles (I. Currie, Revealing Glazes, 2000)."""
MOST_ALONG = 15
MOST_TILES = 120


def grid_shares(columns: int = COLUMNS, rows: int = ROWS) -> list[Shares]:
    """Shares of the corners A top left, B top right, C bottom left, D bottom right.

    With u from left to right and v from top to bottom, A has (1 - u)(1 - v),
    B u (1 - v), C (1 - u) v and D u v; row by row from the top left.

    Raises
    ------
    InputError
        If a side has fewer than 2 tiles or more than `MOST_ALONG`, or there
        are more than `MOST_TILES`.

    Examples
    --------
    >>> [float(share) for share in grid_shares()[17]]
    [0.25, 0.25, 0.25, 0.25]
    """
    if not (
        2 <= columns <= MOST_ALONG and 2 <= rows <= MOST_ALONG and columns * rows <= MOST_TILES
    ):
        raise InputError(
            f"a grid of {columns} by {rows} is not planned",
            f"take 2 to {MOST_ALONG} tiles along each side, {MOST_TILES} in all",
        )
    return [
        ((1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v)
        for v in (Fraction(row, rows - 1) for row in range(rows))
        for u in (Fraction(column, columns - 1) for column in range(columns))
    ]
