"""The reading: what the surface is expected to be, how likely, why, and what else to know."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from html import escape
from typing import Final

from PySide6.QtCore import QEvent, QPointF, QSize, Qt, QTimer
from PySide6.QtGui import (
    QFont,
    QFontMetrics,
    QPainter,
    QPaintEvent,
    QTextLayout,
    QTextOption,
)
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from app.document import Document
from app.formatting import in_a_sentence, oxide_text
from app.probability_bars import ProbabilityBars
from app.theme import (
    LIGHT,
    Palette,
    Role,
    Theme,
    apply_tabular_figures,
    show_tick_box,
)
from core.evaluate import Evaluation
from core.formula import State
from core.oxides import OXIDES
from core.reading.kinds import Soundness
from core.reading.words import (
    LEAST_PULL,
    Line,
    Subject,
    Tone,
    margin_words,
    soundness,
    subjects,
    verdict,
)
from core.telling import cautions, shelf_words

PAUSE_MS: Final = 120
"""How long the page waits for the next key press: nobody reads as fast as it types."""

# A sign stands before every word of good or ill, so that colour never speaks alone.
_SIGNS: Final = {Role.GOOD: "✓", Role.LOOK: "◆", Role.STOP: "✕"}
_ROLES: Final = {Tone.GOOD: Role.GOOD, Tone.LOOK: Role.LOOK, Tone.STOP: Role.STOP}
_GUTTER: Final = 15
"""Left of every line, where its sign stands [px]."""
_BETWEEN: Final = "   "

# Hints that repeat a term of the score or a remark on the bucket, where that is said.
_SAID_BY_TERM: Final = {
    "magnesia-crystals": "saturation-magnesia",
    "lime-matte": "saturation-lime",
    "zinc-crystals": "saturation-zinc",
    "baria-matte": "saturation-baria",
}
_SAID_BY_REMARK: Final = {"clay-share": "clay-much", "bentonite-share": "bentonite-much"}

_OXIDE: Final = re.compile(rf"\b({'|'.join(o for o in OXIDES if any(map(str.isdigit, o)))})\b")


_MINUS: Final = re.compile(r"(?<![A-Za-z0-9)])-(?=\d)")
_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|°C|mm|MPa|h)(?!\w))")


@dataclass(frozen=True, slots=True)
class Head:
    """What is said at a glance."""

    verdict: str
    sign: Role | None
    status: str
    """How far the verdict may be trusted, or what to do first."""
    margin: str = ""

    @property
    def signed(self) -> str:
        """The status with its sign."""
        return f"{_SIGNS[self.sign]} {self.status}" if self.sign else self.status


class Headline(QWidget):
    """The verdict and the line below it, in a room that another reading does not change."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._head = Head("", None, "")
        self._colors: Palette = LIGHT
        self._set_fonts()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def head(self) -> Head:
        """What is shown."""
        return self._head

    def text(self) -> str:
        """Return the verdict."""
        return self._head.verdict

    def show_head(self, head: Head) -> None:
        """Show another verdict; it repaints and nothing else."""
        if head == self._head:
            return
        self._head = head
        said = ". ".join(text for text in (head.verdict, head.status, head.margin) if text)
        self.setAccessibleName(said)
        self.update()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(240, self._height)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, self._height)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._set_fonts()
            self.updateGeometry()
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        lines = wrapped(_held(self._head.verdict), self._large, self.width(), 2)
        painter.setFont(self._large)
        painter.setPen(self._colors.color(Role.INK))
        metrics = QFontMetrics(self._large)
        for i, line in enumerate(lines):
            painter.drawText(0, i * metrics.height() + metrics.ascent(), line)
        self._paint_status(painter, max(len(lines), 1) * metrics.height() + 2)
        painter.end()

    def _paint_status(self, painter: QPainter, top: int) -> None:
        """Paint status and margin side by side, or below each other where that is too wide."""
        head, small = self._head, QFontMetrics(self._body)
        painter.setFont(self._body)
        room = (self._height - top) // small.height()
        both = small.horizontalAdvance(head.signed + _BETWEEN + head.margin)
        left, baseline = 0, top + small.ascent()
        margin_line = baseline
        margin = head.margin
        if not margin:
            lines = wrapped(head.signed, self._body, self.width(), room)
        elif both > self.width() and room > 1:
            lines = [small.elidedText(head.signed, Qt.TextElideMode.ElideRight, self.width())]
            margin_line += small.height()
        else:
            # Words may go, the figure and its error may not.
            if both > self.width():
                margin = margin.removeprefix("melt ")
            left = small.horizontalAdvance(head.signed + _BETWEEN)
            left = min(left, self.width() - small.horizontalAdvance(margin))
            lines = [small.elidedText(head.signed, Qt.TextElideMode.ElideRight, left - 4)]
        painter.setPen(self._colors.color(head.sign or Role.MUTED))
        for i, line in enumerate(lines):
            painter.drawText(0, baseline + i * small.height(), line)
        painter.setPen(self._colors.color(Role.INK))
        painter.drawText(left, margin_line, margin)

    def _set_fonts(self) -> None:
        self._body = apply_tabular_figures(self.font())
        self._large = QFont(self._body)
        if self._large.pointSizeF() > 0:
            self._large.setPointSizeF(self._large.pointSizeF() + 4)
        else:
            self._large.setPixelSize(self._large.pixelSize() + 4)
        self._large.setBold(True)
        large, body = QFontMetrics(self._large), QFontMetrics(self._body)
        self._height = 2 * large.height() + body.height() + 3


