import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester

from app.recipe_model import BAR_FULL, SHARE_ROLE, Column, RecipeModel
from core.recipe import Ingredient, Section
from core.variants import open_variant, save_variant


@pytest.fixture
def model(document, state):
    return RecipeModel(document, state, Section.BASE)


def cell(model, row, column, role=Qt.ItemDataRole.DisplayRole):
    return model.index(row, column).data(role)


@pytest.mark.parametrize("section", list(Section))
def test_the_model_holds_through_rows_that_come_and_go_and_undo(
    document, state, qtmodeltester, section
):
    model = RecipeModel(document, state, section)
    # Qt's own tester watches every change below.
    watcher = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    qtmodeltester.check(model)
    new = (Ingredient("dolomite", 4.0), Ingredient("zircon", 6.0))
    model.insert_rows(0, new, "insert")
    model.insert_rows(1, new[:1], "insert")
    model.remove_rows({0, 2})
    model.move_row(0, 1)
    model.setData(model.index(model.rowCount() - 1, Column.MATERIAL), "talc")
    document.edit("variant", save_variant(document.recipe, "kept", "2026-11-25"))
    model.remove_rows(set(range(model.rowCount())))
    qtmodeltester.check(model)
    document.edit("open", open_variant(document.recipe, "A"))
    while document.undo_stack.canUndo():
        document.undo_stack.undo()
        assert model.rowCount() == len(document.recipe.rows(section)) + 1
    while document.undo_stack.canRedo():
        document.undo_stack.redo()
    qtmodeltester.check(model)
    assert watcher.model() is model


def test_an_amount_is_edited_with_point_or_comma(document, model):
    for text in ("45,5", "45.5"):
        document.undo_stack.clear()
        assert model.setData(model.index(0, Column.PARTS), text)
        assert document.recipe.base[0].amount == 45.5


@pytest.mark.parametrize("text", ["1.234,5", "-1", "nan", "inf", "1e9", "x", ""])
def test_what_is_no_amount_is_refused_in_words(document, model, state, qtbot, text):
    before = document.recipe
    with qtbot.waitSignal(state.refused) as heard:
        assert not model.setData(model.index(0, Column.PARTS), text)
    assert heard.args[0]
    assert document.recipe is before


def test_percent_and_bar_follow_the_amounts(document, model):
    assert cell(model, 0, Column.PERCENT) == "42.0"
    assert cell(model, 0, Column.BAR, SHARE_ROLE) == 42.0 / BAR_FULL[Section.BASE]
    model.set_amount(0, 142.0, None)
    assert cell(model, 0, Column.PERCENT) == "71.0"
    assert cell(model, 0, Column.BAR, SHARE_ROLE) == 1.0


def test_a_nudge_is_one_step_whose_text_names_it(document, model, state):
    state.set_step(0.5)
    assert model.nudge(1, 1)
    assert document.recipe.base[1].amount == 16.5
    assert document.undo_stack.undoText() == "Talc +0.5"


def test_holding_the_total_lets_the_free_rows_make_up(document, model, state):
    model.set_lock(3, True)
    state.set_hold_total(True)
    model.nudge(1, 1)
    rows = document.recipe.base
    assert sum(row.amount for row in rows) == pytest.approx(100.0, abs=1e-9)
    assert rows[1].amount == 17.0
    assert rows[3].amount == 20.0
    assert rows[0].amount / rows[2].amount == pytest.approx(42.0 / 12.0)


def test_the_last_line_adds_a_material(document, model):
    last = model.rowCount() - 1
    assert model.is_new_line(last)
    assert model.setData(model.index(last, Column.MATERIAL), "dolomite")
    assert document.recipe.base[-1] == Ingredient("dolomite", 0.0)
    assert document.undo_stack.undoText() == "Add Dolomite"


def test_a_material_that_no_table_knows_is_shown_as_missing(document, model):
    model.insert_rows(0, (Ingredient("moon-dust", 3.0),), "insert")
    assert "missing" in cell(model, 0, Column.MATERIAL)
    assert document.evaluation.missing == ("moon-dust",)
    assert document.recipe.base[0].amount == 3.0


def test_the_lock_is_spoken_and_toggled(document, model):
    index = model.index(0, Column.LOCK)
    assert index.data(Qt.ItemDataRole.AccessibleTextRole) == "free"
    assert model.setData(index, Qt.CheckState.Checked, Qt.ItemDataRole.CheckStateRole)
    assert document.recipe.base[0].locked
    assert index.data(Qt.ItemDataRole.AccessibleTextRole) == "locked"
