"""The fit: from rows of melt data to the coefficients that are shipped.

Run ``python -m core.melt.fit [DATA_FOLDER]`` from a checkout. It fits on the
rows marked ``train``, measures errors on publications that it held out, and
writes the coefficients and their card. Seeded: the same rows on the same
numerical libraries give the same files.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import GlostError
from core.melt import domain, fit_expansion, fit_liquidus, fit_viscosity
from core.melt.card import BANDS, FAMILIES
from core.melt.composition import Families, families
from core.melt.errors import by_family
from core.melt.liquidus import HIGHEST_C, LOWEST_C, magnesia_ramp, uncorrected_c
from core.melt.network import Ensemble, save
from core.melt.rows import Rows, read_rows
from core.melt.viscosity import curve
from core.plain_yaml import write
from core.tables import data_folder

SEED: Final = 20
NETWORKS: Final = 6
FOLDS: Final = 4
FOLD_NETWORKS: Final = 3
CENTRES: Final = 256
# Classes of distance to the training data, as multiples of its usual spread.
GROWTH_EDGES: Final = (0.0, 0.4, 0.6, 0.8, 1.0, 1.4, 2.2)
# Fewer held-out rows than this say little of a family.
_ENOUGH: Final = 40

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Rows whose publication the fit did not see, and what was predicted for them."""

    where: str
    rows: Rows
    predicted: Floats

    @property
    def residual(self) -> Floats:
        """Predicted less measured, shape (n,)."""
        return np.asarray(self.predicted - self.rows.value)

    @property
    def clean(self) -> Flags:
        """Glaze-like rows that are no twins of training rows and not suspect."""
        return np.asarray(self.rows.core & ~self.rows.twin & ~self.rows.suspect)


def folds(rows: Rows, count: int, seed: int) -> NDArray[np.intp]:
    """Number of the fold of each row; a publication lies in one fold whole."""
    names, which = np.unique(rows.publication, return_inverse=True)
    return np.asarray(np.random.default_rng(seed).integers(0, count, len(names))[which])


def across_folds(
    rows: Rows,
    fit: Callable[[Rows, int, int], Ensemble],
    predict: Callable[[Rows, Ensemble], Floats],
) -> HeldOut:
    """Predict each row from networks fitted without its publication."""
    fold = folds(rows, FOLDS, SEED)
    predicted = np.zeros(len(rows))
    for number in range(FOLDS):
        networks = fit(rows.only(fold != number), FOLD_NETWORKS, SEED)
        predicted[fold == number] = predict(rows.only(fold == number), networks)
    return HeldOut("folds over the training publications", rows, predicted)


def _viscosity_of(rows: Rows, networks: Ensemble) -> Floats:
    return curve(rows.fractions, networks).log10_viscosity(rows.temperature_c)


def _liquidus_of(rows: Rows, networks: Ensemble) -> Floats:
    return np.clip(uncorrected_c(rows.fractions, networks), LOWEST_C, HIGHEST_C)


def _family_flags(found: Families) -> dict[str, Flags]:
    other = ~(found.magnesia_rich | found.boron_bearing | found.alkali_lime)
    groups = (found.magnesia_rich, found.boron_bearing, found.alkali_lime, other)
    return dict(zip(FAMILIES, groups, strict=True))


def _rms(residual: Floats) -> float:
    return float(np.sqrt(np.mean(residual**2)))


def sigma(held_out: list[HeldOut], pick: Callable[[Rows], Flags], family: str) -> float:
    """Largest root mean square residual of a family among the held-out sets.

    Where fewer than 40 rows are left, all families together speak for it.
    """
    found = []
    for one in held_out:
        keep = one.clean & pick(one.rows)
        own = keep & _family_flags(families(one.rows.fractions))[family]
        found.append(_rms(one.residual[own if own.sum() >= _ENOUGH else keep]))
    return max(found)


