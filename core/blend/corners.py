"""Four corners of one flux set: a rectangle of silica and alumina, or of clay and silica parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.evaluate import batch_amounts, formula_alone, material_of
from core.materials import Material
from core.oxides import INDEX, OXIDES
from core.recipe import Ingredient, Recipe, total
from core.studio import Studio

Floats = NDArray[np.float64]

LARGEST_DRIFT = 0.02
"""A flux's share of unity may move by so much before the set is no longer one [mol]."""
_SILICA, _ALUMINA = INDEX["SiO2"], INDEX["Al2O3"]
_SLACK = 1e-9
_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class Range:
    """From the low to the high side of the rectangle."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class CornerSet:
    """Corners in the order of a grid: top left, top right, bottom left, bottom right.

    Silica rises to the right, alumina (or clay) upwards.
    """

    recipes: tuple[Recipe, Recipe, Recipe, Recipe]
    flux_drift: float
    """Most that any flux, or boron, is off the base recipe's in the unity formula [mol]."""


def unity_corners(
    recipe: Recipe,
    silica: Range,
    alumina: Range,
    studio: Studio,
    materials: Sequence[str] = (),
) -> CornerSet:
    """Find corners that span a rectangle of the unity formula with one mixture of fluxes.

    Each corner is a linear programme over the weights of the materials: silica
    and alumina exact, the fluxes' shares (and boron) as near to the base recipe's as the
    materials allow, then the amounts as near to the base recipe's as may be.
    The additions stay as they are, in percent, and count in the formula as the
    base alone does: not at all.

    Parameters
    ----------
    recipe : Recipe
        Whose base gives the fluxes.
    silica, alumina : Range
        Of SiO2 and Al2O3 in the unity formula [mol].
    studio : Studio
    materials : sequence of str, optional
        Ids that may be used; those of the base when left out.

    Raises
    ------
    InputError
        If a material is unknown, the base has no flux, or a corner cannot be
        reached; the message says within what the materials can go.

    Examples
    --------
    >>> base = Recipe("Plain", base=tuple(Ingredient(m, a) for m, a in (
    ...     ("potash-feldspar", 42.0), ("talc", 16.0), ("whiting", 12.0), ("kaolin", 20.0),
    ...     ("silica", 10.0))))
    >>> corners = unity_corners(base, Range(3.0, 4.5), Range(0.35, 0.75), Studio())
    >>> silica, alumina = formula_alone(corners.recipes[3], Studio()).point
    >>> round(silica, 6), round(alumina, 6)
    (4.5, 0.35)
    """
    _check(silica, "silica")
    _check(alumina, "alumina")
    problem = _Problem(recipe, studio, materials)
    found, drifts = [], []
    for wanted_silica, wanted_alumina in _corners(silica, alumina):
        weights, drift = problem.solve(wanted_silica, wanted_alumina)
        found.append(problem.recipe_of(weights))
        drifts.append(drift)
    return CornerSet((found[0], found[1], found[2], found[3]), max(drifts))


def parts_corners(
    recipe: Recipe, clay: tuple[str, Range], silica: tuple[str, Range], studio: Studio
) -> CornerSet:
    """Find corners that span a rectangle of clay and silica parts in a hundred of base.

    The other rows keep their proportions and make up the hundred.

    Parameters
    ----------
    recipe : Recipe
    clay, silica : (material id, Range)
        Parts of each material in 100.
    studio : Studio

    Raises
    ------
    InputError
        If the two are one material, leave no room for the others, or nothing
        else is in the base.
    """
    (clay_id, clay_range), (silica_id, silica_range) = clay, silica
    _check(clay_range, "clay")
    _check(silica_range, "silica")
    if clay_id == silica_id:
        raise InputError("clay and silica are the same material", "choose two")
    for material_id in (clay_id, silica_id):
        if material_of(recipe, studio, material_id) is None:
            raise InputError(f"the material {material_id!r} is not in the tables", "choose another")
    if clay_range.high + silica_range.high >= 100.0:
        raise InputError(
            f"{clay_range.high:g} of clay and {silica_range.high:g} of silica leave no room for "
            "the fluxes",
            "let the two highest add up to less than 100",
        )
    others = tuple(row for row in recipe.base if row.material not in (clay_id, silica_id))
    weight = total(others)
    if weight <= 0:
        raise InputError("the base holds nothing but clay and silica", "give it fluxes")
    found = []
    for silica_parts, clay_parts in _corners(silica_range, clay_range):
        room = (100.0 - clay_parts - silica_parts) / weight
        rows = [replace(row, amount=round(row.amount * room, _DECIMALS)) for row in others]
        rows += [Ingredient(clay_id, clay_parts), Ingredient(silica_id, silica_parts)]
        kept = tuple(row for row in rows if row.amount > 0)
        found.append(replace(recipe, base=kept, variants=(), based_on=""))
    drift = max(_drift(one, recipe, studio) for one in found)
    return CornerSet((found[0], found[1], found[2], found[3]), drift)