def wrapped(text: str, font: QFont, width: int, most: int) -> list[str]:
    """Break a text into at most `most` lines of `width` pixels; the last is elided."""
    metrics = QFontMetrics(font)
    if metrics.horizontalAdvance(text) <= width or most < 2:
        return [metrics.elidedText(text, Qt.TextElideMode.ElideRight, width)]
    layout = QTextLayout(text, font)
    layout.setTextOption(QTextOption(Qt.AlignmentFlag.AlignLeft))
    layout.beginLayout()
    lines: list[str] = []
    start = 0
    while len(lines) < most:
        line = layout.createLine()
        if not line.isValid():
            break
        line.setLineWidth(width)
        line.setPosition(QPointF(0, 0))
        start = line.textStart()
        lines.append(text[start : start + line.textLength()].rstrip())
    layout.endLayout()
    lines[-1] = metrics.elidedText(text[start:], Qt.TextElideMode.ElideRight, width)
    return lines


class ReadingPanel(QWidget):
    """Says what is read of the recipe: at a glance at once, line by line when the hand rests."""

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._theme = theme
        self._html = ""
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.settle)
        self.verdict = Headline()
        self.verdict.setToolTip(
            self.tr(
                "The melt margin says how much more silica and alumina, in the ratio they have, "
                "the glaze could take before it no longer melts in this firing; ± is one "
                "standard error."
            )
        )
        self.bars = ProbabilityBars()
        self.details = QCheckBox(self.tr("Details"))
        self.details.setToolTip(self.tr("Show the figures behind each line and where it is from"))
        self.details.setMinimumHeight(24)
        self.details.toggled.connect(self.settle)
        self.browser = QTextBrowser()
        self.browser.setOpenLinks(False)
        self.browser.setAccessibleName(self.tr("What can be said about the recipe"))
        self.browser.setMinimumHeight(100)
        self.browser.document().setDocumentMargin(4)
        self.take_table = QPushButton(self.tr("Use the table's analyses"))
        self.take_table.setToolTip(
            self.tr("Compute with today's analyses from now on; undo brings the old ones back")
        )
        self.take_table.clicked.connect(self._take_table)
        self._lay_out()
        document.evaluation_changed.connect(self._on_evaluation_changed)
        document.opened.connect(self._on_opened)
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed(theme.palette)

    def settle(self) -> None:
        """Write the page of the recipe as it stands, without waiting for a pause."""
        self._pause.stop()
        html = self._page(self._document.evaluation)
        if html == self._html:
            return
        self._html = html
        bar = self.browser.verticalScrollBar()
        place = bar.value()
        self.browser.setHtml(html)
        bar.setValue(min(place, bar.maximum()))

    def _lay_out(self) -> None:
        middle = QHBoxLayout()
        middle.setSpacing(8)
        middle.addWidget(self.bars, 1)
        middle.addWidget(self.details, 0, Qt.AlignmentFlag.AlignBottom)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 4)
        layout.setSpacing(4)
        layout.addWidget(self.verdict)
        layout.addLayout(middle)
        layout.addWidget(self.browser, 1)
        layout.addWidget(self.take_table)

    def _on_theme_changed(self, palette: Palette) -> None:
        self.verdict.set_palette(palette)
        self.bars.set_palette(palette)
        show_tick_box(self.details, palette)
        self._on_evaluation_changed(self._document.evaluation)
        self.settle()

    def _on_opened(self) -> None:
        self.settle()
        self.browser.verticalScrollBar().setValue(0)

    def _take_table(self) -> None:
        self._document.edit(
            self.tr("Use the table's analyses"), replace(self._document.recipe, pinned={})
        )

    def _on_evaluation_changed(self, evaluation: Evaluation) -> None:
        surface = evaluation.reading.surface
        self.verdict.show_head(self._head(evaluation))
        self.bars.show_probabilities(surface.probabilities if surface is not None else None)
        self.take_table.setVisible(bool(evaluation.moved))
        self._pause.start()

    def _head(self, evaluation: Evaluation) -> Head:
        reading = evaluation.reading
        name = verdict(reading)
        if evaluation.missing:
            name = self.tr("Incomplete. {}").format(name)
        if reading.surface is None:
            return Head(name, None, self._way_out(evaluation))
        margin = margin_words(reading.surface)
        if evaluation.missing:
            # Half a recipe is not sound, whatever its other half would be.
            return Head(name, Role.STOP, self.tr("a material is missing"), margin)
        sound = soundness(reading)
        text = sound.text
        if text == Soundness.UNKNOWN.value:
            text = self.tr("soundness unknown")
        return Head(name, _ROLES.get(sound.tone), text, margin)

    def _way_out(self, evaluation: Evaluation) -> str:
        """Say what to do where nothing can be read."""
        states = evaluation.formula.states
        if State.NO_ROWS in states:
            return self.tr("Choose a first material.")
        if evaluation.missing:
            return self.tr("Choose another for the material that is missing.")
        if State.NO_WEIGHT in states:
            return self.tr("Type an amount.")
        if State.NO_FLUX in states:
            return self.tr("No flux: add a feldspar, whiting or a frit.")
        if State.NO_SILICA in states:
            return self.tr("No silica: add silica, a feldspar or clay.")
        if evaluation.firing is None:
            return self.tr("No firing: choose one at the head of the bench.")
        if evaluation.heat is None:
            return self.tr("The firing has no segments: give it a schedule.")
        return self.tr("Nothing here that the models know.")

    def _page(self, evaluation: Evaluation) -> str:
        lines = [self._said(Role.STOP, str(state)) for state in evaluation.formula.states]
        lines += [
            self._said(
                Role.STOP,
                self.tr("{} is not in the tables: choose another material.").format(name),
            )
            for name in evaluation.missing
        ]
        lines += self._moved(evaluation)
        lines += [self._said(Role.LOOK, text) for text in _warnings(evaluation)]
        for subject in _subjects(evaluation):
            lines.append(self._heading(subject.title))
            lines += [self._line(line) for line in subject.lines]
        hints = [self._said(Role.LOOK, hint) for hint in _hints(evaluation)]
        if hints:
            lines += [self._heading(self.tr("By practice")), *hints]
        shelf = shelf_words(evaluation.heat)
        if shelf:
            lines += [self._heading(self.tr("The firing")), self._said(None, shelf)]
        lines.append(self._heading(self.tr("Cautions")))
        lines += [self._said(Role.LOOK, text) for text in cautions(evaluation)]
        return "".join(lines)

    def _moved(self, evaluation: Evaluation) -> list[str]:
        lines = [
            self._said(
                Role.LOOK,
                self.tr(
                    "The table's analysis of {} has changed since this recipe was saved; "
                    "the figures here use the saved one."
                ).format(moved.name),
            )
            for moved in evaluation.moved
        ]
        table = evaluation.table_formula
        if table is not None and table.point is not None:
            lines.append(
                self._said(
                    Role.LOOK,
                    self.tr("With today's table: SiO₂ {:.3f}, Al₂O₃ {:.3f} (hollow point).").format(
                        *table.point
                    ),
                )
            )
        return lines

    def _heading(self, text: str) -> str:
        return f'<p style="margin:7px 0 1px 0"><b>{escape(text)}</b></p>'

    def _line(self, line: Line) -> str:
        html = self._said(_ROLES.get(line.tone), line.text)
        if not self.details.isChecked():
            return html
        source = self.tr("Source: {}").format(line.source) if line.source else ""
        return html + "".join(self._aside(text) for text in (line.more, source) if text)

    def _said(self, role: Role | None, text: str) -> str:
        words = escape(_typeset(in_a_sentence(text)))
        if role is None:
            return f'<p style="margin:1px 0 1px {_GUTTER}px">{words}</p>'
        color = self._theme.palette.hex(role)
        sign = f'<span style="color:{color}"><b>{_SIGNS[role]}</b></span>'
        return (
            f'<p style="margin:1px 0 1px {_GUTTER}px; text-indent:-{_GUTTER}px">'
            f"{sign}&nbsp;{words}</p>"
        )

    def _aside(self, text: str) -> str:
        muted = self._theme.palette.hex(Role.MUTED)
        words = escape(_typeset(in_a_sentence(text)))
        return f'<p style="margin:0 0 2px {_GUTTER}px; color:{muted}">{words}</p>'


