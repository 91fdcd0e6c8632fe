import subprocess
import sys
from dataclasses import replace

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QFileDialog

from app import problems
from app.main_window import MainWindow
from app.settings import Settings
from core.errors import InputError
from core.files import studio_lock
from core.files.studio_lock import LOCK_FILE, StudioLock, read_holder
from core.recipe import Section
from core.recipe_file import read_recipe

_HOLD = """
import sys
from pathlib import Path
from core.files.studio_lock import StudioLock
print(StudioLock(Path(sys.argv[1])).take().ours, flush=True)
sys.stdin.read()
"""


@pytest.fixture
def another(qtbot, theme, tmp_path):
    """Make a further window, in this process: it differs by the token of its lock alone."""
    made = []

    def make(folder):
        settings = Settings(
            QSettings(str(tmp_path / f"{len(made)}.ini"), QSettings.Format.IniFormat)
        )
        window = MainWindow(settings, theme)
        qtbot.addWidget(window, before_close_func=_call_it_saved)
        window.show()
        assert window.files.open(folder)
        made.append(window)
        return window

    return make


@pytest.fixture
def told(monkeypatch):
    said = []
    monkeypatch.setattr(problems, "tell", lambda _parent, title, text: said.append((title, text)))
    return said


def _call_it_saved(window):
    window.document.undo_stack.setClean()


def change(window, amount=17.0):
    document = window.document
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, amount))


def test_the_first_window_holds_the_studio_and_lets_go_when_it_closes(window, studio_folder):
    window.files.open(studio_folder)
    assert not window.keeper.read_only
    assert window.notices.subjects() == []
    assert read_holder(studio_folder) is not None
    assert window.close()
    assert not (studio_folder / LOCK_FILE).exists()


def test_a_second_window_only_reads_and_says_who_has_the_studio(another, studio_folder):
    first, second = another(studio_folder), another(studio_folder)
    assert not first.keeper.read_only
    assert second.keeper.read_only
    words = second.notices.text("lock")
    assert "on this computer" in words
    assert read_holder(studio_folder).since in words
    assert "Taken over, the studio is read only there" in words
    assert [b.text() for b in second.notices.buttons("lock")] == ["Take it over"]
    assert "(read only)" in second.windowTitle()
    assert "(read only)" not in first.windowTitle()


def test_a_second_window_can_save_as_soon_as_the_first_closes(another, studio_folder, qtbot):
    first, second = another(studio_folder), another(studio_folder)
    first.close()
    qtbot.waitUntil(lambda: not second.keeper.read_only)
    assert "free again" in second.notices.text("lock")
    assert "(read only)" not in second.windowTitle()
    change(second)
    assert second.files.save()
    assert read_recipe(second.document.path).base[1].amount == 17.0


def test_nothing_of_a_studio_is_written_by_a_window_that_only_reads(another, studio_folder, told):
    another(studio_folder)
    second = another(studio_folder)
    before = {p: p.read_bytes() for p in studio_folder.rglob("*") if p.is_file()}
    change(second)
    firing = second.document.evaluation.firing
    assert firing is not None
    assert not second.files.save()
    assert "open in another window" in told[0][1]
    assert second.document.modified
    with pytest.raises(InputError, match="open in another window"):
        second.document.save(studio_folder / "recipes" / "new.yaml")
    second.tile_actions.plan()
    assert second.firing_actions.log_dialog() is None
    second.tile_actions.show_tiles()
    edits = second.tile_actions.tiles_window.edits
    name = second.document.studio.run_paths()[0].name
    run = edits.run(name)
    with pytest.raises(InputError, match="open in another window"):
        edits.edit("note", name, run.with_result(run.tiles[0].code, None))
    after = {p: p.read_bytes() for p in studio_folder.rglob("*") if p.is_file()}
    assert after == before


def test_a_window_that_only_reads_saves_copies_elsewhere(
    another, studio_folder, tmp_path, monkeypatch
):
    another(studio_folder)
    second = another(studio_folder)
    change(second)
    path = tmp_path / "elsewhere.yaml"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    assert second.files.save_as()
    assert read_recipe(path).base[1].amount == 17.0
    assert not second.document.modified


def test_a_firing_that_could_not_be_saved_with_a_copy_stays_unsaved(
    another, studio_folder, tmp_path, qtbot
):
    another(studio_folder)
    second = another(studio_folder)
    document = second.document
    firing = document.evaluation.firing
    document.edit_firing("note", replace(firing, note="a longer hold"))
    before = {p: p.read_bytes() for p in (studio_folder / "firings").iterdir()}
    document.save(tmp_path / "elsewhere.yaml")
    assert document.modified
    assert {p: p.read_bytes() for p in (studio_folder / "firings").iterdir()} == before


