"""A crash of the window: what was typed is offered at the next start and comes back."""

import errno
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from queue import Queue
from threading import Event, Thread
from weakref import ref

import pytest
import shiboken6
from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QMessageBox

import core.files.disk as disk
import core.files.journal
from app.document import Document
from app.firing_log_dialog import FiringLogDialog
from app.journal_writer import AGAIN_MS, GATHER_MS, JournalWriter
from app.main_window import MainWindow
from app.notice_bar import NoticeBar
from app.recovery import Recovery
from app.save_conflict import Saving
from core.files.content import stamp_of_file
from core.files.journal import Journal, Origin, Step, Work
from core.files.journal_reading import Kept, read
from core.files.journals import orphans
from core.files.saving import ChangedOutside
from core.firing import read_firing, write_firing
from core.firing.log import FiringLog
from core.recipe import Ingredient, Recipe, Section
from core.recipe_file import read_recipe, save_recipe
from core.tables import data_folder


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "journals"


@pytest.fixture
def recovery(window, folder):
    made = Recovery(window.document, window.files, window.notices, folder, window)
    yield made
    made.put_away()


@pytest.fixture
def saved(tmp_path, fixture_recipe):
    path = tmp_path / "fixture.yaml"
    save_recipe(path, fixture_recipe, None)
    return path


def nudge(window, amount, row=1, words="nudge", merge_key=None):
    recipe = window.document.recipe.with_amount(Section.BASE, row, amount)
    window.document.edit(words, recipe, merge_key)


def kept_in(folder) -> Kept | None:
    paths = sorted(folder.glob("*.journal"))
    return read(paths[0]) if paths else None


def left_behind(folder, path, before, after, steps=3, words="Talc to 12.5", stamp=None, **origin):
    """Write what a session that crashed would have left."""
    writer = Journal(folder)
    known = stamp or (stamp_of_file(path) if path is not None else None)
    at = {"path": path} | ({"stamp": known} if known is not None else {})
    writer.keep(Origin(Work(before), **at, **origin), [Step(words, steps, Work(after))])
    writer.close()


def offered(recovery, window, qtbot, subjects=1):
    recovery.offer()
    qtbot.waitUntil(lambda: len(window.notices.subjects()) == subjects)
    return window.notices.subjects()


def test_a_step_comes_to_the_disk_by_itself(window, recovery, folder, saved, qtbot):
    window.document.open(saved)
    with qtbot.waitSignal(recovery.writer.kept):
        nudge(window, 12.5)
    kept = kept_in(folder)
    assert kept.last == Step("nudge", 1, Work(window.document.recipe))
    assert kept.origin.path == saved
    assert kept.origin.stamp == stamp_of_file(saved)
    assert kept.origin.work.recipe.base[1].amount == 16.0


def test_going_on_typing_does_not_put_the_disk_off(window, recovery, qtbot):
    """Half a second from the first step, however many follow; the write comes on top of it."""
    nudge(window, 1.0, merge_key=("typed", 1))
    timer = recovery.writer._timer
    assert timer.isSingleShot()
    assert timer.interval() == GATHER_MS == 500
    before = timer.id()
    for amount in (2.0, 3.0, 4.0):
        nudge(window, amount, merge_key=("typed", 1))
    # A timer that is started again gets another id.
    assert timer.id() == before


def lines(folder):
    (path,) = folder.glob("*.journal")
    return [json.loads(x.split(b" ", 2)[2]) for x in path.read_bytes().splitlines()[1:]]


def test_a_field_being_typed_into_is_one_line_and_other_steps_one_each(
    window, recovery, folder, qtbot
):
    with qtbot.waitSignal(recovery.writer.kept):
        for amount in (1.0, 12.0, 12.5):
            nudge(window, amount, words=f"Talc to {amount}", merge_key=("typed", 1))
        nudge(window, 3.0, row=2, words="Whiting to 3")
        window.document.undo_stack.undo()
    assert [(x["words"], x["steps"]) for x in lines(folder)] == [
        ("Talc to 12.5", 1),
        ("Whiting to 3", 2),
        ("take back: Whiting to 3", 1),
    ]


