"""The recipe card, what stands on it and in which order.

One renderer serves the preview, the printer and the PDF.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QRectF, QSizeF
from PySide6.QtGui import QPagedPaintDevice, QPageLayout, QPageSize, QPainter

from app.card_formula import formula_blocks, sentence
from app.card_page import FOOD, Block, Pages, Sheet, beside, joined, paginated, paint_footer
from app.card_weighing import WeighingTable
from app.theme import LIGHT, Role
from core.batch import Batch, batch_of
from core.errors import InputError
from core.evaluate import Evaluation
from core.telling import cautions

PAPERS: dict[str, QPageSize] = {
    "A4": QPageSize(QPageSize.PageSizeId.A4),
    "A5": QPageSize(QPageSize.PageSizeId.A5),
    "A6": QPageSize(QPageSize.PageSizeId.A6),
    "Letter": QPageSize(QPageSize.PageSizeId.Letter),
    "4x6": QPageSize(
        QSizeF(4, 6), QPageSize.Unit.Inch, "4 x 6 in", QPageSize.SizeMatchPolicy.ExactMatch
    ),
}
"""The papers of the card by the names of the command line, all upright."""

_NOTE_LINES = 4
_FACT_LINES = 8
"""Lines of a firing's or a body's name; the longest name of a recipe fits in so many."""
_CAUTION_LINES = 6
"""A caution of up to so many lines is not cut by the end of a page."""
_TYPE_SCALES = (1.0, 0.94, 0.88)
"""How much the type may shrink where that saves a page."""


@dataclass(frozen=True)
class CardRequest:
    """What one card shows."""

    evaluation: Evaluation
    """Of the recipe, or of it with the rows of the variant; additions counted."""
    variant: str
    """Its name, or empty."""
    batch_grams: float
    """Dry base [g]; additions come on top."""
    readout_g: float
    """Step of the scale [g]."""
    day: str
    """ISO 8601 text."""

    @property
    def name(self) -> str:
        """Name of the recipe, or words for its lack."""
        return self.evaluation.recipe.name.strip() or "Recipe without a name"


def paint_card(device: QPagedPaintDevice, request: CardRequest) -> int:
    """Draw the card onto a device that takes pages, and return how many it took.

    The device's page size and orientation decide the layout; its margins are
    replaced by the card's own.

    Raises
    ------
    OSError
        If the device takes no painting, such as a printer that has gone.
    """
    layout = device.pageLayout()
    layout.setMode(QPageLayout.Mode.FullPageMode)
    device.setPageLayout(layout)
    painter = QPainter()
    if not painter.begin(device):
        raise OSError("the printer or file takes no pages; check it and try again")
    try:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        sheet, pages = _laid_out(device, request)
        for number, page in enumerate(pages, 1):
            if number > 1:
                device.newPage()
            for top, block in page:
                block.paint(painter, top)
            paint_footer(painter, sheet, number, len(pages))
    finally:
        painter.end()
    return len(pages)


def _laid_out(device: QPagedPaintDevice, request: CardRequest) -> tuple[Sheet, Pages]:
    """Lay the card out in the largest type that takes the fewest pages."""
    layouts = []
    for scale in _TYPE_SCALES:
        sheet = Sheet(device, scale)
        pages = paginated(sheet, _blocks(sheet, request), _running_head(sheet, request))
        layouts.append((sheet, pages))
        if len(pages) == 1:
            break
    return min(layouts, key=lambda layout: len(layout[1]))


def _blocks(sheet: Sheet, request: CardRequest) -> list[Block]:
    """Return the whole card, in the order of reading."""
    evaluation = request.evaluation
    batch, fault = None, []
    try:
        batch = batch_of(evaluation.recipe, request.batch_grams, request.readout_g)
    except InputError as error:
        fault = sheet.paragraph(f"No weights: {error}.", sheet.strong, gap=sheet.em(0.9))
    return [
        _title(sheet, request.name),
        *_variant(sheet, request),
        *_notes(sheet, evaluation.recipe.notes.strip()),
        _facts(sheet, request, batch),
        *fault,
        *WeighingTable(sheet, evaluation, batch).blocks(),
        *formula_blocks(sheet, evaluation),
        *_looks(sheet, evaluation),
        *_cautions(sheet, evaluation),
    ]


def _running_head(sheet: Sheet, request: CardRequest) -> Block:
    """Return what stands on top of the second and further pages."""
    variant = f", variant {request.variant}" if request.variant else ""
    return joined(*sheet.paragraph(f"{request.name}{variant} (continued)", sheet.strong))


def _title(sheet: Sheet, name: str) -> Block:
    """Return the name in the largest type that takes two lines, beside a bar of the accent."""
    for times in (2.4, 2.0, 1.7, 1.4):
        font = sheet.font(times, bold=True)
        lines = sheet.paragraph(name, font, x=sheet.left + sheet.em(0.8))
        if len(lines) <= 2:
            break
    words, step = joined(*lines), lines[0].height

    def paint(painter: QPainter, top: float) -> None:
        bar = QRectF(sheet.left, top + 0.12 * step, sheet.pt(3), words.height - 0.2 * step)
        painter.fillRect(bar, LIGHT.color(Role.ACCENT))
        words.paint(painter, top)

    return Block(words.height, paint)


def _variant(sheet: Sheet, request: CardRequest) -> list[Block]:
    if not request.variant:
        return []
    variant = request.evaluation.recipe.variant(request.variant)
    reason = f": {variant.reason}" if variant is not None and variant.reason else ""
    text = f"Variant {request.variant}{reason}"
    return sheet.paragraph(text, sheet.plain, gap=sheet.pt(1), x=sheet.left + sheet.em(0.8))


def _notes(sheet: Sheet, text: str) -> list[Block]:
    if not text:
        return []
    x = sheet.left + sheet.em(0.8)
    lines = sheet.paragraph(text, sheet.small, gap=sheet.pt(1), x=x)
    more = sheet.line("(more in the recipe)", sheet.small, Role.MUTED, x)
    return lines if len(lines) <= _NOTE_LINES else [*lines[:_NOTE_LINES], more]


def _facts(sheet: Sheet, request: CardRequest, batch: Batch | None) -> Block:
    """Batch, firing, body and date, side by side or two by two."""
    weights = ("no weights", "")
    if batch is not None:
        weights = (f"{batch.base_total:f} g", f"dry base, to {batch.readout:f} g")
    facts = [
        ("Batch", *weights),
        ("Firing", *_firing_words(request.evaluation)),
        ("Body", _body_words(request.evaluation), ""),
        ("Date", request.day, ""),
    ]
    gap = sheet.pt(8)
    if sheet.roomy:
        date_wide = sheet.advance(request.day, sheet.strong) + sheet.pt(1)
        widths = [*_shared(sheet.width - date_wide - 3 * gap, (0.95, 1.25, 1.1)), date_wide]
    else:
        widths = _shared(sheet.width - gap, (1.0, 1.2))
    rows = []
    for i in range(0, len(facts), len(widths)):
        cells, x = [], sheet.left
        for fact, width in zip(facts[i:], widths, strict=False):
            cells.append(_fact(sheet, *fact, x, width))
            x += width + gap
        rows.append(replace(beside(*cells), gap=sheet.pt(4)))
    return replace(joined(*rows), gap=sheet.em(0.9))


def _fact(sheet: Sheet, title: str, first: str, second: str, x: float, width: float) -> Block:
    lines = [sheet.line(title, sheet.small, Role.MUTED, x)]
    for text, font in ((first, sheet.strong), (second, sheet.small)):
        if text:
            found = sheet.paragraph(text, font, x=x, width=width)
            lines += found[:_FACT_LINES]
            if len(found) > _FACT_LINES:
                lines.append(sheet.line("(longer)", sheet.small, Role.MUTED, x))
    return joined(*lines)


def _firing_words(evaluation: Evaluation) -> tuple[str, str]:
    firing = evaluation.firing
    if firing is None:
        name = evaluation.recipe.firing
        return (name, "not in the tables") if name else ("not chosen", "")
    cone = f"cone {firing.cone}" if firing.cone else "cone not said"
    peak = f", peak {firing.peak_c:.0f} °C" if firing.peak_c is not None else ""
    shelf = f", shelf {evaluation.recipe.shelf}" if evaluation.recipe.shelf else ""
    return firing.name or firing.id, cone + peak + shelf


def _body_words(evaluation: Evaluation) -> str:
    if evaluation.body is not None:
        return evaluation.body.name
    name = evaluation.recipe.body
    return f"{name} (not in the tables)" if name else "not chosen"


def _shared(width: float, shares: Sequence[float]) -> list[float]:
    return [width * share / sum(shares) for share in shares]


def _looks(sheet: Sheet, evaluation: Evaluation) -> list[Block]:
    """What the potter should look at: missing rows, moved tables, odd analyses."""
    texts = [
        f"Computed with the recipe's own analysis of {moved.name}; the table has another now."
        for moved in evaluation.moved
    ]
    texts += [sentence(warning) for warning in evaluation.warnings]
    if evaluation.missing:
        names = ", ".join(evaluation.missing)
        missing = f"Not in the tables: {names}. Their oxides and hazards are not on this card."
        texts.insert(0, missing)
    gap = sheet.pt(1.5)
    return _headed(
        sheet, "Look", [b for text in texts for b in sheet.paragraph(text, sheet.small, gap=gap)]
    )


def _cautions(sheet: Sheet, evaluation: Evaluation) -> list[Block]:
    texts = cautions(evaluation)
    if not any(text.startswith(FOOD) for text in texts):
        texts.append(f"{FOOD}.")
    blocks: list[Block] = []
    for text in texts:
        font = sheet.small_strong if text.startswith(FOOD) else sheet.small
        lines = sheet.paragraph(text, font, gap=sheet.pt(1.5))
        blocks += [joined(*lines)] if len(lines) <= _CAUTION_LINES else lines
    return _headed(sheet, "Cautions", blocks)


def _headed(sheet: Sheet, title: str, blocks: Sequence[Block]) -> list[Block]:
    return [joined(sheet.heading(title), blocks[0]), *blocks[1:]] if blocks else []
