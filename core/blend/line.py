"""Line blends: two ends mixed in even steps."""

from __future__ import annotations

from fractions import Fraction

from core.blend.shares import Shares
from core.errors import InputError

FEWEST, MOST = 3, 21


def line_shares(tiles: int) -> list[Shares]:
    """Shares of the two ends along a line blend, from all A to all B.

    Parameters
    ----------
    tiles : int
        3 to 21; n tiles step by 100/(n - 1) percent.

    Raises
    ------
    InputError
        If there are fewer or more tiles.

    Examples
    --------
    >>> [float(a) for a, b in line_shares(5)]
    [1.0, 0.75, 0.5, 0.25, 0.0]
    """
    if not FEWEST <= tiles <= MOST:
        raise InputError(f"a line of {tiles} tiles is not planned", f"take {FEWEST} to {MOST}")
    shares = [Fraction(number, tiles - 1) for number in range(tiles)]
    return [(1 - share, share) for share in shares]
