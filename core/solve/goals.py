"""What a recipe is asked for: oxides of the unity formula, and limits on the batch."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.numbers import read_amount
from core.oxides import INDEX, OXIDES, outside_basis

Floats = NDArray[np.float64]

REACHED: Final = 0.001
"""A formula is reached when no oxide is further off than this [mol per mole of fluxes]."""
_LARGEST: Final = 1e4
_WRITE: Final = "write SiO2=3.2, a range as MgO=0.3..0.4, or CaO=free"


@dataclass(frozen=True, slots=True)
class Goal:
    """What one oxide is to come to in the unity formula; a value is a range of no width."""

    oxide: str
    low: float
    high: float

    def __post_init__(self) -> None:
        if self.oxide not in INDEX:
            raise outside_basis(self.oxide, "")
        sound = 0 <= self.low <= self.high and self.low <= _LARGEST
        if not sound or math.isnan(self.high):
            raise InputError(
                f"{self.oxide} cannot come to {self.low:g} to {self.high:g}",
                "give moles to one of fluxes, zero or more, the smaller first",
            )

    @property
    def free(self) -> bool:
        """Whether any amount will do."""
        return self.low == 0 and math.isinf(self.high)

    def off(self, value: float) -> float:
        """How far a value lies above (or, negative, below) what is asked."""
        return value - min(max(value, self.low), self.high)

    def __str__(self) -> str:
        if self.free:
            return f"{self.oxide} free"
        if self.low == self.high:
            return f"{self.oxide} {self.low:g}"
        if math.isinf(self.high):
            return f"{self.oxide} at least {self.low:g}"
        return f"{self.oxide} {self.low:g} to {self.high:g}"


class Others(StrEnum):
    """What becomes of the oxides that no goal names."""

    FREE = "free"
    NEAR = "near"
    """As near to a formula given as the goals allow."""
    NONE = "none"
    """There shall be none of them."""


Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Limits:
    """What else has to hold, each as (least, most); None asks nothing."""

    loi_percent: Range | None = None
    """Loss on ignition of the base [wt%]."""
    expansion: Range | None = None
    """Linear sum of the thermal expansion [1e-6/K], `core.melt.expansion.linear_expansion`."""
    clay_percent: Range | None = None
    """Raw clay in the base [wt%]; calcined clay does not count."""
    price_per_kg: Range | None = None
    """Of the dry base, in the studio's own money; materials without a price are not taken."""

    def __post_init__(self) -> None:
        for name, value in (
            ("loss on ignition", self.loi_percent),
            ("expansion", self.expansion),
            ("clay", self.clay_percent),
            ("price", self.price_per_kg),
        ):
            if value is not None and not value[0] <= value[1]:
                raise InputError(
                    f"the {name} cannot lie between {value[0]:g} and {value[1]:g}",
                    "give the smaller first",
                )


@dataclass(frozen=True, slots=True)
class Wish:
    """Everything that is asked of a recipe."""

    goals: tuple[Goal, ...]
    others: Others = Others.FREE
    near: tuple[float, ...] = ()
    """Unity formula that the other oxides stay near to, 25 long; needed for `Others.NEAR`."""
    limits: Limits = Limits()

    def __post_init__(self) -> None:
        names = [goal.oxide for goal in self.goals]
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"{name} is asked for twice", "ask once for each oxide")
        if self.others is Others.NEAR and len(self.near) != len(OXIDES):
            raise InputError(
                "there is no formula to stay near to", "give a recipe that has fluxes in it"
            )
        if not any(not goal.free for goal in self.goals) and self.others is not Others.NEAR:
            raise InputError("nothing is asked for", _WRITE)

    def of(self, oxide: str) -> Goal | None:
        """Return the goal of an oxide, or None."""
        return next((goal for goal in self.goals if goal.oxide == oxide), None)

    def bounds(self) -> tuple[Floats, Floats]:
        """Least and most of each oxide, shape (25,) each; those unnamed by `others`."""
        low = np.zeros(len(OXIDES))
        high = np.full(len(OXIDES), 0.0 if self.others is Others.NONE else np.inf)
        for goal in self.goals:
            low[INDEX[goal.oxide]], high[INDEX[goal.oxide]] = goal.low, goal.high
        return low, high


def wish_for(unity: Mapping[str, float], others: Others = Others.NONE) -> Wish:
    """Ask for a whole formula: these oxides to these values, and none of the others.

    Examples
    --------
    >>> wish_for({"CaO": 1.0, "SiO2": 2.0}).of("SiO2").high
    2.0
    """
    goals = tuple(Goal(oxide, float(value), float(value)) for oxide, value in unity.items())
    return Wish(goals, others)


def read_range(text: str, what: str) -> Range:
    """Read "3.2", "0.3..0.4", "0.3..", "..0.4" or "free" as (least, most).

    Raises
    ------
    InputError
        If it is none of these.

    Examples
    --------
    >>> read_range("0.3..0.4", "MgO"), read_range("..0.4", "MgO")
    ((0.3, 0.4), (0.0, 0.4))
    """
    plain = text.strip()
    if plain.casefold() == "free":
        return 0.0, math.inf
    low, dots, high = plain.partition("..")
    try:
        if not dots:
            value = read_amount(low)
            return value, value
        if not (low.strip() or high.strip()):
            raise InputError(f"{what} has no number", _WRITE)
        return (
            read_amount(low) if low.strip() else 0.0,
            read_amount(high) if high.strip() else math.inf,
        )
    except InputError as fault:
        raise InputError(f"{what} cannot be {text!r}", _WRITE) from fault


def read_goal(text: str) -> Goal:
    """Read a goal such as "SiO2=3.2" or "MgO=0.3..0.4".

    Raises
    ------
    InputError
        If it cannot be read.
    """
    name, equals, value = text.partition("=")
    if not equals:
        raise InputError(f"{text!r} asks for no amount", _WRITE)
    oxide = name.strip()
    known = {o.casefold(): o for o in OXIDES}
    return Goal(known.get(oxide.casefold(), oxide), *read_range(value, oxide))
