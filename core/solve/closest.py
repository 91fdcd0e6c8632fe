"""The closest formula and the fewest materials, as linear and mixed-integer programs.

With the fluxes held at one mole the unity formula is linear in the weights:
oxide i comes to ``x @ A[:, i]``. The distance is the sum of what the oxides
lie off. All programs go to HiGHS by way of scipy (Huangfu and Hall 2018,
Parallelizing the dual revised simplex method, Math. Prog. Comp. 10).
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from core.oxides import INDEX, OXIDES
from core.solve.goals import Others, Wish
from core.solve.shelf import Shelf, expansion_terms

Floats = NDArray[np.float64]

EQUALLY_CLOSE: Final = 2.0e-4
"""Formulas whose oxides differ by less than this count as equally close [mol]."""
_NOTHING: Final = 1e-7
_UNIT_G: Final = 100.0
# More than this of one material to one mole of fluxes is no glaze [_UNIT_G].
_MOST: Final = 100.0
# Decides between recipes that are equally good, and nothing else.
_TIE: Final = 1e-6
_UNWILLING: Final = 0.3
_ROUNDS: Final = 4
_STARTS: Final = 3


@dataclass(frozen=True, eq=False)
class Problem:
    """A wish and a shelf, laid out for the solver."""

    shelf: Shelf
    wish: Wish

    @cached_property
    def gives(self) -> Floats:
        """Moles of each oxide from 100 g of each material, shape (n, 25)."""
        return self.shelf.moles_per_gram * _UNIT_G

    @cached_property
    def fluxes(self) -> Floats:
        """Moles of fluxes from 100 g of each, shape (n,)."""
        return np.asarray(self.gives @ self.shelf.convention.mask)

    @cached_property
    def goal_rows(self) -> NDArray[np.intp]:
        """Indices of the oxides that are asked for."""
        low, high = self.wish.bounds()
        return np.flatnonzero((low > 0) | np.isfinite(high))

    @cached_property
    def near_rows(self) -> NDArray[np.intp]:
        """Indices of the oxides that shall stay near a formula."""
        if self.wish.others is not Others.NEAR:
            return np.zeros(0, dtype=np.intp)
        named = {INDEX[goal.oxide] for goal in self.wish.goals}
        return np.array([i for i in range(len(OXIDES)) if i not in named], dtype=np.intp)

    @cached_property
    def low_high(self) -> tuple[Floats, Floats]:
        """Bounds of the goal rows, then of the near rows."""
        low, high = self.wish.bounds()
        near = np.array(self.wish.near, dtype=float)
        near = near[self.near_rows] if len(self.near_rows) else np.zeros(0)
        return (
            np.concatenate([low[self.goal_rows], near]),
            np.concatenate([high[self.goal_rows], near]),
        )

    @cached_property
    def rows(self) -> NDArray[np.intp]:
        """Goal rows, then near rows."""
        return np.concatenate([self.goal_rows, self.near_rows])

    @cached_property
    def limit_rows(self) -> Floats:
        """Rows of the limits, each ``row @ x <= 0``, shape (limits, n)."""
        limits, found = self.wish.limits, []
        weighted, modelled = np.zeros(0), np.zeros(0)
        if limits.expansion is not None:
            weighted, modelled = expansion_terms(self.gives)
        one = np.ones(len(self.fluxes))
        for value, part, whole in (
            (limits.loi_percent, self.shelf.loi_percent, one),
            (limits.clay_percent, 100.0 * self.shelf.raw_clay, one),
            (limits.expansion, weighted, modelled),
            (limits.price_per_kg, self.shelf.price_per_kg, one),
        ):
            if value is None:
                continue
            for edge, sign in ((value[0], -1.0), (value[1], 1.0)):
                if np.isfinite(edge):
                    row = sign * (part - edge * whole)
                    found.append(row / max(float(np.abs(row).max()), 1e-12))
        return np.array(found).reshape(-1, len(one))

    def off(self, amounts: Floats) -> Floats:
        """How far each row lies off, shape (rows,)."""
        low, high = self.low_high
        value = amounts @ self.gives[:, self.rows]
        return np.asarray(np.maximum(np.maximum(low - value, value - high), 0.0))


@dataclass(frozen=True, eq=False, slots=True)
class Closest:
    """How close a shelf comes to a wish."""

    amounts: Floats
    """Of one recipe that comes so close, shape (n,) [100 g to a mole of fluxes]."""
    goals: float
    """Sum of what the goals lie off [mol]."""
    others: float
    """Sum of what the oxides that stay near lie off [mol]."""


@dataclass(frozen=True, eq=False, slots=True)
class Few:
    """A set of few materials."""

    materials: frozenset[int]
    """Numbers on the shelf."""
    cap: Floats
    """How far off each row may lie, shape (rows,)."""
    proved: bool
    """Whether fewer were proved impossible."""


def closest(
    problem: Problem,
    only: Sequence[int] | None = None,
    caps: Floats | None = None,
) -> Closest | None:
    """Find the closest formula: the goals first, then the oxides that stay near.

    Parameters
    ----------
    problem : Problem
    only : sequence of int, optional
        Numbers of the materials to take from.
    caps : ndarray, shape (rows,), optional
        No row lies off by more; the result is refined to the last digits.

    Returns
    -------
    Closest or None
        None where no mixture has fluxes, or keeps the limits.
    """
    use = np.arange(len(problem.fluxes)) if only is None else np.asarray(only, dtype=np.intp)
    goals = len(problem.goal_rows)
    weight = np.ones(len(problem.rows))
    weight[goals:] = 0.0
    found = _linear(problem, use, weight, None, caps)
    if found is None:
        return None
    amounts, first = found
    if len(problem.near_rows):
        weight = np.zeros(len(problem.rows))
        weight[goals:] = 1.0
        refined = _linear(problem, use, weight, first + _NOTHING, caps)
        amounts = refined[0] if refined is not None else amounts
    if caps is not None:
        amounts = _polished(problem, amounts)
    off = problem.off(amounts)
    return Closest(amounts, float(off[:goals].sum()), float(off[goals:].sum()))


def fewest(problem: Problem, best: Closest, seconds: float) -> Few:
    """Find the fewest materials that come as close as `best`.

    Parameters
    ----------
    problem : Problem
    best : Closest
    seconds : float
        The solver stops by then with the best that it has.
    """
    began = time.monotonic()
    program = _Fewest(problem, best)
    proved = False
    # Most wishes are done by the first step. The hard ones go first to what the linear
    # programs used, then to the whole shelf with tighter bounds, which take a while to find.
    for step, share in ((_Step.QUICK, 0.3), (_Step.AMONG_USED, 0.6), (_Step.TIGHTENED, 1.0)):
        program.prepare(step)
        left = share * seconds - (time.monotonic() - began)
        proved = left > 0 and program.count(left, step is _Step.AMONG_USED)
        if proved and step is not _Step.AMONG_USED:
            break
    return program.few(proved)


def fewer(problem: Problem, found: Closest, only: Sequence[int]) -> Few:
    """Thin out a recipe by linear programs alone, without a proof; quick.

    Parameters
    ----------
    problem : Problem
    found : Closest
        A recipe of the materials `only`.
    only : sequence of int
        Numbers of the materials to take from.
    """
    program = _Fewest(problem, found, only)
    program.thin(found.amounts)
    return program.few(False)


def least_off(problem: Problem, row: int, held: float) -> Floats | None:
    """Amounts at which one row is least off while every other goal is met.

    Parameters
    ----------
    problem : Problem
    row : int
        Of ``problem.rows``.
    held : float
        How far off each other goal may lie [mol].

    Returns
    -------
    ndarray, shape (n,), or None where the others cannot all be met.
    """
    k = len(problem.rows)
    weight, caps = np.zeros(k), np.full(k, held)
    weight[row], caps[row] = 1.0, np.inf
    found = _linear(problem, np.arange(len(problem.fluxes)), weight, None, caps)
    return found[0] if found is not None else None


def _linear(
    problem: Problem, use: NDArray[np.intp], weight: Floats, cap: float | None, caps: Floats | None
) -> tuple[Floats, float] | None:
    """Minimise the weighted distance; `cap` holds the sum over the goals."""
    n, k, goals = len(use), len(problem.rows), len(problem.goal_rows)
    low, high = problem.low_high
    values = problem.gives[use][:, problem.rows].T
    eye = np.eye(k)
    blocks = [
        (np.hstack([values, -eye]), -np.inf, high),
        (np.hstack([values, eye]), low, np.inf),
        (np.concatenate([problem.fluxes[use], np.zeros(k)])[None], 1.0, 1.0),
    ]
    if len(problem.limit_rows):
        row = np.hstack([problem.limit_rows[:, use], np.zeros((len(problem.limit_rows), k))])
        blocks.append((row, -np.inf, 0.0))
    if cap is not None:
        row = np.concatenate([np.zeros(n), np.ones(goals), np.zeros(k - goals)])[None]
        blocks.append((row, -np.inf, cap))
    cost = np.concatenate([_TIE * (1.0 + 5.0 * problem.shelf.reluctance[use]), weight])
    top = np.concatenate([np.full(n, _MOST), np.full(k, np.inf) if caps is None else caps])
    result = _highs(cost, blocks, top)
    if result is None:
        return None
    amounts = np.zeros(len(problem.fluxes))
    amounts[use] = np.maximum(result[:n], 0.0)
    return amounts, float(result[n:] @ weight)


def _polished(problem: Problem, amounts: Floats) -> Floats:
    """Bring a solution from the solver's tolerance to that of the arithmetic.

    Oxides that the program put on a bound are put there by least squares.
    """
    use = np.flatnonzero(amounts > 1e-9)
    low, high = problem.low_high
    value = amounts @ problem.gives[:, problem.rows]
    on_low, on_high = np.abs(value - low) < 1e-6, np.abs(value - high) < 1e-6
    fixed = on_low | on_high
    matrix = np.vstack([problem.gives[use][:, problem.rows[fixed]].T, problem.fluxes[use]])
    wanted = np.concatenate([np.where(on_low, low, high)[fixed], [1.0]])
    step = np.linalg.lstsq(matrix, wanted - matrix @ amounts[use], rcond=None)[0]
    moved = amounts.copy()
    moved[use] += step
    moved[amounts <= 1e-9] = 0.0
    limits_kept = not len(problem.limit_rows) or (problem.limit_rows @ moved).max() < 1e-9
    better = problem.off(moved).sum() <= problem.off(amounts).sum() + 1e-9
    if moved.min() < 0 or not limits_kept or not better:
        return amounts
    return np.asarray(moved)


class _Step(Enum):
    QUICK = 1
    AMONG_USED = 2
    TIGHTENED = 3


class _Fewest:
    """The programs that count materials, on the part of the shelf that can matter."""

    def __init__(self, problem: Problem, best: Closest, only: Sequence[int] | None = None) -> None:
        low, high = problem.low_high
        goals = len(problem.goal_rows)
        self.cap = np.full(len(low), EQUALLY_CLOSE)
        self._sums: list[tuple[slice, float]] = []
        for part, distance in ((slice(0, goals), best.goals), (slice(goals, None), best.others)):
            if distance > EQUALLY_CLOSE:
                self.cap[part] = distance + EQUALLY_CLOSE
                self._sums.append((part, distance + EQUALLY_CLOSE))
        every = problem.gives[:, problem.rows]
        room = np.where(np.isfinite(high), high + self.cap, np.inf)
        with np.errstate(divide="ignore"):
            share = np.where(every > 0, room / np.maximum(every, 1e-300), np.inf)
            by_flux = np.where(problem.fluxes > 0, 1.0 / problem.fluxes, np.inf)
        most = np.minimum(np.minimum(share.min(axis=1, initial=np.inf), by_flux), _MOST)
        # What cannot move any oxide by as much as counts stays on the shelf.
        if only is not None:
            most[np.setdiff1d(np.arange(len(most)), only)] = 0.0
        matters = (most * problem.gives.max(axis=1) > EQUALLY_CLOSE) | (best.amounts > 1e-9)
        self._use = distinct(problem, np.flatnonzero(matters), best.amounts > 1e-9)
        self._most = np.maximum(most, best.amounts)[self._use]
        self._open = np.ones(len(self._use))
        self._charge = 1.0 + _UNWILLING * problem.shelf.reluctance[self._use]
        self._used: set[int] = set()
        # What was found already, where no linear program finds better.
        self.best = np.flatnonzero(best.amounts[self._use] > 1e-9).tolist()
        self._problem, self._low, self._high = problem, low, high
        # A wish that is reached needs no distances, only a band about each oxide.
        self._distances = len(low) if self._sums else 0

    def _blocks(self, tail: int) -> list[tuple[Floats, Any, Any]]:
        """Rows over [scaled amounts, distances, `tail` more]."""
        problem, use, k = self._problem, self._use, self._distances
        values = (problem.gives[use][:, problem.rows] * self._most[:, None]).T
        upper, lower = np.isfinite(self._high), self._low > 0
        blocks: list[tuple[Floats, Any, Any]] = [
            (self._wide(problem.fluxes[use] * self._most, k, tail)[None], 1.0, 1.0),
        ]
        if k:
            eye, none = np.eye(k), np.zeros((k, tail))
            blocks += [
                (np.hstack([values, -eye, none])[upper], -np.inf, self._high[upper]),
                (np.hstack([values, eye, none])[lower], self._low[lower], np.inf),
            ]
        else:
            band = np.where(lower, self._low - self.cap, -np.inf), self._high + self.cap
            blocks.append((np.hstack([values, np.zeros((len(values), tail))]), *band))
        for row in problem.limit_rows:
            blocks.append((self._wide(row[use] * self._most, k, tail)[None], -np.inf, 0.0))
        for part, cap in self._sums:
            row = np.zeros(len(use) + k + tail)
            row[len(use) : len(use) + k][part] = 1.0
            blocks.append((row[None], -np.inf, cap))
        return blocks

    @staticmethod
    def _wide(row: Floats, k: int, tail: int) -> Floats:
        return np.concatenate([row, np.zeros(k + tail)])

    def prepare(self, step: _Step) -> None:
        """Do what a step needs before its integer program."""
        if step is _Step.QUICK:
            self._reweight(self._charge)
        elif step is _Step.AMONG_USED:
            random = np.random.default_rng(0)
            for _ in range(_STARTS):
                self._reweight(random.uniform(0.2, 1.0, len(self._use)))
        else:
            self._tighten()

    def _reweight(self, price: Floats, rounds: int = _ROUNDS) -> None:
        """Look for a good set by linear programs that charge small amounts more each round.

        Candès, Wakin and Boyd (2008), J. Fourier Anal. Appl. 14, 877.
        """
        n, k = len(self._use), self._distances
        blocks = self._blocks(0)
        top = np.concatenate([np.ones(n), self.cap[:k]])
        last: set[int] = set()
        for _ in range(rounds):
            result = _highs(np.concatenate([price, np.zeros(k)]), blocks, top)
            if result is None:
                return
            used = set(np.flatnonzero(result[:n] > 1e-9).tolist())
            self._used |= used
            if len(used) < len(self.best):
                self.best = sorted(used)
            if used == last:
                return
            last = used
            price = self._charge / (result[:n] + 1e-3)

    def _tighten(self) -> None:
        """Bound each amount by what the wish lets it be at most, one linear program each."""
        n, k = len(self._use), self._distances
        blocks = self._blocks(0)
        top = np.concatenate([np.ones(n), self.cap[:k]])
        scale = np.ones(n)
        for i in range(n):
            cost = np.zeros(n + k)
            cost[i] = -1.0
            result = _highs(cost, blocks, top)
            if result is not None:
                scale[i] = top[i] = min(1.0, float(result[i]) * 1.001 + 1e-7)
        self._most = self._most * scale
        reach = self._most * self._problem.gives[self._use].max(axis=1)
        self._open = (reach > 0.01 * EQUALLY_CLOSE).astype(float)

    def count(self, seconds: float, among_used: bool) -> bool:
        """Look for fewer than the best; return whether that was decided in the time."""
        n, k = len(self._use), self._distances
        blocks = self._blocks(n)
        tie = np.hstack([np.eye(n), np.zeros((n, k)), -np.eye(n)])
        blocks.append((tie, -np.inf, 0.0))
        count = np.concatenate([np.zeros(n + k), np.ones(n)])
        if len(self.best) == 1:
            return True
        blocks.append((count[None], -np.inf, len(self.best) - 1.0))
        may = self._open
        if among_used:
            may = may * np.isin(np.arange(n), list(self._used))
        top = np.concatenate([may, self.cap[:k], may])
        whole = np.concatenate([np.zeros(n + k), np.ones(n)])
        # Among sets of one size the solver takes what is taken more willingly.
        cost = count.copy()
        cost[n + k :] += 1e-3 * self._problem.shelf.reluctance[self._use]
        result, proved = _highs_integer(cost, blocks, top, whole, seconds)
        if result is not None:
            self.best = np.flatnonzero(result[n + k :] > 0.5).tolist()
        return proved

    def thin(self, amounts: Floats) -> None:
        """Start from a recipe, and charge most for what it has least of."""
        self._reweight(self._charge / (amounts[self._use] / self._most + 1e-3), rounds=2)

    def few(self, proved: bool) -> Few:
        """Return the best set, by numbers on the whole shelf."""
        return Few(frozenset(int(i) for i in self._use[self.best]), self.cap, proved)


def distinct(problem: Problem, use: NDArray[np.intp], kept: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Leave out materials that fire to the same as one before them.

    Raw and calcined kaolin are one for the formula; two of a kind would make the
    solver try everything twice. Limits on the batch tell them apart.
    """
    if len(problem.limit_rows):
        return use
    fired = problem.gives[use]
    share = fired / np.maximum(fired.sum(axis=1, keepdims=True), 1e-300)
    order = np.argsort(problem.shelf.reluctance[use], kind="stable")
    use, share = use[order], share[order]
    _, first = np.unique(np.round(share, 6), axis=0, return_index=True)
    return np.union1d(use[first], use[kept[use]])


