"""The recipe card: one renderer for the preview, the printer and the PDF.

Everything is laid out in pixels of the device, from sizes in points, so that
a page looks the same whatever it is painted on.
"""

from __future__ import annotations

import math
import os
import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPainterPath,
    QPdfWriter,
    QPen,
    QPolygonF,
    QTextLayout,
    QTextOption,
    QTransform,
)

from app import formatting
from app.theme import LIGHT, Role, zone_brush_pattern
from core.batch import Batch, WeighingLine, batch_of
from core.errors import InputError
from core.evaluate import Evaluation
from core.formula import Formula
from core.oxides import COLOURING_RO, INDEX, OXIDES
from core.recipe import Ingredient, Section
from core.regions import Zone, practice_rules
from core.report import cautions

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

FOOD = "Test before use with food"
COARSE = "◆"
_NOTE_LINES = 4
_ROW_LINES = 6
"""Lines of a material's name kept on one page with its weight."""
_CAUTION_LINES = 6
"""A caution of up to so many lines is not cut by the end of a page."""
_SMALLEST_PT = 6.5
_TYPE_SCALES = (1.0, 0.94, 0.88)
"""How much the type may shrink where that saves a page."""
_MAP_HOME = (6.0, 1.0)
_ZONE_ROLES = {
    Zone.GLOSSY: Role.GLOSSY,
    Zone.SATIN: Role.SATIN,
    Zone.MATTE: Role.MATTE,
    Zone.UNDERFIRED: Role.UNDERFIRED,
}
_PATTERN_PT = 0.5
"""Size on paper of what is one pixel of a pattern on the screen [pt]."""


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
            _paint_footer(painter, sheet, number, len(pages))
    finally:
        painter.end()
    return len(pages)


def _laid_out(device: QPagedPaintDevice, request: CardRequest) -> tuple[_Sheet, _Pages]:
    """Lay the card out in the largest type that takes the fewest pages."""
    layouts = []
    for scale in _TYPE_SCALES:
        sheet = _Sheet(device, scale)
        card = _Card(sheet, request)
        pages = _paginated(sheet, card.blocks(), card.running_head())
        if len(pages) == 1:
            return sheet, pages
        layouts.append((sheet, pages))
    return min(layouts, key=lambda layout: len(layout[1]))


def write_pdf(path: Path, request: CardRequest, paper: str) -> None:
    """Write the card as a PDF in one step; a failure leaves the old file and no litter.

    Raises
    ------
    OSError
        With a sentence, if the disk refuses.
    """
    data = pdf_bytes(request, paper)
    target = Path(os.path.realpath(path))
    temporary = ""
    try:
        # A new file gets what the user's mask allows; mkstemp alone would give 0600.
        mode = target.stat().st_mode & 0o7777 if target.exists() else 0o666 & ~_umask()
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".glost-card-")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, mode)
        os.replace(temporary, target)
    except BaseException as fault:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)
        if isinstance(fault, OSError):
            why = fault.strerror or fault
            raise OSError(f"the card could not be written to {path}: {why}") from fault
        raise


