"""The card of the fit: what it was fitted on and how far it was off, held out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

import msgspec

from core.plain_yaml import PlainYaml
from core.schema import Number, convert, expect_kind
from core.tables import shipped

FAMILIES: Final = ("magnesia-rich", "boron-bearing", "alkali-lime", "other")
BANDS: Final[Mapping[str, tuple[float, float]]] = {
    "below_800": (400.0, 800.0),
    "800_to_1000": (800.0, 1000.0),
    "1000_to_1350": (1000.0, 1350.0),
    "above_1350": (1350.0, 1750.0),
}
"""Bands of temperature [°C] in which the error of viscosity was measured."""


class _Family(msgspec.Struct):
    family: str
    liquidus_k: Number
    below_800: Number
    from_800_to_1000: Number
    from_1000_to_1350: Number
    above_1350: Number


class _Growth(msgspec.Struct):
    distance: Number
    viscosity: Number
    liquidus: Number


class _File(msgspec.Struct):
    errors: list[_Family]
    growth: list[_Growth]
    magnesia_bias_k: Number


@dataclass(frozen=True)
class Card:
    """Figures of the fit that the models and their errors rest on."""

    magnesia_bias_c: float
    """Correction for melts rich in magnesia: predicted less measured, held out [K]."""
    liquidus_error: tuple[float, ...]
    """One sigma for each of `FAMILIES` [K]."""
    viscosity_error: tuple[tuple[float, ...], ...]
    """One sigma for each of `FAMILIES` in each of `BANDS` [log10 Pa·s]."""
    distances: tuple[float, ...]
    """Distances to the training data, rising, at which `growth` was measured."""
    growth: Mapping[str, tuple[float, ...]]
    """By property, what the error is multiplied with at each of `distances`."""


def read_card(document: PlainYaml) -> Card:
    """Read the card from its file.

    Raises
    ------
    InputError
        If a family or a figure is missing.
    """
    expect_kind(document, "melt-card")
    found = convert(document, _File)
    rows = {row.family: row for row in found.errors}
    for family in FAMILIES:
        if family not in rows:
            raise document.fault(("errors",), f"lacks the family {family!r}", "run the fit again")
    if not found.growth:
        raise document.fault(("growth",), "is empty", "run the fit again")
    ordered = [rows[family] for family in FAMILIES]
    return Card(
        float(found.magnesia_bias_k),
        tuple(float(row.liquidus_k) for row in ordered),
        tuple(
            (
                float(row.below_800),
                float(row.from_800_to_1000),
                float(row.from_1000_to_1350),
                float(row.above_1350),
            )
            for row in ordered
        ),
        tuple(float(row.distance) for row in found.growth),
        {
            "viscosity": tuple(float(row.viscosity) for row in found.growth),
            "liquidus": tuple(float(row.liquidus) for row in found.growth),
        },
    )


@cache
def card() -> Card:
    """Return the shipped card."""
    return read_card(shipped("melt/card.yaml"))
