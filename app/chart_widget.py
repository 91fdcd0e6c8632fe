"""What the small charts share: marks laid out once and then only painted, words and hovering."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final, Protocol

from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QHelpEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.theme import LIGHT, Palette, Role, apply_tabular_figures
from core.evaluate import Evaluation
from core.formula import State

MARGIN: Final = 8.0
"""Between a chart's rim and what it shows [device-independent px]."""
GAP: Final = 4.0
BAND: Final = 6.0
"""Height of the strip of full colour at the foot of a segment."""
TINTS: Final = (0.14, 0.26, 0.38)
"""Shares of a family's colour in the ground of a text, from pale to strong."""
CENTRED: Final = Qt.AlignmentFlag.AlignCenter
FROM_LEFT: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
TO_RIGHT: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter

_KEEPS_A_CHART_EMPTY: Final = (State.NO_ROWS, State.NO_WEIGHT, State.NO_FLUX, State.INCOMPLETE)


class Mark(Protocol):
    """Something that is painted."""

    def paint(self, painter: QPainter) -> None:
        """Paint in device-independent pixels of the widget."""


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle, or its outline."""

    rect: QRectF
    fill: QColor | None = None
    pen: QPen | None = None

    def paint(self, painter: QPainter) -> None:
        if self.fill is not None:
            painter.fillRect(self.rect, self.fill)
        if self.pen is not None:
            painter.setPen(self.pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect)


@dataclass(frozen=True, slots=True)
class Stroke:
    """An open line, or a closed shape where it has a fill."""

    points: QPolygonF
    pen: QPen
    fill: QColor | None = None

    def paint(self, painter: QPainter) -> None:
        painter.setPen(self.pen)
        if self.fill is None:
            painter.drawPolyline(self.points)
        else:
            painter.setBrush(self.fill)
            painter.drawPolygon(self.points)


@dataclass(frozen=True, slots=True)
class Hatch:
    """Slanting lines in a flat strip."""

    lines: list[QLineF]
    pen: QPen

    def paint(self, painter: QPainter) -> None:
        painter.setPen(self.pen)
        painter.drawLines(self.lines)


@dataclass(frozen=True, slots=True)
class Round:
    """A disc, or a ring where it has a pen and no fill."""

    centre: QPointF
    radius: float
    fill: QColor | None = None
    pen: QPen | None = None

    def paint(self, painter: QPainter) -> None:
        painter.setPen(Qt.PenStyle.NoPen if self.pen is None else self.pen)
        painter.setBrush(QBrush(Qt.BrushStyle.NoBrush) if self.fill is None else QBrush(self.fill))
        painter.drawEllipse(self.centre, self.radius, self.radius)


@dataclass(frozen=True, slots=True)
class Words:
    """A text in its rectangle."""

    rect: QRectF
    text: str
    color: QColor
    font: QFont
    flags: int

    def paint(self, painter: QPainter) -> None:
        painter.setFont(self.font)
        painter.setPen(self.color)
        painter.drawText(self.rect, self.flags, self.text)


@dataclass(frozen=True, slots=True)
class Tip:
    """What hovering over a part of the chart says."""

    rect: QRectF
    say: Callable[[], str]
    """Asked only when somebody hovers: a chart is laid out with every key press."""

    @property
    def text(self) -> str:
        """The words."""
        return self.say()


class ChartWidget(QWidget):
    """A chart of one evaluation, with the same in words for those who do not see it.

    A subclass lays out its marks in `_lay_out` and says the figures in
    `_in_words`; painting does nothing but go through the marks.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._marks: list[Mark] = []
        self._tips: list[Tip] = []
        self._stale = False
        self._evaluation: Evaluation | None = None
        self._colors: Palette = LIGHT
        self._set_fonts()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_evaluation(self, evaluation: Evaluation) -> None:
        """Show the figures of a recipe."""
        self._evaluation = evaluation
        self._take(evaluation)
        self._say()
        self.refresh()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.refresh()

    def refresh(self) -> None:
        """Lay the chart out anew and paint it; a chart that is not on screen waits until it is."""
        self._stale = True
        # A chart behind a tab counts as visible, but no part of it is.
        if not self.visibleRegion().isEmpty():
            self._settle()
        self.update()

    def texts(self) -> list[str]:
        """Return the texts that are painted, in the order of painting."""
        self._settle()
        return [mark.text for mark in self._marks if isinstance(mark, Words)]

    def tips(self) -> list[Tip]:
        """Return what hovering says, and where; later ones lie over earlier ones."""
        self._settle()
        return list(self._tips)

    def tip_at(self, spot: QPointF) -> str:
        """Return what hovering at a place says; empty where there is nothing."""
        return next((t.text for t in reversed(self.tips()) if t.rect.contains(spot)), "")

    def paintEvent(self, _event: QPaintEvent) -> None:
        self._settle()
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._colors.color(Role.PAPER))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for mark in self._marks:
            mark.paint(painter)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.refresh()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._set_fonts()
            self.updateGeometry()
            self.refresh()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            text = self.tip_at(QPointF(event.pos()))
            if text:
                # A material's name could look like markup.
                page = f"<p style='white-space:pre'>{escape(text)}</p>"
                QToolTip.showText(event.globalPos(), page, self)
            else:
                QToolTip.hideText()
                event.ignore()
            return True
        return super().event(event)

    def _settle(self) -> None:
        if not self._stale:
            return
        self._stale = False
        self._marks, self._tips = [], []
        if self._evaluation is not None and not self.rect().isEmpty():
            self._lay_out(self._evaluation)

    def _take(self, evaluation: Evaluation) -> None:
        """Take from an evaluation what does not depend on the size; may be overridden."""

    def _lay_out(self, evaluation: Evaluation) -> None:
        """Fill `_marks` and `_tips` for the present size and palette."""
        raise NotImplementedError

    def _in_words(self, evaluation: Evaluation) -> str:
        """Say the chart's figures in plain words."""
        raise NotImplementedError

    def _say(self) -> None:
        if self._evaluation is None:
            return
        text = self._in_words(self._evaluation)
        if State.INCOMPLETE in self._evaluation.formula.states:
            text += " " + _sentence(State.INCOMPLETE)
        if text != self.accessibleDescription():
            self.setAccessibleDescription(text)

    def _set_fonts(self) -> None:
        self._body = apply_tabular_figures(self.font())
        self._small = QFont(self._body)
        if self._small.pointSizeF() > 0:
            self._small.setPointSizeF(self._small.pointSizeF() - 1)
        else:
            self._small.setPixelSize(self._small.pixelSize() - 1)
        self._body_metrics = QFontMetricsF(self._body)
        self._small_metrics = QFontMetricsF(self._small)

    @property
    def _line(self) -> float:
        """Height of one line of small text, on the grid."""
        return on_grid(self._small_metrics.height())

    def _ink(self, role: Role, alpha: float = 1.0) -> QColor:
        return self._colors.color(role, alpha)

    def _write(
        self,
        rect: QRectF,
        text: str,
        role: Role = Role.INK,
        align: Qt.AlignmentFlag = CENTRED,
        *,
        body: bool = False,
        wrap: bool = False,
    ) -> None:
        flow = Qt.TextFlag.TextWordWrap if wrap else Qt.TextFlag.TextSingleLine
        flags = align.value | flow.value
        font = self._body if body else self._small
        self._marks.append(Words(rect, text, self._colors.color(role), font, flags))

    def _write_state(self, evaluation: Evaluation, rect: QRectF) -> None:
        self._write(rect, state_words(evaluation), body=True, wrap=True)

    def _segment(self, rect: QRectF, color: QColor, tint: float, band: float = BAND) -> None:
        """Paint a segment: pale, so that text reads on it, with a strip of full colour."""
        self._marks.append(Box(rect, mixed(color, self._colors.color(Role.PAPER), tint)))
        foot = QRectF(rect)
        foot.setTop(rect.bottom() - band)
        self._marks.append(Box(foot, color))