def test_taking_over_is_noticed_by_the_other_window_before_it_saves(another, studio_folder, told):
    first, second = another(studio_folder), another(studio_folder)
    change(first)
    second.notices.buttons("lock")[0].click()
    assert not second.keeper.read_only
    assert not first.files.save()
    assert first.keeper.read_only
    assert "has taken this studio over" in first.notices.text("lock")
    assert first.document.modified
    first.notices.buttons("lock")[0].click()
    assert not first.keeper.read_only
    assert first.files.save()


def test_taking_over_is_noticed_at_the_next_beat(another, studio_folder, qtbot):
    first, second = another(studio_folder), another(studio_folder)
    second.keeper.take_over()
    first.keeper.beat()
    qtbot.waitUntil(lambda: first.keeper.read_only)
    second.keeper.beat()
    qtbot.waitUntil(lambda: read_holder(studio_folder).beats == 1)
    assert not second.keeper.read_only


def test_a_second_recipe_of_the_same_studio_is_no_conflict(window, studio_folder):
    window.files.open(studio_folder)
    paths = window.document.studio.recipe_paths()
    token = read_holder(studio_folder).token
    assert window.files.open(paths[1])
    assert read_holder(studio_folder).token == token
    assert not window.keeper.read_only


def test_opening_a_recipe_elsewhere_lets_go_of_the_studio(window, studio_folder, tmp_path):
    window.files.open(studio_folder)
    other = tmp_path / "alone.yaml"
    other.write_bytes(window.document.path.read_bytes())
    assert window.files.open(other)
    assert read_holder(studio_folder) is None
    change(window)
    assert window.files.save()


def test_saving_into_a_studio_that_another_window_has_is_refused(
    window, another, studio_folder, tmp_path
):
    another(studio_folder)
    with pytest.raises(InputError, match="open in another window"):
        window.document.save(studio_folder / "recipes" / "new.yaml")
    window.document.save(tmp_path / "new.yaml")


def test_a_link_from_elsewhere_is_no_way_round_the_lock(
    window, another, studio_folder, tmp_path, told
):
    another(studio_folder)
    recipe = studio_folder / "recipes" / "eider.yaml"
    link = tmp_path / "link.yaml"
    link.symlink_to(recipe)
    before = recipe.read_bytes()
    assert window.files.open(link)
    assert window.document.studio.folder == studio_folder
    assert window.keeper.read_only
    change(window)
    assert not window.files.save()
    assert "open in another window" in told[0][1]
    with pytest.raises(InputError, match="open in another window"):
        window.keeper.check(link)
    assert recipe.read_bytes() == before


def test_a_window_that_was_killed_is_taken_over_and_said(window, studio_folder):
    child = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(studio_folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout.readline().strip() == "True"
    child.kill()
    child.communicate()
    window.files.open(studio_folder)
    assert not window.keeper.read_only
    assert "ended without closing" in window.notices.text("lock")


def test_a_studio_on_another_computer_is_named_and_its_silence_told(
    window, studio_folder, monkeypatch
):
    monkeypatch.setattr(studio_lock, "computer", lambda: "elsewhere")
    monkeypatch.setattr(studio_lock, "computer_name", lambda: "wheelhouse")
    assert StudioLock(studio_folder).take().ours
    monkeypatch.undo()
    window.files.open(studio_folder)
    assert window.keeper.read_only
    assert "A window on wheelhouse" in window.notices.text("lock")
    assert "Nothing has been heard" not in window.notices.text("lock")
    monkeypatch.setattr(studio_lock, "QUIET_S", 0)
    window.keeper.look()
    assert window.keeper.read_only
    assert "Nothing has been heard" in window.notices.text("lock")
    window.notices.buttons("lock")[0].click()
    assert not window.keeper.read_only


def test_a_folder_that_cannot_be_written_opens_read_only_and_says_so(
    window, studio_folder, monkeypatch, told
):
    def refuse(*_args, **_more):
        raise OSError(30, "Read-only file system")

    with monkeypatch.context() as patch:
        patch.setattr(studio_lock.os, "open", refuse)
        window.files.open(studio_folder)
        assert window.keeper.read_only
        assert "Read-only file system" in window.notices.text("lock")
        change(window)
        assert not window.files.save()
    window.notices.buttons("lock")[0].click()
    assert not window.keeper.read_only
    assert window.files.save()
