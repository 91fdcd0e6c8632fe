import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit

from core.recipe import Section


@pytest.fixture
def panel(window):
    return window.variants_panel


def shown(panel):
    """Every text of the tree, parents before children."""
    return [
        (
            item.text(),
            panel.model.itemFromIndex(panel.model.indexFromItem(item).siblingAtColumn(1)).text(),
        )
        for item in panel._items()
    ]


def set_talc(window, amount):
    document = window.document
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, amount))


def test_two_keys_from_the_table_save_a_variant_with_its_reason(window, panel, qtbot):
    table = window.recipe_view.base
    table.setFocus()
    for amount, proposed in ((16.0, "base"), (18.0, "Talc +2")):
        set_talc(window, amount)
        # The first key saves and opens the proposed reason, the second keeps it.
        window.actions_by_name["variant"].trigger()
        editor = next(e for e in panel.tree.viewport().findChildren(QLineEdit) if e.isVisible())
        assert editor.text() == proposed
        qtbot.keyClick(editor, Qt.Key.Key_Return)
        # The next nudge needs no mouse.
        qtbot.waitUntil(lambda: window.focusWidget() is table)
    assert [(v.name, v.reason) for v in window.document.recipe.variants] == [
        ("A", "base"),
        ("B", "Talc +2"),
    ]


def test_the_same_rows_are_not_kept_twice(window, qtbot):
    window.variant_actions.save()
    with qtbot.waitSignal(window.variant_actions.refused) as heard:
        window.variant_actions.save()
    assert "variant A" in heard.args[0]
    assert len(window.document.recipe.variants) == 1


def test_a_long_line_of_variants_does_not_run_out_of_the_panel(window, panel):
    for i in range(12):
        set_talc(window, 20.0 + i)
        window.variant_actions.save()
    assert panel.model.rowCount() == 12
    # A fork makes a branch.
    panel.tree.setCurrentIndex(panel.model.index(0, 0))
    panel.open_selected()
    set_talc(window, 50.0)
    window.variant_actions.save()
    assert panel.model.rowCount() == 1


def test_the_tree_lists_each_difference_row_by_row(window, panel):
    window.variant_actions.save()
    set_talc(window, 18.5)
    window.variant_actions.save()
    assert shown(panel) == [
        ("A", "base"),
        ("B  ●", "Talc +2.5"),
        ("+2.5", "Talc 16 → 18.5"),
    ]


def test_a_reason_is_edited_in_place_and_undone(window, panel):
    window.variant_actions.save()
    item = panel.model.item(0, 1)
    item.setText("  silky,  too stiff ")
    assert window.document.recipe.variants[0].reason == "silky, too stiff"
    window.document.undo_stack.undo()
    assert panel.model.item(0, 1).text() == "base"


def test_f2_and_enter_change_a_reason_and_open_nothing(window, panel, qtbot):
    window.variant_actions.save()
    set_talc(window, 30.0)
    panel.tree.setFocus()
    panel.tree.setCurrentIndex(panel.model.index(0, 1))
    qtbot.keyClick(panel.tree, Qt.Key.Key_F2)
    editor = next(e for e in panel.tree.viewport().findChildren(QLineEdit) if e.isVisible())
    editor.selectAll()
    qtbot.keyClicks(editor, "too dry")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.document.recipe.variants[0].reason == "too dry")
    assert window.document.recipe.base[1].amount == 30.0


def test_opening_and_deleting_are_undoable(window, panel):
    window.variant_actions.save()
    set_talc(window, 30.0)
    panel.tree.setCurrentIndex(panel.model.index(0, 0))
    panel.open_selected()
    assert window.document.recipe.base[1].amount == 16.0
    panel.tree.setCurrentIndex(panel.model.index(0, 0))
    panel.delete_selected()
    assert not window.document.recipe.variants
    assert panel.empty.isVisibleTo(panel)
    window.document.undo_stack.undo()
    assert [v.name for v in window.document.recipe.variants] == ["A"]


def test_two_variants_stand_side_by_side_with_their_differences(window, panel, qtbot):
    from app.compare_dialog import CompareDialog

    window.variant_actions.save()
    set_talc(window, 18.0)
    window.variant_actions.compare(["A", ""])
    dialog = window.findChild(CompareDialog)
    table = dialog.table
    rows = {
        table.item(row, 0).text().strip(): [table.item(row, column).text() for column in (1, 2, 3)]
        for row in range(table.rowCount())
        if table.item(row, 1) is not None
    }
    assert rows["Talc"] == ["16.000", "18.000", "+2.000"]
    assert rows["Kaolin"] == ["20.000", "20.000", ""]
    # The fixture and its nudge table: 2.929 with 16 talc; 2.891 with 17, so lower still.
    assert rows["SiO₂"][0] == "2.929"
    assert float(rows["SiO₂"][1]) < 2.891
    dialog.close()
