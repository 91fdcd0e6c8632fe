"""What a run puts on paper: weighing sheets, the blending chart, the codes in writing order."""

from __future__ import annotations

from dataclasses import dataclass, replace

from core.batch import Batch
from core.blend.additions import addition_grams
from core.blend.mix import dry_weight
from core.blend.plan import BlendKind, Cell, Corner, Plan, neighbours_of
from core.blend.scale_check import (
    ScaleWarning,
    SmallestWeight,
    scale_warnings,
    smallest_weight,
    syringe_warning,
)
from core.blend.slop import Slop, dry_g_for, solid_density
from core.blend.volumes import (
    SYRINGE_STEP_ML,
    USUAL_RESERVE,
    SyringeSheet,
    honesty,
    syringe_sheet,
    with_reserve,
)
from core.blend.weighing import CornerBatch, corner_batches, dry_batches
from core.errors import InputError
from core.evaluate import formula_alone
from core.recipe import Recipe, total
from core.studio import Studio
from core.tiles.run import Run

USUAL_SPECIFIC_GRAVITY = 1.45
"""For dipping, 1.40 to 1.50: common practice, no source."""
USUAL_CUP_ML = 50.0
DRY = "dry"


@dataclass(frozen=True, slots=True)
class Dose:
    """An addition for one cup of wet base."""

    code: str
    material: str
    grams: float


@dataclass(frozen=True, slots=True)
class RunSheets:
    """Everything that is printed of a run but its labels; what does not apply is empty."""

    codes: tuple[tuple[str, str], ...]
    """Code and label of each tile, in writing order."""
    tile_batches: tuple[Batch, ...] = ()
    """Of each tile, in that order, where tiles are weighed by themselves."""
    corner_batches: tuple[CornerBatch, ...] = ()
    chart: SyringeSheet | None = None
    doses: tuple[Dose, ...] = ()
    scale: tuple[ScaleWarning, ...] = ()
    smallest: SmallestWeight | None = None
    """Where the scale is too coarse for it, whatever parts it from its neighbours."""
    words: tuple[str, ...] = ()
    """What to know before beginning."""


def plan_of(run: Run, studio: Studio) -> Plan:
    """Return the plan that a run was made of, from what its file holds.

    Raises
    ------
    InputError
        If the run has no tiles.
    """
    if not run.tiles:
        raise InputError(f"the run {run.name} has no tiles", "plan some first")
    _check_shares(run)
    kinds = {kind.value: kind for kind in BlendKind}
    kind = kinds.get(run.blend, BlendKind.VARIANTS)
    if kind is BlendKind.ADDITIONS and not run.corners:
        kind = BlendKind.VARIANTS  # with no base of its own, each tile is weighed by itself
    corners = tuple(
        Corner(
            corner.letter,
            corner.name,
            Recipe(
                name=corner.recipe,
                firing=run.firing,
                body=run.body,
                shelf=run.shelf,
                base=corner.base,
                additions=corner.additions,
                pinned=run.pinned,
            ),
        )
        for corner in run.corners
    )
    cells = []
    for number, tile in enumerate(run.tiles, 1):
        recipe = replace(run.recipe_of(tile), pinned=run.pinned)
        formula = formula_alone(recipe, studio)
        cells.append(Cell(number, tile.label, tile.row, tile.column, tile.shares, recipe, formula))
    return Plan(kind, corners, tuple(cells), neighbours_of(kind, cells))


def _check_shares(run: Run) -> None:
    """Check that what tiles take of the corners makes a whole: a file may be made by hand."""
    for tile in run.tiles:
        if tile.shares and len(tile.shares) != len(run.corners):
            raise InputError(
                f"the tile {tile.code} of {run.name} has {len(tile.shares)} shares where the run"
                f" has {len(run.corners)} corners",
                "give one for each corner",
            )
        if tile.shares and sum(tile.shares) != 1:
            raise InputError(
                f"the shares of the tile {tile.code} of {run.name} add up to"
                f" {float(sum(tile.shares)):g}",
                "shares of a tile make one",
            )


