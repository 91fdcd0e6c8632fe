"""What is weighed for a run: each corner with its water, or each tile by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QLineF
from PySide6.QtGui import QPainter

from app.card_page import Block, Sheet, beside, joined
from app.card_weighing import COARSE, WeighingTable
from app.run_page import Field, Mark, form_line, middle_baseline, paint_box
from app.theme import Role
from core.batch import Batch
from core.blend.weighing import CornerBatch
from core.evaluate import evaluate, material_of
from core.recipe import Recipe, Section
from core.studio import Studio
from core.tiles.run import Run, RunCorner, Tile

_MOST_OF_A_PAGE = 0.85
"""A table that takes more is cut by the end of a page; of a tile it gets the width of the page."""


def _page_share(sheet: Sheet) -> float:
    return _MOST_OF_A_PAGE * (sheet.bottom - sheet.top)


def corner_recipe(run: Run, corner: RunCorner) -> Recipe:
    """Return the recipe of a corner, with the analyses that the run pinned."""
    return Recipe(
        name=corner.recipe,
        firing=run.firing,
        body=run.body,
        shelf=run.shelf,
        base=corner.base,
        additions=corner.additions,
        pinned=run.pinned,
    )


def corner_blocks(
    sheet: Sheet, run: Run, studio: Studio, batches: Sequence[CornerBatch]
) -> list[Block]:
    """Return a weighing table for each corner, then how it is wetted and measured."""
    blocks: list[Block] = []
    for made, corner in zip(batches, run.corners, strict=True):
        recipe = corner_recipe(run, corner)
        title = f"Corner {made.letter}: {made.name}" if len(batches) > 1 else "The base"
        words = f"{corner.recipe}, " if corner.recipe else ""
        first, *rest = sheet.paragraph(title, sheet.font(1.25, bold=True))
        head = joined(
            replace(first, gap=sheet.em(1.3)),
            *rest,
            *sheet.paragraph(f"{words}{made.volume_ml:g} ml", sheet.small, Role.MUTED),
        )
        table = WeighingTable(sheet, evaluate(recipe, studio), made.batch).blocks()
        blocks += _together(sheet, head, [*table, _wetting(sheet, made, corner)])
    return blocks


def _together(sheet: Sheet, title: Block, blocks: Sequence[Block]) -> list[Block]:
    """Keep a table on one page with its title, or repeat the title where it goes on."""
    whole = joined(title, *blocks)
    if whole.height <= _page_share(sheet):
        return [whole]
    first, *rest = blocks
    heads = [joined(title, block.head) if block.head is not None else title for block in rest]
    following = [replace(block, head=head) for block, head in zip(rest, heads, strict=True)]
    return [joined(title, first), *following]


def _wetting(sheet: Sheet, made: CornerBatch, corner: RunCorner) -> Block:
    high = sheet.em(1.9)
    water = (
        f"Water: most of {made.water_g:.0f} g, soak, sieve, then fill up to {made.volume_ml:g} ml"
    )
    lines = [
        [Field(water, Mark.BOX)],
        [
            Field("Measured: volume", Mark.REST),
            Field("ml,  a cup of", Mark.REST),
            Field("ml weighs", Mark.REST),
            Field("g,  specific gravity", Mark.REST),
        ],
    ]
    blocks = [form_line(sheet, fields, sheet.left, sheet.width, high) for fields in lines]
    if said := _measured(corner):
        blocks += sheet.paragraph(said, sheet.small, Role.MUTED, gap=sheet.pt(3))
    return replace(joined(*blocks), gap=sheet.pt(2))


def _measured(corner: RunCorner) -> str:
    slop = corner.measured
    if slop is None:
        return ""
    figures = [
        f"{text} {value:g}{unit}"
        for text, value, unit in (
            ("dry glaze", slop.dry_g, " g"),
            ("water", slop.water_g, " g"),
            ("volume", slop.volume_ml, " ml"),
            ("specific gravity", slop.specific_gravity, ""),
        )
        if value is not None
    ]
    return f"Measured already: {', '.join(figures)}." if figures else ""


def tile_blocks(sheet: Sheet, run: Run, studio: Studio, batches: Sequence[Batch]) -> list[Block]:
    """Return a weighing table for each tile, two beside each other where they are short."""
    gap = sheet.em(2.0)
    wide = 0.5 * (sheet.width - gap)
    made = [
        _short_tile(sheet, run, studio, number, tile, batch, sheet.left + i * (wide + gap), wide)
        for number, (tile, batch) in enumerate(zip(run.tiles, batches, strict=True), 1)
        for i in [(number - 1) % 2]
    ]
    if any(block.height > _page_share(sheet) for block in made):
        return _long_tiles(sheet, run, studio, batches)
    pairs = [beside(*made[i : i + 2]) for i in range(0, len(made), 2)]
    blocks = [replace(pair, gap=sheet.em(1.3)) for pair in pairs]
    if any(line.coarse for batch in batches for line in batch.lines):
        text = (
            f"Weigh the lines marked {COARSE} on a finer scale: half a step of "
            f"{batches[0].readout:f} g is more than 5 % of their weight."
        )
        blocks += sheet.paragraph(text, sheet.small, gap=sheet.em(1.0))
    return blocks


def _long_tiles(sheet: Sheet, run: Run, studio: Studio, batches: Sequence[Batch]) -> list[Block]:
    blocks: list[Block] = []
    for tile, batch in zip(run.tiles, batches, strict=True):
        recipe = replace(run.recipe_of(tile), pinned=run.pinned)
        lines = sheet.paragraph(f"{tile.code}  {tile.label}", sheet.font(1.25, bold=True))
        table = WeighingTable(sheet, evaluate(recipe, studio), batch).blocks()
        head = replace(joined(*lines), gap=sheet.em(1.6))
        blocks += _together(sheet, head, table)
    return blocks


def _short_tile(
    sheet: Sheet,
    run: Run,
    studio: Studio,
    number: int,
    tile: Tile,
    batch: Batch,
    x: float,
    width: float,
) -> Block:
    """Return one tile's table in a column."""
    recipe = replace(run.recipe_of(tile), pinned=run.pinned)
    right = x + width
    running_wide = sheet.advance("running total", sheet.tiny)
    grams_right = right - running_wide - sheet.em(0.8)
    widest = sheet.widest([f"{line.grams:f}" for line in batch.lines], sheet.strong)
    name_right = grams_right - widest - sheet.em(1.2)
    code = sheet.font(1.5, bold=True)
    code_wide = sheet.advance(f"{tile.code} ", code)
    title = beside(
        sheet.line(tile.code, code, x=x),
        _lowered(
            joined(
                *sheet.paragraph(
                    f"{number}. {tile.label}", sheet.small, x=x + code_wide, width=width - code_wide
                )
            ),
            sheet.ascent(code) - sheet.ascent(sheet.small),
        ),
    )

    def head(painter: QPainter, top: float) -> None:
        baseline = top + sheet.ascent(sheet.tiny)
        for end, text in ((grams_right, "grams"), (right, "running total")):
            sheet.write_up_to(painter, end, baseline, text, sheet.tiny, Role.MUTED)

    blocks = [title, Block(sheet.line_height(sheet.tiny), head)]
    additions = False
    for line in batch.lines:
        if line.section is Section.ADDITIONS and not additions:
            additions = True
            blocks.append(sheet.line("additions", sheet.tiny, Role.MUTED, x))
        material = material_of(recipe, studio, line.material)
        name = material.name if material is not None else line.material
        figures = (f"{line.grams:f}", f"{line.running_total:f}", line.coarse)
        blocks.append(_row(sheet, name, figures, x, name_right, grams_right, right))
    total = batch.total
    blocks.append(
        _row(sheet, "Total", (f"{total:f}", "", False), x, name_right, grams_right, right)
    )
    return joined(*blocks)


