"""Where the shipped tables lie, and how a table of records is read."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

import msgspec

from core.plain_yaml import PlainYaml, Tree, read_file
from core.schema import convert, expect_kind, unknown_keys

R = TypeVar("R", bound=msgspec.Struct)


def data_folder() -> Path:
    """Return the folder of the shipped tables: packed in the wheel, or of the checkout."""
    packed = Path(__file__).parent / "_data"
    return packed if packed.is_dir() else Path(__file__).parent.parent / "data"


def read_records(
    document: PlainYaml, kind: str, record: type[R], shipped: bool = False
) -> list[tuple[int, R]]:
    """Read the list that a table file keeps under its kind.

    Parameters
    ----------
    document : PlainYaml
        The file; ``kind: bodies`` keeps its rows under ``bodies``.
    kind : str
        With hyphens where the key has underscores.
    record : type
        With an ``id`` that may not repeat.
    shipped : bool
        Refuse keys that the record does not know: in our own tables they are
        slips. In a studio's they may be newer than this program.

    Returns
    -------
    list of (row number, record)

    Raises
    ------
    InputError
        With file, line and path of the first fault.
    """
    expect_kind(document, kind)
    tree = document.tree
    key = kind.replace("-", "_")
    rows = tree.get(key) if isinstance(tree, dict) else None
    if rows is None or rows == "":
        return []
    if not isinstance(rows, list):
        raise document.fault((key,), "is no list", "write one row per line, each after a dash")
    found: list[tuple[int, R]] = []
    seen: dict[str, int] = {}
    for number, row in enumerate(rows):
        item = convert(document, record, (key, number))
        if shipped:
            _refuse_unknown(document, row, record, key, number)
        name = getattr(item, "id", None)
        if name is not None:
            if not name.strip():
                raise document.fault((key, number, "id"), "is empty", "give it an id")
            if name in seen:
                raise document.fault(
                    (key, number, "id"),
                    f"repeats the id {name!r} of row {seen[name] + 1}",
                    "give each its own id",
                )
            seen[name] = number
        found.append((number, item))
    return found


def _refuse_unknown(
    document: PlainYaml, row: Tree, record: type[msgspec.Struct], key: str, number: int
) -> None:
    for name in unknown_keys(row, record):
        raise document.fault((key, number, name), "is an unknown key", "is it misspelt?")


def shipped(name: str) -> PlainYaml:
    """Read a shipped file by its name."""
    return read_file(data_folder() / name)
