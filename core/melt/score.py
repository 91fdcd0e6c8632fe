"""Scores of the melt models: ``python -m core.melt.score FILE... [--json] [--split val]``.

Reads files of the melt data's format, plain or xz-compressed, and says how far
the shipped models are from the measurements.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import GlostError, InputError
from core.melt.composition import families
from core.melt.expansion import fitted_expansion
from core.melt.liquidus import liquidus_c
from core.melt.rows import Rows, read_rows
from core.melt.viscosity import log10_viscosity

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

UNITS: Final = {"viscosity": "log10 Pa·s", "liquidus": "K", "expansion": "1e-6/K"}
FIRING_C: Final = (1000.0, 1350.0)
SPLITS: Final = ("all", "train", "val")
# Rows predicted at once: keeps the memory small.
_CHUNK: Final = 8192

_PREDICT: Final[dict[str, Callable[[Rows], Floats]]] = {
    "viscosity": lambda rows: log10_viscosity(rows.fractions, rows.temperature_c),
    "liquidus": lambda rows: liquidus_c(rows.fractions),
    "expansion": lambda rows: fitted_expansion(rows.fractions),
}


@dataclass(frozen=True)
class Score:
    """Errors over a group of rows; None where it is empty."""

    rows: int
    publications: int
    rmse: float | None
    mae: float | None


def predicted(rows: Rows) -> Floats:
    """Figures of the shipped model for rows, in the unit of their values, shape (n,)."""
    found = [
        _PREDICT[rows.prop](rows.only(np.arange(start, min(start + _CHUNK, len(rows)))))
        for start in range(0, len(rows), _CHUNK)
    ]
    return np.concatenate(found) if found else np.zeros(0)


def groups(rows: Rows) -> dict[str, Flags]:
    """Groups that are scored, by name; flags of shape (n,).

    ``core``: all core rows. ``clean``: those neither suspect nor with a twin
    among the training rows. The families are groups of the clean rows.
    """
    clean = rows.core & ~rows.suspect & ~rows.twin
    found = {"core": rows.core, "clean": clean}
    if rows.prop == "viscosity":
        low, high = FIRING_C
        firing = (rows.temperature_c >= low) & (rows.temperature_c <= high)
        found |= {"core_1000_1350_c": rows.core & firing, "clean_1000_1350_c": clean & firing}
    if rows.prop in ("viscosity", "liquidus"):
        flags = families(rows.fractions)
        found |= {
            "clean_magnesia_rich": clean & flags.magnesia_rich,
            "clean_boron_bearing": clean & flags.boron_bearing,
            "clean_alkali_lime": clean & flags.alkali_lime,
        }
    return found


def score(rows: Rows) -> dict[str, Score]:
    """Score the shipped model of a property on every group of `groups`."""
    off = predicted(rows) - rows.value
    publications = _publications(rows)
    return {
        name: Score(
            int(keep.sum()),
            len(np.unique(publications[keep])),
            float(np.sqrt(np.mean(off[keep] ** 2))) if keep.any() else None,
            float(np.mean(np.abs(off[keep]))) if keep.any() else None,
        )
        for name, keep in groups(rows).items()
    }


def _publications(rows: Rows) -> NDArray[np.str_]:
    """Publication of each row; where the column is missing, the end of the glass number."""
    ends = np.array([glass.rpartition("_")[2] for glass in rows.glass], str)
    return np.asarray(np.where(rows.publication == "", ends, rows.publication))


def read_files(paths: Sequence[str], split: str = "all") -> dict[str, Rows]:
    """Read files and join those of one property.

    Parameters
    ----------
    paths : sequence of str
    split : str
        "val" or "train" leaves out the rows of the other; a row that names
        no split always counts.

    Raises
    ------
    InputError
        If a file cannot be read, holds no rows, or a row has no oxides or a
        figure that is not sound.
    """
    parts: dict[str, list[Rows]] = {}
    for path in paths:
        rows = read_rows(path)
        _check(path, rows)
        if split != "all":
            rows = rows.only((rows.split == split) | (rows.split == ""))
        parts.setdefault(rows.prop, []).append(rows)
    return {prop: _joined(found) for prop, found in parts.items()}


def _check(path: str, rows: Rows) -> None:
    if not len(rows):
        raise InputError("holds no rows", "give a file with measurements", path)
    empty = rows.fractions.sum(axis=-1) <= 0
    if empty.any():
        raise InputError(
            f"row {int(empty.argmax()) + 1} has no oxides", "write its mole fractions", path
        )


def _joined(parts: list[Rows]) -> Rows:
    if len(parts) == 1:
        return parts[0]

    def column(name: str) -> NDArray[np.generic]:
        return np.concatenate([getattr(part, name) for part in parts])

    names = [name for name in Rows.__dataclass_fields__ if name != "prop"]
    return Rows(parts[0].prop, **{name: column(name) for name in names})  # type: ignore[arg-type]


def as_json(scores: dict[str, dict[str, Score]]) -> str:
    """Scores as one JSON object: property, unit and groups."""
    tree = {
        prop: {
            "unit": UNITS[prop],
            "groups": {
                name: {
                    "rows": found.rows,
                    "publications": found.publications,
                    "rmse": found.rmse,
                    "mae": found.mae,
                }
                for name, found in by_group.items()
            },
        }
        for prop, by_group in scores.items()
    }
    return json.dumps(tree, indent=2, allow_nan=False)


def as_text(scores: dict[str, dict[str, Score]]) -> str:
    """Scores as a table for people."""
    lines = []
    for prop, by_group in scores.items():
        lines.append(
            f"{prop} [{UNITS[prop]}]".ljust(32)
            + "".join(title.rjust(14) for title in ("rows", "publications", "RMSE", "MAE"))
        )
        for name, found in by_group.items():
            digits = 1 if prop == "liquidus" else 3
            errors = [
                "-" if value is None else f"{value:.{digits}f}" for value in (found.rmse, found.mae)
            ]
            cells = [str(found.rows), str(found.publications), *errors]
            lines.append(f"  {_WORDS[name]}".ljust(32) + "".join(cell.rjust(14) for cell in cells))
    if "expansion" in scores:
        lines.append(_SEEN)
    return "\n".join(lines)


_SEEN: Final = (
    "The shipped expansion is fitted on both splits of data/melts: on their rows this is no test. "
    "data/melt/card-expansion.yaml has the errors on publications held out."
)
_WORDS: Final = {
    "core": "core",
    "clean": "clean, no twins",
    "core_1000_1350_c": "core, 1000-1350 °C",
    "clean_1000_1350_c": "clean, 1000-1350 °C",
    "clean_magnesia_rich": "clean, magnesia-rich",
    "clean_boron_bearing": "clean, boron-bearing",
    "clean_alkali_lime": "clean, alkali-lime",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Score the files; return 0, or 1 with one line on stderr if a file is wrong."""
    parser = argparse.ArgumentParser(
        prog="python -m core.melt.score", description="Score the melt models on measured rows."
    )
    parser.add_argument("files", nargs="+", metavar="FILE", help="CSV or CSV.xz of melt data")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument(
        "--split", choices=SPLITS, default="all", help="only rows of this split (default: all)"
    )
    chosen = parser.parse_args(argv)
    try:
        scores = {
            prop: score(rows) for prop, rows in read_files(chosen.files, chosen.split).items()
        }
    except GlostError as fault:
        print(fault, file=sys.stderr)
        return 1
    try:
        print(as_json(scores) if chosen.json else as_text(scores), flush=True)
    except BrokenPipeError:
        # The reader has gone; so has the need to write.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


if __name__ == "__main__":
    sys.exit(main())
