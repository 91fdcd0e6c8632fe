"""Everything that is read of one recipe in one firing on one body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.bodies import Body
from core.firing import FiringSheet
from core.formula import Formula
from core.materials import Material
from core.melt.sheet import MeltSheet
from core.oxides import Convention
from core.reading.fit import Fit, fit
from core.reading.healing import Healing, healing
from core.reading.kinds import KindReading, kind_of
from core.reading.marking import Marking, marking
from core.reading.release import Release, release
from core.reading.running import Running, running
from core.reading.surface import Rules, SurfaceReading, read_surface
from core.reading.workability import Workability, sealing_c, workability


@dataclass(frozen=True, eq=False, slots=True)
class Reading:
    """What is said of a recipe; a part that cannot be said is None."""

    surface: SurfaceReading | None
    """None without a firing, a flux or silica."""
    kind: KindReading | None
    healing: Healing | None
    running: Running | None
    fit: Fit
    marking: Marking | None
    release: Release
    workability: Workability | None


def read_glaze(
    formula: Formula,
    heat: FiringSheet | None,
    melt: MeltSheet | None,
    body: Body | None,
    base: Sequence[tuple[Material, float]],
    additions: Sequence[tuple[Material, float]],
    convention: Convention | None = None,
    layer_mm: float | None = None,
    rules: Rules | None = None,
) -> Reading:
    """Read a recipe.

    Parameters
    ----------
    formula : Formula
    heat : FiringSheet or None
        The firing; what the recipe's shelf feels is what is read.
    melt : MeltSheet or None
        Of that formula at that peak.
    body : Body or None
    base, additions : sequence of (Material, float)
        Parts of the base, and percent of it.
    convention : Convention, optional
        Which oxides sum to one.
    layer_mm : float, optional
        Thickness of the fired layer that may run [mm]; the usual one when left out.
    rules : Rules, optional
        Of the surface; as shipped where None.
    """
    surface = None
    if heat is not None and formula.unity is not None:
        surface = read_surface(formula.moles, heat.felt, convention, heat.felt_cone, rules)
    chances = surface.probabilities if surface is not None else None
    return Reading(
        surface=surface,
        kind=kind_of(surface) if surface is not None else None,
        healing=healing(heat.felt, melt) if heat is not None else None,
        running=running(heat.felt, melt, layer_mm) if heat is not None else None,
        fit=fit(melt, body, formula.magnesia_share),
        marking=marking(chances, formula.weight_percent),
        release=release(formula.weight_percent, probabilities=chances),
        workability=workability(base, additions, sealing_c(melt)),
    )
