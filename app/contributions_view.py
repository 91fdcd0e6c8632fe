"""Which material brings how much of each oxide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from PySide6.QtCore import QLineF, QRectF, QSize, Qt
from PySide6.QtGui import QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.chart_widget import (
    BAND,
    FROM_LEFT,
    GAP,
    MARGIN,
    TINTS,
    TO_RIGHT,
    Box,
    ChartWidget,
    Hatch,
    Tip,
    proportional,
    share_text,
    state_words,
    with_gap,
)
from app.flux_ribbon import TRACE, flux_order
from app.formatting import decimals, oxide_text
from app.theme import Role
from core.evaluate import Evaluation
from core.formula import Formula
from core.oxides import INDEX, OXIDES
from core.recipe import Section

STABILISERS: Final = ("B2O3", "Al2O3", "Fe2O3", "Cr2O3")
GLASS_FORMERS: Final = ("SiO2", "TiO2", "ZrO2", "SnO2", "CeO2")

_ROW: Final = 28.0
_BAR: Final = 24.0
_SHORTEST_NAME: Final = 3
"""Letters, without the dots of what is left out."""
_MOST_FITTED: Final = 2000


@dataclass(frozen=True, slots=True)
class Part:
    """What one row of the recipe brings of an oxide."""

    row: int
    """Place among all rows, base rows first."""
    moles: float
    """To one of fluxes."""


@dataclass(frozen=True, slots=True)
class OxideBar:
    """An oxide and the rows that bring it, in the recipe's order."""

    oxide: str
    group: int
    """Oxides of one group stand together: fluxes, R2O3 and boron, RO2, others."""
    total: float
    """Moles to one of fluxes."""
    parts: tuple[Part, ...]


def grouped_oxides(formula: Formula) -> tuple[tuple[str, ...], ...]:
    """Return all oxides of the basis in groups: fluxes, R2O3 and boron, RO2, others."""
    fluxes = flux_order(formula)
    named = (*fluxes, *STABILISERS, *GLASS_FORMERS)
    others = tuple(oxide for oxide in OXIDES if oxide not in named)
    return fluxes, STABILISERS, GLASS_FORMERS, others


def oxide_bars(evaluation: Evaluation) -> list[OxideBar]:
    """Return the bars of a recipe; none where there is no unity formula."""
    if evaluation.formula.unity is None:
        return []
    bars = []
    for group, oxides in enumerate(grouped_oxides(evaluation.formula)):
        for oxide in oxides:
            column = evaluation.contributions[:, INDEX[oxide]]
            total = float(column.sum())
            if total > TRACE:
                parts = tuple(Part(int(r), float(column[r])) for r in np.flatnonzero(column > 0))
                bars.append(OxideBar(oxide, group, total, parts))
    return bars


