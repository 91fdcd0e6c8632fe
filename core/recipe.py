"""A recipe is a value: every edit returns a new one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from core.errors import InputError
from core.materials import Analysis
from core.numbers import LARGEST_AMOUNT

MOST_ROWS = 200


class Section(StrEnum):
    """The two tables of a recipe."""

    BASE = "base"
    ADDITIONS = "additions"


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One row: a material and how much of it.

    In the base `amount` is parts by weight; among the additions it is
    percent of the base.
    """

    material: str
    amount: float
    locked: bool = False
    extra: Mapping[str, Any] = field(default_factory=dict)
    """Keys of the file that this program does not know, written back as they were."""


Rows = tuple[Ingredient, ...]


@dataclass(frozen=True, slots=True)
class Variant:
    """A saved state of the rows, with the reason for saving it."""

    name: str
    reason: str
    base: Rows
    additions: Rows
    saved: str = ""
    """The day, as ISO 8601 text."""
    based_on: str = ""
    """Name of the variant that the work went on from, or empty."""
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pin:
    """The analysis that a recipe was computed with."""

    name: str
    analysis: Analysis
    source: str = ""
    hazards: tuple[str, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A glaze recipe: base in parts by weight, additions in percent of the base."""

    name: str = ""
    firing: str = ""
    body: str = ""
    base: Rows = ()
    additions: Rows = ()
    variants: tuple[Variant, ...] = ()
    based_on: str = ""
    """Name of the variant that the rows were last opened from or saved as."""
    notes: str = ""
    pinned: Mapping[str, Pin] = field(default_factory=dict)
    shelf: str = ""
    """Where in the kiln it is fired, as the firing's logs call the place; empty if not said."""
    extra: Mapping[str, Any] = field(default_factory=dict)

    def rows(self, section: Section) -> Rows:
        """Return the rows of a section."""
        return self.base if section is Section.BASE else self.additions

    def with_rows(self, section: Section, rows: Rows) -> Recipe:
        """Return a copy with other rows in a section."""
        if len(rows) > MOST_ROWS:
            raise InputError(f"more than {MOST_ROWS} rows", "take some out")
        if section is Section.BASE:
            return replace(self, base=rows)
        return replace(self, additions=rows)

    def with_row(self, section: Section, row: int, ingredient: Ingredient) -> Recipe:
        """Return a copy in which one row is another."""
        rows = self.rows(section)
        return self.with_rows(section, (*rows[:row], ingredient, *rows[row + 1 :]))

    def with_amount(self, section: Section, row: int, amount: float) -> Recipe:
        """Return a copy in which `row` has another amount.

        Raises
        ------
        InputError
            If the amount is not finite, negative or absurdly large.
        """
        if not (math.isfinite(amount) and 0 <= amount <= LARGEST_AMOUNT):
            raise InputError(
                f"the amount {amount:g} cannot be weighed",
                f"give a number from zero to {LARGEST_AMOUNT:.0f}",
            )
        return self.with_row(section, row, replace(self.rows(section)[row], amount=amount))

    def with_material(self, section: Section, row: int, material: str) -> Recipe:
        """Return a copy in which `row` is another material, or a new last row."""
        rows = self.rows(section)
        if row < len(rows):
            return self.with_row(section, row, replace(rows[row], material=material))
        return self.with_rows(section, (*rows, Ingredient(material, 0.0)))

    def with_lock(self, section: Section, row: int, locked: bool) -> Recipe:
        """Return a copy in which `row` is locked or free."""
        return self.with_row(section, row, replace(self.rows(section)[row], locked=locked))

    def with_inserted(self, section: Section, row: int, new: Rows) -> Recipe:
        """Return a copy with `new` rows before `row`."""
        rows = self.rows(section)
        return self.with_rows(section, rows[:row] + new + rows[row:])

    def without_rows(self, section: Section, doomed: set[int]) -> Recipe:
        """Return a copy without the rows of the given numbers."""
        kept = (r for i, r in enumerate(self.rows(section)) if i not in doomed)
        return self.with_rows(section, tuple(kept))

    def with_moved(self, section: Section, row: int, to: int) -> Recipe:
        """Return a copy in which the row `row` stands at place `to`."""
        rows = list(self.rows(section))
        rows.insert(to, rows.pop(row))
        return self.with_rows(section, tuple(rows))

    def variant(self, name: str) -> Variant | None:
        """Return the variant of that name, or None."""
        return next((v for v in self.variants if v.name == name), None)

    def material_ids(self) -> list[str]:
        """Every material of the rows and the variants, once, in order of appearance."""
        rows = [*self.base, *self.additions]
        for variant in self.variants:
            rows += [*variant.base, *variant.additions]
        return list(dict.fromkeys(row.material for row in rows))


def total(rows: Rows) -> float:
    """Sum of the amounts of rows."""
    return math.fsum(row.amount for row in rows)
