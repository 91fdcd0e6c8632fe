"""What was measured of the corners of a run once they were mixed."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from app.formatting import in_a_sentence
from app.message_label import MessageLabel
from app.plan_fields import NumberField
from app.problems import words_of
from app.theme import Palette, Role
from core.blend.slop import Slop, solid_density
from core.errors import InputError
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.run import Run, RunCorner


class MeasuredDialog(QDialog):
    """Takes specific gravity, or dry weight with water or volume; `run` is the answer."""

    def __init__(
        self, run: Run, studio: Studio, palette: Palette, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Measured corners of {}").format(run.name))
        self._before, self._studio = run, studio
        self.run: Run | None = None
        self.fields: dict[str, tuple[NumberField, ...]] = {}
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
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
        self.message = MessageLabel(self.tr("What is wrong with a figure"))
        self.message.set_palette(palette)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addLayout(grid)
        layout.addWidget(about)
        layout.addWidget(self.message)
        layout.addStretch(1)
        layout.addWidget(buttons)
        self.setMinimumWidth(560)

    def accept(self) -> None:
        try:
            run = self._before
            for corner in run.corners:
                run = run.with_measured(corner.letter, self._slop(corner))
        except InputError as fault:
            self.message.say(in_a_sentence(words_of(fault)), Role.STOP)
            return
        self.run = run
        super().accept()

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
