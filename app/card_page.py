"""The card's pages: measures and type of one sheet, strips of it, where pages end, the footer.

Everything is laid out in pixels of the device, from sizes in points, so that
a page looks the same whatever it is painted on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import (
    QFont,
    QFontMetricsF,
    QPagedPaintDevice,
    QPainter,
    QPen,
    QTextLayout,
    QTextOption,
)

from app.theme import LIGHT, Role

FOOD = "Test before use with food"
_SMALLEST_PT = 6.5


@dataclass(frozen=True)
class Block:
    """A strip of the card that no page break cuts."""

    height: float
    paint: Callable[[QPainter, float], None]
    """Takes the painter and where the strip begins."""
    gap: float = 0.0
    """Room above it, left out where a page begins."""
    head: Block | None = None
    """Repeated above it where a page begins with it."""


Pages = list[list[tuple[float, Block]]]
"""What stands on each page: (top, block)."""


class Sheet:
    """One page's measures [px of the device] and the type that suits it."""

    def __init__(self, device: QPagedPaintDevice, scale: float) -> None:
        self.device = device
        self._unit = device.logicalDpiX() / 72.0
        page = QRectF(device.pageLayout().fullRectPixels(device.logicalDpiX()))
        wide_mm = page.width() / self._unit / 72.0 * 25.4
        margin = self.pt(min(max(0.066 * wide_mm, 7.0), 14.0) * 72.0 / 25.4)
        self._base = scale * (10.5 if wide_mm >= 180 else 9.0 if wide_mm >= 130 else 8.0)
        small = max(_SMALLEST_PT, 0.82 * self._base)
        self.plain, self.strong = self.font(1.0), self.font(1.0, bold=True)
        self.small, self.small_strong = self._font(small, False), self._font(small, True)
        self.tiny = self._font(max(_SMALLEST_PT, 0.75 * self._base), False)
        self.roomy = wide_mm >= 130
        """Whether formula and map stand side by side."""
        self.left, self.right = margin, page.width() - margin
        self.width = self.right - self.left
        self.top, self.foot = margin, page.height() - margin
        self.bottom = self.foot - self.line_height(self.small) - self.pt(6)

    def pt(self, points: float) -> float:
        """Points to pixels."""
        return points * self._unit

    def em(self, times: float) -> float:
        """Multiples of the size of plain text to pixels."""
        return self.pt(times * self._base)

    def font(self, times: float, bold: bool = False) -> QFont:
        """Return the card's type in a multiple of the size of plain text."""
        return self._font(times * self._base, bold)

    def _font(self, size_pt: float, bold: bool) -> QFont:
        font = QFont()
        font.setPointSizeF(size_pt)
        font.setBold(bold)
        font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
        # A ligature is one glyph for two letters; text copied from the page would show it.
        for ligature in ("liga", "clig"):
            font.setFeature(QFont.Tag(ligature), 0)
        return font

    def pen(self, role: Role, points: float, alpha: float = 1.0) -> QPen:
        """Return a pen of a width in points."""
        return QPen(LIGHT.color(role, alpha), self.pt(points))

    def advance(self, text: str, font: QFont) -> float:
        """Width of a text on one line."""
        return QFontMetricsF(font, self.device).horizontalAdvance(text)

    def widest(self, texts: Sequence[str], font: QFont) -> float:
        """Width of the widest text; zero if there is none."""
        return max((self.advance(text, font) for text in texts), default=0.0)

    def ascent(self, font: QFont) -> float:
        """From the top of a line to its baseline."""
        return QFontMetricsF(font, self.device).ascent()

    def line_height(self, font: QFont) -> float:
        """From the top of a line to the next."""
        return QFontMetricsF(font, self.device).height() * 1.06

    def write(
        self,
        painter: QPainter,
        x: float,
        baseline: float,
        text: str,
        font: QFont,
        role: Role = Role.INK,
    ) -> None:
        """Write one line that begins at `x`."""
        painter.setFont(font)
        painter.setPen(LIGHT.color(role))
        painter.drawText(QPointF(x, baseline), text)

    def write_up_to(
        self,
        painter: QPainter,
        right: float,
        baseline: float,
        text: str,
        font: QFont,
        role: Role = Role.INK,
    ) -> None:
        """Write one line that ends at `right`."""
        self.write(painter, right - self.advance(text, font), baseline, text, font, role)

    def wrapped(self, text: str, font: QFont, width: float) -> list[str]:
        """Break a text into lines, inside a word where it has to be."""
        option = QTextOption()
        option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        found = []
        for paragraph in text.splitlines():
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

    def line(
        self,
        text: str,
        font: QFont,
        role: Role = Role.INK,
        x: float | None = None,
    ) -> Block:
        """Return one line of text that begins at `x`, at the margin if None."""
        begin = self.left if x is None else x
        ascent = self.ascent(font)

        def paint(painter: QPainter, top: float) -> None:
            self.write(painter, begin, top + ascent, text, font, role)

        return Block(self.line_height(font), paint)

    def paragraph(
        self,
        text: str,
        font: QFont,
        role: Role = Role.INK,
        gap: float = 0.0,
        x: float | None = None,
        width: float | None = None,
    ) -> list[Block]:
        """Return one block for each line of a text; it runs from `x` to the margin if None."""
        begin = self.left if x is None else x
        lines = self.wrapped(text, font, self.right - begin if width is None else width)
        first, *rest = [self.line(line, font, role, begin) for line in lines]
        return [replace(first, gap=gap), *rest]

    def heading(self, text: str) -> Block:
        """Return the heading of a part of the card."""
        return replace(self.line(text, self.font(1.1, bold=True)), gap=self.em(1.0))


