"""The rows of one section as a table for Qt: roles to values, edits to the document."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from enum import IntEnum
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
    Signal,
)

from app import formatting
from app.bench_state import BenchState
from app.document import Document
from core.errors import InputError
from core.nudge import HELD_TOTAL, nudge, set_amount
from core.numbers import read_amount
from core.recipe import Ingredient, Recipe, Rows, Section, total

Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()

SHARE_ROLE = Qt.ItemDataRole.UserRole + 1
"""How full the bar of a row is, 0 to 1."""
MISSING_ROLE = Qt.ItemDataRole.UserRole + 2
LOCKED_ROLE = Qt.ItemDataRole.UserRole + 3


class Column(IntEnum):
    """Columns of the recipe table."""

    LOCK = 0
    MATERIAL = 1
    PARTS = 2
    PERCENT = 3
    BAR = 4


_COLUMNS = tuple(Column)
BAR_FULL = {Section.BASE: 100.0, Section.ADDITIONS: 20.0}
"""Amount at the right end of a bar [parts, percent]."""

_HEADERS = {
    Section.BASE: ("", "Material", "Parts", "%", ""),
    Section.ADDITIONS: ("", "Addition", "% of base", "", ""),
}


class RecipeModel(QAbstractTableModel):
    """Rows of the base or of the additions; the last line waits for a new material."""

    rows_about_to_change = Signal()
    """Rows will come or go: an editor on one of them has to close while it still can."""

    def __init__(
        self,
        document: Document,
        state: BenchState,
        section: Section,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._state = state
        self.section = section
        self._shown: Rows = document.recipe.rows(section)
        self._materials = document.studio.materials
        self._session: Hashable | None = None
        self._session_begin = document.recipe
        document.recipe_changed.connect(self._on_recipe_changed)

    def rowCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._shown) + 1

    def columnCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(Column)

    def is_new_line(self, row: int) -> bool:
        """Tell whether `row` is the line that waits for a new material."""
        return row >= len(self._shown)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return _HEADERS[self.section][section]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._alignment(Column(section))
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        column = _COLUMNS[index.column()]
        if self.is_new_line(index.row()):
            return flags | Qt.ItemFlag.ItemIsEditable if column is Column.MATERIAL else flags
        if column in (Column.MATERIAL, Column.PARTS):
            flags |= Qt.ItemFlag.ItemIsEditable
        if column is Column.LOCK and self.section is Section.BASE:
            flags |= Qt.ItemFlag.ItemIsUserCheckable
        return flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        column = _COLUMNS[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._alignment(column)
        if self.is_new_line(index.row()):
            if role == Qt.ItemDataRole.DisplayRole and column is Column.MATERIAL:
                if self.section is Section.ADDITIONS:
                    return self.tr("add a colour or opacifier…")
                return self.tr("add a material…")
            return None
        row = self._shown[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self._text(column, row, role)
        if role == Qt.ItemDataRole.CheckStateRole:
            if column is Column.LOCK and self.section is Section.BASE:
                return Qt.CheckState.Checked if row.locked else Qt.CheckState.Unchecked
            return None
        if role == Qt.ItemDataRole.ToolTipRole:
            return self._tool_tip(column, row)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._spoken(column, row)
        if role == SHARE_ROLE:
            return min(row.amount / BAR_FULL[self.section], 1.0)
        if role == MISSING_ROLE:
            return row.material in self._document.evaluation.missing
        if role == LOCKED_ROLE:
            return row.locked
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if not index.isValid():
            return False
        column, row = Column(index.column()), index.row()
        if column is Column.LOCK and role == Qt.ItemDataRole.CheckStateRole:
            return self.set_lock(row, Qt.CheckState(value) == Qt.CheckState.Checked)
        if role != Qt.ItemDataRole.EditRole:
            return False
        if column is Column.MATERIAL:
            return self._set_material(row, str(value))
        if column is Column.PARTS and not self.is_new_line(row):
            return self.set_amount_text(row, str(value), None)
        return False

    def set_amount_text(self, row: int, text: str, merge_key: Hashable | None) -> bool:
        """Take an amount as typed; refuse in words what is no amount."""
        try:
            return self.set_amount(row, read_amount(text), merge_key)
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return False

    def set_amount(self, row: int, amount: float, merge_key: Hashable | None) -> bool:
        """Give a row another amount."""
        if self.is_new_line(row) or self._document.announcing:
            return False
        try:
            changed = set_amount(
                self._begin_of(merge_key), self.section, row, amount, self._state.hold_total
            )
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return False
        name = self.material_name(row)
        self._document.edit(
            self.tr("{} to {}").format(name, formatting.parts(amount)), changed, merge_key
        )
        return True

    def _begin_of(self, merge_key: Hashable | None) -> Recipe:
        """Return what a drag or a typed amount began with.

        Each of its steps is worked out from there: with the total held, rows
        that one step has emptied would have no proportions for the next.
        """
        document = self._document
        going_on = merge_key is not None and merge_key == self._session
        # An undo in between makes a new beginning.
        if not (going_on and (document.runs(merge_key) or document.recipe is self._session_begin)):
            self._session, self._session_begin = merge_key, document.recipe
        return self._session_begin

    def nudge(self, row: int, steps: int) -> bool:
        """Nudge a row by so many steps of the bench."""
        if self.is_new_line(row):
            return False
        by = steps * self._state.step
        try:
            changed = nudge(self._document.recipe, self.section, row, by, self._state.hold_total)
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return False
        text = self.tr("{} {}").format(self.material_name(row), formatting.signed(by))
        self._document.edit(text, changed)
        return True

    def material_name(self, row: int) -> str:
        """Return the name shown for a row."""
        return self._document.evaluation.material_name(self._shown[row].material)

    def insert_rows(self, row: int, rows: Rows, text: str) -> None:
        """Insert rows before `row` as one step called `text`."""
        self._edit(text, lambda recipe: recipe.with_inserted(self.section, row, rows))

    def remove_rows(self, rows: set[int]) -> None:
        """Take rows out as one step."""
        doomed = {row for row in rows if not self.is_new_line(row)}
        if doomed:
            names = ", ".join(self.material_name(row) for row in sorted(doomed))
            text = self.tr("Take out {}").format(names)
            self._edit(text, lambda recipe: recipe.without_rows(self.section, doomed))

    def move_row(self, row: int, by: int) -> int:
        """Move a row up (-1) or down (+1); return where it stands now."""
        to = row + by
        if self.is_new_line(row) or not 0 <= to < len(self._shown):
            return row
        text = self.tr("Move {}").format(self.material_name(row))
        self._edit(text, lambda recipe: recipe.with_moved(self.section, row, to))
        return to

    def _edit(self, text: str, change: Callable[[Recipe], Recipe]) -> None:
        if self._document.announcing:
            return
        try:
            changed = change(self._document.recipe)
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return
        self._document.edit(text, changed)

    def set_lock(self, row: int, locked: bool) -> bool:
        """Lock a row, or let it free."""
        if self.is_new_line(row):
            return False
        name = self.material_name(row)
        text = self.tr("Lock {}") if locked else self.tr("Unlock {}")
        changed = self._document.recipe.with_lock(self.section, row, locked)
        self._document.edit(text.format(name), changed)
        return True

    def _set_material(self, row: int, material_id: str) -> bool:
        if not material_id.strip():
            return False
        material = self._document.studio.materials.get(material_id)
        name = material.name if material is not None else material_id
        new = self.is_new_line(row)
        text = self.tr("Add {}") if new else self.tr("Change to {}")
        self._edit(
            text.format(name),
            lambda recipe: recipe.with_material(self.section, row, material_id),
        )
        return True

    @staticmethod
    def _alignment(column: Column) -> Qt.AlignmentFlag:
        if column in (Column.PARTS, Column.PERCENT):
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter

    def _text(self, column: Column, row: Ingredient, role: int) -> str | None:
        if column is Column.MATERIAL:
            if role == Qt.ItemDataRole.EditRole:
                return row.material
            name = self._document.evaluation.material_name(row.material)
            missing = row.material in self._document.evaluation.missing
            return self.tr("{} (missing)").format(name) if missing else name
        if column is Column.PARTS:
            return formatting.parts(row.amount)
        if column is Column.PERCENT and self.section is Section.BASE:
            weight = total(self._shown)
            return formatting.decimals(100.0 * row.amount / weight if weight else None, 1)
        return None

    def _spoken(self, column: Column, row: Ingredient) -> str | None:
        if column is Column.LOCK:
            return self.tr("locked") if row.locked else self.tr("free")
        if column is Column.BAR:
            return self.tr("bar at {}").format(formatting.parts(row.amount))
        return self._text(column, row, Qt.ItemDataRole.DisplayRole)

    def _tool_tip(self, column: Column, row: Ingredient) -> str | None:
        if column is Column.LOCK:
            return self.tr("A locked row keeps its parts while the total is held at {:.0f}").format(
                HELD_TOTAL
            )
        if column is Column.BAR:
            return self.tr("Drag the bar to change the amount")
        material = self._document.evaluation.materials.get(row.material)
        if material is None:
            return self.tr(
                "{} is not in the tables. Its parts are kept, its oxides are not counted: "
                "choose a material or add it to the studio's materials.yaml."
            ).format(row.material)
        oxides = ", ".join(
            f"{formatting.oxide_text(oxide)} {value:.1f}"
            for oxide, value in material.analysis.percent
        )
        loss = self.tr("loss on ignition {:.1f} %").format(material.analysis.loi)
        return f"{material.name}: {oxides} %, {loss}. {material.source}"

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        old, new = self._shown, recipe.rows(self.section)
        if len(old) != len(new):
            self.rows_about_to_change.emit()
            self._announce_length(old, new)
        materials = self._document.studio.materials
        every = len(old) != len(new) or self._materials is not materials
        self._materials = materials
        changed = [i for i, row in enumerate(new) if every or row != old[i]]
        self._shown = new
        cells = {(row, column) for row in changed for column in Column}
        if self.section is Section.BASE:
            # A new total moves every percent.
            cells |= {(row, Column.PERCENT) for row in range(len(new))}
        # One by one: for a range of cells a view repaints all that it shows.
        for row, column in sorted(cells):
            index = self.index(row, column)
            self.dataChanged.emit(index, index)

    def _announce_length(self, old: Rows, new: Rows) -> None:
        """Announce only the rows that came or went, so that the selection stays."""
        shorter = min(len(old), len(new))
        same = 0
        while same < shorter and old[same] == new[same]:
            same += 1
        kept_end = 0
        while kept_end < shorter - same and old[-1 - kept_end] == new[-1 - kept_end]:
            kept_end += 1
        if len(new) > len(old):
            first = len(old) - kept_end
            self.beginInsertRows(_ROOT, first, first + len(new) - len(old) - 1)
            self._shown = new
            self.endInsertRows()
        else:
            first = len(new) - kept_end
            self.beginRemoveRows(_ROOT, first, first + len(old) - len(new) - 1)
            self._shown = new
            self.endRemoveRows()
