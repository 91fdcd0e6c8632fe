"""What was read from a fired tile."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from core.errors import InputError
from core.firing.cones import rank
from core.plain_yaml import Tree
from core.regions import Zone


class Surface(StrEnum):
    """How a tile looks and feels; words of the trade."""

    GLOSSY = "glossy"
    SATIN = "satin"
    SILKY_MATTE = "silky matte"
    DRY_MATTE = "dry matte"
    UNMELTED = "unmelted"


ZONE_OF: Mapping[Surface, Zone] = {
    Surface.GLOSSY: Zone.GLOSSY,
    Surface.SATIN: Zone.SATIN,
    Surface.SILKY_MATTE: Zone.MATTE,
    Surface.DRY_MATTE: Zone.MATTE,
    Surface.UNMELTED: Zone.UNDERFIRED,
}
"""The zone of the map in which a tile of that surface lies."""

DEFECTS = (
    *("crazing", "shivering", "dunting", "crawling", "pinholes", "blisters", "running"),
    *("bare spots", "specks", "crystals", "scum", "discoloured"),
)
"""Offered while typing; any other words stand as well."""

GLOSS_ANGLES = (20.0, 60.0, 85.0)
"""Angles at which gloss units are measured (ISO 2813:2014, from memory) [degrees]."""
MOST_GLOSS = 200.0
MOST_LEVEL = 3
MOST_THICKNESS_MM = 20.0


@dataclass(frozen=True, slots=True)
class Defect:
    """A fault of the surface, where it is and how much of the tile it takes."""

    name: str
    place: str = ""
    share_percent: float | None = None
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Result:
    """One reading of one tile; what was not looked at is empty or None."""

    surface: Surface | None = None
    touch: str = ""
    gloss_units: float | None = None
    gloss_angle: float | None = None
    """[degrees]"""
    defects: tuple[Defect, ...] = ()
    marks: int | None = None
    """Cutlery marks, 0 none to 3 heavy."""
    cleans: int | None = None
    """How marks and dye come off, 0 at a wipe to 3 not at all."""
    thickness_mm: float | None = None
    """Of the fired layer [mm]."""
    body: str = ""
    shelf: str = ""
    local_cone: str = ""
    """As text: the cone that the witness beside the tile showed."""
    cooling: str = ""
    photo: str = ""
    """Name of a file in the studio's photos."""
    notes: str = ""
    read: str = ""
    """The day, as ISO 8601 text."""
    version: str = ""
    """Of the recipe that was read; see `core.tiles.version`."""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


def check_result(result: Result) -> None:
    """Check the figures of a result.

    Raises
    ------
    InputError
        If one of them cannot be; its path names the field.
    """
    for name, what in (("marks", "marking"), ("cleans", "cleaning")):
        level = getattr(result, name)
        if level is not None and level not in range(MOST_LEVEL + 1):
            raise _fault(f"{level} is no degree of {what}", f"give 0 to {MOST_LEVEL}", name)
    _check_range(result.gloss_units, 0.0, MOST_GLOSS, "gloss units", "gloss_units")
    if result.gloss_angle is not None:
        if result.gloss_angle not in GLOSS_ANGLES:
            angles = ", ".join(f"{angle:g}" for angle in GLOSS_ANGLES)
            raise _fault(
                f"gloss is not measured at {result.gloss_angle:g} degrees",
                f"give one of {angles}",
                "gloss_angle",
            )
        if result.gloss_units is None:
            raise _fault("an angle stands without gloss units", "give both", "gloss_angle")
    _check_range(result.thickness_mm, 0.0, MOST_THICKNESS_MM, "thickness", "thickness_mm")
    if result.local_cone and rank(result.local_cone) is None:
        raise _fault(
            f"there is no cone {result.local_cone!r}", "write one from 022 to 14", "local_cone"
        )
    if result.photo and (set(result.photo) & set("/\\:") or result.photo.startswith(".")):
        raise _fault(
            f"{result.photo!r} is no file of the studio's photos",
            "name a file that lies in photos",
            "photo",
        )
    for number, defect in enumerate(result.defects):
        place = f"defects[{number}]"
        if not defect.name.strip():
            raise _fault("a defect has no name", "say what it is", f"{place}.name")
        _check_range(defect.share_percent, 0.0, 100.0, "share", f"{place}.share_percent")


def _check_range(value: float | None, low: float, high: float, what: str, path: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise _fault(f"the {what} cannot be {value:g}", f"give {low:g} to {high:g}", path)


def _fault(what: str, mend: str, path: str) -> InputError:
    return InputError(what, mend, path=path)
