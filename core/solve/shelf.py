"""The materials that a solver may take from, as arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.evaluate import material_of
from core.materials import Material
from core.melt.composition import from_basis
from core.melt.expansion import linear_expansion
from core.oxides import OXIDES, Convention
from core.recipe import Recipe
from core.solve.kinds import CATALOGUE
from core.studio import Studio

Floats = NDArray[np.float64]

_TRACE = 1e-9
# Old recipes have to be read, not made again.
_NOT_OFFERED_GROUPS = ("historic",)
_NOT_OFFERED_HAZARDS = frozenset({"lead"})


@dataclass(frozen=True, eq=False, slots=True)
class Shelf:
    """Materials, what each brings, and the convention of the unity formula."""

    materials: tuple[Material, ...]
    convention: Convention = field(default_factory=Convention)
    added: Floats | None = None
    """Moles that the additions bring with each gram of base, shape (25,)."""
    preferred: tuple[str, ...] = ()
    """Ids to take where others would do as well: those of the recipe."""

    @property
    def ids(self) -> tuple[str, ...]:
        """Of the materials, in order."""
        return tuple(m.id for m in self.materials)

    @property
    def moles_per_gram(self) -> Floats:
        """Of each oxide, with the additions that go with a gram of base, shape (n, 25)."""
        moles = np.array([m.moles_per_gram for m in self.materials]).reshape(-1, len(OXIDES))
        return moles if self.added is None else moles + self.added

    @property
    def reluctance(self) -> Floats:
        """How unwillingly each is taken where others do as well: 0, 1 or 2, shape (n,)."""
        rank = [
            0.0 if m.id in self.preferred else 1.0 if m.id in CATALOGUE else 2.0
            for m in self.materials
        ]
        return np.array(rank, dtype=float)

    @property
    def loi_percent(self) -> Floats:
        """Loss on ignition, shape (n,) [wt%]."""
        return np.array([m.analysis.loi for m in self.materials], dtype=float)

    @property
    def raw_clay(self) -> Floats:
        """One for each raw clay, else zero, shape (n,)."""
        return np.array(
            [float(m.group == "clay" and m.form == "raw") for m in self.materials], dtype=float
        )

    @property
    def price_per_kg(self) -> Floats:
        """In the studio's own money, NaN where nobody wrote it, shape (n,)."""
        return np.array(
            [np.nan if m.price_per_kg is None else m.price_per_kg for m in self.materials],
            dtype=float,
        )

    def priced(self) -> Shelf:
        """Return the materials whose price is known.

        Raises
        ------
        InputError
            If there is none.
        """
        kept = self.without(m.id for m in self.materials if m.price_per_kg is None)
        if not kept.materials:
            raise InputError(
                "no material here has a price",
                "write price_per_kg in the studio's materials, or drop the limit",
            )
        return kept

    def without(self, unwanted: Iterable[str]) -> Shelf:
        """Return the shelf without some materials."""
        doomed = set(unwanted)
        kept = tuple(m for m in self.materials if m.id not in doomed)
        return Shelf(kept, self.convention, self.added, self.preferred)

    def brings(self, oxide_index: int) -> bool:
        """Tell whether any material brings an oxide."""
        return bool(len(self.materials)) and bool(
            self.moles_per_gram[:, oxide_index].max() > _TRACE
        )


def shelf_of(
    recipe: Recipe,
    studio: Studio,
    using: Sequence[str] | None = None,
    with_additions: bool = True,
) -> Shelf:
    """Return what a recipe may be made from.

    Parameters
    ----------
    recipe : Recipe
        Its materials come first, with the analyses that it pinned. Its
        additions stay and count in the formula, unless told otherwise.
    studio : Studio
    using : sequence of ids, optional
        Only these. When left out: the recipe's base and the studio's own
        materials, or, where the studio has none of its own, the shipped ones
        that stand for a usual raw material (no lead, no reference analyses).
    with_additions : bool

    Raises
    ------
    InputError
        If a material is not in the tables, or none is left.
    """
    if using is not None:
        ids = list(dict.fromkeys(using))
    else:
        own = [m.id for m in studio.materials if m.origin == "studio"]
        offered = own or [m.id for m in studio.materials if _usual(m)]
        ids = list(dict.fromkeys([*(row.material for row in recipe.base), *offered]))
    materials = tuple(found(recipe, studio, i) for i in ids)
    if not materials:
        raise InputError("there is no material to make it from", "name some")
    added = None
    if with_additions and recipe.additions:
        added = np.zeros(len(OXIDES))
        for row in recipe.additions:
            moles = found(recipe, studio, row.material).moles_per_gram
            added = added + row.amount / 100.0 * moles
    own_rows = tuple(row.material for row in recipe.base)
    return Shelf(materials, studio.convention, added, own_rows)


def found(recipe: Recipe, studio: Studio, material_id: str) -> Material:
    """Return a material as the recipe computes with it.

    Raises
    ------
    InputError
        If neither the recipe nor the tables know it.
    """
    material = material_of(recipe, studio, material_id)
    if material is None:
        raise InputError(
            f"the material {material_id!r} is not in the tables",
            "see glost materials for what is there, or add it to the studio's materials.yaml",
        )
    return material


def _usual(material: Material) -> bool:
    return (
        material.group not in _NOT_OFFERED_GROUPS
        and not _NOT_OFFERED_HAZARDS.intersection(material.hazards)
        and material.form != "soluble"
        and "-reference" not in material.id
        and not material.id.endswith("-1886")
    )


def expansion_terms(moles_per_gram: Floats) -> tuple[Floats, Floats]:
    """Numerator and denominator of the linear expansion, each a sum over the materials.

    Parameters
    ----------
    moles_per_gram : ndarray, shape (n, 25)

    Returns
    -------
    weighted, modelled : ndarray, shape (n,)
        The expansion of a mixture of `w` grams is ``w @ weighted / (w @ modelled)`` [1e-6/K];
        oxides without melt data count in neither.
    """
    # Row i tells where oxide i goes among the modelled ones, or that it goes nowhere.
    places = from_basis(np.eye(len(OXIDES))).fractions
    coefficients = linear_expansion(np.eye(places.shape[1]))
    modelled = moles_per_gram @ places
    return np.asarray(modelled @ coefficients), np.asarray(modelled.sum(axis=1))
