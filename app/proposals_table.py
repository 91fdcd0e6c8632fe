"""Proposed recipes side by side: one column each, figures first and parts below."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from app.cell_copy import copy_as_cell
from app.formatting import decimals
from app.theme import LIGHT, Palette, Role, apply_tabular_figures
from core.errors import InputError
from core.recipe import Recipe, total
from core.solve import Proposal, shelf_of
from core.solve.shelf import expansion_terms
from core.studio import Studio

Index = QModelIndex | QPersistentModelIndex
FIRST = 2
"""Column of the first proposal; the name of the line and the recipe now stand before it."""
_ROW_HEIGHT = 26
_NOWHERE = QModelIndex()


@dataclass(frozen=True, slots=True)
class Now:
    """The recipe on the bench, in the same figures as a proposal."""

    parts: Mapping[str, float]
    """Of the base in percent, by material."""
    loi_percent: float | None = None
    clay_percent: float | None = None
    expansion: float | None = None


def now_of(recipe: Recipe, studio: Studio, with_additions: bool) -> Now:
    """Return the figures of a recipe; without a material that it names, its parts alone."""
    whole = total(recipe.base)
    parts: dict[str, float] = {}
    for row in recipe.base:
        if whole > 0 and row.amount > 0:
            share = 100.0 * row.amount / whole
            parts[row.material] = parts.get(row.material, 0.0) + share
    try:
        shelf = shelf_of(recipe, studio, tuple(parts), with_additions)
    except InputError:
        return Now(parts)
    weights = np.array(list(parts.values()))
    weighted, modelled = expansion_terms(shelf.moles_per_gram)
    melt = float(weights @ modelled)
    return Now(
        parts,
        float(weights @ shelf.loi_percent) / 100.0,
        float(weights @ shelf.raw_clay),
        float(weights @ weighted) / melt if melt > 0 else None,
    )


class ProposalsModel(QAbstractTableModel):
    """The figures of up to five proposals, then their parts."""

    def __init__(
        self, now: Now, name_of: Callable[[str], str], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._now = now
        self._name_of = name_of
        self._proposals: tuple[Proposal, ...] = ()
        self._materials: tuple[str, ...] = ()
        self._colors: Palette = LIGHT

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """What is shown, from left to right."""
        return self._proposals

    @property
    def materials(self) -> tuple[str, ...]:
        """Ids of the lines below the figures."""
        return self._materials

    @property
    def figures(self) -> int:
        """How many lines of figures stand above the materials."""
        return len(self._titles())

    def show_proposals(self, proposals: Sequence[Proposal]) -> None:
        """Show others."""
        self.beginResetModel()
        self._proposals = tuple(proposals)
        used = dict.fromkeys(m for p in proposals for m in p.materials)
        gone = [m for m in self._now.parts if m not in used] if proposals else []
        self._materials = (*used, *gone)
        self.endResetModel()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette

    def rowCount(self, parent: Index = _NOWHERE) -> int:
        if parent.isValid() or not self._proposals:
            return 0
        return self.figures + len(self._materials)

    def columnCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else FIRST + len(self._proposals)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            if section < FIRST:
                return ("", self.tr("now"))[section]
            return str(section - FIRST + 1)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid():
            return None
        row, column = index.row(), index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(row, column)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if column else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.ForegroundRole:
            quiet = column == 1 or (column == 0 and row < self.figures)
            return self._colors.color(Role.MUTED) if quiet else None
        if role == Qt.ItemDataRole.ToolTipRole and column == 0:
            return self._text(row, 0)
        if role == Qt.ItemDataRole.AccessibleTextRole and column:
            which = self.tr("now")
            if column >= FIRST:
                which = self.tr("proposal {}").format(column - FIRST + 1)
            return f"{which}: {self._text(row, 0)} {self._text(row, column)}"
        return None

    def _titles(self) -> tuple[str, ...]:
        return (
            self.tr("furthest off, mol"),
            self.tr("materials"),
            self.tr("loss on ignition, %"),
            self.tr("raw clay, %"),
            self.tr("expansion, 10⁻⁶/K"),
        )

    def _text(self, row: int, column: int) -> str:
        if row < self.figures:
            return self._titles()[row] if column == 0 else self._figure(row, column)
        material = self._materials[row - self.figures]
        if column == 0:
            return self._name_of(material)
        if column == 1:
            parts: float | None = self._now.parts.get(material)
            return "" if parts is None else decimals(parts, 1)
        proposal = self._proposals[column - FIRST]
        if material not in proposal.materials:
            return ""
        places = 2 if proposal.round_to is None else 1
        return decimals(proposal.parts[proposal.materials.index(material)], places)

    def _figure(self, row: int, column: int) -> str:
        shown = self._now if column == 1 else self._proposals[column - FIRST]
        if row == 0:
            return "" if isinstance(shown, Now) else decimals(shown.worst, 3)
        if row == 1:
            return str(len(shown.parts))
        if row == 2:
            return decimals(shown.loi_percent, 1)
        if row == 3:
            return decimals(shown.clay_percent, 1)
        return decimals(shown.expansion, 2)


class ProposalsTable(QTableView):
    """Shows a `ProposalsModel`; left and right choose a proposal."""

    chosen = Signal(object)  # Proposal or None

    def __init__(self, model: ProposalsModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        copy_as_cell(self)
        self.proposals = model
        self.setModel(model)
        self.setAccessibleName(self.tr("Proposals side by side; left and right choose one"))
        self.setFont(apply_tabular_figures(self.font()))
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectColumns)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(_ROW_HEIGHT)
        header = self.horizontalHeader()
        header.setMinimumSectionSize(44)
        header.setSectionsClickable(True)
        header.sectionClicked.connect(self.choose_column)
        model.modelReset.connect(self._on_reset)
        self.selectionModel().currentColumnChanged.connect(self._on_current_changed)
        self._on_reset()

    @property
    def proposal(self) -> Proposal | None:
        """The chosen one."""
        column = self.currentIndex().column()
        if not FIRST <= column < self.proposals.columnCount():
            return None
        return self.proposals.proposals[column - FIRST]

    def choose_column(self, column: int) -> None:
        """Choose the proposal of a column; the nearest one for the two columns before them."""
        if self.proposals.proposals:
            row = max(self.currentIndex().row(), 0)
            self.setCurrentIndex(self.proposals.index(row, max(column, FIRST)))

    def sizeHint(self) -> QSize:
        return QSize(420, 12 * _ROW_HEIGHT)

    def minimumSizeHint(self) -> QSize:
        return QSize(380, 5 * _ROW_HEIGHT)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if not self.currentIndex().isValid():
            self.choose_column(FIRST)

    def _on_reset(self) -> None:
        header = self.horizontalHeader()
        header.setVisible(bool(self.proposals.proposals))
        if self.proposals.proposals:
            header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
            header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
            for column in range(1, self.proposals.columnCount()):
                self.setColumnWidth(column, 48)
            self.choose_column(FIRST)
        self.chosen.emit(self.proposal)

    def _on_current_changed(self, now: Index, _before: Index) -> None:
        if now.isValid() and now.column() < FIRST:
            self.choose_column(FIRST)
        elif now.isValid():
            self.chosen.emit(self.proposal)
