"""How far a composition lies from those that the models were fitted on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.errors import InputError
from core.melt.composition import Composition, composition_of
from core.tables import data_folder

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

PROPERTIES: Final = ("viscosity", "liquidus")
# Below this much flux nothing is a glaze, however near a glass of silica lies.
_LEAST_FLUX: Final = 0.01
_ROUNDING: Final = 0.05


@dataclass(frozen=True, eq=False)
class Centres:
    """Middles of the groups that the training compositions fall into."""

    places: NDArray[np.float32]
    """Shape (centres, 18) [mol%]."""
    limit: float
    """Distance that 98 in 100 training compositions keep to their centre [mol%]."""
    highest: NDArray[np.float32]
    """Most of each oxide that a training composition holds, shape (18,) [mol%]."""

    def distance(self, mole_percent: NDArray[np.float32]) -> NDArray[np.float32]:
        """Distance from rows of shape (n, 18) to the nearest centre [mol%], shape (n,)."""
        # |x - c|² = |x|² - 2 x·c + |c|²: one matrix product instead of n × centres × 18.
        twice, square = self._terms
        near = mole_percent @ twice
        near += square
        gap = near.min(axis=1) + np.einsum("ij,ij->i", mole_percent, mole_percent)
        return np.asarray(np.sqrt(np.maximum(gap, 0.0)))

    @cached_property
    def _terms(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        twice = np.ascontiguousarray(-2.0 * self.places.T, dtype=np.float32)
        return twice, np.asarray(np.einsum("ij,ij->i", self.places, self.places))


@cache
def _centres() -> dict[str, Centres]:
    path = data_folder() / "melt" / "domain.npz"
    try:
        with np.load(path, allow_pickle=False) as stored:
            return {
                name: Centres(
                    stored[name].astype(np.float32),
                    float(stored[f"{name}_limit"]),
                    stored[f"{name}_highest"],
                )
                for name in PROPERTIES
            }
    except (OSError, KeyError, ValueError) as fault:
        raise InputError(
            f"the centres cannot be read: {fault}",
            "fetch the file anew or run python -m core.melt.fit",
            str(path),
        ) from fault


def save(path: Path, centres: dict[str, Centres]) -> None:
    """Write the centres in half precision: 0.03 mol% is nothing here."""
    arrays: dict[str, NDArray[np.floating]] = {}
    for name, found in centres.items():
        arrays[name] = found.places.astype(np.float16)
        arrays[f"{name}_limit"] = np.array(found.limit)
        arrays[f"{name}_highest"] = found.highest
    np.savez_compressed(path, allow_pickle=False, **arrays)


def distance(fractions: ArrayLike | Composition, prop: str | None = None) -> Floats:
    """Distance to the training data, as a multiple of what is usual within it.

    The Euclidean distance in mol% of the 18 oxides to the nearest centre of
    the training compositions, over the distance that 98 in 100 of these keep
    to theirs: a combination of oxides that nobody measured is far, though
    each oxide alone be within its range.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.
    prop : str, optional
        "viscosity" or "liquidus"; without it the larger of the two.

    Returns
    -------
    ndarray, shape (...)
        Above 1 outside the domain.

    Raises
    ------
    ValueError
        For another property.
    """
    if prop is not None and prop not in PROPERTIES:
        raise ValueError(f"no domain is kept for {prop!r}")
    melt = composition_of(fractions).fractions
    rows = (100.0 * melt.reshape(-1, melt.shape[-1])).astype(np.float32)
    found = np.zeros(len(rows), np.float32)
    for name in PROPERTIES if prop is None else (prop,):
        stored = _centres()[name]
        np.maximum(found, stored.distance(rows) / np.float32(stored.limit), out=found)
    return found.astype(float).reshape(melt.shape[:-1])


def inside(
    fractions: ArrayLike | Composition, prop: str | None = None, far: ArrayLike | None = None
) -> Flags:
    """Whether compositions lie where the models were fitted, shape (...).

    Near the training data, and no oxide above its range there. Without flux
    (less than 1 mol%) nothing is inside. Parameters and errors as for
    `distance`, which goes in as `far` where it is known already.
    """
    melt = composition_of(fractions)
    near = (distance(melt, prop) if far is None else np.asarray(far, float)) <= 1.0
    within = (100.0 * melt.fractions <= _highest(prop)).all(axis=-1)
    return np.asarray(near & within & (melt.flux >= _LEAST_FLUX))


@cache
def _highest(prop: str | None) -> NDArray[np.float32]:
    """Most of each oxide inside, with room for rounding, shape (18,) [mol%]."""
    names = PROPERTIES if prop is None else (prop,)
    found = np.min([_centres()[name].highest for name in names], axis=0) + _ROUNDING
    found.setflags(write=False)
    return np.asarray(found)


def find_centres(
    fractions: NDArray[np.float64], count: int, seed: int, rounds: int = 25
) -> Centres:
    """Group training compositions (k-means; starts spread by distance) for the fit.

    Parameters
    ----------
    fractions : ndarray, shape (n, 18)
        Mole fractions; repeats count once.
    count : int
        Centres.
    seed : int
    rounds : int
        Of moving each centre to the mean of its group.
    """
    rows = np.unique((100.0 * fractions).round(1), axis=0).astype(np.float32)
    random = np.random.default_rng(seed)
    highest = rows.max(axis=0)
    places = rows[random.integers(len(rows))][None]
    nearest = Centres(places, 1.0, highest).distance(rows)
    while len(places) < min(count, len(rows)):
        # The square favours far rows, as k-means++ does (Arthur and Vassilvitskii 2007).
        chance = nearest.astype(float) ** 2
        pick = rows[random.choice(len(rows), p=chance / chance.sum())][None]
        places = np.concatenate([places, pick])
        nearest = np.minimum(nearest, Centres(pick, 1.0, highest).distance(rows))
    for _ in range(rounds):
        gap = np.einsum("ij,ij->i", places, places) - 2.0 * (rows @ places.T)
        group = gap.argmin(axis=1)
        size = np.bincount(group, minlength=len(places))
        total = np.stack(
            [np.bincount(group, column, len(places)) for column in rows.T.astype(float)], axis=-1
        )
        places = np.where(size[:, None] > 0, total / np.maximum(size, 1)[:, None], places).astype(
            np.float32
        )
    places = places.astype(np.float16).astype(np.float32)
    limit = float(np.quantile(Centres(places, 1.0, highest).distance(rows), 0.98))
    return Centres(places, limit, highest)