class ContributionsView(ChartWidget):
    """Shows each oxide as a bar of the materials that bring it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bars: list[OxideBar] = []
        self._names: list[str] = []
        self._base_rows = 0
        self._selected: tuple[Section, int] | None = None
        self._laid = QRectF()
        self.setAccessibleName(self.tr("Oxides by material"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.MinimumExpanding)

    def sizeHint(self) -> QSize:
        return QSize(320, self._needed_height())

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self._needed_height())

    def set_selected(self, section: Section | None, row: int | None = None) -> None:
        """Mark the segments of a row of the recipe; None marks nothing."""
        selected = None if section is None or row is None else (section, row)
        if selected != self._selected:
            self._selected = selected
            self._say()
            self.refresh()

    def _take(self, evaluation: Evaluation) -> None:
        recipe = evaluation.recipe
        rows = (*recipe.base, *recipe.additions)[: len(evaluation.contributions)]
        self._names = [evaluation.material_name(row.material) for row in rows]
        self._base_rows = len(recipe.base)
        self._bars = oxide_bars(evaluation)
        if self.minimumHeight() != self._needed_height():
            self.setMinimumHeight(self._needed_height())

    def _groups(self) -> int:
        return len({bar.group for bar in self._bars})

    def _needed_height(self) -> int:
        if not self._bars:
            return int(2 * MARGIN + 4 * self._line)
        rows = len(self._bars) * _ROW + (self._groups() - 1) * GAP
        return int(2 * MARGIN + self._line + GAP + rows)

    def _selected_row(self) -> int | None:
        """Return the place of the selected row among all rows, or None."""
        if self._selected is None:
            return None
        section, row = self._selected
        place = row if section is Section.BASE else self._base_rows + row
        limit = self._base_rows if section is Section.BASE else len(self._names)
        return place if 0 <= place < limit else None

    def _lay_out(self, evaluation: Evaluation) -> None:
        room = QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN)
        if not self._bars:
            self._write_state(evaluation, room)
            return
        metrics = self._body_metrics
        names = max(metrics.horizontalAdvance(oxide_text(bar.oxide)) for bar in self._bars)
        moles = self.tr("moles")
        figures = max(metrics.horizontalAdvance(share_text(bar.total)) for bar in self._bars)
        figures = max(figures, self._small_metrics.horizontalAdvance(moles))
        left = room.left() + names + MARGIN
        width = room.right() - figures - MARGIN - left
        head = QRectF(left, room.top(), width, self._line)
        text = self.tr("share brought by each material")
        if evaluation.missing:
            text = self.tr("incomplete: material missing")
        text = self._small_metrics.elidedText(text, Qt.TextElideMode.ElideRight, width)
        self._write(head, text, Role.MUTED, FROM_LEFT)
        head = QRectF(room.right() - figures, room.top(), figures, self._line)
        self._write(head, moles, Role.MUTED, TO_RIGHT)
        top = room.top() + self._line + GAP
        laid = self._laid = self._in_sight()
        group = self._bars[0].group
        for bar in self._bars:
            if bar.group != group:
                group = bar.group
                top += GAP
            if not laid.intersects(QRectF(room.left(), top, room.width(), _BAR)):
                top += _ROW
                continue
            label = QRectF(room.left(), top, names, _BAR)
            self._write(label, oxide_text(bar.oxide), align=FROM_LEFT, body=True)
            self._lay_bar(bar, left, top, width)
            figure = QRectF(room.right() - figures, top, figures, _BAR)
            self._write(figure, share_text(bar.total), align=TO_RIGHT, body=True)
            self._tips.append(Tip(label, partial(self._tip, bar)))
            self._tips.append(Tip(figure, partial(self._tip, bar)))
            top += _ROW

    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._laid.contains(self._in_sight()):
            self.refresh()
        super().paintEvent(event)

    def _in_sight(self) -> QRectF:
        """Return what the scroll area shows; all of the chart where nothing is shown yet.

        Bars that are scrolled out of sight are not laid out with every key press.
        """
        sight = self.visibleRegion().boundingRect()
        return QRectF(self.rect() if sight.isEmpty() else sight)

    def _lay_bar(self, bar: OxideBar, left: float, top: float, width: float) -> None:
        selected = self._selected_row()
        color = self._colors.family_color(bar.oxide)
        spans = proportional([part.moles for part in bar.parts], left, width)
        chosen: list[QRectF] = []
        for part, (start, length) in zip(bar.parts, spans, strict=True):
            rect = with_gap(start, length, top, _BAR)
            self._segment(rect, color, TINTS[part.row % len(TINTS)])
            if part.row == selected:
                chosen.append(rect)
            name = self._fitting(self._names[part.row], rect.width() - GAP - 2)
            if name:
                self._write(rect.adjusted(0, 0, 0, -BAND), name)
            self._tips.append(Tip(rect.adjusted(-1, 0, 1, 0), partial(self._part_tip, bar, part)))
        for rect in chosen:
            self._lay_chosen(rect)

    def _lay_chosen(self, rect: QRectF) -> None:
        """Outline a segment and hatch its strip; where it is too thin, a flag stands for both."""
        accent = self._ink(Role.ACCENT)
        if rect.width() < 2 * GAP:
            self._marks.append(Box(rect.adjusted(-1, 0, 1, 0), accent))
            return
        foot = QRectF(rect)
        foot.setTop(rect.bottom() - BAND)
        self._marks.append(Box(foot, self._ink(Role.PAPER)))
        starts = np.arange(foot.left(), foot.right() - BAND, GAP)
        lines = [QLineF(x, foot.bottom(), x + BAND, foot.top()) for x in starts]
        self._marks.append(Hatch(lines, QPen(accent, 1.6)))
        outline = QPen(accent, 2.0)
        outline.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        self._marks.append(Box(rect.adjusted(1, 1, -1, -1), None, outline))

    def _fitting(self, name: str, width: float) -> str:
        # Measuring text is most of the layout's cost, and few widths change.
        key = (name, int(width))
        if key not in self._fitted:
            text = self._small_metrics.elidedText(name, Qt.TextElideMode.ElideRight, key[1])
            # Two letters and dots name nothing.
            fits = text == name or len(text) > _SHORTEST_NAME
            if len(self._fitted) > _MOST_FITTED:
                self._fitted.clear()
            self._fitted[key] = text if fits else ""
        return self._fitted[key]

    def _set_fonts(self) -> None:
        super()._set_fonts()
        self._fitted: dict[tuple[str, int], str] = {}

    def _part_tip(self, bar: OxideBar, part: Part) -> str:
        return self.tr("{} brings {} of {} {} ({} %)").format(
            self._names[part.row],
            decimals(part.moles, 3),
            decimals(bar.total, 3),
            oxide_text(bar.oxide),
            decimals(100 * part.moles / bar.total, 0),
        )

    def _tip(self, bar: OxideBar) -> str:
        head = self.tr("{} {} to one of fluxes").format(
            oxide_text(bar.oxide), decimals(bar.total, 3)
        )
        lines = [
            f"{self._names[part.row]} {decimals(part.moles, 3)} "
            f"({decimals(100 * part.moles / bar.total, 0)} %)"
            for part in bar.parts
        ]
        return "\n".join((head, *lines))

    def _in_words(self, evaluation: Evaluation) -> str:
        if not self._bars:
            return state_words(evaluation)
        said = [self.tr("Moles to one of fluxes, by material.")]
        for bar in self._bars:
            parts = ", ".join(
                f"{self._names[part.row]} {share_text(part.moles)}" for part in bar.parts
            )
            said.append(f"{bar.oxide} {share_text(bar.total)}: {parts}.")
        selected = self._selected_row()
        if selected is not None:
            said.append(self.tr("Marked: {}.").format(self._names[selected]))
        return " ".join(said)
