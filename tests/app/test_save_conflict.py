"""Two windows on one file: whatever is answered, both versions are kept."""

import errno
import os
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app import problems
from app.document import Document
from app.file_actions import FileActions
from app.save_conflict import Answer, SaveConflict, Saving
from core.files import backups, disk
from core.files.content import stamp_of_file
from core.files.saving import ChangedOutside, NotSettled
from core.firing.files import firing_text, read_firing
from core.recipe import Section
from core.recipe_file import read_recipe, recipe_text

FAULTS = ("ENOSPC", "EIO", "EACCES", "EROFS", "EDQUOT")


@pytest.fixture
def told(monkeypatch):
    said = []
    monkeypatch.setattr(problems, "tell", lambda _parent, title, text: said.append((title, text)))
    return said


@pytest.fixture
def asked(monkeypatch):
    """Answer the question in turn; keeps what was asked about."""
    faults = []

    def answer_with(*answers):
        left = list(answers)

        def ask(_self, fault, _saving):
            faults.append(fault)
            return left.pop(0)

        monkeypatch.setattr(SaveConflict, "_ask", ask)
        return faults

    return answer_with


@pytest.fixture
def path(studio_folder):
    return studio_folder / "recipes" / "eider.yaml"


@pytest.fixture
def mine(qapp, path):
    document = Document()
    document.open(path)
    document.edit("mine", replace(document.recipe, notes="Mine."))
    return document


@pytest.fixture
def theirs(qapp, path):
    document = Document()
    document.open(path)
    document.edit("theirs", replace(document.recipe, notes="Theirs."))
    return document


@pytest.fixture
def files(mine, settings, qtbot):
    from PySide6.QtWidgets import QWidget

    window = QWidget()
    qtbot.addWidget(window)
    return FileActions(mine, settings, window)


def kept_notes(path):
    return {read_recipe(version.path).notes for version in backups.versions(path)}


def thinner(document):
    document.edit("thinner", document.recipe.with_amount(Section.BASE, 0, 17.5))


def test_the_second_of_two_windows_is_told_and_writes_over_nothing(mine, theirs, path):
    theirs.save(path)
    before = path.read_bytes()
    with pytest.raises(ChangedOutside, match="changed by another program") as fault:
        mine.save(path)
    assert fault.value.data == before == path.read_bytes()
    assert mine.modified


def test_one_window_saves_again_and_again(mine, path):
    mine.save(path)
    thinner(mine)
    mine.save(path)
    assert mine.stamp == stamp_of_file(path)


def test_keep_mine_puts_theirs_among_the_earlier_versions(files, mine, theirs, path, asked):
    theirs.save(path)
    faults = asked(Answer.MINE)
    assert files.save()
    assert len(faults) == 1
    assert read_recipe(path).notes == "Mine."
    assert "Theirs." in kept_notes(path)
    assert not mine.modified


def test_take_theirs_keeps_mine_twice(files, mine, theirs, path, asked):
    theirs.save(path)
    before = path.read_bytes()
    asked(Answer.THEIRS)
    assert files.save()
    assert mine.recipe.notes == "Theirs."
    assert path.read_bytes() == before
    assert not mine.modified
    assert "Mine." in kept_notes(path)
    mine.undo_stack.undo()
    assert mine.recipe.notes == "Mine."
    assert mine.modified
    # What was put aside by then is known: no second question.
    mine.save(path)
    assert "Theirs." in kept_notes(path)


def test_keep_both_saves_mine_beside_theirs_under_its_own_name(files, mine, theirs, path, asked):
    theirs.save(path)
    asked(Answer.BOTH)
    assert files.save()
    beside = path.with_name("eider-mine.yaml")
    assert mine.path == beside
    assert not mine.modified
    assert (read_recipe(beside).name, read_recipe(beside).notes) == ("Eider (mine)", "Mine.")
    assert read_recipe(path).notes == "Theirs."


def test_keep_both_on_a_full_disk_takes_the_new_name_back(
    files, mine, theirs, path, asked, told, monkeypatch
):
    theirs.save(path)
    asked(Answer.BOTH)

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(disk, "create", full)
    assert not files.save()
    assert "disk is full" in told[0][1]
    assert (mine.recipe.name, mine.recipe.notes) == ("Eider", "Mine.")
    assert mine.path == path
    assert mine.modified


def test_going_on_editing_saves_nothing(files, mine, theirs, path, asked, told):
    theirs.save(path)
    before = path.read_bytes()
    asked(Answer.GO_ON)
    assert not files.save()
    assert path.read_bytes() == before
    assert mine.modified
    assert told == []


