"""The chart of a firing: temperature over time and what the glaze does on it."""

from __future__ import annotations

import bisect
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app.chart_widget import (
    CENTRED,
    FROM_LEFT,
    GAP,
    MARGIN,
    TO_RIGHT,
    Box,
    Round,
    Stroke,
    Tip,
    mixed,
    side_by_side,
)
from app.firing_words import FiringWords
from app.theme import Role
from core.evaluate import Evaluation
from core.firing import FiringCurve, FiringSheet
from core.melt.along_firing import Level, cooling_side

PICK: Final = 12.0
"""Half the side of the square in which a mark is found: targets of 24 px."""

_MOST_WIDTHS: Final = 300
_HOUR_STEPS: Final = (0.5, 1.0, 2.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0, 240.0)
_DEGREE_STEPS: Final = (100.0, 200.0, 500.0, 1000.0, 2000.0)
_SEEN: Final = 6.0
"""A bend is painted in pieces at least so wide [px]."""
_BEYOND: Final = (20.0, 32.0, 48.0, 72.0, 104.0, 144.0)
"""So far from the curve the column of labels may stand [px]."""
_KEY_ORDER: Final = ("heals", "flows", "stiff")
"""Which working lines keep their label longest where there is little room."""


@dataclass(frozen=True, slots=True)
class Ruled:
    """A shape with a tint and upright lines in it."""

    shape: QPolygonF
    ground: QColor
    ruling: QColor

    def paint(self, painter: QPainter) -> None:
        # Smooth edges and drawn lines would take many times as long as a brush on whole pixels.
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(Qt.PenStyle.NoPen)
        for brush in (QBrush(self.ground), QBrush(self.ruling, Qt.BrushStyle.VerPattern)):
            painter.setBrush(brush)
            painter.drawPolygon(self.shape)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)


