"""The mixture of fluxes as one ribbon."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.chart_widget import (
    BAND,
    FROM_LEFT,
    GAP,
    MARGIN,
    TINTS,
    ChartWidget,
    Stroke,
    Tip,
    proportional,
    share_text,
    side_by_side,
    state_words,
    with_gap,
)
from app.formatting import decimals, oxide_text
from app.theme import OXIDE_FAMILY, Role
from core.evaluate import Evaluation
from core.formula import Formula
from core.oxides import INDEX, LIME_KIN, R2O

FLUX_ORDER: Final = (*R2O, *LIME_KIN, "MgO", "ZnO", "PbO")
"""The usual fluxes, each family together."""
TRACE: Final = 1e-6
"""Moles to one of fluxes below which an oxide does not count as present."""

_BAR: Final = 24.0
_ROUNDS_TO_NOTHING: Final = 0.005


@dataclass(frozen=True, slots=True)
class FluxShare:
    """An oxide among the fluxes."""

    oxide: str
    share: float
    """Of the fluxes, 0 to 1."""


def flux_order(formula: Formula) -> tuple[str, ...]:
    """Return the fluxes that the formula's convention counts, families together."""
    counted = formula.convention.fluxes
    usual = tuple(oxide for oxide in FLUX_ORDER if oxide in counted)
    return (*usual, *(oxide for oxide in counted if oxide not in FLUX_ORDER))


def flux_shares(formula: Formula) -> list[FluxShare]:
    """Return the fluxes that are present, families together; they sum to one."""
    if formula.unity is None:
        return []
    shares = [FluxShare(o, float(formula.unity[INDEX[o]])) for o in flux_order(formula)]
    return [flux for flux in shares if flux.share > TRACE]


@dataclass(frozen=True, slots=True)
class Leader:
    """A flux whose segment is too narrow for its label."""

    flux: FluxShare
    x: float
    """Middle of the segment [px]."""


