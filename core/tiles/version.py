"""The version of a recipe or a firing: another text as soon as anything that counts changes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from core.evaluate import material_of
from core.firing import Firing
from core.materials import Analysis
from core.numbers import number_text
from core.recipe import Recipe, Rows, Section, total
from core.studio import Studio

_DECIMALS = 6


def recipe_version(recipe: Recipe, studio: Studio) -> str:
    """Return the version of a recipe's rows with the analyses that it is computed with.

    Name, notes, order of rows, locks and the total of the base do not count;
    any amount, material or analysis does.

    Examples
    --------
    >>> from core.recipe import Ingredient
    >>> a = Recipe("A", base=(Ingredient("talc", 1.0), Ingredient("silica", 3.0)))
    >>> b = Recipe("B", base=(Ingredient("silica", 75.0), Ingredient("talc", 25.0)))
    >>> recipe_version(a, Studio()) == recipe_version(b, Studio())
    True
    """
    analyses = {}
    for row in (*recipe.base, *recipe.additions):
        material = material_of(recipe, studio, row.material)
        if material is not None:
            analyses[row.material] = material.analysis
    return rows_version(recipe.base, recipe.additions, analyses)


def rows_version(base: Rows, additions: Rows, analyses: Mapping[str, Analysis]) -> str:
    """Return the version of rows, given the analyses of their materials by id."""
    weight = total(base)
    lines = []
    for section, rows, factor in (
        (Section.BASE, base, 100.0 / weight if weight > 0 else 0.0),
        (Section.ADDITIONS, additions, 1.0),
    ):
        amounts: dict[str, float] = {}
        for row in rows:
            amounts[row.material] = amounts.get(row.material, 0.0) + row.amount * factor
        for material, amount in sorted(amounts.items()):
            if amount:
                known = _analysis_text(analyses.get(material))
                lines.append(f"{section} {material} {amount:.{_DECIMALS}f} {known}")
    return _digest(lines)


def firing_version(firing: Firing) -> str:
    """Return the version of a firing's schedule; its logs and notes do not count."""
    lines = [firing.id, firing.cone, firing.atmosphere]
    for segment in firing.segments:
        lines.append(
            f"{segment.rate} {segment.target_c} {segment.hold_min} {segment.natural_cooling}"
        )
    return _digest(lines)


def _analysis_text(analysis: Analysis | None) -> str:
    if analysis is None:
        return "?"
    figures = [f"{oxide}={value:.{_DECIMALS}f}" for oxide, value in analysis.percent if value]
    return " ".join([*figures, f"loi={number_text(round(analysis.loi, _DECIMALS) + 0.0)}"])


def _digest(lines: list[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:12]
