"""What the pages of a printed run share: millimetres, boxes to tick, lines to write on, a ruler."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter

from app.card_page import Block, Sheet
from app.theme import LIGHT, Role
from core.studio import Studio
from core.tiles.run import Run

INVENTED = "Invented"
_RULER_MM = 100


class Mark(Enum):
    """What stands in a line of a form beside words."""

    BOX = "box"
    """A box to tick, its words after it."""
    BLANK = "blank"
    """Room to write on, of a width in millimetres."""
    REST = "rest"
    """Room to write on, up to the next of its kind or the end of the line."""


@dataclass(frozen=True, slots=True)
class Field:
    """A piece of a form's line: what is asked, then how it is answered."""

    text: str
    mark: Mark | None = None
    wide_mm: float = 0.0
    """Of a blank [mm]."""


def mm(sheet: Sheet, millimetres: float) -> float:
    """Millimetres to pixels."""
    return sheet.pt(millimetres * 72.0 / 25.4)


def invented(run: Run, studio: Studio) -> bool:
    """Tell whether the run or its studio says of itself that it is invented."""
    return any(INVENTED.lower() in text.lower() for text in (run.notes, studio.note))


def short(sheet: Sheet, text: str, font: QFont, width: float) -> str:
    """Cut a text that is too wide, with a sign that it was."""
    metrics = QFontMetricsF(font, sheet.device)
    return metrics.elidedText(text, Qt.TextElideMode.ElideRight, width)


def fitted(sheet: Sheet, text: str, fonts: Sequence[QFont], width: float) -> tuple[str, QFont]:
    """Return a text in the first of some fonts that it fits in; cut in the last if in none."""
    for font in fonts:
        if sheet.advance(text, font) <= width:
            return text, font
    return short(sheet, text, fonts[-1], width), fonts[-1]


def paint_box(painter: QPainter, sheet: Sheet, x: float, middle: float, side: float) -> None:
    """Paint a box to tick, round its middle line."""
    painter.setPen(sheet.pen(Role.INK, 0.8))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    corner = sheet.pt(1.2)
    painter.drawRoundedRect(QRectF(x, middle - side / 2, side, side), corner, corner)


def rule(painter: QPainter, sheet: Sheet, y: float, points: float, alpha: float = 1.0) -> None:
    """Draw a line across the page."""
    painter.setPen(sheet.pen(Role.EDGE, points, alpha))
    painter.drawLine(QPointF(sheet.left, y), QPointF(sheet.right, y))


def middle_baseline(sheet: Sheet, font: QFont, middle: float) -> float:
    """Baseline that puts capitals and figures round a middle line."""
    return middle + 0.5 * QFontMetricsF(font, sheet.device).capHeight()


def part_head(sheet: Sheet, run: Run, title: str, text: str = "") -> list[Block]:
    """Return the head of a part of the run, on top of its first page."""
    bar = sheet.left + sheet.em(0.8)
    lines = [
        *sheet.paragraph(run.name, sheet.small, Role.MUTED, x=bar),
        *sheet.paragraph(title, sheet.font(1.7, bold=True), x=bar),
    ]
    height = sum(line.height for line in lines)

    def paint(painter: QPainter, top: float) -> None:
        painter.fillRect(
            QRectF(sheet.left, top + sheet.pt(2), sheet.pt(3), height - sheet.pt(4)),
            LIGHT.color(Role.ACCENT),
        )
        for line in lines:
            line.paint(painter, top)
            top += line.height

    head = [Block(height, paint)]
    if text:
        head += sheet.paragraph(text, sheet.small, Role.MUTED, gap=sheet.pt(5))
    return head


def running_head(sheet: Sheet, run: Run, title: str) -> Block:
    """Return what stands on top of a part's further pages."""
    text = short(sheet, f"{title} (continued) · {run.name}", sheet.strong, sheet.width)
    return sheet.line(text, sheet.strong)


def form_line(
    sheet: Sheet, fields: Sequence[Field], x: float, width: float, height: float
) -> Block:
    """Lay out a line of a form: words, boxes to tick, and room to write on."""
    font, side, gap = sheet.small, sheet.em(0.85), sheet.pt(3)
    taken = 0.0
    for field in fields:
        taken += sheet.advance(field.text, font) + 3 * gap
        if field.mark is Mark.BOX:
            taken += side + gap
        elif field.mark is Mark.BLANK:
            taken += mm(sheet, field.wide_mm) + gap
        elif field.mark is Mark.REST:
            taken += gap
    rests = sum(field.mark is Mark.REST for field in fields)
    rest = max(width - taken + 3 * gap, 0.0) / max(rests, 1)

    def paint(painter: QPainter, top: float) -> None:
        at, middle = x, top + 0.62 * height
        baseline = middle_baseline(sheet, font, middle)
        for field in fields:
            if field.mark is Mark.BOX:
                paint_box(painter, sheet, at, middle, side)
                at += side + gap
            sheet.write(painter, at, baseline, field.text, font)
            at += sheet.advance(field.text, font)
            if field.mark in (Mark.BLANK, Mark.REST):
                wide = mm(sheet, field.wide_mm) if field.mark is Mark.BLANK else rest
                painter.setPen(sheet.pen(Role.EDGE, 0.5))
                line = baseline + sheet.pt(1.5)
                painter.drawLine(QLineF(at + gap, line, at + gap + wide, line))
                at += gap + wide
            at += 3 * gap

    return Block(height, paint)


def ruler(sheet: Sheet, x: float | None = None) -> Block:
    """Return a ruler of 100 mm that shows whether the page was printed at its own size."""
    font, begin = sheet.tiny, sheet.left if x is None else x
    height = sheet.line_height(font) + sheet.pt(8)

    def paint(painter: QPainter, top: float) -> None:
        paint_ruler(painter, sheet, begin, top + height)

    return replace(Block(height, paint), gap=sheet.em(1.0))


def paint_ruler(painter: QPainter, sheet: Sheet, x: float, line: float) -> None:
    """Paint the ruler so that it stands on a line, with words beside it."""
    font = sheet.tiny
    pen = sheet.pen(Role.INK, 0.5)
    # Flat, so that the line ends where the last millimetre does.
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.drawLine(QLineF(x, line, x + mm(sheet, _RULER_MM), line))
    for millimetre in range(_RULER_MM + 1):
        tall = 6.0 if millimetre % 10 == 0 else 4.5 if millimetre % 5 == 0 else 3.0
        at = x + mm(sheet, millimetre)
        painter.drawLine(QLineF(at, line, at, line - sheet.pt(tall)))
    baseline = line - sheet.pt(7.5)
    for millimetre in range(0, _RULER_MM + 1, 10):
        text = str(millimetre)
        at = x + mm(sheet, millimetre) - 0.5 * sheet.advance(text, font)
        sheet.write(painter, at, baseline, text, font, Role.MUTED)
    words = f"{_RULER_MM} mm when printed at 100 %"
    sheet.write(painter, x + mm(sheet, _RULER_MM + 4), line, words, font, Role.MUTED)


def paint_mark(painter: QPainter, sheet: Sheet) -> None:
    """Mark a page as invented, at its foot."""
    baseline = sheet.foot - sheet.line_height(sheet.small) + sheet.ascent(sheet.small)
    words = f"{INVENTED}, to show the pages"
    x = 0.5 * (sheet.left + sheet.right - sheet.advance(words, sheet.small))
    sheet.write(painter, x, baseline, words, sheet.small, Role.MUTED)
