"""Naming corners by what they hold: "most clay", "most silica"."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from core.blend.mix import dry_weight
from core.evaluate import batch_amounts, formula_alone, material_of
from core.recipe import Recipe
from core.studio import Studio

LEAST_LEAD = 0.2
"""Percent by which a corner must lead the next one to be named after what it leads in."""


@dataclass(frozen=True, slots=True)
class _Claim:
    lead: float
    corner: int
    words: str


def corner_names(recipes: Sequence[Recipe], studio: Studio) -> tuple[str, ...]:
    """Name each corner by what it holds more of than the others.

    Clay, silica and single materials are counted in percent of the dry weight,
    flux in moles per hundred of the fired oxides. Two ends are named after what
    they differ in most ("least silica" where one is only diluted by the other's).
    Three or more are named after clay, silica and flux first; a corner that
    leads in none of them is called "least flux" where that is so, else after the
    material it leads in, else after its recipe. No name is given twice.

    Examples
    --------
    >>> from core.recipe import Ingredient
    >>> ends = [Recipe("T", base=(Ingredient("kaolin", a), Ingredient("silica", 100.0 - a)))
    ...         for a in (30.0, 70.0)]
    >>> corner_names(ends, Studio())
    ('most silica', 'most clay')
    """
    names = [""] * len(recipes)
    measures: list[tuple[str, Callable[[Recipe], float], bool]] = [
        ("most clay", lambda r: _group_percent(r, studio, "clay"), True),
        ("most silica", lambda r: _group_percent(r, studio, "silica"), True),
        ("most flux", lambda r: _flux_percent(r, studio), True),
    ]
    rows = [row.material for r in recipes for row in (*r.base, *r.additions)]
    materials: list[tuple[str, Callable[[Recipe], float], bool]] = []
    for material in dict.fromkeys(rows):
        known = next((m for r in recipes if (m := material_of(r, studio, material))), None)
        words = f"most {_lower(known.name) if known is not None else material}"
        materials.append((words, _percent_of(material), True))
    least = ("least flux", lambda r: _flux_percent(r, studio), False)
    if len(recipes) == 2:
        _name_ends(names, [_claim(recipes, names, *one) for one in (*measures, *materials)])
    tiers = [measures, [least], *([one] for one in materials)]
    for tier in tiers:
        _award(names, [_claim(recipes, names, *measure) for measure in tier])
    taken: set[str] = set(names)
    for number, name in enumerate(names):
        if not name:
            # Twins: only their recipes and their places tell them apart.
            name = recipes[number].name or f"corner {number + 1}"
            if name in taken:
                name = f"{name}, corner {number + 1}"
            names[number] = name
            taken.add(name)
    return tuple(names)


def _name_ends(names: list[str], claims: Sequence[_Claim | None]) -> None:
    """Name two ends after what parts them most; what is only diluted names no end."""
    _award(names, claims)
    led = sorted((c for c in claims if c is not None), key=lambda c: -c.lead)
    if not led:
        return
    top, other = led[0], 1 - led[0].corner
    own = next((c.lead for c in led if c.corner == other), 0.0)
    if own < top.lead / 2.0:
        names[other] = top.words.replace("most ", "least ", 1)


def _award(names: list[str], claims: Sequence[_Claim | None]) -> None:
    """Give names out, the clearest lead first."""
    for claim in sorted((c for c in claims if c is not None), key=lambda c: -c.lead):
        if not names[claim.corner]:
            names[claim.corner] = claim.words


def _claim(
    recipes: Sequence[Recipe],
    names: Sequence[str],
    words: str,
    measure: Callable[[Recipe], float],
    largest: bool,
) -> _Claim | None:
    values = [measure(recipe) if largest else -measure(recipe) for recipe in recipes]
    order = sorted(range(len(values)), key=lambda i: -values[i])
    if len(order) < 2 or names[order[0]] or not all(map(math.isfinite, values)):
        return None
    lead = values[order[0]] - values[order[1]]
    return _Claim(lead, order[0], words) if lead >= LEAST_LEAD else None


def _group_percent(recipe: Recipe, studio: Studio, group: str) -> float:
    weight = 0.0
    for material_id, amount in batch_amounts(recipe):
        material = material_of(recipe, studio, material_id)
        if material is not None and material.group == group:
            weight += amount
    return _percent(weight, recipe)


def _percent_of(material_id: str) -> Callable[[Recipe], float]:
    def percent(recipe: Recipe) -> float:
        weight = math.fsum(amount for m, amount in batch_amounts(recipe) if m == material_id)
        return _percent(weight, recipe)

    return percent


def _percent(weight: float, recipe: Recipe) -> float:
    whole = dry_weight(recipe)
    return 100.0 * weight / whole if whole > 0 else 0.0


def _flux_percent(recipe: Recipe, studio: Studio) -> float:
    formula = formula_alone(recipe, studio)
    if formula.mole_percent is None:
        return 0.0
    return float(formula.mole_percent @ studio.convention.mask)


def _lower(name: str) -> str:
    return name[:1].lower() + name[1:] if name[1:2].islower() else name
