"""Cautions for what is in a recipe: hazards of its materials, and what every card carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

import msgspec

from core.materials import Material
from core.tables import read_records, shipped


class Hazard(msgspec.Struct, frozen=True):
    """A hazard in plain words, with its statement codes of the globally harmonised system."""

    id: str
    name: str
    statements: list[str]
    says: str
    source: str
    confidence: str


class General(msgspec.Struct, frozen=True):
    """A caution that every recipe carries."""

    id: str
    says: str


@cache
def hazards() -> Mapping[str, Hazard]:
    """Return the hazards by id; read once."""
    return {h.id: h for _, h in read_records(shipped("hazards.yaml"), "hazards", Hazard, True)}


@cache
def general_cautions() -> tuple[General, ...]:
    """Return the cautions that every recipe carries; read once."""
    tree = shipped("hazards.yaml").tree
    assert isinstance(tree, dict)
    return tuple(msgspec.convert(tree["general"], list[General]))


def cautions_for(materials: Iterable[Material]) -> list[tuple[str, list[str]]]:
    """List each hazard of the materials once, with the names that bring it.

    Returns
    -------
    list of (text, material names)
        In the order in which the hazards first appear; a hazard that the
        table does not know is named by its id.
    """
    brought: dict[str, list[str]] = {}
    for material in materials:
        for hazard in material.hazards:
            names = brought.setdefault(hazard, [])
            if material.name not in names:
                names.append(material.name)
    known = hazards()
    lines = []
    for hazard, names in brought.items():
        if hazard in known:
            codes = ", ".join(known[hazard].statements)
            text = known[hazard].says + (f" ({codes})" if codes else "")
        else:
            text = f"{hazard}: see the supplier's safety data sheet."
        lines.append((text, names))
    return lines
