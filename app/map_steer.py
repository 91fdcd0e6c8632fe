"""Steering: the point is dragged on the map, by pointer or keys, and the recipe follows."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent

from app.bench_state import BenchState
from app.document import Document
from core.errors import InputError
from core.recipe import Recipe

if TYPE_CHECKING:
    from core.solve.reach import Region
    from core.solve.steer import Steering

PICK = 12.0
"""So near the pointer takes the point: a target of 24 px [px]."""
_LOCK = 3.0
"""So far the pointer goes before a press becomes a drag [px]."""
_STEPS = 100.0
"""A key moves the point by the visible map over this; with Ctrl by a tenth of that."""
_ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}
_drags = count()

Point = tuple[float, float]


class MapSteer(QObject):
    """One drag at a time: what it began with, and where it wants to be."""

    reach_changed = Signal(object)  # core.solve.Region, or None when the drag is over
    said = Signal(str)
    """Where it came to, or why it stopped; empty when it is over."""

    def __init__(self, document: Document, state: BenchState, parent: QObject) -> None:
        super().__init__(parent)
        self._document = document
        self._state = state
        self._steering: Steering | None = None
        self._session: tuple[str, int] = ("steer", 0)
        self._goal: Point = (0.0, 0.0)
        self._last: Recipe | None = None
        self._pressed: QPointF | None = None
        self._by_key = False

    @property
    def steering(self) -> bool:
        """Whether the point is being moved."""
        return self._steering is not None

    def press(self, spot: QPointF, point: QPointF) -> bool:
        """Take the point if the pointer is on it [px of the viewport]; tell whether it is."""
        self.finish()
        if max(abs(spot.x() - point.x()), abs(spot.y() - point.y())) > PICK:
            return False
        self._pressed = spot
        return True

    def move(self, spot: QPointF, goal: Point) -> bool:
        """Move the point to a place of the map; tell whether the pointer has it."""
        if self._pressed is None:
            return False
        if self._steering is None:
            away = spot - self._pressed
            if max(abs(away.x()), abs(away.y())) < _LOCK or not self._begin():
                return True
        self._to(goal)
        return True

    def release(self) -> bool:
        """Let the point go; tell whether the pointer had it."""
        had = self._pressed is not None
        self.finish()
        return had

    def key(self, event: QKeyEvent, view: tuple[float, float]) -> bool:
        """Move the point by Shift and an arrow; tell whether the key was for it.

        Parameters
        ----------
        event : QKeyEvent
        view : (float, float)
            How much silica and alumina the map shows across and up.
        """
        if event.key() == Qt.Key.Key_Escape and self.steering:
            self.cancel()
            return True
        held = event.modifiers()
        if event.key() not in _ARROWS or not held & Qt.KeyboardModifier.ShiftModifier:
            return False
        if self._pressed is not None:
            return True  # the pointer has the point
        # Another edit came between: begin from what is there now.
        if not (self.steering and self._by_key and self._document.recipe is self._last):
            self.finish()
            if not self._begin():
                return True
            self._by_key = True
        fine = 0.1 if held & Qt.KeyboardModifier.ControlModifier else 1.0
        dx, dy = _ARROWS[Qt.Key(event.key())]
        self._to(
            (
                max(self._goal[0] + dx * fine * view[0] / _STEPS, 0.0),
                max(self._goal[1] + dy * fine * view[1] / _STEPS, 0.0),
            )
        )
        return True

    def key_released(self, event: QKeyEvent) -> None:
        """End the run of keys when Shift is let go: it is one step to undo."""
        if event.key() == Qt.Key.Key_Shift and self._by_key:
            self.finish()

    def cancel(self) -> None:
        """Take the whole drag back."""
        if self.steering:
            self._document.cancel(self._session)
        self.finish()

    def finish(self) -> None:
        """End the drag; what it did is one step to undo."""
        if self.steering:
            self._steering = None
            self.reach_changed.emit(None)
            self.said.emit("")
        self._pressed, self._by_key, self._last = None, False, None

    def region(self) -> Region | None:
        """Return what the rows as they stand can reach, or None where there is no point."""
        try:
            return self._of_now().region
        except InputError:
            return None

    def _of_now(self) -> Steering:
        from core.solve import steering

        document = self._document
        # The formula does not know the total: without locked rows it would shrink away, for
        # small rows change least.
        free = not any(row.locked for row in document.recipe.base)
        return steering(
            document.recipe,
            document.studio,
            hold_total=free or self._state.hold_total,
            base_alone=document.base_alone,
        )

    def _begin(self) -> bool:
        try:
            self._steering = self._of_now()
        except InputError as fault:
            self._pressed = None
            self._state.refused.emit(str(fault))
            return False
        self._session = ("steer", next(_drags))
        self._goal, self._last = self._steering.start, self._document.recipe
        self.reach_changed.emit(self._steering.region)
        return True

    def _to(self, goal: Point) -> None:
        drag = self._steering
        if drag is None:
            return
        if self._document.recipe is not self._last:
            self.finish()
            return
        found = drag.to(*goal)
        # Beyond the edge the keys would have to come all the way back.
        self._goal = goal if found.reached or not self._by_key else found.point
        if np.isfinite(found.point).all():
            self._document.edit(self.tr("Steer the point"), found.recipe, self._session)
            self._last = self._document.recipe
        self.said.emit(found.says)
