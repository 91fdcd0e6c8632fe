"""A run of test tiles is a value: every edit returns a new one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from core.blend.plan import Plan
from core.blend.shares import Shares
from core.blend.slop import Slop
from core.errors import InputError
from core.evaluate import pins_of
from core.plain_yaml import Tree
from core.recipe import Pin, Recipe, Rows
from core.studio import Studio
from core.tiles.codes import tidy
from core.tiles.result import Result, check_result
from core.tiles.soundness import SoundnessTest, Subject, check_day, check_test
from core.tiles.version import firing_version, rows_version

MOST_TILES = 500


@dataclass(frozen=True, slots=True)
class RunCorner:
    """A recipe that was mixed up whole for the run."""

    letter: str
    name: str
    """By what it holds, such as "most clay"."""
    recipe: str = ""
    """Name of the recipe it was taken from."""
    base: Rows = ()
    additions: Rows = ()
    measured: Slop | None = None
    """What was measured of it once it was mixed."""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Tile:
    """One tile: what is on it, and what was read from it."""

    code: str
    label: str = ""
    row: int = 0
    column: int = 0
    shares: Shares = ()
    """Of the corners' dry weight."""
    recipe: str = ""
    """Name of the recipe it belongs to."""
    variant: str = ""
    base: Rows = ()
    """As weighed; never changed once the tile has a result."""
    additions: Rows = ()
    result: Result | None = None
    tests: tuple[SoundnessTest, ...] = ()
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Run:
    """A planned set of test tiles with what came of them."""

    name: str
    blend: str = ""
    """Kind of blend, as `core.blend.plan.BlendKind` names it."""
    planned: str = ""
    """The day, as ISO 8601 text."""
    fired: str = ""
    """The day on which the kiln was opened."""
    firing: str = ""
    firing_version: str = ""
    """Of the schedule as it was on that day."""
    shelf: str = ""
    body: str = ""
    method: str = ""
    """"wet" by volume or "dry" by weight."""
    cup_ml: float | None = None
    batch_g: float | None = None
    """Dry base of each tile that is weighed by itself [g]."""
    specific_gravity: float | None = None
    """That the corners are mixed to."""
    reserve_percent: float | None = None
    """Of each corner, to mix over what the cups take [%]."""
    corners: tuple[RunCorner, ...] = ()
    tiles: tuple[Tile, ...] = ()
    pinned: Mapping[str, Pin] = field(default_factory=dict, hash=False)
    """Analyses that the tiles are computed with, by material."""
    notes: str = ""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)

    def tile(self, code: str) -> Tile:
        """Return the tile of a code, however it was typed.

        Raises
        ------
        InputError
            If the run has no such tile.
        """
        wanted = tidy(code)
        for tile in self.tiles:
            if tile.code == wanted:
                return tile
        raise InputError(f"there is no tile {code!r} in {self.name}", "look at its code again")

    def recipe_of(self, tile: Tile) -> Recipe:
        """Return the recipe of a tile, with the analyses that the run pinned.

        Body and shelf are those that were read with the tile, where they were.
        """
        result = tile.result
        used = {row.material for row in (*tile.base, *tile.additions)}
        return Recipe(
            name=tile.recipe or self.name,
            firing=self.firing,
            body=(result.body if result else "") or self.body,
            shelf=(result.shelf if result else "") or self.shelf,
            base=tile.base,
            additions=tile.additions,
            pinned={name: pin for name, pin in self.pinned.items() if name in used},
        )

    def version_of(self, tile: Tile) -> str:
        """Return the version of a tile's rows as the run pins them."""
        analyses = {name: pin.analysis for name, pin in self.pinned.items()}
        return rows_version(tile.base, tile.additions, analyses)

    def subject_of(self, tile: Tile) -> Subject:
        """Return what a test of a tile speaks for."""
        recipe = self.recipe_of(tile)
        return Subject(
            recipe.name, self.version_of(tile), recipe.body, self.firing, self.firing_version
        )

    def fired_on(self, day: str, studio: Studio) -> Run:
        """Return a copy that was fired, its schedule pinned by version.

        Raises
        ------
        InputError
            If the day cannot be read.
        """
        check_day(day)
        firing = studio.firings.get(self.firing)
        version = firing_version(firing) if firing is not None else ""
        return replace(self, fired=day, firing_version=version)

    def with_measured(self, letter: str, measured: Slop | None) -> Run:
        """Return a copy in which a corner was measured.

        Raises
        ------
        InputError
            If there is no such corner, or a figure cannot be.
        """
        if letter not in {corner.letter for corner in self.corners}:
            raise InputError(f"there is no corner {letter!r}", "look at the plan again")
        if measured is not None:
            measured.measures()
        corners = tuple(
            replace(corner, measured=measured) if corner.letter == letter else corner
            for corner in self.corners
        )
        return replace(self, corners=corners)

    def with_result(self, code: str, result: Result | None) -> Run:
        """Return a copy in which a tile was read, its recipe pinned as it is.

        Raises
        ------
        InputError
            If there is no such tile, or a figure cannot be.
        """
        tile = self.tile(code)
        if result is not None:
            check_result(result)
            result = replace(result, version=self.version_of(tile))
        return self._with(replace(tile, result=result))

    def with_test(self, code: str, kind: str, day: str, passed: bool, note: str = "") -> Run:
        """Return a copy in which a tile went through a test.

        Raises
        ------
        InputError
            If there is no such tile or test, or the day cannot be.
        """
        tile = self.tile(code)
        test = SoundnessTest(kind, self.subject_of(tile), day, passed, self.fired, note)
        check_test(test)
        return self._with(replace(tile, tests=(*tile.tests, test)))

    def with_tile_rows(self, code: str, base: Rows, additions: Rows) -> Run:
        """Return a copy in which a tile is weighed otherwise.

        Raises
        ------
        InputError
            If there is no such tile, or it was read already: a result keeps
            the recipe that it was read from.
        """
        tile = self.tile(code)
        if tile.result is not None or tile.tests:
            raise InputError(
                f"the tile {tile.code} was read with the recipe as it is", "plan a new tile"
            )
        return self._with(replace(tile, base=base, additions=additions))

    def _with(self, tile: Tile) -> Run:
        return replace(
            self, tiles=tuple(tile if one.code == tile.code else one for one in self.tiles)
        )

    def oddities(self) -> tuple[str, ...]:
        """Say what does not fit together though each part is sound."""
        said = []
        if self.reserve_percent is not None and self.reserve_percent > 100:
            said.append(f"a reserve of {self.reserve_percent:g} % is more than the cups take")
        if self.planned and self.fired and self.fired < self.planned:
            said.append(f"it was fired on {self.fired}, before it was planned ({self.planned})")
        for tile in self.tiles:
            day = tile.result.read if tile.result is not None else ""
            if day and self.fired and day < self.fired:
                said.append(f"the tile {tile.code} was read on {day}, before it was fired")
            read = tile.result.version if tile.result is not None else ""
            if read and read != self.version_of(tile):
                said.append(
                    f"the tile {tile.code} was read with other rows or analyses than stand here"
                )
            if tile.shares and not self.corners:
                said.append(
                    f"the tile {tile.code} has shares of corners that the run does not name"
                )
            if tile.shares and self.corners and abs(float(sum(tile.shares)) - 1.0) > 1e-6:
                said.append(f"the shares of the tile {tile.code} do not add up to 1")
        return tuple(said)


