"""From plain text trees to checked records, with the place of every fault."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any, TypeVar

import msgspec

from core.errors import InputError
from core.files.formats import PRESENT
from core.numbers import read_amount, read_number
from core.plain_yaml import Place, PlainYaml, Tree

FORMAT = PRESENT
LONGEST_NAME = 80
"""Characters of a name or id."""
T = TypeVar("T", bound=msgspec.Struct)


class Number(float):
    """A finite number in a record."""


class Amount(float):
    """Parts, percent or grams in a record: finite, zero or more, not absurd."""


class Flag:
    """A yes or no in a record; truth is in `value`."""

    __slots__ = ("value",)

    def __init__(self, value: bool) -> None:
        self.value = value

    def __bool__(self) -> bool:
        return self.value


def _from_text(kind: type, value: Any) -> Any:
    if not isinstance(value, str):
        raise ValueError("a plain value belongs here")
    if kind in (Number, Amount):
        try:
            return kind(read_number(value) if kind is Number else read_amount(value))
        except InputError as fault:  # msgspec adds the place to a ValueError only
            raise ValueError(str(fault)) from fault
    if kind is Flag:
        if value.lower() not in ("yes", "no", "true", "false"):
            raise ValueError(f"{value!r} is neither yes nor no; write yes or no")
        return Flag(value.lower() in ("yes", "true"))
    raise NotImplementedError(kind)


def expect_kind(document: PlainYaml, *kinds: str) -> str:
    """Check the format number and kind of a file; return its kind.

    Raises
    ------
    InputError
        If the file is of another format or kind.
    """
    tree = document.tree
    if not isinstance(tree, dict) or "glost" not in tree:
        raise document.fault((), "is not a Glost file", 'the first line should be: glost: "1"')
    if tree["glost"] != FORMAT:
        raise document.fault(
            ("glost",),
            f"has the format {tree['glost']!r}, this program reads {FORMAT!r}",
            "open it with the Glost that wrote it",
        )
    kind = tree.get("kind")
    if kind not in kinds or not isinstance(kind, str):
        raise document.fault(
            ("kind",), f"is of the kind {kind!r}", f"expected {' or '.join(kinds)} here"
        )
    return kind


def convert(document: PlainYaml, record: type[T], place: Place = ()) -> T:
    """Convert the tree at `place` of a file into a record.

    Keys that the record does not know are left alone; see `unknown_keys`.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    tree: Any = document.tree
    for step in place:
        tree = tree[step]
    try:
        return msgspec.convert(_emptied(tree, record), record, dec_hook=_from_text)
    except msgspec.ValidationError as fault:
        text, fault_place = _split(str(fault))
        what, _, mend = text.partition("; ")
        raise document.fault(
            (*place, *fault_place), what, mend or "put the expected value there"
        ) from fault


def check_line(document: PlainYaml, place: Place, text: str, needed: bool = True) -> None:
    """Check a name or id: one line of text, not empty and not too long.

    Raises
    ------
    InputError
        With the place in the file.
    """
    if needed and not text.strip():
        raise document.fault(place, "is empty", "give it a name")
    if len(text) > LONGEST_NAME:
        raise document.fault(
            place, f"has {len(text)} characters", f"use at most {LONGEST_NAME} here"
        )
    control = next((c for c in text if unicodedata.category(c) in _NOT_IN_A_LINE), None)
    if control is not None:
        raise document.fault(
            place,
            f"has a line break or control character in it (U+{ord(control):04X})",
            "keep it on one line of plain text",
        )


# Control characters, surrogates, line and paragraph separators.
_NOT_IN_A_LINE = ("Cc", "Cs", "Zl", "Zp")


def unknown_keys(tree: Tree, record: type[msgspec.Struct]) -> dict[str, Tree]:
    """Return the entries of a mapping that `record` has no field for."""
    if not isinstance(tree, dict):
        return {}
    known = _fields(record)
    return {key: value for key, value in tree.items() if key not in known}


@cache
def _fields(record: type[msgspec.Struct]) -> Mapping[str, bool]:
    """Names of a record's fields; True for those that hold a list or mapping of their own."""
    return {
        field.encode_name: field.default is msgspec.NODEFAULT
        and field.default_factory is not msgspec.NODEFAULT
        for field in msgspec.structs.fields(record)
    }


def _emptied(tree: Any, record: type[msgspec.Struct]) -> Any:
    """Read a key without a value as left out where a list or mapping belongs."""
    if not isinstance(tree, Mapping):
        return tree
    fields = _fields(record)
    return {
        key: value for key, value in tree.items() if not (value == "" and fields.get(key, False))
    }


_WORDS = {
    "`str`": "text",
    "`array`": "a list",
    "`object`": "a mapping",
    "`int`": "a whole number",
}


def _split(message: str) -> tuple[str, Place]:
    """Part a msgspec message into kind words and the place."""
    text, _, path = message.rpartition(" - at `")
    if not text:
        text, path = path, ""
    place: list[str | int] = []
    for name, index in re.findall(r"\.([^.\[\]`]+)|\[(\d+|\.\.\.)\]", path.strip("`$")):
        if name:
            place.append(name)
        elif index.isdigit():
            place.append(int(index))
    missing = re.fullmatch(r"Object missing required field `(.+)`", text)
    if missing:
        return f"lacks {missing[1]!r}; add it", tuple(place)
    expected = re.fullmatch(r"Expected (.+?), got (.+)", text)
    if expected:
        wanted, got = (_WORDS.get(w, w.strip("`")) for w in expected.groups())
        return f"is {got} where {wanted} belongs; write {wanted} there", tuple(place)
    return text[:1].lower() + text[1:], tuple(place)