def test_what_changed_again_after_the_answer_is_asked_about_again(
    files, mine, theirs, path, monkeypatch
):
    theirs.save(path)
    asked = []

    def ask(_self, fault, _saving):
        asked.append(fault.data)
        if len(asked) == 1:
            thinner(theirs)
            theirs.save(path)
        return Answer.MINE

    monkeypatch.setattr(SaveConflict, "_ask", ask)
    assert files.save()
    assert len(asked) == 2
    assert asked[0] != asked[1]
    assert {read_recipe(v.path).base[0].amount for v in backups.versions(path)} >= {17.5}


def test_a_file_that_went_away_is_asked_about_and_written_anew(files, mine, path, asked):
    path.unlink()
    faults = asked(Answer.MINE)
    assert files.save()
    assert faults[0].data is None
    assert read_recipe(path).notes == "Mine."


def test_the_dialogs_yes_replaces_another_file_and_keeps_what_it_held(
    files, mine, path, monkeypatch
):
    other = path.with_name("sealskin.yaml")
    before = other.read_bytes()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(other), ""))
    assert files.save_as()
    assert read_recipe(other).notes == "Mine."
    assert before in [version.path.read_bytes() for version in backups.versions(other)]


@pytest.mark.parametrize("name", ["eider.yaml", "eider", "../recipes/eider.yaml", "link.yaml"])
def test_saving_as_the_recipes_own_file_asks_about_a_change_outside(
    files, mine, theirs, path, asked, monkeypatch, name
):
    (path.parent / "link.yaml").symlink_to(path)
    theirs.save(path)
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda *_: (os.path.join(path.parent, name), "")
    )
    faults = asked(Answer.GO_ON)
    assert not files.save_as()
    assert len(faults) == 1
    assert read_recipe(path).notes == "Theirs."
    assert mine.path == path


def test_an_ending_put_on_by_the_program_is_no_yes_to_replacing(
    files, mine, path, asked, monkeypatch
):
    other = path.with_name("sealskin.yaml")
    before = other.read_bytes()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(other.with_suffix("")), ""))
    faults = asked(Answer.BOTH)
    assert files.save_as()
    assert faults[0].file == other
    assert other.read_bytes() == before
    assert mine.path not in (path, other)
    assert mine.recipe.name == "Eider"


def test_a_document_never_writes_over_a_file_that_it_did_not_open(mine, path):
    other = path.with_name("sealskin.yaml")
    before = other.read_bytes()
    with pytest.raises(ChangedOutside):
        mine.save(other)
    assert other.read_bytes() == before
    assert mine.path == path


@pytest.fixture
def firing_path(studio_folder):
    return studio_folder / "firings" / "slow-satin.yaml"


@pytest.fixture
def both_fired(studio_folder, firing_path, settings, qtbot):
    """Two documents on one recipe; both have another firing of the same file."""
    from PySide6.QtWidgets import QWidget

    documents = []
    for words in ("Theirs", "Mine"):
        document = Document()
        document.open(studio_folder / "recipes" / "sealskin.yaml")
        firing = read_firing(firing_path)
        document.edit_firing(words, replace(firing, name=words))
        documents.append(document)
    theirs, mine = documents
    theirs.save(theirs.path)
    window = QWidget()
    qtbot.addWidget(window)
    # Only the firing is in the way: the recipe itself is looked at after it.
    mine._stamp = stamp_of_file(mine.path)
    return mine, FileActions(mine, settings, window)


@pytest.mark.parametrize("answer", [Answer.MINE, Answer.THEIRS, Answer.BOTH])
def test_a_firing_changed_outside_is_asked_about_and_both_are_kept(
    both_fired, firing_path, asked, answer
):
    mine, files = both_fired
    firing_id = read_firing(firing_path).id
    faults = asked(answer)
    assert files.save()
    assert [fault.file for fault in faults] == [firing_path]
    kept = {read_firing(version.path).name for version in backups.versions(firing_path)}
    here = read_firing(firing_path).name
    assert not mine.modified
    if answer is Answer.MINE:
        assert (here, mine.studio.firings[firing_id].name) == ("Mine", "Mine")
        assert "Theirs" in kept
    elif answer is Answer.THEIRS:
        assert (here, mine.studio.firings[firing_id].name) == ("Theirs", "Theirs")
        assert "Mine" in kept
        mine.undo_stack.undo()
        assert mine.studio.firings[firing_id].name == "Mine"
    else:
        assert here == "Theirs"
        own = mine.studio.firings[mine.recipe.firing]
        assert own.name == "Mine (mine)"
        path = mine.studio.firing_paths[own.id]
        assert path != firing_path
        assert read_firing(path) == own
        assert read_recipe(mine.path).firing == own.id


