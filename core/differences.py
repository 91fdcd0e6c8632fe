"""What differs between two states of a recipe, in plain words."""

from __future__ import annotations

from collections.abc import Callable

from core.numbers import number_text
from core.recipe import Recipe, Rows, Section


def differences(
    before: Recipe, after: Recipe, name_of: Callable[[str], str] = str
) -> tuple[str, ...]:
    """Say what changed from one state of a recipe to another; nothing if they are equal.

    Parameters
    ----------
    before, after : Recipe
    name_of : callable
        Gives the name of a material by its id.

    Examples
    --------
    >>> from core.recipe import Ingredient
    >>> old = Recipe("Eider", base=(Ingredient("talc", 16.0), Ingredient("kaolin", 20.0)))
    >>> new = Recipe("Eider", base=(Ingredient("talc", 18.0), Ingredient("silica", 3.0)))
    >>> differences(old, new)
    ('talc 16 → 18', 'kaolin 20 out', 'silica 3 new')
    """
    said = [
        *_rows(before, after, Section.BASE, "", name_of),
        *_rows(before, after, Section.ADDITIONS, " %", name_of),
    ]
    for word in ("name", "firing", "body", "shelf"):
        old, new = getattr(before, word), getattr(after, word)
        if old != new:
            said.append(f"{word} {old or 'none'} → {new or 'none'}")
    old_variants = {v.name: v for v in before.variants}
    new_variants = {v.name: v for v in after.variants}
    for name in dict.fromkeys([*old_variants, *new_variants]):
        if name not in new_variants:
            said.append(f"variant {name} out")
        elif name not in old_variants:
            said.append(f"variant {name} new")
        elif old_variants[name] != new_variants[name]:
            said.append(f"variant {name} changed")
    if before.notes != after.notes:
        said.append("notes changed")
    if not said and (before.base, before.additions) != (after.base, after.additions):
        said.append("order or locks of the rows changed")
    return tuple(said)


def _rows(
    before: Recipe, after: Recipe, section: Section, unit: str, name_of: Callable[[str], str]
) -> list[str]:
    old, new = _amounts(before.rows(section)), _amounts(after.rows(section))
    said = []
    for material in dict.fromkeys([*old, *new]):
        name = name_of(material)
        if material not in new:
            said.append(f"{name} {number_text(old[material])}{unit} out")
        elif material not in old:
            said.append(f"{name} {number_text(new[material])}{unit} new")
        elif old[material] != new[material]:
            said.append(f"{name} {number_text(old[material])} → {number_text(new[material])}{unit}")
    return said


def _amounts(rows: Rows) -> dict[str, float]:
    """Add up the rows of one material."""
    amounts: dict[str, float] = {}
    for row in rows:
        amounts[row.material] = amounts.get(row.material, 0.0) + row.amount
    return amounts
