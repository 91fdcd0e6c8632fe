"""Swap: change materials for others and keep the formula."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.evaluate import formula_alone
from core.materials import Material
from core.oxides import INDEX, OXIDES
from core.recipe import Ingredient, Recipe, Section, total
from core.solve.shelf import found
from core.studio import Studio
from core.variants import RowChange, changes, rows_of

Floats = NDArray[np.float64]

KEPT: Final = 0.005
"""An oxide counts as kept when it shifts by no more [mol per mole of fluxes]."""
_HAIR: Final = 1e-6
"""The solver puts an oxide on the limit itself; this much past it is arithmetic [mol]."""
EXACT: Final = 1e-6
_NOTHING: Final = 1e-7
_ROUNDS: Final = 4


@dataclass(frozen=True, eq=False, slots=True)
class Swapped:
    """A recipe with materials swapped, and what moved."""

    recipe: Recipe
    """The total of its base is what comes of it; additions keep their weight."""
    before: Floats
    """Unity formula, shape (25,)."""
    after: Floats
    shifts: dict[str, float]
    """After less before, oxides that moved by more than rounding of the arithmetic."""
    kept: bool
    """Whether every oxide that was to be kept lies within `KEPT`."""
    exact: bool
    """Whether the whole formula is the same to `EXACT`."""
    rows: tuple[RowChange, ...]
    """What changed in base and additions."""
    unused: tuple[str, ...]
    """Ids that were offered and did not help."""
    notes: tuple[str, ...]
    """What moved and why, in words for the potter."""

    @property
    def point_before(self) -> tuple[float, float]:
        """(SiO2, Al2O3) on the map."""
        return float(self.before[INDEX["SiO2"]]), float(self.before[INDEX["Al2O3"]])

    @property
    def point_after(self) -> tuple[float, float]:
        """(SiO2, Al2O3) on the map."""
        return float(self.after[INDEX["SiO2"]]), float(self.after[INDEX["Al2O3"]])


def swap(
    recipe: Recipe,
    studio: Studio,
    out: Sequence[str],
    into: Sequence[str],
    keep: Sequence[str] | None = None,
    moving: Sequence[str] = (),
) -> Swapped:
    """Take materials out of the base and put others in, the formula as near as can be.

    First the oxides to keep come within `KEPT` where that is possible, then
    the sum of all shifts is the least possible, then the rows that may move
    move the least. Linear programs, solved by HiGHS.

    Parameters
    ----------
    recipe : Recipe
    studio : Studio
    out : sequence of ids
        Base rows that go.
    into : sequence of ids
        Materials that come; one that is a row already may grow.
    keep : sequence of oxides, optional
        All that the recipe has, when left out.
    moving : sequence of ids
        Other base rows that may change, unless locked.

    Raises
    ------
    InputError
        If a material is no row or not in the tables, a row that goes is
        locked, or there is no flux.
    """
    rows = recipe.base
    present = [row.material for row in rows]
    _check(recipe, out, into, moving)
    before = formula_alone(recipe, studio)
    if before.unity is None:
        raise InputError("there is no flux, so no formula to keep", "add a flux first")
    for row in recipe.additions:
        found(recipe, studio, row.material)
    kept_oxides = _kept_oxides(keep, before.unity)
    incoming = [found(recipe, studio, i) for i in dict.fromkeys(into)]
    movable = [i for i, row in enumerate(rows) if row.material in moving and not row.locked]
    stays = [i for i in range(len(rows)) if present[i] not in out and i not in movable]
    base_total = total(rows)
    fixed = np.zeros(len(OXIDES))
    for i in stays:
        fixed += rows[i].amount * found(recipe, studio, present[i]).moles_per_gram
    for row in recipe.additions:
        weight = row.amount / 100.0 * base_total
        fixed += weight * found(recipe, studio, row.material).moles_per_gram
    materials = [*incoming, *(found(recipe, studio, present[i]) for i in movable)]
    begin = np.array([0.0] * len(incoming) + [rows[i].amount for i in movable])
    program = _Program(
        moles=np.array([m.moles_per_gram for m in materials]).reshape(-1, len(OXIDES)),
        fixed=fixed,
        unity=before.unity,
        fluxes=float(before.moles @ studio.convention.mask),
        mask=studio.convention.mask,
        keep=np.array([INDEX[o] for o in kept_oxides]),
        begin=begin,
        scale=base_total,
        coming=len(incoming),
    )
    amounts = program.solve()
    recipe_after = _rebuilt(recipe, out, incoming, movable, amounts)
    after = formula_alone(recipe_after, studio)
    if after.unity is None:
        raise InputError("without it there is no flux left", "put in a material that brings one")
    difference = after.unity - before.unity
    shifts = {
        oxide: float(shift)
        for oxide, shift in zip(OXIDES, difference, strict=True)
        if abs(shift) > 1e-9
    }
    unused = tuple(m.id for m, a in zip(incoming, amounts, strict=False) if a <= 0)
    return Swapped(
        recipe=recipe_after,
        before=before.unity,
        after=after.unity,
        shifts=shifts,
        kept=all(abs(shifts.get(o, 0.0)) <= KEPT + _HAIR for o in kept_oxides),
        exact=float(np.abs(difference).max()) <= EXACT,
        rows=tuple(changes(rows_of(recipe), rows_of(recipe_after))),
        unused=unused,
        notes=_notes(shifts, before.unity, materials, unused, recipe, recipe_after),
    )


def _check(recipe: Recipe, out: Sequence[str], into: Sequence[str], moving: Sequence[str]) -> None:
    present = {row.material for row in recipe.base}
    if not out or not into:
        raise InputError("a swap needs materials to take out and to put in", "name both")
    for material_id in (*out, *moving):
        if material_id not in present:
            raise InputError(
                f"{material_id!r} is no row of the base",
                f"the base has {', '.join(sorted(present)) or 'no rows'}",
            )
    for material_id in into:
        if material_id in out:
            raise InputError(f"{material_id!r} goes out and comes in", "name another")
    for row in recipe.base:
        if row.material in out and row.locked:
            raise InputError(f"the row {row.material!r} is locked", "unlock it first")
        if row.material in into and row.locked:
            raise InputError(f"the row {row.material!r} is locked", "unlock it so that it may grow")


def _kept_oxides(keep: Sequence[str] | None, unity: Floats) -> tuple[str, ...]:
    if keep is None:
        return tuple(o for o, value in zip(OXIDES, unity, strict=True) if value > 0)
    for oxide in keep:
        if oxide not in INDEX:
            raise InputError(f"{oxide!r} is no oxide of the basis", f"use {' '.join(OXIDES)}")
    return tuple(keep)


@dataclass(frozen=True, eq=False)
class _Program:
    moles: Floats
    fixed: Floats
    unity: Floats
    fluxes: float
    mask: Floats
    keep: NDArray[np.intp]
    begin: Floats
    scale: float
    coming: int

    def solve(self) -> Floats:
        """Amounts of what comes in, then of the rows that may move [parts]."""
        n, k = len(self.moles), len(OXIDES)
        # What oxide i is above its share of the fluxes, in moles of the recipe as it was.
        drift = (self.moles - np.outer(self.moles @ self.mask, self.unity)) / self.fluxes
        rest = (self.fixed - float(self.fixed @ self.mask) * self.unity) / self.fluxes
        flux = self.moles @ self.mask / self.fluxes
        flux_rest = float(self.fixed @ self.mask) / self.fluxes
        drift, flux = drift * self.scale, flux * self.scale
        eye, none = np.eye(k), np.zeros((k, k))
        # Variables: amounts in parts of the whole, shifts, excess over KEPT, moves.
        m = len(self.begin)
        pad = np.zeros((k, m))
        blocks: list[tuple[Floats, Any, Any]] = [
            (np.hstack([drift.T, -eye, none, pad]), -np.inf, -rest),
            (np.hstack([drift.T, eye, none, pad]), -rest, np.inf),
            (
                np.hstack([-KEPT * np.tile(flux, (k, 1)), eye, -eye, pad])[self.keep],
                -np.inf,
                KEPT * flux_rest,
            ),
        ]
        begin = self.begin / self.scale
        moved = np.hstack([np.eye(m), np.zeros((m, 2 * k)), -np.eye(m)])
        back = np.hstack([np.eye(m), np.zeros((m, 2 * k)), np.eye(m)])
        blocks += [(moved, -np.inf, begin), (back, begin, np.inf)]
        if flux_rest <= _NOTHING:
            # With nothing fixed that melts, the size of the recipe has to be.
            row = np.concatenate([flux, np.zeros(2 * k + m)])[None]
            blocks.append((row, 1.0, 1.0))
        shift = np.concatenate([np.zeros(n), np.ones(k), np.zeros(k + m)])
        excess = np.concatenate([np.zeros(n + k), np.ones(k), np.zeros(m)])
        move = np.concatenate([np.full(n, 1e-6), np.zeros(2 * k), np.ones(m)])
        size = np.concatenate([flux, np.zeros(2 * k + m)])
        first = _minimised(excess, blocks)
        blocks.append((excess[None], -np.inf, float(first @ excess) + _NOTHING))
        # Shifts are per mole of fluxes after the swap: a quotient, brought to its least by
        # Dinkelbach's iteration (1967, Management Science 13, 492).
        ratio = 0.0
        for _ in range(_ROUNDS):
            best = _minimised(shift - ratio * size, blocks)
            new = float(best @ shift) / max(float(best @ size) + flux_rest, 1e-9)
            if abs(new - ratio) < 1e-12:
                break
            ratio = new
        blocks.append(((shift - ratio * size)[None], -np.inf, ratio * flux_rest + _NOTHING))
        amounts = np.maximum(_minimised(move, blocks)[:n], 0.0)
        return self._polished(amounts, drift, rest) * self.scale

    @staticmethod
    def _polished(amounts: Floats, drift: Floats, rest: Floats) -> Floats:
        """Bring the shifts from the solver's tolerance to that of the arithmetic."""
        amounts = np.where(amounts < 1e-7, 0.0, amounts)
        use = np.flatnonzero(amounts > 0)
        left = amounts @ drift + rest
        near = np.abs(left) < 1e-5
        if not len(use) or not near.any():
            return amounts
        step = np.linalg.lstsq(drift[use][:, near].T, -left[near], rcond=1e-9)[0]
        moved = amounts.copy()
        moved[use] += step
        after = moved @ drift + rest
        better = np.abs(after).sum() <= np.abs(left).sum() + 1e-12
        return moved if moved.min() >= 0 and better else amounts


