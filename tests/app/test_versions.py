"""Earlier versions through the real menus, and damaged files that are never written over."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date, datetime, time

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QFileDialog, QMenu, QMessageBox

from app import damaged, problems
from app.damaged import DamagedBox
from app.file_actions import FileActions
from app.formatting import day_text
from app.tiles_window import TilesWindow
from core.errors import InputError
from core.files import backups
from core.recipe import Section
from core.recipe_file import read_recipe, recipe_text
from core.schema import LONGEST_NAME
from core.studio import open_studio

DAYS = (date(2026, 11, 20), date(2026, 11, 24), date(2026, 11, 28))


def talc(recipe):
    return next(row.amount for row in recipe.base if row.material == "talc")


def with_talc(recipe, amount):
    place = [row.material for row in recipe.base].index("talc")
    return recipe.with_amount(Section.BASE, place, amount)


@pytest.fixture
def eider(studio_folder):
    """A recipe of the demo studio with three earlier versions, talc 11, 12 and 13."""
    path = studio_folder / "recipes" / "eider.yaml"
    recipe = read_recipe(path)
    for amount, day in zip((11.0, 12.0, 13.0), DAYS, strict=True):
        backups.keep(path, recipe_text(with_talc(recipe, amount)).encode(), day)
    return path


@pytest.fixture
def told(monkeypatch):
    said = []
    monkeypatch.setattr(problems, "tell", lambda _parent, title, text: said.append((title, text)))
    return said


@pytest.fixture
def answer(monkeypatch):
    """Answer the box about a damaged file by pressing one of its buttons."""
    asked = []

    def answer_with(name):
        def press(box):
            asked.append(box.informativeText())
            getattr(box, name).click()

        monkeypatch.setattr(DamagedBox, "exec", press)
        return asked

    return answer_with


class Mouse:
    """Clicks on what is shown, and counts."""

    def __init__(self, qtbot):
        self.qtbot = qtbot
        self.clicks = 0

    def menu(self, window, title, action):
        bar = window.menuBar()
        entry = next(a for a in bar.actions() if a.text() == title)
        self.click(bar, bar.actionGeometry(entry).center())
        menu = entry.menu()
        assert isinstance(menu, QMenu)
        self.qtbot.waitUntil(menu.isVisible)
        self.click(menu, menu.actionGeometry(action).center())

    def click(self, widget, place=None):
        self.qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=place or QPoint())
        self.clicks += 1


def shown(window, qtbot):
    window.version_actions.show()
    qtbot.waitUntil(window.version_actions.dialog.isVisible)
    return window.version_actions.dialog


@pytest.mark.parametrize(("row", "amount"), [(0, 13.0), (1, 12.0), (2, 11.0)])
def test_any_version_is_back_after_three_clicks_and_undo_takes_it_away(
    window, qtbot, eider, row, amount
):
    window.files.open(eider)
    before, on_disk = window.document.recipe, eider.read_bytes()
    mouse = Mouse(qtbot)
    mouse.menu(window, "&File", window.actions_by_name["versions"])
    dialog = window.version_actions.dialog
    qtbot.waitUntil(dialog.isVisible)
    mouse.click(dialog.restore_buttons[row])
    assert mouse.clicks == 3
    assert talc(window.document.recipe) == amount
    stack = window.document.undo_stack
    day = day_text(DAYS[2 - row], year=False)
    assert stack.undoText() == f"Restore the version of {day}"
    assert window.document.modified
    assert eider.read_bytes() == on_disk
    assert day in window.statusBar().currentMessage()
    stack.undo()
    assert window.document.recipe == before
    assert not window.document.modified


def test_a_restored_version_that_is_saved_stands_in_the_file(window, qtbot, eider):
    window.files.open(eider)
    shown(window, qtbot).restore(0)
    assert window.files.save()
    assert talc(read_recipe(eider)) == 13.0
    window.document.undo_stack.undo()
    assert talc(window.document.recipe) != 13.0


def test_enter_in_the_list_restores_the_version_under_the_bar(window, qtbot, eider):
    window.files.open(eider)
    window.recipes_panel.find_edit.setFocus()
    dialog = shown(window, qtbot)
    qtbot.keyClick(dialog.list, Qt.Key.Key_Down)
    qtbot.keyClick(dialog.list, Qt.Key.Key_Return)
    assert talc(window.document.recipe) == 12.0
    # Undo belongs to the bench now, not to the line that had the keys.
    assert window.focusWidget() in (window.recipe_view.base, window.recipe_view.additions)


def test_the_dialog_says_what_was_changed_and_shows_the_rows(window, qtbot, eider):
    window.files.open(eider)
    now = talc(window.document.recipe)
    dialog = shown(window, qtbot)
    assert f"Talc from 13 to {now:g}" in dialog.since.text()
    rows = {
        dialog.rows.item(r, 0).text(): dialog.rows.item(r, 1).text()
        for r in range(dialog.rows.rowCount())
        if dialog.rows.item(r, 1) is not None
    }
    assert rows["Talc"] == "13"
    dialog.list.setCurrentCell(2, 0)
    assert f"Talc from 11 to {now:g}" in dialog.since.text()
    for row, day in enumerate(DAYS[::-1]):
        assert dialog.list.item(row, 0).text().startswith(day_text(day))
    qtbot.waitUntil(lambda: "200 MB" in dialog.room.text())
    assert "Versions of this recipe: 3" in dialog.room.text()
    assert dialog.folder_line.text() == str(eider.parent.parent / "backups" / "recipes" / "eider")


def test_the_dialog_tells_a_change_that_no_row_shows(window, qtbot, studio_folder):
    path = studio_folder / "recipes" / "eider.yaml"
    window.files.open(path)
    document = window.document
    document.save(path)  # with the analyses that it is computed with
    saved = read_recipe(path)
    pins = dict(list(saved.pinned.items())[1:])
    states = (
        (replace(saved, extra={"kiln-room": "cold"}), "entries of its file that are not shown"),
        (replace(saved, pinned=pins), "Changed since then: the analyses of its materials."),
        (saved, "Nothing was changed since then."),
    )
    for day, (state, _words) in zip(DAYS, states, strict=True):
        backups.keep(path, recipe_text(state).encode(), day)
    dialog = shown(window, qtbot)
    assert not document.modified
    for row, (_state, words) in enumerate(reversed(states)):
        dialog.list.setCurrentCell(row, 0)
        assert words in dialog.since.text()


def test_versions_are_read_only_when_they_are_looked_at(window, qtbot, eider, monkeypatch):
    read = []
    monkeypatch.setattr(
        "app.versions_dialog.read_version",
        lambda version: (read.append(version.number), backups.read_version(version))[1],
    )
    window.files.open(eider)
    dialog = shown(window, qtbot)
    assert read == [3]
    dialog.list.setCurrentCell(1, 0)
    dialog.list.setCurrentCell(0, 0)
    assert read == [3, 2]


def test_a_rotten_version_is_told_and_not_restored(window, qtbot, eider):
    newest = backups.versions(eider)[0].path
    os.chmod(newest, 0o600)
    newest.write_bytes(b"rotten")
    window.files.open(eider)
    before = window.document.recipe
    dialog = shown(window, qtbot)
    assert "not what was kept" in dialog.since.text()
    assert not dialog.copy_button.isEnabled()
    qtbot.mouseClick(dialog.restore_buttons[0], Qt.MouseButton.LeftButton)
    assert dialog.isVisible()
    assert window.document.recipe == before


def test_with_no_version_the_dialog_says_how_there_comes_to_be_one(window, qtbot, studio_folder):
    dialog = shown(window, qtbot)
    assert "no file yet" in dialog.since.text()
    dialog.reject()
    window.files.open(studio_folder / "recipes" / "eider.yaml")
    dialog = shown(window, qtbot)
    assert "change something and save" in dialog.since.text()
    qtbot.waitUntil(lambda: "200 MB" in dialog.room.text())


def test_a_version_opens_as_a_copy_that_is_saved_elsewhere(
    window, qtbot, eider, studio_folder, monkeypatch, told
):
    window.files.open(eider)
    dialog = shown(window, qtbot)
    version = backups.versions(eider)[0]
    before = version.path.read_bytes()
    qtbot.mouseClick(dialog.copy_button, Qt.MouseButton.LeftButton)
    document = window.document
    assert (document.path, document.recipe.name) == (None, "Eider, 28 Nov 2026")
    assert document.studio.folder == studio_folder
    asked = []

    def choose(*arguments):
        asked.append(arguments[2])
        return str(version.path), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", choose)
    document.edit("talc", with_talc(document.recipe, 1.0))
    assert not window.files.save()
    assert asked == [str(studio_folder / "recipes" / "eider-28-nov-2026.yaml")]
    assert "kept versions" in told[0][1]
    assert version.path.read_bytes() == before
    assert document.modified


def test_a_copy_of_a_version_with_the_longest_name_can_be_saved(window, eider, tmp_path):
    named = replace(read_recipe(eider), name="E" * LONGEST_NAME)
    backups.keep(eider, recipe_text(named).encode(), DAYS[2])
    assert window.files.open(backups.versions(eider)[0].path)
    assert window.document.recipe.name.endswith(", 28 Nov 2026")
    path = tmp_path / "copy.yaml"
    window.document.save(path)
    assert read_recipe(path).name == window.document.recipe.name


def test_a_version_opened_from_its_folder_is_a_copy_as_well(window, eider, settings):
    version = backups.versions(eider)[1]
    assert window.files.open(version.path)
    assert window.document.path is None
    assert settings.recent == []
    with pytest.raises(InputError, match="kept versions"):
        window.document.save(version.path)


def test_a_damaged_recipe_is_set_aside_and_the_newest_sound_version_opened(window, eider, answer):
    damage = eider.read_bytes()[:300] + b"\nbase: ["
    eider.write_bytes(damage)
    backups.keep(eider, damage, date(2026, 11, 29))
    asked = answer("restore_button")
    assert window.files.open(eider)
    assert "line" in asked[0]
    assert "28 Nov 2026 (no. 3)" in asked[0]
    assert window.document.path == eider
    assert talc(window.document.recipe) == 13.0
    assert eider.with_name("eider.yaml.damaged-1").read_bytes() == damage


def test_a_damaged_recipe_left_alone_stays_as_it_is_and_nothing_opens(window, eider, answer):
    damage = eider.read_bytes()[:300] + b"\nbase: ["
    eider.write_bytes(damage)
    before = window.document.recipe
    asked = answer("leave_button")
    assert not window.files.open(eider)
    assert len(asked) == 1
    assert window.document.recipe is before
    assert eider.read_bytes() == damage
    assert not eider.with_name("eider.yaml.damaged-1").exists()


def test_a_damaged_file_without_a_sound_version_says_where_versions_lie(
    window, studio_folder, told
):
    path = studio_folder / "recipes" / "eider.yaml"
    path.write_bytes(b"glost: [")
    assert not window.files.open(path)
    title, text = told[0]
    assert "eider.yaml" in title
    assert str(studio_folder / "backups") in text
    assert path.read_bytes() == b"glost: ["


@pytest.mark.parametrize("text", ['glost: "2"\nkind: recipe\n', 'glost: "1"\nkind: firing\n'])
def test_a_file_of_another_format_or_kind_is_not_taken_for_damaged(window, eider, told, text):
    eider.write_text(text, "utf-8")
    assert not window.files.open(eider)
    assert len(told) == 1
    assert eider.read_text("utf-8") == text


def test_a_studio_file_that_is_gone_is_offered_from_its_versions(
    window, studio_folder, eider, answer
):
    path = studio_folder / "studio.yaml"
    sound = path.read_bytes()
    backups.keep(path, sound, DAYS[1])
    path.unlink()
    asked = answer("restore_button")
    assert window.files.open(studio_folder)
    assert "24 Nov 2026 (no. 1)" in asked[0]
    assert path.read_bytes() == sound
    assert not list(studio_folder.glob("*.damaged*"))
    assert window.document.studio.folder == studio_folder


def test_a_studio_file_that_is_gone_and_left_so_changes_nothing(window, studio_folder, answer):
    path = studio_folder / "studio.yaml"
    backups.keep(path, path.read_bytes(), DAYS[1])
    path.unlink()
    before = window.document.recipe
    answer("leave_button")
    assert not window.files.open(studio_folder)
    assert window.document.recipe is before
    assert not path.exists()


def test_a_folder_without_a_studio_file_or_a_version_of_it_says_the_way_out(
    window, eider, studio_folder, told
):
    (studio_folder / "studio.yaml").unlink()
    assert not window.files.open(studio_folder)
    assert "begin a studio there" in told[0][1]


def test_unsaved_work_is_asked_about_once_though_a_file_is_mended(
    window, eider, answer, monkeypatch
):
    eider.write_bytes(b"glost: [")
    answer("restore_button")
    window.document.edit("talc", with_talc(read_recipe(backups.versions(eider)[0].path), 1.0))
    questions = []

    def ask(_files):
        questions.append(True)
        return QMessageBox.StandardButton.Discard

    monkeypatch.setattr(FileActions, "_ask_about_unsaved", ask)
    assert window.files.open(eider)
    assert len(questions) == 1


def test_damaged_materials_of_the_studio_are_offered_from_their_versions(
    window, studio_folder, answer
):
    path = studio_folder / "materials.yaml"
    sound = path.read_bytes()
    backups.keep(path, sound, DAYS[0])
    path.write_bytes(sound[: len(sound) // 2] + b'"')
    asked = answer("restore_button")
    assert window.files.open(studio_folder / "recipes" / "eider.yaml")
    assert "materials.yaml" in asked[0]
    assert path.read_bytes() == sound
    assert window.document.recipe.name == "Eider"


def test_a_damaged_firing_is_told_above_the_bench_and_mended_from_there(
    window, studio_folder, answer
):
    path = next(iter(sorted((studio_folder / "firings").glob("*.yaml"))))
    firing = next(i for i, p in open_studio(studio_folder).firing_paths.items() if p == path)
    sound = path.read_bytes()
    backups.keep(path, sound, DAYS[0])
    path.write_bytes(sound[:60])
    eider = studio_folder / "recipes" / "eider.yaml"
    window.files.open(eider)
    assert path.name in window.notices.text("damaged")
    answer("restore_button")
    window.notices.buttons("damaged")[0].click()
    assert window.notices.text("damaged") == ""
    assert path.read_bytes() == sound
    assert firing in window.document.studio.firings
    assert window.document.path == eider


def test_a_damaged_run_is_mended_from_the_tiles_window(
    qtbot, studio_folder, theme, settings, tmp_path, answer
):
    studio = open_studio(studio_folder)
    path = studio.run_paths()[0]
    sound = path.read_bytes()
    backups.keep(path, sound, DAYS[0])
    path.write_bytes(sound[: len(sound) // 2])
    tiles = TilesWindow(studio, theme, settings, tmp_path / "cache", tmp_path / "state")
    qtbot.addWidget(tiles)
    tiles.show()
    qtbot.waitUntil(lambda: tiles.runs.mend_button.isVisible())
    answer("restore_button")
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.runs.mend_button.click()
    assert path.read_bytes() == sound
    assert not tiles.runs.mend_button.isVisible()


def test_a_restore_that_the_disk_refuses_is_told_and_the_file_stays(
    window, eider, answer, told, monkeypatch
):
    damage = b"glost: ["
    eider.write_bytes(damage)

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(damaged, "restore_damaged", refuse)
    answer("restore_button")
    assert not window.files.open(eider)
    assert "No space left" in told[0][1]
    assert eider.read_bytes() == damage


def test_the_version_that_stands_in_the_file_is_named_and_times_tell_one_day_apart(
    window, eider, qtbot
):
    window.files.open(eider)
    document = window.document
    for parts in (41.0, 42.0):
        document.edit("feldspar", document.recipe.with_amount(Section.BASE, 0, parts))
        assert window.files.save()
    first, second = backups.versions(eider)[:2]
    day = datetime.combine(second.day, time(9, 5)).timestamp()
    os.utime(second.path, (day, day))
    os.utime(first.path, (day - 7 * 86400, day - 7 * 86400))
    dialog = shown(window, qtbot)
    said = [dialog.list.item(row, 0).text() for row in range(2)]
    assert said[0].endswith(", as saved last")
    assert ":" not in said[0]
    assert said[1].endswith(", 09:05")
