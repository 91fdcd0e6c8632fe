"""What is copied out of any table or list never starts a formula."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QListWidget

from app.cell_copy import copy_as_cell
from core.material_table import shipped_materials
from core.recipe import Ingredient, Recipe, Section
from core.spreadsheet import rows_from
from core.variants import save_variant

# Source: OWASP, "CSV Injection": cells that begin with = + - @, tab or return are run.
RUNS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.mark.parametrize("name", ["=cmd", "+cmd", "-1+cmd", "@sum", "\t=x", "\uff1dcmd"])
def test_a_name_copied_from_a_list_does_not_run(qtbot, name):
    view = QListWidget()
    qtbot.addWidget(view)
    copy_as_cell(view)
    view.addItem(name)
    view.setCurrentRow(0)
    with qtbot.waitExposed(view):
        view.show()
    view.activateWindow()
    view.setFocus()
    qtbot.waitUntil(view.hasFocus)
    qtbot.keyClick(view, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    text = QGuiApplication.clipboard().text()
    assert text == "'" + name.strip()
    assert not text.startswith(RUNS)


@pytest.mark.parametrize("text", ["-5", "+0.25", "\u22120,5", "Talc", "-12 %"])
def test_figures_and_plain_names_are_copied_as_they_are(qtbot, text):
    view = QListWidget()
    qtbot.addWidget(view)
    copy_as_cell(view)
    view.addItem(text)
    view.setCurrentRow(0)
    with qtbot.waitExposed(view):
        view.show()
    view.activateWindow()
    view.setFocus()
    qtbot.waitUntil(view.hasFocus)
    qtbot.keyClick(view, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == text


def test_a_variant_copied_from_its_panel_does_not_run(window, qtbot):
    document = window.document
    document.edit("save", save_variant(document.recipe, "=cmd|' /c x'!A1", "2031-02-09"))
    tree = window.variants_panel.tree
    model = tree.model()
    cells = [model.index(r, c) for r in range(model.rowCount()) for c in range(model.columnCount())]
    tree.setCurrentIndex(next(cell for cell in cells if str(cell.data()).startswith("=cmd")))
    window.activateWindow()
    tree.setFocus()
    qtbot.waitUntil(tree.hasFocus)
    qtbot.keyClick(tree, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    text = QGuiApplication.clipboard().text()
    assert "=cmd" in text
    assert not text.startswith(RUNS)


def test_rows_copied_from_the_bench_do_not_run_and_come_back(window):
    names = ("=cmd", "+cmd", "-1+cmd", "@sum", "\uff1dcmd", "total", '"quoted', "'single")
    rows = tuple(Ingredient(name, 1.0 + number) for number, name in enumerate(names))
    window.document.edit("odd", Recipe("Odd", base=rows))
    window.recipe_view.base.clearSelection()
    window.row_actions.copy()
    text = QGuiApplication.clipboard().text()
    assert len(text.splitlines()) == len(names)
    assert not any(line.startswith(RUNS) for line in text.splitlines())
    assert rows_from(text, shipped_materials()) == rows
    window.document.edit("empty", Recipe("Empty"))
    window.row_actions.paste()
    assert window.document.recipe.rows(Section.BASE) == rows
