"""Mixing recipes by dry weight."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from core.errors import InputError
from core.evaluate import material_of
from core.recipe import Ingredient, Pin, Recipe, Rows, total
from core.studio import Studio

# Keeps 14.000000000000002 out of the files; a formula moves by some 1e-13.
_DECIMALS = 12


def dry_weight(recipe: Recipe) -> float:
    """Weight of base and additions together, in parts of the base."""
    return total(recipe.base) * (1.0 + total(recipe.additions) / 100.0)


def mixed(recipes: Sequence[Recipe], shares: Sequence[Fraction | float], name: str = "") -> Recipe:
    """Return the recipe that equals a mix of others by dry weight, its base adding up to 100.

    The dry weight of a recipe is that of its base and additions together, so
    that mixing slops of equal dry weight in equal volumes gives this recipe.
    Firing, shelf and body are those of the first.

    Parameters
    ----------
    recipes : sequence of n Recipe
    shares : sequence of n numbers
        Of the dry weight; zero or more, they sum to 1.

    Raises
    ------
    InputError
        If a recipe weighs nothing.
    """
    base: dict[str, list[float]] = {}
    additions: dict[str, list[float]] = {}
    for recipe, share in zip(recipes, shares, strict=True):
        weight = dry_weight(recipe)
        if not (math.isfinite(weight) and weight > 0):
            raise InputError(f"{recipe.name or 'a recipe'} weighs nothing", "give it some parts")
        if not share:
            continue
        per_part = float(share) / weight
        _pour(base, recipe.base, per_part)
        _pour(additions, recipe.additions, per_part * total(recipe.base) / 100.0)
    base_weight = math.fsum(part for parts in base.values() for part in parts)
    first = recipes[0]
    return Recipe(
        name=name or first.name,
        firing=first.firing,
        body=first.body,
        shelf=first.shelf,
        base=_rows(base, base_weight),
        additions=_rows(additions, base_weight),
        pinned=_pins(recipes),
    )


def _pour(into: dict[str, list[float]], rows: Rows, factor: float) -> None:
    for row in rows:
        into.setdefault(row.material, []).append(row.amount * factor)


def _rows(parts: Mapping[str, list[float]], base_weight: float) -> Rows:
    return tuple(
        Ingredient(material, round(100.0 * math.fsum(amounts) / base_weight, _DECIMALS))
        for material, amounts in parts.items()
        if any(amounts)
    )


def _pins(recipes: Sequence[Recipe]) -> dict[str, Pin]:
    pins: dict[str, Pin] = {}
    for recipe in recipes:
        pins = {**dict(recipe.pinned), **pins}
    return pins


def check_same_materials(recipes: Sequence[Recipe], studio: Studio) -> None:
    """Check that recipes mean the same thing by the same material.

    Raises
    ------
    InputError
        If two of them compute with different analyses of one material: no
        single jar could be weighed into both.
    """
    known: dict[str, tuple[str, object]] = {}
    for recipe in recipes:
        for row in (*recipe.base, *recipe.additions):
            material = material_of(recipe, studio, row.material)
            if material is None:
                continue
            owner, analysis = known.setdefault(row.material, (recipe.name, material.analysis))
            if analysis != material.analysis:
                raise InputError(
                    f"{owner} and {recipe.name} compute with different analyses of {material.name}",
                    "let both use the one in the jar before blending them",
                )
