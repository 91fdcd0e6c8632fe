"""Reading the tiles of a plan one by one while the window has nothing else to do."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QObject, QTimer, Signal

from core.blend.plan import Plan, evaluations
from core.evaluate import Evaluation
from core.studio import Studio


class PlanReader(QObject):
    """Evaluates a tile in each idle moment; another plan takes the place of the last."""

    tile_read = Signal(int, object)
    """Place of the tile in the plan, core.evaluate.Evaluation."""
    state_changed = Signal()
    """Begun, gone on, stopped or done."""

    def __init__(self, studio: Studio, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._studio = studio
        self._tiles = 0
        self._read = 0
        self._evaluations: Iterator[Evaluation] = iter(())
        # A timer of no delay fires when no event of the window waits.
        self._idle = QTimer(self)
        self._idle.setInterval(0)
        self._idle.timeout.connect(self._read_one)

    @property
    def tiles(self) -> int:
        """How many tiles the plan has."""
        return self._tiles

    @property
    def count(self) -> int:
        """How many of them have been read."""
        return self._read

    @property
    def running(self) -> bool:
        """Whether it goes on reading."""
        return self._idle.isActive()

    @property
    def done(self) -> bool:
        """Whether every tile has been read."""
        return self._read == self._tiles

    def begin(self, plan: Plan | None) -> None:
        """Read another plan from its first tile on; None reads nothing."""
        self._idle.stop()
        self._read = 0
        self._tiles = len(plan.cells) if plan is not None else 0
        self._evaluations = evaluations(plan, self._studio) if plan is not None else iter(())
        self.go_on()

    def stop(self) -> None:
        """Stop where it is; what was read stays."""
        if self.running:
            self._idle.stop()
            self.state_changed.emit()

    def go_on(self) -> None:
        """Go on from where it was stopped."""
        if not self.done:
            self._idle.start()
        self.state_changed.emit()

    def _read_one(self) -> None:
        evaluation = next(self._evaluations, None)
        if evaluation is None:
            self.stop()
            return
        place = self._read
        self._read += 1
        if self.done:
            self._idle.stop()
        self.tile_read.emit(place, evaluation)
        self.state_changed.emit()
