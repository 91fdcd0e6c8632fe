"""From the bench to the tiles: the window, a planned run, its sheets."""

from __future__ import annotations

import pypdf
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QInputDialog

from app import problems
from app.result_draft import Field
from core.evaluate import formula_alone
from core.files import disk
from core.studio import begin_studio
from core.tiles.result import ZONE_OF
from core.tiles.run_file import read_run


@pytest.fixture
def bench(window, studio_folder, tmp_path):
    actions = window.tile_actions
    actions.cache_folder, actions.state_folder = tmp_path / "cache", tmp_path / "state"
    window.document.open(studio_folder / "recipes" / "eider.yaml")
    yield window
    if actions.tiles_window is not None:
        actions.tiles_window._drafts.clear()
        actions.may_leave()


def test_a_run_planned_from_the_bench_is_saved_and_shown(bench, qtbot):
    actions = bench.tile_actions
    dialog = actions.plan_dialog()
    qtbot.addWidget(dialog)
    dialog.settle()
    dialog.accept()
    assert dialog.run is not None
    actions.keep(dialog)
    tiles = actions.tiles_window
    qtbot.waitUntil(lambda: tiles.run_path is not None and tiles.run_path.exists(), timeout=20_000)
    assert read_run(tiles.run_path) == dialog.run
    assert tiles.isVisible()


def test_two_runs_of_one_name_get_files_of_their_own(bench, qtbot):
    actions, runs = bench.tile_actions, bench.document.studio.folder / "runs"
    before = set(runs.glob("*.yaml"))
    for _ in range(2):
        dialog = actions.plan_dialog()
        qtbot.addWidget(dialog)
        dialog.settle()
        dialog.name.setText("Twice")
        dialog.name.textEdited.emit("Twice")
        dialog.settle()
        dialog._taken = set()
        dialog._tell()
        dialog.accept()
        assert dialog.run is not None
        actions.keep(dialog)
    added = set(runs.glob("*.yaml")) - before
    assert len(added) == 2
    codes = [tile.code for path in added for tile in read_run(path).tiles]
    assert len(codes) == len(set(codes))


def test_a_plan_that_could_not_be_saved_stays_in_its_dialog(bench, qtbot, monkeypatch):
    actions, runs = bench.tile_actions, bench.document.studio.folder / "runs"
    before = set(runs.iterdir())
    dialog = actions.plan_dialog()
    qtbot.addWidget(dialog)
    told, shown = [], []
    monkeypatch.setattr(problems, "tell", lambda _parent, _title, text: told.append(text))
    real = disk.create

    def full(path, mode=0o600):
        if path.parent == runs:
            raise OSError(28, "No space left on device")
        return real(path, mode)

    def show():
        shown.append(dialog.name.text())
        monkeypatch.setattr(disk, "create", full if len(shown) == 1 else real)
        dialog.settle()
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(dialog, "exec", show)
    monkeypatch.setattr(actions, "plan_dialog", lambda: dialog)
    actions.plan()
    assert len(shown) == 2
    assert "disk is full" in told[0]
    (added,) = set(runs.iterdir()) - before
    assert read_run(added) == dialog.run


def test_a_planned_run_never_replaces_a_file(bench, qtbot, monkeypatch):
    actions, runs = bench.tile_actions, bench.document.studio.folder / "runs"
    dialog = actions.plan_dialog()
    qtbot.addWidget(dialog)
    dialog.settle()
    dialog.accept()
    path = next(runs.glob("*.yaml"))
    before = path.read_bytes()
    told = []
    monkeypatch.setattr(problems, "tell", lambda _parent, _title, text: told.append(text))
    # As if another computer's run came in between the look and the save.
    monkeypatch.setattr("app.tile_actions.free_file", lambda *_: path)
    assert not actions.keep(dialog)
    assert told
    assert path.read_bytes() == before


def test_the_next_tiles_can_be_planned(bench, qtbot):
    dialog = bench.tile_actions.plan_dialog()
    qtbot.addWidget(dialog)
    dialog.kind.setCurrentIndex(dialog.kind.findText("next tiles, where doubt is most"))
    dialog.settle()
    assert dialog.plan is None
    assert "being weighed" in dialog.fault
    qtbot.waitUntil(lambda: dialog.plan is not None, timeout=30_000)
    assert len(dialog.plan.cells) == 5
    assert dialog.fault == ""
    assert "bit" in " ".join(dialog.next.remarks(dialog.plan))


