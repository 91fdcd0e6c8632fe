import os
import stat

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QMessageBox, QPlainTextEdit, QTabBar, QWidget

from app import problems
from app.file_actions import FileActions
from app.file_names import file_stem
from app.main_window import MainWindow
from core.recipe import Section
from core.recipe_file import read_recipe


def change(window):
    document = window.document
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, 17.0))


@pytest.fixture
def answers(monkeypatch):
    """Answer the one question about unsaved work; counts how often it was asked."""
    asked = []

    def answer_with(button):
        def ask(_self):
            asked.append(button)
            return button

        monkeypatch.setattr(FileActions, "_ask_about_unsaved", ask)
        return asked

    return answer_with


@pytest.fixture
def told(monkeypatch):
    said = []
    monkeypatch.setattr(problems, "tell", lambda _parent, title, text: said.append((title, text)))
    return said


def drop(window, path):
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    window.dropEvent(
        QDropEvent(
            QPointF(5, 5),
            Qt.DropAction.CopyAction,
            mime,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
    )


def test_a_dropped_recipe_opens_with_its_studio(window, studio_folder):
    drop(window, studio_folder / "recipes" / "eider.yaml")
    assert window.document.recipe.name == "Eider"
    assert "Tern Hollow" in window.basis_bar.place.text()
    assert window.recipes_panel.model.rowCount() >= 6


def test_a_studio_folder_opens_on_the_recipe_it_names(window, studio_folder):
    assert window.files.open(studio_folder)
    assert window.document.path == studio_folder / "recipes" / "eider.yaml"


def test_a_broken_file_is_told_with_its_place_and_changes_nothing(window, tmp_path, told):
    path = tmp_path / "broken.yaml"
    path.write_text('glost: "1"\nkind: recipe\nname: "a"\nbase: &b []\n', encoding="utf-8")
    before = window.document.recipe
    assert not window.files.open(path)
    assert "line 4" in told[0][1]
    assert window.document.recipe is before


def test_saving_under_a_new_name_writes_the_file_and_remembers_it(window, tmp_path, monkeypatch):
    path = tmp_path / "kept"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    change(window)
    assert window.isWindowModified()
    window.actions_by_name["save"].trigger()
    saved = path.with_suffix(".yaml")
    assert read_recipe(saved).base == window.document.recipe.base
    assert not window.isWindowModified()
    assert window._settings.recent == [saved]
    # The umask decides about a new file; an old one keeps its mode.
    os.chmod(saved, 0o640)
    change(window)
    window.document.edit("more", window.document.recipe.with_amount(Section.BASE, 0, 1.0))
    window.actions_by_name["save"].trigger()
    assert stat.S_IMODE(saved.stat().st_mode) == 0o640


def test_a_save_that_fails_says_why_and_keeps_the_work(window, tmp_path, monkeypatch, told):
    path = tmp_path / "kept.yaml"
    window.document.save(path)
    before = path.read_bytes()
    change(window)

    def refuse(*_):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(os, "replace", refuse)
    assert not window.files.save()
    assert "No space left" in told[0][1]
    assert path.read_bytes() == before
    assert window.document.modified


def test_closing_with_unsaved_work_asks_once(window, answers):
    change(window)
    asked = answers(QMessageBox.StandardButton.Cancel)
    assert not window.close()
    assert len(asked) == 1
    asked = answers(QMessageBox.StandardButton.Discard)
    assert window.close()
    assert len(asked) == 2


def test_closing_without_changes_asks_nothing(window, answers):
    asked = answers(QMessageBox.StandardButton.Cancel)
    assert window.close()
    assert asked == []


def test_save_at_the_question_saves_and_closes(window, answers, tmp_path):
    path = tmp_path / "a.yaml"
    window.document.save(path)
    change(window)
    answers(QMessageBox.StandardButton.Save)
    assert window.close()
    assert read_recipe(path).base[1].amount == 17.0


def test_panels_hide_and_move_and_the_layout_is_remembered(window, settings, theme, qtbot):
    window.docks["triangle"].hide()
    window.docks["words"].show()
    window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, window.docks["variants"])
    window.resize(1400, 800)
    assert window.close()
    again = MainWindow(settings, theme)
    qtbot.addWidget(again)
    again.show()
    assert not again.docks["triangle"].isVisibleTo(again)
    assert again.docks["words"].isVisibleTo(again)
    area = again.dockWidgetArea(again.docks["variants"])
    assert area == Qt.DockWidgetArea.RightDockWidgetArea
    again._panels_as_at_first()
    assert again.docks["triangle"].isVisibleTo(again)


def tab_bars(window):
    return [
        [bar.tabText(i) for i in range(bar.count())]
        for bar in window.findChildren(QTabBar)
        if bar.isVisible() and bar.count()
    ]


def test_each_stack_of_panels_has_one_tab_bar(window, settings, theme, qtbot):
    stacks = [
        ["Variants", "Schedule", "Studio", "Notes"],
        ["Oxides by material", "Flux triangle", "Melt curve", "Firing"],
        ["Formula", "Melt"],
    ]
    assert sorted(tab_bars(window)) == sorted(stacks)
    window._panels_as_at_first()
    assert sorted(tab_bars(window)) == sorted(stacks)
    assert window.close()
    again = MainWindow(settings, theme)
    qtbot.addWidget(again)
    again.show()
    assert sorted(tab_bars(again)) == sorted(stacks)


