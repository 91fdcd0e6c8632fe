"""Changing amounts: by a step, with the other rows fixed or the total held."""

from __future__ import annotations

import math
from dataclasses import replace

from core.errors import InputError
from core.recipe import Ingredient, Recipe, Section, total

STEPS = (0.1, 0.5, 1.0, 5.0)
HELD_TOTAL = 100.0
# Steps are decimal; this keeps 0.1 + 0.1 + 0.1 at 0.3 in the file.
_DECIMALS = 9


def set_amount(
    recipe: Recipe, section: Section, row: int, amount: float, hold_total: bool = False
) -> Recipe:
    """Return a copy in which `row` has another amount.

    Parameters
    ----------
    recipe : Recipe
    section : Section
    row : int
    amount : float
        Parts, or percent among the additions.
    hold_total : bool
        Base rows only: let the other unlocked rows give or take in their own
        proportions so that the base adds up to 100. The locked rows stay.

    Raises
    ------
    InputError
        If the amount cannot be weighed, or the total cannot be held.
    """
    changed = recipe.with_amount(section, row, amount)
    if not hold_total or section is not Section.BASE:
        return changed
    rows = list(changed.base)
    free = [i for i, r in enumerate(rows) if i != row and not r.locked]
    fixed = math.fsum(r.amount for i, r in enumerate(rows) if i not in free)
    giving = math.fsum(rows[i].amount for i in free)
    left = HELD_TOTAL - fixed
    if left < 0:
        raise InputError(
            f"{amount:g} and the locked rows are more than {HELD_TOTAL:.0f}",
            "unlock a row or give less",
        )
    if giving <= 0:
        raise InputError(
            "no other row is free to make up the total", "unlock a row or let the total move"
        )
    for i in free:
        rows[i] = replace(rows[i], amount=rows[i].amount / giving * left)
    return changed.with_rows(section, tuple(rows))


def nudge(
    recipe: Recipe, section: Section, row: int, step: float, hold_total: bool = False
) -> Recipe:
    """Return a copy in which `row` is larger by `step`, never below zero.

    Raises
    ------
    InputError
        If the total cannot be held.
    """
    amount = round(recipe.rows(section)[row].amount + step, _DECIMALS)
    amount = max(amount, 0.0)
    if hold_total and section is Section.BASE:
        locked = math.fsum(r.amount for i, r in enumerate(recipe.base) if r.locked and i != row)
        amount = min(amount, max(HELD_TOTAL - locked, 0.0))
    return set_amount(recipe, section, row, amount, hold_total)


def scale_to(recipe: Recipe, target: float = HELD_TOTAL) -> Recipe:
    """Return a copy whose base adds up to `target`, every ratio as it was.

    Raises
    ------
    InputError
        If the base weighs nothing.
    """
    present = total(recipe.base)
    if present <= 0:
        raise InputError("the base weighs nothing", "give a row some parts first")

    def scaled(row: Ingredient) -> Ingredient:
        # In this order a vanishing base cannot overflow.
        return replace(row, amount=row.amount / present * target)

    return recipe.with_rows(Section.BASE, tuple(scaled(row) for row in recipe.base))
