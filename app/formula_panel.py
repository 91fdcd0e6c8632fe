"""The panel of the formula: oxides with their errors, the flux ribbon, ratios and loss."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QHeaderView,
    QLabel,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app import formatting
from app.cell_copy import copy_as_cell
from app.delegates import FigureDelegate
from app.document import Document
from app.figure_line import FigureLine
from app.flux_ribbon import FluxRibbon
from app.formula_model import Column, FormulaModel
from app.theme import Palette, Role, Theme, apply_tabular_figures, show_tick_box
from core.evaluate import Evaluation


class FormulaPanel(QWidget):
    """Shows the formula of the recipe, or of its base alone."""

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self.model = FormulaModel(self)
        self.table = QTableView()
        copy_as_cell(self.table)
        self.ribbon = FluxRibbon()
        self.ratios = FigureLine()
        self.convention = QLabel()
        self.convention.setWordWrap(True)
        self.base_box = QCheckBox(self.tr("Base alone, without additions"))
        self.base_box.toggled.connect(document.set_base_alone)
        self._build_table()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.ribbon)
        layout.addWidget(self.ratios)
        layout.addWidget(self.base_box)
        layout.addWidget(self.convention)
        document.evaluation_changed.connect(self._on_evaluation_changed)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self._on_evaluation_changed(document.evaluation)

    def _build_table(self) -> None:
        table = self.table
        table.setModel(self.model)
        table.setAccessibleName(self.tr("Unity formula"))
        table.setFont(apply_tabular_figures(self.font()))
        table.setShowGrid(False)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setMinimumHeight(120)
        table.setItemDelegate(FigureDelegate(Qt.AlignmentFlag.AlignRight, table))
        table.setItemDelegateForColumn(
            Column.OXIDE, FigureDelegate(Qt.AlignmentFlag.AlignLeft, table)
        )
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(24)
        header = table.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(32)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(Column.OXIDE, QHeaderView.ResizeMode.ResizeToContents)

    def _set_palette(self, palette: Palette) -> None:
        self.ribbon.set_palette(palette)
        self.ratios.set_palette(palette)
        show_tick_box(self.base_box, palette)
        self.convention.setStyleSheet(f"color: {palette.hex(Role.MUTED)}")

    def _on_evaluation_changed(self, evaluation: Evaluation) -> None:
        self.model.show(evaluation)
        self.ribbon.show_evaluation(evaluation)
        formula = evaluation.formula
        text = self.tr("SiO₂:Al₂O₃ {}   loss on ignition {} %").format(
            formatting.figure(formula.silica_alumina, 2),
            formatting.decimals(formula.loss_on_ignition_percent, 2),
        )
        if evaluation.missing:
            text = self.tr("incomplete: ") + text
        self.ratios.setText(text)
        convention = formatting.oxides_in(str(formula.convention))
        if self.convention.text() != convention:
            self.convention.setText(convention)
        self.base_box.setEnabled(bool(evaluation.recipe.additions) or evaluation.base_alone)
