"""The panel of the studio: what it lists, finds, and says when there is nothing."""

from __future__ import annotations

import shutil
import threading

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

from app import recipes_panel
from app.document import Document
from app.recipes_model import FAULT_ROLE, MATCH_ROLE, PATH_ROLE
from app.recipes_panel import RecipesPanel
from app.theme import DARK, LIGHT, Role
from core.files.studio_index import database_of
from core.recipe import Recipe
from core.recipe_file import save_recipe
from core.studio import begin_studio


@pytest.fixture
def panel(qtbot, theme, studio_folder, caches):
    (studio_folder / "recipes" / "half-written.yaml").write_text("base: [", encoding="utf-8")
    document = Document()
    document.open(studio_folder / "recipes" / "eider.yaml")
    panel = RecipesPanel(document, theme)
    panel.document = document
    qtbot.addWidget(panel)
    panel.resize(380, 260)
    with qtbot.waitSignal(panel.filled):
        panel.show()
    return panel


def names(panel):
    model = panel.model
    return [model.index(row).data() for row in range(model.rowCount())]


def words(panel, name):
    return panel.model.index(names(panel).index(name)).data(MATCH_ROLE)


def test_recipes_are_listed_by_their_own_names(panel, studio_folder, caches):
    assert "Eider without its whiting" in names(panel)
    assert len(names(panel)) == 9
    assert panel.list.currentIndex().data() == "Eider"
    assert panel.list.currentIndex().data(PATH_ROLE) == studio_folder / "recipes" / "eider.yaml"
    assert database_of(caches, studio_folder).is_file()
    assert not panel.message.isVisible()


def test_materials_notes_and_variants_are_found_and_told(panel):
    panel.find_edit.setText("talc")
    assert len(names(panel)) >= 3
    assert words(panel, "Eider") == "Talc"
    assert words(panel, "Sealskin") == "Ossenay talc, lot 1"
    panel.find_edit.setText("eider")
    assert words(panel, "Eider") == ""
    entry = next(r.entry for r in panel.model.search.recipes if r.name == "Eider")
    reason = entry.variants[0][1]
    panel.find_edit.setText(reason)
    assert "variant A" in words(panel, "Eider")
    panel.find_edit.setText(" ".join(entry.notes.split()[:4]))
    assert words(panel, "Eider") == f"note: {entry.notes.strip()[:60].rstrip()}…"


def test_a_file_that_cannot_be_read_is_listed_with_its_fault(panel, studio_folder, qtbot):
    index = panel.model.index(names(panel).index("half written"))
    assert index.data(FAULT_ROLE)
    assert index.data(MATCH_ROLE) == "cannot be read"
    assert "half-written.yaml, line" in index.data(Qt.ItemDataRole.ToolTipRole)
    assert "cannot be read" in index.data(Qt.ItemDataRole.AccessibleTextRole)
    assert not panel.model.index(0).data(FAULT_ROLE)


def test_nothing_found_is_said(panel):
    panel.find_edit.setText("  xyz   q ")
    assert panel.model.rowCount() == 0
    assert panel.message.isVisible()
    assert panel.message.text() == "No recipe of this studio holds “xyz q”."
    assert not panel.list.isEnabled()
    panel.find_edit.clear()
    assert not panel.message.isVisible()
    assert panel.list.isEnabled()
    assert panel.list.currentIndex().data() == "Eider"


def test_the_keys_go_from_the_line_to_the_list_and_open(panel, qtbot):
    panel.activateWindow()
    panel.find_edit.setFocus()
    qtbot.keyClicks(panel.find_edit, "talc")
    assert panel.list.currentIndex().row() == 0
    qtbot.keyClick(panel.find_edit, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: panel.focusWidget() is panel.list)
    qtbot.keyClick(panel.list, Qt.Key.Key_Down)
    wanted = panel.model.index(1).data(PATH_ROLE)
    with qtbot.waitSignal(panel.open_asked) as asked:
        qtbot.keyClick(panel.list, Qt.Key.Key_Return)
    assert asked.args == [wanted]
    for _ in range(2):
        qtbot.keyClick(panel.list, Qt.Key.Key_Up)
    qtbot.waitUntil(lambda: panel.focusWidget() is panel.find_edit)
    # Enter in the line opens what it found first.
    panel.find_edit.setText("seal")
    with qtbot.waitSignal(panel.open_asked) as asked:
        qtbot.keyClick(panel.find_edit, Qt.Key.Key_Return)
    assert asked.args[0].name == "sealskin.yaml"


