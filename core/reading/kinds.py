"""What kind of surface a reading speaks of, its likely minerals, and the word for its soundness."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import msgspec

from core.reading.surface import SurfaceReading
from core.regions import Zone
from core.schema import Number, convert
from core.tables import read_records, shipped


class Soundness(StrEnum):
    """How far chemistry alone can vouch for a surface; it never proves one sound."""

    EXPECTED = "expected sound"
    UNDERFIRED = "suspect underfired"
    DRY = "dry or over-crystallised"
    UNKNOWN = "unknown"


class Kind(msgspec.Struct, frozen=True):
    """A kind of surface."""

    id: str
    name: str
    says: str
    source: str
    confidence: str
    minerals: list[str] = msgspec.field(default_factory=list)
    """The likeliest first."""
    durability: str = ""
    """What is published of it, in words."""


class Note(msgspec.Struct, frozen=True):
    """A remark that goes with a reading."""

    id: str
    says: str
    source: str
    confidence: str


class KindLimit(msgspec.Struct, frozen=True):
    """A figure that decides between kinds."""

    id: str
    value: Number
    says: str
    source: str
    confidence: str


class _File(msgspec.Struct):
    limits: list[KindLimit]
    notes: list[Note]


@dataclass(frozen=True)
class KindRules:
    """Kinds, notes and the figures between them, by id."""

    kinds: Mapping[str, Kind]
    notes: Mapping[str, Note]
    limits: Mapping[str, KindLimit]

    def limit(self, id_: str) -> float:
        """Return the value of a limit."""
        return float(self.limits[id_].value)


@cache
def kind_rules() -> KindRules:
    """Return the shipped kinds; read once."""
    document = shipped("surface_kinds.yaml")
    file = convert(document, _File)
    rows = read_records(document, "surface-kinds", Kind, True)
    return KindRules(
        {kind.id: kind for _, kind in rows},
        {note.id: note for note in file.notes},
        {limit.id: limit for limit in file.limits},
    )


@dataclass(frozen=True, slots=True)
class KindReading:
    """The kind of surface that a reading speaks of."""

    kind: Kind
    soundness: Soundness
    notes: tuple[Note, ...]


# Terms of the score that a flux can saturate, and the kind that it makes.
_CRYSTALS: Final = {
    "saturation-magnesia": "magnesia-matte",
    "saturation-lime": "lime-matte",
    "saturation-zinc": "zinc-crystals",
    "saturation-baria": "baria-matte",
}


def kind_of(reading: SurfaceReading) -> KindReading:
    """Name the kind of surface, from the likeliest zone and the leading flux.

    Parameters
    ----------
    reading : SurfaceReading

    Returns
    -------
    KindReading
        What is likeliest underfired is never called a matte.
    """
    rules = kind_rules()
    kind = rules.kinds[_kind_id(reading, rules)]
    return KindReading(kind, _soundness(reading, kind, rules), _notes(reading, kind, rules))


def ratio_of(reading: SurfaceReading) -> float:
    """Silica to one of alumina, as the score reads it."""
    return next(reason.value for reason in reading.reasons if reason.id == "ratio")


def _kind_id(reading: SurfaceReading, rules: KindRules) -> str:
    ratio = ratio_of(reading)
    if reading.zone is Zone.UNDERFIRED:
        return "undissolved-silica" if ratio > rules.limit("silica-ratio") else "underfired"
    leading = _leading_flux(reading)
    saturated = leading is not None and leading.filled >= rules.limit("saturated")
    # Zinc crystals stand in a glossy ground as often as they make a matte.
    if saturated and leading is not None and leading.kind == "zinc-crystals":
        return leading.kind
    silky = reading.basis.share("MgO") >= rules.limit("silky-magnesia")
    if reading.zone is Zone.MATTE:
        if leading is not None and (saturated or ratio >= rules.limit("alumina-ratio")):
            return _with_lime(reading, leading.kind, rules)
        if silky and ratio >= rules.limit("dry-ratio"):
            return _with_lime(reading, "magnesia-matte", rules)
        return "alumina-matte" if ratio < rules.limit("alumina-ratio") else "mixed-matte"
    if reading.log10_viscosity.value < rules.limit("runny"):
        return "runny"
    if reading.zone is Zone.SATIN:
        return "magnesia-satin" if silky else "satin"
    return "gloss"


@dataclass(frozen=True, slots=True)
class _Flux:
    kind: str
    filled: float
    contribution: float


def _leading_flux(reading: SurfaceReading) -> _Flux | None:
    """Return the flux that pulls most toward matte, if any pulls at all."""
    terms = reading.rules.score.terms
    found = [
        _Flux(
            _CRYSTALS[reason.id], reason.contribution / terms[reason.id].weight, reason.contribution
        )
        for reason in reading.reasons
        if reason.id in _CRYSTALS
    ]
    best = max(found, key=lambda flux: flux.contribution)
    return best if best.filled >= 0.05 else None


def _with_lime(reading: SurfaceReading, kind: str, rules: KindRules) -> str:
    lime, magnesia = reading.basis.share("CaO"), reading.basis.share("MgO")
    if kind == "magnesia-matte" and lime >= rules.limit("lime-beside-magnesia") * magnesia:
        return "magnesia-lime-matte"
    return kind


def _soundness(reading: SurfaceReading, kind: Kind, rules: KindRules) -> Soundness:
    if reading.zone is Zone.UNDERFIRED or reading.melt_margin_percent < 0:
        return Soundness.UNDERFIRED
    if reading.zone is Zone.MATTE and (
        reading.score > rules.limit("dry-score") or ratio_of(reading) < rules.limit("dry-ratio")
    ):
        return Soundness.DRY
    doubtful = reading.probabilities[Zone.UNDERFIRED.value] >= rules.limit("unsure")
    unknown = reading.outside or doubtful or kind.id == "runny"
    return Soundness.UNKNOWN if unknown else Soundness.EXPECTED


def _notes(reading: SurfaceReading, kind: Kind, rules: KindRules) -> tuple[Note, ...]:
    fluid = "fluid-matte" if reading.zone is Zone.MATTE else "fluid"
    spoken = {
        "outside": reading.outside,
        "too-much-flux": reading.log10_viscosity.value < rules.limit(fluid),
        "calcine-clay": kind.id == "alumina-matte",
        "zinc-sparingly": kind.id == "zinc-crystals",
        "zinc-liquidus": kind.id == "zinc-crystals",
    }
    return tuple(note for id_, note in rules.notes.items() if spoken[id_])