class FluxRibbon(ChartWidget):
    """Shows which fluxes share in the melting, and how much each."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._fluxes: list[FluxShare] = []
        self._above = False
        self.setAccessibleName(self.tr("Mixture of fluxes"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(280, self._needed_height())

    def minimumSizeHint(self) -> QSize:
        return QSize(160, self._needed_height())

    def _needed_height(self) -> int:
        # The row below the bar is always kept free, so that a label that comes
        # or goes while a row is nudged moves nothing; the one above is rare.
        above = self._line + GAP if self._above else 0.0
        return int(GAP + above + _BAR + GAP + self._line + self._line + GAP)

    def _take(self, evaluation: Evaluation) -> None:
        self._fluxes = flux_shares(evaluation.formula)

    def _lay_out(self, evaluation: Evaluation) -> None:
        if not self._fluxes:
            self._set_above(False)
            room = QRectF(self.rect()).adjusted(MARGIN, GAP, -MARGIN, -GAP)
            self._write_state(evaluation, room)
            return
        width = self.width() - 2 * MARGIN
        spans = proportional([flux.share for flux in self._fluxes], MARGIN, width)
        below = [
            Leader(flux, start + length / 2)
            for flux, (start, length) in zip(self._fluxes, spans, strict=True)
            if flux.share >= _ROUNDS_TO_NOTHING and not self._fits(flux, length)
        ]
        above: list[Leader] = []
        if self._places(below, "") is None:
            above, below = below[1::2], below[::2]
        self._set_above(bool(above))
        top = max((self.height() - self._needed_height()) / 2, 0.0) + GAP
        if above:
            self._write_row(above, top, top + self._line + GAP)
            top += self._line + GAP
        seen: dict[Role, int] = {}
        for flux, (start, length) in zip(self._fluxes, spans, strict=True):
            rect = with_gap(start, length, top, _BAR)
            family = OXIDE_FAMILY[flux.oxide]
            step = seen[family] = seen.get(family, -1) + 1
            self._segment(rect, self._colors.color(family), TINTS[-1 - step % len(TINTS)])
            if self._fits(flux, length):
                self._write(rect.adjusted(0, 0, 0, -BAND), self._label(flux))
            self._tips.append(Tip(rect.adjusted(-1, 0, 1, 0), partial(self._tip, flux)))
        foot = top + _BAR
        self._write_row(below, foot + GAP, foot)
        words = QRectF(MARGIN, foot + GAP + self._line, width, self._line)
        self._write(words, self._summary(evaluation, width), Role.MUTED, FROM_LEFT)

    def _set_above(self, above: bool) -> None:
        if above != self._above:
            self._above = above
            self.updateGeometry()

    def _fits(self, flux: FluxShare, length: float) -> bool:
        return self._small_metrics.horizontalAdvance(self._label(flux)) + 2 + GAP <= length

    def _width_of(self, text: str) -> float:
        return self._small_metrics.horizontalAdvance(text) + 2

    def _places(self, row: list[Leader], more: str) -> list[float] | None:
        right = self.width() - MARGIN - (self._width_of(more) + MARGIN if more else 0.0)
        widths = [self._width_of(self._label(leader.flux)) for leader in row]
        return side_by_side([leader.x for leader in row], widths, MARGIN, right, MARGIN)

    def _write_row(self, row: list[Leader], top: float, rim: float) -> None:
        """Write labels on leaders to the bar's `rim`; the least go where not all have room."""
        shown, gone, more = list(row), list[Leader](), ""
        places = self._places(shown, more)
        while places is None:
            gone.append(min(shown, key=lambda leader: leader.flux.share))
            shown.remove(gone[-1])
            more = self.tr("+{} more").format(len(gone))
            places = self._places(shown, more) if shown else []
        pen = QPen(self._ink(Role.EDGE), 1.0)
        near = top + 2 if rim <= top else top + self._line - 2
        for leader, start in zip(shown, places, strict=True):
            label = self._label(leader.flux)
            rect = QRectF(start, top, self._width_of(label), self._line)
            end = min(max(leader.x, rect.left() + 2), rect.right() - 2)
            line = QPolygonF([QPointF(leader.x, rim), QPointF(end, near)])
            self._marks.append(Stroke(line, pen))
            self._write(rect, label)
            self._tips.append(Tip(rect, partial(self._tip, leader.flux)))
        if more:
            width = self._width_of(more)
            rect = QRectF(self.width() - MARGIN - width, top, width, self._line)
            self._write(rect, more, Role.MUTED)
            self._tips.append(Tip(rect, partial(self._tips_of, gone)))

    def _label(self, flux: FluxShare) -> str:
        return f"{oxide_text(flux.oxide)} {share_text(flux.share)}"

    def _tips_of(self, leaders: list[Leader]) -> str:
        return "\n".join(self._tip(leader.flux) for leader in leaders)

    def _tip(self, flux: FluxShare) -> str:
        kind = self.tr("an alkali, R₂O") if flux.oxide in R2O else self.tr("RO")
        return self.tr("{} is {} of the fluxes ({})").format(
            oxide_text(flux.oxide), decimals(flux.share, 3), kind
        )

    def _summary(self, evaluation: Evaluation, width: float) -> str:
        r2o, magnesia = _ratios(evaluation.formula)
        text = self.tr("R₂O : RO  {} : {}   MgO {}").format(
            decimals(r2o), decimals(1 - r2o), decimals(magnesia)
        )
        if evaluation.missing:
            text += self.tr("   incomplete")
        return self._small_metrics.elidedText(text, Qt.TextElideMode.ElideRight, width)

    def _in_words(self, evaluation: Evaluation) -> str:
        if not self._fluxes:
            return state_words(evaluation)
        r2o, magnesia = _ratios(evaluation.formula)
        figures = ", ".join(f"{flux.oxide} {share_text(flux.share)}" for flux in self._fluxes)
        return self.tr(
            "The fluxes, which sum to one: {}. R2O to RO is {} to {}; MgO is {} of the fluxes."
        ).format(figures, decimals(r2o), decimals(1 - r2o), decimals(magnesia))


def _ratios(formula: Formula) -> tuple[float, float]:
    return formula.r2o_share or 0.0, formula.magnesia_share or 0.0
