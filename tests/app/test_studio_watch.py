import os
import shutil
from dataclasses import replace

import pytest

from core.files import backups
from core.files.content import stamp_of_file
from core.files.saving import ChangedOutside
from core.files.studio_lock import StudioLock, read_holder
from core.firing import read_firing, write_firing
from core.recipe import Section
from core.recipe_file import read_recipe, recipe_text


@pytest.fixture
def opened(window, studio_folder):
    assert window.files.open(studio_folder)
    return window


def change(window, amount=17.0):
    document = window.document
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, amount))


def changed_text(path, amount=33.0):
    return recipe_text(read_recipe(path).with_amount(Section.BASE, 0, amount))


def write_elsewhere(path, text):
    """Write as another program would: in place."""
    path.write_text(text, encoding="utf-8")


def kept_bases(path):
    """Return the rows of each earlier version of a recipe."""
    return [read_recipe(version.path).base for version in backups.versions(path)]


def looked(window, qtbot):
    """Wait for the look that the system's word leads to."""
    return qtbot.waitSignal(window.watch.stirred)


def test_a_touch_says_nothing(opened, qtbot):
    path = opened.document.path
    with looked(opened, qtbot):
        os.utime(path, (1, 1))
        path.write_bytes(path.read_bytes())
    assert opened.notices.subjects() == []
    assert opened.document.undo_stack.count() == 0


def test_a_save_of_our_own_says_nothing(opened, qtbot):
    change(opened)
    with looked(opened, qtbot):
        assert opened.files.save()
    assert opened.notices.subjects() == []
    assert not opened.document.modified


def test_a_change_outside_is_read_again_as_one_step_and_told(opened, qtbot):
    path, before = opened.document.path, opened.document.recipe
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    assert opened.document.recipe.base[0].amount == 33.0
    assert not opened.document.modified
    assert opened.document.stamp == stamp_of_file(path)
    assert before.base in kept_bases(path)
    assert "changed outside and is read again" in opened.notices.text("outside")
    opened.notices.buttons("outside")[0].click()
    assert opened.document.recipe == before
    assert opened.document.modified
    assert opened.notices.subjects() == []


def test_the_offer_to_undo_goes_with_the_next_step(opened, qtbot):
    path = opened.document.path
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    assert opened.notices.subjects() == ["outside"]
    change(opened)
    assert opened.notices.subjects() == []


def test_a_save_by_rename_is_told_each_time(opened, qtbot, tmp_path):
    path = opened.document.path
    for amount in (33.0, 34.0, 35.0):
        other = tmp_path / "other"
        other.write_text(changed_text(path, amount), encoding="utf-8")
        with looked(opened, qtbot):
            os.replace(other, path)
        assert opened.document.recipe.base[0].amount == amount
        assert opened.notices.subjects() == ["outside"]
    # The file that lies there now is another one to the system, and watched as well.
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path, 36.0))
    assert opened.document.recipe.base[0].amount == 36.0


def test_with_unsaved_work_nothing_is_read_or_lost_until_it_is_asked_for(opened, qtbot):
    path = opened.document.path
    change(opened)
    mine = opened.document.recipe
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    theirs = path.read_bytes()
    assert opened.document.recipe == mine
    assert [b.text() for b in opened.notices.buttons("outside")] == ["See theirs", "Keep mine"]
    opened.notices.buttons("outside")[0].click()
    assert opened.document.recipe.base[0].amount == 33.0
    assert not opened.document.modified
    assert mine.base in kept_bases(path)
    opened.document.undo_stack.undo()
    assert opened.document.recipe == mine
    assert path.read_bytes() == theirs


def test_what_cannot_be_kept_is_asked_about_after_seeing_theirs(opened, qtbot, studio_folder):
    path = opened.document.path
    change(opened)
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    assert StudioLock(studio_folder).take(over=read_holder(studio_folder)).ours
    opened.notices.buttons("outside")[0].click()
    assert opened.document.recipe.base[0].amount == 33.0
    assert opened.document.modified
    assert opened.keeper.read_only
    assert kept_bases(path) == []


