"""Which peak reaches a cone, at a rate and with a hold: asked, answered and set."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from app.dialog_buttons import without_pictures
from app.formatting import in_a_sentence
from app.problems import words_of
from app.theme import Palette, Role
from core.errors import InputError
from core.firing import Firing, FiringSheet, cone_reached, firing_curve
from core.firing.cones import cones, nearest
from core.firing.entry import fahrenheit as to_fahrenheit
from core.firing.entry import hold_text, rate_text, with_hold, with_rate
from core.firing.heat_work import cone_position
from core.firing.peak import peak_row, with_peak_for


class PeakDialog(QDialog):
    """Solves the schedule's peak for a cone; `firing` is the answer, or None."""

    def __init__(
        self,
        sheet: FiringSheet,
        palette: Palette,
        in_fahrenheit: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Peak for a cone"))
        self._sheet = sheet
        self._fahrenheit = in_fahrenheit
        self._palette = palette
        self.firing: Firing | None = None
        row = peak_row(sheet.firing)
        segment = sheet.firing.segments[row] if row is not None else None
        unit = "°F" if in_fahrenheit else "°C"
        self.cone = QComboBox()
        for cone in reversed(cones()):
            self.cone.addItem(self.tr("cone {}").format(cone.cone), cone.cone)
        begin = sheet.firing.cone or nearest(sheet.cone.position)[0]
        self.cone.setCurrentIndex(max(self.cone.findData(begin), 0))
        self.rate = QLineEdit(rate_text(segment, in_fahrenheit) if segment else "")
        self.hold = QLineEdit(hold_text(segment) or "0" if segment else "")
        self.answer = QLabel()
        self.answer.setWordWrap(True)
        self.answer.setMinimumHeight(4 * self.fontMetrics().lineSpacing())
        self.answer.setTextFormat(Qt.TextFormat.PlainText)
        self.answer.setAccessibleName(self.tr("Answer"))
        self.rule = QLabel()
        self.rule.setWordWrap(True)
        self.rule.setStyleSheet(f"color: {palette.hex(Role.MUTED)}")
        self.rule.setMinimumHeight(6 * self.fontMetrics().lineSpacing())
        form = QFormLayout()
        form.addRow(self.tr("Cone"), self.cone)
        form.addRow(self.tr("Rate to the peak, {}/h").format(unit), self.rate)
        form.addRow(self.tr("Hold at the peak, min"), self.hold)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        without_pictures(self.buttons)
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setText(
            self.tr("Set in the schedule")
        )
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addLayout(form)
        layout.addWidget(self.answer)
        layout.addWidget(self.rule)
        layout.addWidget(self.buttons)
        self.setMinimumWidth(440)
        self.cone.currentIndexChanged.connect(self._solve)
        self.rate.textEdited.connect(self._solve)
        self.hold.textEdited.connect(self._solve)
        self._solve()

    @property
    def more(self) -> float:
        """How many cones more the controller has to give than the shelf sees [cones]."""
        return self._sheet.cone.position - self._sheet.felt_position

    def _solve(self, *_: object) -> None:
        try:
            self.firing = self._solved()
        except InputError as fault:
            self.firing = None
            self._write(in_a_sentence(words_of(fault)), Role.STOP)
            self.rule.clear()
        else:
            self._write(self._in_words(self.firing), Role.INK)
            self.rule.setText(self._about_holds(self.firing))
        ok = self.buttons.button(QDialogButtonBox.StandardButton.Ok)
        ok.setEnabled(self.firing is not None)

    def _solved(self) -> Firing:
        firing, kiln = self._sheet.firing, self._sheet.kiln
        row = peak_row(firing)
        if row is None:
            raise InputError("the schedule has no peak", "add a segment that climbs")
        segment = with_rate(firing.segments[row], self.rate.text(), self._fahrenheit, kiln)
        segment = with_hold(segment, self.hold.text())
        segments = (*firing.segments[:row], segment, *firing.segments[row + 1 :])
        changed = firing.with_segments(segments)
        cone = self.cone.currentData()
        return replace(with_peak_for(changed, cone, kiln, self.more), cone=cone)

    def _in_words(self, firing: Firing) -> str:
        peak = firing.peak_c or 0.0
        shown = f"{to_fahrenheit(peak):.0f} °F" if self._fahrenheit else f"{peak:.0f} °C"
        reading = cone_reached(firing_curve(firing, self._sheet.kiln))
        text = self.tr("Peak {}: the controller's curve reaches {}, ± {:.1f} cone.").format(
            shown, reading.text, reading.uncertainty
        )
        if self._sheet.local is not None:
            text += self.tr(" On the shelf “{}”, which last saw {}, that makes cone {}.").format(
                self._sheet.shelf, self._sheet.local.text, self.cone.currentData()
            )
        return text

    def _about_holds(self, firing: Firing) -> str:
        row = peak_row(firing)
        assert row is not None
        segment = firing.segments[row]
        longer = firing.with_segment(row, replace(segment, hold_min=segment.hold_min + 60.0))
        kiln = self._sheet.kiln
        gained = cone_position(firing_curve(longer, kiln)) - cone_position(
            firing_curve(firing, kiln)
        )
        return self.tr(
            "Worked out from the heat work of the whole schedule, its holds and slow cooling"
            " included. Another hour at this peak would count {:.1f} cones by it; a rule of thumb"
            " says roughly one. Witness cones in your kiln have the last word."
        ).format(gained)

    def _write(self, text: str, role: Role) -> None:
        self.answer.setText(text)
        self.answer.setStyleSheet(f"color: {self._palette.hex(role)}")