def _corners(right: Range, up: Range) -> list[tuple[float, float]]:
    return [
        (right.low, up.high),
        (right.high, up.high),
        (right.low, up.low),
        (right.high, up.low),
    ]


def _check(span: Range, what: str) -> None:
    if not (0 <= span.low < span.high and np.isfinite(span.high)):
        raise InputError(
            f"{span.low:g} to {span.high:g} is no range of {what}", "give a lower and a higher one"
        )


def _drift(one: Recipe, other: Recipe, studio: Studio) -> float:
    """Largest difference of a flux's share of unity between two bases."""
    a = formula_alone(one, studio, base_alone=True).unity
    b = formula_alone(other, studio, base_alone=True).unity
    if a is None or b is None:
        raise InputError("a base has no flux", "give it some first")
    kept = studio.convention.mask.copy()
    kept[INDEX["B2O3"]] = 1.0
    return float(np.abs((a - b) * kept).max())


class _Problem:
    """The linear programme of one base recipe: weights [g] that bring one mole of flux."""

    def __init__(self, recipe: Recipe, studio: Studio, materials: Sequence[str]) -> None:
        self._recipe = recipe
        ids = list(dict.fromkeys(materials or [row.material for row in recipe.base]))
        known: list[Material] = []
        for material_id in ids:
            material = material_of(recipe, studio, material_id)
            if material is None:
                raise InputError(
                    f"the material {material_id!r} is not in the tables", "choose another"
                )
            known.append(material)
        formula = formula_alone(recipe, studio, base_alone=True)
        if formula.unity is None or not known:
            raise InputError("the base has no flux", "give it some first")
        self._ids = ids
        # A hundred grams is about what brings a mole of flux: figures near one solve well.
        self._moles = np.array([material.moles_per_gram for material in known]).T * 100.0
        self._mask = studio.convention.mask
        self._wanted = formula.unity
        # Boron comes with the fluxes and melts as they do.
        self._fluxes = [i for i in range(len(OXIDES)) if self._mask[i] > 0 or i == INDEX["B2O3"]]
        amounts = dict.fromkeys(ids, 0.0)
        for material_id, amount in batch_amounts(recipe, base_alone=True):
            if material_id in amounts:
                amounts[material_id] += amount
        per_flux = 100.0 * float(formula.moles @ self._mask)
        self._near = np.array([amounts[material_id] for material_id in ids]) / per_flux

    def solve(self, silica: float, alumina: float) -> tuple[Floats, float]:
        """Weights of the materials and the drift of the fluxes."""
        from scipy.optimize import linprog

        n = len(self._ids)
        equal = np.zeros((3, n + 1))
        equal[0, :n] = self._mask @ self._moles
        equal[1, :n] = self._moles[_SILICA]
        equal[2, :n] = self._moles[_ALUMINA]
        targets = np.array([1.0, silica, alumina])
        # x, then the drift d:  -d <= flux share - wanted <= d
        shares = self._moles[self._fluxes]
        wanted = self._wanted[self._fluxes]
        one = np.ones((len(shares), 1))
        within = np.vstack([np.hstack([shares, -one]), np.hstack([-shares, -one])])
        bounds = np.concatenate([wanted, -wanted])
        cost = np.append(np.zeros(n), 1.0)
        first = linprog(cost, within, bounds, equal, targets, method="highs")
        if first.status == 2 or (first.success and first.x[n] > LARGEST_DRIFT):
            raise self._cannot(silica, alumina)
        if not first.success:
            raise InputError("no corner was found", "choose a smaller rectangle")
        drift = float(first.x[n])
        # Then the amounts nearest to the base recipe's: x, and e >= |x - near|.
        eye = np.eye(n)
        near = np.vstack([np.hstack([eye, -eye]), np.hstack([-eye, -eye])])
        flux = np.vstack([shares, -shares])
        rows = np.vstack([np.hstack([flux, np.zeros_like(flux)]), near])
        limits = np.concatenate([bounds + drift + _SLACK, self._near, -self._near])
        exact = np.hstack([equal[:, :n], np.zeros((3, n))])
        second = linprog(
            np.append(np.zeros(n), np.ones(n)), rows, limits, exact, targets, method="highs"
        )
        weights = second.x[:n] if second.success else first.x[:n]
        return np.asarray(self._polished(np.maximum(weights, 0.0), equal[:, :n], targets)), drift

    def _polished(self, weights: Floats, equal: Floats, targets: Floats) -> Floats:
        """Take the solver's last digits of error out, on the materials in use."""
        used = weights > 1e-7
        step = np.linalg.lstsq(equal[:, used], targets - equal @ weights, rcond=None)[0]
        result = np.where(used, weights, 0.0)
        result[used] += step
        return result if (result >= 0).all() else weights

    def _cannot(self, silica: float, alumina: float) -> InputError:
        """Say how far the materials can go while they keep the fluxes."""
        names = {_SILICA: "silica", _ALUMINA: "alumina"}
        reach = {oxide: self._reach(oxide) for oxide in names}
        asked = {_SILICA: silica, _ALUMINA: alumina}
        for oxide, (least, most) in reach.items():
            if least is None:
                return InputError(
                    "these materials cannot bring the fluxes of the recipe", "allow more of them"
                )
            outside = asked[oxide] < least or (most is not None and asked[oxide] > most)
            if outside:
                span = f"from {least:.3f}" + (f" to {most:.3f}" if most is not None else " up")
                return InputError(
                    f"{names[oxide]} {asked[oxide]:g} cannot be reached with these materials",
                    f"they go {span}; choose within it or allow another material",
                )
        least, most = self._reach(_SILICA, (_ALUMINA, alumina))
        span = "" if least is None else f", there silica goes from {least:.3f}"
        span += "" if least is None or most is None else f" to {most:.3f}"
        return InputError(
            f"silica {silica:g} with alumina {alumina:g} cannot be reached with these "
            f"materials{span}",
            "choose a smaller rectangle or allow another material, such as alumina",
        )

    def _reach(
        self, oxide: int, held: tuple[int, float] | None = None
    ) -> tuple[float | None, float | None]:
        """Least and most of an oxide, with another one held; None where there is no end."""
        from scipy.optimize import linprog

        shares, wanted = self._moles[self._fluxes], self._wanted[self._fluxes]
        within = np.vstack([shares, -shares])
        bounds = np.concatenate([wanted + LARGEST_DRIFT, LARGEST_DRIFT - wanted])
        equal, targets = [self._mask @ self._moles], [1.0]
        if held is not None:
            equal.append(self._moles[held[0]])
            targets.append(held[1])
        ends: list[float | None] = []
        for sign in (1.0, -1.0):
            cost = sign * self._moles[oxide]
            found = linprog(cost, within, bounds, np.array(equal), targets, method="highs")
            ends.append(sign * float(found.fun) if found.success else None)
        return ends[0], ends[1]

    def recipe_of(self, weights: Floats) -> Recipe:
        """The base recipe with these weights, in parts of a hundred."""
        parts = 100.0 * weights / weights.sum()
        rows = tuple(
            Ingredient(material_id, round(float(amount), _DECIMALS))
            for material_id, amount in zip(self._ids, parts, strict=True)
            if amount > 10.0**-_DECIMALS
        )
        return replace(self._recipe, base=rows, variants=(), based_on="")
