"""Is the scale good enough? Whether its readout moves a cell by more than half a step.

A weight is off by up to half the readout (JCGM 100:2008, F.2.2.1). In a dry
batch that moves the percentage of its material; it must stay below half of
what parts the cell from its neighbours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.blend.plan import BlendKind, Plan
from core.errors import InputError
from core.numbers import number_text
from core.recipe import Recipe, Section, total

_TINY = 1e-9
FINE = 0.05
"""Share of itself that the smallest weight may be off (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ScaleWarning:
    """A material that the scale cannot step finely enough."""

    material: str
    section: Section
    cells: tuple[int, ...]
    """Numbers of the cells where it matters."""
    error_percent: float
    """Most that half a readout moves it, in percent of the base."""
    half_step_percent: float
    """Half of what parts neighbours, the closest of them, in percent of the base."""
    enough_g: float
    """Dry base with which half a readout is half a step."""
    readout_g: float

    def words(self, name: str = "") -> str:
        """Say it, with the name of the material."""
        return (
            f"A readout of {number_text(self.readout_g)} g can put {name or self.material} "
            f"{self.error_percent:.2g} % of the base off, and half a step is "
            f"{self.half_step_percent:.2g} %: weigh at least {_rounded_up(self.enough_g):g} g, or "
            "use a finer scale"
        )


@dataclass(frozen=True, slots=True)
class SmallestWeight:
    """The least that is weighed, where the scale leaves it further off than `FINE`."""

    material: str
    percent: float
    """Of the base."""
    off: float
    """Share of itself that half a readout is."""
    enough_g: float
    """Dry base with which it is within `FINE`."""

    def words(self, name: str = "") -> str:
        """Say it, with the name of the material."""
        off = f"off by {100 * self.off:.0f} % of itself" if self.off < 1 else "not seen by it"
        return (
            f"The least to weigh is {number_text(round(self.percent, 3))} % "
            f"{name or self.material}: on this scale it may be {off}. From "
            f"{_rounded_up(self.enough_g):g} g of base on it is within {100 * FINE:g} %"
        )


def smallest_weight(plan: Plan, base_g: float, readout_g: float) -> SmallestWeight | None:
    """Find the smallest weight of dry-weighed cells; None where the scale is fine enough for it.

    Parameters
    ----------
    plan : Plan
    base_g : float
        Dry base of each cell [g].
    readout_g : float
        Step of the scale [g].

    Raises
    ------
    InputError
        If batch or readout is not above zero.
    """
    # In a series of additions the base is there already; what is weighed comes on top of it.
    held = _percents(plan.corners[0].recipe) if plan.kind is BlendKind.ADDITIONS else {}
    lines = [
        (percent - held.get(key, 0.0), key[1])
        for cell in plan.cells
        for key, percent in _percents(cell.recipe).items()
        if percent - held.get(key, 0.0) > _TINY
    ]
    if not lines:
        return None
    percent, material = min(lines)
    enough = enough_batch_g(percent, readout_g, FINE)
    if base_g >= enough * (1.0 - _TINY):
        return None
    off = readout_g / 2.0 / (percent / 100.0 * base_g)
    return SmallestWeight(material, percent, off, enough)


def enough_batch_g(percent: float, readout_g: float, off: float = FINE) -> float:
    """Dry base with which a line of `percent` is off by at most a share of itself [g].

    Parameters
    ----------
    percent : float
        Of the base.
    readout_g : float
        Step of the scale [g]; a weight is off by up to half of it.
    off : float
        Share that it may be off.

    Raises
    ------
    InputError
        If a figure is not above zero.

    Examples
    --------
    >>> round(enough_batch_g(0.25, 0.1))
    400
    """
    if not all(math.isfinite(value) and value > 0 for value in (percent, readout_g, off)):
        raise InputError("percent, readout and error must be above zero", "give what is weighed")
    return readout_g / 2.0 / (percent / 100.0 * off)


def scale_warnings(plan: Plan, base_g: float, readout_g: float) -> tuple[ScaleWarning, ...]:
    """Warn of materials whose weighing moves a dry-weighed cell by more than half a step.

    Parameters
    ----------
    plan : Plan
    base_g : float
        Dry base of each cell [g].
    readout_g : float
        Step of the scale [g].

    Raises
    ------
    InputError
        If batch or readout is not above zero.
    """
    if not all(math.isfinite(value) and value > 0 for value in (base_g, readout_g)):
        raise InputError("batch and readout must be above zero", "give grams")
    percents = [_percents(cell.recipe) for cell in plan.cells]
    if plan.kind is BlendKind.ADDITIONS:
        # The bare base is a neighbour even where the series begins with the first addition.
        percents.append(_percents(plan.corners[0].recipe))
    error = 100.0 * readout_g / 2.0 / base_g
    found = []
    for key in dict.fromkeys(key for one in percents for key in one):
        steps: dict[int, float] = {}
        for a, b in _pairs(plan):
            step = abs(percents[a].get(key, 0.0) - percents[b].get(key, 0.0))
            if step > _TINY:
                for cell in (a, b):
                    steps[cell] = min(step, steps.get(cell, math.inf))
        bad = [
            cell
            for cell, step in sorted(steps.items())
            if error > step / 2.0 + _TINY and percents[cell].get(key, 0.0) > 0
        ]
        if not bad:
            continue
        half = min(steps[cell] for cell in bad) / 2.0
        enough = readout_g / 2.0 / (half / 100.0)
        section, material = key
        numbers = tuple(cell + 1 for cell in bad if cell < len(plan.cells))
        found.append(ScaleWarning(material, section, numbers, error, half, enough, readout_g))
    return tuple(found)


def syringe_warning(plan: Plan, cup_ml: float, step_ml: float) -> str:
    """Warn in words where half a syringe step moves a wet cell by more than half a step."""
    if plan.kind in (BlendKind.ADDITIONS, BlendKind.VARIANTS):
        return ""
    parts = [
        abs(a - b)
        for one, other in _pairs(plan)
        for a, b in zip(_shares(plan, one), _shares(plan, other), strict=True)
        if a != b
    ]
    if not parts:
        return ""
    step = min(parts)
    if step_ml / cup_ml <= step + _TINY:
        return ""
    return (
        f"A syringe of {number_text(step_ml)} ml steps is coarser than the {100 * step:.2g} % "
        f"between cups of {number_text(cup_ml)} ml: take cups of {_rounded_up(step_ml / step):g} ml"
    )


def _shares(plan: Plan, cell: int) -> Sequence[float]:
    return [float(share) for share in plan.cells[cell].shares]


def _pairs(plan: Plan) -> list[tuple[int, int]]:
    """Places of neighbours in the list of cells, the bare base after the last."""
    pairs = [(a - 1, b - 1) for a, b in plan.neighbours]
    if plan.kind is BlendKind.ADDITIONS:
        pairs += [(number, len(plan.cells)) for number in range(len(plan.cells))]
    return pairs


def _percents(recipe: Recipe) -> dict[tuple[Section, str], float]:
    base = total(recipe.base)
    found: dict[tuple[Section, str], float] = {}
    for section in Section:
        for row in recipe.rows(section):
            percent = row.amount if section is Section.ADDITIONS else 100.0 * row.amount / base
            key = (section, row.material)
            found[key] = found.get(key, 0.0) + percent
    return found


def _rounded_up(value: float) -> float:
    """Round up to two figures, for words."""
    power = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value / power - 1e-9) * power