def _minimised(cost: Floats, blocks: list[tuple[Floats, Any, Any]]) -> Floats:
    from scipy.optimize import Bounds, LinearConstraint, milp

    rows = np.vstack([block for block, _, _ in blocks])
    low = np.concatenate([np.broadcast_to(a, len(block)) for block, a, _ in blocks])
    high = np.concatenate([np.broadcast_to(b, len(block)) for block, _, b in blocks])
    result = milp(cost, bounds=Bounds(0.0, np.inf), constraints=LinearConstraint(rows, low, high))
    if result.x is None:
        raise InputError("nothing that comes in brings a flux", "put in a material that brings one")
    return np.asarray(result.x)


def _rebuilt(
    recipe: Recipe,
    out: Sequence[str],
    incoming: Sequence[Material],
    movable: Sequence[int],
    amounts: Floats,
) -> Recipe:
    moved = dict(zip(movable, amounts[len(incoming) :], strict=True))
    coming = {m.id: float(a) for m, a in zip(incoming, amounts, strict=False) if a > 0}
    rows: list[Ingredient] = []
    place = None
    for i, row in enumerate(recipe.base):
        if row.material in out:
            place = len(rows) if place is None else place
            continue
        amount = float(moved.get(i, row.amount)) + coming.pop(row.material, 0.0)
        rows.append(row if amount == row.amount else replace(row, amount=amount))
    new = [Ingredient(material_id, amount) for material_id, amount in coming.items()]
    at = len(rows) if place is None else place
    base = (*rows[:at], *new, *rows[at:])
    before, after = total(recipe.base), total(base)
    additions = recipe.additions
    if after > 0 and after != before:
        # Percent of another base: the same weight, so that the formula is the same.
        additions = tuple(replace(r, amount=r.amount * before / after) for r in additions)
    return recipe.with_rows(Section.BASE, base).with_rows(Section.ADDITIONS, additions)


