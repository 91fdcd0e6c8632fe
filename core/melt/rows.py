"""Rows of the melt data files, read into arrays."""

from __future__ import annotations

import csv
import io
import lzma
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.melt.composition import MODELLED

VALUE_COLUMNS = {
    "log10_eta_Pa_s": "viscosity",
    "T_liquidus_C": "liquidus",
    "cte_1e-6_per_K": "expansion",
}
"""The column that tells of which property a file speaks."""


@dataclass(frozen=True, eq=False)
class Rows:
    """Measurements of one property, one entry per row of the file."""

    prop: str
    """"viscosity", "liquidus" or "expansion"."""
    glass: NDArray[np.str_]
    """Glass number and publication number joined, shape (n,)."""
    publication: NDArray[np.str_]
    split: NDArray[np.str_]
    core: NDArray[np.bool_]
    twin: NDArray[np.bool_]
    suspect: NDArray[np.bool_]
    fractions: NDArray[np.float64]
    """Mole fractions on the 18 oxides, shape (n, 18)."""
    value: NDArray[np.float64]
    """[log10 Pa·s], [°C] or [1e-6/K]."""
    temperature_c: NDArray[np.float64]
    """[°C]; NaN where the property has none."""

    def __len__(self) -> int:
        return len(self.value)

    def only(self, keep: NDArray[Any]) -> Rows:
        """Return the rows that a mask or index picks."""
        return Rows(
            self.prop,
            **{f.name: getattr(self, f.name)[keep] for f in fields(self) if f.name != "prop"},
        )


def read_rows(path: Path | str) -> Rows:
    """Read a CSV file of melt data, plain or xz-compressed.

    Parameters
    ----------
    path : path
        Its header names `ID`, the 18 oxides and one of `VALUE_COLUMNS`; the
        other columns (`publication`, `split`, `core`, `twin`, `suspect`) may
        be missing and then read as empty, 1, 0 and 0.

    Returns
    -------
    Rows

    Raises
    ------
    InputError
        If the file cannot be read, lacks a column, or a line is cut short or
        holds no number where one must stand, or an amount below zero.
    """
    path = Path(path)
    try:
        raw = lzma.decompress(path.read_bytes()) if path.suffix == ".xz" else path.read_bytes()
        lines = csv.reader(io.StringIO(raw.decode("utf-8-sig")))
        header = next(lines, [])
        body = [line for line in lines if line]
    except (OSError, lzma.LZMAError, UnicodeDecodeError, csv.Error) as fault:
        raise InputError(
            f"cannot be read: {fault}", "give a CSV file of melt data", str(path)
        ) from fault
    prop = next((name for column, name in VALUE_COLUMNS.items() if column in header), None)
    value_column = next((column for column in VALUE_COLUMNS if column in header), "")
    needed = ["ID", *MODELLED, *(["T_C"] if prop == "viscosity" else [])]
    missing = [name for name in needed if name not in header]
    if prop is None:
        missing.insert(0, " or ".join(VALUE_COLUMNS))
    if missing or prop is None:
        raise InputError(
            f"the column {missing[0]} is missing", "keep the header of the data files", str(path)
        )
    for number, line in enumerate(body, 2):
        if len(line) != len(header):
            raise InputError(
                f"has {len(line)} fields where the header has {len(header)}",
                "mend or drop the line",
                str(path),
                number,
            )
    count = len(body)
    table = dict(zip(header, zip(*body, strict=True) if body else [()] * len(header), strict=True))

    def numbers(name: str, default: float = 0.0) -> NDArray[np.float64]:
        if name not in table:
            return np.full(count, default)
        try:
            found = np.array(table[name], float)
        except ValueError as fault:
            raise InputError(f"column {name}: {fault}", "write plain numbers", str(path)) from fault
        refuse(~np.isfinite(found), f"{name} is not finite", "write a finite number")
        return found

    def refuse(bad: NDArray[np.bool_], what: str, mend: str) -> None:
        if bad.any():
            raise InputError(what, mend, str(path), int(bad.argmax()) + 2)

    def words(name: str) -> NDArray[np.str_]:
        return np.array(table[name] if name in table else [""] * count, str)

    amounts = np.stack([numbers(oxide) for oxide in MODELLED], axis=-1)
    total = amounts.sum(axis=-1, keepdims=True)
    refuse(np.asarray((amounts < 0).any(axis=-1)), "an oxide is negative", "write zero or more")
    refuse(total[:, 0] <= 0, "no oxide has an amount", "drop the line")
    return Rows(
        prop,
        words("ID"),
        words("publication"),
        words("split"),
        numbers("core", 1.0) > 0,
        numbers("twin") > 0,
        numbers("suspect") > 0,
        amounts / total,
        numbers(value_column),
        numbers("T_C", np.nan),
    )
