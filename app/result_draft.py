"""A tile's result as it is being typed: texts, what they read as, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from enum import StrEnum
from typing import Final

from core.errors import InputError
from core.numbers import number_text, read_number
from core.schema import LONGEST_NAME
from core.tiles.result import Defect, Result, Surface, check_result


class Field(StrEnum):
    """The fields of a result, named as in `core.tiles.result.Result`, in reading order."""

    SURFACE = "surface"
    TOUCH = "touch"
    GLOSS_UNITS = "gloss_units"
    GLOSS_ANGLE = "gloss_angle"
    DEFECTS = "defects"
    MARKS = "marks"
    CLEANS = "cleans"
    THICKNESS = "thickness_mm"
    LOCAL_CONE = "local_cone"
    BODY = "body"
    SHELF = "shelf"
    COOLING = "cooling"
    NOTES = "notes"


FIGURES: Final = (Field.GLOSS_UNITS, Field.GLOSS_ANGLE, Field.THICKNESS)
LEVELS: Final = (Field.MARKS, Field.CLEANS)
LINES: Final = (Field.TOUCH, Field.LOCAL_CONE, Field.BODY, Field.SHELF, Field.COOLING)

Texts = Mapping[Field, str]


def texts_of(result: Result | None) -> dict[Field, str]:
    """Write a result as texts; what was not looked at is empty."""
    shown = result or Result()
    texts = dict.fromkeys(Field, "")
    texts[Field.SURFACE] = shown.surface.value if shown.surface else ""
    for field in (*FIGURES, *LEVELS):
        value = getattr(shown, field.value)
        texts[field] = "" if value is None else number_text(float(value))
    for field in (*LINES, Field.NOTES):
        texts[field] = getattr(shown, field.value)
    texts[Field.DEFECTS] = defects_text(shown.defects)
    return texts


def read_texts(
    texts: Texts, original: Result | None, today: str
) -> tuple[Result | None, dict[Field, str]]:
    """Read texts as a result, and say what is wrong, by field.

    A field whose text is as it was first shown keeps its value to the last
    digit. A result in which nothing is left is None. The day of reading is
    `today` unless the tile had one.
    """
    kept = original or Result()
    shown = texts_of(original)
    changed: dict[str, object] = {}
    faults: dict[Field, str] = {}
    for field in Field:
        if texts[field] == shown[field]:
            continue
        try:
            changed[field.value] = _value(field, texts[field], kept)
        except InputError as fault:
            faults[field] = str(fault)
    result = replace(kept, **changed)  # type: ignore[arg-type]
    try:
        check_result(result)
    except InputError as fault:
        name = fault.path.partition("[")[0]
        field = Field(name) if name in set(Field) else Field.NOTES
        faults.setdefault(field, f"{fault.what}; {fault.mend}")
    if faults:
        return None, faults
    if replace(result, read="", version="") == Result():
        return None, {}
    return (result if result.read else replace(result, read=today)), {}


def _value(field: Field, text: str, kept: Result) -> object:
    if field is Field.NOTES:
        return text
    line = " ".join(text.split())
    if len(line) > LONGEST_NAME and field is not Field.DEFECTS:
        raise InputError(f"has {len(line)} characters", f"use at most {LONGEST_NAME} here")
    if field is Field.SURFACE:
        return Surface(line) if line else None
    if field is Field.DEFECTS:
        return read_defects(line, kept.defects)
    if field in LEVELS:
        return int(read_number(line)) if line else None
    if field in FIGURES:
        return read_number(line) if line else None
    return line


def defects_text(defects: Iterable[Defect]) -> str:
    """Write defects in one line.

    Examples
    --------
    >>> defects_text((Defect("running", "foot", 10.0), Defect("crazing")))
    'running, foot, 10 %; crazing'
    """
    said = []
    for defect in defects:
        parts = [defect.name]
        if defect.place:
            parts.append(defect.place)
        if defect.share_percent is not None:
            parts.append(f"{number_text(defect.share_percent)} %")
        said.append(", ".join(parts))
    return "; ".join(said)


def read_defects(text: str, known: Iterable[Defect] = ()) -> tuple[Defect, ...]:
    """Read "running, foot, 10 %; crazing": name, place and share, defects parted by ";".

    Raises
    ------
    InputError
        If a share is no figure or a defect has no name.

    Examples
    --------
    >>> read_defects("running, foot, 10 %")
    (Defect(name='running', place='foot', share_percent=10.0, extra={}),)
    """
    extras = {defect.name: defect.extra for defect in known}
    found = []
    for part in text.split(";"):
        if not part.strip():
            continue
        pieces = [piece.strip() for piece in part.split(",")]
        name, rest = pieces[0], [piece for piece in pieces[1:] if piece]
        if not name:
            raise InputError("a defect has no name", "say what it is")
        share = None
        if rest and (rest[-1].endswith("%") or rest[-1][0].isdigit()):
            share = read_number(rest.pop().removesuffix("%"))
        for words in (name, *rest):
            if words.endswith("%"):
                raise InputError(
                    f"{words!r} has no comma before its share", 'write "running, foot, 10 %"'
                )
            if len(words) > LONGEST_NAME:
                raise InputError(f"has {len(words)} characters", f"use at most {LONGEST_NAME}")
        found.append(Defect(name, ", ".join(rest), share, extras.get(name, {})))
    return tuple(found)
