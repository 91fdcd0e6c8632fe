"""What goes into each cup, in the order of work: volumes of the corners, or doses of additions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from PySide6.QtGui import QFont, QPainter

from app.card_page import Block, Sheet, joined
from app.run_page import fitted, middle_baseline, paint_box, rule
from app.theme import Role
from core.blend.volumes import Cup, SyringeSheet
from core.blend.weighing import CornerBatch
from core.evaluate import material_of
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.run import Run, Tile
from core.tiles.sheets import USUAL_CUP_ML, Dose

_TALL_ROWS = 24
"""Cups that fill a page with rows of a comfortable height."""
_CUP = "cup [ml]"


@dataclass(frozen=True)
class _Columns:
    """Where the columns of the blending chart stand [px]."""

    code_left: float
    label_left: float
    label_wide: float
    ends: list[float]
    """Right edge of each corner's volumes."""
    box_wide: float
    """From the box to that edge."""
    cup_right: float
    row_high: float
    figure: QFont


def chart_blocks(
    sheet: Sheet, run: Run, chart: SyringeSheet, corners: Sequence[CornerBatch]
) -> list[Block]:
    """Return the blending chart: cups in the order of work, volumes with boxes to tick."""
    columns = _columns(sheet, chart)
    letters = [corner.letter for corner in run.corners]
    names = ", ".join(f"{corner.letter} {corner.name}" for corner in run.corners)
    head = _chart_head(sheet, columns, letters)
    row_before, rows = run.tiles[0].row, []
    for cup, tile in zip(chart.cups, run.tiles, strict=True):
        rows.append(replace(_cup_row(sheet, columns, cup, tile, tile.row != row_before), head=head))
        row_before = tile.row
    blocks = sheet.paragraph(names, sheet.strong, gap=sheet.em(0.8))
    blocks += [replace(joined(head, rows[0]), gap=sheet.em(0.8)), *rows[1:]]
    blocks.append(_taken(sheet, columns, chart, [corner.volume_ml for corner in corners]))
    for text in _chart_words(chart, corners):
        blocks += sheet.paragraph(text, sheet.small, gap=sheet.pt(4))
    return blocks


def _columns(sheet: Sheet, chart: SyringeSheet) -> _Columns:
    figure, number = sheet.font(1.08, bold=True), len(chart.needed_ml)
    volumes = [f"{volume:f}" for cup in chart.cups for volume in cup.volumes_ml]
    totals = [f"{ml:.1f}" for ml in chart.to_mix_ml]
    box_wide = max(
        sheet.widest(volumes, figure) + _side(sheet) + sheet.em(0.5),
        sheet.widest(totals, sheet.strong),
    )
    column = box_wide + sheet.em(1.3 if number > 3 else 2.4)
    cup_right = sheet.right - sheet.pt(2)
    last = cup_right - sheet.advance(_CUP, sheet.small) - sheet.em(1.3)
    ends = [last - i * column for i in reversed(range(number))]
    code_left = sheet.left + sheet.em(2.0)
    label_left = code_left + sheet.em(5.2)
    return _Columns(
        code_left=code_left,
        label_left=label_left,
        label_wide=ends[0] - box_wide - sheet.em(1.0) - label_left,
        ends=ends,
        box_wide=box_wide,
        cup_right=cup_right,
        row_high=sheet.em(1.6 if len(chart.cups) > _TALL_ROWS else 2.0),
        figure=figure,
    )


def _side(sheet: Sheet) -> float:
    return sheet.em(0.9)


def _chart_head(sheet: Sheet, columns: _Columns, letters: Sequence[str]) -> Block:
    def paint(painter: QPainter, top: float) -> None:
        baseline = top + sheet.ascent(sheet.strong)
        for x, text in (
            (sheet.left, "no."),
            (columns.code_left, "code"),
            (columns.label_left, "share of dry weight [%]"),
        ):
            sheet.write(painter, x, baseline, text, sheet.small, Role.MUTED)
        for end, letter in zip(columns.ends, letters, strict=True):
            sheet.write_up_to(painter, end, baseline, f"{letter} [ml]", sheet.strong)
        sheet.write_up_to(painter, columns.cup_right, baseline, _CUP, sheet.small, Role.MUTED)

    return Block(sheet.line_height(sheet.strong) + sheet.pt(3), paint)


def _cup_row(sheet: Sheet, columns: _Columns, cup: Cup, tile: Tile, new_row: bool) -> Block:
    label, font = fitted(sheet, tile.label, (sheet.small, sheet.tiny), columns.label_wide)

    def paint(painter: QPainter, top: float) -> None:
        # A stronger line where a row of the grid or triangle begins.
        rule(painter, sheet, top, 0.9 if new_row else 0.4, 1.0 if new_row else 0.5)
        middle = top + 0.5 * columns.row_high
        baseline = middle_baseline(sheet, sheet.strong, middle)
        sheet.write(painter, sheet.left, baseline, str(cup.number), sheet.small, Role.MUTED)
        sheet.write(painter, columns.code_left, baseline, tile.code, sheet.strong)
        sheet.write(painter, columns.label_left, baseline, label, font)
        for end, volume in zip(columns.ends, cup.volumes_ml, strict=True):
            if volume:
                paint_box(painter, sheet, end - columns.box_wide, middle, _side(sheet))
                sheet.write_up_to(painter, end, baseline, f"{volume:f}", columns.figure)
            else:
                sheet.write_up_to(painter, end, baseline, "–", sheet.plain, Role.MUTED)
        total = f"{sum(cup.volumes_ml):f}"
        sheet.write_up_to(painter, columns.cup_right, baseline, total, sheet.plain, Role.MUTED)

    return Block(columns.row_high, paint)