def pdf_bytes(request: CardRequest, paper: str) -> bytes:
    """Return the card as a PDF on one of `PAPERS`."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageSize(PAPERS[paper])
    writer.setTitle(_name(request.evaluation))
    writer.setCreator("Glost")
    paint_card(writer, request)
    return _with_plain_spaces(bytes(buffer.data().data()))


def _with_plain_spaces(pdf: bytes) -> bytes:
    """Let the glyph of the space be read back as a space.

    Qt names each glyph by the first character that has it, which makes the
    space a tab for whoever searches or copies the text. Both names have the
    same length, so that nothing in the file moves.
    """

    def renamed(table: re.Match[bytes]) -> bytes:
        return re.sub(
            rb"\[[^\]]*\]", lambda names: names[0].replace(b"<0009>", b"<0020>"), table[0]
        )

    return re.sub(rb"begincmap.*?endcmap", renamed, pdf, flags=re.DOTALL)


@dataclass(frozen=True)
class _Block:
    """A strip of the card that no page break cuts."""

    height: float
    paint: Callable[[QPainter, float], None]
    """Takes the painter and where the strip begins."""
    gap: float = 0.0
    """Room above it, left out where a page begins."""
    head: _Block | None = None
    """Repeated above it where a page begins with it."""


_Pages = list[list[tuple[float, _Block]]]
"""What stands on each page: (top, block)."""
_Words = tuple[str, QFont, Role]
"""A text, its type and its ink."""


class _Sheet:
    """One page's measures [px of the device] and the type that suits it."""

    def __init__(self, device: QPagedPaintDevice, scale: float) -> None:
        self.device = device
        self.unit = device.logicalDpiX() / 72.0
        page = QRectF(device.pageLayout().fullRectPixels(device.logicalDpiX()))
        wide_mm = page.width() / self.unit / 72.0 * 25.4
        margin = self.pt(min(max(0.066 * wide_mm, 7.0), 14.0) * 72.0 / 25.4)
        self.base = scale * (10.5 if wide_mm >= 180 else 9.0 if wide_mm >= 130 else 8.0)
        """Size of plain text [pt]."""
        self.small = max(_SMALLEST_PT, 0.82 * self.base)
        self.roomy = wide_mm >= 130
        """Whether formula and map stand side by side."""
        self.left, self.right = margin, page.width() - margin
        self.width = self.right - self.left
        self.top = margin
        self.foot = page.height() - margin
        self.bottom = self.foot - self.line_height(self.font(self.small)) - self.pt(6)

    def pt(self, points: float) -> float:
        """Points to pixels."""
        return points * self.unit

    def font(self, size: float, bold: bool = False) -> QFont:
        """Return the card's type in a size [pt]."""
        font = QFont()
        font.setPointSizeF(size)
        font.setBold(bold)
        font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
        # A ligature is one glyph for two letters; text copied from the page would show it.
        for ligature in ("liga", "clig"):
            font.setFeature(QFont.Tag(ligature), 0)
        return font

    def advance(self, text: str, font: QFont) -> float:
        """Width of a text on one line."""
        return QFontMetricsF(font, self.device).horizontalAdvance(text)

    def ascent(self, font: QFont) -> float:
        """From the top of a line to its baseline."""
        return QFontMetricsF(font, self.device).ascent()

    def line_height(self, font: QFont) -> float:
        """From the top of a line to the next."""
        return QFontMetricsF(font, self.device).height() * 1.06

    def wrapped(self, text: str, font: QFont, width: float) -> list[str]:
        """Break a text into lines, inside a word where it has to be."""
        option = QTextOption()
        option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        found = []
        for paragraph in text.splitlines() or [""]:
            flat = " ".join(paragraph.split())
            layout = QTextLayout(flat, font, self.device)
            layout.setTextOption(option)
            layout.beginLayout()
            while (line := layout.createLine()).isValid():
                line.setLineWidth(width)
                # Qt counts UTF-16 units, Python code points.
                start, end = line.textStart(), line.textStart() + line.textLength()
                piece = flat.encode("utf-16-le")[2 * start : 2 * end].decode("utf-16-le", "replace")
                found.append(piece.rstrip())
            layout.endLayout()
        return found or [""]

    def paragraph(
        self,
        text: str,
        font: QFont,
        role: Role = Role.INK,
        gap: float = 0.0,
        indent: float = 0.0,
    ) -> list[_Block]:
        """Return one block for each line of a text."""
        lines = self.wrapped(text, font, self.width - indent)
        height = self.line_height(font)

        def block(line: str) -> _Block:
            def paint(painter: QPainter, top: float) -> None:
                self.write(painter, self.left + indent, top, line, font, role)

            return _Block(height, paint)

        blocks = [block(line) for line in lines]
        blocks[0] = replace(blocks[0], gap=gap)
        return blocks

    def write(
        self,
        painter: QPainter,
        x: float,
        top: float,
        text: str,
        font: QFont,
        role: Role = Role.INK,
        from_right: bool = False,
    ) -> None:
        """Write one line that begins at `x`, or ends there."""
        painter.setFont(font)
        painter.setPen(LIGHT.color(role))
        if from_right:
            x -= self.advance(text, font)
        painter.drawText(QPointF(x, top + self.ascent(font)), text)

    def pen(self, role: Role, points: float, alpha: float = 1.0) -> QPen:
        """Return a pen of a width in points."""
        return QPen(LIGHT.color(role, alpha), self.pt(points))


def _paginated(sheet: _Sheet, blocks: Sequence[_Block], running_head: _Block) -> _Pages:
    """Place the blocks on pages, one below the other."""
    pages: _Pages = [[]]
    top, fresh = sheet.top, True
    for block in blocks:
        if not fresh and top + block.gap + block.height > sheet.bottom:
            pages.append([(sheet.top, running_head)])
            top, fresh = sheet.top + running_head.height, True
            if block.head is not None:
                pages[-1].append((top, block.head))
                top += block.head.height
        if not fresh:
            top += block.gap
        pages[-1].append((top, block))
        top, fresh = top + block.height, False
    return pages


def _joined(*blocks: _Block) -> _Block:
    """Make one block of several that have to stay on one page."""
    tops = []
    height = 0.0
    for i, block in enumerate(blocks):
        height += block.gap if i else 0.0
        tops.append(height)
        height += block.height

    def paint(painter: QPainter, top: float) -> None:
        for offset, block in zip(tops, blocks, strict=True):
            block.paint(painter, top + offset)

    return _Block(height, paint, blocks[0].gap, blocks[0].head)


def _paint_footer(painter: QPainter, sheet: _Sheet, number: int, of: int) -> None:
    font = sheet.font(sheet.small)
    top = sheet.foot - sheet.line_height(font)
    painter.setPen(sheet.pen(Role.EDGE, 0.4, 0.6))
    painter.drawLine(
        QPointF(sheet.left, top - sheet.pt(2)), QPointF(sheet.right, top - sheet.pt(2))
    )
    sheet.write(painter, sheet.left, top, FOOD, sheet.font(sheet.small, bold=True))
    sheet.write(
        painter, sheet.right, top, f"page {number} of {of}", font, Role.MUTED, from_right=True
    )