def _notes(
    shifts: dict[str, float],
    unity: Floats,
    materials: Sequence[Material],
    unused: Sequence[str],
    recipe: Recipe,
    after: Recipe,
) -> tuple[str, ...]:
    lines = []
    for oxide, shift in sorted(shifts.items(), key=lambda item: -abs(item[1])):
        if abs(shift) <= KEPT + _HAIR:
            continue
        bring = [m.name for m in materials if m.moles_per_gram[INDEX[oxide]] > 0]
        was = float(unity[INDEX[oxide]])
        way = "rises" if shift > 0 else "falls"
        text = f"{oxide} {way} from {was:.3f} to {was + shift:.3f}"
        if shift < 0 and not bring:
            text += ": nothing that was put in brings it"
        elif shift > 0 and bring:
            text += f": {' and '.join(bring)} {'brings' if len(bring) == 1 else 'bring'} it along"
        lines.append(text)
    lines += [
        f"{next(m.name for m in materials if m.id == i)} does not help and was left out"
        for i in unused
    ]
    alkalis = [shifts.get(oxide, 0.0) for oxide in ("Na2O", "K2O")]
    if max(map(abs, alkalis)) > KEPT + _HAIR and alkalis[0] * alkalis[1] < 0:
        was = float(unity[INDEX["Na2O"]] + unity[INDEX["K2O"]])
        lines.append(f"Na2O and K2O together: {was:.3f} before, {was + sum(alkalis):.3f} after")
    now, then = total(after.base), total(recipe.base)
    if abs(now - then) > 1e-6:
        lines.append(f"The base now adds up to {now:.2f}, before {then:.2f}")
        if recipe.additions:
            lines.append("The additions keep their weight; their percent changed with the base")
    return tuple(lines)