class FiringChart(FiringWords):
    """Paints the curve, the levels of the melt, the crystals' window and their labels."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plot = QRectF()
        self._span_h, self._top_c = 1.0, 1.0
        self._left, self._foot = 0.0, 0.0
        self._px_per_h, self._px_per_c = 1.0, 1.0
        self._placed: list[QRectF] = []
        self._shapes: list[tuple[list[float], list[float]]] = []
        self.setAccessibleName(self.tr("Firing: temperature over time"))

    @property
    def plot(self) -> QRectF:
        """Where the curve is painted; empty while words stand in its place."""
        self._settle()
        return QRectF(self._plot)

    def sizeHint(self) -> QSize:
        return QSize(640, 190)

    def minimumSizeHint(self) -> QSize:
        return QSize(320, 130)

    def x_at(self, hours: float) -> float:
        """Return where a time stands on the screen [px]."""
        self._settle()
        return self._x(hours)

    def y_at(self, celsius: float) -> float:
        """Return where a temperature stands on the screen [px]."""
        self._settle()
        return self._y(celsius)

    def hour_at(self, x: float) -> float:
        """Return the time at a place on the screen [h]."""
        self._settle()
        return self._hour(x)

    def _lay_out(self, evaluation: Evaluation) -> None:
        self._plot, self._placed, self._shapes = QRectF(), [], []
        room = QRectF(self.rect()).adjusted(MARGIN, GAP, -MARGIN, -GAP)
        heat = self._heat
        if heat is None:
            self._write(room, self._empty_words(evaluation), body=True, wrap=True)
            return
        advance, line = self._wide, self._line
        left = room.left() + max(advance("0000"), advance(self._degrees(0.0))) + GAP
        foot = room.bottom() - line
        plot = QRectF(left, room.top() + line, 0.0, 0.0)
        plot.setBottomRight(QPointF(room.right() - GAP, foot))
        if plot.width() < 40 or plot.height() < 20:
            return
        self._plot = plot
        self._scale(heat)
        self._shapes = [
            (c.hours.tolist(), c.temperatures_c.tolist())
            for c in ([heat.curve] if heat.felt is heat.curve else [heat.curve, heat.felt])
        ]
        self._lay_grid(room)
        self._lay_window()
        for level in self._levels:
            y = round(self._y(level.celsius))
            begin, end = self._x(level.first_h), self._x(level.last_h)
            chord = QRectF(begin, y, end - begin, 1)
            self._marks.append(Box(chord, self._ink(Role.EDGE, 0.8)))
            around = chord.adjusted(-GAP, -5, GAP, 5)
            self._tips.append(Tip(around, partial(self._level_words, level)))
        self._lay_curves(heat)
        self._keep_clear(heat)
        self._lay_labels(heat)
        self._lay_head(heat, room)
        self._lay_over(heat)

    def _set_fonts(self) -> None:
        super()._set_fonts()
        self._widths: dict[str, float] = {}

    def _wide(self, text: str) -> float:
        """Width of a small text; most stay the same from one layout to the next."""
        width = self._widths.get(text)
        if width is None:
            if len(self._widths) >= _MOST_WIDTHS:
                self._widths.clear()
            width = self._widths[text] = self._small_metrics.horizontalAdvance(text)
        return width

    def _x(self, hours: float) -> float:
        return self._left + self._px_per_h * hours

    def _y(self, celsius: float) -> float:
        return self._foot - self._px_per_c * celsius

    def _hour(self, x: float) -> float:
        return (x - self._left) / self._px_per_h

    def _scale(self, heat: FiringSheet) -> None:
        plot = self._plot
        hottest = max(heat.curve.peak_c, heat.felt.peak_c)
        roomy = plot.height() >= 8 * self._line
        free = self._line + 10 if roomy else 9.0
        hours = max(heat.curve.total_hours, 0.1)
        top = max(hottest, 1.0) / (1.0 - free / plot.height())
        if self._scale_stands():
            hours, top = max(hours, self._span_h), max(top, self._top_c)
        self._span_h, self._top_c = hours, top
        self._left, self._foot = plot.left(), plot.bottom()
        self._px_per_h, self._px_per_c = plot.width() / hours, plot.height() / top

    def _lay_grid(self, room: QRectF) -> None:
        plot, line = self._plot, self._line
        # Opaque: an upright line that lets the ground through takes ten times as long.
        pale = mixed(self._ink(Role.EDGE), self._ink(Role.PAPER), 0.14)
        px_per_h = plot.width() / self._span_h
        step = next((s for s in _HOUR_STEPS if s * px_per_h >= 56.0), _HOUR_STEPS[-1])
        count = int(self._span_h / step + 1e-9)
        digit = self._wide("0")
        for i in range(count + 1):
            x = self._x(i * step)
            if i:
                # Whole pixels are painted many times faster than smoothed lines.
                self._marks.append(Box(QRectF(round(x), plot.top(), 1, plot.height()), pale))
            text = f"{i * step:g} h" if i == count else f"{i * step:g}"
            width = digit * len(text) + 4
            begin = min(x - width / 2, room.right() + GAP - width)
            self._write(QRectF(begin, plot.bottom() + 1, width, line - 1), text, Role.MUTED)
        per_degree = plot.height() / self._degree(self._top_c, difference=True)
        floor = self._degree(0.0)
        step = next((s for s in _DEGREE_STEPS if s * per_degree >= 1.75 * line), _DEGREE_STEPS[-1])
        first = math.floor(floor / step) + 1
        values = [floor]
        for i in range(first, int(self._degree(self._top_c) / step) + 1):
            if (i * step - floor) * per_degree >= line:
                values.append(i * step)
        for value in values:
            y = plot.bottom() - (value - floor) * per_degree
            if value != floor:
                self._marks.append(Box(QRectF(plot.left(), round(y), plot.width(), 1), pale))
            text = self._degrees(0.0) if value == floor else f"{value:.0f}"
            top = min(max(y - line / 2, plot.top() - 2), plot.bottom() - line + 3)
            width = plot.left() - GAP - room.left() + 2
            self._write(QRectF(room.left() - 2, top, width, line), text, Role.MUTED, TO_RIGHT)
        axis = QPen(self._ink(Role.EDGE), 1.2)
        corner = [plot.topLeft(), plot.bottomLeft(), plot.bottomRight()]
        self._marks.append(Stroke(QPolygonF(corner), axis))

    def _lay_window(self) -> None:
        if self._cooling is None or self._window is None:
            return
        plot = self._plot
        ground, ruling = self._ink(Role.EDGE, 0.14), self._ink(Role.EDGE, 0.45)
        hours = self._cooling.hours
        for begin, end in self._window_spans:
            inside = hours[(hours > begin) & (hours < end)].tolist()
            times = [begin, *inside, end]
            over = [
                QPointF(self._x(h), self._y(c))
                for h, c in zip(times, self._cooling.temperature_at(times).tolist(), strict=True)
            ]
            left, right = over[0].x(), over[-1].x()
            shape = [QPointF(left, plot.bottom()), *over, QPointF(right, plot.bottom())]
            self._marks.append(Ruled(QPolygonF(shape), ground, ruling))
            top = min(spot.y() for spot in over)
            band = QRectF(left, top, right - left, plot.bottom() - top)
            self._tips.append(Tip(band, self._window_words))

    def _lay_curves(self, heat: FiringSheet) -> None:
        if heat.felt is not heat.curve:
            pen = QPen(self._ink(Role.INK), 1.0, Qt.PenStyle.DashLine)
            self._marks.append(Stroke(self._polygon(heat.felt, heat), pen))
        accent = self._ink(Role.ACCENT)
        self._marks.append(Stroke(self._polygon(heat.curve, heat), QPen(accent, 2.2)))
        for row, (segment, span) in enumerate(
            zip(heat.firing.segments, heat.spans, strict=True), start=1
        ):
            if segment.hold_min:
                begin, end, y = self._x(span.reached_h), self._x(span.end_h), 0.0
                y = self._y(span.end_c)
                bar = QRectF(begin, y - 2, end - begin, 4)
                self._marks.append(Box(bar, accent))
                wide = max(PICK - bar.width() / 2, 0.0)
                around = bar.adjusted(-wide, 2 - PICK, wide, PICK - 2)
                said = partial(self._hold_words, row, segment.hold_min, span.end_c)
                self._tips.append(Tip(around, said))
        spot = self._peak_spot(heat)
        self._marks.append(Round(spot, 5.0, self._ink(Role.HALO)))
        self._marks.append(Round(spot, 3.5, accent))
        around = QRectF(spot.x() - PICK, spot.y() - PICK, 2 * PICK, 2 * PICK)
        self._tips.append(Tip(around, partial(self._peak_words, heat)))

    def _polygon(self, curve: FiringCurve, heat: FiringSheet) -> QPolygonF:
        """Return a curve on the screen; of a bend in many pieces, as many as are seen."""
        corners = {hour for span in heat.spans for hour in (span.reached_h, span.end_h)}
        points, last = [], -math.inf
        for hour, celsius in zip(curve.hours.tolist(), curve.temperatures_c.tolist(), strict=True):
            x = self._x(hour)
            if x - last >= _SEEN or hour in corners:
                points.append(QPointF(x, self._y(celsius)))
                last = x
        return QPolygonF(points)

    def _peak_spot(self, heat: FiringSheet) -> QPointF:
        hottest = int(heat.curve.temperatures_c.argmax())
        return QPointF(self._x(float(heat.curve.hours[hottest])), self._y(heat.curve.peak_c))

    def _keep_clear(self, heat: FiringSheet) -> None:
        """Add to `_placed` what no label may cover; may be overridden."""

    def _lay_over(self, heat: FiringSheet) -> None:
        """Lay marks over everything else; may be overridden."""

    def _scale_stands(self) -> bool:
        """Tell whether the scale may only grow now; may be overridden."""
        return False

    # Labels: each takes the first of its places that is free.

    def _lay_labels(self, heat: FiringSheet) -> None:
        line = self._line
        peak = self._peak_spot(heat)
        plain = self._degrees(heat.curve.peak_c)
        high = line - 1
        over = peak.y() - 7 - high
        # The hold of the peak is said with it: there is one place above both.
        soak = next(
            (
                segment.hold_min
                for segment, span in zip(heat.firing.segments, heat.spans, strict=True)
                if span.end_c == heat.curve.peak_c
            ),
            0.0,
        )
        soaked = self.tr("{}, {:g} min").format(plain, soak)
        for text in (soaked, plain) if soak else (plain,):
            width = self._wide(text) + 2
            places = [
                QRectF(peak.x() - width / 2, over, width, high),
                QRectF(peak.x() - width - 8, over, width, high),
                QRectF(peak.x() - width - 10, peak.y() - high / 2, width, high),
                QRectF(peak.x() + 10, peak.y() - high / 2, width, high),
            ]
            if self._place(text, places, Role.ACCENT) is not None:
                break
        self._lay_level_labels()
        self._lay_window_label()
        for segment, span in zip(heat.firing.segments, heat.spans, strict=True):
            if not segment.hold_min or span.end_c == heat.curve.peak_c:
                continue
            text = self.tr("{:g} min").format(segment.hold_min)
            width = self._wide(text) + 2
            begin, end, y = self._x(span.reached_h), self._x(span.end_h), self._y(span.end_c)
            middle = (begin + end) / 2
            places = [
                QRectF(middle - width / 2, y - 8 - high, width, high),
                QRectF(middle - width / 2, y + 8, width, high),
                QRectF(begin - width, y - 8 - high, width, high),
                QRectF(end, y + 8, width, high),
                QRectF(middle - width / 2, y + 18, width, high),
                QRectF(end + 8, y - high - 1, width, high),
                QRectF(begin - width - 8, y - high - 1, width, high),
            ]
            self._place(text, places, Role.INK)
        if heat.felt is not heat.curve:
            self._lay_felt_label(heat)

    def _lay_felt_label(self, heat: FiringSheet) -> None:
        text = self._felt_name(heat)
        width, high = self._wide(text) + 2, self._line - 1
        cooling = cooling_side(heat.felt)
        times = np.linspace(cooling.hours[0], cooling.hours[-1], 9)[1:-1]
        places = [
            QRectF(self._x(h) + 6, self._y(c) - high - 4, width, high)
            for h, c in zip(times.tolist(), cooling.temperature_at(times).tolist(), strict=True)
        ]
        times = np.linspace(0.0, cooling.hours[0], 7)[1:-1]
        places += [
            QRectF(self._x(h) - width - 6, self._y(c) - high - 4, width, high)
            for h, c in zip(times.tolist(), heat.felt.temperature_at(times).tolist(), strict=True)
        ]
        placed = self._place(text, places, Role.INK)
        if placed is not None:
            self._tips.append(Tip(placed, partial(self._local_words, heat)))

    def _lay_level_labels(self) -> None:
        """Label the levels in one column at the right of the cooling, or left of the heating."""
        order = [level for key in _KEY_ORDER for level in self._levels if level.line.id == key]
        order += [level for level in self._levels if level not in order]
        for count in range(len(order), 0, -1):
            # Hottest first: the labels stand as their levels do.
            levels = sorted(order[:count], key=lambda level: -level.celsius)
            for short in (False, True):
                texts = [self._level_text(level, short) for level in levels]
                if self._lay_column(levels, texts):
                    return

    def _lay_column(self, levels: Sequence[Level], texts: Sequence[str]) -> bool:
        plot, high = self._plot, self._line - 1
        heights = [self._y(level.celsius) for level in levels]
        tops = side_by_side(heights, [high] * len(levels), plot.top(), plot.bottom(), 0.0)
        if tops is None:
            return False
        width = max(self._wide(text) for text in texts) + 2
        ends = max(self._x(level.last_h) for level in levels)
        begins = min(self._x(level.first_h) for level in levels)
        columns = [(True, ends + beyond) for beyond in _BEYOND]
        columns.append((True, plot.right() - width - GAP))
        columns += [(False, begins - beyond - width) for beyond in _BEYOND]
        columns.append((False, plot.left() + 2 * GAP))
        for right, left in columns:
            rects = [QRectF(left, top, width, high) for top in tops]
            if not all(self._is_free(rect) for rect in rects):
                continue
            for level, text, rect, y in zip(levels, texts, rects, heights, strict=True):
                near, far = rect.left() - 3, self._x(level.last_h)
                if not right:
                    near, far = rect.right() + 3, self._x(level.first_h)
                bend = near - 2 * GAP if right else near + 2 * GAP
                middle = rect.center().y()
                elbow = [QPointF(far, y), QPointF(bend, y), QPointF(near, middle)]
                pen = QPen(self._ink(Role.EDGE, 0.8), 1.0)
                self._marks.append(Stroke(QPolygonF(elbow), pen))
                self._put(text, rect, Role.INK, FROM_LEFT if right else TO_RIGHT)
                self._tips.append(Tip(rect, partial(self._level_words, level)))
            return True
        return False

    def _lay_window_label(self) -> None:
        if not self._window_spans:
            return
        plot, high = self._plot, self._line - 1
        long = max(self._window_spans, key=lambda span: span[1] - span[0])
        left, right = self._x(long[0]), self._x(long[1])
        for text in (
            self.tr("crystals grow, {:.1f} h").format(self._window_hours),
            self.tr("crystals {:.1f} h").format(self._window_hours),
        ):
            width = self._wide(text) + 2
            middle = (left + right - width) / 2
            beside = [left - width - 3, right + 3]
            # Words that are wider than the band would hide it.
            starts = [middle, *beside] if width + 6 <= right - left else [*beside, middle]
            places = [
                QRectF(x, plot.bottom() - up - high, width, high)
                for x in starts
                for up in (plot.height() * 0.3, 3.0)
            ]
            placed = self._place(text, places, Role.INK)
            if placed is not None:
                self._tips.append(Tip(placed, self._window_words))
                return

    def _place(self, text: str, places: Sequence[QRectF], role: Role) -> QRectF | None:
        """Write a text in the first place that is free; where none is, hovering says it."""
        for rect in places:
            if self._is_free(rect):
                self._put(text, rect, role, CENTRED)
                return rect
        return None

    def _put(self, text: str, rect: QRectF, role: Role, align: Qt.AlignmentFlag) -> None:
        self._marks.append(Box(rect.adjusted(-1, 0, 1, 0), self._ink(Role.HALO, 0.85)))
        self._write(rect, text, role, align)
        self._placed.append(rect)

    def _is_free(self, rect: QRectF) -> bool:
        roomy = self._plot.adjusted(2, -1, 2, 0)
        if not roomy.contains(rect) or any(rect.intersects(other) for other in self._placed):
            return False
        return not any(self._meets(rect, hours, celsius) for hours, celsius in self._shapes)

    def _meets(self, rect: QRectF, hours: list[float], celsius: list[float]) -> bool:
        """Whether a rectangle runs into a curve."""
        begin, end = self._hour(rect.left() - 3), self._hour(rect.right() + 3)
        if end < hours[0] or begin > hours[-1]:
            return False
        first, last = bisect.bisect_right(hours, begin), bisect.bisect_left(hours, end)
        sides = [_along(hours, celsius, hour) for hour in (begin, end)]
        passed = celsius[first:last] + sides
        return self._y(max(passed)) < rect.bottom() + 3 and self._y(min(passed)) > (rect.top() - 3)

    def _lay_head(self, heat: FiringSheet, room: QRectF) -> None:
        """Write over the plot what the firing comes to, as much as there is room for."""
        items = [
            (self._cone_text(heat), Role.INK, partial(self._cone_words, heat)),
            (
                self.tr("peak {}").format(self._degrees(heat.curve.peak_c)),
                Role.ACCENT,
                partial(self._peak_words, heat),
            ),
        ]
        if heat.local is not None:
            items.append((self._local_text(heat), Role.INK, partial(self._local_words, heat)))
        total = self.tr("{:.1f} h").format(heat.curve.total_hours)
        items.append((total, Role.MUTED, partial(self._total_words, heat)))
        left = room.left()
        for text, role, say in items:
            width = self._wide(text) + 2
            if left + width > room.right():
                continue
            rect = QRectF(left, room.top() - 2, width, self._line)
            self._write(rect, text, role, FROM_LEFT)
            self._tips.append(Tip(rect, say))
            left += width + 4 * GAP


def _along(hours: list[float], celsius: list[float], hour: float) -> float:
    """Temperature of a curve at a time; the ends go on level."""
    if hour <= hours[0]:
        return celsius[0]
    if hour >= hours[-1]:
        return celsius[-1]
    i = bisect.bisect_right(hours, hour) - 1
    return celsius[i] + (celsius[i + 1] - celsius[i]) * (hour - hours[i]) / (
        hours[i + 1] - hours[i]
    )