def joined(*blocks: Block) -> Block:
    """Make one block of several below each other that have to stay on one page."""
    tops: list[float] = []
    height = 0.0
    for block in blocks:
        height += block.gap if tops else 0.0
        tops.append(height)
        height += block.height

    def paint(painter: QPainter, top: float) -> None:
        for offset, block in zip(tops, blocks, strict=True):
            block.paint(painter, top + offset)

    return Block(height, paint, blocks[0].gap, blocks[0].head) if blocks else Block(0.0, paint)


def beside(*blocks: Block) -> Block:
    """Make one block of several that begin at one height."""

    def paint(painter: QPainter, top: float) -> None:
        for block in blocks:
            block.paint(painter, top)

    return Block(max(block.height for block in blocks), paint)


def paginated(sheet: Sheet, blocks: Sequence[Block], running_head: Block) -> Pages:
    """Place the blocks on pages, one below the other."""
    pages: Pages = [[]]
    top, fresh = sheet.top, True
    for block in blocks:
        if not fresh and top + block.gap + block.height > sheet.bottom:
            pages.append([(sheet.top, running_head)])
            top, fresh = sheet.top + running_head.height + sheet.pt(8), True
            if block.head is not None:
                pages[-1].append((top, block.head))
                top += block.head.height
        if not fresh:
            top += block.gap
        pages[-1].append((top, block))
        top, fresh = top + block.height, False
    return pages


def paint_footer(painter: QPainter, sheet: Sheet, number: int, of: int) -> None:
    """Paint the line at the foot of a page."""
    top = sheet.foot - sheet.line_height(sheet.small)
    rule, baseline = top - sheet.pt(2), top + sheet.ascent(sheet.small)
    painter.setPen(sheet.pen(Role.EDGE, 0.4, 0.6))
    painter.drawLine(QPointF(sheet.left, rule), QPointF(sheet.right, rule))
    sheet.write(painter, sheet.left, baseline, FOOD, sheet.small_strong)
    page = f"page {number} of {of}"
    sheet.write_up_to(painter, sheet.right, baseline, page, sheet.small, Role.MUTED)