def run_of(
    plan: Plan,
    codes: Sequence[str],
    name: str,
    day: str,
    studio: Studio,
    method: str = "wet",
    cup_ml: float | None = None,
    batch_g: float | None = None,
    specific_gravity: float | None = None,
    reserve_percent: float | None = None,
) -> Run:
    """Make a run of a plan; the codes go to the cells in the order of work.

    Parameters
    ----------
    plan : Plan
    codes : sequence of str
        As many as the plan has cells; see `core.tiles.machine.take_codes`.
    name : str
    day : str
        Today, as ISO 8601 text.
    studio : Studio
        Whose analyses are pinned.
    method : str
        "wet" by volume or "dry" by weight.
    cup_ml, batch_g, specific_gravity, reserve_percent : float, optional

    Raises
    ------
    InputError
        If codes are missing or stand twice.
    """
    if len(codes) != len(plan.cells) or len(set(codes)) != len(codes):
        raise InputError(
            f"{len(set(codes))} codes are given for {len(plan.cells)} tiles", "take new codes"
        )
    pinned: dict[str, Pin] = {}
    for cell in plan.cells:
        pinned = {**pins_of(cell.recipe, studio), **pinned}
    for corner in plan.corners:
        pinned = {**pins_of(replace(corner.recipe, variants=()), studio), **pinned}
    first = plan.cells[0].recipe
    return Run(
        name=name,
        blend=plan.kind.value,
        planned=day,
        firing=first.firing,
        shelf=first.shelf,
        body=first.body,
        method=method,
        cup_ml=cup_ml,
        batch_g=batch_g,
        specific_gravity=specific_gravity,
        reserve_percent=reserve_percent,
        corners=tuple(
            RunCorner(c.letter, c.name, c.recipe.name, c.recipe.base, c.recipe.additions)
            for c in plan.corners
        ),
        tiles=tuple(
            Tile(
                code=code,
                label=cell.label,
                row=cell.row,
                column=cell.column,
                shares=cell.shares,
                recipe=cell.recipe.name,
                variant=cell.recipe.based_on,
                base=cell.recipe.base,
                additions=cell.recipe.additions,
            )
            for code, cell in zip(codes, plan.cells, strict=True)
        ),
        pinned=pinned,
    )


def codes_of(runs: Iterable[Run]) -> list[str]:
    """Return the codes of runs, in order."""
    return [tile.code for run in runs for tile in run.tiles]


def share_of(text: str) -> Fraction:
    """Read a share such as "5/24" or "0.25".

    Raises
    ------
    InputError
        If it is no fraction from 0 to 1.
    """
    try:
        share = Fraction(text.strip()) if len(text) <= 40 and "e" not in text.lower() else None
    except (ValueError, ZeroDivisionError):
        share = None
    if share is None or not 0 <= share <= 1:
        raise InputError(f"{text!r} is no share", 'write it like "5/24" or "0.25"')
    return share
