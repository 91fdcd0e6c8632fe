"""The fit of the thermal expansion: ``python -m core.melt.fit_expansion [DATA_FOLDER]``.

First the training publications alone, whose errors on the validation
publications are written to the card; then all of them, which are the
coefficients that ship.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.melt.composition import MODELLED, families, features
from core.melt.expansion import FITTED, LINEAR, additive_expansion, left_out, published_sets
from core.melt.network import Ensemble, join, save
from core.melt.rows import Rows, read_rows
from core.melt.training import Head, Shape, fit_network, huber, scaling
from core.plain_yaml import Tree, write
from core.tables import data_folder

Floats = NDArray[np.float64]

SEEDS: Final = (1, 2, 3, 4, 5, 6, 7, 8)
SHAPE: Final = Shape(hidden=(12,), decay=2e-4, steps=400)
DELTA: Final = 0.4
"""Residual beyond which a row pulls no harder [1e-6/K]: rows differ by how and
over which temperatures they were measured."""
BELT_WEIGHT: Final = 0.5
SUSPECT_WEIGHT: Final = 0.2
COVERED: Final = 1.05e-3
"""Mole fraction that a set may leave out of a glass that it still covers: a
thousandth, which many rows hold exactly, and a margin for rounding."""
_RIDGE: Final = 0.01
_ROUNDS: Final = 30


@dataclass(frozen=True, eq=False)
class ExpansionFit:
    """Coefficients of the linear sum and the networks that correct it."""

    coefficients: Floats
    """[1e-6/K] by oxide, shape (18,)."""
    networks: Ensemble

    def linear(self, fractions: Floats) -> Floats:
        """Linear sum [1e-6/K]; fractions of shape (..., 18)."""
        return np.asarray(fractions @ self.coefficients)

    def predict(self, fractions: Floats) -> Floats:
        """Linear sum with its correction [1e-6/K]; fractions of shape (..., 18)."""
        return self.linear(fractions) + self.networks.mean(features(fractions))[..., 0]


def fit_linear(rows: Rows, weight: Floats) -> Floats:
    """Coefficients of the linear sum by a Huber loss with a light ridge, shape (18,)."""
    x, y = rows.fractions, rows.value
    pull = weight
    coefficients: Floats = np.zeros(x.shape[1])
    for _ in range(_ROUNDS):
        normal = x.T @ (x * pull[:, None]) + _RIDGE * np.eye(x.shape[1])
        coefficients = np.asarray(np.linalg.solve(normal, x.T @ (pull * y)), float)
        off = np.abs(y - x @ coefficients)
        pull = weight * np.minimum(1.0, DELTA / np.maximum(off, 1e-9))
    return coefficients


def fit_expansion(rows: Rows, seeds: Sequence[int] = SEEDS, shape: Shape = SHAPE) -> ExpansionFit:
    """Fit the linear sum and the networks on it.

    Parameters
    ----------
    rows : Rows
        Of the expansion.
    seeds : sequence of int
        One network for each; the same seeds give the same fit.
    shape : Shape

    Returns
    -------
    ExpansionFit
    """
    weight = np.where(rows.core, 1.0, BELT_WEIGHT) * np.where(rows.suspect, SUSPECT_WEIGHT, 1.0)
    coefficients = fit_linear(rows, weight)
    inputs = features(rows.fractions)
    head = _head(rows.value - rows.fractions @ coefficients, weight)
    scale = scaling(inputs, weight)
    networks = [fit_network(inputs, scale, 1, head, shape, seed) for seed in seeds]
    return ExpansionFit(coefficients, join(networks))


def _head(target: Floats, weight: Floats) -> Head:
    goal = target.astype(np.float32)
    share = (weight / weight.sum()).astype(np.float32)

    def head(outputs: NDArray[np.float32]) -> tuple[float, NDArray[np.float32]]:
        loss, slope = huber(outputs[:, 0] - goal, DELTA)
        return float(share @ loss), (share * slope)[:, None]

    return head


def clean_core(rows: Rows) -> NDArray[np.bool_]:
    """Rows to score on: core, not suspect, no twin in the training rows; shape (n,)."""
    return np.asarray(rows.core & ~rows.suspect & ~rows.twin)


def compare(rows: Rows, fit: ExpansionFit) -> list[dict[str, str]]:
    """Errors of the fit and of every published set on the same rows.

    Returns
    -------
    list of dict
        By set: RMSE and MAE [1e-6/K] on all rows, RMSE by family, and RMSE on
        those rows whose oxides the set knows but for a thousandth of their moles.
    """
    models: dict[str, Callable[[Floats], Floats]] = {FITTED: fit.predict, LINEAR: fit.linear}
    table = []
    for name in (FITTED, LINEAR, *published_sets()):
        published = name not in models
        off = (
            additive_expansion(rows.fractions, name) if published else models[name](rows.fractions)
        ) - rows.value
        covered = (
            left_out(rows.fractions, name) <= COVERED if published else np.ones(len(rows), bool)
        )
        table.append(
            {
                "id": name,
                "rmse": _figure(_rmse(off)),
                "mae": _figure(float(np.abs(off).mean())),
                **{family: _figure(_rmse(off[own])) for family, own in families_of(rows).items()},
                "covered_rmse": _figure(_rmse(off[covered])),
                "covered_rows": str(int(covered.sum())),
            }
        )
    return table


def families_of(rows: Rows) -> dict[str, NDArray[np.bool_]]:
    """Family flags of rows, by the names that the card keeps them under."""
    found = families(rows.fractions)
    return {
        "magnesia_rich": found.magnesia_rich,
        "boron_bearing": found.boron_bearing,
        "alkali_lime": found.alkali_lime,
        "other": ~(found.magnesia_rich | found.boron_bearing | found.alkali_lime),
    }


def _rmse(off: Floats) -> float:
    return float(np.sqrt(np.mean(off**2)))


def _figure(value: float) -> str:
    return f"{value:.3f}"


def main(argv: Sequence[str] | None = None) -> int:
    """Fit, measure and write the coefficient files; return the exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    folder = Path(arguments[0]) if arguments else data_folder() / "melts"
    target = data_folder() / "melt"
    try:
        rows = read_rows(folder / "cte.csv.xz")
    except InputError as fault:
        print(fault, file=sys.stderr)
        return 1
    held_out = rows.only((rows.split == "val") & clean_core(rows))
    trial = fit_expansion(rows.only(rows.split == "train"))
    errors = compare(held_out, trial)
    final = fit_expansion(rows)
    save(target / "expansion.npz", final.networks)
    shares: list[Tree] = [
        {"id": oxide, "coefficient": f"{value:.3f}"}
        for oxide, value in zip(MODELLED, final.coefficients, strict=True)
    ]
    card: dict[str, Tree] = {
        "glost": "1",
        "kind": "melt-card-expansion",
        "title": "Thermal expansion: linear coefficients and errors",
        "source": "fitted by core.melt.fit_expansion on SciGlass rows (ODbL 1.0)",
        "confidence": "computed",
        "units": "1e-6/K; coefficients by mole fraction of the oxide",
        "seeds": " ".join(str(seed) for seed in SEEDS),
        "rows": str(len(rows)),
        "publications": str(len(np.unique(rows.publication))),
        "expansion_linear": shares,
        "errors_on": "core rows of validation publications, not suspect, without a twin among the"
        " training rows; the fit of these errors had seen training publications alone, the"
        " coefficients shipped have seen all",
        "held_out_rows": str(len(held_out)),
        "held_out_publications": str(len(np.unique(held_out.publication))),
        "errors": list[Tree](dict[str, Tree](row) for row in errors),
    }
    (target / "card-expansion.yaml").write_text(write(card), encoding="utf-8")
    for row in errors:
        print(f"{row['id']:18} RMSE {row['rmse']}  MAE {row['mae']}  1e-6/K")
    return 0


if __name__ == "__main__":
    sys.exit(main())