def state_words(evaluation: Evaluation) -> str:
    """Say why there is no unity formula to draw, and what to do first."""
    states = [s for s in evaluation.formula.states if s in _KEEPS_A_CHART_EMPTY]
    text = " ".join(_sentence(state) for state in states)
    if State.NO_ROWS in states:
        text += " Choose a first material."
    elif State.NO_WEIGHT in states:
        text += " Type an amount."
    return text


def _sentence(state: State) -> str:
    text = str(state)
    return f"{text[:1].upper()}{text[1:]}."


def on_grid(length: float) -> float:
    """Return `length` rounded up to the grid of 4 px."""
    return -(-length // GAP) * GAP


def mixed(color: QColor, ground: QColor, share: float) -> QColor:
    """Return `ground` with `share` (0 to 1) of `color` in it, opaque."""
    return QColor.fromRgbF(
        share * color.redF() + (1 - share) * ground.redF(),
        share * color.greenF() + (1 - share) * ground.greenF(),
        share * color.blueF() + (1 - share) * ground.blueF(),
    )


def proportional(amounts: Sequence[float], left: float, width: float) -> list[tuple[float, float]]:
    """Divide a length among amounts.

    Returns
    -------
    list of (start, length)
        In the unit of `left` and `width`; all of length zero where the amounts are.

    Examples
    --------
    >>> proportional([1.0, 3.0], 10.0, 40.0)
    [(10.0, 10.0), (20.0, 30.0)]
    """
    whole = sum(amounts)
    spans = []
    start = left
    for amount in amounts:
        length = width * amount / whole if whole > 0 else 0.0
        spans.append((start, length))
        start += length
    return spans


def with_gap(start: float, length: float, top: float, height: float, gap: float = 2.0) -> QRectF:
    """Return a segment's rectangle, with half of `gap` left free at each end where it fits."""
    free = min(gap, length / 2)
    return QRectF(start + free / 2, top, length - free, height)


def side_by_side(
    centres: Sequence[float], widths: Sequence[float], left: float, right: float, gap: float
) -> list[float] | None:
    """Place labels near their centres, in their order, without overlap.

    Returns
    -------
    list of float or None
        The left end of each label; None where they do not fit between `left` and `right`.

    Examples
    --------
    >>> side_by_side([10.0, 12.0], [20.0, 20.0], 0.0, 100.0, 4.0)
    [0.0, 24.0]
    >>> side_by_side([10.0], [20.0], 0.0, 15.0, 4.0) is None
    True
    """
    if sum(widths) + gap * (len(widths) - 1) > right - left:
        return None
    places: list[float] = []
    free = left
    for centre, width in zip(centres, widths, strict=True):
        places.append(max(centre - width / 2, free))
        free = places[-1] + width + gap
    limit = right
    for i in range(len(places) - 1, -1, -1):
        places[i] = min(places[i], limit - widths[i])
        limit = places[i] - gap
    return places


def share_text(share: float) -> str:
    """Write a share of one, or moles, with two decimals; a trace is not written as nothing.

    Examples
    --------
    >>> share_text(0.393), share_text(0.004)
    ('0.39', '<0.01')
    """
    return "<0.01" if 0 < share < 0.005 else f"{share:.2f}"
