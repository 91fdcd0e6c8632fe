"""How the cone of one schedule moves from firing to firing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app.chart_widget import (
    FROM_LEFT,
    GAP,
    MARGIN,
    TO_RIGHT,
    Box,
    ChartWidget,
    Round,
    Stroke,
    Tip,
)
from app.formatting import decimals
from app.theme import Role
from core.firing.cones import cones, position_text
from core.firing.log import FEWEST_FIRINGS, Drift, FiringLog, LocalCone, drift, local_cone

_DOT: Final = 4.0
_CAP: Final = 4.0
"""Half the width of the ends of an error bar [px]."""
_PICK: Final = 12.0
"""Half the side of the square in which hovering finds a dot: targets of 24 px."""
_LEAST_SPAN: Final = 1.2
"""Of the scale [cones]: less would make much of little."""
_DAY: Final = len("2031-02-09")


@dataclass(frozen=True, slots=True)
class FiringReading:
    """What the witnesses of one firing say."""

    begun: str
    position: float
    """Mean of its shelves, counting cones from the coldest."""
    error: float
    """One standard error of that [cones]."""
    shelves: tuple[LocalCone, ...]


def firing_readings(
    logs: Sequence[FiringLog], shelf: str | None = None
) -> tuple[list[FiringReading], int]:
    """Read the firings by date.

    Returns
    -------
    (readings, bounded) : (list of FiringReading, int)
        The second counts the firings whose witnesses only bound the cone; the
        drift leaves them out.
    """
    found, bounded = [], 0
    for log in sorted(logs, key=lambda one: one.begun):
        shelves = [local_cone(log, name) for name in log.shelves() if shelf in (None, name)]
        read = tuple(one for one in shelves if one is not None and not one.bound)
        if read:
            mean = sum(one.position for one in read) / len(read)
            error = math.sqrt(sum(one.uncertainty**2 for one in read)) / len(read)
            found.append(FiringReading(log.begun, mean, error, read))
        elif any(shelves):
            bounded += 1
    return found, bounded


class DriftChart(ChartWidget):
    """Charts the local cone over firings; waits for five of them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._readings: list[FiringReading] = []
        self._bounded = 0
        self._drift: Drift | None = None
        self._shelf: str | None = None
        self._plot = QRectF()
        self._span = (0.0, 1.0)
        self.setAccessibleName(self.tr("Drift: local cone over firings"))
        self.show_logs((), None)

    def show_logs(self, logs: Sequence[FiringLog], shelf: str | None) -> None:
        """Show the logs of one schedule on one shelf; None takes the mean of the shelves.

        The logs must have been checked, as those of a firing are.
        """
        self._shelf = shelf
        self._readings, self._bounded = firing_readings(logs, shelf)
        self._drift = drift(logs, shelf)
        said = self._described()
        if said != self.accessibleDescription():
            self.setAccessibleDescription(said)
        self.refresh()

    @property
    def words(self) -> str:
        """The drift in words, or how many readings are still needed."""
        found = self._drift
        if found is None:
            return self._waiting()
        slope = decimals(found.slope, 2).replace("-", "−")
        return self.tr("drift {} ± {} cone per firing over {} firings").format(
            slope, decimals(found.slope_error, 2), len(found.positions)
        )

    def x_at(self, firing: int) -> float:
        """Return where a firing stands on the screen, counted from 0 [px]."""
        self._settle()
        return self._plot.left() + self._plot.width() * (firing + 0.5) / len(self._readings)

    def y_at(self, position: float) -> float:
        """Return where a place in the series of cones stands on the screen [px]."""
        self._settle()
        low, high = self._span
        return self._plot.bottom() - self._plot.height() * (position - low) / (high - low)

    def sizeHint(self) -> QSize:
        return QSize(560, 200)

    def minimumSizeHint(self) -> QSize:
        return QSize(320, 120)

    def _settle(self) -> None:
        # This chart shows logs, not an evaluation.
        if not self._stale:
            return
        self._stale = False
        self._marks, self._tips = [], []
        self._plot = QRectF()
        if not self.rect().isEmpty():
            self._lay_out_logs(QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN))

    def _lay_out_logs(self, room: QRectF) -> None:
        found = self._drift
        if found is None:
            self._write(room, self._waiting(), Role.INK, body=True, wrap=True)
            return
        line, advance = self._line, self._small_metrics.horizontalAdvance
        self._span = _span_of(self._readings)
        names = max(advance(_cone_text(place)) for place in range(len(cones())))
        left = room.left() + names + 2 * GAP
        # Half a line more: the name of the highest cone may reach over the plot.
        top = room.top() + 1.5 * line
        width = room.right() - left
        # The date of the newest firing stands wholly under its dot.
        width -= max(self._dates_width() - width / len(self._readings), 0.0) / 2
        self._plot = QRectF(left, top, width, room.bottom() - line - 2 * GAP - top)
        if self._plot.width() < 1 or self._plot.height() < 1:
            self._plot = QRectF()
            return
        self._lay_cones(room)
        self._lay_dates()
        self._lay_line(found)
        self._lay_readings()
        self._lay_head(room)

    def _lay_cones(self, room: QRectF) -> None:
        plot, line = self._plot, self._line
        low, high = self._span
        per_cone = plot.height() / (high - low)
        every = max(math.ceil(line / per_cone), 1)
        for place in range(max(math.ceil(low), 0), min(math.floor(high), len(cones()) - 1) + 1):
            if place % every:
                continue
            y = self.y_at(place)
            grid = QRectF(plot.left(), round(y), plot.width(), 1)
            self._marks.append(Box(grid, self._ink(Role.EDGE, 0.3)))
            label = QRectF(room.left(), y - line / 2, plot.left() - GAP - room.left(), line)
            self._write(label, _cone_text(place), Role.MUTED, TO_RIGHT)
        axis = QPolygonF([plot.topLeft(), plot.bottomLeft(), plot.bottomRight()])
        self._marks.append(Stroke(axis, QPen(self._ink(Role.EDGE), 1.2)))

    def _lay_dates(self) -> None:
        plot = self._plot
        texts = self._dates()
        width = self._dates_width()
        every = math.ceil((width + 2 * GAP) / (plot.width() / len(texts)))
        # Counted back from the newest, whose date is asked for most.
        for number in range(len(texts) - 1, -1, -every):
            x = self.x_at(number)
            self._marks.append(Box(QRectF(round(x), plot.bottom(), 1, GAP), self._ink(Role.EDGE)))
            if x - width / 2 >= plot.left():
                rect = QRectF(x - width / 2, plot.bottom() + GAP + 2, width, self._line)
                self._write(rect, texts[number], Role.MUTED)

    def _dates(self) -> list[str]:
        return [reading.begun[:_DAY] or self.tr("no date") for reading in self._readings]

    def _dates_width(self) -> float:
        return max(self._small_metrics.horizontalAdvance(text) for text in self._dates()) + 2

    def _lay_line(self, found: Drift) -> None:
        last = len(found.positions) - 1
        mean = sum(found.positions) / len(found.positions)
        ends = [
            QPointF(self.x_at(number), self.y_at(mean + found.slope * (number - last / 2)))
            for number in (0, last)
        ]
        self._marks.append(Stroke(QPolygonF(ends), QPen(self._ink(Role.EDGE), 1.6)))

    def _lay_readings(self) -> None:
        pen = QPen(self._ink(Role.INK), 1.2)
        for number, reading in enumerate(self._readings):
            x, y = self.x_at(number), self.y_at(reading.position)
            top = self.y_at(reading.position + reading.error)
            foot = self.y_at(reading.position - reading.error)
            self._marks.append(Round(QPointF(x, y), _DOT + 1.5, self._ink(Role.HALO)))
            self._marks.append(Stroke(QPolygonF([QPointF(x, top), QPointF(x, foot)]), pen))
            for end in (top, foot):
                cap = QPolygonF([QPointF(x - _CAP, end), QPointF(x + _CAP, end)])
                self._marks.append(Stroke(cap, pen))
            self._marks.append(Round(QPointF(x, y), _DOT, self._ink(Role.ACCENT)))
            around = QRectF(x - _PICK, min(y - _PICK, top), 2 * _PICK, 0)
            around.setBottom(max(y + _PICK, foot))
            self._tips.append(Tip(around, partial(self._reading_words, reading)))

    def _lay_head(self, room: QRectF) -> None:
        advance = self._small_metrics.horizontalAdvance
        head = QRectF(room.left(), room.top() - 2, room.width(), self._line)
        self._write(head, self.words, Role.INK, FROM_LEFT)
        self._tips.append(Tip(head, self._method_words))
        note = self._left_out()
        if note and advance(self.words) + advance(note) + 4 * GAP < room.width():
            self._write(head, note, Role.MUTED, TO_RIGHT)

    def _reading_words(self, reading: FiringReading) -> str:
        text = self.tr("{}: {} ± {:.1f}").format(
            reading.begun or self.tr("no date"), position_text(reading.position), reading.error
        )
        if self._shelf is None:
            for one in reading.shelves:
                text += f"\n{shelf_reading(one, self.tr('unnamed shelf'))}"
        return text

    def _method_words(self) -> str:
        text = self.tr(
            "A straight line by least squares over firings in order of date, with one standard "
            "error.\nReading the bend of a cone is common practice, no source."
        )
        note = self._left_out()
        return f"{text}\n{note}" if note else text

    def _left_out(self) -> str:
        if not self._bounded:
            return ""
        if self._bounded == 1:
            return self.tr("1 firing with only flat or upright cones is left out")
        return self.tr("{} firings with only flat or upright cones are left out").format(
            self._bounded
        )

    def _waiting(self) -> str:
        have = len(self._readings)
        more = FEWEST_FIRINGS - have
        needed = (
            self.tr("1 more reading of a bent witness cone is needed")
            if more == 1
            else self.tr("{} more readings of bent witness cones are needed").format(more)
        )
        text = self.tr("Drift is charted from {} firings on: {}.").format(FEWEST_FIRINGS, needed)
        note = self._left_out()
        return f"{text} {note}." if note else text

    def _described(self) -> str:
        if self._drift is None:
            return self._waiting()
        said = [self.words]
        said += [
            f"{reading.begun}: {position_text(reading.position)} ± {reading.error:.1f}"
            for reading in self._readings
        ]
        note = self._left_out()
        return f"{'. '.join([*said, note] if note else said)}."


def shelf_reading(cone: LocalCone, unnamed: str) -> str:
    """Write what a shelf saw, such as "lower: cone 10 − 0.2 ± 0.1"; a bound has no error."""
    text = f"{cone.shelf or unnamed}: {cone.text}"
    return text if cone.bound else f"{text} ± {cone.uncertainty:.1f}"


def _cone_text(place: int) -> str:
    return f"cone {cones()[place].cone}"


def _span_of(readings: Sequence[FiringReading]) -> tuple[float, float]:
    """Return the ends of the scale: round all bars, over at least two named cones."""
    low = min(reading.position - reading.error for reading in readings) - 0.15
    high = max(reading.position + reading.error for reading in readings) + 0.15
    short = max(_LEAST_SPAN - (high - low), 0.0) / 2
    low, high = low - short, high + short
    if math.floor(high) - math.ceil(low) < 1:
        below, above = low - math.floor(low), math.ceil(high) - high
        if below < above:
            low = math.floor(low) - 0.05
        else:
            high = math.ceil(high) + 0.05
    return low, high
