"""An independent check of a formula, and the shelf that the solvers are tried on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from core.material_table import shipped_materials
from core.recipe import Recipe
from core.solve import Shelf

FLUXES = ("Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO")
# What a potter's shelf holds; ideal minerals but for a few typical analyses.
SHELF = (
    *("silica", "kaolin", "calcined-kaolin", "potash-feldspar", "soda-feldspar"),
    *("nepheline-syenite", "whiting", "dolomite", "talc", "wollastonite", "magnesium-carbonate"),
    *("zinc-oxide", "barium-carbonate", "strontium-carbonate", "lithium-carbonate", "spodumene"),
    *("petalite", "borax", "colemanite", "bone-ash", "titanium-dioxide", "zircon", "tin-oxide"),
    *("red-iron-oxide", "cobalt-carbonate", "copper-carbonate", "rutile", "alumina"),
    *("alumina-hydrate", "bentonite"),
)

ByHand = Callable[..., dict[str, float]]


@pytest.fixture(scope="session")
def by_hand(minerals: Any) -> ByHand:
    """Unity formula by plain arithmetic: weights times percent over molar masses.

    Analyses come from the shipped table as percent by weight, molar masses from
    minerals.yaml (computed there from the IUPAC abridged weights); nothing of
    the solver or of core.formula is used.
    """
    masses = minerals["oxide_molar_mass"]["values"]

    def unity(parts: Mapping[str, float], additions: Mapping[str, float] | None = None):
        moles: dict[str, float] = {}
        total = sum(parts.values())
        rows = [*parts.items(), *((m, p / 100 * total) for m, p in (additions or {}).items())]
        for material_id, weight in rows:
            for oxide, percent in shipped_materials().get(material_id).analysis.percent:
                moles[oxide] = moles.get(oxide, 0.0) + weight * percent / 100 / masses[oxide]
        fluxes = sum(moles.get(oxide, 0.0) for oxide in FLUXES)
        return {oxide: amount / fluxes for oxide, amount in moles.items()}

    return unity


@pytest.fixture(scope="session")
def parts_of():
    """Base of a recipe as material to parts."""

    def parts(recipe: Recipe) -> dict[str, float]:
        found: dict[str, float] = {}
        for row in recipe.base:
            found[row.material] = found.get(row.material, 0.0) + row.amount
        return found

    return parts


@pytest.fixture(scope="session")
def shelf_with():
    """Make a shelf of shipped materials by their ids."""

    def make(*ids: str) -> Shelf:
        return Shelf(tuple(shipped_materials().get(i) for i in ids))

    return make


@pytest.fixture(scope="session")
def shelf(shelf_with) -> Shelf:
    return shelf_with(*SHELF)
