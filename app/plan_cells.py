"""The tiles of a plan as a table: what each is, where it lies and what is expected of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, auto

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from app.formatting import NOTHING, decimals, oxide_text, parts
from core.blend.plan import Cell, Plan
from core.evaluate import Evaluation, material_of
from core.oxides import OXIDES
from core.reading.words import verdict
from core.recipe import Section
from core.regions import Zone
from core.studio import Studio

Index = QModelIndex | QPersistentModelIndex
_LEAST_SHOWN = 0.005
"""Of an oxide in the unity formula, to two decimals [mol]."""


class CellColumn(IntEnum):
    """Columns of the tiles."""

    NUMBER = 0
    LABEL = auto()
    SILICA = auto()
    ALUMINA = auto()
    SURFACE = auto()
    RECIPE = auto()


@dataclass(frozen=True, slots=True)
class CellReading:
    """What the reading expects of one tile."""

    zone: Zone | None
    words: str


def cell_reading(evaluation: Evaluation) -> CellReading:
    """Keep of an evaluation what the plan shows."""
    surface = evaluation.reading.surface
    return CellReading(surface.zone if surface else None, verdict(evaluation.reading))


class CellsModel(QAbstractTableModel):
    """One row for each tile, in the order of work; readings come in one after the other."""

    def __init__(self, studio: Studio, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._studio = studio
        self._plan: Plan | None = None
        self._readings: dict[int, CellReading] = {}
        self._recipes: dict[int, str] = {}

    @property
    def readings(self) -> dict[int, CellReading]:
        """What has been read so far, by the row of the tile."""
        return self._readings

    def set_plan(self, plan: Plan | None) -> None:
        """Show another plan, none of it read yet."""
        self.beginResetModel()
        self._plan = plan
        self._readings, self._recipes = {}, {}
        self.endResetModel()

    def set_reading(self, row: int, reading: CellReading) -> None:
        """Take what was read of a tile."""
        self._readings[row] = reading
        cell = self.index(row, CellColumn.SURFACE)
        self.dataChanged.emit(cell, cell)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's signature
        return 0 if parent.isValid() or self._plan is None else len(self._plan.cells)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's signature
        return 0 if parent.isValid() else len(CellColumn)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if orientation is not Qt.Orientation.Horizontal:
            return None
        right = section in (CellColumn.NUMBER, CellColumn.SILICA, CellColumn.ALUMINA)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.DisplayRole:
            return {
                CellColumn.NUMBER: self.tr("no."),
                CellColumn.LABEL: self.tr("tile"),
                CellColumn.SILICA: oxide_text("SiO2"),
                CellColumn.ALUMINA: oxide_text("Al2O3"),
                CellColumn.SURFACE: self.tr("expected"),
                CellColumn.RECIPE: self.tr("recipe, parts"),
            }[CellColumn(section)]
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if self._plan is None or not index.isValid():
            return None
        cell = self._plan.cells[index.row()]
        column = CellColumn(index.column())
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(cell, index.row(), column)
        if role == Qt.ItemDataRole.ToolTipRole:
            return f"{self.in_words(index.row())}\n{self.recipe_words(index.row())}"
        if role == Qt.ItemDataRole.TextAlignmentRole and column in (
            CellColumn.NUMBER,
            CellColumn.SILICA,
            CellColumn.ALUMINA,
        ):
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None

    def recipe_words(self, row: int) -> str:
        """Say what a tile is made of."""
        if self._plan is None or not 0 <= row < len(self._plan.cells):
            return ""
        return self._text(self._plan.cells[row], row, CellColumn.RECIPE)

    def in_words(self, row: int) -> str:
        """Say a tile with its unity formula."""
        if self._plan is None or not 0 <= row < len(self._plan.cells):
            return ""
        cell = self._plan.cells[row]
        unity = cell.formula.unity
        if unity is None:
            return self.tr("Tile {}: no unity formula").format(cell.number)
        found = [
            f"{oxide_text(oxide)} {value:.2f}"
            for oxide, value in zip(OXIDES, unity, strict=True)
            if value >= _LEAST_SHOWN
        ]
        return self.tr("Tile {}, {}: {}").format(cell.number, cell.label, "  ".join(found))

    def _text(self, cell: Cell, row: int, column: CellColumn) -> str:
        point = cell.formula.point
        if column is CellColumn.NUMBER:
            return str(cell.number)
        if column is CellColumn.LABEL:
            return cell.label
        if column is CellColumn.SILICA:
            return decimals(point[0] if point else None)
        if column is CellColumn.ALUMINA:
            return decimals(point[1] if point else None)
        if column is CellColumn.SURFACE:
            reading = self._readings.get(row)
            return reading.words if reading is not None else NOTHING
        if row not in self._recipes:
            self._recipes[row] = self._recipe_text(cell)
        return self._recipes[row]

    def _recipe_text(self, cell: Cell) -> str:
        found = []
        for section in Section:
            for row in cell.recipe.rows(section):
                known = material_of(cell.recipe, self._studio, row.material)
                name = known.name if known is not None else row.material
                sign = "+ " if section is Section.ADDITIONS else ""
                found.append(f"{sign}{name} {parts(round(row.amount, 2))}")
        return ", ".join(found)
