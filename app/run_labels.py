"""Labels for cups, bags and jars of a run, in the places of a sheet of labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from app.card_page import Sheet
from app.run_page import INVENTED, fitted, invented, mm, paint_ruler
from app.theme import Role
from core.errors import InputError
from core.studio import Studio
from core.tiles.run import Run
from core.tiles.sheets import RunSheets

_PAD_MM = 3.0
_CAUTION = "Raw glaze: no dust, not for food."


@dataclass(frozen=True, slots=True)
class LabelPaper:
    """Where the labels of a sheet lie [mm]."""

    columns: int
    rows: int
    wide: float
    high: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    @property
    def count(self) -> int:
        """Labels on a sheet."""
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """Left and top edge of a label, counted row by row from 0 [mm].

        Examples
        --------
        >>> LABEL_PAPERS["Letter"].place(4)
        (74.63, 38.1)
        """
        row, column = divmod(number, self.columns)
        return (
            round(self.left + column * self.pitch_x, 4),
            round(self.top + row * self.pitch_y, 4),
        )


LABEL_PAPERS = {
    "A4": LabelPaper(3, 7, 63.5, 38.1, 7.25, 15.15, 66.0, 38.1),
    "Letter": LabelPaper(3, 10, 66.7, 25.4, 4.78, 12.7, 69.85, 25.4),
}
"""Of 21 and of 30 labels; edges and gaps are common practice, from memory, no source."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label: what is written large, and what in small lines under it."""

    code: str
    lines: tuple[str, ...]


def labels_words(paper: str, sheets: int, first: int) -> str:
    """Say where the labels are and what they are printed on."""
    stock = LABEL_PAPERS[paper]
    pages = f"the last {sheets} pages" if sheets > 1 else "the last page"
    return (
        f"Labels: {pages}, {stock.count} of {stock.wide:g} x {stock.high:g} mm to a sheet, "
        f"beginning at label {first}. Print them at 100 %, a sheet of plain paper first."
    )


def check_first(paper: str, first: int) -> None:
    """Check that a sheet of this paper has such a label.

    Raises
    ------
    InputError
        If it has not.
    """
    count = LABEL_PAPERS[paper].count
    if not 1 <= first <= count:
        raise InputError(
            f"there is no label {first} on a sheet of {paper} labels", f"begin with 1 to {count}"
        )


def labels_of(run: Run, sheets: RunSheets, studio: Studio) -> list[Label]:
    """Return the labels of a run: the jars of its corners, then a cup or bag for each tile."""
    mark = f"{INVENTED}. " if invented(run, studio) else ""
    day = f" · {run.planned}" if run.planned else ""
    found = [
        Label(
            f"Corner {corner.letter}" if len(sheets.corner_batches) > 1 else "Base",
            (
                f"{corner.name} · {corner.volume_ml:g} ml",
                f"{run.name}{day}",
                f"{mark}{_CAUTION}",
            ),
        )
        for corner in sheets.corner_batches
    ]
    volumes: dict[int, str] = {}
    if sheets.chart is not None:
        letters = [corner.letter for corner in run.corners]
        for cup in sheets.chart.cups:
            volumes[cup.number] = " + ".join(
                f"{letter} {volume:f}"
                for letter, volume in zip(letters, cup.volumes_ml, strict=True)
                if volume
            )
    for number, (code, label) in enumerate(sheets.codes, 1):
        poured = f"{volumes[number]} ml" if number in volumes else ""
        found.append(
            Label(
                code,
                tuple(
                    line
                    for line in (label, poured, f"{run.name}{day}", f"{mark}{_CAUTION}")
                    if line
                ),
            )
        )
    return found


def label_sheets(paper: str, labels: Sequence[Label], first: int) -> list[list[tuple[int, Label]]]:
    """Share labels out over sheets, the first of which begins at label `first`.

    Examples
    --------
    >>> two = [Label("A", ()), Label("B", ())]
    >>> [[place for place, _ in sheet] for sheet in label_sheets("A4", two, 21)]
    [[20], [0]]
    """
    check_first(paper, first)
    count = LABEL_PAPERS[paper].count
    sheets: list[list[tuple[int, Label]]] = []
    for number, label in enumerate(labels, first - 1):
        if number % count == 0 or not sheets:
            sheets.append([])
        sheets[-1].append((number % count, label))
    return sheets


def paint_labels(
    painter: QPainter, sheet: Sheet, paper: str, labels: Sequence[tuple[int, Label]]
) -> None:
    """Paint one sheet of labels; the ruler stands on the edge above them."""
    stock = LABEL_PAPERS[paper]
    paint_ruler(painter, sheet, mm(sheet, 20.0), mm(sheet, stock.top - 2.5))
    for place, label in labels:
        left, top = stock.place(place)
        area = QRectF(mm(sheet, left), mm(sheet, top), mm(sheet, stock.wide), mm(sheet, stock.high))
        pad = mm(sheet, _PAD_MM)
        _paint_label(painter, sheet, area.adjusted(pad, 0.6 * pad, -pad, -0.6 * pad), label)


def _paint_label(painter: QPainter, sheet: Sheet, area: QRectF, label: Label) -> None:
    first, *rest = label.lines
    smallest = sheet.font(0.64)
    lines = [fitted(sheet, first, (sheet.plain, sheet.small, smallest), area.width())]
    lines += [fitted(sheet, text, (smallest,), area.width()) for text in rest]
    below = sum(sheet.line_height(font) for _, font in lines)
    # The code takes the height that the lines leave it, up to a size that a brush would have.
    room = area.height() - below
    for times in (2.9, 2.5, 2.1, 1.8, 1.5, 1.2):
        large = sheet.font(times, bold=True)
        fits = sheet.line_height(large) <= room
        if fits and sheet.advance(label.code, large) <= area.width():
            break
    y = area.top() + 0.5 * max(room - sheet.line_height(large), 0.0)
    sheet.write(painter, area.left(), y + sheet.ascent(large), label.code, large)
    y += sheet.line_height(large)
    for number, (text, font) in enumerate(lines):
        role = Role.INK if number < len(lines) - 2 else Role.MUTED
        sheet.write(painter, area.left(), y + sheet.ascent(font), text, font, role)
        y += sheet.line_height(font)
