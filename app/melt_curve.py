"""How stiff the melt is at each temperature, with its error and the lines that matter."""

from __future__ import annotations

import math
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app.chart_widget import (
    CENTRED,
    FROM_LEFT,
    GAP,
    MARGIN,
    TO_RIGHT,
    Box,
    ChartWidget,
    Round,
    Stroke,
    Tip,
    side_by_side,
    state_words,
)
from app.formatting import decimals
from app.theme import Role
from core.evaluate import Evaluation
from core.melt.sheet import (
    COOLEST_C,
    CURVE_C,
    HOTTEST_C,
    Figure,
    MeltSheet,
    WorkingLine,
    working_lines,
)
from core.telling import domain_words

Floats = NDArray[np.float64]

STIFFEST: Final = 8.0
"""Top of the scale [log10 Pa·s]; its foot is 0."""
OUTSIDE_SIGN: Final = "◆"

_STEP_C: Final = 100.0
_TIGHT: Final = 44.0
"""Least width of a step of temperature that is labelled [px]."""
_DOT: Final = 3.5
_PICK: Final = 12.0
"""Half the side of the square in which hovering finds a dot: targets of 24 px."""
_HOTTEST_KNOWN_C: Final = 3000.0
_FROM_HERE_UP: Final = frozenset({"stiff"})
"""Working lines whose words hold above them; those of the others hold below."""


def meaning(log10_viscosity: float) -> str:
    """Say what a viscosity means at the bench, by the working lines.

    Examples
    --------
    >>> meaning(1.0).partition(":")[0]
    'flows'
    """
    lines = working_lines()
    for line in lines:
        if line.id in _FROM_HERE_UP and log10_viscosity >= line.log10_viscosity:
            return f"{line.name}: {line.says}"
    for line in lines:
        if line.id not in _FROM_HERE_UP and log10_viscosity <= line.log10_viscosity:
            return f"{line.name}: {line.says}"
    under = [line.name for line in lines if line.log10_viscosity < log10_viscosity]
    over = [line.name for line in lines if line.log10_viscosity > log10_viscosity]
    return f"between {under[-1]} and {over[0]}" if under and over else ""


def no_melt_words(evaluation: Evaluation) -> str:
    """Say why there are no figures of a melt."""
    return state_words(evaluation) or "No oxide here has melt data."


