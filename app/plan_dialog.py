"""Planning a run of test tiles: which blend, how it is mixed, what is expected of each tile."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date
from pathlib import Path

from PySide6.QtCore import QModelIndex, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QStackedWidget,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.dialog_buttons import without_pictures
from app.document import Document
from app.figure_line import FigureLine
from app.formatting import in_a_sentence
from app.message_label import MessageLabel
from app.plan_amounts import Amounts, amounts_of
from app.plan_amounts_panel import AmountsPanel
from app.plan_cells import CellColumn, CellsModel, cell_reading
from app.plan_fields import ChoiceBox, NumberField
from app.plan_grid import GridForm
from app.plan_kinds import AdditionsForm, KindForm, LineForm, SetForm, TriaxialForm
from app.plan_layout import heading, line_up, scrolled
from app.plan_mixing import Mixing, MixingForm
from app.plan_next import NextForm
from app.plan_preview import PlanPreview
from app.plan_reader import PlanReader
from app.plan_sources import Sources
from app.problems import words_of
from app.theme import Palette, Role, Theme, apply_tabular_figures
from core.blend.plan import BlendKind, Plan
from core.errors import InputError
from core.evaluate import Evaluation
from core.numbers import is_unfinished
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.machine import take_codes
from core.tiles.run import Run, codes_of
from core.tiles.run_file import read_run
from core.tiles.soundness import check_day

_FORM_WIDTH = 372
NEXT = "next"
_BREATH_MS = 60
"""Between the last key and the new plan, so that a held key does not plan at every step."""


class PlanDialog(QDialog):
    """Plans a run of tiles; OK gives it codes of its own, Cancel leaves everything as it is.

    Parameters
    ----------
    source : Document or (Recipe, Studio)
        The recipe whose rows, variants, firing and body the plan begins with.
    theme : Theme
        Followed live.
    state_folder : Path
        This machine's own folder, where it counts the codes that it gave.
    """

    def __init__(
        self,
        source: Document | tuple[Recipe, Studio],
        theme: Theme,
        state_folder: Path,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Plan a run of tiles"))
        if isinstance(source, Document):
            recipe, studio, path = source.recipe, source.studio, source.path
        else:
            (recipe, studio), path = source, None
        self._recipe, self._studio = recipe, studio
        self._state_folder = state_folder
        self._document = source if isinstance(source, Document) else None
        self._sources = Sources(recipe, studio, path)
        self._taken = {_slug(run_path.stem) for run_path in studio.run_paths()}
        self._run: Run | None = None
        self._plan: Plan | None = None
        self._amounts: Amounts | None = None
        self._mixing: Mixing | None = None
        self._plan_fault = self._mixing_fault = self._codes_fault = ""
        self._name_typed = False
        self._plan_stale = True
        self._kind_shown = -1
        self._breath = QTimer(self)
        self._breath.setSingleShot(True)
        self._breath.setInterval(_BREATH_MS)
        self._breath.timeout.connect(self.settle)
        self.reader = PlanReader(studio, self)
        self._make_form()
        self._make_views()
        self._make_foot()
        self._lay_out()
        self._connect()
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self.settle()
        self.kind.setFocus()
        self.resize(1100, 660)

    @property
    def run(self) -> Run | None:
        """The run with its codes, once it was accepted; None before and otherwise."""
        return self._run

    @property
    def plan(self) -> Plan | None:
        """The plan that is shown; None while the fields make none."""
        return self._plan

    @property
    def amounts(self) -> Amounts | None:
        """What it takes; None while that cannot be worked out."""
        return self._amounts

    @property
    def fault(self) -> str:
        """Why nothing can be planned as the fields stand, in words; empty if all is well."""
        if self._studio.folder is None:
            return self.tr(
                "No studio is open: a run is kept in its folder. Open or begin a studio first."
            )
        for text in (self._plan_fault, self._mixing_fault, self._name_fault(), self._codes_fault):
            if text:
                return in_a_sentence(text)
        return ""

    def settle(self) -> None:
        """Take over what the fields say now."""
        self._breath.stop()
        if self._plan_stale:
            self._plan_stale = False
            self._make_plan()
        self._work_out()
        self._tell()

    def accept(self) -> None:
        """Take codes for the tiles and close; a refusal is told and leaves the dialog open."""
        self.settle()
        plan, mixing = self._plan, self._mixing
        if self.fault or plan is None or mixing is None or self._studio.folder is None:
            return
        name, day = self.name.text().strip(), self.date.text().strip()
        try:
            if self._document is not None:
                self._document.may_write(self._studio.folder / "machines")
            codes = take_codes(
                self._state_folder, self._studio.folder, len(plan.cells), self._known_codes()
            )
            self._run = mixing.run(plan, list(codes), name, day, self._studio)
        except (InputError, OSError) as fault:
            self._codes_fault = self.tr("no codes could be taken: {}").format(words_of(fault))
            self._tell()
            return
        super().accept()

    def done(self, result: int) -> None:
        self._breath.stop()
        self.reader.stop()
        super().done(result)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)
        elif event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.accept()
        else:
            # Enter ends a figure; codes are only taken when they are asked for.
            self.settle()

    def _make_form(self) -> None:
        self.kind = ChoiceBox(
            self.tr("Kind of blend"),
            [
                (self.tr("line blend, two ends"), BlendKind.LINE),
                (self.tr("triaxial, three corners"), BlendKind.TRIAXIAL),
                (self.tr("grid, four corners"), BlendKind.GRID),
                (self.tr("additions in a series"), BlendKind.ADDITIONS),
                (self.tr("free set of variants and recipes"), BlendKind.VARIANTS),
                (self.tr("next tiles, where doubt is most"), NEXT),
            ],
        )
        self.line = LineForm(self._sources)
        self.triaxial = TriaxialForm(self._sources)
        self.grid = GridForm(self._sources)
        self.additions = AdditionsForm(self._sources)
        self.set = SetForm(self._sources)
        self.next = NextForm(self._sources)
        # In the order of the choices.
        self.forms: tuple[KindForm, ...] = (
            self.line,
            self.triaxial,
            self.grid,
            self.additions,
            self.set,
            self.next,
        )
        self.pages = QStackedWidget()
        for form in self.forms:
            self.pages.addWidget(form)
        self.mixing = MixingForm(self._studio)
        self.name = QLineEdit()
        self.name.setAccessibleName(self.tr("Name of the run"))
        self.name.setMaxLength(80)
        self.name.setMinimumHeight(26)
        self.date = QLineEdit(date.today().isoformat())
        self.date.setAccessibleName(self.tr("Day of the plan"))
        self.date.setMaxLength(10)
        self.date.setMinimumHeight(26)

    def _make_views(self) -> None:
        self.preview = PlanPreview(self._studio)
        self.heading = heading("")
        self.kiln = FigureLine(Role.MUTED)
        self.cells = CellsModel(self._studio, self)
        self.table = QTableView()
        copy_as_cell(self.table)
        self.table.setModel(self.cells)
        self.table.setAccessibleName(self.tr("Tiles of the plan"))
        self.table.setFont(apply_tabular_figures(self.font()))
        self.table.setShowGrid(False)
        self.table.setWordWrap(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setTabKeyNavigation(False)
        self.table.setMinimumHeight(110)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(28)
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setStretchLastSection(True)
        metrics = self.table.fontMetrics()
        for column, sample in (
            (CellColumn.NUMBER, "000"),
            (CellColumn.LABEL, "A 41.67 B 41.67 C 8.33 D 8.33"),
            (CellColumn.SILICA, "00.00"),
            (CellColumn.ALUMINA, "00.00"),
            (CellColumn.SURFACE, "Magnesia crystal matte (100 %)"),
        ):
            header.resizeSection(column, metrics.horizontalAdvance(sample) + 16)
        self.detail = FigureLine(Role.INK)
        self.recipe_line = FigureLine(Role.MUTED)
        self.takes = AmountsPanel()

    def _make_foot(self) -> None:
        self.message = MessageLabel(self.tr("Why nothing can be planned yet"))
        self.message.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.progress = QProgressBar()
        self.progress.setAccessibleName(self.tr("Tiles read"))
        self.progress.setFixedWidth(170)
        self.progress.setMinimumHeight(24)
        self.stop_button = QPushButton()
        self.stop_button.setAutoDefault(False)
        self.stop_button.setMinimumHeight(26)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        without_pictures(self.buttons)
        self.ok = self.buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.buttons.button(QDialogButtonBox.StandardButton.Cancel).setText(self.tr("Cancel"))

    def _lay_out(self) -> None:
        kind = QFormLayout()
        forms = [kind, *(form.form for form in self.forms), self.mixing.form]
        kind.setHorizontalSpacing(8)
        kind.addRow(self.tr("&Blend"), self.kind)
        named = QFormLayout()
        named.setHorizontalSpacing(8)
        named.setVerticalSpacing(6)
        named.addRow(self.tr("&Name"), self.name)
        named.addRow(self.tr("&Day"), self.date)
        line_up([*forms, named])
        inner = QWidget()
        fields = QVBoxLayout(inner)
        fields.setContentsMargins(0, 0, 8, 0)
        fields.setSpacing(8)
        fields.addWidget(heading(self.tr("Tiles")))
        fields.addLayout(kind)
        fields.addWidget(self.pages)
        fields.addWidget(heading(self.tr("Mixing")))
        fields.addWidget(self.mixing)
        fields.addWidget(heading(self.tr("Run")))
        fields.addLayout(named)
        fields.addStretch(1)
        scroll = scrolled(inner)
        scroll.setFixedWidth(_FORM_WIDTH)
        views = QGridLayout()
        views.setSpacing(8)
        top = QVBoxLayout()
        top.setSpacing(2)
        top.addWidget(self.heading)
        top.addWidget(self.kiln)
        views.addLayout(top, 0, 0)
        views.addWidget(self.preview, 1, 0)
        views.addWidget(self.takes, 0, 1, 2, 1)
        views.addWidget(self.table, 2, 0, 1, 2)
        views.addWidget(self.detail, 3, 0, 1, 2)
        views.addWidget(self.recipe_line, 4, 0, 1, 2)
        views.setColumnStretch(0, 6)
        views.setColumnStretch(1, 5)
        views.setRowStretch(1, 5)
        views.setRowStretch(2, 4)
        body = QHBoxLayout()
        body.setSpacing(12)
        body.addWidget(scroll)
        body.addLayout(views, 1)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(self.message, 1)
        foot.addWidget(self.progress)
        foot.addWidget(self.stop_button)
        foot.addWidget(self.buttons)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addLayout(body, 1)
        layout.addLayout(foot)

    def _connect(self) -> None:
        self.kind.currentIndexChanged.connect(self._on_kind)
        for form in self.forms:
            form.edited.connect(self._on_plan_edited)
        self.mixing.edited.connect(self._on_edited)
        self.name.textEdited.connect(self._on_name)
        self.date.textEdited.connect(self._on_edited)
        for field in self.findChildren(NumberField):
            field.editingFinished.connect(self._breath.start)
        self.reader.tile_read.connect(self._on_read)
        self.reader.state_changed.connect(self._show_progress)
        self.stop_button.clicked.connect(self._on_stop)
        self.preview.tile_picked.connect(self.table.selectRow)
        self.table.selectionModel().currentRowChanged.connect(self._on_chosen)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)

    def _set_palette(self, palette: Palette) -> None:
        self.preview.set_palette(palette)
        self.set.set_palette(palette)
        self.takes.set_palette(palette)
        self.message.set_palette(palette)
        self.detail.set_palette(palette)
        self.recipe_line.set_palette(palette)
        self.kiln.set_palette(palette)

    def _on_kind(self) -> None:
        self.pages.setCurrentIndex(self.kind.currentIndex())
        self._on_plan_edited()

    def _on_plan_edited(self) -> None:
        self._plan_stale = True
        self._on_edited()

    def _on_edited(self) -> None:
        self._codes_fault = ""
        field = self.focusWidget()
        if isinstance(field, NumberField) and is_unfinished(field.text()):
            # It waits for the rest of the figure, or for the field to be left.
            self._breath.stop()
        else:
            self._breath.start()

    def _on_name(self) -> None:
        self._name_typed = bool(self.name.text().strip())
        self._on_edited()

    def _make_plan(self) -> None:
        form = self.forms[self.kind.currentIndex()]
        same = self._kind_shown == self.kind.currentIndex()
        self._kind_shown = self.kind.currentIndex()
        chosen = self.table.currentIndex().row() if same else 0
        try:
            self._plan = form.plan()
        except InputError as fault:
            self._plan, self._plan_fault = None, words_of(fault)
        else:
            self._plan_fault = ""
            self.mixing.take_kind(self._plan.kind, len(self._plan.corners))
        self.cells.set_plan(self._plan)
        self.preview.set_plan(self._plan)
        self.detail.setText("")
        self.recipe_line.setText("")
        self.reader.begin(self._plan)
        if self._plan is not None:
            place = min(max(chosen, 0), len(self._plan.cells) - 1)
            self.table.setCurrentIndex(self.cells.index(place, 0))
            if not self._name_typed:
                self.name.setText(self._free_name(self._plan))

    def _work_out(self) -> None:
        self._mixing = self._amounts = None
        self._mixing_fault = ""
        if self._plan is None:
            return
        try:
            self._mixing = self.mixing.mixing()
            self._amounts = amounts_of(self._plan, self._mixing, self._studio)
        except InputError as fault:
            self._mixing_fault = words_of(fault)

    def _tell(self) -> None:
        plan = self._plan
        count = len(plan.cells) if plan is not None else 0
        self.heading.setText(
            self.tr("1 tile") if count == 1 else self.tr("{} tiles").format(count or self.tr("no"))
        )
        self.kiln.setText(self._kiln_words(plan))
        remarks = self.forms[self.kind.currentIndex()].remarks(plan) if plan is not None else ()
        self.takes.show_amounts(self._amounts, remarks)
        fault = self.fault
        self.message.say(fault, Role.STOP if fault else Role.MUTED)
        self.ok.setEnabled(not fault)
        self.ok.setText(
            self.tr("Plan") if plan is None else self.tr("Plan {}").format(self.heading.text())
        )
        self.ok.setToolTip(fault or self.tr("Gives the tiles their codes (Ctrl+Enter)"))
        self.ok.setAccessibleDescription(fault)

    def _kiln_words(self, plan: Plan | None) -> str:
        if plan is None:
            return ""
        first = plan.cells[0].recipe
        firing = self._studio.firings.get(first.firing)
        body = self._studio.bodies.get(first.body)
        said = [
            (firing.name or firing.id) if firing is not None else self.tr("no firing chosen"),
            (body.name or body.id) if body is not None else self.tr("no body chosen"),
        ]
        if first.shelf:
            said.append(self.tr("shelf {}").format(first.shelf))
        return self.tr("Read for {}").format(", ".join(said))

    def _on_read(self, place: int, evaluation: Evaluation) -> None:
        reading = cell_reading(evaluation)
        self.cells.set_reading(place, reading)
        self.preview.show_reading(place, reading, evaluation)
        self.preview.tell(self.cells.readings)

    def _show_progress(self) -> None:
        reader = self.reader
        self.progress.setRange(0, max(reader.tiles, 1))
        self.progress.setValue(reader.count)
        self.progress.setFormat(self.tr("read {} of {}").format(reader.count, reader.tiles))
        self.stop_button.setText(
            self.tr("Stop reading") if reader.running or reader.done else self.tr("Go on reading")
        )
        self.stop_button.setEnabled(not reader.done)

    def _on_stop(self) -> None:
        if self.reader.running:
            self.reader.stop()
        else:
            self.reader.go_on()

    def _on_chosen(self, current: QModelIndex, _before: QModelIndex) -> None:
        place = current.row() if current.isValid() else -1
        self.preview.choose(place)
        self.detail.setText(self.cells.in_words(place))
        self.recipe_line.setText(self.cells.recipe_words(place))

    def _name_fault(self) -> str:
        name = self.name.text().strip()
        if not name:
            return self.tr("the run has no name; give it one")
        if not name.isprintable():
            return self.tr("the name holds characters that cannot be printed; type it anew")
        if _slug(name) in self._taken:
            return self.tr("there is a run called “{}” already; give this one another name").format(
                name
            )
        try:
            check_day(self.date.text().strip())
        except InputError as fault:
            return self.tr("the day: {}").format(words_of(fault))
        return ""

    def _free_name(self, plan: Plan) -> str:
        kind = {
            BlendKind.LINE: self.tr("line blend"),
            BlendKind.TRIAXIAL: self.tr("triaxial"),
            BlendKind.GRID: self.tr("grid"),
            BlendKind.ADDITIONS: self.tr("additions"),
            BlendKind.VARIANTS: self.tr("set"),
        }[plan.kind]
        first = f"{self._recipe.name or self.tr('Tiles')}, {kind}"[:70]
        taken, number, name = self._taken, 1, first
        while _slug(name) in taken:
            number += 1
            name = f"{first} {number}"
        return name

    def _known_codes(self) -> list[str]:
        known: list[str] = []
        for path in self._studio.run_paths():
            # What is wrong with a run is told where it is opened.
            with suppress(InputError, OSError):
                known += codes_of([read_run(path)])
        return known


def _slug(name: str) -> str:
    return re.sub(r"[^\w]+", "-", name.casefold()).strip("-")
