"""Variants: states of the rows kept for a tile run, and how they differ."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count

from core.errors import InputError
from core.recipe import Recipe, Rows, Section, Variant


@dataclass(frozen=True, slots=True)
class RowChange:
    """How one material differs between two states of the rows."""

    section: Section
    material: str
    before: float | None
    after: float | None

    @property
    def difference(self) -> float:
        """Amount after less amount before, a missing row counting as zero."""
        return (self.after or 0.0) - (self.before or 0.0)


def changes(
    before: tuple[Rows, Rows], after: tuple[Rows, Rows], tiny: float = 5e-7
) -> list[RowChange]:
    """List what differs between two states, material by material.

    Parameters
    ----------
    before, after : (base rows, addition rows)
        Rows of one material are added up.
    tiny : float
        Differences up to this do not count [parts].
    """
    found = []
    for section, old_rows, new_rows in zip(Section, before, after, strict=True):
        old, new = _amounts(old_rows), _amounts(new_rows)
        for material in [*old, *(m for m in new if m not in old)]:
            a, b = old.get(material), new.get(material)
            if (a is None) != (b is None) or abs((a or 0.0) - (b or 0.0)) > tiny:
                found.append(RowChange(section, material, a, b))
    return found


def rows_of(recipe: Recipe | Variant) -> tuple[Rows, Rows]:
    """Return base and addition rows of a recipe or variant."""
    return recipe.base, recipe.additions


def next_name(recipe: Recipe) -> str:
    """Return the first free letter: A, B, … Z, AA, AB, …

    Examples
    --------
    >>> next_name(Recipe())
    'A'
    """
    taken = {variant.name for variant in recipe.variants}
    return next(name for name in map(_letters, count()) if name not in taken)


def _letters(number: int) -> str:
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, 26)
        text = chr(ord("A") + digit) + text
    return text


def save_variant(recipe: Recipe, reason: str, day: str) -> Recipe:
    """Return a copy that keeps its present rows as a new variant.

    The new variant is based on the one that the rows were opened from.
    """
    variant = Variant(
        next_name(recipe), reason, recipe.base, recipe.additions, day, recipe.based_on
    )
    return replace(recipe, variants=(*recipe.variants, variant), based_on=variant.name)


def open_variant(recipe: Recipe, name: str) -> Recipe:
    """Return a copy whose rows are those of a variant.

    Raises
    ------
    InputError
        If there is no variant of that name.
    """
    variant = recipe.variant(name)
    if variant is None:
        names = ", ".join(v.name for v in recipe.variants) or "none"
        raise InputError(f"there is no variant {name!r}", f"the recipe has {names}")
    return replace(recipe, base=variant.base, additions=variant.additions, based_on=variant.name)


def matching(recipe: Recipe) -> Variant | None:
    """Return the variant whose rows are those of the recipe, the latest first, or None."""
    rows = rows_of(recipe)
    return next((v for v in reversed(recipe.variants) if rows_of(v) == rows), None)


def delete_variant(recipe: Recipe, name: str) -> Recipe:
    """Return a copy without a variant; what was based on it moves up to its parent."""
    doomed = recipe.variant(name)
    if doomed is None:
        return recipe
    kept = tuple(
        replace(v, based_on=doomed.based_on) if v.based_on == name else v
        for v in recipe.variants
        if v.name != name
    )
    based_on = doomed.based_on if recipe.based_on == name else recipe.based_on
    return replace(recipe, variants=kept, based_on=based_on)


def with_reason(recipe: Recipe, name: str, reason: str) -> Recipe:
    """Return a copy in which a variant has another reason."""
    return replace(
        recipe,
        variants=tuple(replace(v, reason=reason) if v.name == name else v for v in recipe.variants),
    )


def _amounts(rows: Rows) -> dict[str, float]:
    amounts: dict[str, float] = {}
    for row in rows:
        amounts[row.material] = amounts.get(row.material, 0.0) + row.amount
    return amounts


def as_recipe(recipe: Recipe, variant: Variant) -> Recipe:
    """Return the recipe with the rows of one of its variants."""
    return replace(recipe, base=variant.base, additions=variant.additions, based_on=variant.name)