def test_enter_opens_one_recipe_once(panel, qtbot):
    asked = []
    panel.open_asked.connect(asked.append)
    panel.list.setFocus()
    qtbot.keyClick(panel.list, Qt.Key.Key_Enter)
    assert len(asked) == 1
    panel.find_edit.setText("nowhere at all")
    qtbot.keyClick(panel.find_edit, Qt.Key.Key_Return)
    qtbot.keyClick(panel.find_edit, Qt.Key.Key_Down)
    assert len(asked) == 1


def test_a_saved_recipe_shows_as_it_is_now(panel, qtbot):
    document = panel.document
    document.edit("note", Recipe("Eider anew", notes="glows in the evening"))
    with qtbot.waitSignal(panel.filled):
        document.save(document.path)
    panel.find_edit.setText("glows")
    assert names(panel) == ["Eider anew"]
    with qtbot.waitSignal(panel.filled):
        document.save(document.path.with_name("another.yaml"))
    assert names(panel) == ["Eider anew", "Eider anew"]
    assert panel.model.index(1).data(PATH_ROLE) == document.path.with_name("eider.yaml")


def test_files_that_come_and_go_are_noticed(panel, studio_folder, qtbot):
    save_recipe(studio_folder / "recipes" / "new.yaml", Recipe("Brand new"), None)
    (studio_folder / "recipes" / "half-written.yaml").unlink()
    with qtbot.waitSignal(panel.filled):
        panel.refresh()
    assert "Brand new" in names(panel)
    assert "half written" not in names(panel)


def test_the_index_may_go_while_the_panel_is_open(panel, caches, qtbot):
    before = names(panel)
    shutil.rmtree(caches)
    panel.find_edit.setText("talc")
    assert names(panel)
    panel.find_edit.clear()
    with qtbot.waitSignal(panel.filled):
        panel.refresh()
    assert names(panel) == before


def test_the_files_are_listed_before_they_are_read(qtbot, theme, studio_folder, monkeypatch):
    held = threading.Event()
    real = recipes_panel.open_recipes

    def slow(*args):
        assert held.wait(20)
        return real(*args)

    monkeypatch.setattr(recipes_panel, "open_recipes", slow)
    document = Document()
    document.open(studio_folder / "recipes" / "eider.yaml")
    panel = RecipesPanel(document, theme)
    qtbot.addWidget(panel)
    try:
        panel.show()
        assert "winter harbour" in names(panel)
        panel.find_edit.setText("wint")
        assert names(panel) == ["winter harbour"]
    finally:
        held.set()
    qtbot.waitSignal(panel.filled).wait()
    assert names(panel) == ["Winter harbour"]


def test_a_long_studio_fills_in_step_by_step(qtbot, theme, studio_folder, monkeypatch):
    monkeypatch.setattr(recipes_panel, "_AT_A_TIME", 3)
    said = []
    document = Document()
    document.open(studio_folder / "recipes" / "eider.yaml")
    panel = RecipesPanel(document, theme)
    qtbot.addWidget(panel)
    real = panel.message.say
    monkeypatch.setattr(panel.message, "say", lambda text, *role: (said.append(text), real(text)))
    with qtbot.waitSignal(panel.filled):
        panel.show()
    assert [text for text in said if text] == [
        "Reading the recipes: 3 of 8",
        "Reading the recipes: 6 of 8",
    ]
    assert not panel.message.isVisible()
    assert "Sealskin" in names(panel)