class _Card:
    """What stands on the card, as blocks in the order of reading."""

    def __init__(self, sheet: _Sheet, request: CardRequest) -> None:
        self._sheet = sheet
        self._request = request
        self._evaluation = request.evaluation
        self._batch: Batch | None = None
        self._fault = ""
        try:
            self._batch = batch_of(
                request.evaluation.recipe, request.batch_grams, request.readout_g
            )
        except InputError as fault:
            self._fault = str(fault)

    def blocks(self) -> list[_Block]:
        """Return the whole card."""
        return [
            self._title(),
            *self._variant(),
            *self._notes(),
            self._facts(),
            *_Weighing(self._sheet, self._evaluation, self._batch, self._fault).blocks(),
            *self._chemistry(),
            *self._looks(),
            *self._cautions(),
        ]

    def running_head(self) -> _Block:
        """Return what stands on top of the second and further pages."""
        sheet, font = self._sheet, self._sheet.font(self._sheet.base, bold=True)
        variant = f", variant {self._request.variant}" if self._request.variant else ""
        text = f"{_name(self._evaluation)}{variant} (continued)"
        lines = sheet.wrapped(text, font, sheet.width)
        step = sheet.line_height(font)

        def paint(painter: QPainter, top: float) -> None:
            for i, line in enumerate(lines):
                sheet.write(painter, sheet.left, top + i * step, line, font)

        return _Block(len(lines) * step + sheet.pt(8), paint)

    def _title(self) -> _Block:
        sheet, name = self._sheet, _name(self._evaluation)
        inset = sheet.pt(0.8 * sheet.base)
        for factor in (2.4, 2.0, 1.7, 1.4):
            font = sheet.font(factor * sheet.base, bold=True)
            lines = sheet.wrapped(name, font, sheet.width - inset)
            if len(lines) <= 2:
                break
        step = sheet.line_height(font)
        height = len(lines) * step

        def paint(painter: QPainter, top: float) -> None:
            bar = QRectF(sheet.left, top + 0.12 * step, sheet.pt(3), height - 0.2 * step)
            painter.fillRect(bar, LIGHT.color(Role.ACCENT))
            for i, line in enumerate(lines):
                sheet.write(painter, sheet.left + inset, top + i * step, line, font)

        return _Block(height, paint)

    def _variant(self) -> list[_Block]:
        name = self._request.variant
        if not name:
            return []
        variant = self._evaluation.recipe.variant(name)
        reason = f": {variant.reason}" if variant is not None and variant.reason else ""
        sheet = self._sheet
        indent = sheet.pt(0.8 * sheet.base)
        return sheet.paragraph(
            f"Variant {name}{reason}", sheet.font(sheet.base), gap=sheet.pt(1), indent=indent
        )

    def _facts(self) -> _Block:
        """Batch, firing, body and date, side by side or two by two."""
        sheet, request = self._sheet, self._request
        if self._batch is not None:
            grams = f"{self._batch.base_total:f} g"
            to = f"dry base, to {self._batch.readout:f} g"
        else:
            grams, to = "no weights", ""
        facts = [
            ("Batch", grams, to),
            ("Firing", *_firing_words(self._evaluation)),
            ("Body", _body_words(self._evaluation), ""),
            ("Date", request.day, ""),
        ]
        columns = 4 if sheet.roomy else 2
        gap = sheet.pt(8)
        label, strong = sheet.font(sheet.small), sheet.font(sheet.base, bold=True)
        plain = sheet.font(sheet.small)
        if sheet.roomy:
            date_wide = sheet.advance(request.day, strong) + sheet.pt(1)
            widths = _shared(sheet.width - date_wide - 3 * gap, (0.95, 1.25, 1.1))
            widths.append(date_wide)
        else:
            widths = _shared(sheet.width - gap, (1.0, 1.2))
        cells = []
        for i, (title, first, second) in enumerate(facts):
            width = widths[i % columns]
            lines = [(title, label, Role.MUTED)]
            lines += [(t, strong, Role.INK) for t in sheet.wrapped(first, strong, width)]
            if second:
                lines += [(t, plain, Role.INK) for t in sheet.wrapped(second, plain, width)]
            cells.append(lines)
        rows = [cells[i : i + columns] for i in range(0, len(cells), columns)]
        heights = [
            max(sum(sheet.line_height(font) for _, font, _ in cell) for cell in row) + sheet.pt(4)
            for row in rows
        ]

        def paint(painter: QPainter, top: float) -> None:
            for row, height in zip(rows, heights, strict=True):
                x = sheet.left
                for cell, width in zip(row, widths, strict=True):
                    y = top
                    for text, font, role in cell:
                        sheet.write(painter, x, y, text, font, role)
                        y += sheet.line_height(font)
                    x += width + gap
                top += height

        return _Block(sum(heights), paint, gap=sheet.pt(0.9 * sheet.base))

    def _heading(self, text: str) -> _Block:
        sheet = self._sheet
        font = sheet.font(1.1 * sheet.base, bold=True)
        return sheet.paragraph(text, font, gap=sheet.pt(sheet.base))[0]

    def _notes(self) -> list[_Block]:
        text = self._evaluation.recipe.notes.strip()
        if not text:
            return []
        sheet = self._sheet
        font, indent = sheet.font(sheet.small), sheet.pt(0.8 * sheet.base)
        lines = sheet.paragraph(text, font, gap=sheet.pt(1), indent=indent)
        if len(lines) > _NOTE_LINES:
            more = sheet.paragraph("(more in the recipe)", font, Role.MUTED, indent=indent)
            lines = [*lines[:_NOTE_LINES], *more]
        return lines

    def _chemistry(self) -> list[_Block]:
        sheet, formula = self._sheet, self._evaluation.formula
        states = [
            line
            for state in formula.states
            for line in sheet.paragraph(_sentence(str(state)), sheet.font(sheet.base))
        ]
        heading = self._heading("Unity formula")
        figures = self._figures()
        if formula.unity is None:
            return [_joined(heading, *states, self._words(figures, sheet.left, sheet.width))]
        if sheet.roomy:
            gap = sheet.pt(1.6 * sheet.base)
            left = 0.58 * (sheet.width - gap)
            words = replace(self._words(figures, sheet.left, left), gap=sheet.pt(3))
            body = _beside(
                _joined(self._oxides(sheet.left, left), words),
                self._map(sheet.left + left + gap, sheet.width - left - gap),
            )
            return [_joined(heading, *states, replace(body, gap=sheet.pt(3)))]
        gap = sheet.pt(8)
        across = 0.5 * (sheet.width - gap)
        words = self._words(
            [*self._map_words(), *figures], sheet.left + across + gap, sheet.width - across - gap
        )
        return [
            _joined(
                heading, *states, replace(self._oxides(sheet.left, sheet.width), gap=sheet.pt(2))
            ),
            replace(_beside(self._map_alone(sheet.left, across), words), gap=sheet.pt(4)),
        ]

    def _oxides(self, x: float, width: float) -> _Block:
        """Lay out the formula in columns: fluxes, R2O3 with boron, RO2, and what is outside."""
        sheet = self._sheet
        groups = _oxide_groups(self._evaluation.formula)
        small = sheet.font(sheet.small)
        font = sheet.font(sheet.base)
        columns = [[g for g in groups if g[0] == column] for column in range(3)]
        gap = sheet.pt(1.4 * sheet.base)
        each = (width - 2 * gap) / 3
        # Name and figure stay near each other however wide the paper is.
        narrow = min(each, sheet.advance("Al₂O₃", font) + sheet.advance("00.000", font) * 1.35)
        step, step_small = sheet.line_height(font), sheet.line_height(small)

        def column_height(column: list[tuple[int, str, list[tuple[str, str]]]]) -> float:
            return sum(step_small + len(rows) * step + sheet.pt(3) for _, _, rows in column)

        def paint(painter: QPainter, top: float) -> None:
            for i, column in enumerate(columns):
                left, y = x + i * (each + gap), top
                for _, title, rows in column:
                    sheet.write(painter, left, y, title, small, Role.MUTED)
                    y += step_small
                    for oxide, value in rows:
                        sheet.write(painter, left, y, oxide, font)
                        sheet.write(painter, left + narrow, y, value, font, from_right=True)
                        y += step
                    y += sheet.pt(3)

        return _Block(max(map(column_height, columns)), paint)

    def _figures(self) -> list[_Words]:
        sheet, formula = self._sheet, self._evaluation.formula
        plain, small = sheet.font(sheet.base), sheet.font(sheet.small)
        words = []
        if formula.silica_alumina is not None:
            ratio = formatting.decimals(formula.silica_alumina)
            words.append((f"SiO₂:Al₂O₃ {ratio}", plain, Role.INK))
        if formula.loss_on_ignition_percent is not None:
            loss = formatting.decimals(formula.loss_on_ignition_percent)
            words.append((f"Loss on ignition {loss} %", plain, Role.INK))
        if formula.unity is not None:
            convention = _sentence(formatting.oxides_in(str(formula.convention)))
            words.append((convention, small, Role.MUTED))
        return words

    def _words(self, words: Sequence[_Words], x: float, width: float) -> _Block:
        """Lay out texts below each other in a column."""
        sheet = self._sheet
        lines = [
            (line, font, role)
            for text, font, role in words
            for line in sheet.wrapped(text, font, width)
        ]

        def paint(painter: QPainter, top: float) -> None:
            for line, font, role in lines:
                sheet.write(painter, x, top, line, font, role)
                top += sheet.line_height(font)

        return _Block(sum(sheet.line_height(font) for _, font, _ in lines), paint)

    def _map(self, x: float, width: float) -> _Block:
        """Lay out the small map with its words below it."""
        words = self._words(self._map_words(), x, width)
        return _joined(self._map_alone(x, width), replace(words, gap=self._sheet.pt(3)))

    def _map_alone(self, x: float, width: float) -> _Block:
        sheet, cone, point = self._sheet, self._evaluation.cone, self._evaluation.point
        assert point is not None
        height = 0.68 * width

        def paint(painter: QPainter, top: float) -> None:
            _paint_map(painter, sheet, QRectF(x, top, width, height), cone, point)

        return _Block(height, paint)

    def _map_words(self) -> list[_Words]:
        sheet, evaluation = self._sheet, self._evaluation
        assert evaluation.point is not None
        silica, alumina = evaluation.point
        strong, small = sheet.font(sheet.base, bold=True), sheet.font(sheet.small)
        cone = evaluation.cone
        basis = f"Zones: rules of practice, {f'cone {cone}' if cone else 'cone not said'}"
        if practice_rules().limit(cone) is None:
            basis += ", for which they have no limit of melting" if cone else ""
        return [
            (f"● SiO₂ {silica:.2f}, Al₂O₃ {alumina:.2f}", strong, Role.INK),
            (f"By practice: {evaluation.zone}", small, Role.INK),
            (f"{basis}. They do not know the fluxes.", small, Role.MUTED),
        ]

    def _looks(self) -> list[_Block]:
        """What the potter should look at: missing rows, moved tables, odd analyses."""
        evaluation, sheet = self._evaluation, self._sheet
        lines = []
        if evaluation.missing:
            names = ", ".join(evaluation.missing)
            lines.append(
                f"Not in the tables: {names}. Their oxides and hazards are not on this card."
            )
        lines += [
            f"Computed with the recipe's own analysis of {moved.name}; the table has another now."
            for moved in evaluation.moved
        ]
        lines += [_sentence(warning) for warning in evaluation.warnings]
        if not lines:
            return []
        font = sheet.font(sheet.small)
        blocks = [b for line in lines for b in sheet.paragraph(line, font, gap=sheet.pt(1.5))]
        return [_joined(self._heading("Look"), blocks[0]), *blocks[1:]]

    def _cautions(self) -> list[_Block]:
        sheet = self._sheet
        lines = cautions(self._evaluation)
        if not any(line.startswith(FOOD) for line in lines):
            lines.append(f"{FOOD}.")
        blocks: list[_Block] = []
        for line in lines:
            font = sheet.font(sheet.small, bold=line.startswith(FOOD))
            lines_of_it = sheet.paragraph(line, font, gap=sheet.pt(1.5))
            short = len(lines_of_it) <= _CAUTION_LINES
            blocks += [_joined(*lines_of_it)] if short else lines_of_it
        return [_joined(self._heading("Cautions"), blocks[0]), *blocks[1:]]


