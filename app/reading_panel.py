"""The panel of what can be said about the recipe, with reasons and cautions."""

from __future__ import annotations

from dataclasses import replace
from html import escape

from PySide6.QtWidgets import QLabel, QPushButton, QTextBrowser, QVBoxLayout, QWidget

from app import formatting
from app.document import Document
from app.figure_line import FigureLine
from app.theme import Palette, Role, Theme
from core.evaluate import Evaluation
from core.report import cautions

# A sign stands before every word of good or ill, so that colour never speaks alone.
_SIGNS = {Role.GOOD: "✓", Role.LOOK: "◆", Role.STOP: "✕"}


class ReadingPanel(QWidget):
    """Says what the rules of practice say, and what is missing or odd."""

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._theme = theme
        self._html = ""
        self.verdict = QLabel()
        self.verdict.setWordWrap(True)
        font = self.verdict.font()
        font.setPointSizeF(font.pointSizeF() + 4)
        font.setBold(True)
        self.verdict.setFont(font)
        self.ratio = FigureLine()
        self.browser = QTextBrowser()
        self.browser.setOpenLinks(False)
        self.browser.setAccessibleName(self.tr("What can be said about the recipe"))
        self.browser.setMinimumHeight(100)
        self.take_table = QPushButton(self.tr("Use the table's analyses"))
        self.take_table.setToolTip(
            self.tr("Compute with today's analyses from now on; undo brings the old ones back")
        )
        self.take_table.clicked.connect(self._take_table)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.verdict)
        layout.addWidget(self.ratio)
        layout.addWidget(self.browser, 1)
        layout.addWidget(self.take_table)
        document.evaluation_changed.connect(self._on_evaluation_changed)
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed(theme.palette)

    def _on_theme_changed(self, palette: Palette) -> None:
        self.ratio.set_palette(palette)
        self._on_evaluation_changed(self._document.evaluation)

    def _take_table(self) -> None:
        self._document.edit(
            self.tr("Use the table's analyses"), replace(self._document.recipe, pinned={})
        )

    def _on_evaluation_changed(self, evaluation: Evaluation) -> None:
        self.take_table.setVisible(bool(evaluation.moved))
        self._show_verdict(evaluation)
        html = self._page(evaluation)
        if html == self._html:
            return
        self._html = html
        bar = self.browser.verticalScrollBar()
        place = bar.value()
        self.browser.setHtml(html)
        bar.setValue(min(place, bar.maximum()))

    def _page(self, evaluation: Evaluation) -> str:
        lines = [self._line(Role.STOP, f"{state}.") for state in evaluation.formula.states]
        lines += [
            self._line(
                Role.STOP,
                self.tr("{} is not in the tables: choose another material.").format(name),
            )
            for name in evaluation.missing
        ]
        lines += self._moved(evaluation)
        lines += [self._line(Role.LOOK, hint.says) for hint in evaluation.hints]
        lines += [self._line(Role.LOOK, f"{text}.") for text in evaluation.warnings]
        muted = self._theme.palette.hex(Role.MUTED)
        lines.append(
            f'<p style="color:{muted}; margin:6px 0 2px 0">'
            + escape(
                self.tr(
                    "Rules of practice only: whether it melts fully, and which kind of matte it "
                    "is, is not computed. Fire a tile."
                )
            )
            + "</p>"
        )
        lines.append(f'<p style="margin:8px 0 2px 0"><b>{escape(self.tr("Cautions"))}</b></p>')
        lines += [self._line(Role.LOOK, text) for text in cautions(evaluation)]
        return "".join(lines)

    def _show_verdict(self, evaluation: Evaluation) -> None:
        if evaluation.zone is None:
            text = self.tr("Nothing to read yet")
        else:
            text = self.tr("By practice: {}").format(evaluation.zone)
        if evaluation.missing:
            text = self.tr("Incomplete. {}").format(text)
        ratio = self.tr("silica-alumina ratio {}").format(
            formatting.decimals(evaluation.formula.silica_alumina, 2)
        )
        for label, words in ((self.verdict, text), (self.ratio, ratio)):
            if label.text() != words:
                label.setText(words)

    def _moved(self, evaluation: Evaluation) -> list[str]:
        lines = [
            self._line(
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
                self._line(
                    Role.LOOK,
                    self.tr("With today's table: SiO₂ {:.3f}, Al₂O₃ {:.3f} (hollow point).").format(
                        *table.point
                    ),
                )
            )
        return lines

    def _line(self, role: Role, text: str) -> str:
        color = self._theme.palette.hex(role)
        sign = f'<span style="color:{color}"><b>{_SIGNS[role]}</b></span>'
        return f'<p style="margin:2px 0">{sign}&nbsp;{escape(text[:1].upper() + text[1:])}</p>'