def test_the_sheets_are_written_where_they_are_wanted(bench, tmp_path, monkeypatch):
    out = tmp_path / "sheets.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(out), ""))
    monkeypatch.setattr(QInputDialog, "getInt", lambda *_: (4, True))
    path = bench.document.studio.run_paths()[0]
    bench.tile_actions.print_run(path)
    text = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    for tile in read_run(path).tiles:
        assert tile.code in text


def test_without_a_studio_nothing_opens_and_the_way_out_is_said(window):
    for name in ("tiles", "plan_run"):
        window.actions_by_name[name].trigger()
        assert "studio" in window.statusBar().currentMessage()
    assert window.tile_actions.tiles_window is None


def test_tiles_of_the_recipe_stand_on_its_map_by_the_surface_seen(bench, qtbot):
    view, document = bench.map_view, bench.document
    qtbot.waitUntil(lambda: len(view.backdrop.tiles) > 0, timeout=20_000)
    run = read_run(document.studio.run_paths()[0])
    assert [tile.code for tile in view.backdrop.tiles] == [tile.code for tile in run.tiles]
    for shown, tile in zip(view.backdrop.tiles, run.tiles, strict=True):
        point = formula_alone(run.recipe_of(tile), document.studio).point
        assert (shown.silica, shown.alumina) == pytest.approx(point)
        assert shown.zone is ZONE_OF[tile.result.surface]
    box = view.plot.getViewBox()
    first = view.backdrop.tiles[0]
    view._on_hover(box.mapViewToScene(QPointF(first.silica, first.alumina)))
    assert f"Tile {first.code}, {first.zone}" in view.readout.text()
    # Another recipe has no tiles here.
    document.open(document.studio.folder / "recipes" / "lamplight.yaml")
    qtbot.waitUntil(lambda: len(view.backdrop.tiles) == 0, timeout=20_000)


@pytest.fixture
def reading(bench, qtbot):
    """The Tiles window of the bench, with a note being typed on its first tile."""
    bench.tile_actions.show_tiles()
    tiles = bench.tile_actions.tiles_window
    with qtbot.waitSignal(tiles.tiles_shown):
        pass
    QTest.keyClicks(tiles.form.fields[Field.NOTES], "thin at the rim")
    return tiles


def full(monkeypatch):
    def refuse(path, *_):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(disk, "create", refuse)


def note_in_file(tiles):
    return read_run(tiles.run_path).tile(tiles.current_code).result.notes


def test_a_note_that_the_disk_refuses_keeps_the_bench_open(bench, reading, monkeypatch):
    with monkeypatch.context() as broken:
        full(broken)
        assert not bench.close()
        assert bench.isVisible()
        assert bench.tile_actions.tiles_window is reading
        assert reading.isVisible()
        assert reading.current_code in reading.message.text()
        assert "No space left" in reading.message.text()
        assert "thin at the rim" in reading.form.texts[Field.NOTES]
    assert bench.close()
    assert "thin at the rim" in note_in_file(reading)


def test_closing_the_bench_again_leaves_what_cannot_be_saved(bench, reading, monkeypatch):
    before = note_in_file(reading)
    full(monkeypatch)
    assert not bench.close()
    assert bench.close()
    assert note_in_file(reading) == before


def test_a_tiles_window_that_was_left_with_a_fault_asks_nothing_when_the_bench_closes(
    bench, reading
):
    reading.form.fields[Field.THICKNESS].setText("thick")
    assert not reading.close()
    assert reading.close()
    assert bench.close()


def test_another_studio_closes_the_tiles_window_and_saves_what_is_typed(bench, reading, tmp_path):
    other = tmp_path / "other"
    begin_studio(other, "Other")
    assert bench.files.open(other)
    assert bench.tile_actions.tiles_window is None
    assert not reading.isVisible()
    assert "thin at the rim" in note_in_file(reading)


def test_a_tiles_window_that_must_stay_writes_no_more_in_a_studio_without_its_lock(
    bench, reading, tmp_path, studio_folder
):
    run_path = reading.run_path
    other = tmp_path / "other"
    begin_studio(other, "Other")
    reading.form.fields[Field.THICKNESS].setText("thick")
    assert bench.files.open(other)
    assert bench.files.open(other)  # once more is no leave to let go
    assert bench.tile_actions.tiles_window is reading
    assert reading.isVisible()
    reading.form.fields[Field.THICKNESS].setText("0.5")
    data = run_path.read_bytes()
    assert not reading.commit()
    assert "not open on the bench" in reading.message.text()
    assert run_path.read_bytes() == data
    assert bench.files.open(studio_folder)
    assert reading.commit()
    assert read_run(run_path).tile(reading.current_code).result.thickness_mm == 0.5
    assert "thin at the rim" in note_in_file(reading)