class _Weighing:
    """The table to weigh by: tick box, material, grams, running total."""

    def __init__(
        self, sheet: _Sheet, evaluation: Evaluation, batch: Batch | None, fault: str
    ) -> None:
        self._sheet = sheet
        self._evaluation = evaluation
        self._batch = batch
        self._fault = fault
        self._name_font = sheet.font(1.1 * sheet.base)
        self._grams_font = sheet.font(1.4 * sheet.base, bold=True)
        self._running_font = sheet.font(1.1 * sheet.base)
        self._small = sheet.font(sheet.small)
        self._box = sheet.pt(1.35 * sheet.base)
        self._row_height = sheet.pt(2.2 * sheet.base)
        self._measure()

    def _measure(self) -> None:
        sheet, batch = self._sheet, self._batch
        recipe = self._evaluation.recipe
        grams = ["0", *(_grams(line.grams) for line in batch.lines)] if batch else ["0"]
        totals = [_grams(batch.base_total), _grams(batch.total)] if batch else ["0"]
        gap = sheet.pt(1.2 * sheet.base)
        self._percents = _aligned([row.amount for row in recipe.additions])
        running_wide = max(
            sheet.advance("running total", self._small),
            *(sheet.advance(t, self._running_font) for t in totals),
        )
        sign = sheet.advance(COARSE + " ", self._name_font)
        grams_wide = sign + max(sheet.advance(t, self._grams_font) for t in [*grams, *totals])
        percent_wide = max(
            (sheet.advance(t, self._running_font) for t in self._percents), default=0.0
        )
        self._running_right = sheet.right - sheet.pt(2)
        self._grams_right = self._running_right - running_wide - gap
        self._sign_left = self._grams_right - grams_wide
        self._percent_right = self._sign_left - 0.6 * gap
        self._name_left = sheet.left + self._box + 0.8 * gap
        self._name_right = {
            Section.BASE: self._sign_left - 0.6 * gap,
            Section.ADDITIONS: self._percent_right - percent_wide - 0.6 * gap,
        }

    def blocks(self) -> list[_Block]:
        """Return the table, or the reason why there is nothing to weigh."""
        recipe = self._evaluation.recipe
        sheet = self._sheet
        before = sheet.pt(0.7 * sheet.base)
        blocks: list[_Block] = []
        if self._batch is None:
            text = f"No weights: {self._fault}."
            blocks += sheet.paragraph(text, sheet.font(sheet.base, bold=True), gap=before)
        base = self._section(Section.BASE, recipe.base, before)
        if self._batch is not None and base:
            label = "Base" if recipe.additions else "Total"
            base[-1] = _joined(base[-1], self._total(label, self._batch.base_total))
        blocks += base
        additions = self._section(Section.ADDITIONS, recipe.additions, before)
        if self._batch is not None and additions:
            total = self._total("Total with additions", self._batch.total)
            additions[-1] = _joined(additions[-1], total)
        blocks += additions
        if self._batch is not None and any(line.coarse for line in self._batch.lines):
            text = (
                f"Weigh the lines marked {COARSE} on a finer scale: half a step of "
                f"{self._batch.readout:f} g is more than 5 % of their weight."
            )
            blocks += sheet.paragraph(text, self._small, gap=sheet.pt(3))
        return blocks

    def _section(self, section: Section, rows: Sequence[Ingredient], gap: float) -> list[_Block]:
        if not rows:
            return []
        head = self._head(section)
        lines: Sequence[WeighingLine | None] = (
            self._batch.section(section) if self._batch is not None else [None] * len(rows)
        )
        blocks: list[_Block] = []
        for i, (row, line) in enumerate(zip(rows, lines, strict=True)):
            percent = self._percents[i] if section is Section.ADDITIONS else ""
            blocks += self._row(section, row, line, percent, head)
        first = _joined(head, blocks[0])
        return [replace(first, gap=gap, head=None), *blocks[1:]]

    def _head(self, section: Section) -> _Block:
        sheet, small = self._sheet, self._small
        strong = sheet.font(sheet.base, bold=True)
        height = max(sheet.line_height(small), sheet.line_height(strong)) + sheet.pt(2)
        title = "Base" if section is Section.BASE else "Additions"
        drop = sheet.ascent(strong) - sheet.ascent(small)

        def paint(painter: QPainter, top: float) -> None:
            sheet.write(painter, sheet.left, top, title, strong)
            y = top + drop
            if section is Section.ADDITIONS:
                sheet.write(painter, self._percent_right, y, "% of base", small, Role.MUTED, True)
            for right, text in (
                (self._grams_right, "grams"),
                (self._running_right, "running total"),
            ):
                sheet.write(painter, right, y, text, small, Role.MUTED, from_right=True)

        return _Block(height, paint)

    def _row(
        self,
        section: Section,
        row: Ingredient,
        line: WeighingLine | None,
        percent: str,
        head: _Block,
    ) -> Iterator[_Block]:
        sheet = self._sheet
        name = self._evaluation.material_name(row.material)
        width = self._name_right[section] - self._name_left
        lines = sheet.wrapped(name, self._name_font, width)
        step = sheet.line_height(self._name_font)
        kept, rest = lines[:_ROW_LINES], lines[_ROW_LINES:]
        height = max(self._row_height, len(kept) * step + sheet.pt(0.8 * sheet.base))

        def paint(painter: QPainter, top: float) -> None:
            painter.setPen(sheet.pen(Role.EDGE, 0.4, 0.55))
            painter.drawLine(QPointF(sheet.left, top), QPointF(sheet.right, top))
            # Box, name and figures share the middle of the row's first line.
            middle = top + 0.5 * self._row_height
            if len(kept) > 1:
                middle = top + sheet.pt(0.4 * sheet.base) + 0.5 * step
            self._paint_box(painter, middle)
            # The large figures stand in the middle of the box, the name on their line.
            baseline = middle + sheet.pt(0.46 * sheet.base)
            for i, text in enumerate(kept):
                y = baseline - sheet.ascent(self._name_font) + i * step
                sheet.write(painter, self._name_left, y, text, self._name_font)
            if percent:
                self._figure(painter, self._percent_right, baseline, percent, self._running_font)
            if line is not None and line.coarse:
                top_of_sign = baseline - sheet.ascent(self._name_font)
                sheet.write(
                    painter, self._sign_left, top_of_sign, COARSE, self._name_font, Role.LOOK
                )
            grams = _grams(line.grams) if line is not None else formatting.NOTHING
            self._figure(painter, self._grams_right, baseline, grams, self._grams_font)
            if line is not None:
                running = _grams(line.running_total)
                self._figure(
                    painter,
                    self._running_right,
                    baseline,
                    running,
                    self._running_font,
                    Role.MUTED,
                )

        yield _Block(height, paint, head=head)
        for text in rest:
            yield self._rest_of_name(text, step, head)

    def _rest_of_name(self, text: str, step: float, head: _Block) -> _Block:
        def paint(painter: QPainter, top: float) -> None:
            self._sheet.write(painter, self._name_left, top, text, self._name_font)

        return _Block(step, paint, head=head)

    def _total(self, label: str, grams: Decimal) -> _Block:
        sheet = self._sheet
        height = self._row_height
        strong = sheet.font(1.1 * sheet.base, bold=True)

        def paint(painter: QPainter, top: float) -> None:
            band = QRectF(sheet.left, top, sheet.width, height)
            painter.fillRect(band, LIGHT.color(Role.PANEL))
            painter.setPen(sheet.pen(Role.EDGE, 0.9))
            painter.drawLine(band.topLeft(), band.topRight())
            baseline = top + 0.5 * height + sheet.pt(0.46 * sheet.base)
            y = baseline - sheet.ascent(strong)
            sheet.write(painter, self._name_left, y, label, strong)
            self._figure(painter, self._grams_right, baseline, _grams(grams), self._grams_font)

        return _Block(height, paint)

    def _figure(
        self,
        painter: QPainter,
        right: float,
        baseline: float,
        text: str,
        font: QFont,
        role: Role = Role.INK,
    ) -> None:
        top = baseline - self._sheet.ascent(font)
        self._sheet.write(painter, right, top, text, font, role, from_right=True)

    def _paint_box(self, painter: QPainter, middle: float) -> None:
        sheet = self._sheet
        painter.setPen(sheet.pen(Role.INK, 0.9))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        box = QRectF(sheet.left + sheet.pt(1), middle - 0.5 * self._box, self._box, self._box)
        painter.drawRoundedRect(box, sheet.pt(1.5), sheet.pt(1.5))