def test_keeping_mine_asks_no_more_and_theirs_stays_among_the_versions(opened, qtbot):
    path = opened.document.path
    change(opened)
    mine = opened.document.recipe.base
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    theirs = path.read_bytes()
    opened.notices.buttons("outside")[1].click()
    assert opened.notices.subjects() == []
    opened.watch.look()
    assert opened.notices.subjects() == []  # said once
    assert path.read_bytes() == theirs
    assert opened.files.save()
    assert read_recipe(path).base == mine
    assert theirs in [backups.read_version(version) for version in backups.versions(path)]


def test_what_is_changed_once_more_after_keeping_mine_is_asked_about(opened, qtbot):
    path = opened.document.path
    change(opened)
    with looked(opened, qtbot):
        write_elsewhere(path, changed_text(path))
    opened.notices.buttons("outside")[1].click()
    write_elsewhere(path, path.read_text(encoding="utf-8").replace("33", "34"))
    with pytest.raises(ChangedOutside):
        opened.document.save(path)


def test_a_comment_written_by_hand_changes_nothing_on_the_bench(opened, qtbot):
    path = opened.document.path
    change(opened)
    opened.files.save()
    with looked(opened, qtbot):
        write_elsewhere(path, path.read_text(encoding="utf-8") + "# from the glaze book\n")
    assert opened.notices.subjects() == []
    assert opened.document.stamp == stamp_of_file(path)
    assert not opened.document.modified