def _stacked(blocks: list[tuple[Floats, Any, Any]]) -> Any:
    from scipy.optimize import LinearConstraint

    rows = np.vstack([block for block, _, _ in blocks])
    low = np.concatenate([np.broadcast_to(a, len(block)) for block, a, _ in blocks])
    high = np.concatenate([np.broadcast_to(b, len(block)) for block, _, b in blocks])
    return LinearConstraint(rows, low, high)


def _highs(cost: Floats, blocks: list[tuple[Floats, Any, Any]], top: Floats) -> Floats | None:
    """Minimise ``cost @ v`` for 0 <= v <= top; None where nothing fits."""
    from scipy.optimize import Bounds, milp

    result = milp(cost, bounds=Bounds(0.0, top), constraints=_stacked(blocks))
    return None if result.x is None else np.asarray(result.x)


def _highs_integer(
    cost: Floats,
    blocks: list[tuple[Floats, Any, Any]],
    top: Floats,
    whole: Floats,
    seconds: float,
) -> tuple[Floats | None, bool]:
    from scipy.optimize import Bounds, milp

    result = milp(
        cost,
        integrality=whole,
        bounds=Bounds(0.0, top),
        constraints=_stacked(blocks),
        # The count is whole: a gap below one is none.
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    # 0: solved, 2: proved infeasible; 1 is the time limit.
    return (None if result.x is None else np.asarray(result.x)), result.status in (0, 2)
