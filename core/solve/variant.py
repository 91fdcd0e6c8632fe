"""Keeping what a solver found as a variant of the recipe."""

from __future__ import annotations

from dataclasses import replace

from core.errors import InputError
from core.recipe import MOST_ROWS, Ingredient, Recipe, Section, Variant
from core.solve.aim import Proposal


def with_proposal(recipe: Recipe, proposal: Proposal) -> Recipe:
    """Return the recipe with the base that was proposed; its additions stay.

    Rows that stay keep their place; new ones follow, the heaviest first.
    """
    parts = dict(zip(proposal.materials, proposal.parts, strict=True))
    rows: list[Ingredient] = []
    for row in recipe.base:
        if row.material in parts:
            rows.append(replace(row, amount=parts.pop(row.material), locked=False))
    rows += [Ingredient(material, amount) for material, amount in parts.items()]
    return recipe.with_rows(Section.BASE, tuple(rows))


def with_named_variant(recipe: Recipe, solved: Recipe, name: str, reason: str, day: str) -> Recipe:
    """Return the recipe with the rows of another as a new variant; its own rows stay.

    Raises
    ------
    InputError
        If the name is empty or taken.
    """
    plain = name.strip()
    if not plain or not plain.isprintable():
        raise InputError("the variant needs a name", "give it one on one line")
    if recipe.variant(plain) is not None:
        names = ", ".join(v.name for v in recipe.variants)
        raise InputError(f"there is a variant {plain!r} already", f"take a name other than {names}")
    if len(solved.base) > MOST_ROWS:
        raise InputError(f"more than {MOST_ROWS} rows", "take some out")
    variant = Variant(plain, reason, solved.base, solved.additions, day, solved.based_on)
    return replace(recipe, variants=(*recipe.variants, variant))
