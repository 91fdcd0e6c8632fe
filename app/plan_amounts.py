"""What a planned run takes, as a small table and in words: the figures of the printed sheets."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from PySide6.QtCore import QCoreApplication

from app.formatting import decimals
from app.plan_mixing import Mixing
from core.batch import Batch
from core.blend.plan import BlendKind, Plan
from core.blend.scale_check import syringe_warning
from core.blend.volumes import SyringeSheet, needed_ml
from core.evaluate import material_of
from core.numbers import number_text
from core.studio import Studio
from core.tiles.run import Run
from core.tiles.sheets import USUAL_CUP_ML, RunSheets, run_sheets

_MOST_WARNINGS = 3


@dataclass(frozen=True, slots=True)
class Amounts:
    """Rows of texts under their headings, then what to know and what to be warned of."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    """Of as many texts as there are headings; the first runs on over empty ones."""
    words: tuple[str, ...]
    warnings: tuple[str, ...]


def amounts_of(plan: Plan, mixing: Mixing, studio: Studio) -> Amounts:
    """Work out what a plan takes, with the sheets that will be printed of its run.

    Raises
    ------
    InputError
        If it cannot be weighed or blended; the message says why.
    """
    # Codes are given once, on accepting: these stand in for them.
    stand_in = [str(cell.number) for cell in plan.cells]
    run = mixing.run(plan, stand_in, "plan", "", studio)
    sheets = run_sheets(run, studio, mixing.readout_g, mixing.step_ml)
    names = _names(plan, studio)
    warnings = _warnings(sheets, names)
    words = list(sheets.words)
    least = sheets.smallest
    if least is not None:
        words.append(f"{least.words(names.get(least.material, ''))}.")
    if sheets.tile_batches:
        batch = number_text(mixing.batch_g or studio.test_batch_g)
        return Amounts(
            (_say("material"), _say("a tile, g"), _say("all, g")),
            _by_material(sheets.tile_batches, names),
            (_say("{} tiles of {} g of dry base each.").format(len(plan.cells), batch), *words),
            warnings,
        )
    # Only where a syringe shares out: an addition is weighed into its cup.
    coarse = ""
    if sheets.chart is not None:
        coarse = syringe_warning(plan, mixing.cup_ml or USUAL_CUP_ML, mixing.step_ml)
    if coarse:
        words = [text for text in words if text != coarse]
        warnings = (f"{coarse}.", *warnings)
    warnings = (*_short(plan, run, sheets), *warnings)
    if mixing.half_measured:
        words.append(_say("The chart goes by the measures once every corner has one."))
    return Amounts(
        (_say("corner"), _say("cups, ml"), _say("mix, ml"), _say("dry, g"), _say("water, g")),
        (*_corner_rows(plan, run, sheets), *_dose_rows(sheets, names)),
        tuple(words),
        warnings,
    )


def _say(text: str) -> str:
    return QCoreApplication.translate("Amounts", text)


def _names(plan: Plan, studio: Studio) -> dict[str, str]:
    names: dict[str, str] = {}
    for cell in plan.cells:
        for row in (*cell.recipe.base, *cell.recipe.additions):
            if row.material not in names:
                known = material_of(cell.recipe, studio, row.material)
                names[row.material] = known.name if known is not None else row.material
    return names


def _warnings(sheets: RunSheets, names: dict[str, str]) -> tuple[str, ...]:
    # First the material that matters in most tiles.
    worst = sorted(sheets.scale, key=lambda warning: (-len(warning.cells), -warning.enough_g))
    said = [
        f"{warning.words(names.get(warning.material, ''))}." for warning in worst[:_MOST_WARNINGS]
    ]
    more = len(worst) - len(said)
    if more > 0:
        said.append(_say("So it is for {} more materials.").format(more))
    return tuple(said)


def _short(plan: Plan, run: Run, sheets: RunSheets) -> tuple[str, ...]:
    """Say which corners the measures make the cups take more of than is mixed."""
    if sheets.chart is None:
        return ()
    said = _say("{}: the cups take {} ml of it, and {} ml are mixed. Take a larger reserve.")
    return tuple(
        said.format(batch.letter, decimals(taken, 0), decimals(batch.volume_ml, 0))
        for batch, taken in zip(sheets.corner_batches, _taken(plan, run, sheets.chart), strict=True)
        if taken > batch.volume_ml
    )


def _corner_rows(plan: Plan, run: Run, sheets: RunSheets) -> list[tuple[str, ...]]:
    chart, rows = sheets.chart, []
    for place, batch in enumerate(sheets.corner_batches):
        name = batch.name if plan.kind is BlendKind.ADDITIONS else f"{batch.letter} {batch.name}"
        if chart is not None:
            taken = _taken(plan, run, chart)[place]
        else:
            taken = (run.cup_ml or 0.0) * len(plan.cells)
        rows.append(
            (
                name,
                decimals(taken, 1),
                decimals(batch.volume_ml, 0),
                decimals(float(batch.batch.total), 1),
                decimals(batch.water_g, 1),
            )
        )
    return rows


def _taken(plan: Plan, run: Run, chart: SyringeSheet) -> list[float]:
    """Of each corner; by the shares, unless the measures move it."""
    if chart.corrected or run.cup_ml is None:
        return [float(volume) for volume in chart.needed_ml]
    exact = needed_ml([cell.shares for cell in plan.cells], run.cup_ml)
    return [float(volume) for volume in exact]


def _dose_rows(sheets: RunSheets, names: dict[str, str]) -> list[tuple[str, ...]]:
    labels = dict(sheets.codes)
    return [
        (
            f"+ {labels.get(dose.code) or names[dose.material]}",
            "",
            "",
            decimals(dose.grams, 2),
            "",
        )
        for dose in sheets.doses
    ]


def _by_material(batches: tuple[Batch, ...], names: dict[str, str]) -> tuple[tuple[str, ...], ...]:
    grams: dict[str, list[Decimal]] = {}
    for batch in batches:
        for line in batch.lines:
            grams.setdefault(line.material, []).append(line.grams)
    rows = []
    for material, found in grams.items():
        missing = len(found) < len(batches)
        least = Decimal(0) if missing else min(found)
        most = max(found)
        low, high = number_text(float(least)), number_text(float(most))
        span = low if least == most else f"{low} … {high}"
        rows.append((names[material], span, number_text(float(sum(found)))))
    whole = sum((batch.total for batch in batches), Decimal(0))
    rows.append((_say("altogether"), "", number_text(float(whole))))
    return tuple(rows)