def test_a_file_broken_outside_is_told_and_the_bench_stays(opened, qtbot):
    path, before = opened.document.path, opened.document.recipe
    whole = path.read_text(encoding="utf-8")
    with looked(opened, qtbot):
        write_elsewhere(path, whole[: len(whole) // 2] + "\n  [")
    assert "cannot be read as it is now" in opened.notices.text("outside")
    assert opened.document.recipe == before
    with looked(opened, qtbot):
        write_elsewhere(path, whole)
    assert opened.notices.subjects() == []


def test_a_file_that_is_gone_is_told_and_a_save_writes_it_anew(opened, qtbot):
    path = opened.document.path
    with looked(opened, qtbot):
        path.unlink()
    assert "is gone from its folder" in opened.notices.text("outside")
    assert opened.document.modified
    with looked(opened, qtbot):
        assert opened.files.save()
    assert path.exists()
    assert opened.notices.subjects() == []


def test_a_file_that_comes_back_as_it_was_takes_the_notice_away(opened, qtbot):
    path = opened.document.path
    data = path.read_bytes()
    with looked(opened, qtbot):
        path.unlink()
    with looked(opened, qtbot):
        path.write_bytes(data)
    assert opened.notices.subjects() == []
    assert opened.document.stamp == stamp_of_file(path)
    assert not opened.document.modified


def test_work_done_while_a_file_was_away_stays_unsaved_when_it_comes_back(opened, qtbot):
    path = opened.document.path
    data = path.read_bytes()
    with looked(opened, qtbot):
        path.unlink()
    change(opened)
    with looked(opened, qtbot):
        path.write_bytes(data)
    assert opened.document.modified
    assert opened.files.save()
    assert not opened.document.modified


def test_a_table_changed_outside_is_used_when_asked_for_and_the_recipe_stays(
    opened, qtbot, studio_folder
):
    path = studio_folder / "materials.yaml"
    change(opened)
    mine, steps = opened.document.recipe, opened.document.undo_stack.count()
    before = opened.document.evaluation
    text = path.read_text(encoding="utf-8")
    with looked(opened, qtbot):
        write_elsewhere(path, text + "\n# a note\n")
    assert "materials.yaml was changed outside" in opened.notices.text("tables")
    assert opened.document.evaluation is before
    opened.notices.buttons("tables")[0].click()
    assert opened.notices.subjects() == []
    assert opened.document.evaluation is not before
    assert opened.document.recipe == mine
    assert opened.document.undo_stack.count() == steps
    assert opened.document.modified
    opened.watch.look()
    assert opened.notices.subjects() == []


def test_a_table_that_is_broken_now_is_not_used(opened, qtbot, studio_folder):
    path = studio_folder / "materials.yaml"
    whole = path.read_bytes()
    with looked(opened, qtbot):
        path.write_bytes(b"glost: [")
    studio = opened.document.studio
    opened.notices.buttons("tables")[0].click()
    assert "cannot be used as it is now" in opened.notices.text("tables")
    assert opened.document.studio is studio
    with looked(opened, qtbot):
        path.write_bytes(whole)
    assert opened.notices.subjects() == []


def test_a_firing_changed_outside_stays_changed_through_undo_and_save(opened, qtbot, studio_folder):
    document = opened.document
    firing_id, path = next(iter(document.studio.firing_paths.items()))
    change(opened)
    theirs = replace(read_firing(path), note="from the other computer")
    with looked(opened, qtbot):
        write_firing(path, theirs, None)
    opened.notices.buttons("tables")[0].click()
    assert document.studio.firings[firing_id] == theirs
    document.undo_stack.undo()
    assert document.studio.firings[firing_id] == theirs
    document.undo_stack.redo()
    assert opened.files.save()
    assert read_firing(path) == theirs


def test_a_firing_edited_here_is_not_written_over_one_changed_outside(opened, qtbot):
    document = opened.document
    firing_id, path = next(iter(document.studio.firing_paths.items()))
    document.edit("firing", replace(document.recipe, firing=firing_id))
    mine = replace(document.studio.firings[firing_id], note="mine")
    document.edit_firing("note", mine)
    theirs = replace(read_firing(path), note="theirs")
    with looked(opened, qtbot):
        write_firing(path, theirs, None)
    opened.notices.buttons("tables")[0].click()
    assert document.studio.firings[firing_id] == mine
    with pytest.raises(ChangedOutside):
        document.save(document.path)
    assert read_firing(path) == theirs


def test_a_firing_saved_here_is_no_news(opened, qtbot):
    document = opened.document
    firing = document.evaluation.firing
    document.edit_firing("note", replace(firing, note="a longer hold"))
    with looked(opened, qtbot):
        assert opened.files.save()
    assert opened.notices.subjects() == []


def test_conflict_copies_are_told_and_never_listed(opened, qtbot, studio_folder):
    recipes = studio_folder / "recipes"
    known = opened.recipes_panel.model.rowCount()
    copy = recipes / "eider (conflicted copy 2026-11-28).yaml"
    shutil.copy(recipes / "eider.yaml", copy)
    qtbot.waitUntil(lambda: "copies" in opened.notices.subjects())
    assert "lies in recipes/" in opened.notices.text("copies")
    opened.recipes_panel.refresh()
    assert opened.recipes_panel.model.rowCount() == known
    second = studio_folder / "runs" / "x.sync-conflict-20261128-101112-ABCDEFG.yaml"
    shutil.copy(copy, second)
    qtbot.waitUntil(lambda: "2 conflict copies" in opened.notices.text("copies"))
    dialog = opened.copies.dialog()
    qtbot.addWidget(dialog)
    assert dialog.selected == copy
    dialog.open_selected()
    assert opened.document.path is None
    assert opened.document.recipe.name == "Eider (conflict copy)"
    assert opened.document.modified
    assert copy.exists()


def test_a_conflict_copy_that_is_put_away_is_an_earlier_version_of_its_file(
    opened, qtbot, studio_folder
):
    original = studio_folder / "recipes" / "eider.yaml"
    copy = original.with_name("eider (conflicted copy 2026-11-28).yaml")
    data = original.read_bytes() + b"# theirs\n"
    copy.write_bytes(data)
    qtbot.waitUntil(lambda: "copies" in opened.notices.subjects())
    dialog = opened.copies.dialog()
    qtbot.addWidget(dialog)
    dialog.put_away_selected()
    assert not copy.exists()
    assert data in [backups.read_version(v) for v in backups.versions(original)]
    assert dialog.selected is None
    qtbot.waitUntil(lambda: opened.notices.subjects() == [])


def test_copies_that_are_left_are_not_told_again(opened, qtbot, studio_folder):
    original = studio_folder / "recipes" / "eider.yaml"
    shutil.copy(original, original.with_name("eider (conflicted copy 2026-11-28).yaml"))
    qtbot.waitUntil(lambda: "copies" in opened.notices.subjects())
    opened.notices.buttons("copies")[1].click()
    opened.copies.paths = []
    opened.copies.look()
    qtbot.waitUntil(lambda: len(opened.copies.paths) == 1)
    assert opened.notices.subjects() == []
