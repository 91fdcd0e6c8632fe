"""What is weighed for a plan: each corner for wet blending, or each cell dry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.batch import Batch, batch_of
from core.blend.mix import dry_weight
from core.blend.plan import Plan
from core.blend.slop import dry_g_for, solid_density
from core.errors import InputError
from core.recipe import total
from core.studio import Studio


@dataclass(frozen=True, slots=True)
class CornerBatch:
    """One corner to weigh and wet."""

    letter: str
    name: str
    batch: Batch
    water_g: float
    volume_ml: float


def corner_batches(
    plan: Plan,
    volumes_ml: Sequence[float],
    specific_gravity: float,
    readout_g: float,
    studio: Studio,
) -> tuple[CornerBatch, ...]:
    """Weigh the corners so that all hold the same dry weight in the same volume.

    The dry weight of a millilitre is that of the lightest-grained corner at
    the specific gravity; each corner is then filled up with water to its
    volume, so that equal volumes are equal dry weights whatever the densities.

    Parameters
    ----------
    plan : Plan
    volumes_ml : sequence of float
        To mix of each corner [ml].
    specific_gravity : float
        Aimed at, such as 1.45.
    readout_g : float
        Step of the scale [g].
    studio : Studio

    Raises
    ------
    InputError
        If there is no such slop, or a corner weighs nothing.
    """
    densities = [solid_density(corner.recipe, studio)[0] for corner in plan.corners]
    per_ml = min(dry_g_for(1.0, specific_gravity, density)[0] for density in densities)
    found = []
    for corner, volume, density in zip(plan.corners, volumes_ml, densities, strict=True):
        dry = volume * per_ml
        whole = dry_weight(corner.recipe)
        if whole <= 0:
            raise InputError(f"the corner {corner.name} weighs nothing", "give it some parts")
        base = dry * total(corner.recipe.base) / whole
        batch = batch_of(corner.recipe, base, readout_g)
        water = volume - float(batch.total) / density
        found.append(CornerBatch(corner.letter, corner.name, batch, water, volume))
    return tuple(found)


def dry_batches(plan: Plan, base_g: float, readout_g: float) -> tuple[Batch, ...]:
    """Weigh each cell by itself, in the order of work.

    Raises
    ------
    InputError
        If the batch or the readout cannot be weighed, or a cell is empty.
    """
    return tuple(batch_of(cell.recipe, base_g, readout_g) for cell in plan.cells)