def run_sheets(
    run: Run, studio: Studio, readout_g: float | None = None, step_ml: float = SYRINGE_STEP_ML
) -> RunSheets:
    """Work out what a run puts on paper.

    Lines, triangles and grids are blended wet unless the run says "dry"; a
    series of additions goes wet into cups of its base; anything else is
    weighed tile by tile. Once every corner has been measured, the chart goes
    by the measures.

    Parameters
    ----------
    run : Run
    studio : Studio
    readout_g : float, optional
        Of the scale; that of the studio's scale when left out [g].
    step_ml : float
        Of the syringe [ml].

    Raises
    ------
    InputError
        If the run cannot be weighed or blended; the message says why.
    """
    plan = plan_of(run, studio)
    readout = float(studio.scale.readout_g) if readout_g is None else readout_g
    codes = tuple((tile.code, tile.label) for tile in run.tiles)
    if run.method == DRY or plan.kind is BlendKind.VARIANTS or not plan.corners:
        batch = run.batch_g or studio.test_batch_g
        return RunSheets(
            codes,
            tile_batches=dry_batches(plan, batch, readout),
            scale=scale_warnings(plan, batch, readout),
            smallest=smallest_weight(plan, batch, readout),
        )
    cup = run.cup_ml or USUAL_CUP_ML
    gravity = run.specific_gravity or USUAL_SPECIFIC_GRAVITY
    reserve = USUAL_RESERVE if run.reserve_percent is None else run.reserve_percent / 100.0
    if plan.kind is BlendKind.ADDITIONS:
        return _additions(run, plan, studio, cup, gravity, reserve, readout)
    for tile in run.tiles:
        if not tile.shares:
            raise InputError(
                f"the tile {tile.code} of {run.name} has no shares of the corners",
                "give one for each corner, or weigh the run dry",
            )
    slops = [corner.measured for corner in run.corners if corner.measured is not None]
    measured: list[Slop] = slops if len(slops) == len(run.corners) else []
    words = []
    if measured:
        words.append(honesty(measured, [corner.name for corner in plan.corners]).words)
    else:
        words.append(
            "Fill every corner to its volume with water, sieve it, then measure its specific "
            "gravity: equal volumes must hold equal dry weight before you blend."
        )
    chart = syringe_sheet(plan, cup, measured, step_ml, reserve)
    if said := syringe_warning(plan, cup, step_ml):
        words.append(said)
    # The corners are weighed for what an even blend takes, before anything is measured.
    even = syringe_sheet(plan, cup, (), step_ml, reserve) if measured else chart
    return RunSheets(
        codes,
        corner_batches=corner_batches(plan, even.to_mix_ml, gravity, readout, studio),
        chart=chart,
        words=tuple(words),
    )


def _additions(
    run: Run,
    plan: Plan,
    studio: Studio,
    cup: float,
    gravity: float,
    reserve: float,
    readout: float,
) -> RunSheets:
    base = plan.corners[0].recipe
    volume = with_reserve(cup * len(plan.cells), reserve)
    batches = corner_batches(plan, (volume,), gravity, readout, studio)
    measured = run.corners[0].measured
    per_ml = measured.dry_g_per_ml() if measured is not None else None
    if per_ml is None:
        per_ml = dry_g_for(1.0, gravity, solid_density(base, studio)[0])[0]
    # Percent is of the base alone; the slop holds the other additions as well.
    base_per_ml = per_ml * total(base.base) / dry_weight(base)
    held = {row.material: row.amount for row in base.additions}
    doses = []
    for cell, tile in zip(plan.cells, run.tiles, strict=True):
        for row in cell.recipe.additions:
            more = row.amount - held.get(row.material, 0.0)
            if more > 0:
                grams = addition_grams(more, cup, base_per_ml)
                doses.append(Dose(tile.code, row.material, grams))
    cup_g = cup * base_per_ml
    return RunSheets(
        tuple((tile.code, tile.label) for tile in run.tiles),
        corner_batches=batches,
        doses=tuple(doses),
        scale=scale_warnings(plan, cup_g, readout),
        smallest=smallest_weight(plan, cup_g, readout),
        words=(f"Each cup of {cup:g} ml holds {cup_g:.1f} g of dry base.",),
    )
