"""How the tiles are mixed: wet by volume from corners, or dry and each by itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QLabel, QWidget

from app.plan_fields import ChoiceBox, NumberField, beside
from core.blend.plan import BlendKind, Plan
from core.blend.slop import Slop, solid_density
from core.blend.volumes import SYRINGE_STEP_ML, USUAL_RESERVE
from core.errors import InputError
from core.studio import Studio
from core.tiles.run import Run, run_of
from core.tiles.sheets import DRY, USUAL_CUP_ML, USUAL_SPECIFIC_GRAVITY

WET = "wet"


@dataclass(frozen=True, slots=True)
class Mixing:
    """What the fields say."""

    method: str
    readout_g: float
    cup_ml: float | None = None
    step_ml: float = SYRINGE_STEP_ML
    reserve: float = USUAL_RESERVE
    specific_gravity: float | None = None
    measured: tuple[float | None, ...] = ()
    """Specific gravity of each corner, None where it was not measured."""
    batch_g: float | None = None

    def run(self, plan: Plan, codes: list[str], name: str, day: str, studio: Studio) -> Run:
        """Make a run of a plan that is mixed so.

        Raises
        ------
        InputError
            If a slop cannot be.
        """
        run = run_of(
            plan,
            codes,
            name,
            day,
            studio,
            method=self.method,
            cup_ml=self.cup_ml,
            batch_g=self.batch_g,
            specific_gravity=self.specific_gravity,
            reserve_percent=None if self.method == DRY else round(100.0 * self.reserve, 6),
        )
        for corner, gravity in zip(plan.corners, self.measured, strict=False):
            if gravity is not None:
                density = solid_density(corner.recipe, studio)[0]
                slop = Slop(specific_gravity=gravity, solid_density=density)
                run = run.with_measured(corner.letter, slop)
        return run

    @property
    def half_measured(self) -> bool:
        """Whether some corners were measured and some were not."""
        some = [gravity is not None for gravity in self.measured]
        return any(some) and not all(some)


class MixingForm(QWidget):
    """The fields of wet blending and of dry batches, with the scale."""

    edited = Signal()

    def __init__(self, studio: Studio) -> None:
        super().__init__()
        self._studio = studio
        self._kind = BlendKind.LINE
        self._corners = 2
        self.method = ChoiceBox(
            self.tr("How the tiles are mixed"),
            [(self.tr("wet, by volume"), WET), (self.tr("dry, each tile weighed"), DRY)],
        )
        self.cup = NumberField(self.tr("Cup, ml"), USUAL_CUP_ML)
        self.step = NumberField(self.tr("Syringe step, ml"), SYRINGE_STEP_ML)
        self.reserve = NumberField(self.tr("Reserve, %"), 100.0 * USUAL_RESERVE)
        self.gravity = NumberField(self.tr("Specific gravity aimed at"), USUAL_SPECIFIC_GRAVITY)
        self.measured = [
            NumberField(self.tr("Specific gravity measured of corner {}").format(letter), None, 56)
            for letter in "ABCD"
        ]
        for letter, field in zip("ABCD", self.measured, strict=True):
            field.setPlaceholderText(letter)
        self.batch = NumberField(self.tr("Dry base of a tile, g"), studio.test_batch_g)
        self.scale = ChoiceBox(
            self.tr("Scale"),
            [
                (self.tr("{}, {:g} g").format(one.name or one.id, one.readout_g), one.readout_g)
                for one in studio.scales
            ],
        )
        self.scale.setCurrentIndex(max(0, studio.scales.index(studio.scale)))
        self.only_dry = QLabel(self.tr("dry, each tile weighed"))
        self._lay_out()
        self.method.currentIndexChanged.connect(self._on_method)
        for field in (*self._figures(), self.batch):
            field.textEdited.connect(self._tell)
        self.scale.currentIndexChanged.connect(self._tell)
        self._show_rows()

    @property
    def is_dry(self) -> bool:
        """Whether each tile is weighed by itself."""
        return self._kind is BlendKind.VARIANTS or self.method.currentData() == DRY

    def take_kind(self, kind: BlendKind, corners: int) -> None:
        """Ask for what a kind of blend needs."""
        if kind is not self._kind:
            # What was measured was measured of other corners.
            for field in self.measured:
                field.clear()
        self._kind, self._corners = kind, corners
        self._show_rows()

    def mixing(self) -> Mixing:
        """Return what the fields say.

        Raises
        ------
        InputError
            With the name of the field that cannot be read.
        """
        readout = float(self.scale.currentData())
        if self.is_dry:
            return Mixing(DRY, readout, batch_g=self.batch.positive())
        found = Mixing(
            WET,
            readout,
            cup_ml=self.cup.positive(),
            step_ml=self.step.positive(),
            reserve=self.reserve.value() / 100.0,
            specific_gravity=self.gravity.positive(),
        )
        fields = self.measured[: self._corners]
        measured = tuple(field.positive() if field.text().strip() else None for field in fields)
        for field, gravity in zip(fields, measured, strict=True):
            if gravity is not None and gravity <= 1.0:
                raise InputError(
                    self.tr("{}: is no more than water's").format(field.name),
                    self.tr("give it like 1.45"),
                )
        return replace(found, measured=measured)

    def _figures(self) -> tuple[NumberField, ...]:
        return (self.cup, self.step, self.reserve, self.gravity, *self.measured)

    def _lay_out(self) -> None:
        form = self.form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(8)
        form.setVerticalSpacing(6)
        self._cup_line = beside(self.cup, QLabel(self.tr("syringe step")), self.step)
        self._reserve_line = beside(self.reserve, QLabel(self.tr("specific gravity")), self.gravity)
        self._measured_line = beside(*self.measured)
        self._measured_line.setToolTip(
            self.tr(
                "Specific gravity of each corner once it is mixed and sieved; "
                "empty until it was measured."
            )
        )
        form.addRow(self.tr("Mixed"), self.method)
        form.addRow(self.tr("Mixed"), self.only_dry)
        form.addRow(self.tr("Cup, ml"), self._cup_line)
        form.addRow(self.tr("Reserve, %"), self._reserve_line)
        form.addRow(self.tr("Measured s.g."), self._measured_line)
        form.addRow(self.tr("Dry base, g"), self.batch)
        form.addRow(self.tr("Scale"), self.scale)

    def _on_method(self) -> None:
        self._show_rows()
        self._tell()

    def _show_rows(self) -> None:
        a_set = self._kind is BlendKind.VARIANTS
        self.form.setRowVisible(self.method, not a_set)
        self.form.setRowVisible(self.only_dry, a_set)
        for widget in (self._cup_line, self._reserve_line, self._measured_line):
            self.form.setRowVisible(widget, not self.is_dry)
        self.form.setRowVisible(self.batch, self.is_dry)
        for place, field in enumerate(self.measured):
            field.setVisible(place < self._corners)
        # An addition is weighed into the cup; no syringe shares it out.
        self.step.setEnabled(self._kind is not BlendKind.ADDITIONS)

    def _tell(self, *_: object) -> None:
        self.edited.emit()
