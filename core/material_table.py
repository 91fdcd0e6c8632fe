"""Reading materials from the shipped table and from a studio's file."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import msgspec

from core.errors import InputError
from core.files.formats import in_present_format
from core.materials import FORMS, Analysis, Material, MaterialTable
from core.plain_yaml import Place, PlainYaml, read_file
from core.schema import Amount, Flag, Number, check_line
from core.tables import read_records, shipped


class _MaterialRecord(msgspec.Struct):
    id: str
    name: str
    synonyms: list[str] = []
    group: str = "other"
    formula: str = ""
    analysis: dict[str, Number] = {}
    loi: Number = Number(0.0)
    tolerance_percent: dict[str, Number] = {}
    form: str = "raw"
    density_g_cm3: Number | None = None
    density_confidence: str = ""
    hazards: list[str] = []
    dust: Flag = Flag(True)
    price_per_kg: Amount | None = None
    source: str = ""
    confidence: str = ""
    note: str = ""


def read_materials(path: Path, origin: str = "studio") -> MaterialTable:
    """Read a file of ``kind: materials``.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    return _table(in_present_format(read_file(path)), origin)


@cache
def shipped_materials() -> MaterialTable:
    """Return the shipped materials; read once."""
    return _table(shipped("materials.yaml"), "shipped")


def analysis_of(
    document: PlainYaml,
    place: Place,
    owner: str,
    formula: str,
    percent: dict[str, Number],
    loi: float,
    tolerance: dict[str, Number] | None = None,
) -> Analysis:
    """Build an analysis from a formula or from figures, and say where it fails."""
    if bool(formula) == bool(percent):
        raise document.fault(
            place,
            f"{owner} needs either a formula or an analysis",
            "give one of the two, not " + ("both" if formula else "neither"),
        )
    try:
        if formula:
            return Analysis.from_formula(formula, owner)
        return Analysis.from_percent(percent, loi, owner, tolerance)
    except InputError as fault:
        where = (*place, "formula" if formula else "analysis")
        raise document.fault(where, fault.what, fault.mend) from fault


def _table(document: PlainYaml, origin: str) -> MaterialTable:
    own = origin == "shipped"
    return MaterialTable(
        _material(document, number, record, origin)
        for number, record in read_records(document, "materials", _MaterialRecord, own)
    )


def _material(document: PlainYaml, number: int, record: _MaterialRecord, origin: str) -> Material:
    place: Place = ("materials", number)
    if record.form not in FORMS:
        raise document.fault(
            (*place, "form"), f"is {record.form!r}", f"write one of {', '.join(FORMS)}"
        )
    check_line(document, (*place, "id"), record.id)
    check_line(document, (*place, "name"), record.name)
    if record.density_g_cm3 is not None and not 0.5 < record.density_g_cm3 < 25:
        raise document.fault(
            (*place, "density_g_cm3"),
            f"{record.density_g_cm3:g} is no density of a solid",
            "give g/cm3, such as 2.6",
        )
    analysis = analysis_of(
        document,
        place,
        record.name,
        record.formula,
        record.analysis,
        record.loi,
        record.tolerance_percent,
    )
    return Material(
        id=record.id,
        price_per_kg=None if record.price_per_kg is None else float(record.price_per_kg),
        name=record.name,
        analysis=analysis,
        synonyms=tuple(record.synonyms),
        group=record.group,
        form=record.form,
        density=record.density_g_cm3,
        hazards=tuple(record.hazards),
        dust=bool(record.dust),
        source=record.source,
        confidence=record.confidence,
        note=record.note,
        origin=origin,
    )
