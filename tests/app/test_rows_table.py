import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLineEdit

from app.delegates import MaterialEdit
from app.recipe_model import Column
from core.recipe import Section


@pytest.fixture
def table(window, qtbot):
    window.activateWindow()
    table = window.recipe_view.base
    table.setFocus()
    table.go_to(1)
    qtbot.waitUntil(table.hasFocus)
    return table


def talc(window):
    return window.document.recipe.base[1].amount


def editor_of(table, kind=QLineEdit):
    return table.viewport().findChild(kind)


def wheel(table, position, delta):
    return QWheelEvent(
        QPointF(position),
        QPointF(table.viewport().mapToGlobal(position)),
        QPoint(),
        QPoint(0, delta),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )


def test_plus_and_minus_nudge_the_row_by_the_step(table, window, qtbot):
    qtbot.keyClicks(table, "+")
    assert talc(window) == 17.0
    window.state.set_step(0.1)
    qtbot.keyClicks(table, "--")
    assert talc(window) == 16.8


def test_typing_moves_the_point_with_every_finished_number_and_escape_takes_it_back(
    table, window, qtbot
):
    before = window.document.recipe
    seen = []
    window.document.evaluation_changed.connect(lambda e: seen.append(e.recipe.base[1].amount))
    qtbot.keyClicks(table, "1")
    editor = editor_of(table)
    qtbot.keyClicks(editor, "8,5")
    # "18," is unfinished and waits.
    assert seen == [1.0, 18.0, 18.5]
    assert window.document.undo_stack.count() == 1
    qtbot.keyClick(editor, Qt.Key.Key_Escape)
    assert window.document.recipe == before
    assert window.document.undo_stack.count() == 0


def test_enter_keeps_what_was_typed_as_one_step(table, window, qtbot):
    qtbot.keyClicks(table, "2")
    editor = editor_of(table)
    qtbot.keyClicks(editor, "1.25")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert talc(window) == 21.25
    assert window.document.undo_stack.count() == 1
    window.document.undo_stack.undo()
    assert talc(window) == 16.0


@pytest.mark.parametrize("text", ["1.234,5", "1 000", "12..3", "1/2", "99999999999999999999"])
def test_what_is_no_amount_leaves_the_old_one_and_says_why(table, window, qtbot, text):
    before = window.document.recipe
    heard = []
    window.state.refused.connect(heard.append)
    qtbot.keyClicks(table, text[0])
    editor = editor_of(table)
    qtbot.keyClicks(editor, text[1:])
    assert heard
    assert window.document.recipe == before
    # Enter keeps the editor open until the text makes sense.
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert editor.isVisible()
    assert window.document.recipe == before
    editor.clear()
    qtbot.keyClicks(editor, "12")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert talc(window) == 12.0
    assert window.document.undo_stack.count() == 1


def test_the_wheel_over_the_selected_row_nudges_it(table, window):
    row = table.visualRect(table.rows_model.index(1, Column.PARTS)).center()
    QApplication.sendEvent(table.viewport(), wheel(table, row, 120))
    assert talc(window) == 17.0
    # Half a notch waits for the other half.
    for _ in range(2):
        QApplication.sendEvent(table.viewport(), wheel(table, row, -60))
    assert talc(window) == 16.0


def test_the_wheel_over_another_row_changes_nothing(table, window):
    row = table.visualRect(table.rows_model.index(3, Column.PARTS)).center()
    before = window.document.recipe
    QApplication.sendEvent(table.viewport(), wheel(table, row, 120))
    assert window.document.recipe is before


def test_dragging_a_bar_is_one_undo_step(table, window, qtbot):
    bar = table.visualRect(table.rows_model.index(1, Column.BAR))
    middle = bar.center().y()
    start = QPoint(bar.left() + 12, middle)
    qtbot.mousePress(table.viewport(), Qt.MouseButton.LeftButton, pos=start)
    for x in range(bar.left() + 16, bar.right() - 8, 4):
        qtbot.mouseMove(table.viewport(), QPoint(x, middle))
    qtbot.mouseRelease(table.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(x, middle))
    assert talc(window) > 50
    assert window.document.undo_stack.count() == 1
    assert window.document.undo_stack.undoText() == f"Talc to {talc(window):g}"
    window.document.undo_stack.undo()
    assert talc(window) == 16.0


def test_a_click_on_a_bar_changes_nothing(table, window, qtbot):
    before = window.document.recipe
    bar = table.visualRect(table.rows_model.index(2, Column.BAR))
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=bar.center())
    assert window.document.recipe == before
    assert table.currentIndex().row() == 2