@pytest.mark.parametrize("way", ["save", "undo", "new", "open"])
def test_nothing_is_kept_once_nothing_is_unsaved(window, recovery, folder, saved, qtbot, way):
    window.document.open(saved)
    with qtbot.waitSignal(recovery.writer.kept):
        nudge(window, 12.5)
    assert kept_in(folder) is not None
    {
        "save": lambda: window.document.save(saved),
        "undo": window.document.undo_stack.undo,
        "new": window.document.new,
        "open": lambda: window.document.open(saved),
    }[way]()
    qtbot.waitUntil(lambda: kept_in(folder) is None)


def test_a_save_that_failed_keeps_the_journal(window, recovery, folder, saved, qtbot):
    window.document.open(saved)
    with qtbot.waitSignal(recovery.writer.kept):
        nudge(window, 12.5)
    with pytest.raises(OSError, match="No such file"):
        window.document.save(saved.parent / "nowhere" / "a.yaml")
    recovery.flush_now()
    assert kept_in(folder).last.work.recipe == window.document.recipe


def test_after_a_save_the_next_step_counts_from_it(window, recovery, folder, saved, qtbot):
    window.document.open(saved)
    nudge(window, 12.5)
    nudge(window, 11.0)
    window.document.save(saved)
    with qtbot.waitSignal(recovery.writer.kept):
        nudge(window, 10.0)
    kept = kept_in(folder)
    assert kept.last.steps == 1
    assert kept.origin.stamp == stamp_of_file(saved)
    assert kept.origin.work.recipe.base[1].amount == 11.0


def test_an_edited_firing_is_kept_and_comes_back(
    window, recovery, folder, studio_folder, qtbot, settings, theme
):
    window.files.open(studio_folder)
    path = window.document.path
    firing = replace(window.document.evaluation.firing, name="Slow over 573")
    with qtbot.waitSignal(recovery.writer.kept):
        window.document.edit_firing("name", firing)
    left = kept_in(folder)
    (edited,) = left.last.work.firings.values()
    assert edited.name == "Slow over 573"
    recovery.put_away()

    second = MainWindow(settings, theme)
    qtbot.addWidget(second, before_close_func=lambda w: w.document.undo_stack.setClean())
    after = Recovery(second.document, second.files, second.notices, folder, second)
    (subject,) = offered(after, second, qtbot)
    second.notices.buttons(subject)[0].click()
    assert second.document.path == path
    assert second.document.studio.firings[edited.id].name == "Slow over 573"
    assert "the schedule Slow over 573" in second.notices.text("brought back")
    second.document.undo_stack.undo()
    assert edited.id not in second.document.edited_firings
    after.put_away()


@pytest.fixture
def edited(window, folder, studio_folder, qtbot):
    """A schedule of the studio's own that a session edited and left; its file and its name."""
    first = Recovery(window.document, window.files, window.notices, folder, window)
    window.files.open(studio_folder)
    document = window.document
    document.edit_firing("name", replace(document.evaluation.firing, name="As saved"))
    document.save(document.path)
    with qtbot.waitSignal(first.writer.kept):
        document.edit_firing("name", replace(document.evaluation.firing, name="Left behind"))
    (firing_id,) = document.edited_firings
    path = document.studio.firing_paths[firing_id]
    first.put_away()
    document.new()
    window.keeper.release()
    return path, firing_id


def write_elsewhere(path, name):
    write_firing(path, replace(read_firing(path), name=name), None)


def test_a_schedule_changed_outside_is_said_and_asked_about(
    edited, window, folder, settings, theme, qtbot
):
    path, firing_id = edited
    write_elsewhere(path, "Of another program")
    second = MainWindow(settings, theme)
    qtbot.addWidget(second, before_close_func=lambda w: w.document.undo_stack.setClean())
    after = Recovery(second.document, second.files, second.notices, folder, second)
    (subject,) = offered(after, second, qtbot)
    second.notices.buttons(subject)[0].click()
    document = second.document
    said = second.notices.text("brought back")
    assert "The schedule Of another program was changed by something else since." in said
    with pytest.raises(ChangedOutside) as raised:
        document.save(document.path)
    assert raised.value.file == path
    assert read_firing(path).name == "Of another program"
    # What undo brings is what was read from the file, and that may be edited and saved.
    document.undo_stack.undo()
    there = document.studio.firings[firing_id]
    assert there.name == "Of another program"
    document.undo_stack.redo()
    with pytest.raises(ChangedOutside):
        document.save(document.path)
    document.undo_stack.undo()
    document.edit_firing("name", replace(there, name="Edited on"))
    document.save(document.path)
    assert read_firing(path).name == "Edited on"
    after.put_away()