def _taken(sheet: Sheet, columns: _Columns, chart: SyringeSheet, mixed: Sequence[float]) -> Block:
    """What the cups take of each corner, and what is mixed of it."""
    step = sheet.em(1.5)
    lines = (
        ("the cups take", [f"{volume:f}" for volume in chart.needed_ml]),
        ("mixed, with reserve", [f"{volume:.1f}" for volume in mixed]),
    )

    def paint(painter: QPainter, top: float) -> None:
        rule(painter, sheet, top, 0.9)
        for number, (title, values) in enumerate(lines):
            baseline = middle_baseline(sheet, sheet.strong, top + (number + 0.5) * step)
            sheet.write(painter, columns.label_left, baseline, title, sheet.small, Role.MUTED)
            for end, value in zip(columns.ends, values, strict=True):
                sheet.write_up_to(painter, end, baseline, value, sheet.strong)

    return Block(2 * step, paint)


def _chart_words(chart: SyringeSheet, corners: Sequence[CornerBatch]) -> Iterator[str]:
    yield "Stir before every draw, fill the syringe without air, tick each volume as it goes in."
    if chart.corrected:
        off = 100.0 * max(cup.off for cup in chart.cups)
        yield (
            "The volumes are corrected for what was measured of the corners; no share is "
            f"further off than {off:.1f} % of dry weight."
        )
    for corner, needed in zip(corners, chart.needed_ml, strict=True):
        if float(needed) > corner.volume_ml:
            yield (
                f"Look: the cups take {needed:f} ml of {corner.letter}, more than the "
                f"{corner.volume_ml:g} ml on its weighing sheet: mix more of it."
            )


def dose_blocks(sheet: Sheet, run: Run, doses: Sequence[Dose], studio: Studio) -> list[Block]:
    """Return what is weighed into each cup of wet base, cup by cup."""
    rows: list[Block] = []
    head = _dose_head(sheet)
    for tile in run.tiles:
        of_tile = [dose for dose in doses if dose.code == tile.code]
        if not of_tile:
            rows.append(_dose_row(sheet, run, tile, "nothing, the bare base", ""))
        for number, dose in enumerate(of_tile):
            material = material_of(Recipe(pinned=run.pinned), studio, dose.material)
            name = material.name if material is not None else dose.material
            # Two decimals: small doses are for the fine scale.
            grams = f"{dose.grams:.2f}"
            rows.append(_dose_row(sheet, run, tile if number == 0 else None, name, grams))
    rows = [replace(row, head=head) for row in rows]
    words = "Stir the base, pour the cup, wet the addition before it goes in, then sieve the cup."
    return [
        replace(joined(head, rows[0]), gap=sheet.em(0.8)),
        *rows[1:],
        *sheet.paragraph(words, sheet.small, gap=sheet.em(0.9)),
    ]


def _dose_columns(sheet: Sheet) -> tuple[float, float, float, float, float]:
    """Where code, label, wet base (right), addition and grams (right) stand [px]."""
    code = sheet.left + sheet.em(3.0)
    label = code + sheet.em(6.2)
    wet = label + 0.4 * (sheet.right - label)
    return code, label, wet, wet + sheet.em(4.0), sheet.right - sheet.pt(2)


def _dose_head(sheet: Sheet) -> Block:
    code, label, wet, addition, grams = _dose_columns(sheet)

    def paint(painter: QPainter, top: float) -> None:
        baseline = top + sheet.ascent(sheet.small)
        for x, text in ((code, "code"), (label, "tile"), (addition, "addition")):
            sheet.write(painter, x, baseline, text, sheet.small, Role.MUTED)
        for right, text in ((wet, "wet base [ml]"), (grams, "grams")):
            sheet.write_up_to(painter, right, baseline, text, sheet.small, Role.MUTED)

    return Block(sheet.line_height(sheet.small) + sheet.pt(3), paint)


def _dose_row(sheet: Sheet, run: Run, tile: Tile | None, name: str, grams: str) -> Block:
    """Return a dose; without a tile it is a further one for the cup above."""
    code, label, wet, addition, right = _dose_columns(sheet)
    high, side = sheet.em(2.0), sheet.em(1.15)
    fonts = (sheet.plain, sheet.small, sheet.tiny)
    room = right - sheet.advance(f" {grams}", sheet.strong) - addition
    words, font = fitted(sheet, name, fonts, room)

    def paint(painter: QPainter, top: float) -> None:
        middle = top + 0.5 * high
        baseline = middle_baseline(sheet, sheet.strong, middle)
        if tile is not None:
            rule(painter, sheet, top, 0.4, 0.5)
            paint_box(painter, sheet, sheet.left + sheet.pt(1), middle, side)
            sheet.write(painter, code, baseline, tile.code, sheet.font(1.2, bold=True))
            width = wet - sheet.em(3.0) - label
            text, small = fitted(sheet, tile.label, (sheet.small, sheet.tiny), width)
            sheet.write(painter, label, baseline, text, small)
            volume = f"{run.cup_ml or USUAL_CUP_ML:g}"
            sheet.write_up_to(painter, wet, baseline, volume, sheet.plain)
        if grams:
            paint_box(painter, sheet, addition - side - sheet.em(0.5), middle, side)
        sheet.write(painter, addition, baseline, words, font)
        sheet.write_up_to(painter, right, baseline, grams, sheet.strong)

    return Block(high, paint)
