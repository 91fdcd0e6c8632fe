"""The panel of the recipe: its name, its rows, how a nudge acts, and the total."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app import formatting
from app.bench_state import BenchState
from app.document import Document
from app.figure_line import FigureLine
from app.name_edit import NameEdit
from app.recipe_model import Column
from app.rows_table import RowsTable
from app.theme import Palette, Role, Theme, show_tick_box
from core.errors import InputError
from core.nudge import HELD_TOTAL, STEPS, scale_to
from core.recipe import Recipe, Section, total


class RecipeView(QWidget):
    """Edits the open recipe."""

    def __init__(
        self, document: Document, state: BenchState, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._state = state
        self.name_edit = NameEdit(document)
        self.base = RowsTable(document, state, theme, Section.BASE, self)
        self.additions = RowsTable(document, state, theme, Section.ADDITIONS, self)
        self.base.neighbour = lambda by: self._cross(self.additions, 0) if by > 0 else None
        self.additions.neighbour = lambda by: self._cross(self.base, -1) if by < 0 else None
        self.total_label = FigureLine()
        self.scale_button = QPushButton(self.tr("Scale to 100"))
        self.scale_button.setToolTip(
            self.tr("Bring the base to 100 parts; every proportion stays (Ctrl+0)")
        )
        self.scale_button.clicked.connect(self.scale_to_100)
        self.hold_box = QCheckBox(self.tr("Hold the total at 100"))
        self.hold_box.setToolTip(
            self.tr(
                "On: a changed row is made up by the other unlocked rows, in their proportions. "
                "Off: the other rows keep their parts and the total moves."
            )
        )
        self.hold_box.toggled.connect(state.set_hold_total)
        state.hold_total_changed.connect(self.hold_box.setChecked)
        self._arrange()
        document.recipe_changed.connect(self._on_recipe_changed)
        state.step_changed.connect(self._on_step_changed)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self._on_recipe_changed(document.recipe)
        self._on_step_changed(state.step)

    def _arrange(self) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(8)
        layout.addWidget(self.name_edit)
        layout.addLayout(self._nudge_bar())
        layout.addWidget(self.base, 3)
        totals = QHBoxLayout()
        totals.addWidget(self.total_label, 1)
        totals.addWidget(self.scale_button)
        layout.addLayout(totals)
        line = QFrame()
        line.setFrameShape(QFrame.Shape.HLine)
        layout.addWidget(line)
        layout.addWidget(self.additions, 1)

    def _nudge_bar(self) -> QHBoxLayout:
        bar = QHBoxLayout()
        bar.setSpacing(4)
        label = QLabel(self.tr("Nudge by"))
        label.setToolTip(
            self.tr("+ and − change the selected row by this much; Alt+← and Alt+→ choose it")
        )
        bar.addWidget(label)
        self.step_group = QButtonGroup(self)
        for step in STEPS:
            button = QToolButton()
            button.setText(f"{step:g}")
            button.setCheckable(True)
            button.setAutoRaise(True)
            button.setMinimumSize(30, 24)
            button.setAccessibleName(self.tr("Nudge by {}").format(f"{step:g}"))
            self.step_group.addButton(button)
            bar.addWidget(button)
        self.step_group.buttonClicked.connect(self._on_step_chosen)
        bar.addStretch(1)
        bar.addWidget(self.hold_box)
        self.hold_box.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        return bar

    def table(self, section: Section) -> RowsTable:
        """Return the table of a section."""
        return self.base if section is Section.BASE else self.additions

    def active_table(self) -> RowsTable:
        """Return the table that holds the selected row, or the base."""
        selected = self._state.selected
        if self.additions.hasFocus() or (selected and selected.section is Section.ADDITIONS):
            return self.additions
        return self.base

    def nudge_selected(self, steps: int) -> None:
        """Nudge the selected row wherever the focus is."""
        selected = self._state.selected
        if selected is not None:
            self.table(selected.section).rows_model.nudge(selected.row, steps)

    def scale_to_100(self) -> None:
        """Bring the base to 100 parts."""
        try:
            changed = scale_to(self._document.recipe, HELD_TOTAL)
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return
        self._document.edit(self.tr("Scale to 100"), changed)

    def _set_palette(self, palette: Palette) -> None:
        show_tick_box(self.hold_box, palette)
        # The chosen step and the focus must be seen by more than a shade of grey.
        accent, paper = palette.hex(Role.ACCENT), palette.hex(Role.PAPER)
        for button in self.step_group.buttons():
            button.setStyleSheet(
                "QToolButton { border: 2px solid transparent; border-radius: 4px; }"
                f"QToolButton:checked {{ background: {accent}; color: {paper}; }}"
                f"QToolButton:focus {{ border-color: {palette.hex(Role.INK)}; }}"
            )
        self.total_label.set_palette(palette)

    def _cross(self, table: RowsTable, row: int) -> None:
        table.setFocus(Qt.FocusReason.OtherFocusReason)
        table.go_to(row if row >= 0 else table.rows_model.rowCount() - 1, Column.PARTS)

    def _on_step_chosen(self, button: QAbstractButton) -> None:
        self._state.set_step(float(button.text()))

    def _on_step_changed(self, step: float) -> None:
        for button in self.step_group.buttons():
            button.setChecked(float(button.text()) == step)

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        weight = total(recipe.base)
        text = self.tr("Base total {}").format(formatting.decimals(weight, 2))
        if recipe.additions:
            text += self.tr("  + additions {} %").format(formatting.parts(total(recipe.additions)))
        self.total_label.setText(text)
        self.scale_button.setEnabled(weight > 0 and abs(weight - HELD_TOTAL) > 1e-9)
