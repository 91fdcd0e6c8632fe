"""The firing strip: the chart of the firing with squares that shape it, by pointer or keys."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.chart_widget import Box, Tip
from app.firing_chart import PICK, FiringChart
from app.theme import Role
from core.errors import InputError
from core.evaluate import Evaluation
from core.firing import Firing, FiringSheet, Segment
from core.firing.shaping import (
    aimed,
    paced,
    rounded,
    with_rate_figure,
    with_target_figure,
    written_rate,
    written_target,
)

LOCK: Final = 6.0
"""So far the pointer goes before a drag keeps to one direction [px]."""

_HANDLE: Final = 8.0
_WIDEST: Final = 90
"""Letters in a line of a tip."""
_ROUGH, _FINE = 5.0, 1.0
"""Steps of a drag or a key: °C or °F, the same per hour, and minutes; the second with Shift."""


@dataclass(frozen=True, slots=True)
class Handle:
    """What can be dragged: where a segment reaches its target, or the end of its hold."""

    row: int
    is_hold: bool
    spot: QPointF

    @property
    def key(self) -> tuple[int, bool]:
        """Which one it is, wherever it stands."""
        return self.row, self.is_hold


@dataclass(slots=True)
class _Drag:
    """One gesture, from the press of the button or of a key."""

    firing: Firing
    handle: Handle
    start_h: float
    start_c: float
    reached_h: float
    end_c: float
    begin: QPointF
    px_per_h: float
    px_per_c: float
    by_key: bool = False
    across: bool | None = None
    """Whether it keeps to time; None while that is open."""
    said: tuple[Segment, ...] | None = None
    refused: str = ""


class FiringStrip(FiringChart):
    """Shows the temperature over time and lets it be dragged.

    The strip keeps no schedule of its own: `schedule_dragged` says what the
    segments would be, and the curve follows when the evaluation does.
    """

    schedule_dragged = Signal(object)  # tuple[Segment, ...]
    drag_ended = Signal()
    """What was said since the press, or while a key was held, is one step."""
    drag_cancelled = Signal()
    """What was said since the press is to be taken back."""
    refused = Signal(str)
    segment_picked = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._editable = True
        self._handles: list[Handle] = []
        self._chosen: tuple[int, bool] | None = None
        self._drag: _Drag | None = None
        self._hover_x: int | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setWhatsThis(
            self.tr(
                "The firing of this recipe over time. Drag a square up or down for its target,"
                " sideways for its rate, or the end of a hold for its length; Alt gives a segment"
                " a hold, Shift goes in single steps, Ctrl leaves both directions free, Esc takes"
                " the drag back. With keys: Left and Right choose a square, Up and Down change"
                " its target, Ctrl with Left and Right its rate or hold, Alt with Left and Right"
                " its hold."
            )
        )

    @property
    def handles(self) -> list[Handle]:
        """The squares that can be dragged, in the order of time."""
        self._settle()
        return list(self._handles)

    @property
    def chosen(self) -> Handle | None:
        """The square that the keys move, or None."""
        self._settle()
        return next((h for h in self._handles if h.key == self._chosen), None)

    @property
    def dragging(self) -> bool:
        """Whether a drag, or a key that is held, goes on."""
        return self._drag is not None

    def set_editable(self, editable: bool, why: str = "") -> None:
        """Let the schedule be dragged, or say why it cannot be."""
        if (editable, why) == (self._editable, self._why):
            return
        self._editable, self._why = editable, why
        if not editable:
            self._finish()
        self._say()
        self.refresh()

    def tip_at(self, spot: QPointF) -> str:
        said = "\n".join(textwrap.fill(line, _WIDEST) for line in super().tip_at(spot).splitlines())
        if self._heat is None or not self._plot.contains(spot):
            return said
        lines = [self._reading(self._heat, self._hour(spot.x())), said, self._why]
        return "\n".join(line for line in lines if line)

    def _take(self, evaluation: Evaluation) -> None:
        heat = evaluation.heat
        if self._drag is not None and (
            heat is None or len(heat.firing.segments) != len(self._drag.firing.segments)
        ):
            # Another edit came between: what is under the pointer is no longer there.
            self._finish()
        super()._take(evaluation)

    def _lay_out(self, evaluation: Evaluation) -> None:
        self._handles = []
        super()._lay_out(evaluation)

    def _scale_stands(self) -> bool:
        # Under the pointer, as long as the curve is on it.
        return self._drag is not None

    def _keep_clear(self, heat: FiringSheet) -> None:
        self._handles = []
        if not self._editable:
            return
        for row, (segment, span) in enumerate(zip(heat.firing.segments, heat.spans, strict=True)):
            if segment.natural_cooling is not None:
                continue
            y = self._y(span.end_c)
            self._handles.append(Handle(row, False, QPointF(self._x(span.reached_h), y)))
            if segment.hold_min:
                self._handles.append(Handle(row, True, QPointF(self._x(span.end_h), y)))
        self._placed += [QRectF(h.spot.x() - 6, h.spot.y() - 6, 12, 12) for h in self._handles]

    def _lay_over(self, heat: FiringSheet) -> None:
        half = _HANDLE / 2
        halo, ink = self._ink(Role.HALO), self._ink(Role.INK)
        focused = self._chosen if self.hasFocus() else None
        squares = [
            # On whole pixels, nested: painted many times faster than outlines.
            QRectF(round(h.spot.x() - half), round(h.spot.y() - half), _HANDLE, _HANDLE)
            for h in self._handles
        ]
        self._marks += [Box(square.adjusted(-2, -2, 2, 2), halo) for square in squares]
        chosen: QRectF | None = None
        for handle, square in zip(self._handles, squares, strict=True):
            self._marks.append(Box(square, ink))
            self._marks.append(Box(square.adjusted(2, 2, -2, -2), halo))
            if handle.key == focused:
                chosen = square
            x, y = handle.spot.x(), handle.spot.y()
            around = QRectF(x - PICK, y - PICK, 2 * PICK, 2 * PICK)
            self._tips.append(Tip(around, partial(self._handle_words, heat, handle)))
        if chosen is not None:
            for more, color in ((7, halo), (5, ink), (3, halo), (0, ink)):
                self._marks.append(Box(chosen.adjusted(-more, -more, more, more), color))

    def _handle_words(self, heat: FiringSheet, handle: Handle) -> str:
        segment, span = heat.firing.segments[handle.row], heat.spans[handle.row]
        number = handle.row + 1
        if handle.is_hold:
            return self.tr(
                "End of the hold of {:g} min at {} (segment {})\nDrag it sideways for its length."
            ).format(segment.hold_min, self._degrees(span.end_c), number)
        if segment.rate is None:
            return self.tr(
                "Segment {}: to {}, as fast as the kiln goes\nDrag it up or down for its target."
            ).format(number, self._degrees(span.end_c))
        text = self.tr("Segment {}: to {} at {}").format(
            number, self._degrees(span.end_c), self._rate(segment.rate)
        )
        if span.end_c == heat.curve.peak_c:
            text += self.tr(", the peak")
        return text + "\n" + self.tr("Drag it up or down for its target, sideways for its rate.")

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._hover_x is None or self._plot.isEmpty():
            return
        painter = QPainter(self)
        plot = self._plot
        line = QRectF(self._hover_x, plot.top(), 1, plot.height())
        painter.fillRect(line, self._ink(Role.INK, 0.55))
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        handle = self.handle_at(event.position())
        if event.button() != Qt.MouseButton.LeftButton or handle is None or self._drag is not None:
            super().mousePressEvent(event)
            return
        self._choose(handle)
        self._drag = self._begun(handle, event.position())
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._hover(event.position())
        if self._drag is not None and not self._drag.by_key:
            self._drag_to(self._drag, event.position(), event.modifiers())
            event.accept()
            return
        over = self.handle_at(event.position())
        self.setCursor(
            Qt.CursorShape.ArrowCursor
            if over is None
            else Qt.CursorShape.SizeHorCursor
            if over.is_hold
            else Qt.CursorShape.SizeAllCursor
        )
        super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self._drag is not None:
            self._finish()
            event.accept()
            return
        super().mouseReleaseEvent(event)

    def leaveEvent(self, event: QEvent) -> None:
        self._hover(None)
        super().leaveEvent(event)

    def handle_at(self, spot: QPointF) -> Handle | None:
        """Return the nearest square within reach of a place, or None."""
        near = [
            (math.hypot(h.spot.x() - spot.x(), h.spot.y() - spot.y()), -i, h)
            for i, h in enumerate(self.handles)
            if abs(h.spot.x() - spot.x()) <= PICK and abs(h.spot.y() - spot.y()) <= PICK
        ]
        return min(near)[2] if near else None

    def _hover(self, spot: QPointF | None) -> None:
        place = round(spot.x()) if spot is not None and self._plot.contains(spot) else None
        if place == self._hover_x:
            return
        for x in (self._hover_x, place):
            if x is not None:
                self.update(QRect(x - 1, 0, 3, self.height()))
        self._hover_x = place

    def _begun(self, handle: Handle, begin: QPointF, by_key: bool = False) -> _Drag | None:
        if self._heat is None:
            return None
        span = self._heat.spans[handle.row]
        return _Drag(
            firing=self._heat.firing,
            handle=handle,
            start_h=span.start_h,
            start_c=span.start_c,
            reached_h=span.reached_h,
            end_c=span.end_c,
            begin=begin,
            px_per_h=self._px_per_h,
            px_per_c=self._px_per_c,
            by_key=by_key,
        )

    def _drag_to(self, drag: _Drag, spot: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        step = _FINE if modifiers & Qt.KeyboardModifier.ShiftModifier else _ROUGH
        dx, dy = spot.x() - drag.begin.x(), spot.y() - drag.begin.y()
        free = bool(modifiers & Qt.KeyboardModifier.ControlModifier)
        if drag.across is None:
            if max(abs(dx), abs(dy)) < LOCK:
                return
            drag.across = abs(dx) > abs(dy)
        hours, celsius = dx / drag.px_per_h, -dy / drag.px_per_c
        segment = drag.firing.segments[drag.handle.row]
        if drag.handle.is_hold or modifiers & Qt.KeyboardModifier.AltModifier:
            minutes = max(rounded(segment.hold_min + hours * 60.0, step), 0.0)
            changed = replace(segment, hold_min=minutes) if drag.across or free else segment
        else:
            changed = segment
            if free or not drag.across:
                changed = aimed(changed, celsius, step)
            if free or drag.across:
                took = drag.reached_h - drag.start_h + hours
                changed = paced(changed, drag.start_c, took, step)
        self._offer(drag, changed)

    def _offer(self, drag: _Drag, changed: Segment) -> None:
        """Say what the schedule would be, if a kiln can fire it and it is news."""
        row, before = drag.handle.row, drag.firing.segments
        segments = (*before[:row], changed, *before[row + 1 :])
        if segments == (before if drag.said is None else drag.said):
            return
        try:
            firing = drag.firing.with_segments(segments)
        except InputError as fault:
            if str(fault) != drag.refused:
                drag.refused = str(fault)
                self.refused.emit(str(fault))
            return
        drag.refused = ""
        drag.said = firing.segments
        self.schedule_dragged.emit(firing.segments)

    def _finish(self) -> None:
        """End a drag, or the run of a key that was held."""
        drag, self._drag = self._drag, None
        if drag is None:
            return
        if drag.said is not None:
            self.drag_ended.emit()
        self.refresh()

    def _cancel(self) -> None:
        drag, self._drag = self._drag, None
        if drag is None:
            return
        if drag.said is not None:
            self.drag_cancelled.emit()
        self.refresh()

    def event(self, event: QEvent) -> bool:
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self._is_ours(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def _is_ours(self, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_Escape:
            return self._drag is not None
        arrows = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down)
        return event.key() in arrows and bool(self._handles)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._is_ours(event):
            super().keyPressEvent(event)
            return
        event.accept()
        key, held = event.key(), event.modifiers()
        if key == Qt.Key.Key_Escape:
            self._cancel()
            return
        if self._drag is not None and not self._drag.by_key:
            return  # the pointer has the handle
        sideways = key in (Qt.Key.Key_Left, Qt.Key.Key_Right)
        on = key in (Qt.Key.Key_Right, Qt.Key.Key_Up)
        with_alt = bool(held & Qt.KeyboardModifier.AltModifier)
        with_ctrl = bool(held & Qt.KeyboardModifier.ControlModifier)
        if sideways and not (with_alt or with_ctrl):
            self._finish()
            self._step(1 if on else -1)
            return
        handle = self.chosen
        if handle is None:
            self._step(1)
            return
        step = _FINE if held & Qt.KeyboardModifier.ShiftModifier else _ROUGH
        self._nudge(handle, sideways, step if on else -step, with_alt)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if self._drag is not None and self._drag.by_key and not event.isAutoRepeat():
            self._finish()
        super().keyReleaseEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if self.chosen is None and self._handles:
            self._chosen = self._handles[0].key
        self.refresh()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self._finish()
        self.refresh()

    def _step(self, by: int) -> None:
        handles = self.handles
        now = next((i for i, h in enumerate(handles) if h.key == self._chosen), None)
        if now is None:
            self._choose(handles[0 if by > 0 else -1])
        else:
            self._choose(handles[min(max(now + by, 0), len(handles) - 1)])

    def _choose(self, handle: Handle) -> None:
        if handle.key != self._chosen:
            self._chosen = handle.key
            self.refresh()
        self.segment_picked.emit(handle.row)

    def _nudge(self, handle: Handle, sideways: bool, by: float, hold: bool) -> None:
        if self._drag is None:
            self._drag = self._begun(handle, handle.spot, by_key=True)
        drag = self._drag
        if drag is None:
            return
        segment = (drag.said or drag.firing.segments)[handle.row]
        if not sideways:
            changed = with_target_figure(segment, written_target(segment) + by)
        elif hold or handle.is_hold:
            changed = replace(segment, hold_min=max(segment.hold_min + by, 0.0))
        elif segment.rate is None:
            changed = segment
        else:
            # To the right is later, and later is slower.
            changed = with_rate_figure(segment, written_rate(segment) - by)
        self._offer(drag, changed)