def _shared(width: float, shares: Sequence[float]) -> list[float]:
    return [width * share / sum(shares) for share in shares]


def _beside(left: _Block, right: _Block) -> _Block:
    def paint(painter: QPainter, top: float) -> None:
        left.paint(painter, top)
        right.paint(painter, top)

    return _Block(max(left.height, right.height), paint)


def _paint_map(
    painter: QPainter, sheet: _Sheet, frame: QRectF, cone: str, point: tuple[float, float]
) -> None:
    """Paint zones, names, axes and the point into a frame."""
    small = sheet.font(_SMALLEST_PT if not sheet.roomy else max(_SMALLEST_PT, 0.75 * sheet.base))
    line = sheet.line_height(small)
    far_x = max(_MAP_HOME[0], math.ceil(point[0] * 1.1))
    far_y = max(_MAP_HOME[1], math.ceil(point[1] * 5.5) / 5)
    x_ticks, y_ticks = _ticks(far_x), _ticks(far_y)
    gutter = max(sheet.advance(text, small) for _, text in y_ticks) + sheet.pt(3)
    box = frame.adjusted(gutter, line, -sheet.pt(0.5), -line - sheet.pt(1))

    def place(x: float, y: float) -> QPointF:
        return QPointF(
            box.left() + x / far_x * box.width(), box.bottom() - y / far_y * box.height()
        )

    spot = place(*point)
    radius = sheet.pt(0.36 * sheet.base)
    shapes = []
    for zone, corners in practice_rules().polygons(cone, far_x, far_y):
        shape = QPolygonF([place(float(x), float(y)) for x, y in corners])
        brush = zone_brush_pattern(_ZONE_ROLES[zone], LIGHT, 4.0)
        size = sheet.pt(_PATTERN_PT)
        brush.setTransform(brush.transform() * QTransform.fromScale(size, size))
        painter.setPen(sheet.pen(Role.EDGE, 0.5))
        painter.setBrush(brush)
        painter.drawPolygon(shape)
        shapes.append((zone, shape))
    keep_off = QRectF(spot.x(), spot.y(), 0, 0).adjusted(
        -1.6 * radius, -1.6 * radius, 1.6 * radius, 1.6 * radius
    )
    for zone, shape in shapes:
        _paint_zone_name(painter, sheet, str(zone), shape, keep_off, small)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(sheet.pen(Role.EDGE, 0.7))
    painter.drawRect(box)
    name_x = box.right() - sheet.advance("SiO₂", small)
    for value, text in x_ticks:
        x = place(value, 0).x() - 0.5 * sheet.advance(text, small)
        x = max(x, box.left())
        if x + sheet.advance(text + " ", small) <= name_x:
            sheet.write(painter, x, box.bottom() + sheet.pt(1), text, small, Role.MUTED)
    sheet.write(painter, name_x, box.bottom() + sheet.pt(1), "SiO₂", small, Role.MUTED)
    for value, text in y_ticks[1:]:
        y = min(max(place(0, value).y() - 0.5 * line, box.top()), box.bottom() - line)
        sheet.write(painter, box.left() - sheet.pt(2), y, text, small, Role.MUTED, True)
    sheet.write(painter, frame.left(), frame.top(), "Al₂O₃", small, Role.MUTED)
    painter.setPen(Qt.PenStyle.NoPen)
    for role, r in ((Role.HALO, radius + sheet.pt(1.2)), (Role.ACCENT, radius)):
        painter.setBrush(QBrush(LIGHT.color(role)))
        painter.drawEllipse(spot, r, r)


