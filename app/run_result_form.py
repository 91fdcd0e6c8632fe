"""The form that is filled in while the fired tiles are looked at."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtGui import QPainter

from app.card_page import Block, Sheet, joined
from app.run_page import Field, Mark, form_line, middle_baseline, rule, short
from app.theme import Role
from core.studio import Studio
from core.tiles.result import DEFECTS, GLOSS_ANGLES, MOST_LEVEL, Surface
from core.tiles.run import Run, Tile

_LEVELS = tuple(str(level) for level in range(MOST_LEVEL + 1))


def result_blocks(sheet: Sheet, run: Run, studio: Studio) -> list[Block]:
    """Return a form with a place for every tile, under what holds for all of them."""
    body = studio.bodies.get(run.body)
    known = [
        text
        for text in (
            f"body: {body.name if body is not None else run.body}" if run.body else "",
            f"shelf: {run.shelf}" if run.shelf else "",
            f"fired: {run.fired}" if run.fired else "",
        )
        if text
    ]
    high = sheet.em(1.9)
    lines = [
        [Field("Read on", Mark.BLANK, 32), Field("by", Mark.REST), Field("cooling", Mark.REST)]
    ]
    if not run.fired:
        lines[0].insert(0, Field("Fired on", Mark.BLANK, 28))
    blocks: list[Block] = []
    if known:
        text = f"For all tiles, unless another stands beside one: {', '.join(known)}."
        blocks += sheet.paragraph(text, sheet.small, gap=sheet.pt(3))
    blocks += [form_line(sheet, fields, sheet.left, sheet.width, high) for fields in lines]
    words = (
        f"Marks: cutlery marks, 0 none to {MOST_LEVEL} heavy. Cleans: how marks and dye come off, "
        f"0 at a wipe to {MOST_LEVEL} not at all. Gloss only where a meter was used. Defects: "
        f"{', '.join(DEFECTS)}, or your own words; say where, and how much of the tile."
    )
    blocks += sheet.paragraph(words, sheet.small, Role.MUTED, gap=sheet.pt(3))
    blocks += [replace(_tile(sheet, tile), gap=sheet.pt(5)) for tile in run.tiles]
    return blocks


def _tile(sheet: Sheet, tile: Tile) -> Block:
    code = sheet.font(1.45, bold=True)
    left_wide = max(sheet.advance("MMMMM", code), sheet.advance("silky matte", sheet.tiny))
    x = sheet.left + left_wide + sheet.em(0.8)
    width, high = sheet.right - x, sheet.em(1.6)
    levels = [
        [Field(f"{what}:"), *(Field(level, Mark.BOX) for level in _LEVELS)]
        for what in ("marks", "cleans")
    ]
    angles = [Field(f"{angle:g}°", Mark.BOX) for angle in GLOSS_ANGLES]
    rows = [
        [*(Field(surface.value, Mark.BOX) for surface in Surface), Field("touch", Mark.REST)],
        [*levels[0], *levels[1], Field("thickness", Mark.REST), Field("mm")],
        [
            Field("gloss units", Mark.BLANK, 14),
            *angles,
            Field("local cone", Mark.BLANK, 14),
            Field("photo", Mark.REST),
        ],
        [Field("defects: what, where, % of the tile", Mark.REST)],
        [Field("other body, shelf, cooling", Mark.REST), Field("notes", Mark.REST)],
    ]
    form = joined(*(form_line(sheet, fields, x, width, high) for fields in rows))
    label = sheet.wrapped(tile.label, sheet.tiny, left_wide)[:3]
    result = tile.result
    if result is not None:
        surface = result.surface.value if result.surface is not None else "read"
        label += [short(sheet, text, sheet.tiny, left_wide) for text in (surface, result.read)]

    def paint(painter: QPainter, top: float) -> None:
        rule(painter, sheet, top, 0.9)
        baseline = middle_baseline(sheet, code, top + 0.62 * high)
        sheet.write(painter, sheet.left, baseline, tile.code, code)
        for number, text in enumerate(label):
            y = (
                top
                + sheet.em(2.0)
                + sheet.ascent(sheet.tiny)
                + number * sheet.line_height(sheet.tiny)
            )
            sheet.write(painter, sheet.left, y, text, sheet.tiny, Role.MUTED)
        form.paint(painter, top)

    return Block(form.height, paint)
