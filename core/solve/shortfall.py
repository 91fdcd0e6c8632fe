"""Why a wish cannot be met: the oxide, and the kind of material that is missing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from core.material_table import shipped_materials
from core.oxides import INDEX, OXIDES
from core.solve.closest import Closest, Problem, closest, least_off
from core.solve.goals import REACHED, Limits, Others
from core.solve.kinds import CATALOGUE, advice_to_bring, shipped_that_bring
from core.solve.shelf import Floats

_HELD: Final = 1e-4
_MOST_NAMED: Final = 3
_TRACE: Final = 1e-9


class Lack(StrEnum):
    """In which way a wish cannot be met."""

    NOTHING_BRINGS_IT = "nothing brings it"
    TOO_LITTLE = "too little"
    TOO_MUCH = "too much"
    FLUX_SUM = "flux sum"
    LIMIT = "limit"


@dataclass(frozen=True, slots=True)
class Shortfall:
    """One thing that stands in the way."""

    lack: Lack
    oxide: str
    """Empty where it is a limit on the batch."""
    asked: float | None
    within_reach: float | None
    """What the oxide comes to where all else that was asked is met; None if nothing else helps."""
    help: tuple[str, ...]
    """Ids of shipped materials that stand for their kind: any one would do, or, where none
    does by itself, those that bring the oxide."""
    says: str
    """In words for the potter."""


def find_shortfalls(problem: Problem, best: Closest | None) -> tuple[Shortfall, ...]:
    """Say what keeps a shelf from a wish, the likeliest reason first.

    An oxide that nothing brings is named at once. Otherwise each oxide is let
    go in turn: one without which all the rest can be met stands in the way,
    and what it comes to then is told. Where no single one does, those that
    lie off in the closest formula are named.
    """
    nothing = _nothing_brings(problem)
    if nothing:
        return nothing
    sums = _flux_sum(problem)
    if sums is not None:
        return (sums,)
    if best is None or _kept_by_limits(problem):
        return (_limit(problem),)
    goals = len(problem.goal_rows)
    off = problem.off(best.amounts)[:goals]
    plain = _goals_only(problem)
    alone = []
    for row in range(goals):
        without = least_off(plain, row, _HELD)
        if without is not None:
            alone.append((row, without))
    if alone:
        # What is off in the closest formula comes first, then what is least so in proportion.
        alone.sort(key=lambda item: (off[item[0]] < _HELD, _in_proportion(plain, *item)))
        return tuple(_held_back(plain, *item) for item in alone[:_MOST_NAMED])
    order = [row for row in np.argsort(-off) if off[row] > _HELD]
    found = [_off(plain, int(row), best) for row in order[:_MOST_NAMED]]
    return tuple(found)


def _in_proportion(problem: Problem, row: int, amounts: Floats) -> float:
    low, high = problem.low_high
    asked = low[row] if np.isinf(high[row]) else high[row]
    return float(problem.off(amounts)[row] / max(float(asked), 0.05))


def _goals_only(problem: Problem) -> Problem:
    """Return the problem without the oxides that shall only stay near."""
    if problem.wish.others is not Others.NEAR:
        return problem
    return Problem(problem.shelf, replace(problem.wish, others=Others.FREE, near=()))


def _nothing_brings(problem: Problem) -> tuple[Shortfall, ...]:
    found = []
    for goal in problem.wish.goals:
        if goal.low <= REACHED or problem.shelf.brings(INDEX[goal.oxide]):
            continue
        found.append(
            Shortfall(
                Lack.NOTHING_BRINGS_IT,
                goal.oxide,
                goal.low,
                0.0,
                _helpers(problem, goal.oxide) or shipped_that_bring(goal.oxide),
                f"No material here brings {goal.oxide}: {advice_to_bring(goal.oxide)}",
            )
        )
    if not found and len(problem.fluxes) and problem.fluxes.max() <= _TRACE:
        says = (
            "No material here brings a flux, so there is no unity formula: add "
            "a feldspar, whiting, talc or a frit"
        )
        found.append(Shortfall(Lack.NOTHING_BRINGS_IT, "", None, None, (), says))
    return tuple(found)


def _flux_sum(problem: Problem) -> Shortfall | None:
    """Say so where the fluxes asked for cannot add up to one, whatever is on the shelf."""
    low, high = problem.wish.bounds()
    counted = problem.shelf.convention.mask > 0
    least, most = float(low[counted].sum()), float(high[counted].sum())
    asked = [g for g in problem.wish.goals if g.oxide in problem.shelf.convention.fluxes]
    if least <= 1.0 + REACHED and most >= 1.0 - REACHED:
        return None
    total, way = (least, Lack.TOO_MUCH) if least > 1.0 else (most, Lack.TOO_LITTLE)
    largest = max(asked, key=lambda goal: goal.low, default=None)
    says = (
        f"The fluxes asked for ({', '.join(g.oxide for g in asked if not g.free)}) come to "
        f"{total:.3g}, and in a unity formula they share 1 between them: "
        + ("ask for less of one" if way is Lack.TOO_MUCH else "ask for more, or leave one free")
    )
    name = largest.oxide if largest is not None else ""
    return Shortfall(Lack.FLUX_SUM, name, total, 1.0, (), says)


def _kept_by_limits(problem: Problem) -> bool:
    """Whether the formula could be had but for the limits."""
    if not len(problem.limit_rows):
        return False
    freed = closest(Problem(problem.shelf, replace(problem.wish, limits=Limits())))
    return freed is not None and freed.goals <= REACHED


def _limit(problem: Problem) -> Shortfall:
    """Name the limit that cannot be kept."""
    limits = problem.wish.limits
    words = {
        "loi_percent": ("the loss on ignition", "%", "calcined or carbonate-free materials"),
        "expansion": ("the expansion", "1e-6/K", "materials with more, or less, soda and potash"),
        "price_per_kg": ("the price", "per kg", "cheaper materials, or their prices"),
        "clay_percent": ("the raw clay", "% of the base", "a raw clay, or a calcined one instead"),
    }
    for name, (what, unit, kind) in words.items():
        value = getattr(limits, name)
        if value is None:
            continue
        others = replace(limits, **{name: None})
        freed = closest(Problem(problem.shelf, replace(problem.wish, limits=others)))
        if freed is not None and freed.goals <= REACHED:
            asked = f"{value[0]:g} to {value[1]:g} {unit}"
            says = f"With {what} held to {asked} the formula is out of reach: add {kind}"
            return Shortfall(Lack.LIMIT, "", None, None, (), says)
    free = closest(Problem(problem.shelf, replace(problem.wish, limits=Limits())))
    if free is None:
        says = "No mixture of these materials has both fluxes and a sensible weight"
    else:
        says = "The limits asked for cannot all be kept with these materials: widen one"
    return Shortfall(Lack.LIMIT, "", None, None, (), says)


def _held_back(problem: Problem, row: int, amounts: Floats) -> Shortfall:
    """Say what one oxide comes to when the rest is as asked."""
    oxide = OXIDES[problem.rows[row]]
    value = float(amounts @ problem.gives[:, problem.rows[row]])
    low, high = (float(edge[row]) for edge in problem.low_high)
    little = value < low
    asked = low if little else high
    others = "with the rest as asked"
    if little:
        start = f"{oxide} comes to no more than {value:.3f} {others}, {asked:.3f} was wanted"
    else:
        start = f"{oxide} comes to no less than {value:.3f} {others}, {asked:.3f} was wanted"
    lack = Lack.TOO_LITTLE if little else Lack.TOO_MUCH
    return _with_help(problem, lack, oxide, asked, value, start)


def _off(problem: Problem, row: int, best: Closest) -> Shortfall:
    oxide = OXIDES[problem.rows[row]]
    value = float(best.amounts @ problem.gives[:, problem.rows[row]])
    low, high = (float(edge[row]) for edge in problem.low_high)
    little = value < low
    asked = low if little else high
    start = f"{oxide} is at {value:.3f} in the closest formula, {asked:.3f} was wanted"
    lack = Lack.TOO_LITTLE if little else Lack.TOO_MUCH
    shortfall = _with_help(problem, lack, oxide, asked, value, start)
    return replace(shortfall, within_reach=None)


def _with_help(
    problem: Problem, lack: Lack, oxide: str, asked: float, value: float, start: str
) -> Shortfall:
    helpers = _helpers(problem, oxide)
    if helpers:
        names = [(shipped_materials().get(i) or shipped_materials().get("silica")) for i in helpers]
        listed = _or([m.name[0].lower() + m.name[1:] for m in names if m is not None])
        says = f"{start}: {listed} would make it possible"
    elif lack is Lack.TOO_LITTLE:
        says = f"{start}: {advice_to_bring(oxide)}"
    else:
        carriers = _carriers(problem, oxide)
        says = f"{start}: {_and(carriers)} bring it along, so a purer material is missing"
        if len(carriers) == 1:
            says = f"{start}: {carriers[0]} brings it along, so a purer material is missing"
    return Shortfall(lack, oxide, asked, value, helpers, says)


def _carriers(problem: Problem, oxide: str) -> list[str]:
    """Names of the materials that bring an oxide together with others that were asked for."""
    gives = problem.gives
    wanted = [INDEX[g.oxide] for g in problem.wish.goals if g.low > 0 and g.oxide != oxide]
    names = [
        material.name
        for material, row in zip(problem.shelf.materials, gives, strict=True)
        if row[INDEX[oxide]] > _TRACE and row[wanted].sum() > _TRACE
    ]
    return names[:_MOST_NAMED] or ["what is here"]


def _helpers(problem: Problem, oxide: str) -> tuple[str, ...]:
    """Shipped materials any one of which makes the wish possible; at most three."""
    table, shelf = shipped_materials(), problem.shelf
    plain = _goals_only(problem)
    _, high = plain.wish.bounds()
    found: list[str] = []
    # Those that bring the oxide are tried first: they are what a potter thinks of.
    candidates = [m for i in CATALOGUE if i not in shelf.ids and (m := table.get(i)) is not None]
    candidates.sort(key=lambda m: m.moles_per_gram[INDEX[oxide]] <= _TRACE)
    for material in candidates:
        if (material.moles_per_gram[high < _TRACE] > _TRACE).any():
            continue
        wider = replace(shelf, materials=(*shelf.materials, material))
        reached = closest(Problem(wider, plain.wish))
        if reached is not None and reached.goals <= REACHED:
            found.append(material.id)
            if len(found) == _MOST_NAMED:
                break
    return tuple(found)


def _or(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