def _paint_zone_name(
    painter: QPainter, sheet: _Sheet, name: str, shape: QPolygonF, keep_off: QRectF, font: QFont
) -> None:
    """Write a zone's name where it fits inside, nearest the middle; else leave it out."""
    path = QPainterPath()
    path.addPolygon(shape)
    path.closeSubpath()
    label = QRectF(
        0, 0, sheet.advance(name, font) + sheet.pt(3), sheet.line_height(font) + sheet.pt(0.5)
    )
    count = shape.size()
    middle = QPointF(
        sum(shape.at(i).x() for i in range(count)) / count,
        sum(shape.at(i).y() for i in range(count)) / count,
    )
    # A zone too narrow for the whole plate still holds most of its name.
    best = _nearest(path, label, middle, keep_off, 1.0) or _nearest(
        path, label, middle, keep_off, 0.6
    )
    if best is None:
        return
    label.moveCenter(best)
    plate: QColor = LIGHT.color(Role.HALO, 0.85)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(plate)
    painter.drawRoundedRect(label, sheet.pt(1.5), sheet.pt(1.5))
    sheet.write(
        painter, label.left() + sheet.pt(1.5), label.top() + sheet.pt(0.25), name, font, Role.INK
    )


def _nearest(
    path: QPainterPath, label: QRectF, middle: QPointF, keep_off: QRectF, share: float
) -> QPointF | None:
    """Find the centre nearest the middle at which a share of the label lies inside."""
    around = path.boundingRect()
    core = QRectF(0, 0, share * label.width(), share * label.height())
    spot = QRectF(label)
    best: tuple[float, QPointF] | None = None
    for i in range(1, 40):
        for j in range(1, 30):
            centre = QPointF(
                around.left() + around.width() * i / 40, around.top() + around.height() * j / 30
            )
            distance = math.hypot(centre.x() - middle.x(), centre.y() - middle.y())
            if best is not None and distance >= best[0]:
                continue
            core.moveCenter(centre)
            spot.moveCenter(centre)
            if path.contains(core) and not spot.intersects(keep_off):
                best = (distance, centre)
    return best[1] if best is not None else None


