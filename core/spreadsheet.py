"""Rows as cells of a spreadsheet, both ways."""

from __future__ import annotations

from collections.abc import Iterable

from core.errors import InputError
from core.materials import MaterialTable
from core.numbers import number_text, read_amount
from core.recipe import MOST_ROWS, Ingredient, Rows

# A cell that begins with one of these is run as a formula when pasted.
_RUNS = ("=", "+", "-", "@", "\t", "\r")
LONGEST_PASTE = 100_000


def cells_of(rows: Iterable[tuple[str, float]]) -> str:
    """Write (name, amount) rows as tab-separated cells.

    A name that a spreadsheet would run as a formula gets an apostrophe.

    Examples
    --------
    >>> cells_of([("Talc", 16.0), ("=cmd", 1.0)])
    "Talc\\t16\\n'=cmd\\t1\\n"
    """
    lines = []
    for name, amount in rows:
        text = " ".join(name.split())
        lines.append(f"{chr(39) if text.startswith(_RUNS) else ''}{text}\t{number_text(amount)}\n")
    return "".join(lines)


def rows_from(text: str, table: MaterialTable) -> Rows:
    """Read cells pasted from a spreadsheet: a name and an amount in each line.

    Cells are parted by tabs or semicolons; the first cell that reads as an
    amount counts, and the text before it is the name. Lines without an
    amount, such as a heading, are passed over. A name that is found nowhere
    in the table is kept as it stands and shown as missing.

    Raises
    ------
    InputError
        If no line holds a name and an amount, or there are too many.

    Examples
    --------
    >>> rows_from("material\\tparts\\nnowhere spar\\t12,5", MaterialTable())[0].amount
    12.5
    """
    if len(text) > LONGEST_PASTE:
        raise InputError("the clipboard holds too much text", "copy the rows alone")
    rows = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.replace(";", "\t").split("\t") if cell.strip()]
        amount = next((a for a in map(_amount, cells[1:]) if a is not None), None)
        if len(cells) < 2 or amount is None:
            continue
        rows.append(Ingredient(_material_id(cells[0].removeprefix("'"), table), amount))
    if not rows:
        raise InputError(
            "the clipboard holds no rows", "copy two columns: the material and its parts"
        )
    if len(rows) > MOST_ROWS:
        raise InputError(f"the clipboard holds {len(rows)} rows", f"paste at most {MOST_ROWS}")
    return tuple(rows)


def _amount(cell: str) -> float | None:
    try:
        return read_amount(cell.removesuffix("%"))
    except InputError:
        return None


def _material_id(name: str, table: MaterialTable) -> str:
    if name in table:
        return name
    exact = [m for m in table if name.casefold() in {t.casefold() for t in (m.name, *m.synonyms)}]
    if exact:
        return exact[0].id
    clean = "".join(c for c in name if c.isprintable())[:80].strip()
    return clean or "unnamed"
