"""The oxides of the formula as a table for Qt."""

from __future__ import annotations

from enum import IntEnum
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from app import formatting
from core.evaluate import Evaluation
from core.oxides import COLOURING_RO, FLUXES, OXIDES, R2O

Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()


class Column(IntEnum):
    """Columns of the formula."""

    OXIDE = 0
    UNITY = 1
    ERROR = 2
    WEIGHT = 3
    MOLE = 4


_HEADERS = ("Oxide", "Unity", "±", "wt%", "mol%")
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_ALIGNMENTS = (_LEFT, _RIGHT, _RIGHT, _RIGHT, _RIGHT)
_TIPS = (
    "",
    "Moles of the oxide to one mole of fluxes",
    "One standard deviation from the tolerance of the analyses and the readout of the scale, "
    "500 draws",
    "Percent of the fired weight",
    "Percent of the moles",
)


def group_of(oxide: str) -> str:
    """Return the column of the unity formula that an oxide belongs to."""
    if oxide in R2O:
        return "R₂O"
    if oxide in FLUXES:
        return "RO"
    if oxide in COLOURING_RO:
        return "colouring RO"
    if oxide in ("Al2O3", "Fe2O3", "Cr2O3"):
        return "R₂O₃"
    if oxide == "B2O3":
        return "B₂O₃"
    return "fluorine" if oxide == "F" else "RO₂"


class FormulaModel(QAbstractTableModel):
    """One row for each oxide that is there, in the order of the basis."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._oxides: tuple[int, ...] = ()
        self._texts: list[list[str]] = []
        self._evaluation: Evaluation | None = None

    def show(self, evaluation: Evaluation) -> None:
        """Take another evaluation; rows come and go only when oxides do."""
        oxides = tuple(int(i) for i in evaluation.formula.moles.nonzero()[0])
        if evaluation.formula.weight_percent is None:
            oxides = ()
        self._oxides, before = oxides, self._oxides
        self._evaluation = evaluation
        texts = [[self._text(column, oxide) for column in Column] for oxide in oxides]
        if oxides != before:
            self.beginResetModel()
            self._texts = texts
            self.endResetModel()
            return
        old, self._texts = self._texts, texts
        # Cell by cell, and only those that read differently: for a range of
        # cells a view repaints all that it shows.
        for row, (was, now) in enumerate(zip(old, texts, strict=True)):
            for column, (before_text, text) in enumerate(zip(was, now, strict=True)):
                if before_text != text:
                    index = self.index(row, column)
                    self.dataChanged.emit(index, index)

    def rowCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._texts)

    def columnCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(Column)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return _HEADERS[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return _TIPS[section] or None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _ALIGNMENTS[section]
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._texts[index.row()][index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _ALIGNMENTS[index.column()]
        if role == Qt.ItemDataRole.ToolTipRole:
            return group_of(OXIDES[self._oxides[index.row()]])
        return None

    def _text(self, column: Column, oxide: int) -> str:
        assert self._evaluation is not None
        formula, cloud = self._evaluation.formula, self._evaluation.cloud
        if column is Column.OXIDE:
            return formatting.oxide_text(OXIDES[oxide])
        if column is Column.UNITY:
            return formatting.figure(_at(formula.unity, oxide))
        if column is Column.ERROR:
            return formatting.figure(_at(cloud.standard_error if cloud else None, oxide))
        if column is Column.WEIGHT:
            return formatting.decimals(_at(formula.weight_percent, oxide), 2)
        return formatting.decimals(_at(formula.mole_percent, oxide), 2)


def _at(values: Any, place: int) -> float | None:
    return None if values is None else float(values[place])