def test_a_drag_to_the_end_and_back_with_the_total_held_keeps_the_proportions(table, window, qtbot):
    before = [row.amount for row in window.document.recipe.base]
    window.state.set_hold_total(True)
    bar = table.visualRect(table.rows_model.index(1, Column.BAR))
    start = QPoint(bar.left() + 12, bar.center().y())
    qtbot.mousePress(table.viewport(), Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(table.viewport(), QPoint(bar.left() + 12 + 200, start.y()))
    qtbot.mouseMove(table.viewport(), QPoint(bar.left() + 12 + 60, start.y()))
    qtbot.mouseMove(table.viewport(), start)
    qtbot.mouseRelease(table.viewport(), Qt.MouseButton.LeftButton, pos=start)
    assert [row.amount for row in window.document.recipe.base] == pytest.approx(before)


def test_tab_goes_from_amount_to_amount(table, window, qtbot):
    qtbot.keyClicks(table, "9")
    qtbot.keyClick(editor_of(table), Qt.Key.Key_Tab)
    assert talc(window) == 9.0
    assert table.currentIndex().row() == 2
    assert table.currentIndex().column() == Column.PARTS


def test_the_picker_finds_by_synonym_and_adds_a_row_that_wants_its_amount(table, window, qtbot):
    table.edit_new_line()
    editor = editor_of(table, MaterialEdit)
    qtbot.keyClicks(editor, "steatite")
    assert editor.material_id() == "talc"
    editor.completer().activated.emit("Dolomite")
    assert window.document.recipe.base[-1].material == "dolomite"
    assert table.currentIndex().row() == len(window.document.recipe.base) - 1
    assert table.currentIndex().column() == Column.PARTS


def test_the_cursor_walks_from_the_base_into_the_additions_and_back(table, window, qtbot):
    additions = window.recipe_view.additions
    table.go_to(table.rows_model.rowCount() - 1)
    qtbot.keyClick(table, Qt.Key.Key_Down)
    assert additions.hasFocus()
    qtbot.keyClick(additions, Qt.Key.Key_Up)
    assert table.hasFocus()


def test_delete_takes_the_selected_rows_out_and_undo_brings_them_back(table, window, qtbot):
    before = window.document.recipe
    qtbot.keyClick(table, Qt.Key.Key_Delete)
    assert [row.material for row in window.document.recipe.base] == [
        "potash-feldspar",
        "whiting",
        "kaolin",
        "silica",
    ]
    window.document.undo_stack.undo()
    assert window.document.recipe == before


def test_rows_move_with_the_keyboard(table, window, qtbot):
    qtbot.keyClick(table, Qt.Key.Key_Up, Qt.KeyboardModifier.ControlModifier)
    assert window.document.recipe.base[0].material == "talc"
    assert table.currentIndex().row() == 0


def test_space_locks_the_row(table, window, qtbot):
    qtbot.keyClick(table, Qt.Key.Key_Space)
    assert window.document.recipe.base[1].locked


def test_rows_copy_as_cells_and_paste_back(table, window):
    window.actions_by_name["copy"].trigger()
    assert QApplication.clipboard().text() == "Talc\t16\n"
    QApplication.clipboard().setText("Material\tParts\nDolomite\t4,5\nmoon dust\t2\n")
    window.actions_by_name["paste"].trigger()
    rows = window.document.recipe.rows(Section.BASE)
    assert [(row.material, row.amount) for row in rows[1:3]] == [
        ("dolomite", 4.5),
        ("moon dust", 2.0),
    ]
    assert window.document.undo_stack.undoText() == "Paste 2 rows"


def test_nothing_to_paste_is_said_in_words(table, window, qtbot):
    QApplication.clipboard().setText("no rows here")
    with qtbot.waitSignal(window.state.refused) as heard:
        window.actions_by_name["paste"].trigger()
    assert "no rows" in heard.args[0]


@pytest.mark.parametrize("action", ["new", "undo", "scale", "remove_row"])
def test_an_open_editor_survives_what_happens_to_its_row(table, window, qtbot, action):
    table.rows_model.insert_rows(0, window.document.recipe.base[:1], "insert")
    table.go_to(table.rows_model.rowCount() - 2)
    qtbot.keyClicks(table, "4")
    qtbot.keyClicks(editor_of(table), "2")
    window.document.undo_stack.setClean()
    if action == "undo":
        window.undo_action.trigger()
        window.undo_action.trigger()
    else:
        window.actions_by_name[action].trigger()
    # What was typed last has not come back from the dead.
    qtbot.waitUntil(lambda: table.rows_model.rowCount() == len(window.document.recipe.base) + 1)
    model = table.rows_model
    shown = [model.index(i, Column.PARTS).data() for i in range(model.rowCount() - 1)]
    assert [float(text) for text in shown] == pytest.approx(
        [row.amount for row in window.document.recipe.base], abs=5e-4
    )
