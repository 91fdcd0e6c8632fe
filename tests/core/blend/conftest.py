"""Corners that the blend tests share: ideal minerals, nobody fired them."""

from __future__ import annotations

import pytest

from core.recipe import Ingredient, Recipe


def _recipe(name: str, clay: float, silica: float, tin: float = 0.0) -> Recipe:
    parts = {"potash-feldspar": 42.0, "talc": 16.0, "whiting": 12.0}
    rows = [*parts.items(), ("kaolin", clay), ("silica", silica)]
    return Recipe(
        name,
        firing="cone-10-medium",
        body="stoneware",
        base=tuple(Ingredient(material, amount) for material, amount in rows),
        additions=(Ingredient("tin-oxide", tin),) if tin else (),
    )


@pytest.fixture(scope="session")
def corners() -> tuple[Recipe, Recipe, Recipe, Recipe]:
    """Most clay, both, most flux, most silica; bases of different weight, one with tin."""
    return (
        _recipe("Heron", 50, 2),
        _recipe("Heron", 50, 60, tin=7.5),
        _recipe("Heron", 5, 2),
        _recipe("Heron", 5, 60),
    )
