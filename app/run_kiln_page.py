"""The kiln placement sheet: where the tiles and the witness cones stand on each shelf."""

from __future__ import annotations

import math
from dataclasses import replace

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFont, QPainter

from app.card_page import Block, Sheet, beside, joined
from app.run_page import Field, Mark, form_line, middle_baseline, mm, short
from app.theme import LIGHT, Role
from core.firing.cones import cones, rank
from core.studio import Studio
from core.tiles.placement import CONES, Shelf, placed
from core.tiles.run import Run

_ALONG = 6
_MOST_ROWS = 7
_CELL_MM = 17.0
_KILN = (
    "Kilns burn and give off fumes: ventilate, keep to the maker's instructions and to local "
    "rules, never leave a firing unwatched to its end, and open it cold. Stand tiles that may "
    "run on a catcher or a scrap of clay; wear a mask and glasses when you grind a shelf."
)


def shelves_of(run: Run) -> tuple[Shelf, ...]:
    """Place a run's tiles in the order of their codes, evenly over as few shelves as hold them."""
    codes = [tile.code for tile in run.tiles]
    most = _ALONG * _MOST_ROWS - 2
    number = max(1, math.ceil(len(codes) / most))
    places = math.ceil(len(codes) / number) + 2
    columns = _ALONG if places > _ALONG else max(2, math.ceil(places / 2))
    return placed(codes, columns, max(2, math.ceil(places / columns)))


def cones_for(run: Run, studio: Studio) -> tuple[str, ...]:
    """Return the cones of a pack: one below the firing's, its own, and one beyond.

    A guide, the firing's own and a guard are common practice, no source. Empty
    where the firing names no cone of the table.
    """
    firing = studio.firings.get(run.firing)
    place = rank(firing.cone) if firing is not None and firing.cone else None
    if place is None:
        return ()
    return tuple(row.cone for row in cones()[max(place - 1, 0) : place + 2])


def kiln_blocks(sheet: Sheet, run: Run, studio: Studio) -> list[Block]:
    """Return the placement of a run: each shelf seen from above, then what to write down."""
    pack = cones_for(run, studio)
    shelves = shelves_of(run)
    labels = {tile.code: tile.label for tile in run.tiles}
    blocks: list[Block] = []
    for number, shelf in enumerate(shelves, 1):
        which = f"Shelf {number} of {len(shelves)}" if len(shelves) > 1 else "Shelf"
        title = f"{which}: {run.shelf}" if run.shelf else which
        title = short(sheet, title, sheet.strong, 0.5 * sheet.width)
        blocks.append(
            joined(
                replace(
                    beside(
                        sheet.line(title, sheet.strong),
                        _right(sheet, "back of the kiln, seen from above"),
                    ),
                    gap=sheet.em(1.0),
                ),
                replace(_shelf(sheet, shelf, pack, labels), gap=sheet.pt(3)),
                replace(_right(sheet, "front, where the door or the spyhole is"), gap=sheet.pt(2)),
                *_cone_lines(sheet, pack),
            )
        )
    high = sheet.em(1.9)
    for fields in (
        [Field("Kiln", Mark.REST), Field("Packed on", Mark.BLANK, 32), Field("by", Mark.REST)],
        [
            Field("Fired on", Mark.BLANK, 32),
            Field("Peak", Mark.BLANK, 18),
            Field("°C"),
            Field("Cooling", Mark.REST),
        ],
        [Field("Moved or left out", Mark.REST)],
    ):
        blocks.append(form_line(sheet, fields, sheet.left, sheet.width, high))
    first, *rest = sheet.paragraph(_KILN, sheet.small)
    return [*blocks, joined(replace(first, gap=sheet.em(1.0)), *rest)]


def _right(sheet: Sheet, text: str) -> Block:
    x = sheet.right - sheet.advance(text, sheet.small)
    return sheet.line(text, sheet.small, Role.MUTED, x)


def _shelf(sheet: Sheet, shelf: Shelf, pack: tuple[str, ...], labels: dict[str, str]) -> Block:
    columns = len(shelf.places[0])
    wide, high = sheet.width / columns, mm(sheet, _CELL_MM)
    wide = min(wide, mm(sheet, 45.0))
    code_font = sheet.font(1.45, bold=True)

    def paint(painter: QPainter, top: float) -> None:
        for row, places in enumerate(shelf.places):
            for column, place in enumerate(places):
                cell = QRectF(sheet.left + column * wide, top + row * high, wide, high)
                painter.setPen(sheet.pen(Role.EDGE, 0.6))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                if place == CONES:
                    painter.setBrush(LIGHT.color(Role.PANEL))
                painter.drawRect(cell)
                if place == CONES:
                    under = "cone " + " · ".join(pack) if pack else "cones ______"
                    _paint_cell(painter, sheet, cell, "cones", sheet.small, under)
                elif place:
                    _paint_cell(painter, sheet, cell, place, code_font, labels.get(place, ""))

    return Block(high * len(shelf.places), paint)


def _paint_cell(
    painter: QPainter, sheet: Sheet, cell: QRectF, title: str, font: QFont, label: str
) -> None:
    """Write a title in the middle of a place, a label of up to two lines under it."""
    room = cell.width() - sheet.pt(6)
    lines = sheet.wrapped(label, sheet.tiny, room)
    if len(lines) > 2:
        lines = [lines[0], short(sheet, " ".join(lines[1:]), sheet.tiny, room)]
    baseline = middle_baseline(sheet, font, cell.top() + 0.34 * cell.height())
    sheet.write(painter, _centred(sheet, cell, title, font), baseline, title, font)
    y = cell.top() + (0.58 if len(lines) == 1 else 0.54) * cell.height()
    for text in lines:
        x = _centred(sheet, cell, text, sheet.tiny)
        sheet.write(painter, x, y + sheet.ascent(sheet.tiny), text, sheet.tiny, Role.MUTED)
        y += 0.94 * sheet.line_height(sheet.tiny)


def _centred(sheet: Sheet, cell: QRectF, text: str, font: QFont) -> float:
    return cell.center().x() - 0.5 * sheet.advance(text, font)


def _cone_lines(sheet: Sheet, pack: tuple[str, ...]) -> list[Block]:
    """What the witness cones showed, a line for each pack of a shelf."""
    high = sheet.em(1.8)
    blocks = []
    for place in ("back left", "front right"):
        fields = [Field(f"Cones {place}:")]
        fields += [Field(f"cone {cone}" if cone else "cone", Mark.REST) for cone in pack or ("",)]
        blocks.append(form_line(sheet, fields, sheet.left, sheet.width, high))
    words = (
        "Write down how each cone stands after the firing: upright, bent, tip at the foot, flat."
    )
    return [*blocks, *sheet.paragraph(words, sheet.small, Role.MUTED, gap=sheet.pt(3))]
