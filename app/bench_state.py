"""How the bench is set: the selected row, the step of a nudge, what a change does to the rest."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from core.nudge import STEPS
from core.recipe import Section


@dataclass(frozen=True, slots=True)
class SelectedRow:
    """A row of the recipe."""

    section: Section
    row: int


class BenchState(QObject):
    """Shared by the panels; nothing of it is part of the recipe."""

    selection_changed = Signal(object)  # SelectedRow or None
    step_changed = Signal(float)
    hold_total_changed = Signal(bool)
    refused = Signal(str)
    """Why an edit was not made, in words."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._selected: SelectedRow | None = None
        self._step = 1.0
        self._hold_total = False

    @property
    def selected(self) -> SelectedRow | None:
        """The row that nudges act on."""
        return self._selected

    @property
    def step(self) -> float:
        """Of one nudge [parts, or percent among the additions]."""
        return self._step

    @property
    def hold_total(self) -> bool:
        """Whether the other free rows make up the change, so that the base stays 100."""
        return self._hold_total

    def select(self, selected: SelectedRow | None) -> None:
        """Make a row the one that nudges act on."""
        if selected != self._selected:
            self._selected = selected
            self.selection_changed.emit(selected)

    def set_step(self, step: float) -> None:
        """Choose one of `STEPS`."""
        if step in STEPS and step != self._step:
            self._step = step
            self.step_changed.emit(step)

    def change_step(self, by: int) -> None:
        """Choose the next larger (+1) or smaller (-1) step."""
        place = STEPS.index(self._step) + by
        self.set_step(STEPS[min(max(place, 0), len(STEPS) - 1)])

    def set_hold_total(self, hold: bool) -> None:
        """Hold the base at 100, or let the total move."""
        if hold != self._hold_total:
            self._hold_total = hold
            self.hold_total_changed.emit(hold)