def _ticks(far: float) -> list[tuple[float, str]]:
    """Round figures from zero to the end of an axis, at most seven."""
    size = 10.0 ** math.floor(math.log10(far / 5))
    step = next(size * m for m in (1, 2, 5, 10) if far / (size * m) <= 6)
    return [(i * step, f"{i * step:g}") for i in range(int(far / step + 1e-9) + 1)]


def _oxide_groups(formula: Formula) -> list[tuple[int, str, list[tuple[str, str]]]]:
    """Oxides that are there as (column, heading, rows) in the way of the unity formula."""
    assert formula.unity is not None
    alkalis = [o for o in formula.convention.fluxes if o in ("Li2O", "Na2O", "K2O")]
    others = [o for o in formula.convention.fluxes if o not in alkalis]
    fluxes = {*alkalis, *others}
    plan: list[tuple[int, str, Sequence[str]]] = [
        (0, "R₂O", alkalis),
        (0, "RO", others),
        (1, "R₂O₃", ("Al2O3", "Fe2O3", "Cr2O3")),
        (1, "boron", ("B2O3",)),
        (2, "RO₂", ("SiO2", "TiO2", "ZrO2", "SnO2", "CeO2")),
        (2, "R₂O₅", ("P2O5", "V2O5")),
        (1, "outside unity", [o for o in (*COLOURING_RO, "F") if o not in fluxes]),
    ]
    groups = []
    for column, title, members in plan:
        present = [o for o in OXIDES if o in members and formula.unity[INDEX[o]] > 0]
        rows = [(formatting.oxide_text(o), _moles(float(formula.unity[INDEX[o]]))) for o in present]
        if rows:
            groups.append((column, title, rows))
    return groups


def _moles(value: float) -> str:
    return formatting.decimals(value, 3) if value >= 0.0005 else "<0.001"


def _grams(value: Decimal) -> str:
    return f"{value:f}"


def _aligned(values: Sequence[float]) -> list[str]:
    """Write figures with as many decimals as the longest needs."""
    texts = [formatting.parts(value) for value in values]
    places = max((len(text.partition(".")[2]) for text in texts), default=0)
    return [formatting.decimals(value, places) for value in values]


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _name(evaluation: Evaluation) -> str:
    return evaluation.recipe.name.strip() or "Recipe without a name"


def _firing_words(evaluation: Evaluation) -> tuple[str, str]:
    firing = evaluation.firing
    if firing is None:
        name = evaluation.recipe.firing
        return (name, "not in the tables") if name else ("not chosen", "")
    cone = f"cone {firing.cone}" if firing.cone else "cone not said"
    peak = f", peak {firing.peak_c:.0f} °C" if firing.peak_c is not None else ""
    return firing.name or firing.id, cone + peak


def _body_words(evaluation: Evaluation) -> str:
    if evaluation.body is not None:
        return evaluation.body.name
    name = evaluation.recipe.body
    return f"{name} (not in the tables)" if name else "not chosen"


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