def test_the_question_has_three_answers_and_enter_loses_neither(files, mine, theirs, path, qtbot):
    theirs.save(path)
    with pytest.raises(ChangedOutside) as fault:
        mine.save(path)
    box, buttons = files._conflict.question(fault.value, Saving(path))
    qtbot.addWidget(box)
    assert list(buttons) == [Answer.MINE, Answer.THEIRS, Answer.BOTH]
    assert box.defaultButton() is buttons[Answer.BOTH]
    assert "Eider (mine)" in box.informativeText()
    box.show()
    qtbot.keyClick(box, Qt.Key.Key_Escape)
    assert box.clickedButton() is box.escapeButton()
    assert box.clickedButton() not in buttons.values()


def test_theirs_is_not_offered_where_it_cannot_be_opened(files, mine, path, qtbot):
    path.write_bytes(path.read_bytes()[:200] + b"\nbase: [")
    with pytest.raises(ChangedOutside) as fault:
        mine.save(path)
    box, buttons = files._conflict.question(fault.value, Saving(path))
    qtbot.addWidget(box)
    assert list(buttons) == [Answer.MINE, Answer.BOTH]
    assert "cannot be opened" in box.informativeText()
    assert "line" in box.informativeText()


@pytest.mark.parametrize("step", ["create", "write", "flush", "close", "replace"])
@pytest.mark.parametrize("word", FAULTS)
def test_a_failed_save_is_told_with_its_way_out_and_works_once_the_fault_ends(
    files, mine, path, told, monkeypatch, word, step
):
    before = path.read_bytes()
    number = getattr(errno, word)
    real = getattr(disk, step)

    def refuse(*arguments):
        if step == "close":
            real(*arguments)
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as broken:
        broken.setattr(disk, step, refuse)
        assert not files.save()
    title, text = told.pop()
    assert "was not saved" in title
    assert os.strerror(number) in text
    assert "still here" in text
    assert path.read_bytes() == before
    assert mine.modified
    assert files.save()
    assert told == []
    assert read_recipe(path).notes == "Mine."
    assert not mine.modified


def test_a_folder_that_cannot_be_flushed_is_told_and_the_file_is_known(
    files, mine, path, told, monkeypatch
):
    def fail(folder):
        if folder == path.parent:
            raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as broken:
        broken.setattr(disk, "flush_folder", fail)
        assert not files.save()
    assert "may not be safe" in told[0][0]
    assert "did not confirm" in told[0][1]
    assert mine.modified
    # It is our own version that stands there, not somebody else's.
    assert mine.stamp == stamp_of_file(path)
    # Undo leads back to what was saved once, and no file holds that now.
    mine.undo_stack.undo()
    assert mine.modified
    mine.undo_stack.redo()
    thinner(mine)
    assert files.save()
    assert read_recipe(path).base[0].amount == 17.5


def test_an_unsettled_firing_is_written_anew_by_the_next_save(
    qapp, studio_folder, firing_path, monkeypatch
):
    document = Document()
    document.open(studio_folder / "recipes" / "sealskin.yaml")
    document.edit_firing("name", replace(read_firing(firing_path), name="Slower"))

    def fail(folder):
        if folder == firing_path.parent:
            raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as broken:
        broken.setattr(disk, "flush_folder", fail)
        with pytest.raises(NotSettled):
            document.save(document.path)
    flushed = []
    monkeypatch.setattr(disk, "flush_folder", flushed.append)
    document.edit_firing("name", replace(document.evaluation.firing, name="Slower still"))
    document.save(document.path)
    assert firing_path.parent in flushed
    assert firing_path.read_text(encoding="utf-8") == firing_text(document.evaluation.firing)


def test_a_firing_saved_before_its_recipe_failed_cannot_be_undone_into_saved(
    qapp, studio_folder, firing_path, monkeypatch
):
    document = Document()
    document.open(studio_folder / "recipes" / "sealskin.yaml")
    before = read_firing(firing_path)
    document.edit_firing("name", replace(before, name="Slower"))
    real = disk.create

    def full(path, mode=0o600):
        if path.parent.name == "recipes":
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, mode)

    with monkeypatch.context() as broken:
        broken.setattr(disk, "create", full)
        with pytest.raises(OSError, match="No space left"):
            document.save(document.path)
    assert read_firing(firing_path).name == "Slower"
    document.undo_stack.undo()
    assert document.modified
    document.save(document.path)
    assert read_firing(firing_path) == before


def test_the_question_about_unsaved_work_leads_to_the_same_questions(
    files, mine, theirs, path, asked, monkeypatch
):
    theirs.save(path)
    asked(Answer.GO_ON)
    monkeypatch.setattr(
        FileActions, "_ask_about_unsaved", lambda _self: QMessageBox.StandardButton.Save
    )
    assert not files.may_leave()
    assert mine.recipe.notes == "Mine."
    assert recipe_text(read_recipe(path)) == path.read_text(encoding="utf-8")
