"""The mixture of fluxes as a point between alkali, lime and magnesia."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app.chart_widget import (
    CENTRED,
    FROM_LEFT,
    GAP,
    MARGIN,
    TO_RIGHT,
    ChartWidget,
    Round,
    Stroke,
    Tip,
    Words,
    share_text,
    state_words,
)
from app.flux_ribbon import FluxShare, flux_shares
from app.formatting import decimals, oxide_text
from app.theme import Role
from core.evaluate import Evaluation
from core.formula import Formula
from core.oxides import LIME_KIN, R2O

Shares = tuple[float, float, float]
"""Alkali, lime and its kin, magnesia; they sum to one."""

TRAIL_LENGTH: Final = 30
POINT_PX: Final = 14
FAMILIES: Final = (R2O, LIME_KIN, ("MgO",))

_RING: Final = 5.5
_PICK: Final = 12.0
"""Half the side of the square in which hovering finds a ring: targets of 24 px."""
_LONGEST_LETTER: Final = 64.0
_STEPS: Final = (20, 40, 60, 80)
_HIGH: Final = math.sqrt(3) / 2


@dataclass(frozen=True, slots=True)
class Corners:
    """Where the three families stand on the screen."""

    alkali: QPointF
    lime: QPointF
    magnesia: QPointF

    @property
    def side(self) -> float:
        """Length of a side."""
        return self.magnesia.x() - self.lime.x()


def family_shares(formula: Formula) -> Shares | None:
    """Return the shares of the three families among themselves, or None without any."""
    alkali, lime, magnesia = (formula.share(*oxides) for oxides in FAMILIES)
    whole = alkali + lime + magnesia
    if whole <= 0:
        return None
    return alkali / whole, lime / whole, magnesia / whole


def outside_families(formula: Formula) -> list[FluxShare]:
    """Return the fluxes that have no corner, such as zinc, with their share of all fluxes."""
    inside = {oxide for oxides in FAMILIES for oxide in oxides}
    return [flux for flux in flux_shares(formula) if flux.oxide not in inside]


def triangle_in(box: QRectF) -> Corners:
    """Return the largest upright triangle of equal sides, in the middle of the foot of `box`."""
    side = max(min(box.width(), box.height() / _HIGH), 0.0)
    middle, foot = box.center().x(), box.bottom()
    return Corners(
        QPointF(middle, foot - side * _HIGH),
        QPointF(middle - side / 2, foot),
        QPointF(middle + side / 2, foot),
    )


def place(corners: Corners, shares: Shares) -> QPointF:
    """Return where a mixture lies on the screen."""
    alkali, lime, magnesia = shares
    return corners.alkali * alkali + corners.lime * lime + corners.magnesia * magnesia


def shares_at(corners: Corners, spot: QPointF) -> Shares | None:
    """Return the mixture at a place on the screen, or None outside the triangle."""
    if corners.side <= 0:
        return None
    alkali = (corners.lime.y() - spot.y()) / (corners.side * _HIGH)
    magnesia = (spot.x() - corners.lime.x()) / corners.side - alkali / 2
    lime = 1 - alkali - magnesia
    return (alkali, lime, magnesia) if min(alkali, lime, magnesia) >= 0 else None


class FluxTriangle(ChartWidget):
    """Shows which family of fluxes leads, where the recipe came from, and its variants."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shares: Shares | None = None
        self._others: list[FluxShare] = []
        self._trail: deque[Shares] = deque(maxlen=TRAIL_LENGTH)
        self._variants: list[tuple[str, Shares]] = []
        self._corners: Corners | None = None
        self.setAccessibleName(self.tr("Triangle of fluxes: alkali, lime, magnesia"))

    @property
    def trail(self) -> tuple[Shares, ...]:
        """The positions that are kept, the newest last."""
        return tuple(self._trail)

    @property
    def corners(self) -> Corners | None:
        """Where the triangle is painted; None while words stand in its place."""
        self._settle()
        return self._corners

    def sizeHint(self) -> QSize:
        return QSize(320, 240)

    def minimumSizeHint(self) -> QSize:
        return QSize(240, 160)

    def show_variants(self, variants: Sequence[tuple[str, Shares]]) -> None:
        """Show saved variants by letter and `family_shares`."""
        if list(variants) != self._variants:
            self._variants = list(variants)
            self._say()
            self.refresh()

    def forget_trail(self) -> None:
        """Begin the trail anew: another recipe has come."""
        self._trail.clear()
        self.refresh()

    def tip_at(self, spot: QPointF) -> str:
        said = super().tip_at(spot)
        corners = self.corners
        if said or corners is None:
            return said
        shares = shares_at(corners, spot)
        return self.tr("Here: {}").format(_figures(shares)) if shares is not None else ""

    def _take(self, evaluation: Evaluation) -> None:
        self._shares = family_shares(evaluation.formula)
        self._others = outside_families(evaluation.formula)
        shares = self._shares
        # A change that only rounding tells from rest is no step of the trail.
        if shares is not None and (not self._trail or math.dist(self._trail[-1], shares) > 1e-9):
            self._trail.append(shares)

    def _lay_out(self, evaluation: Evaluation) -> None:
        self._corners = None
        room = QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN)
        if self._shares is None:
            words = self._only_others() if self._others else state_words(evaluation)
            self._write(room, words, body=True, wrap=True)
            return
        word = max(self._small_metrics.horizontalAdvance(text) for text in self._names())
        box = room.adjusted(word + GAP, self._line + GAP, -word - GAP, -self._line - GAP)
        corners = self._corners = triangle_in(box)
        self._lay_grid(corners)
        self._lay_names(corners, room)
        self._lay_notes(evaluation, corners, room)
        self._lay_trail(corners)
        self._lay_variants(corners, self._shares)
        self._lay_point(corners, self._shares)

    def _names(self) -> tuple[str, str, str]:
        return self.tr("Alkali R₂O"), self.tr("Lime"), self.tr("Magnesia")

    def _lay_grid(self, corners: Corners) -> None:
        rim = QPolygonF([corners.alkali, corners.lime, corners.magnesia])
        self._marks.append(Stroke(rim, QPen(self._ink(Role.EDGE), 1.2), self._ink(Role.PANEL)))
        pen = QPen(self._ink(Role.EDGE, 0.35), 1.0)
        wide, high = 2 * self._small_metrics.horizontalAdvance("00"), self._line
        # Each line runs on a little beyond the side at which its figure stands:
        # its slope tells which corner it counts from.
        for percent in _STEPS:
            v = percent / 100
            for begin, end, align in (
                ((v, 1 - v, 0.0), (v, 0.0, 1 - v), FROM_LEFT),
                ((0.0, v, 1 - v), (1 - v, v, 0.0), TO_RIGHT),
                ((1 - v, 0.0, v), (0.0, 1 - v, v), CENTRED),
            ):
                a, b = place(corners, begin), place(corners, end)
                step = (b - a) / math.hypot(b.x() - a.x(), b.y() - a.y()) * GAP
                self._marks.append(Stroke(QPolygonF([a, b + step]), pen))
                rect = QRectF(0, 0, wide, high)
                rect.moveCenter(b + step * 2)
                if align == FROM_LEFT:
                    rect.moveLeft(b.x() + 2 * GAP - 2)
                elif align == TO_RIGHT:
                    rect.moveRight(b.x() - GAP)
                else:
                    rect.moveTop(b.y() + GAP)
                self._write(rect, str(percent), Role.MUTED, align)

    def _lay_names(self, corners: Corners, room: QRectF) -> None:
        line = self._line
        alkali, lime, magnesia = self._names()
        top = QRectF(0, room.top(), 160, line)
        top.moveCenter(QPointF(corners.alkali.x(), corners.alkali.y() - GAP - line / 2))
        self._write(top, alkali)
        foot = corners.lime.y()
        left, right = corners.lime.x(), corners.magnesia.x()
        kin = " ".join(oxide_text(oxide) for oxide in LIME_KIN)
        beside = QRectF(0, foot - line, left - GAP, line)
        below = QRectF(0, foot + GAP, left + 2 * GAP, line)
        self._write(beside, lime, align=TO_RIGHT)
        self._write(below, kin, Role.MUTED, TO_RIGHT)
        beside = QRectF(right + GAP, foot - line, self.width() - right - GAP, line)
        below = QRectF(right - 2 * GAP, foot + GAP, self.width() - right + 2 * GAP, line)
        self._write(beside, magnesia, align=FROM_LEFT)
        self._write(below, "MgO", Role.MUTED, FROM_LEFT)

    def _lay_notes(self, evaluation: Evaluation, corners: Corners, room: QRectF) -> None:
        """Write the point's figures at the right of the tip, what is left out at its left."""
        middle, line = corners.alkali.x(), self._line
        reach = 40.0 if room.height() < 240 else 64.0
        right = min(room.right(), corners.magnesia.x() + 60)
        names = (self.tr("R₂O"), self.tr("lime"), self.tr("MgO"))
        for i, (name, share) in enumerate(zip(names, self._shares or (), strict=False)):
            rect = QRectF(middle + reach, room.top() + i * line, right - middle - reach, line)
            self._write(rect, f"{name} {100 * share:.1f} %", Role.INK, TO_RIGHT)
        notes = [
            self.tr("{} {} not in the triangle").format(oxide_text(f.oxide), share_text(f.share))
            for f in self._others
        ]
        if len(notes) > 1:
            listed = ", ".join(f"{oxide_text(f.oxide)} {share_text(f.share)}" for f in self._others)
            notes = [self.tr("{} not in the triangle").format(listed)]
        if evaluation.missing:
            notes.append(self.tr("incomplete"))
        if notes:
            left = max(room.left(), corners.lime.x() - 120)
            rect = QRectF(left, room.top(), middle - reach - left, 4 * line)
            align = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
            self._write(rect, "\n".join(notes), Role.MUTED, align, wrap=True)

    def _lay_trail(self, corners: Corners) -> None:
        spots = [place(corners, shares) for shares in self._trail]
        newest = len(spots) - 1
        for i in range(newest):
            color = self._ink(Role.ACCENT, 0.15 + 0.75 * (i + 1) / newest)
            self._marks.append(Stroke(QPolygonF([spots[i], spots[i + 1]]), QPen(color, 1.6)))
            self._marks.append(Round(spots[i], 2.0, color))

    def _lay_variants(self, corners: Corners, point: Shares) -> None:
        halo, ink = QPen(self._ink(Role.HALO), 4.5), QPen(self._ink(Role.INK), 1.8)
        spots = [(name, place(corners, shares)) for name, shares in self._variants]
        for pen in (halo, ink):
            self._marks += [Round(spot, _RING, None, pen) for _, spot in spots]
        taken = [_square(place(corners, point), POINT_PX / 2 + 2)]
        taken += [_square(spot, _RING) for _, spot in spots]
        taken += [mark.rect for mark in self._marks if isinstance(mark, Words)]
        for (name, spot), (_, shares) in zip(spots, self._variants, strict=True):
            self._lay_letter(name, spot, taken)
            text = self.tr("Variant {}: {}").format(name, _figures(shares))
            self._tips.append(Tip(_square(spot, _PICK), partial(str, text)))

    def _lay_letter(self, name: str, spot: QPointF, taken: list[QRectF]) -> None:
        # Letters that would run into something stay off; hovering names them.
        name = self._small_metrics.elidedText(name, Qt.TextElideMode.ElideRight, _LONGEST_LETTER)
        wide = self._small_metrics.horizontalAdvance(name) + 2
        away = _RING + wide / 2 + 2
        rise = _RING + self._line / 2
        sides = ((-away, 0), (away, 0), (0, -rise), (0, rise))
        corners = ((-away, -rise), (away, -rise), (-away, rise), (away, rise))
        for dx, dy in (*sides, *corners):
            rect = QRectF(0, 0, wide, self._line - 2)
            rect.moveCenter(spot + QPointF(dx, dy))
            if not any(rect.intersects(other) for other in taken):
                taken.append(rect)
                self._write(rect, name)
                return

    def _lay_point(self, corners: Corners, shares: Shares) -> None:
        spot = place(corners, shares)
        self._marks.append(Round(spot, POINT_PX / 2 + 2, self._ink(Role.HALO)))
        self._marks.append(Round(spot, POINT_PX / 2, self._ink(Role.ACCENT)))
        text = self.tr("The recipe: {}").format(_figures(shares))
        same = [n for n, other in self._variants if math.dist(other, shares) < 5e-4]
        if same:
            text += "\n" + self.tr("as variant {}").format(", ".join(same))
        self._tips.append(Tip(_square(spot, POINT_PX / 2 + 2), partial(str, text)))

    def _only_others(self) -> str:
        listed = ", ".join(f"{oxide_text(f.oxide)} {share_text(f.share)}" for f in self._others)
        return self.tr("No alkali, lime or magnesia here: {} not in the triangle.").format(listed)

    def _in_words(self, evaluation: Evaluation) -> str:
        others = ", ".join(f"{f.oxide} {share_text(f.share)}" for f in self._others)
        if self._shares is None:
            if not others:
                return state_words(evaluation)
            return self.tr(
                "The triangle has no point: no alkali, lime or magnesia among the fluxes, only {}."
            ).format(others)
        text = self.tr("Among alkali, lime and its kin, and magnesia: {}.").format(
            _spoken(self._shares)
        )
        if others:
            text += self.tr(" {} of the fluxes not in the triangle.").format(others)
        for name, shares in self._variants:
            text += self.tr(" Variant {}: {}.").format(name, _spoken(shares))
        return text


def _figures(shares: Shares) -> str:
    alkali, lime, magnesia = (decimals(100 * share, 1) for share in shares)
    return f"R₂O {alkali} %, CaO SrO BaO {lime} %, MgO {magnesia} %"


def _spoken(shares: Shares) -> str:
    alkali, lime, magnesia = (decimals(100 * share, 1) for share in shares)
    return f"alkali {alkali} %, lime {lime} %, magnesia {magnesia} %"


def _square(centre: QPointF, half: float) -> QRectF:
    return QRectF(centre.x() - half, centre.y() - half, 2 * half, 2 * half)
