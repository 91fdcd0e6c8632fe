"""What is done to the firing from the bench: dragged, solved for a cone, logged."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import count
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QWidget

from app.document import Document
from app.firing_strip import FiringStrip
from app.formatting import in_a_sentence
from app.schedule_panel import SchedulePanel
from app.settings import Settings
from app.theme import Theme
from core.errors import InputError
from core.evaluate import Evaluation

if TYPE_CHECKING:
    from app.firing_log_dialog import FiringLogDialog
    from app.peak_dialog import PeakDialog

_drags = count()


class FiringActions(QObject):
    """Joins the strip, the panel of the schedule and the dialogs to the document."""

    refused = Signal(str)
    """Why nothing was done, in words."""

    def __init__(
        self,
        document: Document,
        strip: FiringStrip,
        panel: SchedulePanel,
        settings: Settings,
        theme: Theme,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._document = document
        self._strip = strip
        self._panel = panel
        self._settings = settings
        self._theme = theme
        self._window = window
        self._session = ("schedule", next(_drags))
        strip.schedule_dragged.connect(self._on_dragged)
        strip.drag_ended.connect(self._on_drag_ended)
        strip.drag_cancelled.connect(self._on_drag_cancelled)
        strip.refused.connect(panel.say)
        strip.segment_picked.connect(panel.table.go_to)
        panel.peak_asked.connect(self.ask_for_peak)
        panel.log_asked.connect(self.write_log)
        panel.fahrenheit_changed.connect(self._on_unit_changed)
        document.evaluation_changed.connect(self._on_evaluation_changed)
        self._on_evaluation_changed(document.evaluation)

    def ask_for_peak(self) -> None:
        """Find the peak that reaches a cone, and set it."""
        dialog = self.peak_dialog()
        if dialog is None:
            return
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.firing is not None:
            cone, firing = dialog.firing.cone, dialog.firing
            self._document.edit_firing(self.tr("Peak for cone {}").format(cone), firing)
        dialog.deleteLater()

    def peak_dialog(self) -> PeakDialog | None:
        """Return the dialog that solves for the peak, or None without a firing to change."""
        from app.peak_dialog import PeakDialog

        heat = self._document.evaluation.heat
        if heat is None or not self._may_edit():
            return None
        return PeakDialog(
            heat, self._theme.palette, self._panel.table.segments.fahrenheit, self._window
        )

    def write_log(self) -> None:
        """Write down what happened in the kiln."""
        dialog = self.log_dialog()
        if dialog is None:
            return
        dialog.drafted.connect(partial(self._document.note_draft, self.tr("Firing log")))
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.firing is not None:
            self._document.edit_firing(self.tr("Firing log"), dialog.firing)
        self._document.note_draft("", None)
        dialog.deleteLater()

    def log_dialog(self) -> FiringLogDialog | None:
        """Return the dialog of the logs, or None without a firing to log."""
        from app.firing_log_dialog import FiringLogDialog

        evaluation, folder = self._document.evaluation, self._document.studio.folder
        if evaluation.firing is None or folder is None or not self._may_edit():
            return None
        try:
            # Photos of a log are copied into the studio at once.
            self._document.may_write(folder / "photos")
        except InputError as fault:
            self.refused.emit(str(fault))
            return None
        return FiringLogDialog(
            evaluation.firing,
            folder / "photos",
            self._theme,
            shelf=evaluation.recipe.shelf,
            fahrenheit=self._panel.table.segments.fahrenheit,
            parent=self._window,
        )

    def _may_edit(self) -> bool:
        why = self._why_not()
        if why:
            self.refused.emit(why)
        return not why

    def _why_not(self) -> str:
        if self._document.evaluation.firing is None:
            return self.tr("Choose a firing first.")
        if self._document.studio.folder is None:
            return self.tr("A firing is kept in a studio: begin or open one first (File menu).")
        return ""

    def _on_dragged(self, segments: object) -> None:
        firing = self._document.evaluation.firing
        if firing is not None and isinstance(segments, tuple):
            self._document.edit_firing(
                self.tr("Shape the firing"), replace(firing, segments=segments), self._session
            )

    def _on_drag_ended(self) -> None:
        self._session = ("schedule", next(_drags))

    def _on_drag_cancelled(self) -> None:
        self._document.cancel(self._session)

    def _on_unit_changed(self, fahrenheit: bool) -> None:
        self._strip.set_fahrenheit(fahrenheit)
        self._settings.keep_text("temperature", "F" if fahrenheit else "C")

    def _on_evaluation_changed(self, _evaluation: Evaluation) -> None:
        why = self._why_not()
        self._strip.set_editable(not why, in_a_sentence(why) if why else "")
