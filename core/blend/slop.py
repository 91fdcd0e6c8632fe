"""How much dry glaze a slop holds: from what was weighed in, from its volume, from its weight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from core.errors import InputError
from core.evaluate import batch_amounts, material_of
from core.plain_yaml import Tree
from core.recipe import Recipe
from core.studio import Studio

USUAL_SOLID_DENSITY = 2.6
"""Of the particles of a usual glaze [g/cm3]; feldspar and clays 2.5 to 2.6, whiting and talc 2.7
to 2.9 (Handbook for Australian Potters, quoted)."""
LARGEST_DISAGREEMENT = 0.05
"""Two measures of one slop may differ by this share; judged, as a cylinder is read to 2 %."""
MOST_DRY_G_PER_ML = 1.8
"""More than this does not pour; judged."""


@dataclass(frozen=True, slots=True)
class Slop:
    """What is known of one corner mixed with water; what was not measured is None."""

    dry_g: float | None = None
    """Dry glaze weighed in [g]."""
    water_g: float | None = None
    volume_ml: float | None = None
    """Measured, of all of it."""
    specific_gravity: float | None = None
    """Measured: weight of a millilitre [g]."""
    solid_density: float = USUAL_SOLID_DENSITY
    """Of the particles [g/cm3]."""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)
    """Keys of the file that this program does not know."""

    def measures(self) -> dict[str, float]:
        """Dry glaze in a millilitre [g/ml] by each way in which it can be had.

        With G the density of the solids: from the volume, dry / volume; from
        the water, dry / (dry / G + water); from the specific gravity d,
        (d - 1) G / (G - 1), which is Brongniart's rule [1]_.

        Raises
        ------
        InputError
            If a figure cannot be.

        References
        ----------
        .. [1] Brongniart, A. (1854). Traité des arts céramiques, vol. 1,
           p. 249, as quoted in the Handbook for Australian Potters.

        Examples
        --------
        >>> round(Slop(specific_gravity=1.5, solid_density=2.5).measures()["specific gravity"], 4)
        0.8333
        """
        for name in ("dry_g", "volume_ml", "specific_gravity", "solid_density"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0):
                raise InputError(f"{name} of a slop cannot be {value:g}", "give what was measured")
        if self.water_g is not None and not (math.isfinite(self.water_g) and self.water_g >= 0):
            raise InputError(f"{self.water_g:g} g of water cannot be", "give what was measured")
        solid, found = self.solid_density, {}
        if self.dry_g is not None and self.volume_ml is not None:
            found["volume"] = self.dry_g / self.volume_ml
        if self.specific_gravity is not None:
            if not 1.0 < self.specific_gravity < solid:
                raise InputError(
                    f"a specific gravity of {self.specific_gravity:g} is no slop's",
                    f"it lies between 1 (water) and {solid:g} (the dry solids)",
                )
            found["specific gravity"] = (self.specific_gravity - 1.0) * solid / (solid - 1.0)
        if self.dry_g is not None and self.water_g is not None:
            found["water"] = self.dry_g / (self.dry_g / solid + self.water_g)
        return found

    def dry_g_per_ml(self) -> float | None:
        """Dry glaze in a millilitre [g/ml], by the best measure there is; None without any.

        A measured volume or specific gravity comes before the weight of the
        water, which evaporates and stays in the sieve.

        Raises
        ------
        InputError
            If two measures contradict each other, or the slop cannot pour.
        """
        found = self.measures()
        if not found:
            return None
        (best, value), *others = found.items()
        for name, other in others:
            if abs(other - value) > LARGEST_DISAGREEMENT * value:
                raise InputError(
                    f"by its {best} the slop holds {value:.3f} g of dry glaze in a millilitre, by "
                    f"its {name} {other:.3f}",
                    "stir it well and measure again",
                )
        if value > MOST_DRY_G_PER_ML:
            raise InputError(
                f"{value:.2f} g of dry glaze in a millilitre does not pour", "measure again"
            )
        return value


def solid_density(recipe: Recipe, studio: Studio) -> tuple[float, tuple[str, ...]]:
    """Density of a recipe's dry particles [g/cm3], and the ids of which none is known.

    1/G is the sum of mass shares over densities; an unknown one counts as
    `USUAL_SOLID_DENSITY`.
    """
    weight = volume = 0.0
    unknown = []
    for material_id, amount in batch_amounts(recipe):
        material = material_of(recipe, studio, material_id)
        density = material.density if material is not None else None
        if density is None:
            unknown.append(material_id)
        weight += amount
        volume += amount / (density or USUAL_SOLID_DENSITY)
    density = weight / volume if volume > 0 else USUAL_SOLID_DENSITY
    return density, tuple(dict.fromkeys(unknown))


def dry_g_for(volume_ml: float, specific_gravity: float, solid: float) -> tuple[float, float]:
    """Dry glaze and water [g] that make a volume of slop of a specific gravity.

    Raises
    ------
    InputError
        If there is no such slop.

    Examples
    --------
    >>> dry, water = dry_g_for(1000.0, 1.5, 2.5)
    >>> round(dry, 1), round(water, 1)
    (833.3, 666.7)
    """
    per_ml = Slop(specific_gravity=specific_gravity, solid_density=solid).dry_g_per_ml()
    assert per_ml is not None
    dry = volume_ml * per_ml
    return dry, volume_ml - dry / solid