def test_a_schedule_as_it_was_is_saved_without_a_question(
    edited, window, folder, settings, theme, qtbot
):
    path, _ = edited
    second = MainWindow(settings, theme)
    qtbot.addWidget(second)
    after = Recovery(second.document, second.files, second.notices, folder, second)
    (subject,) = offered(after, second, qtbot)
    second.notices.buttons(subject)[0].click()
    assert "something else" not in second.notices.text("brought back")
    second.document.save(second.document.path)
    assert read_firing(path).name == "Left behind"
    assert not second.document.modified
    after.put_away()


def test_schedules_without_their_studio_are_not_called_saved(
    edited, window, folder, studio_folder, tmp_path, settings, theme, qtbot
):
    path, firing_id = edited
    away = tmp_path / "on a stick"
    studio_folder.rename(away)
    second = MainWindow(settings, theme)
    qtbot.addWidget(second, before_close_func=lambda w: w.document.undo_stack.setClean())
    after = Recovery(second.document, second.files, second.notices, folder, second)
    (subject,) = offered(after, second, qtbot)
    with qtbot.waitSignal(after.writer.kept):
        second.notices.buttons(subject)[0].click()
    said = second.notices.text("brought back")
    assert "is gone; saving writes it anew." in said
    assert f"Its studio {studio_folder.name} is not there now" in said
    assert "offered again" in said
    assert second.files._save(Saving(tmp_path / "elsewhere.yaml"))
    document = second.document
    assert document.modified
    assert list(document.edited_firings) == [firing_id]
    assert "its studio is not open" in second.statusBar().currentMessage()
    after.put_away()
    second.keeper.release()

    # With the studio back, all of it comes to its place.
    away.rename(studio_folder)
    third = MainWindow(settings, theme)
    qtbot.addWidget(third)
    last = Recovery(third.document, third.files, third.notices, folder, third)
    subjects = offered(last, third, qtbot, 2)
    third.notices.buttons(subjects[1])[0].click()
    third.document.save(third.document.path)
    assert not third.document.modified
    assert read_firing(path).name == "Left behind"
    last.put_away()


def test_a_fault_that_nobody_expected_is_told_logged_and_tried_again(
    window, recovery, folder, qtbot, monkeypatch, caplog
):
    def fault(*_):
        raise ZeroDivisionError("odd")

    with monkeypatch.context() as patch:
        patch.setattr(core.files.journal, "recipe_tree", fault)
        for amount in (12.5, 12.0):
            nudge(window, amount)
            recovery.flush_now()
            qtbot.waitUntil(lambda: recovery.writer._timer.isActive())
            assert recovery.writer._timer.interval() == AGAIN_MS
        assert "ZeroDivisionError: odd" in window.notices.text("journal")
        assert [record.exc_info[0] for record in caplog.records] == [ZeroDivisionError]
    with qtbot.waitSignal(recovery.writer.kept):
        recovery.writer.flush()
    assert window.notices.subjects() == []
    assert kept_in(folder).last.work.recipe == window.document.recipe


def test_what_could_not_be_written_is_tried_again_within_five_seconds():
    """What a crash may cost at most, with half a second for the disk itself."""
    assert GATHER_MS + AGAIN_MS + 500 <= 5_000


