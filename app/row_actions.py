"""What menus and keys do to the rows, and the rows on the clipboard."""

from __future__ import annotations

from PySide6.QtCore import QObject
from PySide6.QtGui import QGuiApplication

from app.bench_state import BenchState
from app.document import Document
from app.recipe_model import Column
from app.recipe_view import RecipeView
from core.errors import InputError
from core.recipe import Section
from core.spreadsheet import cells_of, rows_from


class RowActions(QObject):
    """Acts on the table that holds the selected row."""

    def __init__(self, document: Document, state: BenchState, view: RecipeView) -> None:
        super().__init__(view)
        self._document = document
        self._state = state
        self._view = view

    def add(self) -> None:
        """Open the picker on the line for a new row."""
        self._view.active_table().edit_new_line()

    def remove(self) -> None:
        """Take the selected rows out."""
        table = self._view.active_table()
        row = table.currentIndex().row()
        table.rows_model.remove_rows(table.selected_rows())
        table.go_to(row)

    def move_up(self) -> None:
        """Move the current row up."""
        self._move(-1)

    def move_down(self) -> None:
        """Move the current row down."""
        self._move(1)

    def toggle_lock(self) -> None:
        """Lock or unlock the selected row of the base."""
        selected = self._state.selected
        if selected is None or selected.section is not Section.BASE:
            self._state.refused.emit(self.tr("select a row of the base to lock it"))
            return
        row = self._document.recipe.base[selected.row]
        self._view.base.rows_model.set_lock(selected.row, not row.locked)

    def copy(self) -> None:
        """Copy the selected rows, or all of the table, as spreadsheet cells."""
        table = self._view.active_table()
        rows = self._document.recipe.rows(table.section)
        chosen = sorted(table.selected_rows()) or range(len(rows))
        name = self._document.evaluation.material_name
        cells = cells_of((name(rows[i].material), rows[i].amount) for i in chosen)
        QGuiApplication.clipboard().setText(cells)

    def paste(self) -> None:
        """Insert the rows on the clipboard before the current one."""
        table = self._view.active_table()
        text = QGuiApplication.clipboard().text()
        try:
            rows = rows_from(text, self._document.studio.materials)
        except InputError as fault:
            self._state.refused.emit(str(fault))
            return
        place = min(max(table.currentIndex().row(), 0), table.rows_model.rowCount() - 1)
        table.rows_model.insert_rows(place, rows, self.tr("Paste {} rows").format(len(rows)))

    def _move(self, by: int) -> None:
        table = self._view.active_table()
        index = table.currentIndex()
        if index.isValid():
            table.go_to(table.rows_model.move_row(index.row(), by), Column(index.column()))
