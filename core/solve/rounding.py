"""Round parts to a step of the scale's kind while the formula holds still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.evaluate import formula_alone
from core.formula import unity_formula
from core.oxides import OXIDES, Convention
from core.recipe import Recipe, Section
from core.solve.shelf import shelf_of
from core.studio import Studio

Floats = NDArray[np.float64]

TOTAL: Final = 100.0
_REACH: Final = 2
_SECONDS: Final = 0.3
_EXACT: Final = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class Rounded:
    """A recipe in round parts, and what that cost."""

    recipe: Recipe
    step: float
    shifts: dict[str, float]
    """Unity formula after less before, oxides that moved."""
    dropped: tuple[str, ...]
    """Ids of materials that came to nothing."""

    @property
    def worst(self) -> float:
        """Largest shift of any oxide [mol]."""
        return max((abs(shift) for shift in self.shifts.values()), default=0.0)


def round_parts(
    parts: Floats,
    moles_per_gram: Floats,
    step: float,
    locked: Sequence[bool] | None = None,
    convention: Convention | None = None,
) -> Floats:
    """Round parts to whole steps that add up to 100, the formula as near as can be.

    Each part moves by up to two steps; the sum of what the oxides of the
    unity formula shift is the least possible (a mixed-integer program, solved
    by HiGHS).

    Parameters
    ----------
    parts : ndarray, shape (n,)
        Scaled to a total of 100 first, locked rows aside.
    moles_per_gram : ndarray, shape (n, 25)
    step : float
        In parts, such as 0.5 or 1.
    locked : sequence of n bool, optional
        Rows that stay as they are.
    convention : Convention, optional

    Returns
    -------
    ndarray, shape (n,)

    Raises
    ------
    InputError
        If the step does not go into what is to be shared, or nothing may move.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    held = np.zeros(len(parts), bool) if locked is None else np.array(locked, bool)
    if not (np.isfinite(step) and 0.001 <= step <= 10):
        raise InputError(f"{step:g} is no step to round to", "give parts, such as 0.5 or 1")
    left = TOTAL - float(parts[held].sum())
    free = np.flatnonzero(~held)
    giving = float(parts[free].sum())
    if giving <= 0 or left <= 0:
        raise InputError("no row is free to be rounded", "unlock one")
    steps = round(left / step)
    if abs(steps * step - left) > 1e-6 * step:
        raise InputError(
            f"what is left beside the locked rows, {left:g}, is no whole number of {step:g}",
            "unlock a row or take another step",
        )
    exact = parts.astype(float).copy()
    exact[free] *= left / giving
    mask = (convention or Convention()).mask
    moles = exact @ moles_per_gram
    fluxes = float(moles @ mask)
    if fluxes <= 0:
        raise InputError("there is no flux, so no formula to hold", "add a flux first")
    unity = moles / fluxes
    # Shift of each oxide by one part, to first order in the flux sum.
    slope = (moles_per_gram - np.outer(moles_per_gram @ mask, unity)) / fluxes
    n, k = len(free), len(OXIDES)
    low = np.maximum(np.floor(exact[free] / step) - _REACH, 0.0)
    high = np.ceil(exact[free] / step) + _REACH
    values = slope[free].T * step
    base = exact[held] @ slope[held]
    eye = np.eye(k)
    result = milp(
        np.concatenate([np.zeros(n), np.ones(k)]),
        integrality=np.concatenate([np.ones(n), np.zeros(k)]),
        bounds=Bounds(
            np.concatenate([low, np.zeros(k)]), np.concatenate([high, np.full(k, np.inf)])
        ),
        constraints=[
            LinearConstraint(np.hstack([values, -eye]), -np.inf, -base),
            LinearConstraint(np.hstack([values, eye]), -base, np.inf),
            LinearConstraint(np.concatenate([np.ones(n), np.zeros(k)])[None], steps, steps),
        ],
        options={"time_limit": _SECONDS, "mip_rel_gap": 0.0},
    )
    if result.x is None:
        raise InputError(f"it cannot be rounded to {step:g}", "take a smaller step")
    rounded = exact.copy()
    rounded[free] = np.round(np.round(result.x[:n]) * step, 9)
    return rounded


def tidy(parts: Floats, step: float = 0.5) -> Floats:
    """Return the parts with those that are whole steps but for the arithmetic made whole."""
    whole = np.round(parts / step) * step
    return np.where(np.abs(parts - whole) < _EXACT * TOTAL, whole, parts)


def round_recipe(recipe: Recipe, studio: Studio, step: float = 0.5) -> Rounded:
    """Round the base of a recipe; its locked rows stay.

    Raises
    ------
    InputError
        If a material is missing from the tables, or it cannot be rounded.
    """
    used = shelf_of(recipe, studio, [row.material for row in recipe.base])
    place = {material_id: i for i, material_id in enumerate(used.ids)}
    moles = used.moles_per_gram[[place[row.material] for row in recipe.base]]
    parts = np.array([row.amount for row in recipe.base], dtype=float)
    locked = [row.locked for row in recipe.base]
    found = round_parts(parts, moles, step, locked, studio.convention)
    rows = tuple(
        replace(row, amount=float(amount))
        for row, amount in zip(recipe.base, found, strict=True)
        if amount > 0 or row.amount == 0
    )
    dropped = tuple(
        row.material
        for row, amount in zip(recipe.base, found, strict=True)
        if amount <= 0 < row.amount
    )
    after = recipe.with_rows(Section.BASE, rows)
    return Rounded(after, step, shifts_between(recipe, after, studio), dropped)


def shifts_between(before: Recipe, after: Recipe, studio: Studio) -> dict[str, float]:
    """Unity formula of one recipe less that of another, oxides that differ; empty without flux."""
    old, new = formula_alone(before, studio), formula_alone(after, studio)
    if old.unity is None or new.unity is None:
        return {}
    return {
        oxide: float(shift)
        for oxide, shift in zip(OXIDES, new.unity - old.unity, strict=True)
        if abs(shift) > 1e-12
    }


def unity_of(parts: Floats, moles_per_gram: Floats, convention: Convention) -> Floats:
    """Unity formula of parts, shape (25,); zeros where there is no flux."""
    unity = unity_formula(parts @ moles_per_gram, convention)
    return np.asarray(np.nan_to_num(unity))
