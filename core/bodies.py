"""Clay bodies: what the glaze has to fit."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import msgspec

from core.files.formats import in_present_format
from core.plain_yaml import PlainYaml, read_file
from core.schema import Number
from core.tables import read_records, shipped


class Body(msgspec.Struct, frozen=True):
    """A clay body; the expansion is linear, a mean over `range_c`."""

    id: str
    name: str
    expansion_1e6_per_k: Number | None = None
    """[1e-6/K]"""
    expansion_error: Number | None = None
    """Half of the usual range [1e-6/K]."""
    range_c: str = ""
    source: str = ""
    confidence: str = ""
    note: str = ""


def read_bodies(path: Path) -> dict[str, Body]:
    """Read a file of ``kind: bodies`` by id.

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    return _bodies(in_present_format(read_file(path)))


@cache
def shipped_bodies() -> Mapping[str, Body]:
    """Return the shipped bodies by id; read once."""
    return _bodies(shipped("bodies.yaml"), own=True)


def _bodies(document: PlainYaml, own: bool = False) -> dict[str, Body]:
    found = {}
    for number, body in read_records(document, "bodies", Body, own):
        expansion = body.expansion_1e6_per_k
        if expansion is not None and not 0.1 < expansion < 30:
            raise document.fault(
                ("bodies", number, "expansion_1e6_per_k"),
                f"{expansion:g} is no expansion of a fired body",
                "give the linear figure in 1e-6 per K, such as 5.5",
            )
        found[body.id] = body
    return found
