"""Aim: from a wanted unity formula to recipes of the materials on the shelf.

The closest formula comes first, then the fewest materials, then the roundest
parts. What no recipe reaches is named, with the kind of material that is
missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.oxides import INDEX, OXIDES
from core.solve.closest import (
    EQUALLY_CLOSE,
    Closest,
    Few,
    Problem,
    closest,
    distinct,
    fewer,
    fewest,
)
from core.solve.goals import REACHED, Wish
from core.solve.rounding import TOTAL, round_parts, tidy, unity_of
from core.solve.shelf import Shelf, expansion_terms
from core.solve.shortfall import Shortfall, find_shortfalls

Floats = NDArray[np.float64]

MOST_PROPOSALS: Final = 5
_FURTHER: Final = (0.1, 0.3)
"""Recipes that do without a material are offered when their goals, and the oxides that are to
stay near, lie no further off than this beyond the best [mol]."""
_TIDY: Final = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class Proposal:
    """One recipe that comes close to what was asked."""

    materials: tuple[str, ...]
    """Ids, the heaviest first."""
    parts: tuple[float, ...]
    """By weight; they add up to 100."""
    unity: Floats
    """Its unity formula, with the additions if the shelf counts them, shape (25,)."""
    off: dict[str, float]
    """How far each oxide that was asked for lies above (or, negative, below)."""
    drift: dict[str, float]
    """How far the oxides that were to stay near have moved."""
    loi_percent: float
    clay_percent: float
    price_per_kg: float | None
    """Of the dry base; None where a material has no price."""
    expansion: float | None
    """Linear sum [1e-6/K]; None without oxides that have melt data."""
    round_to: float | None = None
    """Step that the parts were rounded to."""

    @property
    def distance(self) -> float:
        """Sum of what the oxides that were asked for lie off [mol]."""
        return sum(abs(value) for value in self.off.values())

    @property
    def worst(self) -> float:
        """The furthest that an oxide asked for lies off [mol]."""
        return max((abs(value) for value in self.off.values()), default=0.0)

    @property
    def reached(self) -> bool:
        """Whether every oxide asked for lies within `REACHED`."""
        return self.worst <= REACHED

    @property
    def point(self) -> tuple[float, float]:
        """Place on the map: (SiO2, Al2O3)."""
        return float(self.unity[INDEX["SiO2"]]), float(self.unity[INDEX["Al2O3"]])


@dataclass(frozen=True, eq=False, slots=True)
class Aimed:
    """What aiming came to."""

    proposals: tuple[Proposal, ...]
    """The best first; when the wish cannot be met, the nearest there is."""
    reached: bool
    """Whether these materials can meet the wish, before the parts are rounded."""
    shortfalls: tuple[Shortfall, ...]
    """What stands in the way, the likeliest first; empty when it is met."""
    fewest_proved: bool
    """Whether the solver proved in its time that no fewer materials come as close."""


def aim(
    shelf: Shelf,
    wish: Wish,
    most: int = MOST_PROPOSALS,
    round_to: float | None = None,
    seconds: float = 0.4,
) -> Aimed:
    """Find recipes for a wish.

    Parameters
    ----------
    shelf : Shelf
        Materials to take from; see `core.solve.shelf.shelf_of`.
    wish : Wish
    most : int
        How many different recipes, 1 to 5. Each after the first is the closest
        that does without one of the first recipe's materials, with few others.
    round_to : float, optional
        Step of the parts, such as 0.5 or 1; the exact parts when left out.
    seconds : float
        Time that the solver may take over the fewest materials; past it the
        best found stands, and `Aimed.fewest_proved` is False.

    Raises
    ------
    InputError
        If the shelf is empty, or nothing is asked for.

    Examples
    --------
    >>> from core.material_table import shipped_materials
    >>> from core.solve.goals import wish_for
    >>> table = shipped_materials()
    >>> shelf = Shelf(tuple(table.get(i) for i in ("whiting", "kaolin", "silica")))
    >>> best = aim(shelf, wish_for({"CaO": 1.0, "Al2O3": 0.2, "SiO2": 1.0})).proposals[0]
    >>> sorted(best.materials), round(best.worst, 9)
    (['kaolin', 'silica', 'whiting'], 0.0)
    """
    if not shelf.materials:
        raise InputError("there is no material to make it from", "name some")
    if wish.limits.price_per_kg is not None:
        shelf = shelf.priced()
    problem = Problem(shelf, wish)
    best = closest(problem)
    if best is None:
        return Aimed((), False, find_shortfalls(problem, None), False)
    sets, proved = _sets(problem, best, min(max(most, 1), MOST_PROPOSALS), seconds)
    proposals = [_proposal(problem, amounts, round_to) for amounts in sets]
    first, rest = proposals[0], proposals[1:]
    rest.sort(key=_order)
    if rest and _order(rest[0])[:3] == _order(first)[:3] and _roughness(rest[0]) < _TIDY:
        # Only parts that a potter would write down are worth another order.
        first, rest[0] = rest[0], first
    reached = best.goals <= REACHED
    shortfalls = () if reached else find_shortfalls(problem, best)
    return Aimed((first, *rest), reached, shortfalls, proved)


def _sets(problem: Problem, best: Closest, most: int, seconds: float) -> tuple[list[Floats], bool]:
    """Amounts of different recipes, the closest with the fewest materials first."""
    few = fewest(problem, best, seconds)
    first = _amounts(problem, few, best)
    found: list[tuple[float, Floats]] = []
    taken = [few.materials]
    if most > 1:
        every = np.arange(len(problem.fluxes))
        shelf = distinct(problem, every, np.isin(every, sorted(few.materials)))
        for material in sorted(few.materials):
            only = shelf[shelf != material].tolist()
            without = closest(problem, only)
            if without is None or (
                without.goals > best.goals + _FURTHER[0]
                or without.others > best.others + _FURTHER[1]
            ):
                continue
            found.append((without.goals + without.others, without.amounts))
    found.sort(key=lambda item: round(item[0] / EQUALLY_CLOSE))
    sets = [first]
    for _, amounts in found:
        if len(sets) == most:
            break
        off = problem.off(amounts)
        goals = len(problem.goal_rows)
        there = Closest(amounts, float(off[:goals].sum()), float(off[goals:].sum()))
        gone = few.materials - set(np.flatnonzero(amounts > 1e-9).tolist())
        thin = fewer(problem, there, [i for i in shelf.tolist() if i not in gone])
        if thin.materials not in taken:
            taken.append(thin.materials)
            sets.append(_amounts(problem, thin, there))
    return sets, few.proved


def _amounts(problem: Problem, few: Few, otherwise: Closest) -> Floats:
    refined = closest(problem, sorted(few.materials), caps=few.cap)
    return refined.amounts if refined is not None else otherwise.amounts


def _proposal(problem: Problem, amounts: Floats, round_to: float | None) -> Proposal:
    shelf, wish = problem.shelf, problem.wish
    use = np.flatnonzero(amounts > 1e-9)
    use = use[np.argsort(-amounts[use], kind="stable")]
    parts = TOTAL * amounts[use] / float(amounts[use].sum())
    moles = shelf.moles_per_gram[use]
    if round_to is not None:
        parts = round_parts(parts, moles, round_to, convention=shelf.convention)
        use, moles, parts = use[parts > 0], moles[parts > 0], parts[parts > 0]
    else:
        parts = tidy(parts)
    unity = unity_of(parts, moles, shelf.convention)
    off = {
        goal.oxide: goal.off(float(unity[INDEX[goal.oxide]]))
        for goal in wish.goals
        if not goal.free
    }
    _, high = wish.bounds()
    for i, oxide in enumerate(OXIDES):
        if oxide not in off and np.isfinite(high[i]) and unity[i] > high[i]:
            off[oxide] = float(unity[i] - high[i])
    drift = {
        OXIDES[i]: float(unity[i] - wish.near[i])
        for i in problem.near_rows
        if abs(unity[i] - wish.near[i]) > 1e-9
    }
    weighted, modelled = expansion_terms(moles)
    whole = float(parts @ modelled)
    return Proposal(
        materials=tuple(shelf.materials[i].id for i in use),
        parts=tuple(float(p) for p in parts),
        unity=unity,
        off=off,
        drift=drift,
        loi_percent=round(float(parts @ shelf.loi_percent[use]) / TOTAL, 9) + 0.0,
        clay_percent=float(parts @ shelf.raw_clay[use]),
        price_per_kg=_price(parts, shelf.price_per_kg[use]),
        expansion=float(parts @ weighted) / whole if whole > 0 else None,
        round_to=round_to,
    )


def _roughness(proposal: Proposal) -> float:
    """How far the parts lie from whole halves, summed."""
    parts = np.array(proposal.parts)
    return float(np.abs(parts - np.round(2.0 * parts) / 2.0).sum())


def _order(proposal: Proposal) -> tuple[int, int, int, float]:
    """Sort by closeness, then by how few materials, then by how round the parts are."""
    drift = sum(abs(value) for value in proposal.drift.values())
    return (
        round(proposal.distance / EQUALLY_CLOSE),
        round(drift / EQUALLY_CLOSE),
        len(proposal.parts),
        _roughness(proposal),
    )


def _price(parts: Floats, prices: Floats) -> float | None:
    price = float(parts @ prices) / TOTAL
    return price if np.isfinite(price) else None
