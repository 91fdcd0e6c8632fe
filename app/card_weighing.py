"""The card's table to weigh by: tick box, material, grams, running total."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from app import formatting
from app.card_page import Block, Sheet, joined
from app.theme import LIGHT, Role
from core.batch import Batch
from core.evaluate import Evaluation

COARSE = "◆"
_NAME_LINES = 6
"""Lines of a material's name kept on one page with its weight."""


class _Row(NamedTuple):
    """Texts of a row; what there is not is empty."""

    name: str
    percent: str
    grams: str
    running: str
    coarse: bool


class WeighingTable:
    """The rows of a batch; without a batch only their names."""

    def __init__(self, sheet: Sheet, evaluation: Evaluation, batch: Batch | None) -> None:
        self._sheet = sheet
        self._batch = batch
        recipe = evaluation.recipe
        rows = (*recipe.base, *recipe.additions)
        percents = _aligned([row.amount for row in recipe.additions])
        figures = (
            [(f"{line.grams:f}", f"{line.running_total:f}", line.coarse) for line in batch.lines]
            if batch is not None
            else [(formatting.NOTHING, "", False)] * len(rows)
        )
        self._rows = [
            _Row(evaluation.material_name(row.material), percent, *of_row)
            for row, percent, of_row in zip(
                rows, [""] * len(recipe.base) + percents, figures, strict=True
            )
        ]
        self._base_count = len(recipe.base)
        self._name_font = sheet.font(1.1)
        self._grams_font = sheet.font(1.4, bold=True)
        self._row_height = sheet.em(2.2)
        self._box = sheet.em(1.35)
        totals = [f"{batch.base_total:f}", f"{batch.total:f}"] if batch is not None else []
        self._set_columns(totals, percents)

    def _set_columns(self, totals: Sequence[str], percents: Sequence[str]) -> None:
        sheet = self._sheet
        gap = sheet.em(1.2)
        running_wide = max(
            sheet.advance("running total", sheet.small), sheet.widest(totals, self._name_font)
        )
        grams = [*(row.grams for row in self._rows), *totals]
        sign_wide = sheet.advance(COARSE + " ", self._name_font)
        self._running_right = sheet.right - sheet.pt(2)
        self._grams_right = self._running_right - running_wide - gap
        self._sign_left = self._grams_right - sheet.widest(grams, self._grams_font) - sign_wide
        self._percent_right = self._sign_left - 0.6 * gap
        self._percent_wide = sheet.widest(percents, self._name_font) + 0.6 * gap
        self._name_left = sheet.left + self._box + 0.8 * gap

    def blocks(self) -> list[Block]:
        """Return the rows under their headings, each section with its total."""
        sheet, batch = self._sheet, self._batch
        base, additions = self._rows[: self._base_count], self._rows[self._base_count :]
        of_base = self._section("Base", "", base)
        of_additions = self._section("Additions", "% of base", additions)
        if batch is not None:
            label = "Base" if additions else "Total"
            of_base[-1] = joined(of_base[-1], self._total(label, batch.base_total))
            if additions:
                total = self._total("Total with additions", batch.total)
                of_additions[-1] = joined(of_additions[-1], total)
        blocks = of_base + of_additions
        if batch is not None and any(row.coarse for row in self._rows):
            text = (
                f"Weigh the lines marked {COARSE} on a finer scale: half a step of "
                f"{batch.readout:f} g is more than 5 % of their weight."
            )
            blocks += sheet.paragraph(text, sheet.small, gap=sheet.pt(3))
        return blocks

    def _section(self, title: str, percent_title: str, rows: Sequence[_Row]) -> list[Block]:
        if not rows:
            return []
        head = self._head(title, percent_title)
        first, *rest = [block for row in rows for block in self._row(row, head)]
        return [replace(joined(head, first), gap=self._sheet.em(0.9)), *rest]

    def _head(self, title: str, percent_title: str) -> Block:
        sheet = self._sheet

        def paint(painter: QPainter, top: float) -> None:
            baseline = top + sheet.ascent(sheet.strong)
            sheet.write(painter, sheet.left, baseline, title, sheet.strong)
            for right, text in (
                (self._percent_right, percent_title),
                (self._grams_right, "grams"),
                (self._running_right, "running total"),
            ):
                sheet.write_up_to(painter, right, baseline, text, sheet.small, Role.MUTED)

        return Block(sheet.line_height(sheet.strong) + sheet.pt(2), paint)

    def _row(self, row: _Row, head: Block) -> Iterator[Block]:
        sheet, font = self._sheet, self._name_font
        right = self._percent_right - (self._percent_wide if row.percent else 0.0)
        lines = sheet.wrapped(row.name, font, right - self._name_left)
        step = sheet.line_height(font)
        kept, rest = lines[:_NAME_LINES], lines[_NAME_LINES:]

        def paint(painter: QPainter, top: float) -> None:
            painter.setPen(sheet.pen(Role.EDGE, 0.4, 0.55))
            painter.drawLine(QPointF(sheet.left, top), QPointF(sheet.right, top))
            self._paint_box(painter, top)
            baseline = self._baseline(top)
            for i, text in enumerate(kept):
                sheet.write(painter, self._name_left, baseline + i * step, text, font)
            sheet.write_up_to(painter, self._percent_right, baseline, row.percent, font)
            if row.coarse:
                sheet.write(painter, self._sign_left, baseline, COARSE, font, Role.LOOK)
            sheet.write_up_to(painter, self._grams_right, baseline, row.grams, self._grams_font)
            sheet.write_up_to(painter, self._running_right, baseline, row.running, font, Role.MUTED)

        yield Block(self._row_height + (len(kept) - 1) * step, paint, head=head)
        for text in rest:
            yield replace(sheet.line(text, font, x=self._name_left), head=head)

    def _total(self, label: str, grams: Decimal) -> Block:
        sheet, height = self._sheet, self._row_height

        def paint(painter: QPainter, top: float) -> None:
            band = QRectF(sheet.left, top, sheet.width, height)
            painter.fillRect(band, LIGHT.color(Role.PANEL))
            painter.setPen(sheet.pen(Role.EDGE, 0.9))
            painter.drawLine(band.topLeft(), band.topRight())
            baseline = self._baseline(top)
            sheet.write(painter, self._name_left, baseline, label, sheet.font(1.1, bold=True))
            sheet.write_up_to(painter, self._grams_right, baseline, f"{grams:f}", self._grams_font)

        return Block(height, paint)

    def _baseline(self, top: float) -> float:
        """Of a row's first line: the large figures stand in the middle of the box."""
        return top + 0.5 * self._row_height + self._sheet.em(0.46)

    def _paint_box(self, painter: QPainter, top: float) -> None:
        sheet, round_px = self._sheet, self._sheet.pt(1.5)
        painter.setPen(sheet.pen(Role.INK, 0.9))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        box_top = top + 0.5 * (self._row_height - self._box)
        box = QRectF(sheet.left + sheet.pt(1), box_top, self._box, self._box)
        painter.drawRoundedRect(box, round_px, round_px)


def _aligned(values: Sequence[float]) -> list[str]:
    """Write figures with as many decimals as the longest needs."""
    texts = [formatting.parts(value) for value in values]
    places = max((len(text.partition(".")[2]) for text in texts), default=0)
    return [formatting.decimals(value, places) for value in values]