def growth(one: HeldOut, sigmas: Floats, centres: domain.Centres) -> list[float]:
    """What errors are multiplied with, by distance to the training data, never falling.

    Parameters
    ----------
    one : HeldOut
        Rows of publications that neither fit nor centres know.
    sigmas : ndarray, shape (n,)
        Stated error of each row by its family (and temperature).
    centres : Centres

    Returns
    -------
    list of float
        One for each pair of `GROWTH_EDGES`.
    """
    # The wider belt counts here: it is where the far rows are.
    keep = ~one.rows.twin & ~one.rows.suspect
    percent = (100.0 * one.rows.fractions).astype(np.float32)
    gap = centres.distance(percent) / centres.limit
    found = np.full(len(GROWTH_EDGES) - 1, np.nan)
    for number, (low, high) in enumerate(pairwise(GROWTH_EDGES)):
        own = keep & (gap >= low) & (gap < high)
        if own.sum() >= _ENOUGH:
            found[number] = _rms(one.residual[own] / sigmas[own])
    # A class with too few rows takes the figure of the one before it, the
    # first classes that of the first that has one.
    rising = np.fmax.accumulate(found)
    known = rising[np.isfinite(rising)]
    first = float(known[0]) if len(known) else 1.0
    return [first if np.isnan(factor) else float(factor) for factor in rising]


def _figures(one: HeldOut) -> list[dict[str, str]]:
    """Rows of the card: how far off, by family (and in the firing range)."""
    rows, flags = one.rows, _family_flags(families(one.rows.fractions))
    sets = {"all": one.clean, **{name: one.clean & flag for name, flag in flags.items()}}
    if rows.prop == "viscosity":
        low, high = BANDS["1000_to_1350"]
        firing = (rows.temperature_c >= low) & (rows.temperature_c <= high)
        sets |= {f"{name}, 1000-1350 °C": keep & firing for name, keep in sets.items()}
    digits = 3 if rows.prop == "viscosity" else 1
    return [
        {
            "property": rows.prop,
            "held_out": one.where,
            "rows_of": name,
            "rows": str(int(keep.sum())),
            "publications": str(len(np.unique(rows.publication[keep]))),
            "rmse": f"{_rms(one.residual[keep]):.{digits}f}",
            "mae": f"{np.abs(one.residual[keep]).mean():.{digits}f}",
            "bias": f"{one.residual[keep].mean():+.{digits}f}",
        }
        for name, keep in sets.items()
        if keep.any()
    ]


def _within(low: float, high: float) -> Callable[[Rows], Flags]:
    return lambda rows: np.asarray((rows.temperature_c >= low) & (rows.temperature_c <= high))


def _every(rows: Rows) -> Flags:
    return np.ones(len(rows), dtype=bool)


def _firing(one: HeldOut) -> tuple[Rows, Floats]:
    keep = _within(*BANDS["1000_to_1350"])(one.rows)
    return one.rows.only(keep), one.predicted[keep]


def _say(text: str) -> None:
    print(text, flush=True)


def main(arguments: list[str]) -> int:
    """Fit everything and write it; return the exit code."""
    if len(arguments) > 1 or any(word.startswith("-") for word in arguments):
        print("usage: python -m core.melt.fit [DATA_FOLDER]", file=sys.stderr)
        return 2
    folder = Path(arguments[0]) if arguments else data_folder() / "melts"
    try:
        _fit_all(folder)
    except GlostError as fault:
        print(fault, file=sys.stderr)
        return 1
    return fit_expansion.main([str(folder)])