def _row(
    sheet: Sheet,
    name: str,
    figures: tuple[str, str, bool],
    x: float,
    name_right: float,
    grams_right: float,
    right: float,
) -> Block:
    grams, running, coarse = figures
    step, side = sheet.em(1.55), sheet.em(0.95)
    # What is weighed is ticked; the total is not.
    name_left = x + side + sheet.em(0.6) if running else x
    font = sheet.plain if running else sheet.strong
    lines = sheet.wrapped(name, font, name_right - name_left)
    line_high = sheet.line_height(font)

    def paint(painter: QPainter, top: float) -> None:
        painter.setPen(sheet.pen(Role.EDGE, 0.4 if running else 0.9, 0.55 if running else 1.0))
        painter.drawLine(QLineF(x, top, right, top))
        middle = top + 0.5 * step
        if running:
            paint_box(painter, sheet, x + sheet.pt(1), middle, side)
        baseline = middle_baseline(sheet, font, middle)
        for i, text in enumerate(lines):
            sheet.write(painter, name_left, baseline + i * line_high, text, font)
        if coarse:
            sign = grams_right - sheet.advance(f"{COARSE} {grams}", sheet.strong)
            sheet.write(painter, sign, baseline, COARSE, sheet.strong, Role.LOOK)
        sheet.write_up_to(painter, grams_right, baseline, grams, sheet.strong)
        sheet.write_up_to(painter, right, baseline, running, sheet.plain, Role.MUTED)

    return Block(step + (len(lines) - 1) * line_high, paint)


def _lowered(block: Block, by: float) -> Block:
    return Block(block.height + by, lambda painter, top: block.paint(painter, top + by))
