"""A run of test tiles as one PDF: weighing, blending, codes, kiln, results, labels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QPageLayout, QPainter, QPdfWriter

from app.card import PAPERS
from app.card_page import Block, Pages, Sheet, paginated, paint_footer
from app.pdf_file import with_plain_spaces, write_pdf_file
from app.run_chart import chart_blocks, dose_blocks
from app.run_kiln_page import kiln_blocks
from app.run_labels import (
    LABEL_PAPERS,
    check_first,
    label_sheets,
    labels_of,
    labels_words,
    paint_labels,
)
from app.run_page import invented, paint_mark, part_head, running_head
from app.run_result_form import result_blocks
from app.run_sheets_page import code_blocks, weighing_blocks
from core.errors import InputError
from core.studio import Studio
from core.tiles.run import Run
from core.tiles.sheets import RunSheets, run_sheets

RUN_PAPERS = tuple(LABEL_PAPERS)
"""The papers that a run is printed on: those that labels are sold on."""
_TYPE_SCALES = (1.0, 0.94, 0.88)
"""How much the type may shrink where that saves a page."""


@dataclass(frozen=True)
class _Part:
    """A part of the PDF, which begins on a page of its own."""

    title: str
    text: str
    blocks: Callable[[Sheet], list[Block]]
    written_on: bool = False
    """Whether its lines are written on, and may not shrink."""


def write_run_pdf(
    run: Run, studio: Studio, out: Path, paper: str = "A4", labels_from: int = 1
) -> None:
    """Write a run as a PDF in one step; a failure leaves the old file and no litter.

    Parameters
    ----------
    run : Run
    studio : Studio
        Whose firings, bodies, scale and names are printed.
    out : Path
    paper : str
        One of `RUN_PAPERS`.
    labels_from : int
        The first label that is still on the sheet, counted row by row from 1.

    Raises
    ------
    InputError
        If the run cannot be weighed or blended, or there is no such paper or label.
    OSError
        With a sentence, if the disk refuses or `out` is no ordinary file.
    """
    write_pdf_file(out, lambda: run_pdf_bytes(run, studio, paper, labels_from), "the run")


def run_pdf_bytes(run: Run, studio: Studio, paper: str = "A4", labels_from: int = 1) -> bytes:
    """Return a run as a PDF; see `write_run_pdf`."""
    if paper not in LABEL_PAPERS:
        raise InputError(f"runs are not printed on {paper!r}", f"use {' or '.join(LABEL_PAPERS)}")
    check_first(paper, labels_from)
    sheets = run_sheets(run, studio)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageSize(PAPERS[paper])
    writer.setTitle(run.name)
    writer.setCreator("Glost")
    layout = writer.pageLayout()
    layout.setMode(QPageLayout.Mode.FullPageMode)
    writer.setPageLayout(layout)
    painter = QPainter()
    if not painter.begin(writer):
        raise OSError("the file takes no pages; check it and try again")
    try:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        _paint_run(writer, painter, run, studio, sheets, paper, labels_from)
    finally:
        painter.end()
    return with_plain_spaces(bytes(buffer.data().data()))


def _parts(run: Run, studio: Studio, sheets: RunSheets, labels: str) -> list[_Part]:
    """Return the parts in the order of work; what a run does not need is left out."""
    chart, doses = sheets.chart, sheets.doses
    parts = [
        _Part("Weighing", "", lambda sheet: weighing_blocks(sheet, run, studio, sheets, labels)),
        _Part(
            "Tile codes",
            "In writing order. Write with an underglaze or iron wash that survives the firing, on "
            "the back or the foot, before glazing; tick each one.",
            lambda sheet: code_blocks(sheet, sheets.codes),
        ),
        _Part("Kiln placement", "", lambda sheet: kiln_blocks(sheet, run, studio)),
        _Part("Results", "", lambda sheet: result_blocks(sheet, run, studio), True),
    ]
    if chart is not None:
        title = "Blending chart"
        text = "In the order of work; each cup is full when its ticks are done."
        parts.insert(
            1,
            _Part(
                title, text, lambda sheet: chart_blocks(sheet, run, chart, sheets.corner_batches)
            ),
        )
    if doses:
        title = "Additions"
        text = "Into each cup of wet base, in the order of work."
        parts.insert(1, _Part(title, text, lambda sheet: dose_blocks(sheet, run, doses, studio)))
    return parts


def _pages(writer: QPdfWriter, run: Run, part: _Part) -> Pages:
    """Lay a part out in the largest type that takes the fewest pages."""
    found: list[Pages] = []
    for scale in _TYPE_SCALES[: 1 if part.written_on else None]:
        sheet = Sheet(writer, scale)
        blocks = [*part_head(sheet, run, part.title, part.text), *part.blocks(sheet)]
        found.append(paginated(sheet, blocks, running_head(sheet, run, part.title)))
        if len(found[-1]) == 1:
            break
    return min(found, key=len)


def _paint_run(
    writer: QPdfWriter,
    painter: QPainter,
    run: Run,
    studio: Studio,
    sheets: RunSheets,
    paper: str,
    labels_from: int,
) -> None:
    sheet = Sheet(writer, 1.0)
    labels = label_sheets(paper, labels_of(run, sheets, studio), labels_from)
    words = labels_words(paper, len(labels), labels_from)
    pages: Pages = []
    for part in _parts(run, studio, sheets, words):
        pages += _pages(writer, run, part)
    marked = invented(run, studio)
    for number, page in enumerate(pages, 1):
        if number > 1:
            writer.newPage()
        for top, block in page:
            block.paint(painter, top)
        paint_footer(painter, sheet, number, len(pages) + len(labels))
        if marked:
            paint_mark(painter, sheet)
    for of_sheet in labels:
        writer.newPage()
        paint_labels(painter, sheet, paper, of_sheet)