class MeltCurve(ChartWidget):
    """Shows the viscosity over temperature, where the firing peaks and what is reached when."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sheet: MeltSheet | None = None
        self._celsius: Floats = CURVE_C
        self._curve: Floats = np.zeros(0)
        self._error: Floats = np.zeros(0)
        self._plot = QRectF()
        self._span = (COOLEST_C, HOTTEST_C)
        self._line_points = QPolygonF()
        self.setAccessibleName(self.tr("Melt curve: viscosity against temperature"))

    @property
    def plot(self) -> QRectF:
        """Where the curve is painted; empty while words stand in its place."""
        self._settle()
        return QRectF(self._plot)

    @property
    def span_c(self) -> tuple[float, float]:
        """Temperatures at the left and the right end [°C]."""
        self._settle()
        return self._span

    @property
    def points(self) -> QPolygonF:
        """The curve on the screen, from cool to hot; empty where it is off the scale."""
        self._settle()
        return QPolygonF(self._line_points)

    def sizeHint(self) -> QSize:
        return QSize(560, 240)

    def minimumSizeHint(self) -> QSize:
        return QSize(320, 140)

    def x_at(self, celsius: float) -> float:
        """Return where a temperature stands on the screen [px]."""
        self._settle()
        low, high = self._span
        return self._plot.left() + self._plot.width() * (celsius - low) / (high - low)

    def y_at(self, log10_viscosity: float) -> float:
        """Return where a viscosity stands on the screen [px]."""
        self._settle()
        return self._plot.bottom() - self._plot.height() * log10_viscosity / STIFFEST

    def tip_at(self, spot: QPointF) -> str:
        said = super().tip_at(spot)
        if said or self._sheet is None or not self._plot.contains(spot):
            return said
        low, high = self._span
        celsius = low + (high - low) * (spot.x() - self._plot.left()) / self._plot.width()
        return self._reading(celsius)

    def _take(self, evaluation: Evaluation) -> None:
        sheet = evaluation.melt
        self._sheet = None
        if sheet is None or not (
            np.isfinite(sheet.curve).all() and np.isfinite(sheet.curve_error).all()
        ):
            return
        self._sheet = sheet
        self._celsius, self._curve, self._error = CURVE_C, sheet.curve, sheet.curve_error
        low, high, peak = COOLEST_C, HOTTEST_C, sheet.peak_c
        if peak is not None:
            low = min(low, _STEP_C * math.floor(peak / _STEP_C))
            high = max(high, _STEP_C * math.ceil(peak / _STEP_C))
            if peak > HOTTEST_C and sheet.log10_viscosity is not None:
                self._celsius = np.append(CURVE_C, peak)
                self._curve = np.append(sheet.curve, sheet.log10_viscosity.value)
                self._error = np.append(sheet.curve_error, sheet.log10_viscosity.error)
        self._span = (low, high)

    def _lay_out(self, evaluation: Evaluation) -> None:
        self._plot, self._line_points = QRectF(), QPolygonF()
        room = QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN)
        sheet = self._sheet
        if sheet is None:
            self._write(room, no_melt_words(evaluation), body=True, wrap=True)
            return
        labels = self._line_labels(sheet)
        advance = self._small_metrics.horizontalAdvance
        line = self._line
        left = room.left() + advance("0") + 2 * GAP
        # The name of the temperature stands under the labels of the lines.
        name = advance(self._temperature_name()) + advance("1400") / 2 + GAP
        rim = max(max(advance(text) for text in labels) + 5 * GAP, name) + GAP
        self._plot = QRectF(
            left, room.top() + line, room.right() - rim - left, room.height() - 2 * line - GAP
        )
        if self._plot.width() < 1 or self._plot.height() < 1:
            self._plot = QRectF()
            return
        self._line_points = self._on_screen()
        self._lay_grid(room)
        self._lay_band()
        self._lay_lines(sheet, labels, room)
        self._lay_peak_line(sheet)
        self._lay_liquidus(sheet)
        self._lay_curve(sheet)
        self._lay_dots(sheet)
        self._lay_head(evaluation, sheet, room)
        self._lay_notes(sheet)

    def _temperature_name(self) -> str:
        return self.tr("temperature, °C")

    def _on_screen(self) -> QPolygonF:
        """Return the part of the curve that lies on the scale."""
        celsius, curve = self._celsius, self._curve
        # The curve falls: between the temperatures of its two ends on the scale it is inside.
        ends = np.interp([-STIFFEST, 0.0], -curve, celsius)
        inside = (curve < STIFFEST) & (curve > 0.0)
        if not inside.any():
            return QPolygonF()
        places = np.concatenate([ends[:1], celsius[inside], ends[1:]])
        keep = np.concatenate([[curve[0] > STIFFEST], inside[inside], [curve[-1] < 0.0]])
        places = places[keep]
        return self._polygon(places, np.interp(places, celsius, curve))

    def _polygon(self, celsius: Floats, log10_viscosity: Floats) -> QPolygonF:
        low, high = self._span
        plot = self._plot
        x = plot.left() + plot.width() * (celsius - low) / (high - low)
        y = plot.bottom() - plot.height() * log10_viscosity / STIFFEST
        return QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)])

    def _lay_grid(self, room: QRectF) -> None:
        plot, line = self._plot, self._line
        pale = self._ink(Role.EDGE, 0.16)
        low, high = self._span
        steps = round((high - low) / _STEP_C)
        every = math.ceil(_TIGHT / (plot.width() / steps))
        width = self._small_metrics.horizontalAdvance("0000") + 2
        for i in range(0, steps + 1):
            celsius = low + i * _STEP_C
            x = self.x_at(celsius)
            # Whole pixels are painted many times faster than smoothed lines.
            self._marks.append(Box(QRectF(round(x), plot.top(), 1, plot.height()), pale))
            if i % every == 0:
                rect = QRectF(x - width / 2, plot.bottom() + GAP, width, line)
                self._write(rect, f"{celsius:.0f}", Role.MUTED)
        step = 1 if plot.height() >= STIFFEST * line * 1.25 else 2
        for value in range(0, int(STIFFEST) + 1, step):
            y = self.y_at(value)
            self._marks.append(Box(QRectF(plot.left(), round(y), plot.width(), 1), pale))
            rect = QRectF(room.left(), y - line / 2, plot.left() - GAP - room.left(), line)
            self._write(rect, str(value), Role.MUTED, TO_RIGHT)
        axis = QPen(self._ink(Role.EDGE), 1.2)
        corner = [plot.topLeft(), plot.bottomLeft(), plot.bottomRight()]
        self._marks.append(Stroke(QPolygonF(corner), axis))
        foot = QRectF(plot.right(), plot.bottom() + GAP, room.right() - plot.right(), line)
        self._write(foot, self._temperature_name(), Role.MUTED, TO_RIGHT)

    def _lay_band(self) -> None:
        upper = np.clip(self._curve + self._error, 0.0, STIFFEST)
        lower = np.clip(self._curve - self._error, 0.0, STIFFEST)
        around = self._polygon(
            np.concatenate([self._celsius, self._celsius[::-1]]),
            np.concatenate([upper, lower[::-1]]),
        )
        self._marks.append(Stroke(around, QPen(Qt.PenStyle.NoPen), self._ink(Role.ACCENT, 0.18)))

    def _line_labels(self, sheet: MeltSheet) -> list[str]:
        return [f"{line.name} {_reached(celsius)}" for line, celsius in sheet.reached_c]

    def _lay_lines(self, sheet: MeltSheet, labels: list[str], room: QRectF) -> None:
        plot, high = self._plot, self._line - 1
        pen = QPen(self._ink(Role.EDGE, 0.75), 1.0)
        lines = [line for line, _ in sheet.reached_c]
        heights = [self.y_at(line.log10_viscosity) for line in lines]
        downward = sorted(range(len(lines)), key=heights.__getitem__)
        tops = side_by_side(
            [heights[i] for i in downward],
            [high] * len(lines),
            room.top(),
            plot.bottom(),
            0.0,
        )
        for place, i in enumerate(downward):
            y = heights[i]
            top = y - high / 2 if tops is None else tops[place]
            elbow = _at(plot.right() + 3 * GAP, top + high / 2)
            shape = [_at(plot.left(), y), _at(plot.right() + 2, y), elbow]
            self._marks.append(Stroke(QPolygonF(shape), pen))
            label = QRectF(elbow.x() + GAP, top, room.right() - elbow.x() - GAP, high)
            self._write(label, labels[i], Role.INK, FROM_LEFT)
            self._tips.append(Tip(label, partial(self._line_words, lines[i])))

    def _line_words(self, line: WorkingLine) -> str:
        return self.tr("{} (log₁₀ {:.1f} Pa·s): {}\nSource: {}").format(
            line.name, line.log10_viscosity, line.says, line.source
        )

    def _lay_liquidus(self, sheet: MeltSheet) -> None:
        figure, plot = sheet.liquidus_c, self._plot
        if figure is None:
            return
        low, high = self._span
        x = self.x_at(figure.value)
        ends = [
            self.x_at(min(max(figure.value + sign * figure.error, low), high)) for sign in (-1, 1)
        ]
        text = self.tr("liquidus {:.0f} ± {:.0f} °C").format(figure.value, figure.error)
        ink = self._ink(Role.INK)
        foot = plot.bottom()
        if ends[1] > ends[0]:
            span = QRectF(ends[0], foot - 4, ends[1] - ends[0], 4)
            self._marks.append(Box(span, self._ink(Role.INK, 0.35)))
        if low <= figure.value <= high:
            tick = QPolygonF([_at(x, foot + 4), _at(x, foot - 10)])
            self._marks.append(Stroke(tick, QPen(ink, 2)))
        elif figure.value > high:
            text += " →"
        else:
            text = "← " + text
        width = self._small_metrics.horizontalAdvance(text) + 2
        top = foot - self._line - 2
        places = [
            QRectF(ends[0] - GAP - width, top, width, self._line),
            QRectF(ends[1] + GAP, top, width, self._line),
        ]
        inside = [p for p in places if p.left() >= plot.left() + 2 and p.right() <= plot.right()]
        clear = [p for p in inside if not self._meets_curve(p)]
        peak = None if sheet.peak_c is None else self.x_at(sheet.peak_c)
        clear.sort(key=lambda p: peak is not None and p.left() - 2 <= peak <= p.right() + 2)
        # Where the curve leaves no room the words stay off; hovering says them.
        if clear:
            self._marks.append(Box(clear[0], self._ink(Role.HALO, 0.9)))
            self._write(clear[0], text, Role.INK, FROM_LEFT)
        about = QRectF(ends[0], foot - _PICK, ends[1] - ends[0], 2 * _PICK)
        self._tips.append(Tip(about, partial(self._liquidus_words, figure)))

    def _liquidus_words(self, figure: Figure) -> str:
        return self.tr(
            "Liquidus {:.0f} ± {:.0f} °C: below it crystals can grow if the melt is given time"
        ).format(figure.value, figure.error)

    def _meets_curve(self, rect: QRectF) -> bool:
        """Whether a rectangle runs into the curve or its band."""
        low, high = self._span
        scale = (high - low) / self._plot.width()
        sides = low + scale * (np.array([rect.left(), rect.right()]) - self._plot.left())
        if sides[0] > self._celsius[-1] or sides[1] < self._celsius[0]:
            return False
        # The curve falls, so it is highest at the left side and lowest at the right.
        curve = np.interp(sides, self._celsius, self._curve)
        error = np.interp(sides, self._celsius, self._error)
        top, foot = self.y_at(float(curve[0] + error[0])), self.y_at(float(curve[1] - error[1]))
        return bool(top < rect.bottom() + 2 and foot > rect.top() - 2)

    def _lay_peak_line(self, sheet: MeltSheet) -> None:
        if sheet.peak_c is None:
            return
        x = self.x_at(sheet.peak_c)
        pen = QPen(self._ink(Role.INK), 1.4)
        shape = QPolygonF([_at(x, self._plot.top() - 2), _at(x, self._plot.bottom())])
        self._marks.append(Stroke(shape, pen))

    def _lay_curve(self, sheet: MeltSheet) -> None:
        if self._line_points.isEmpty():
            return
        style = Qt.PenStyle.SolidLine if sheet.inside_domain else Qt.PenStyle.DashLine
        self._marks.append(Stroke(self._line_points, QPen(self._ink(Role.ACCENT), 2.2, style)))

    def _lay_dots(self, sheet: MeltSheet) -> None:
        low, high = float(self._celsius[0]), float(self._celsius[-1])
        for line, celsius in sheet.reached_c:
            if low <= celsius <= high:
                words = self.tr("{} at {}").format(line.name, _reached(celsius))
                said = f"{words}\n{self._line_words(line)}"
                self._dot(celsius, line.log10_viscosity, Role.EDGE, said)
        eta = sheet.log10_viscosity
        if sheet.peak_c is not None and eta is not None and 0 <= eta.value <= STIFFEST:
            self._dot(sheet.peak_c, eta.value, Role.ACCENT, self._reading(sheet.peak_c))

    def _dot(self, celsius: float, log10_viscosity: float, role: Role, said: str) -> None:
        spot = _at(self.x_at(celsius), self.y_at(log10_viscosity))
        larger = 1.5 if role is Role.ACCENT else 0.0
        self._marks.append(Round(spot, _DOT + larger + 1.5, self._ink(Role.HALO)))
        self._marks.append(Round(spot, _DOT + larger, self._ink(role)))
        around = QRectF(spot.x() - _PICK / 2, spot.y() - _PICK / 2, _PICK, _PICK)
        self._tips.append(Tip(around, partial(str, said)))

    def _lay_head(self, evaluation: Evaluation, sheet: MeltSheet, room: QRectF) -> None:
        """Write over the plot what the scale is, the firing's peak, and what is missing."""
        line, advance = self._line, self._small_metrics.horizontalAdvance
        name = self.tr("viscosity, log₁₀ Pa·s")
        title = QRectF(room.left(), room.top() - 2, advance(name) + 2, line)
        self._write(title, name, Role.MUTED, FROM_LEFT)
        right = room.right()
        if evaluation.missing:
            note = self.tr("incomplete")
            rect = QRectF(right - advance(note) - 2, title.top(), advance(note) + 2, line)
            self._write(rect, note, Role.MUTED, TO_RIGHT)
            right = rect.left() - GAP
        if sheet.peak_c is None:
            return
        text = self.tr("peak {:.0f} °C").format(sheet.peak_c)
        if sheet.log10_viscosity is not None:
            text += f"   {_with_error(sheet.log10_viscosity)}"
        width = advance(text) + 2
        middle = self.x_at(sheet.peak_c)
        start = max(min(middle - width / 2, right - width), title.right() + 2 * GAP)
        rect = QRectF(start, title.top(), min(width, right - start), line)
        self._write(rect, text, Role.ACCENT, CENTRED)
        self._tips.append(Tip(rect, partial(self._reading, sheet.peak_c)))

    def _lay_notes(self, sheet: MeltSheet) -> None:
        words = domain_words(sheet)
        notes = [f"{OUTSIDE_SIGN} {words}"] if words else []
        if self._line_points.isEmpty():
            notes.append(
                self.tr("Stiffer here than the chart shows.")
                if self._curve[-1] >= STIFFEST
                else self.tr("More fluid here than the chart shows.")
            )
        if notes:
            self._lay_note(" ".join(notes))

    def _lay_note(self, text: str) -> None:
        """Write a note where the curve leaves room: over it at the right, or under it."""
        plot = self._plot
        flags = Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap
        found: list[QRectF] = []
        for share in (0.36, 0.48, 0.6, 0.75, 0.96):
            width = plot.width() * share - 2 * GAP
            tall = QRectF(0, 0, width, plot.height())
            size = self._small_metrics.boundingRect(tall, flags.value, text)
            box = QRectF(0, 0, size.width() + 4, size.height() + 2)
            for where in (
                _at(plot.right() - box.width() - GAP, plot.top() + GAP),
                _at(plot.left() + GAP, plot.bottom() - box.height() - self._line - GAP),
            ):
                box = QRectF(where, box.size())
                if plot.contains(box):
                    found.append(box)
        if not found:
            found = [plot.adjusted(GAP, GAP, -GAP, -GAP)]
        box = next((b for b in found if not self._meets_curve(b)), found[0])
        self._marks.append(Box(box.adjusted(-2, -1, 2, 1), self._ink(Role.HALO, 0.9)))
        align = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
        self._write(box, text, Role.LOOK, align, wrap=True)

    def _reading(self, celsius: float) -> str:
        if self._sheet is None or not self._celsius[0] <= celsius <= self._celsius[-1]:
            return self.tr("{:.0f} °C: beyond the curve").format(celsius)
        value = float(np.interp(celsius, self._celsius, self._curve))
        error = float(np.interp(celsius, self._celsius, self._error))
        text = self.tr("{:.0f} °C: log₁₀ viscosity {} Pa·s").format(
            celsius, _with_error(Figure(value, error))
        )
        said = meaning(value)
        if said:
            text += f"\n{said}"
        words = domain_words(self._sheet)
        return f"{text}\n{words}" if words else text

    def _in_words(self, evaluation: Evaluation) -> str:
        sheet = self._sheet
        if sheet is None:
            return no_melt_words(evaluation)
        said = []
        if sheet.peak_c is not None and sheet.log10_viscosity is not None:
            eta = sheet.log10_viscosity
            said.append(
                self.tr("At the peak of {:.0f} °C the log10 viscosity is {} ± {} Pa·s").format(
                    sheet.peak_c, decimals(eta.value), decimals(eta.error)
                )
            )
            if meaning(eta.value):
                said[-1] += f" ({meaning(eta.value)})"
        else:
            said.append(self.tr("The firing has no peak"))
        said += [
            self.tr("{} (log10 {:.1f}) at {}").format(
                line.name, line.log10_viscosity, _reached(celsius)
            )
            for line, celsius in sheet.reached_c
        ]
        if sheet.liquidus_c is not None:
            said.append(
                self.tr("Liquidus {:.0f} ± {:.0f} °C").format(
                    sheet.liquidus_c.value, sheet.liquidus_c.error
                )
            )
        return f"{'. '.join(said)}. {domain_words(sheet)}".rstrip()


def _reached(celsius: float) -> str:
    if celsius >= _HOTTEST_KNOWN_C:
        return f"above {_HOTTEST_KNOWN_C:.0f} °C"
    return f"{celsius:.0f} °C"


def _with_error(figure: Figure) -> str:
    return f"{decimals(figure.value, 1)} ± {decimals(figure.error, 1)}"


def _at(x: float, y: float) -> QPointF:
    return QPointF(x, y)