def _fit_all(folder: Path) -> None:
    target = data_folder() / "melt"
    target.mkdir(exist_ok=True)
    trained: dict[str, Rows] = {}
    networks: dict[str, Ensemble] = {}
    held: dict[str, list[HeldOut]] = {}
    for prop, fit, predict in (
        ("viscosity", fit_viscosity.fit, _viscosity_of),
        ("liquidus", fit_liquidus.fit, _liquidus_of),
    ):
        rows = read_rows(folder / f"{prop}.csv.xz")
        train, never_seen = rows.only(rows.split == "train"), rows.only(rows.split == "val")
        _say(f"{prop}: {len(train)} rows to fit, {len(never_seen)} held out")
        trained[prop] = train
        networks[prop] = fit(train, NETWORKS, SEED)
        save(target / f"{prop}.npz", networks[prop])
        held[prop] = [
            HeldOut("validation publications", never_seen, predict(never_seen, networks[prop])),
            across_folds(train, fit, predict),
        ]

    # The correction is taken from the folds, so that validation can judge it.
    of_folds = held["liquidus"][1]
    bias = fit_liquidus.magnesia_bias(
        of_folds.rows.fractions[of_folds.clean], of_folds.residual[of_folds.clean]
    )
    held["liquidus"] = [
        HeldOut(
            one.where,
            one.rows,
            np.clip(one.predicted - bias * magnesia_ramp(one.rows.fractions), LOWEST_C, HIGHEST_C),
        )
        for one in held["liquidus"]
    ]
    centres = {
        prop: domain.find_centres(rows.fractions[~rows.suspect], CENTRES, SEED)
        for prop, rows in trained.items()
    }
    domain.save(target / "domain.npz", centres)
    figures = [row for sets in held.values() for one in sets for row in _figures(one)]
    text = _card(trained, held, centres, bias, figures)
    (target / "card.yaml").write_text(text, encoding="utf-8")
    for row in figures:
        _say("  ".join(row.values()))


def _card(
    trained: dict[str, Rows],
    held: dict[str, list[HeldOut]],
    centres: dict[str, domain.Centres],
    bias: float,
    figures: list[dict[str, str]],
) -> str:
    liquidus = {family: sigma(held["liquidus"], _every, family) for family in FAMILIES}
    viscosity = {
        family: [sigma(held["viscosity"], _within(*edges), family) for edges in BANDS.values()]
        for family in FAMILIES
    }
    names = [f"from_{band}" if band[0].isdigit() else band for band in BANDS]
    unseen, unseen_liquidus = held["viscosity"][0], held["liquidus"][0]
    firing = HeldOut(unseen.where, *_firing(unseen))
    grown = zip(
        pairwise(GROWTH_EDGES),
        growth(
            firing,
            by_family(families(firing.rows.fractions), [bands[2] for bands in viscosity.values()]),
            centres["viscosity"],
        ),
        growth(
            unseen_liquidus,
            by_family(families(unseen_liquidus.rows.fractions), list(liquidus.values())),
            centres["liquidus"],
        ),
        strict=True,
    )
    return write(
        {
            "glost": "1",
            "kind": "melt-card",
            "title": "How the melt models were fitted and how far they are off",
            "source": "SciGlass (EPAM Systems), ODbL 1.0, cleaned rows in data/melts;"
            " made by python -m core.melt.fit, do not edit",
            "units": "viscosity log10 Pa·s, liquidus K; errors are root mean squares",
            "confidence": "computed",
            "fitted_on": [
                {
                    "property": prop,
                    "rows": str(len(rows)),
                    "glasses": str(len(np.unique(rows.glass))),
                    "publications": str(len(np.unique(rows.publication))),
                    "networks": str(NETWORKS),
                    "hidden_units": " ".join(map(str, shape.hidden)),
                    "seed": str(SEED),
                }
                for (prop, rows), shape in zip(
                    trained.items(), (fit_viscosity.SHAPE, fit_liquidus.SHAPE), strict=True
                )
            ],
            "magnesia_bias_k": f"{bias:.1f}",
            "errors": [
                {
                    "family": family,
                    "liquidus_k": f"{liquidus[family]:.1f}",
                    **{
                        name: f"{value:.3f}"
                        for name, value in zip(names, viscosity[family], strict=True)
                    },
                }
                for family in FAMILIES
            ],
            "growth": [
                {
                    "distance": f"{(low + high) / 2:.2f}",
                    "viscosity": f"{of_viscosity:.2f}",
                    "liquidus": f"{of_liquidus:.2f}",
                }
                for (low, high), of_viscosity, of_liquidus in grown
            ],
            "held_out": [dict(row) for row in figures],
        }
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
