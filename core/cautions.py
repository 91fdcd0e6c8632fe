"""Cautions for what is in a recipe: hazards of its materials, and what every card carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

import msgspec

from core.materials import Material
from core.oxides import INDEX
from core.schema import Number, convert
from core.tables import read_records, shipped


class Hazard(msgspec.Struct, frozen=True):
    """A hazard in plain words, with its statement codes of the globally harmonised system."""

    id: str
    name: str
    statements: list[str]
    says: str
    source: str
    confidence: str


class Bearing(msgspec.Struct, frozen=True):
    """A metal that the analysis shows where no hazard of the material names it."""

    id: str
    oxide: str
    from_percent: Number
    """[wt% of the material as received]"""
    unless: list[str]
    """Hazards that say it already."""
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


class _Bearings(msgspec.Struct):
    bearing: list[Bearing]


@cache
def bearings() -> tuple[Bearing, ...]:
    """Return the metals that are looked for in analyses; read once.

    Raises
    ------
    InputError
        If one names an oxide outside the basis.
    """
    document = shipped("hazards.yaml")
    found = tuple(convert(document, _Bearings).bearing)
    for number, row in enumerate(found):
        if row.oxide not in INDEX:
            raise document.fault(
                ("bearing", number, "oxide"), "is outside the basis", "write it as in the tables"
            )
    return found


@cache
def general_cautions() -> tuple[General, ...]:
    """Return the cautions that every recipe carries; read once."""
    tree = shipped("hazards.yaml").tree
    assert isinstance(tree, dict)
    return tuple(msgspec.convert(tree["general"], list[General]))


def cautions_for(materials: Iterable[Material]) -> list[tuple[str, list[str]]]:
    """List each hazard of the materials once, with the names that bring it.

    A metal that stands in a material's analysis without a hazard for it, as
    in a stain or a studio's own entry, is cautioned against all the same.

    Returns
    -------
    list of (text, material names)
        In the order in which the hazards first appear; a hazard that the
        table does not know is named by its id.
    """
    brought: dict[str, list[str]] = {}
    for material in materials:
        for hazard in (*material.hazards, *_borne(material)):
            names = brought.setdefault(hazard, [])
            if material.name not in names:
                names.append(material.name)
    known = hazards()
    borne = {row.id: row.says for row in bearings()}
    lines = []
    for hazard, names in brought.items():
        if hazard in known:
            codes = ", ".join(known[hazard].statements)
            text = known[hazard].says + (f" ({codes})" if codes else "")
        elif hazard in borne:
            text = borne[hazard] + " The supplier's safety data sheet says more."
        else:
            text = f"{hazard}: see the supplier's safety data sheet."
        lines.append((text, names))
    return lines


def _borne(material: Material) -> list[str]:
    """Ids of the metals in an analysis that no hazard of the material names."""
    percent = dict(material.analysis.percent)
    return [
        row.id
        for row in bearings()
        if percent.get(row.oxide, 0.0) >= row.from_percent
        and not set(row.unless) & set(material.hazards)
    ]