def test_a_hidden_panel_reads_nothing_until_it_is_seen(qtbot, theme, studio_folder, caches):
    document = Document()
    panel = RecipesPanel(document, theme)
    qtbot.addWidget(panel)
    document.open(studio_folder / "recipes" / "eider.yaml")
    assert "eider" in names(panel)
    assert not caches.exists()
    with qtbot.waitSignal(panel.filled):
        panel.show()
    assert "Eider" in names(panel)


def test_another_studio_takes_the_place_of_the_first(panel, qtbot, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    begin_studio(other, "Empty place")
    with qtbot.waitSignal(panel.filled):
        panel.document.open_studio(other)
    assert names(panel) == []
    assert panel.message.text() == "No recipes yet. What is saved in this studio is listed here."
    # What was begun for one studio never shows in another, whichever is seen when.
    panel.document.open_studio(other)
    panel.hide()
    save_recipe(other / "recipes" / "first.yaml", Recipe("First"), None)
    with qtbot.waitSignal(panel.filled):
        panel.show()
        panel.refresh()
    assert names(panel) == ["First"]


def test_without_a_studio_there_is_nothing_to_list(qtbot, theme):
    panel = RecipesPanel(Document(), theme)
    qtbot.addWidget(panel)
    with qtbot.waitSignal(panel.filled):
        panel.show()
    assert "No studio is open" in panel.studio_label.text()
    assert names(panel) == []


def test_the_model_is_sound_while_it_is_searched(panel, qtmodeltester):
    qtmodeltester.check(panel.model)
    for text in ("t", "ta", "talc", "talc x", ""):
        panel.find_edit.setText(text)
        qtmodeltester.check(panel.model)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)
def test_name_words_and_sign_are_painted_in_their_roles(panel, palette):
    panel.list.set_palette(palette)
    panel.find_edit.setText("talc")
    index = panel.model.index(1)
    colors = painted(panel, index)
    assert palette.hex(Role.INK).casefold() in colors
    assert palette.hex(Role.MUTED).casefold() in colors
    panel.find_edit.setText("half")
    # The sign is so thin that no pixel is of its colour alone.
    wanted = palette.color(Role.STOP).hsvHueF()
    hues = {QColor(c).hsvHueF() for c in painted(panel, panel.model.index(0))}
    assert min(abs(hue - wanted) for hue in hues) < 0.02


def painted(panel, index):
    picture = panel.list.viewport().grab(panel.list.visualRect(index)).toImage()
    return {
        picture.pixelColor(x, y).name()
        for x in range(picture.width())
        for y in range(picture.height())
    }


def test_a_key_brings_the_find_line_up(window, qtbot, studio_folder):
    window.activateWindow()
    window.docks["variants"].raise_()
    window.document.open(studio_folder / "recipes" / "eider.yaml")
    qtbot.waitUntil(lambda: window.recipes_panel.visibleRegion().isEmpty())
    # Behind its tab it has not been read; the key brings it up, and it fills.
    assert "winter harbour" in names(window.recipes_panel)
    with qtbot.waitSignal(window.recipes_panel.filled):
        window.actions_by_name["find_recipe"].trigger()
    assert "Winter harbour" in names(window.recipes_panel)
    assert window.focusWidget() is window.recipes_panel.find_edit


def test_a_recipe_that_was_laid_into_the_folder_is_found(window, studio_folder, qtbot):
    recipes = studio_folder / "recipes"
    window.files.open(recipes / "eider.yaml")
    window.docks["recipes"].raise_()
    panel = window.recipes_panel
    qtbot.waitUntil(lambda: "Lamplight" in names(panel))
    text = (recipes / "eider.yaml").read_text(encoding="utf-8")
    text = text.replace('name: "Eider"', 'name: "Nettle"', 1)
    (recipes / "nettle.yaml").write_text(text, encoding="utf-8")
    panel.find_edit.setText("nettle")
    qtbot.waitUntil(lambda: "Nettle" in names(panel))
