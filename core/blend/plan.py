"""The door of the blends: a plan of cells, each with its shares, recipe and formula."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from core.blend.additions import addition_series
from core.blend.grid import COLUMNS, ROWS, grid_shares
from core.blend.line import line_shares
from core.blend.mix import check_same_materials, mixed
from core.blend.names import corner_names
from core.blend.shares import LETTERS, Shares, shares_text
from core.blend.triaxial import triangle_place, triaxial_shares
from core.errors import InputError
from core.evaluate import Evaluation, evaluate, formula_alone, material_of
from core.formula import Formula
from core.numbers import number_text
from core.recipe import Recipe
from core.studio import Studio
from core.variants import as_recipe

MOST_TILES = 200


class BlendKind(StrEnum):
    """How the tiles of a plan lie to each other."""

    LINE = "line blend"
    TRIAXIAL = "triaxial blend"
    GRID = "grid"
    ADDITIONS = "additions"
    VARIANTS = "variants"


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A recipe that is mixed up whole; cells are mixed from corners."""

    letter: str
    name: str
    """By what it holds, such as "most clay"."""
    recipe: Recipe


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """One tile of a plan."""

    number: int
    """In the order of work, from 1."""
    label: str
    """Such as "A 70 B 30", "2 % tin oxide" or the name of a variant."""
    row: int
    column: int
    shares: Shares
    """Of the corners' dry weight; they sum to 1."""
    recipe: Recipe
    formula: Formula


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A planned set of tiles."""

    kind: BlendKind
    corners: tuple[Corner, ...]
    cells: tuple[Cell, ...]
    neighbours: tuple[tuple[int, int], ...]
    """Numbers of cells that lie one step apart."""

    @property
    def rows(self) -> int:
        """Rows of tiles."""
        return 1 + max(cell.row for cell in self.cells)

    @property
    def columns(self) -> int:
        """Tiles in the longest row."""
        return 1 + max(cell.column for cell in self.cells)


def line_blend(first: Recipe, last: Recipe, tiles: int, studio: Studio) -> Plan:
    """Plan a line blend of 3 to 21 tiles.

    Raises
    ------
    InputError
        If the number is out of range, an end weighs nothing, or the ends mean
        different analyses by one material.
    """
    shares = line_shares(tiles)
    places = [(0, column) for column in range(tiles)]
    return _blend(BlendKind.LINE, (first, last), shares, places, studio)


def triaxial_blend(recipes: Sequence[Recipe], steps: int, studio: Studio) -> Plan:
    """Plan a triaxial blend of three recipes: 5, 8 or 10 steps give 21, 45 or 66 tiles.

    Raises
    ------
    InputError
        As for `line_blend`.
    """
    _expect(recipes, 3)
    shares = triaxial_shares(steps)
    places = [triangle_place(one, steps) for one in shares]
    return _blend(BlendKind.TRIAXIAL, recipes, shares, places, studio)


def grid_blend(
    recipes: Sequence[Recipe], studio: Studio, columns: int = COLUMNS, rows: int = ROWS
) -> Plan:
    """Plan a grid of four corners: top left, top right, bottom left, bottom right.

    Raises
    ------
    InputError
        As for `line_blend`.
    """
    _expect(recipes, 4)
    shares = grid_shares(columns, rows)
    places = [divmod(number, columns) for number in range(columns * rows)]
    return _blend(BlendKind.GRID, recipes, shares, places, studio)


def additions_plan(
    recipe: Recipe, material: str, percents: Sequence[float], studio: Studio
) -> Plan:
    """Plan a series of additions of one material over one base.

    Raises
    ------
    InputError
        As for `core.blend.additions.addition_series`.
    """
    series = addition_series(recipe, material, percents)
    known = material_of(recipe, studio, material)
    name = known.name if known is not None else material
    labels = [f"{number_text(percent)} % {name}" for percent in percents]
    rest = tuple(row for row in recipe.additions if row.material != material)
    bare = replace(recipe, additions=rest, variants=())
    return _set_of(BlendKind.ADDITIONS, series, labels, bare, studio)


def variants_plan(recipe: Recipe, names: Sequence[str], studio: Studio) -> Plan:
    """Plan one tile for each of some saved variants of a recipe.

    Raises
    ------
    InputError
        If there is no such variant, one stands twice, or none is named.
    """
    found = []
    for name in names:
        variant = recipe.variant(name)
        if variant is None:
            raise InputError(f"there is no variant {name!r}", "save it first")
        found.append(as_recipe(recipe, variant))
    if len(set(names)) < len(names):
        raise InputError("a variant stands twice", "name each once")
    return _set_of(BlendKind.VARIANTS, found, list(names), recipe, studio)


def recipes_plan(recipes: Sequence[Recipe], studio: Studio) -> Plan:
    """Plan one tile for each of some recipes, whatever they are.

    Raises
    ------
    InputError
        If there is none, or more than `MOST_TILES`.
    """
    if not recipes:
        raise InputError("a run of no tiles is not planned", "choose a recipe or variant")
    labels = [recipe.name or f"tile {number}" for number, recipe in enumerate(recipes, 1)]
    return _set_of(BlendKind.VARIANTS, recipes, labels, recipes[0], studio)


def evaluations(plan: Plan, studio: Studio) -> Iterator[Evaluation]:
    """Read the cells one after the other, as the bench would; stop whenever the plan moves on."""
    for cell in plan.cells:
        yield evaluate(cell.recipe, studio)


def _blend(
    kind: BlendKind,
    recipes: Sequence[Recipe],
    shares: Sequence[Shares],
    places: Sequence[tuple[int, int]],
    studio: Studio,
) -> Plan:
    check_same_materials(recipes, studio)
    names = corner_names(recipes, studio)
    corners = tuple(
        Corner(letter, name, recipe)
        for letter, name, recipe in zip(LETTERS, names, recipes, strict=False)
    )
    title = " + ".join(dict.fromkeys(recipe.name for recipe in recipes))[:60]
    cells = []
    for number, (one, (row, column)) in enumerate(zip(shares, places, strict=True), 1):
        label = shares_text(one)
        recipe = mixed(recipes, one, f"{title} {number}".strip())
        cells.append(Cell(number, label, row, column, one, recipe, formula_alone(recipe, studio)))
    return Plan(kind, corners, tuple(cells), neighbours_of(kind, cells))


def _set_of(
    kind: BlendKind,
    recipes: Sequence[Recipe],
    labels: Sequence[str],
    first: Recipe,
    studio: Studio,
) -> Plan:
    if not 1 <= len(recipes) <= MOST_TILES:
        raise InputError(f"a run of {len(recipes)} tiles is not planned", f"take 1 to {MOST_TILES}")
    names = corner_names(recipes, studio) if kind is BlendKind.VARIANTS else ("base",)
    heads = recipes if kind is BlendKind.VARIANTS else [first]
    # A variant is the whole of its own corner; an addition goes into the one base.
    letters = [LETTERS[i] if i < len(LETTERS) else str(i + 1) for i in range(len(heads))]
    corners = tuple(Corner(*head) for head in zip(letters, names, heads, strict=True))
    cells = tuple(
        Cell(
            number,
            label,
            0,
            number - 1,
            tuple(Fraction(i == number - 1) for i in range(len(heads)))
            if kind is BlendKind.VARIANTS
            else (Fraction(1),),
            replace(recipe, variants=(), name=f"{first.name} {label}".strip()[:80]),
            formula_alone(recipe, studio),
        )
        for number, (recipe, label) in enumerate(zip(recipes, labels, strict=True), 1)
    )
    return Plan(kind, corners, cells, neighbours_of(kind, cells))


def neighbours_of(kind: BlendKind, cells: Sequence[Cell]) -> tuple[tuple[int, int], ...]:
    """Return the numbers of cells that lie one step apart."""
    if kind is BlendKind.VARIANTS:
        # No order holds between them, so any two may be told apart by what differs.
        return tuple((a.number, b.number) for a in cells for b in cells if a.number < b.number)
    steps = [(0, 1), (1, 0)] + ([(1, 1)] if kind is BlendKind.TRIAXIAL else [])
    at = {(cell.row, cell.column): cell.number for cell in cells}
    return tuple(
        (cell.number, at[place])
        for cell in cells
        for down, right in steps
        if (place := (cell.row + down, cell.column + right)) in at
    )


def _expect(recipes: Sequence[Recipe], number: int) -> None:
    if len(recipes) != number:
        raise InputError(f"{len(recipes)} corners are given", f"this blend takes {number}")