def _subjects(evaluation: Evaluation) -> list[Subject]:
    """Return what is said; of a recipe without weight there is nothing to say."""
    states = evaluation.formula.states
    if State.NO_ROWS in states or State.NO_WEIGHT in states:
        return []
    return subjects(evaluation.reading)


def _hints(evaluation: Evaluation) -> Iterator[str]:
    """Yield the hints of practice that the reading does not say anyway."""
    surface, work = evaluation.reading.surface, evaluation.reading.workability
    remarks = {remark.id for remark in work.remarks} if work is not None else set()
    reasons = surface.reasons if surface is not None else ()
    terms = {reason.id for reason in reasons if abs(reason.contribution) >= LEAST_PULL}
    for hint in evaluation.hints:
        term, remark = _SAID_BY_TERM.get(hint.id), _SAID_BY_REMARK.get(hint.id)
        if term not in terms and remark not in remarks:
            yield hint.says


def _warnings(evaluation: Evaluation) -> Iterator[str]:
    """Yield the warnings; that something dissolves is said once, with the bucket if there."""
    work = evaluation.reading.workability
    remarks = {remark.id for remark in work.remarks} if work is not None else set()
    said = tuple(
        f"{material.name} dissolves in water"
        for material in evaluation.materials.values()
        if f"soluble-{material.id}" in remarks
    )
    return (text for text in evaluation.warnings if not text.startswith(said or "\0"))


def _typeset(text: str) -> str:
    """Set the numbers of oxides low, those of powers high, and minus signs as such."""
    text = _OXIDE.sub(lambda found: oxide_text(found[0]), text)
    text = _MINUS.sub("−", text)
    for plain, set_right in (("log10 ", "log₁₀ "), ("1e-6/K", "10⁻⁶/K"), ("mg/dm2", "mg/dm²")):
        text = text.replace(plain, set_right)
    return _held(text)


def _held(text: str) -> str:
    """Keep a unit on the line of its figure."""
    return _UNIT.sub("\u00a0", text)