def test_a_writer_that_is_gone_is_not_held_by_the_thread_of_the_disk(folder, qtbot, monkeypatch):
    document, notices = Document(), NoticeBar()
    qtbot.addWidget(notices)
    writer = JournalWriter(document, notices, folder)
    held, going = Event(), Event()
    whole = disk.flush

    def flush(handle):
        going.set()
        held.wait(_DEADLINE_S)
        whole(handle)

    monkeypatch.setattr(disk, "flush", flush)
    document.edit("begin", Recipe("Dune", base=(Ingredient("talc", 4.0),)))
    writer.flush()
    last, gone = writer._last, ref(writer)
    assert going.wait(_DEADLINE_S)
    shiboken6.delete(document)
    shiboken6.delete(writer)
    del writer
    assert gone() is None
    with qtbot.captureExceptions() as raised:
        held.set()
        last.result(_DEADLINE_S)
        qtbot.waitUntil(lambda: kept_in(folder) is not None)
        QCoreApplication.processEvents()
    assert raised == []


@pytest.mark.parametrize("taken", [True, False])
def test_a_firing_log_being_typed_is_kept_until_it_is_taken_or_left(
    window, recovery, folder, studio_folder, qtbot, monkeypatch, taken
):
    window.files.open(studio_folder)
    document = window.document
    before = document.edited_firings

    def type_and_look(dialog):
        dialog.add_log()
        with qtbot.waitSignal(recovery.writer.kept):
            dialog.editor.notes.setFocus()
            qtbot.keyClicks(dialog.editor.notes, "cracked shelf")
        assert not document.modified
        left = kept_in(folder).last
        (firing,) = left.work.firings.values()
        assert left.words == "Firing log"
        assert left.steps == 1
        assert firing.log[-1].notes == "cracked shelf"
        assert left.work.recipe.firing == firing.id
        dialog.accept() if taken else dialog.reject()
        return dialog.result()

    monkeypatch.setattr(FiringLogDialog, "exec", type_and_look)
    window.firing_actions.write_log()
    if taken:
        assert document.modified
        recovery.flush_now()
        (firing,) = kept_in(folder).last.work.firings.values()
        assert firing.log[-1].notes == "cracked shelf"
        assert kept_in(folder).last.steps == 1
    else:
        assert document.edited_firings == before
        qtbot.waitUntil(lambda: kept_in(folder) is None)


def test_the_end_of_the_session_keeps_a_log_being_typed(window, folder, studio_folder):
    recovery = Recovery(window.document, window.files, window.notices, folder, window)
    window.files.open(studio_folder)
    firing = replace(window.document.evaluation.firing, log=(FiringLog(notes="half"),))
    window.document.note_draft("Firing log", firing)
    recovery.put_away()
    (orphan,) = orphans(folder)
    (kept,) = orphan.kept.last.work.firings.values()
    assert kept.log[-1].notes == "half"
    orphan.let_go()


