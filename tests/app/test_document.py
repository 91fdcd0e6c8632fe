import os
from dataclasses import replace

import pytest

from app.document import UNDO_STEPS, Document
from core.errors import InputError
from core.recipe import Section
from core.recipe_file import read_recipe, recipe_text


def amounts(document):
    return [row.amount for row in document.recipe.base]


def test_an_edit_is_evaluated_and_announced_once(document, qtbot):
    heard = []
    document.evaluation_changed.connect(heard.append)
    document.edit("more talc", document.recipe.with_amount(Section.BASE, 1, 17.0))
    assert len(heard) == 1
    assert heard[0].recipe is document.recipe
    assert heard[0] is document.evaluation


def test_an_edit_that_changes_nothing_leaves_no_step(document):
    document.edit("nothing", replace(document.recipe))
    assert document.undo_stack.count() == 0
    assert not document.modified


def test_undo_restores_the_recipe_and_the_clean_state(document):
    before = document.recipe
    document.edit("more talc", before.with_amount(Section.BASE, 1, 17.0))
    assert document.modified
    document.undo_stack.undo()
    assert document.recipe == before
    assert not document.modified


def test_steps_of_one_drag_become_one_and_others_stay_apart(document):
    for amount in (16.5, 17.0, 17.5):
        changed = document.recipe.with_amount(Section.BASE, 1, amount)
        document.edit("talc", changed, merge_key=("drag", 1))
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, 18.0), merge_key=("drag", 2))
    assert document.undo_stack.count() == 2
    document.undo_stack.undo()
    assert amounts(document)[1] == 17.5
    document.undo_stack.undo()
    assert amounts(document)[1] == 16.0


def test_a_drag_that_comes_back_leaves_no_step(document):
    before = document.recipe
    for amount in (17.0, 16.0):
        changed = document.recipe.with_amount(Section.BASE, 1, amount)
        document.edit("talc", changed, merge_key="drag")
    assert document.recipe == before
    assert document.undo_stack.count() == 0
    assert not document.modified


def test_cancel_takes_the_running_step_back_for_good(document):
    before = document.recipe
    document.edit("talc", before.with_amount(Section.BASE, 1, 99.0), merge_key="typing")
    document.cancel("other")
    assert amounts(document)[1] == 99.0
    document.cancel("typing")
    assert document.recipe == before
    assert not document.undo_stack.canRedo()


def test_five_hundred_steps_can_be_undone(document):
    assert UNDO_STEPS == 500
    for i in range(520):
        document.edit(f"step {i}", document.recipe.with_amount(Section.BASE, 0, 100.0 + i))
    assert document.undo_stack.count() == 500
    while document.undo_stack.canUndo():
        document.undo_stack.undo()
    assert amounts(document)[0] == 119.0


def test_undo_then_redo_gives_the_same_bytes_on_disk(document, tmp_path):
    path = tmp_path / "a.yaml"
    for row, amount in ((0, 41.7), (1, 16.123456789), (2, 100.0 / 3.0)):
        document.edit("change", document.recipe.with_amount(Section.BASE, row, amount))
    document.save(path)
    saved = path.read_bytes()
    for _ in range(3):
        document.undo_stack.undo()
    document.save(path)
    assert path.read_bytes() != saved
    for _ in range(3):
        document.undo_stack.redo()
    document.save(path)
    assert path.read_bytes() == saved


def test_saving_pins_the_analyses_and_reads_back(document, tmp_path):
    path = tmp_path / "a.yaml"
    document.save(path)
    assert not document.modified
    assert document.path == path
    again = read_recipe(path)
    assert set(again.pinned) == {row.material for row in document.recipe.base}
    assert again.base == document.recipe.base


def test_a_failed_save_keeps_the_old_file_and_the_modified_state(document, tmp_path, monkeypatch):
    path = tmp_path / "a.yaml"
    document.save(path)
    before = path.read_bytes()
    document.edit("more talc", document.recipe.with_amount(Section.BASE, 1, 17.0))

    def refuse(*_):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="No space left"):
        document.save(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]
    assert document.modified


def test_a_file_that_cannot_be_read_changes_nothing(document, tmp_path):
    path = tmp_path / "broken.yaml"
    path.write_text('glost: "1"\nkind: recipe\nname: "x"\nbase: [', encoding="utf-8")
    before = document.recipe
    with pytest.raises(InputError, match=r"broken\.yaml, line"):
        document.open(path)
    assert document.recipe is before
    assert document.path is None


def test_opening_a_recipe_brings_its_studio(studio_folder, qapp):
    document = Document()
    document.open(studio_folder / "recipes" / "eider.yaml")
    assert document.studio.folder == studio_folder
    assert document.recipe.name == "Eider"
    assert not document.modified


def test_base_alone_leaves_the_additions_out(studio_folder, qapp):
    document = Document()
    document.open(studio_folder / "recipes" / "winter-harbour.yaml")
    assert document.recipe.additions
    whole = document.evaluation.formula.weight_percent
    document.set_base_alone(True)
    assert not (document.evaluation.formula.weight_percent == whole).all()
    assert not document.modified


def test_an_analysis_that_moved_on_is_told_and_can_be_taken(studio_folder, tmp_path, qapp):
    document = Document()
    path = studio_folder / "recipes" / "eider.yaml"
    document.open(path)
    document.edit("note", replace(document.recipe, notes="saved with pins"))
    document.save(path)
    text = path.read_text(encoding="utf-8")
    old = 'formula: "3MgO.4SiO2.H2O"'
    assert old in text
    path.write_text(text.replace(old, 'analysis: {MgO: "30", SiO2: "62"}, loi: "7"'), "utf-8")
    again = Document()
    again.open(path)
    moved = again.evaluation.moved
    assert [m.id for m in moved] == ["talc"]
    assert again.evaluation.table_formula.point == pytest.approx(document.evaluation.point)
    assert again.evaluation.point != pytest.approx(document.evaluation.point, rel=1e-4)


def test_the_text_of_a_recipe_is_the_same_every_time(document):
    assert recipe_text(document.recipe) == recipe_text(replace(document.recipe))


def test_a_new_recipe_is_clean_even_after_one_whose_file_went_away(document):
    document.undo_stack.resetClean()
    assert document.modified
    document.new()
    assert not document.modified
    document.undo_stack.resetClean()
    document.abandon()
    assert not document.modified
