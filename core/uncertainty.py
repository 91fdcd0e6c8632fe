"""Where the point may really lie, given the analyses and the scale.

Each analysis figure is drawn from a rectangular distribution whose half-width
is its tolerance, each weight from one of half a readout: the treatment that
the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008,
4.3.7 and F.2.2.1) gives for limits without further knowledge.

The draws of a material depend on its id and analysis alone, so that the cloud
moves with the point and does not flicker.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.formula import unity_formula
from core.materials import Material
from core.oxides import INDEX, Convention

Floats = NDArray[np.float64]

DRAWS = 500
_SILICA, _ALUMINA = INDEX["SiO2"], INDEX["Al2O3"]
# Squared radius that holds a share p of a normal cloud in the plane:
# -2 ln(1 - p), the chi-squared quantile for two degrees of freedom.
_RADIUS_90 = math.sqrt(-2.0 * math.log(1.0 - 0.90))


@dataclass(frozen=True, eq=False)
class Cloud:
    """Draws of the unity formula and what they come to."""

    points: Floats
    """(SiO2, Al2O3) of each draw, shape (draws, 2)."""
    standard_error: Floats
    """Of each oxide of the unity formula, shape (25,)."""

    def outline(self, corners: int = 72) -> Floats:
        """Ellipse that holds 90 % of a normal cloud like this one, shape (corners + 1, 2)."""
        centre = self.points.mean(axis=0)
        values, axes = np.linalg.eigh(np.cov(self.points.T))
        angle = np.linspace(0.0, 2.0 * math.pi, corners + 1)
        circle = np.stack([np.cos(angle), np.sin(angle)])
        radii = _RADIUS_90 * np.sqrt(np.clip(values, 0.0, None))
        return np.asarray(centre + (axes @ (radii[:, None] * circle)).T)


def cloud_of(
    materials: Sequence[Material],
    grams: Floats,
    readout_g: float,
    convention: Convention | None = None,
) -> Cloud | None:
    """Draw the unity formula of one recipe.

    Parameters
    ----------
    materials : sequence of n Material
    grams : ndarray, shape (n,)
        Weighed out on the scale [g].
    readout_g : float
        Step of the scale [g].
    convention : Convention, optional

    Returns
    -------
    Cloud or None
        None where the recipe has no flux.
    """
    weighed = grams > 0
    used = [m for m, w in zip(materials, weighed, strict=True) if w]
    if not used:
        return None
    # The k-th row of a material draws its own weighing errors.
    seen: dict[str, int] = {}
    errors = []
    for material in used:
        seen[material.id] = seen.get(material.id, 0) + 1
        errors.append(_weighing(material.id, seen[material.id]))
    weights = np.maximum(grams[weighed][:, None] + readout_g / 2.0 * np.stack(errors), 0.0)
    moles = np.zeros((DRAWS, used[0].moles_per_gram.shape[0]))
    brought = np.empty_like(moles)
    for material, weight in zip(used, weights, strict=True):
        moles += np.multiply(weight[:, None], _analyses(material), out=brought)
    unity = unity_formula(moles, convention)
    finite = np.isfinite(unity)
    if not finite.all():
        sound = finite.all(axis=1)
        if sound.sum() < DRAWS // 2:
            return None
        unity = unity[sound]
    return Cloud(unity[:, [_SILICA, _ALUMINA]], unity.std(axis=0, ddof=1))


def drawn(materials: Sequence[Material]) -> tuple[Floats, Floats]:
    """Return the draws that `cloud_of` takes, for a search that weighs them in other amounts.

    Parameters
    ----------
    materials : sequence of n Material
        One for each row; a material may stand in several.

    Returns
    -------
    analyses : ndarray, shape (n, DRAWS, 25)
        Moles per gram of each row's material.
    errors : ndarray, shape (n, DRAWS)
        Of each weighing, in half readouts.
    """
    seen: dict[str, int] = {}
    errors = []
    for material in materials:
        seen[material.id] = seen.get(material.id, 0) + 1
        errors.append(_weighing(material.id, seen[material.id]))
    return np.stack([_analyses(material) for material in materials]), np.stack(errors)


@lru_cache(maxsize=512)
def _weighing(material_id: str, occurrence: int) -> Floats:
    """Errors of one weighing in half readouts, shape (DRAWS,)."""
    return _generator(f"weight {material_id} {occurrence}").uniform(-1.0, 1.0, DRAWS)


# Keyed by the value of the material: a changed analysis is another key.
@lru_cache(maxsize=512)
def _analyses(material: Material) -> Floats:
    """Moles per gram of one material as drawn, shape (DRAWS, 25)."""
    spread = _generator(f"analysis {material.id}").uniform(
        -1.0, 1.0, (DRAWS, len(material.moles_per_gram))
    )
    return np.asarray(material.moles_per_gram * (1.0 + material.relative_tolerance * spread))


def _generator(name: str) -> np.random.Generator:
    return np.random.default_rng(zlib.crc32(name.encode()))