def test_every_undo_step_names_its_action(window):
    change(window)
    window.actions_by_name["variant"].trigger()
    window.actions_by_name["scale"].trigger()
    stack = window.document.undo_stack
    texts = [stack.text(i) for i in range(stack.count())]
    assert texts == ["talc", "Save variant A", "Scale to 100"]
    assert "Scale to 100" in window.undo_action.text()


def test_scaling_to_100_keeps_every_ratio(window):
    change(window)
    before = [row.amount for row in window.document.recipe.base]
    window.actions_by_name["scale"].trigger()
    after = [row.amount for row in window.document.recipe.base]
    assert sum(after) == pytest.approx(100.0, abs=1e-9)
    for i in range(1, len(before)):
        assert after[i] / after[0] == pytest.approx(before[i] / before[0], rel=1e-12)


def test_firing_and_body_are_undoable_choices(window):
    box = window.basis_bar.firing
    place = box.findData("cone-6-medium")
    box.setCurrentIndex(place)
    box.activated.emit(place)
    assert window.document.recipe.firing == "cone-6-medium"
    assert "cone 6" in window.map_view.basis_label.text()
    window.document.undo_stack.undo()
    assert box.currentData() == "cone-10-medium"


def test_notes_of_one_visit_are_one_step(window, qtbot):
    edit = window.notes_panel.edit
    window.docks["notes"].raise_()
    qtbot.keyClicks(edit, "too dry at the rim")
    assert window.document.recipe.notes == "too dry at the rim"
    window.document.undo_stack.undo()
    assert edit.toPlainText() == ""


def test_renaming_is_undoable_and_shown_in_the_title(window, qtbot):
    edit = window.recipe_view.name_edit
    edit.setFocus()
    edit.selectAll()
    qtbot.keyClicks(edit, "  Kittiwake   two ")
    # A save in the middle of typing keeps the name as typed.
    assert window.document.recipe.name == "Kittiwake two"
    assert window.windowTitle().startswith("Kittiwake two")
    assert window.document.undo_stack.count() == 1
    assert window.document.undo_stack.undoText() == "Rename to Kittiwake two"
    window.document.undo_stack.undo()
    assert edit.text() == "Fixture"


def test_escape_takes_a_typed_name_back(window, qtbot):
    edit = window.recipe_view.name_edit
    edit.setFocus()
    qtbot.keyClicks(edit, "!!")
    qtbot.keyClick(edit, Qt.Key.Key_Escape)
    assert window.document.recipe.name == edit.text() == "Fixture"
    assert window.document.undo_stack.count() == 0


def test_the_models_of_the_panels_are_sound(window, qtmodeltester):
    window.variant_actions.save()
    change(window)
    window.variant_actions.save()
    qtmodeltester.check(window.formula_panel.model)
    qtmodeltester.check(window.variants_panel.model)
    window.variants_panel.tree.setCurrentIndex(window.variants_panel.model.index(0, 0))
    window.variants_panel.delete_selected()
    window.document.undo_stack.undo()
    qtmodeltester.check(window.variants_panel.model)
    qtmodeltester.check(window.recipes_panel.model)


def test_a_file_name_comes_from_the_recipe_name():
    assert file_stem("Eider, ohne Kreide / 2") == "eider-ohne-kreide-2"
    assert file_stem("漢字") == "glaze"


def test_tab_goes_through_the_panels_in_reading_order(window, qtbot):
    window.activateWindow()
    names = []
    window.recipe_view.name_edit.setFocus()
    for _ in range(40):
        focus = window.focusWidget()
        names.append(focus)
        qtbot.keyClick(focus, Qt.Key.Key_Tab)
    order = [
        window.recipe_view.name_edit,
        window.recipe_view.base,
        window.recipe_view.additions,
    ]
    places = [names.index(widget) for widget in order]
    assert places == sorted(places)


@pytest.mark.parametrize("name", ["notes", "recipes", "schedule", "variants", "melt", "rows"])
def test_a_panel_takes_keys_again_after_it_was_behind_another(window, qtbot, name):
    def policies():
        widgets = (window.docks[name].widget(), *window.docks[name].widget().findChildren(QWidget))
        return [(widget, widget.focusPolicy()) for widget in widgets]

    dock = window.docks[name]
    dock.show()
    dock.raise_()
    qtbot.waitUntil(lambda: not dock.visibleRegion().isEmpty())
    before = policies()
    for visible in (False, True, False, True):
        dock.visibilityChanged.emit(visible)
    assert policies() == before
    assert any(policy != Qt.FocusPolicy.NoFocus for _, policy in before)


def test_what_is_typed_into_the_notes_goes_there(window, qtbot):
    window.docks["variants"].raise_()
    qtbot.waitUntil(lambda: not window.docks["variants"].visibleRegion().isEmpty())
    window.docks["notes"].raise_()
    edit = window.notes_panel.findChild(QPlainTextEdit)
    qtbot.waitUntil(edit.isVisible)
    QTest.mouseClick(edit.viewport(), Qt.MouseButton.LeftButton)
    assert window.focusWidget() is edit
    rows = window.document.recipe.base
    QTest.keyClicks(window.focusWidget(), "12 tiles")
    assert edit.toPlainText().endswith("12 tiles")
    assert window.document.recipe.base == rows
