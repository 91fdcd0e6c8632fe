"""Where the tiles stand in the kiln: rows on a shelf with room for the witness cones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.errors import InputError

CONES = "cones"
"""Stands in a place that is kept for a witness cone pack."""
MOST_ALONG = 40


@dataclass(frozen=True, slots=True)
class Shelf:
    """Places of one shelf, row by row from the back; "" is an empty place."""

    places: tuple[tuple[str, ...], ...]

    @property
    def codes(self) -> list[str]:
        """Codes that stand here, in order."""
        return [place for row in self.places for place in row if place and place != CONES]


def placed(codes: Sequence[str], columns: int, rows: int) -> tuple[Shelf, ...]:
    """Place tiles on shelves in order, each shelf with cone packs at two opposite corners.

    Two packs show whether the shelf fired evenly; a shelf of fewer than four
    places has one.

    Parameters
    ----------
    codes : sequence of str
    columns, rows : int
        Places along and across a shelf.

    Raises
    ------
    InputError
        If a shelf has no room for a tile beside its cones.

    Examples
    --------
    >>> placed(["KHJLQ", "KXJMR"], 2, 2)[0].places
    (('cones', 'KHJLQ'), ('KXJMR', 'cones'))
    """
    if not (1 <= columns <= MOST_ALONG and 1 <= rows <= MOST_ALONG and columns * rows >= 2):
        raise InputError(
            f"a shelf of {columns} by {rows} has no room for tiles and cones",
            f"give up to {MOST_ALONG} places each way",
        )
    kept = {0, columns * rows - 1} if columns * rows >= 4 else {0}
    room = columns * rows - len(kept)
    shelves = []
    for start in range(0, len(codes), room):
        waiting = iter(codes[start : start + room])
        flat = [CONES if number in kept else next(waiting, "") for number in range(columns * rows)]
        shelves.append(
            Shelf(tuple(tuple(flat[r * columns : (r + 1) * columns]) for r in range(rows)))
        )
    return tuple(shelves)
