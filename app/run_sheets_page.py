"""The first and the last sheet before the kiln: what a run is and weighs, and its codes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from PySide6.QtCore import QLineF
from PySide6.QtGui import QPainter

from app.card_page import FOOD, Block, Sheet, beside, joined
from app.run_page import fitted, paint_box, ruler
from app.run_weighing import corner_blocks, corner_recipe, tile_blocks
from app.theme import Role
from core.cautions import cautions_for, general_cautions
from core.evaluate import material_of, resolve
from core.materials import Material
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.run import Run
from core.tiles.sheets import (
    USUAL_CUP_ML,
    USUAL_SPECIFIC_GRAVITY,
    RunSheets,
)

_ALONG = 3
"""Codes beside each other on the list that the tiles are written from."""


def weighing_blocks(
    sheet: Sheet, run: Run, studio: Studio, sheets: RunSheets, labels: str
) -> list[Block]:
    """Return the run in a line or two, what to know, what to weigh, and the cautions.

    `labels` says where the labels are.
    """
    small = sheet.small
    blocks = [
        line
        for text in (*facts(run, studio, sheets), labels)
        for line in sheet.paragraph(text, small, gap=sheet.pt(2))
    ]
    notes = [note for note in (run.notes.strip(), studio.note.strip()) if note]
    for note in dict.fromkeys(notes):
        blocks += sheet.paragraph(note, small, Role.MUTED, gap=sheet.pt(3))
    blocks.append(ruler(sheet))
    looks = [*sheets.words, *(f"Look: {text}." for text in _scale_words(run, studio, sheets))]
    for number, text in enumerate(looks):
        gap = sheet.em(1.0) if number == 0 else sheet.pt(2)
        blocks += sheet.paragraph(text, small, gap=gap)
    if sheets.corner_batches:
        blocks += corner_blocks(sheet, run, studio, sheets.corner_batches)
    if sheets.tile_batches:
        blocks += tile_blocks(sheet, run, studio, sheets.tile_batches)
    return blocks + _cautions(sheet, run, studio)


def facts(run: Run, studio: Studio, sheets: RunSheets) -> list[str]:
    """Say in two lines what the run is, and how it is fired."""
    wet = f"cups of {run.cup_ml or USUAL_CUP_ML:g} ml at a specific gravity of "
    wet += f"{run.specific_gravity or USUAL_SPECIFIC_GRAVITY:g}"
    batch = run.batch_g or studio.test_batch_g
    dry = f"{batch:g} g of dry base for each tile"
    tiles = f"{len(run.tiles)} tile" + ("s" if len(run.tiles) != 1 else "")
    day = f"planned {run.planned}" if run.planned else ""
    firing = studio.firings.get(run.firing)
    name = (firing.name if firing is not None else "") or run.firing
    cone = f"cone {firing.cone}" if firing is not None and firing.cone else ""
    body = studio.bodies.get(run.body)
    body_name = body.name if body is not None else run.body
    first = (run.blend, tiles, dry if sheets.tile_batches else wet, day)
    second = (
        f"Firing: {name}" if name else "Firing not chosen",
        cone,
        f"shelf: {run.shelf}" if run.shelf else "",
        f"body: {body_name}" if body_name else "body not chosen",
    )
    joint = [", ".join(text for text in line if text) for line in (first, second)]
    return [f"{text[:1].upper()}{text[1:]}." for text in joint]


def _scale_words(run: Run, studio: Studio, sheets: RunSheets) -> Iterator[str]:
    for warning in sheets.scale:
        material = material_of(Recipe(pinned=run.pinned), studio, warning.material)
        yield warning.words(material.name if material is not None else "")
    least = sheets.smallest
    if least is not None and not sheets.scale:
        material = material_of(Recipe(pinned=run.pinned), studio, least.material)
        yield least.words(material.name if material is not None else "")


def _recipes(run: Run) -> list[Recipe]:
    corners = [corner_recipe(run, corner) for corner in run.corners]
    return corners + [replace(run.recipe_of(tile), pinned=run.pinned) for tile in run.tiles]


def _cautions(sheet: Sheet, run: Run, studio: Studio) -> list[Block]:
    """Cautions for every material of the run, once, then those that always hold."""
    found: dict[str, Material] = {}
    missing: dict[str, None] = {}
    for recipe in _recipes(run):
        materials, unknown = resolve(recipe, studio)
        found.update(materials)
        missing.update(dict.fromkeys(unknown))
    texts = [f"{', '.join(names)}: {text}" for text, names in cautions_for(found.values())]
    if missing:
        texts.insert(0, f"Not in the tables: {', '.join(missing)}. Their hazards are not here.")
    says = [caution.says for caution in general_cautions()]
    food = [text for text in says if text.startswith(FOOD)]
    blocks: list[Block] = []
    for text in (*texts, " ".join(text for text in says if text not in food)):
        blocks += sheet.paragraph(text, sheet.small, gap=sheet.pt(1.5))
    for text in food:
        blocks += sheet.paragraph(text, sheet.small_strong, gap=sheet.pt(1.5))
    return [joined(sheet.heading("Cautions"), blocks[0]), *blocks[1:]]


def code_blocks(sheet: Sheet, codes: Sequence[tuple[str, str]]) -> list[Block]:
    """Return the codes large, in the order in which the tiles are written."""
    gap = sheet.em(1.0)
    wide = (sheet.width - (_ALONG - 1) * gap) / _ALONG
    blocks = []
    for start in range(0, len(codes), _ALONG):
        cells = []
        for i, (code, label) in enumerate(codes[start : start + _ALONG]):
            cells.append(
                _code(sheet, start + i + 1, code, label, sheet.left + i * (wide + gap), wide)
            )
        blocks.append(replace(beside(*cells), gap=sheet.pt(7)))
    return blocks


def _code(sheet: Sheet, number: int, code: str, label: str, x: float, width: float) -> Block:
    large, side = sheet.font(2.6, bold=True), sheet.em(1.3)
    left = x + side + sheet.em(0.9)
    fonts = (sheet.small, sheet.tiny, sheet.font(0.64))
    words, font = fitted(sheet, f"{number}. {label}", fonts, x + width - left)
    height = sheet.line_height(large) + sheet.line_height(sheet.small)

    def paint(painter: QPainter, top: float) -> None:
        painter.setPen(sheet.pen(Role.EDGE, 0.4, 0.5))
        painter.drawLine(QLineF(x, top, x + width, top))
        baseline = top + sheet.ascent(large)
        paint_box(painter, sheet, x + sheet.pt(1), baseline - sheet.em(0.9), side)
        sheet.write(painter, left, baseline, code, large)
        under = top + sheet.line_height(large) + sheet.ascent(sheet.small) - sheet.pt(2)
        sheet.write(painter, left, under, words, font, Role.MUTED)

    return Block(height, paint)