def test_a_full_disk_is_said_once_and_editing_goes_on(window, recovery, folder, qtbot, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    told = []
    tell = window.notices.tell
    monkeypatch.setattr(window.notices, "tell", lambda *a, **k: (told.append(a[0]), tell(*a, **k)))
    with monkeypatch.context() as patch:
        patch.setattr(disk, "create", full)
        for amount in (12.5, 12.0):
            nudge(window, amount)
            recovery.flush_now()
            qtbot.waitUntil(lambda: recovery.writer._timer.isActive())
        assert "the disk is full" in window.notices.text("journal")
        assert told == ["journal"]
    nudge(window, 11.0)
    recovery.writer.flush()
    qtbot.waitUntil(lambda: window.notices.subjects() == [])
    kept = kept_in(folder)
    assert kept.last.work.recipe == window.document.recipe
    assert kept.last.steps == 3


def test_unsaved_work_is_offered_and_comes_back_as_one_step(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    after = fixture_recipe.with_amount(Section.BASE, 1, 12.5)
    after = replace(after, additions=(Ingredient("tin-oxide", 5.0),))
    left_behind(folder, saved, fixture_recipe, after)
    (subject,) = offered(recovery, window, qtbot)
    said = window.notices.text(subject)
    assert said.startswith("Glost ended without saving Fixture: 3 steps since it was last saved.")
    assert "Talc to 12.5" in said
    yes, no = window.notices.buttons(subject)
    assert (yes.text(), no.text()) == ("Bring them back", "Throw them away")
    with qtbot.waitSignal(recovery.writer.kept):
        yes.click()
    document = window.document
    assert document.path == saved
    assert document.recipe.base == after.base
    assert document.modified
    assert document.undo_stack.count() == 1
    assert document.undo_stack.undoText() == "Bring back unsaved work"
    said = window.notices.text("brought back")
    assert "Brought back 3 steps of Fixture: Talc from 16 to 12.5; Tin oxide 5 % added." in said
    # The old journal went only after the new one held it all.
    kept = kept_in(folder)
    assert kept.last.work.recipe == document.recipe
    assert (kept.last.steps, kept.last.words) == (3, "Talc to 12.5")
    assert len(list((folder / "put-away").iterdir())) == 1
    document.undo_stack.undo()
    assert document.recipe.base == fixture_recipe.base
    assert not document.modified


def test_what_undo_takes_back_is_offered_again_until_it_is_saved(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    after = fixture_recipe.with_amount(Section.BASE, 1, 12.5)
    left_behind(folder, saved, fixture_recipe, after)
    (subject,) = offered(recovery, window, qtbot)
    document, writer = window.document, recovery.writer

    def bring_back():
        with qtbot.waitSignal(writer.kept):
            window.notices.buttons(subject)[0].click()
        assert len(list((folder / "put-away").iterdir())) == 1
        assert window.notices.subjects() == ["brought back"]

    bring_back()
    document.undo_stack.undo()
    assert window.notices.subjects() == [subject]
    qtbot.waitUntil(lambda: len(list(folder.glob("*.journal"))) == 1)
    assert kept_in(folder).last.work.recipe == after
    with qtbot.waitSignal(writer.kept):
        document.undo_stack.redo()
    assert window.notices.subjects() == []
    assert len(list((folder / "put-away").iterdir())) == 1
    document.undo_stack.undo()
    bring_back()
    assert document.undo_stack.count() == 1
    document.save(saved)
    document.undo_stack.undo()
    document.undo_stack.redo()
    assert window.notices.subjects() == []
    recovery.put_away()
    assert orphans(folder) == []


def test_another_recipe_on_the_bench_offers_nothing_again(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    left_behind(folder, saved, fixture_recipe, fixture_recipe.with_amount(Section.BASE, 1, 1.0))
    (subject,) = offered(recovery, window, qtbot)
    window.notices.buttons(subject)[0].click()
    window.document.new()
    assert window.notices.subjects() == []
    recovery.put_away()
    assert orphans(folder) == []


def test_what_was_never_saved_comes_back_too(window, recovery, folder, qtbot):
    before = window.document.recipe
    after = Recipe("Dune", base=(Ingredient("talc", 4.0),))
    left_behind(folder, None, Recipe("Untitled glaze"), after, steps=1)
    (subject,) = offered(recovery, window, qtbot)
    assert "Glost ended before Dune was ever saved: one step." in window.notices.text(subject)
    assert window.notices.buttons(subject)[0].text() == "Bring it back"
    window.notices.buttons(subject)[0].click()
    assert window.document.recipe == after
    assert window.document.path is None
    assert window.document.modified
    assert window.document.recipe != before


def test_a_file_changed_outside_is_said_and_not_overwritten_unseen(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    after = fixture_recipe.with_amount(Section.BASE, 1, 12.5)
    began = stamp_of_file(saved)
    left_behind(folder, saved, fixture_recipe, after)
    save_recipe(saved, fixture_recipe.with_amount(Section.BASE, 0, 1.0), None)
    (subject,) = offered(recovery, window, qtbot)
    window.notices.buttons(subject)[0].click()
    document = window.document
    assert document.recipe.base == after.base
    # The save still expects what stood there before, and asks.
    assert (document.path, document.stamp) == (saved, began)
    assert "was changed by something else" in window.notices.text("brought back")
    assert read_recipe(saved).base[0].amount == 1.0


def test_a_file_that_is_gone_is_said_and_written_anew(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    after = fixture_recipe.with_amount(Section.BASE, 1, 12.5)
    left_behind(folder, saved, fixture_recipe, after)
    saved.unlink()
    (subject,) = offered(recovery, window, qtbot)
    window.notices.buttons(subject)[0].click()
    assert "is gone" in window.notices.text("brought back")
    assert window.document.path == saved
    window.document.save(saved)
    assert read_recipe(saved).base == after.base


def test_a_file_that_went_away_leaves_what_is_shown_in_the_journal(
    window, recovery, folder, saved, qtbot
):
    window.document.open(saved)
    shown = window.document.recipe
    saved.unlink()
    with qtbot.waitSignal(recovery.writer.kept):
        window.document.undo_stack.resetClean()
    recovery.put_away()
    second = Recovery(window.document, window.files, window.notices, folder, window)
    window.document.new()
    (subject,) = offered(second, window, qtbot)
    window.notices.buttons(subject)[0].click()
    assert window.document.recipe == shown
    assert window.document.modified
    assert "is gone" in window.notices.text("brought back")
    second.put_away()


def test_work_that_reached_its_file_is_not_offered(
    window, recovery, folder, saved, fixture_recipe, qtbot
):
    after = fixture_recipe.with_amount(Section.BASE, 1, 12.5)
    left_behind(folder, saved, fixture_recipe, after)
    save_recipe(saved, after, None)
    left_behind(folder, None, Recipe("A"), Recipe("B"))
    (subject,) = offered(recovery, window, qtbot)
    assert "B" in window.notices.text(subject)


def test_throwing_away_can_be_taken_back(window, recovery, folder, saved, fixture_recipe, qtbot):
    left_behind(folder, saved, fixture_recipe, fixture_recipe.with_amount(Section.BASE, 1, 1.0))
    (subject,) = offered(recovery, window, qtbot)
    window.notices.buttons(subject)[1].click()
    assert kept_in(folder) is None
    assert "Thrown away: 3 steps of Fixture." in window.notices.text(subject)
    back, _good = window.notices.buttons(subject)
    back.click()
    assert kept_in(folder) is not None
    assert "Bring them back" in [b.text() for b in window.notices.buttons(subject)]
    window.notices.buttons(subject)[1].click()
    window.notices.buttons(subject)[1].click()
    assert window.notices.subjects() == []
    assert kept_in(folder) is None


def test_what_is_not_answered_is_offered_again(
    window, folder, saved, fixture_recipe, qtbot, settings, theme
):
    left_behind(folder, saved, fixture_recipe, fixture_recipe.with_amount(Section.BASE, 1, 1.0))
    first = Recovery(window.document, window.files, window.notices, folder, window)
    offered(first, window, qtbot)
    assert orphans(folder) == []
    first.put_away()
    again = orphans(folder)
    assert len(again) == 1
    again[0].let_go()


def test_several_have_a_line_each_three_at_a_time(window, recovery, folder, qtbot):
    for i in range(5):
        left_behind(folder, None, Recipe("X"), Recipe(f"Glaze {i}"))
    subjects = offered(recovery, window, qtbot, 3)
    assert [window.notices.text(s).split(" was")[0][-7:] for s in subjects] == [
        "Glaze 4",
        "Glaze 3",
        "Glaze 2",
    ]
    window.notices.buttons(subjects[0])[1].click()
    assert any("Glaze 1" in window.notices.text(s) for s in window.notices.subjects())


@pytest.mark.parametrize("data", [b"", b"\0" * 500, b"5 00000000 hello\n"])
def test_one_that_does_not_read_is_set_aside_and_said(window, recovery, folder, qtbot, data):
    folder.mkdir()
    path = folder / "000001-0123abcd.journal"
    path.write_bytes(data)
    (subject,) = offered(recovery, window, qtbot)
    assert "cannot be read" in window.notices.text(subject)
    assert "put-away" in window.notices.text(subject)
    assert not path.exists()
    assert [p.read_bytes() for p in (folder / "put-away").iterdir()] == [data]


def test_unsaved_work_on_the_bench_is_asked_about_first(
    window, recovery, folder, saved, fixture_recipe, qtbot, monkeypatch
):
    left_behind(folder, saved, fixture_recipe, fixture_recipe.with_amount(Section.BASE, 1, 1.0))
    nudge(window, 99.0)
    mine = window.document.recipe
    (subject,) = offered(recovery, window, qtbot)
    answer = QMessageBox.StandardButton.Cancel
    monkeypatch.setattr(window.files, "_ask_about_unsaved", lambda: answer)
    window.notices.buttons(subject)[0].click()
    assert window.document.recipe == mine
    assert subject in window.notices.subjects()
    answer = QMessageBox.StandardButton.Discard
    window.notices.buttons(subject)[0].click()
    assert window.document.recipe.base[1].amount == 1.0


def test_the_end_of_the_program_leaves_nothing_that_was_saved(window, folder, saved, qtbot):
    recovery = Recovery(window.document, window.files, window.notices, folder, window)
    window.document.open(saved)
    with qtbot.waitSignal(recovery.writer.kept):
        nudge(window, 12.5)
    window.document.save(saved)
    recovery.put_away()
    assert os.listdir(folder) == []


def test_the_end_of_the_program_without_an_answer_keeps_the_work(window, folder, saved):
    """The system may end the session without asking."""
    recovery = Recovery(window.document, window.files, window.notices, folder, window)
    window.document.open(saved)
    nudge(window, 12.5)
    recovery.put_away()
    (orphan,) = orphans(folder)
    assert orphan.kept.last.work.recipe == window.document.recipe


def test_a_document_that_is_taken_down_unsaved_raises_nothing(folder, qtbot):
    document, notices = Document(), NoticeBar()
    qtbot.addWidget(notices)
    writer = JournalWriter(document, notices, folder)
    nudged = Recipe("Dune", base=(Ingredient("talc", 4.0),))
    document.edit("begin", nudged)
    writer.flush_now()
    with qtbot.captureExceptions() as raised:
        shiboken6.delete(document)
    assert raised == []
    assert kept_in(folder).last.work.recipe == nudged


# The program itself, driven in a process of its own.

DRIVER = """
import os, signal, sys
from PySide6.QtCore import QSocketNotifier, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QMessageBox
import app.start
from app.__main__ import main
from core.recipe import Section

def say(*words):
    print(*words, flush=True)

# A question that nobody answers would hang; a problem that is told is told here.
QMessageBox.exec = lambda box: say("asked", box.text()) or 0
bring_up = app.start.bring_up

def amount(window):
    return window.document.recipe.base[1].amount

def obey(window, words):
    notices = window.notices
    if words[0] == "type":
        table = window.recipe_view.base
        window.activateWindow()
        table.setFocus()
        table.go_to(1)
        QTest.keyClicks(table, words[1][0])
        editor = table.viewport().findChild(QLineEdit)
        QTest.keyClicks(editor, words[1][1:])
        QTest.keyClick(editor, Qt.Key.Key_Return)
        say("typed", amount(window))
    elif words[0] == "notices":
        say("notices", *[notices.text(subject) for subject in notices.subjects()])
    elif words[0] == "answer":
        subject = next(s for s in notices.subjects() if s.startswith("left behind"))
        notices.buttons(subject)[int(words[1])].click()
        say("answered", amount(window), window.document.modified)
        if words[2:] == ["die"]:
            os.kill(os.getpid(), signal.SIGKILL)
    elif words[0] == "fail":
        window.document.edit("nudge", window.document.recipe.with_amount(Section.BASE, 1, 7.25))
        try:
            raise RuntimeError("unexpected")
        except RuntimeError:
            sys.excepthook(*sys.exc_info())
        os.kill(os.getpid(), signal.SIGKILL)
    elif words[0] == "close":
        window.close()

def driven(*given):
    application, window = bring_up(*given)
    window.orders = QSocketNotifier(0, QSocketNotifier.Type.Read)
    window.orders.activated.connect(lambda *_: obey(window, os.read(0, 1000).decode().split()))
    say("up")
    return application, window

app.start.bring_up = driven
sys.exit(main())
"""
_DEADLINE_S = 60.0
posix = pytest.mark.skipif(sys.platform == "win32", reason="kills, and listens to a pipe")


class Program:
    """The program in a process of its own; its window obeys one line at a time."""

    def __init__(self, home: Path, recipe: Path | None, root: Path) -> None:
        folders = {
            f"XDG_{name}_HOME": str(home / name.lower())
            for name in ("CACHE", "CONFIG", "DATA", "STATE")
        }
        words = ["--theme", "light"] if recipe is None else [str(recipe), "--theme", "light"]
        self.process = subprocess.Popen(
            [sys.executable, "-c", DRIVER, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=root,
            env={**os.environ, **folders, "HOME": str(home), "QT_QPA_PLATFORM": "offscreen"},
        )
        self._said: Queue[str] = Queue()
        self._listener = Thread(target=self._listen)
        self._listener.start()
        assert self.answer() == ["up"]

    def _listen(self) -> None:
        for line in self.process.stdout:
            self._said.put(line)
        self._said.put("ended")

    def answer(self) -> list[str]:
        return self._said.get(timeout=_DEADLINE_S).split()

    def tell(self, *words: str) -> None:
        self.process.stdin.write(" ".join(words) + "\n")
        self.process.stdin.flush()

    def order(self, *words: str) -> list[str]:
        self.tell(*words)
        return self.answer()

    def kill(self) -> None:
        self.process.kill()
        self.end()

    def end(self) -> int:
        code = self.process.wait(_DEADLINE_S)
        self._listener.join()
        self.process.stdin.close()
        self.process.stdout.close()
        return code


@pytest.fixture
def start(tmp_path, request):
    running = []

    def begin(recipe):
        running.append(Program(tmp_path / "home", recipe, request.config.rootpath))
        return running[-1]

    yield begin
    for program in running:
        if program.process.poll() is None:
            program.kill()


@pytest.fixture
def eider(tmp_path):
    shutil.copytree(data_folder() / "demo-studio", tmp_path / "studio")
    return tmp_path / "studio" / "recipes" / "eider.yaml"


def journals_of(tmp_path):
    return tmp_path / "home" / "state" / "glost" / "journals"


def says(folder, amount):
    """Tell whether a journal in the folder holds this amount by now."""
    for path in folder.glob("*.journal"):
        kept = read(path)
        if kept.last is not None and kept.last.work.recipe.base[1].amount == amount:
            return True
    return False


@posix
def test_typed_killed_started_accepted_and_killed_again(start, eider, tmp_path, qtbot):
    folder = journals_of(tmp_path)
    before = read_recipe(eider)
    program = start(eider)
    assert program.order("type", "12.5") == ["typed", "12.5"]
    qtbot.waitUntil(lambda: says(folder, 12.5), timeout=30_000)
    program.kill()
    assert read_recipe(eider) == before

    def when_offered(program):
        qtbot.waitUntil(
            lambda: "ended without saving" in " ".join(program.order("notices")), timeout=30_000
        )

    # Killed in the very moment of the recovery, before anything of it is on the disk.
    program = start(eider)
    when_offered(program)
    assert program.order("answer", "0", "die") == ["answered", "12.5", "True"]
    assert program.end() == -9

    # Killed once the new journal holds it, before a save.
    program = start(None)
    when_offered(program)
    assert program.order("answer", "0") == ["answered", "12.5", "True"]
    qtbot.waitUntil(lambda: len(list((folder / "put-away").glob("*"))) > 0, timeout=30_000)
    program.kill()

    program = start(eider)
    when_offered(program)
    assert "one step since" in " ".join(program.order("notices"))
    assert program.order("answer", "0") == ["answered", "12.5", "True"]
    assert program.order("type", "13") == ["typed", "13.0"]
    qtbot.waitUntil(lambda: says(folder, 13.0), timeout=30_000)
    program.kill()
    program = start(eider)
    when_offered(program)
    assert "2 steps since" in " ".join(program.order("notices"))
    assert program.order("answer", "0") == ["answered", "13.0", "True"]
    program.kill()


@posix
def test_an_unexpected_fault_writes_what_is_waiting_first(start, eider, tmp_path):
    program = start(eider)
    assert program.order("fail")[:2] == ["asked", "Something"]
    assert program.end() == -9
    assert says(journals_of(tmp_path), 7.25)


@posix
def test_a_program_that_was_closed_leaves_no_journal(start, eider, tmp_path):
    program = start(eider)
    program.tell("close")
    assert program.end() == 0
    assert not list(journals_of(tmp_path).glob("*"))
