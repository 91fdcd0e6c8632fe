"""The schedule on the bench: its table, its name, its shelf, and the peak for a cone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox

from app.document import Document
from app.peak_dialog import PeakDialog
from app.schedule_panel import SchedulePanel
from app.segment_model import Column, SegmentModel
from app.segment_table import FigureEdit
from app.theme import LIGHT
from core.firing import read_firing
from core.firing.cones import cones
from core.recipe_file import read_recipe
from core.studio import open_studio


@pytest.fixture
def bench(qapp, studio_folder):
    """A document with the demo's Eider, fired by a shipped schedule."""
    document = Document(open_studio(studio_folder))
    document.open(studio_folder / "recipes" / "eider.yaml")
    return document


@pytest.fixture
def panel(qtbot, bench):
    panel = SchedulePanel(bench)
    panel.set_palette(LIGHT)
    qtbot.addWidget(panel)
    panel.resize(384, 320)
    panel.show()
    qtbot.waitExposed(panel)
    return panel


def typed(panel, qtbot, row, column, text):
    table = panel.table
    table.go_to(row, column)
    table.edit(table.currentIndex())
    editor = table.findChild(FigureEdit)
    editor.selectAll()
    qtbot.keyClicks(editor, text)
    return editor


def test_the_model_keeps_the_rules_of_models(bench, qtmodeltester):
    model = SegmentModel(bench)
    qtmodeltester.check(model)
    row = model.add_after(1)
    qtmodeltester.check(model)
    model.remove(row)
    bench.undo_stack.undo()
    bench.undo_stack.undo()
    qtmodeltester.check(model)


def test_the_first_edit_of_a_shipped_firing_makes_a_copy_and_is_one_step(bench):
    shipped = bench.evaluation.firing
    model = SegmentModel(bench)
    assert model.set_text(2, Column.TARGET, "1270")
    firing = bench.evaluation.firing
    assert (bench.recipe.firing, firing.peak_c) == (firing.id, 1270)
    assert firing.id != shipped.id
    assert bench.studio.firings[shipped.id] is shipped
    assert bench.undo_stack.count() == 1
    bench.undo_stack.undo()
    assert bench.recipe.firing == shipped.id
    assert firing.id not in bench.studio.firings
    bench.undo_stack.redo()
    assert bench.evaluation.firing == firing


def test_typing_counts_at_once_is_one_step_and_esc_takes_it_back(panel, bench, qtbot):
    before = bench.evaluation.firing
    editor = typed(panel, qtbot, 2, Column.TARGET, "1275")
    assert bench.evaluation.firing.peak_c == 1275
    assert bench.undo_stack.count() == 1
    qtbot.keyClick(editor, Qt.Key.Key_Escape)
    assert bench.evaluation.firing == before
    assert bench.undo_stack.count() == 0


@pytest.mark.parametrize(
    ("row", "column", "text", "named"),
    [
        (1, Column.RATE, "-60", "Segment 2"),
        (2, Column.TARGET, "5000", "Segment 3"),
        (0, Column.HOLD, "soon", "soon"),
        (2, Column.RATE, "off", "Segment 3"),
    ],
)
def test_a_bad_figure_is_refused_with_its_segment_and_nothing_changes(
    panel, bench, row, column, text, named
):
    before = bench.evaluation
    assert not panel.table.segments.set_text(row, column, text)
    assert bench.evaluation is before
    assert bench.undo_stack.count() == 0
    assert named in panel.said.text()
    assert panel.table.segments.set_text(2, Column.TARGET, "1280")
    assert "Not taken" not in panel.said.text()


def test_fahrenheit_is_shown_and_typed_as_fahrenheit(panel, bench):
    panel.unit.setCurrentIndex(1)
    panel.unit.activated.emit(1)
    segments = panel.table.segments
    assert segments.data(segments.index(2, Column.TARGET)) == "2345"  # 1285 °C
    assert segments.set_text(2, Column.TARGET, "2300")
    assert segments.set_text(2, Column.RATE, "100")
    segment = bench.evaluation.firing.segments[2]
    assert segment.to_f == 2300
    assert segment.rate == pytest.approx(55.6, abs=0.05)


def test_keys_add_and_take_out_segments(panel, bench, qtbot):
    count = len(bench.evaluation.firing.segments)
    panel.table.go_to(1)
    qtbot.keyClick(panel.table, Qt.Key.Key_Insert)
    assert len(bench.evaluation.firing.segments) == count + 1
    assert panel.table.row() == 2
    qtbot.keyClick(panel.table, Qt.Key.Key_Delete)
    assert len(bench.evaluation.firing.segments) == count


