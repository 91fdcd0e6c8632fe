"""Rows as cells of a spreadsheet, both ways."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterable

from core.errors import InputError
from core.materials import MaterialTable
from core.numbers import number_text, read_amount
from core.recipe import MOST_ROWS, Ingredient, Rows

# A cell that begins with one of these is run as a formula when pasted (OWASP, "CSV Injection");
# in some languages so is one that begins with their wide forms.
_RUNS = ("=", "+", "-", "@", "−")
LONGEST_PASTE = 100_000
_TOTALS = ("total", "sum", "base total")


def cells_of(rows: Iterable[tuple[str, float]]) -> str:
    """Write (name, amount) rows as tab-separated cells.

    A name that a spreadsheet would run as a formula, or that `rows_from` would
    not read as the name it is, gets an apostrophe.

    Examples
    --------
    >>> cells_of([("Talc", 16.0), ("=cmd", 1.0)])
    "Talc\\t16\\n'=cmd\\t1\\n"
    """
    lines = []
    for name, amount in rows:
        text = " ".join(name.split())
        lines.append(f"{as_cell(text)}\t{number_text(amount)}\n")
    return "".join(lines)


def as_cell(text: str) -> str:
    """Return text for a cell, with an apostrophe where it would be taken for something else.

    Examples
    --------
    >>> as_cell("Talc"), as_cell("＝cmd"), as_cell("'quoted")
    ('Talc', "'＝cmd", "''quoted")
    """
    # What is not seen before the first character does not keep a formula from running.
    seen = next((c for c in text if c.isprintable() and not c.isspace()), "")
    runs = unicodedata.normalize("NFKC", seen).startswith(_RUNS) or text[:1] in ("\t", "\r")
    misread = not text[:1].isprintable() or text.startswith(("'", '"')) or _is_total(text)
    return f"'{text}" if runs or misread else text


def rows_from(text: str, table: MaterialTable) -> Rows:
    """Read cells pasted from a spreadsheet: a name and an amount in each line.

    Cells are parted by tabs, else by semicolons, else by commas, and may be
    quoted. The first cell after the name that holds a digit is the amount. A first line
    without an amount is a heading; a line called total is passed over. A name
    that is found nowhere in the table is kept as it stands and shown as
    missing.

    Raises
    ------
    InputError
        With the number of the first line that holds no name and amount, so
        that no row is lost without a word; or if there are none or too many.

    Examples
    --------
    >>> rows_from("material\\tparts\\nnowhere spar\\t12,5", MaterialTable())[0].amount
    12.5
    """
    if len(text) > LONGEST_PASTE:
        raise InputError("the clipboard holds too much text", "copy the rows alone")
    rows = []
    for number, cells in enumerate(_cells(text), 1):
        cells = [cell.strip() for cell in cells]
        if not any(cells) or _is_total(cells[0]):
            continue
        try:
            rows.append(_row(cells, table))
        except InputError as fault:
            if number == 1 and not any(c.isdigit() for cell in cells[1:] for c in cell):
                continue
            raise InputError(f"line {number} of the clipboard: {fault.what}", fault.mend) from fault
    if not rows:
        raise InputError(
            "the clipboard holds no rows", "copy two columns: the material and its parts"
        )
    if len(rows) > MOST_ROWS:
        raise InputError(f"the clipboard holds {len(rows)} rows", f"paste at most {MOST_ROWS}")
    return tuple(rows)


def _is_total(text: str) -> bool:
    return text.casefold().strip(":") in _TOTALS


def _cells(text: str) -> list[list[str]]:
    parting = next((mark for mark in "\t;" if mark in text), ",")
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=parting))
    except csv.Error as fault:
        raise InputError(
            f"the clipboard cannot be read ({fault})", "copy the cells anew"
        ) from fault


def _row(cells: list[str], table: MaterialTable) -> Ingredient:
    name = " ".join(cells[0].removeprefix("\ufeff").removeprefix("'").split())
    if not name:
        raise InputError("has no material", "put its name in the first column")
    # A remark may stand between; the first cell with a digit has to be the amount.
    amount = next((cell for cell in cells[1:] if any(c.isdigit() for c in cell)), "")
    if not amount:
        raise InputError(f"{name} has no amount", "put its parts in the second column")
    return Ingredient(_material_id(name, table), read_amount(amount.removesuffix("%")))


def _material_id(name: str, table: MaterialTable) -> str:
    if name in table:
        return name
    exact = [m for m in table if name.casefold() in {t.casefold() for t in (m.name, *m.synonyms)}]
    if exact:
        return exact[0].id
    clean = " ".join("".join(c for c in name if c.isprintable()).split())[:80].strip()
    return clean or "unnamed"
