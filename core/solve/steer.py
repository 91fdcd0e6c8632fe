"""Steer: the point is dragged on the map and the recipe follows.

From where the drag began, the nearest recipe that lands on the point: the
proportions of the other oxides are kept as nearly as the rows allow, and
within that the rows change as little as can be. Every event is worked out from
the begin of the drag, so a drag out and back gives the same recipe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.numbers import LARGEST_AMOUNT
from core.oxides import INDEX, OXIDES
from core.recipe import Recipe, Section
from core.solve.quadratic import constrained_least_squares
from core.solve.reach import Point, Region, region_of
from core.solve.shelf import shelf_of
from core.studio import Studio

Floats = NDArray[np.float64]

# A shift of 0.01 mol in another oxide weighs as much as moving some tens of parts.
_KEEP_OXIDES: Final = 100.0
_SMALLEST_SHARE: Final = 0.02
# How far the total may grow where it is not held and locked rows stand in the way.
_ROOM: Final = 20.0
# The edge itself leaves rows at nought; a hair inside is solved more surely.
_INSIDE: Final = (1e-6, 1e-4, 1e-3)
_ON_POINT: Final = 1e-9
_SILICA, _ALUMINA = INDEX["SiO2"], INDEX["Al2O3"]


@dataclass(frozen=True, eq=False, slots=True)
class Steered:
    """Where one event of a drag came to."""

    recipe: Recipe
    point: Point
    """(SiO2, Al2O3) where the recipe lies."""
    reached: bool
    """Whether that is where the cursor was."""
    used_up: tuple[str, ...]
    """Ids of rows that are at nought there and were not when the drag began."""
    locked: tuple[str, ...]
    """Ids of locked rows, if unlocking them would let the point go on."""
    oxide: str
    """Of which no row brings enough, or little enough, to go on; empty where reached."""
    says: str
    """Why it stopped, for the potter; empty where reached."""


@dataclass(frozen=True, eq=False, slots=True)
class Steering:
    """A drag: all that is worked out once, when it begins."""

    recipe: Recipe
    start: Point
    region: Region
    """Reachable points, with the locked rows as they are."""
    unlocked_region: Region
    """Reachable points if no row were locked."""
    names: tuple[str, ...]
    """Of the base rows, for messages."""
    hold_total: bool
    _amounts: Floats
    _free: NDArray[np.bool_]
    _values: Floats
    _matrix: Floats
    _wanted: Floats
    _unit: float

    def to(self, silica: float, alumina: float) -> Steered:
        """Return the recipe for a cursor at (silica, alumina); quick enough for every event.

        Parameters
        ----------
        silica, alumina : float
            In the unity formula; not finite or negative values count as the start.
        """
        goal = (float(silica), float(alumina))
        if not all(np.isfinite(goal)):
            goal = self.start
        if self.region.flat:
            landing, stop = self.region.nearest_on_line(self.start, goal), None
            share = 1.0
            reached = bool(np.hypot(landing[0] - goal[0], landing[1] - goal[1]) < _ON_POINT)
        else:
            share, stop = self.region.share_of_way(self.start, goal)
            landing, reached = goal, stop is None
        amounts = self._amounts if share == 0.0 else None
        for inside in (0.0,) if reached else _INSIDE:
            if amounts is not None:
                break
            part = share * (1.0 - inside)
            end = goal if not self.region.flat else landing
            amounts = self._solved(
                (
                    self.start[0] + part * (end[0] - self.start[0]),
                    self.start[1] + part * (end[1] - self.start[1]),
                )
            )
        if amounts is None:
            amounts, reached = self._amounts, False
        return self._steered(amounts, goal, reached, stop)

    def _solved(self, point: Point) -> Floats | None:
        free = self._free
        lines = np.stack(
            [
                self._values[:, 0] - point[0] * self._values[:, 2],
                self._values[:, 1] - point[1] * self._values[:, 2],
            ]
        )
        hold = lines[:, free]
        held = -(lines[:, ~free] @ self._amounts[~free])
        if self.region.flat:
            # On a line the two rows say one thing.
            keep = np.argmax(np.abs(hold).sum(axis=1))
            hold, held = hold[[keep]], held[[keep]]
        if self.hold_total:
            hold = np.vstack([hold, np.full(hold.shape[1], self._unit)])
            held = np.append(held, self._unit * self._amounts[free].sum())
        found = constrained_least_squares(self._matrix, self._wanted, hold, held)
        if found is None or found.max(initial=0.0) > LARGEST_AMOUNT:
            return None
        amounts = self._amounts.copy()
        amounts[free] = found
        return amounts

    def _steered(self, amounts: Floats, goal: Point, reached: bool, stop: Floats | None) -> Steered:
        silica, alumina, fluxes = amounts @ self._values
        point = (float(silica / fluxes), float(alumina / fluxes))
        rows = tuple(
            row if amount == row.amount else replace(row, amount=float(amount))
            for row, amount in zip(self.recipe.base, amounts, strict=True)
        )
        recipe = self.recipe.with_rows(Section.BASE, rows)
        if reached:
            return Steered(recipe, point, True, (), (), "", "")
        tiny = 1e-3 * float(self._amounts.sum()) / 100.0
        gone = [i for i, a in enumerate(amounts) if a < tiny <= self._amounts[i]]
        locked: list[int] = []
        if not self._free.all() and self.unlocked_region.contains(goal):
            locked = [int(i) for i in np.flatnonzero(~self._free) if self._amounts[i] > 0]
        oxide, says = self._why(goal, stop, gone, locked)
        return Steered(
            recipe,
            point,
            False,
            tuple(self.recipe.base[i].material for i in gone),
            tuple(self.recipe.base[i].material for i in locked),
            oxide,
            says,
        )

    def _why(
        self, goal: Point, stop: Floats | None, gone: Sequence[int], locked: Sequence[int]
    ) -> tuple[str, str]:
        way = np.array(goal) - np.array(self.start)
        push = -stop[:2] * way if stop is not None else np.abs(way)
        axis = int(np.argmax(push))
        oxide = ("SiO2", "Al2O3")[axis]
        side = "more" if way[axis] > 0 else "less"
        if locked:
            verb = "stops" if len(locked) == 1 else "stop"
            names = _and([self.names[i] for i in locked])
            return oxide, f"{names}, locked, {verb} it here: unlock to go on"
        if not self._free.any():
            return oxide, "Every row is locked: unlock one to move the point"
        start = ""
        if gone:
            start = f"{_and([self.names[i] for i in gone])} used up: "
        return oxide, f"{start}no row here brings {side} {oxide} for its fluxes"


def steering(
    recipe: Recipe,
    studio: Studio,
    hold_total: bool = True,
    weights: Sequence[float] | None = None,
    base_alone: bool = False,
) -> Steering:
    """Begin a drag.

    Parameters
    ----------
    recipe : Recipe
        Its locked rows stay as they are; additions keep their percent of the base.
    studio : Studio
    hold_total : bool
        Whether the base goes on adding up to what it does now.
    weights : sequence of float, optional
        How unwilling each base row is to change, above zero; when left out, a
        row is the more willing the more of it there is.
    base_alone : bool
        Whether the map shows the base without its additions.

    Raises
    ------
    InputError
        If the recipe has no point on the map, or a material is missing from the tables.
    """
    if not recipe.base:
        raise InputError("there are no rows to follow the point", "add some materials first")
    shelf = shelf_of(recipe, studio, [row.material for row in recipe.base], not base_alone)
    place = {material_id: i for i, material_id in enumerate(shelf.ids)}
    moles = shelf.moles_per_gram[[place[row.material] for row in recipe.base]]
    names = tuple(shelf.materials[place[row.material]].name for row in recipe.base)
    amounts = np.array([row.amount for row in recipe.base], dtype=float)
    free = np.array([not row.locked for row in recipe.base])
    mask = studio.convention.mask
    total, now = float(amounts.sum()), amounts @ moles
    fluxes = float(now @ mask)
    if not fluxes > 1e-9 * max(float(now.sum()), 1e-300):
        raise InputError("there is no flux, so the recipe has no point on the map", "add a flux")
    unity = now / fluxes
    values = np.stack([moles[:, _SILICA], moles[:, _ALUMINA], moles @ mask], axis=1) / fluxes
    share = np.maximum(amounts / total, _SMALLEST_SHARE)
    stiff = 1.0 / share if weights is None else np.array(weights, dtype=float)
    if len(stiff) != len(amounts) or not (stiff > 0).all():
        raise InputError("each base row needs a weight above zero", "give one for each")
    others = [i for i in range(len(OXIDES)) if i not in (_SILICA, _ALUMINA)]
    drift = (moles[:, others] - np.outer(values[:, 2] * fluxes, unity[others])) / fluxes
    matrix = np.vstack([np.diag((np.sqrt(stiff) / total)[free]), _KEEP_OXIDES * drift[free].T])
    willing = np.where(free, amounts, 0.0)
    wanted = np.concatenate(
        [(np.sqrt(stiff) * willing / total)[free], -_KEEP_OXIDES * (amounts - willing) @ drift]
    )
    locked = np.where(free, 0.0, amounts)
    room = total - float(locked.sum())
    loose = not hold_total and not free.all()
    if loose:
        room = _ROOM * total
    region = region_of(values, locked, free, room, alone=loose)
    every = np.ones(len(free), dtype=bool)
    return Steering(
        recipe=recipe,
        start=(float(unity[_SILICA]), float(unity[_ALUMINA])),
        region=region,
        unlocked_region=region_of(values, np.zeros(len(free)), every, total),
        names=names,
        hold_total=hold_total,
        _amounts=amounts,
        _free=free,
        _values=values,
        _matrix=matrix,
        _wanted=wanted,
        _unit=1.0 / total,
    )


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