def test_cones_are_told_apart_in_the_box_and_in_the_file(panel, bench, studio_folder):
    assert [panel.cone.itemData(i) for i in range(1, panel.cone.count())] == [
        cone.cone for cone in reversed(cones())
    ]
    for cone in ("06", "6", "010", "10"):
        place = panel.cone.findText(f"cone {cone}", Qt.MatchFlag.MatchExactly)
        panel.cone.setCurrentIndex(place)
        panel.cone.activated.emit(place)
        assert bench.evaluation.firing.cone == cone
        bench.save(bench.path)
        path = bench.studio.firing_paths[bench.recipe.firing]
        assert path.parent == studio_folder / "firings"
        assert read_firing(path).cone == cone


def test_saving_keeps_the_firing_and_undo_after_it_is_a_change_again(bench, studio_folder):
    model = SegmentModel(bench)
    model.set_text(2, Column.TARGET, "1270")
    bench.save(bench.path)
    own = bench.recipe.firing
    again = open_studio(studio_folder)
    assert again.firings[own] == bench.evaluation.firing
    assert read_recipe(bench.path).firing == own
    model.set_text(2, Column.TARGET, "1275")
    bench.save(bench.path)
    bench.undo_stack.undo()
    assert bench.modified
    bench.save(bench.path)
    assert open_studio(studio_folder).firings[own].peak_c == 1270
    bench.undo_stack.undo()
    # Its file is there by now: it stays in the list though the recipe left it.
    assert own in bench.studio.firings


def test_leaving_without_saving_leaves_the_firing_as_it_was_on_disk(bench, studio_folder):
    bench.open(studio_folder / "recipes" / "sealskin.yaml")
    before = bench.evaluation.firing
    SegmentModel(bench).set_text(0, Column.RATE, "50")
    bench.open(studio_folder / "recipes" / "sealskin.yaml")
    assert bench.evaluation.firing == before


def test_a_save_that_fails_leaves_the_firing_file_and_the_change(bench, studio_folder, monkeypatch):
    bench.open(studio_folder / "recipes" / "sealskin.yaml")
    path = studio_folder / "firings" / "slow-satin.yaml"
    before = path.read_bytes()
    SegmentModel(bench).set_text(0, Column.RATE, "50")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OSError, match="No space"):
        bench.save(bench.path)
    assert path.read_bytes() == before
    assert bench.modified


def test_a_name_and_a_shelf_are_edits(panel, bench, qtbot):
    panel.name_edit.setFocus()
    panel.name_edit.selectAll()
    qtbot.keyClicks(panel.name_edit, "Long soak")
    qtbot.keyClick(panel.name_edit, Qt.Key.Key_Return)
    assert bench.evaluation.firing.name == "Long soak"
    line = panel.shelf.lineEdit()
    line.setFocus()
    qtbot.keyClicks(line, "top")
    qtbot.keyClick(line, Qt.Key.Key_Return)
    assert bench.recipe.shelf == "top"
    bench.undo_stack.undo()
    assert line.text() == ""


def test_without_a_studio_nothing_can_be_changed_and_the_way_out_is_said(qtbot, document):
    panel = SchedulePanel(document)
    qtbot.addWidget(panel)
    panel.set_palette(LIGHT)
    assert not panel.table.segments.set_text(2, Column.TARGET, "1270")
    assert not panel.buttons["log"].isEnabled()
    assert "studio" in panel.said.text()


def test_the_peak_is_solved_as_it_is_typed(qtbot, bench):
    dialog = PeakDialog(bench.evaluation.heat, LIGHT)
    qtbot.addWidget(dialog)
    dialog.cone.setCurrentIndex(dialog.cone.findData("6"))
    plain = dialog.firing.peak_c
    # Source: the cone table, 60 °C/h; the hold at 1080 °C on the way down adds a little.
    assert plain == pytest.approx(1222, abs=3)
    dialog.hold.clear()
    qtbot.keyClicks(dialog.hold, "30")
    assert dialog.firing.peak_c < plain
    assert dialog.firing.segments[2].hold_min == 30
    qtbot.keyClicks(dialog.rate, "x")
    assert dialog.firing is None
    assert "x" in dialog.answer.text()
    assert not dialog.buttons.button(QDialogButtonBox.StandardButton.Ok).isEnabled()


def test_after_a_refused_figure_the_cell_can_be_edited_again(panel, bench, qtbot):
    editor = typed(panel, qtbot, 0, Column.HOLD, "99999")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert "Not taken" in panel.said.text()
    table = panel.table
    qtbot.waitUntil(lambda: table.findChild(FigureEdit) is None)
    editor = typed(panel, qtbot, 0, Column.HOLD, "40")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert bench.evaluation.firing.segments[0].hold_min == 40
    assert "Not taken" not in panel.said.text()
