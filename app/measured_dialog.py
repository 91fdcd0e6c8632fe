"""What was measured of the corners of a run once they were mixed."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.formatting import in_a_sentence
from app.message_label import MessageLabel
from app.plan_fields import NumberField
from app.problems import words_of
from app.theme import Role, Theme
from core.blend.slop import Slop, solid_density
from core.blend.volumes import honesty
from core.errors import InputError
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.run import Run, RunCorner


class MeasuredDialog(QDialog):
    """Takes specific gravity, or dry weight with water or volume; `run` is the answer."""

    def __init__(
        self, run: Run, studio: Studio, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        palette = theme.palette
        self.setWindowTitle(self.tr("Measured corners of {}").format(run.name))
        self._before, self._studio = run, studio
        self.run: Run | None = None
        self.fields: dict[str, tuple[NumberField, ...]] = {}
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(8)
        heads = (
            self.tr("specific gravity"),
            self.tr("dry, g"),
            self.tr("water, g"),
            self.tr("volume, ml"),
        )
        for column, head in enumerate(heads, 1):
            grid.addWidget(QLabel(head), 0, column)
        for row, corner in enumerate(run.corners, 1):
            known = corner.measured or Slop()
            values = (known.specific_gravity, known.dry_g, known.water_g, known.volume_ml)
            name = f"{corner.letter} {corner.name}".strip()
            fields = tuple(
                NumberField(f"{name}, {head}", value, 84)
                for head, value in zip(heads, values, strict=True)
            )
            grid.addWidget(QLabel(name), row, 0)
            for column, field in enumerate(fields, 1):
                grid.addWidget(field, row, column)
            self.fields[corner.letter] = fields
        about = QLabel(
            self.tr(
                "Equal volumes have to hold equal dry weight. The specific gravity is enough; dry"
                " weight with the water, or with the volume, does as well. The chart is corrected"
                " once every corner was measured; print it again then."
            )
        )
        about.setWordWrap(True)
        about.setStyleSheet(f"color: {palette.hex(Role.MUTED)}")
        self.message = MessageLabel(self.tr("What the figures come to"))
        self.message.set_palette(palette)
        self.message.setMinimumHeight(3 * self.fontMetrics().lineSpacing())  # it grows and shrinks
        self.save_button = QPushButton(self.tr("&Save"))
        cancel = QPushButton(self.tr("Cancel"))
        self.save_button.clicked.connect(self.accept)
        self.save_button.setDefault(True)
        cancel.clicked.connect(self.reject)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addStretch(1)
        for button in (self.save_button, cancel):
            button.setMinimumHeight(28)
            button.setAutoDefault(button is self.save_button)
            foot.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addLayout(grid)
        layout.addWidget(about)
        layout.addWidget(self.message)
        layout.addStretch(1)
        layout.addLayout(foot)
        self.setMinimumWidth(620)
        for ours in self.fields.values():
            for field in ours:
                field.textChanged.connect(self._tell)
        self._tell()

    def accept(self) -> None:
        try:
            self.run = self._read()
        except InputError as fault:
            self.message.say(in_a_sentence(words_of(fault)), Role.STOP)
            return
        super().accept()

    def _tell(self) -> None:
        """Say what the figures typed so far come to; a figure half typed is no fault yet."""
        try:
            slops = [corner.measured for corner in self._read().corners]
            known = [slop for slop in slops if slop is not None]
            if len(known) < len(slops):
                words = self.tr("{} of {} corners are measured.").format(len(known), len(slops))
                self.message.say(words, Role.MUTED)
                return
            check = honesty(known, [corner.name for corner in self._before.corners])
        except InputError as fault:
            self.message.say(in_a_sentence(words_of(fault)), Role.LOOK)
            return
        self.message.say(check.words, Role.GOOD if check.equal else Role.LOOK)

    def _read(self) -> Run:
        run = self._before
        for corner in run.corners:
            run = run.with_measured(corner.letter, self._slop(corner))
        return run

    def _slop(self, corner: RunCorner) -> Slop | None:
        fields = self.fields[corner.letter]
        gravity, dry, water, volume = (
            field.positive() if field.text().strip() else None for field in fields
        )
        if gravity is None and dry is None and water is None and volume is None:
            return None
        recipe = Recipe(base=corner.base, additions=corner.additions, pinned=self._before.pinned)
        before = corner.measured or Slop(solid_density=solid_density(recipe, self._studio)[0])
        found = replace(
            before, specific_gravity=gravity, dry_g=dry, water_g=water, volume_ml=volume
        )
        if not found.measures():
            raise InputError(
                f"corner {corner.letter}: these figures do not tell its dry weight",
                "give the specific gravity, or the dry weight with water or volume",
            )
        return found
