from __future__ import annotations

import os
from dataclasses import replace

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLineEdit

from app.measured_dialog import MeasuredDialog
from app.photo_batch import match_photos
from app.result_draft import Field, defects_text, read_defects, read_texts, texts_of
from app.run_edits import RunEdits
from app.theme import DARK
from app.thumbnails import SIDE, Thumbnails, make_thumbnail, read_small
from app.tile_filter import TileFilter
from app.tile_model import TileModel, key_of
from app.tile_search import TileSearch, read_words
from app.tile_wall import TileWall
from app.tiles_window import TilesWindow
from core.errors import InputError
from core.files import disk
from core.files.saving import NotSettled
from core.studio import Studio, open_studio
from core.tiles.codes import code_of
from core.tiles.index import Query, TileEntry, TileIndex
from core.tiles.result import Defect, Result, Surface
from core.tiles.run_file import read_run, save_run
from core.tiles.sheets import run_sheets
from core.tiles.soundness import due_days, soundness_kinds

FILE = "eider-whiting-to-talc.yaml"
FIRST, SECOND, THIRD = "KHJLQ", "KXJMR", "KGJNT"
TESTED = "KVJRW"


@pytest.fixture
def run_file(studio_folder):
    return studio_folder / "runs" / FILE


@pytest.fixture
def unread(run_file):
    """The demo run as it was when the kiln was opened: no tile read yet."""
    run = read_run(run_file)
    tiles = tuple(replace(tile, result=None, tests=()) for tile in run.tiles)
    save_run(run_file, replace(run, tiles=tiles), None)


def open_window(qtbot, theme, settings, studio, tmp_path):
    made = TilesWindow(studio, theme, settings, tmp_path / "cache", tmp_path / "state")
    # A window that still has something to say must not hold up the test's end.
    qtbot.addWidget(made, before_close_func=lambda window: window._drafts.clear())
    with qtbot.waitSignal(made.tiles_shown):
        pass
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    qtbot.waitUntil(made.isActiveWindow)
    return made


@pytest.fixture
def tiles(qtbot, theme, settings, studio_folder, tmp_path):
    return open_window(qtbot, theme, settings, open_studio(studio_folder), tmp_path)


def photo(path, width=64, height=48):
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.darkGray)
    assert image.save(str(path))
    return path


def go(tiles, code):
    assert tiles.wall.go_to((FILE, code))


def press(tiles, key, modifier=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(tiles.focusWidget(), key, modifier)


def write(tiles, text):
    QTest.keyClicks(tiles.focusWidget(), text)


def test_the_demo_studio_opens_with_its_eleven_tiles(tiles):
    assert tiles.model.rowCount() == 11
    assert [tiles.runs.list.item(row).text() for row in range(2)] == [
        "All tiles\n11 of 11 read",
        "Eider, whiting to talc\n11 of 11 read",
    ]
    assert tiles.current_code == FIRST
    assert tiles.form.texts[Field.DEFECTS] == "running, foot, 10 %"
    assert tiles.form.texts[Field.SURFACE] == "glossy"


def test_opening_and_walking_along_the_wall_writes_nothing(tiles, run_file):
    before = run_file.read_bytes()
    while tiles.step(1):
        pass
    assert tiles.current_code == "KCJX4"
    assert tiles.edits.undo_stack.count() == 0
    assert run_file.read_bytes() == before


def test_three_tiles_are_read_by_keyboard_alone(
    qtbot, theme, settings, studio_folder, run_file, unread, tmp_path
):
    tiles = open_window(qtbot, theme, settings, open_studio(studio_folder), tmp_path)
    tiles.wall.setFocus()
    press(tiles, Qt.Key.Key_Home)
    press(tiles, Qt.Key.Key_Return)
    assert tiles.form.field_in_hand is Field.SURFACE
    for letters, surface, code in (
        ("g", "glossy", FIRST),
        ("si", "silky matte", SECOND),
        ("d", "dry matte", THIRD),
    ):
        assert tiles.current_code == code
        write(tiles, letters)
        assert tiles.form.texts[Field.SURFACE] == surface
        press(tiles, Qt.Key.Key_Return)
        assert tiles.form.field_in_hand is Field.SURFACE
    for _ in range(3):
        press(tiles, Qt.Key.Key_Up, Qt.KeyboardModifier.ControlModifier)
    assert tiles.current_code == FIRST
    press(tiles, Qt.Key.Key_Tab)
    press(tiles, Qt.Key.Key_Tab)
    assert tiles.form.field_in_hand is Field.GLOSS_UNITS
    for figure in ("86", "12,5", "3"):
        write(tiles, figure)
        press(tiles, Qt.Key.Key_Down, Qt.KeyboardModifier.ControlModifier)
        assert tiles.form.field_in_hand is Field.GLOSS_UNITS
    press(tiles, Qt.Key.Key_Up, Qt.KeyboardModifier.ControlModifier)
    assert tiles.current_code == THIRD
    press(tiles, Qt.Key.Key_Tab)
    write(tiles, "6")
    press(tiles, Qt.Key.Key_Tab)
    write(tiles, "pinholes, rim, 5 %; crazing")
    press(tiles, Qt.Key.Key_Return)
    found = {tile.code: tile.result for tile in read_run(run_file).tiles if tile.result}
    assert set(found) == {FIRST, SECOND, THIRD}
    assert [found[c].surface for c in (FIRST, SECOND, THIRD)] == [
        Surface.GLOSSY,
        Surface.SILKY_MATTE,
        Surface.DRY_MATTE,
    ]
    assert [found[c].gloss_units for c in (FIRST, SECOND, THIRD)] == [86.0, 12.5, 3.0]
    assert found[THIRD].gloss_angle == 60.0
    assert found[THIRD].defects == (Defect("pinholes", "rim", 5.0), Defect("crazing"))
    assert all(result.read and result.version for result in found.values())
    assert tiles.runs.list.item(0).text() == "All tiles\n3 of 11 read"


def test_every_field_reaches_the_file(tiles, run_file):
    go(tiles, SECOND)
    wanted = {
        Field.SURFACE: "satin",
        Field.TOUCH: "silk",
        Field.GLOSS_UNITS: "40",
        Field.GLOSS_ANGLE: "60",
        Field.DEFECTS: "specks",
        Field.MARKS: "2",
        Field.CLEANS: "1",
        Field.THICKNESS: "0.55",
        Field.LOCAL_CONE: "9",
        Field.BODY: "porcelain",
        Field.SHELF: "top",
        Field.COOLING: "fast",
        Field.NOTES: "one\ntwo",
    }
    tiles.form.show_result(read_run(run_file).tile(SECOND).result, wanted)
    assert tiles.commit()
    result = read_run(run_file).tile(SECOND).result
    assert texts_of(result) == wanted
    assert result.read == "2025-12-07"


def test_letters_choose_and_the_same_letter_goes_on(tiles):
    tiles.form.focus_field(Field.SURFACE)
    for letter, surface in (
        ("s", "satin"),
        ("s", "silky matte"),
        ("s", "satin"),
        ("u", "unmelted"),
        ("sil", "silky matte"),
        ("x", "silky matte"),
    ):
        write(tiles, letter)
        assert tiles.form.texts[Field.SURFACE] == surface
    press(tiles, Qt.Key.Key_Delete)
    assert tiles.form.texts[Field.SURFACE] == ""
    press(tiles, Qt.Key.Key_Escape)
    assert tiles.form.texts[Field.SURFACE] == "glossy"


def test_an_edit_is_undone_and_done_again_in_the_file(tiles, run_file):
    before = run_file.read_bytes()
    go(tiles, SECOND)
    tiles.form.focus_field(Field.TOUCH)
    write(tiles, "velvet")
    press(tiles, Qt.Key.Key_Return)
    assert tiles.current_code == THIRD
    after = run_file.read_bytes()
    assert read_run(run_file).tile(SECOND).result.touch == "velvet"
    press(tiles, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert run_file.read_bytes() == before
    assert tiles.current_code == SECOND
    assert tiles.form.texts[Field.TOUCH] == "glass"
    tiles.redo()
    assert run_file.read_bytes() == after


def test_undo_first_takes_back_letters_that_are_being_typed(tiles, run_file):
    before = run_file.read_bytes()
    tiles.form.focus_field(Field.TOUCH)
    write(tiles, "x")
    press(tiles, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert tiles.form.texts[Field.TOUCH] == "glass"
    assert tiles.commit()
    assert run_file.read_bytes() == before


def test_escape_brings_back_what_the_tile_has(tiles):
    tiles.form.focus_field(Field.COOLING)
    write(tiles, "nonsense")
    press(tiles, Qt.Key.Key_Escape)
    assert tiles.form.texts[Field.COOLING] == "slow: 1 h at 1080 °C"


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        (Field.GLOSS_UNITS, "abc", "not a number"),
        (Field.GLOSS_UNITS, "999", "give 0 to 200"),
        (Field.THICKNESS, "-1", "give 0 to 20"),
        (Field.LOCAL_CONE, "99", "no cone '99'"),
        (Field.DEFECTS, "running, foot, 120 %", "give 0 to 100"),
        (Field.DEFECTS, "running 10 %", "no comma"),
        (Field.TOUCH, "x" * 90, "at most 80"),
    ],
)
def test_a_bad_figure_is_told_below_its_field_and_nothing_is_saved(
    tiles, run_file, field, text, words
):
    before = run_file.read_bytes()
    tiles.form.focus_field(Field.NOTES)
    tiles.form.fields[field].setText(text)
    assert not tiles.step(1)
    assert tiles.current_code == FIRST
    assert tiles.form.field_in_hand is field
    assert words in tiles.form._fault_lines[field].text()
    assert words in tiles.form.fields[field].accessibleDescription()
    assert run_file.read_bytes() == before
    tiles.form.show_result(read_run(run_file).tile(FIRST).result)


def test_a_tile_left_with_a_fault_keeps_what_was_typed(tiles, run_file):
    before = run_file.read_bytes()
    tiles.form.fields[Field.THICKNESS].setText("thick")
    go(tiles, SECOND)
    assert FIRST in tiles.message.text()
    assert tiles.form.texts[Field.THICKNESS] == "0.45"
    go(tiles, FIRST)
    assert tiles.form.texts[Field.THICKNESS] == "thick"
    assert "not a number" in tiles.form._fault_lines[Field.THICKNESS].text()
    assert not tiles.close()
    assert run_file.read_bytes() == before
    assert tiles.close()


def test_two_faults_are_told_at_once():
    texts = texts_of(None) | {Field.GLOSS_UNITS: "abc", Field.LOCAL_CONE: "99"}
    assert set(read_texts(texts, None, "2031-02-09")[1]) == {Field.GLOSS_UNITS, Field.LOCAL_CONE}


def test_an_emptied_form_is_no_result(tiles, run_file):
    result = read_run(run_file).tile(FIRST).result
    tiles.form.show_result(result, texts_of(None))
    assert tiles.commit()
    assert read_run(run_file).tile(FIRST).result is None


def test_defects_are_written_and_read_in_one_line():
    defects = (Defect("running", "foot, left", 12.5), Defect("crazing"), Defect("specks", "rim"))
    assert read_defects(defects_text(defects)) == defects


def test_an_untouched_text_keeps_what_it_cannot_say():
    odd = Result(defects=(Defect("one; two", "a, b", None, {"seen": "yes"}),), marks=1)
    texts = texts_of(odd) | {Field.TOUCH: "silk"}
    result, faults = read_texts(texts, odd, "2031-02-09")
    assert not faults
    assert result.defects == odd.defects


def test_a_failing_save_changes_nothing_and_says_why(tiles, run_file, monkeypatch):
    def refuse(path, _run, _known):
        raise OSError(28, "No space left on device", str(path))

    before = run_file.read_bytes()
    monkeypatch.setattr("app.run_edits.save_run", refuse)
    tiles.form.fields[Field.TOUCH].setText("velvet")
    assert not tiles.commit()
    assert "No space left" in tiles.message.text()
    assert tiles.edits.undo_stack.count() == 0
    assert tiles.form.texts[Field.TOUCH] == "velvet"
    assert run_file.read_bytes() == before
    monkeypatch.undo()
    assert tiles.commit()
    assert read_run(run_file).tile(FIRST).result.touch == "velvet"


def test_a_failing_undo_leaves_the_step_where_it_is(tiles, run_file, monkeypatch):
    tiles.form.fields[Field.TOUCH].setText("velvet")
    assert tiles.commit()

    def refuse(path, _run, _known):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("app.run_edits.save_run", refuse)
    tiles.undo()
    assert tiles.edits.undo_stack.canUndo()
    assert tiles.form.texts[Field.TOUCH] == "velvet"
    assert read_run(run_file).tile(FIRST).result.touch == "velvet"


def test_a_change_of_the_same_size_and_time_is_seen_all_the_same(tiles, run_file):
    tiles.form.focus_field(Field.TOUCH)
    status = run_file.stat()
    before = run_file.read_bytes()
    other = before.replace(b"Eider", b"Redie")
    assert len(other) == len(before) != other.count(b"Eider")
    run_file.write_bytes(other)
    os.utime(run_file, ns=(status.st_atime_ns, status.st_mtime_ns))
    tiles.form.fields[Field.TOUCH].setText("velvet")
    assert not tiles.commit()
    assert "another program" in tiles.message.text()
    assert run_file.read_bytes() == other


def test_a_file_touched_without_a_change_is_no_strangers(tiles, run_file):
    tiles.form.focus_field(Field.TOUCH)
    os.utime(run_file, ns=(1, 1))
    tiles.form.fields[Field.TOUCH].setText("velvet")
    assert tiles.commit()


def test_an_edit_that_the_disk_did_not_confirm_is_told_and_stands_as_its_file_does(
    studio_folder, run_file, qapp, monkeypatch
):
    edits = RunEdits(studio_folder / "runs")
    run = edits.run(FILE)

    def fail(folder):
        if folder == run_file.parent:
            raise OSError(5, "Input/output error")

    with monkeypatch.context() as broken:
        broken.setattr(disk, "flush_folder", fail)
        with pytest.raises(NotSettled):
            edits.edit("notes", FILE, replace(run, notes="Once more."))
    assert read_run(run_file) == edits.run(FILE)
    assert edits.undo_stack.count() == 1
    edits.edit("notes", FILE, replace(run, notes="And again."))
    assert read_run(run_file).notes == "And again."


def test_what_another_program_wrote_is_not_written_over(tiles, run_file, qtbot):
    tiles.form.focus_field(Field.TOUCH)
    run = read_run(run_file)
    save_run(run_file, replace(run, notes="From the other table."), None)
    tiles.form.fields[Field.TOUCH].setText("velvet")
    assert not tiles.commit()
    assert "another program" in tiles.message.text()
    assert read_run(run_file).notes == "From the other table."
    assert "F5" in tiles.message.text()
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.reload()
    assert tiles.form.texts[Field.TOUCH] == "velvet"
    assert FIRST in tiles.message.text()
    assert tiles.commit()
    assert read_run(run_file).notes == "From the other table."
    assert read_run(run_file).tile(FIRST).result.touch == "velvet"


def test_what_is_typed_for_several_tiles_outlives_reading_the_files_again(tiles, run_file, qtbot):
    tiles.form.fields[Field.THICKNESS].setText("thick")
    go(tiles, SECOND)
    tiles.form.fields[Field.THICKNESS].setText("thin")
    run = read_run(run_file)
    other = replace(run.tile(SECOND).result, touch="sandpaper")
    save_run(run_file, run.with_result(SECOND, other), None)
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.reload()
    assert tiles.current_code == SECOND
    assert tiles.form.texts[Field.THICKNESS] == "thin"
    assert tiles.form.texts[Field.TOUCH] == "sandpaper"
    tiles.form.fields[Field.THICKNESS].setText("0.5")
    go(tiles, FIRST)
    assert tiles.form.texts[Field.THICKNESS] == "thick"
    assert read_run(run_file).tile(SECOND).result == replace(other, thickness_mm=0.5)


def test_what_is_typed_for_a_tile_that_is_gone_is_told_once(tiles, run_file, qtbot):
    tiles.form.fields[Field.THICKNESS].setText("thick")
    run = read_run(run_file)
    rest = tuple(tile for tile in run.tiles if tile.code != FIRST)
    save_run(run_file, replace(run, tiles=rest), None)
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.reload()
    assert f"{FIRST} (thick)" in tiles.message.text()
    assert tiles.current_code != FIRST
    assert tiles.close()


def typed_letters(tiles, field, text):
    tiles.form.focus_field(field)
    widget = tiles.focusWidget()
    if isinstance(widget, QLineEdit):
        widget.clear()
    write(tiles, text)


def rest(tiles, qtbot):
    """Wait for the end of the rest, without its length."""
    assert tiles._rest.isActive()
    assert 0 < tiles._rest.interval() <= 3000
    tiles._rest.start(0)
    qtbot.waitUntil(lambda: not tiles._rest.isActive())


def test_what_is_typed_is_saved_at_rest_and_typing_goes_on(tiles, run_file, qtbot):
    typed_letters(tiles, Field.DEFECTS, "pinholes, ")
    rest(tiles, qtbot)
    assert read_run(run_file).tile(FIRST).result.defects == (Defect("pinholes"),)
    write(tiles, "rim")
    assert tiles.form.texts[Field.DEFECTS] == "pinholes, rim"
    rest(tiles, qtbot)
    press(tiles, Qt.Key.Key_Tab)
    assert read_run(run_file).tile(FIRST).result.defects == (Defect("pinholes", "rim"),)
    assert tiles.edits.undo_stack.count() == 1
    tiles.undo()
    assert read_run(run_file).tile(FIRST).result.defects[0].name == "running"


def test_what_follows_a_finished_field_is_a_step_of_its_own(tiles, run_file, qtbot):
    typed_letters(tiles, Field.TOUCH, "velvet")
    rest(tiles, qtbot)
    press(tiles, Qt.Key.Key_Tab)
    typed_letters(tiles, Field.COOLING, "fast")
    rest(tiles, qtbot)
    assert tiles.edits.undo_stack.count() == 2


def test_a_half_typed_figure_stays_a_draft_and_nothing_is_said_at_rest(tiles, run_file, qtbot):
    before = run_file.read_bytes()
    typed_letters(tiles, Field.DEFECTS, "running 10 %")
    rest(tiles, qtbot)
    assert run_file.read_bytes() == before
    assert not tiles.form._fault_lines[Field.DEFECTS].text()
    assert not tiles.message.text()
    assert tiles.form.texts[Field.DEFECTS] == "running 10 %"
    assert not tiles.commit()
    assert "no comma" in tiles.form._fault_lines[Field.DEFECTS].text()


def test_somebody_who_types_without_a_rest_is_saved_all_the_same(tiles, qtbot, monkeypatch):
    typed_letters(tiles, Field.NOTES, "a")
    assert tiles._rest.interval() == 3000
    monkeypatch.setattr(tiles._typing, "elapsed", lambda: 4600, raising=False)
    write(tiles, "b")
    assert tiles._rest.interval() == 400


def test_showing_a_tile_begins_no_rest(tiles):
    tiles.form.fields[Field.THICKNESS].setText("thick")
    go(tiles, SECOND)
    go(tiles, FIRST)
    assert tiles.form.texts[Field.THICKNESS] == "thick"
    assert not tiles._rest.isActive()


def test_the_filter_finds_by_words_and_choices(tiles):
    def shown():
        return [entry.code for entry in tiles.model.entries]

    tiles.filter.words.setText("kxj zz")
    assert shown() == []
    tiles.filter.words.setText("kx-jmr")
    assert shown() == [SECOND]
    tiles.filter.words.setText("pinholes")
    assert shown() == [e.code for e in tiles._search.entries if "pinholes" in e.defects]
    assert 0 < len(shown()) < 11
    tiles.filter.words.setText("silica talc cone 10")
    assert len(shown()) == 11
    tiles.filter.words.setText("cone 6")
    assert shown() == []
    assert "No tile is like that" in tiles.wall.empty_words
    QTest.keyClick(tiles.filter.words, Qt.Key.Key_Escape)
    assert len(shown()) == 11
    tiles.filter.surface.setCurrentIndex(tiles.filter.surface.findData("satin"))
    assert {e.surface for e in tiles.model.entries} == {"satin"}
    tiles.filter.clear_button.click()
    assert len(shown()) == 11


def test_an_oxide_range_counts_in_the_unity_formula(tiles):
    index = TileIndex(tiles._search.entries)
    asked = Query(oxides={"MgO": (0.3, 0.5)})
    tiles.filter.words.setText("mgo 0.3-0.5")
    assert list(tiles.model.entries) == index.find(asked)
    assert 0 < tiles.model.rowCount() < 11


def test_words_that_only_look_like_a_range_stay_words():
    assert read_words("10-12 line").words == ("10-12", "line")
    assert read_words("SiO2 > 3 SiO2 < 4").oxides == {"SiO2": (3.0, 4.0)}


def test_a_tile_stays_on_the_wall_while_it_is_being_read(tiles):
    tiles.filter.surface.setCurrentIndex(tiles.filter.surface.findData("satin"))
    first = tiles.current_code
    many = tiles.model.rowCount()
    combo = tiles.form.fields[Field.SURFACE]
    combo.setCurrentIndex(combo.findData("glossy"))
    assert tiles.step(1)
    assert tiles.model.rowCount() == many
    assert tiles.model.entries[0].surface == "glossy"
    tiles.filter.words.setText("e")
    assert first not in [entry.code for entry in tiles.model.entries]


def test_the_kiln_day_counts_and_a_bad_one_is_told(tiles, run_file):
    QTest.keyClick(tiles.runs.fired, Qt.Key.Key_End)
    tiles.runs.fired.setText("yesterday")
    tiles.runs.fired.editingFinished.emit()
    assert "is no day" in tiles.runs.fired_says.text()
    assert read_run(run_file).fired == "2025-12-06"
    tiles.runs.fired.setText("2025-12-05")
    tiles.runs.fired.editingFinished.emit()
    assert read_run(run_file).fired == "2025-12-05"
    tiles.undo()
    assert read_run(run_file).fired == "2025-12-06"
    assert tiles.runs.fired.text() == "2025-12-06"


def test_a_glaze_is_proven_sound_only_with_the_whole_set(tiles, run_file):
    go(tiles, TESTED)
    tiles.sides.setCurrentIndex(1)
    run = read_run(run_file)
    done = {test.kind for test in run.tile(TESTED).tests}
    days = due_days(run.fired)
    missing = [kind for kind in soundness_kinds() if kind not in done]
    for kind in missing:
        assert "roven sound" not in tiles.soundness.standing.text()
        tiles.soundness.choose(kind)
        tiles.soundness.day.setText(days.get(kind, "2025-12-20"))
        tiles.soundness.passed_button.click()
    assert "Proven sound" in tiles.soundness.standing.text()
    tests = read_run(run_file).tile(TESTED).tests
    assert {test.kind for test in tests} == set(soundness_kinds())
    tiles.undo()
    assert "Tested in part (10 of 11" in tiles.soundness.standing.text()


def test_a_test_before_the_firing_is_refused_beside_its_day(tiles, run_file):
    before = run_file.read_bytes()
    go(tiles, TESTED)
    tiles.sides.setCurrentIndex(1)
    for day in ("2025-12-01", "soon"):
        tiles.soundness.day.setText(day)
        tiles.soundness.failed_button.click()
        assert day in tiles.soundness.message.text()
    assert run_file.read_bytes() == before


def test_an_early_recheck_is_kept_but_does_not_count(tiles, run_file):
    go(tiles, TESTED)
    tiles.soundness.choose("again-after-1-year")
    tiles.soundness.day.setText("2025-12-20")
    tiles.soundness.passed_button.click()
    assert "too early" in tiles.soundness.states()["again-after-1-year"]
    assert "Tested in part (4 of 11" in tiles.soundness.standing.text()


def test_another_tile_of_the_run_proves_nothing_for_this_one(tiles):
    go(tiles, "KEJTX")
    assert tiles.soundness.standing.text() == "Not tested."


def test_photos_go_to_named_tiles_and_the_others_from_this_one_on(tmp_path):
    named = photo(tmp_path / "wall kgjnt 2.png")
    loose = [photo(tmp_path / f"{n}.png") for n in "ab"]
    pairs = match_photos([named, *loose], [FIRST, SECOND, THIRD, TESTED], SECOND)
    assert pairs == ((SECOND, loose[0]), (THIRD, named), (TESTED, loose[1]))
    with pytest.raises(InputError, match="too many"):
        match_photos([named, *loose], [FIRST, SECOND, THIRD], SECOND)
    text = tmp_path / "words.txt"
    text.write_text("no picture")
    with pytest.raises(InputError, match="no picture"):
        match_photos([text], [FIRST], FIRST)
    twice = photo(tmp_path / "KGJNT.png")
    with pytest.raises(InputError, match="both name"):
        match_photos([named, twice], [THIRD], THIRD)


def test_photos_are_copied_unaltered_in_the_background_as_one_step(
    tiles, run_file, studio_folder, tmp_path, qtbot
):
    sources = [photo(tmp_path / f"{n}.png", 40 + n, 30) for n in range(10)]
    before = [source.read_bytes() for source in sources]
    go(tiles, SECOND)
    with qtbot.waitSignal(tiles.photo_batch.finished):
        assert tiles.attach_photos(sources)
        assert tiles.progress_row.isVisible()
        # Nothing counts before all are there.
        assert not read_run(run_file).tile(SECOND).result.photo
    names = [t.result.photo for t in read_run(run_file).tiles]
    assert names == ["", *(source.name for source in sources)]
    assert [source.read_bytes() for source in sources] == before
    copies = [(studio_folder / "photos" / name).read_bytes() for name in names[1:]]
    assert copies == before
    assert not tiles.progress_row.isVisible()
    assert tiles.edits.undo_stack.count() == 1
    tiles.undo()
    assert not any(t.result.photo for t in read_run(run_file).tiles)


def test_stopping_takes_back_the_copies_and_attaches_nothing(
    tiles, run_file, studio_folder, tmp_path, qtbot
):
    before = run_file.read_bytes()
    sources = [photo(tmp_path / f"{n}.png") for n in range(8)]

    def stop_at_three(done, _many):
        if done == 3:
            tiles.stop_button.click()

    tiles.photo_batch.progressed.connect(stop_at_three)
    with qtbot.waitSignal(tiles.photo_batch.stopped):
        assert tiles.attach_photos(sources)
    qtbot.waitUntil(lambda: not list((studio_folder / "photos").iterdir()))
    assert run_file.read_bytes() == before
    assert not tiles.progress_row.isVisible()
    assert all(source.is_file() for source in sources)
    # The next batch is not held up by the one that was stopped.
    with qtbot.waitSignal(tiles.photo_batch.finished):
        assert tiles.attach_photos(sources[:2])
    assert read_run(run_file).tile(SECOND).result.photo == "1.png"


def test_a_photo_that_cannot_be_copied_attaches_none(
    tiles, run_file, studio_folder, tmp_path, qtbot
):
    before = run_file.read_bytes()
    sources = [photo(tmp_path / f"{n}.png") for n in range(3)]
    original = tiles.photo_batch.begin

    def lose_one(pairs):
        sources[2].unlink()
        original(pairs)

    tiles.photo_batch.begin = lose_one
    with qtbot.waitSignal(tiles.photo_batch.stopped):
        assert tiles.attach_photos(sources)
    assert "No photo was attached" in tiles.message.text()
    assert run_file.read_bytes() == before
    assert not list((studio_folder / "photos").iterdir())


def test_a_photo_is_taken_off_and_its_file_stays(tiles, run_file, studio_folder, tmp_path, qtbot):
    with qtbot.waitSignal(tiles.photo_batch.finished):
        tiles.attach_photos([photo(tmp_path / "one.png")])
    assert read_run(run_file).tile(FIRST).result.photo == "one.png"
    tiles.form.remove_button.click()
    assert read_run(run_file).tile(FIRST).result.photo == ""
    assert (studio_folder / "photos" / "one.png").is_file()


def test_a_small_picture_is_made_beside_the_window_and_kept(qapp, tmp_path, qtbot):
    photos, cache = tmp_path / "photos", tmp_path / "cache"
    photos.mkdir()
    large = photo(photos / "large.png", 1600, 1200)
    before = large.read_bytes()
    thumbnails = Thumbnails(photos, cache)
    with qtbot.waitSignal(thumbnails.ready):
        assert thumbnails.picture("large.png") is None
    picture = thumbnails.picture("large.png")
    assert max(picture.width(), picture.height()) == SIDE
    (kept,) = cache.iterdir()
    assert large.read_bytes() == before
    # What is in the cache now stands for the photo: it is not decoded again.
    marked = QImage(7, 7, QImage.Format.Format_RGB32)
    marked.fill(Qt.GlobalColor.black)
    assert marked.save(str(kept))
    assert make_thumbnail(large, cache).width() == 7
    with qtbot.waitSignal(thumbnails.ready):
        thumbnails.picture("gone.png")
    assert thumbnails.picture("gone.png").isNull()
    assert thumbnails.picture("../large.png").isNull()


def test_a_damaged_photo_has_no_small_picture(qapp, tmp_path):
    broken = tmp_path / "broken.png"
    broken.write_bytes(b"\x89PNG\r\n\x1a\n and then nothing of use")
    assert make_thumbnail(broken, tmp_path / "cache").isNull()
    assert read_small(photo(tmp_path / "small.png", 20, 10), SIDE).width() == 20


def test_two_to_six_tiles_stand_side_by_side(tiles):
    select = tiles.wall.selectionModel().select
    tiles.wall.clearSelection()
    for many in range(1, 8):
        index = tiles.model.index(many)
        select(index, QItemSelectionModel.SelectionFlag.Select)
        assert tiles.beside_button.isEnabled() == (2 <= many <= 6)
    select(tiles.model.index(7), QItemSelectionModel.SelectionFlag.Deselect)
    tiles.beside_action.trigger()
    assert tiles.pages.currentWidget() is tiles.beside
    assert len(tiles.beside.pictures) == 6
    QTest.keyClick(tiles.beside.back_button, Qt.Key.Key_Escape)
    assert tiles.pages.currentWidget() is tiles.wall
    assert tiles.form.isVisible()


def test_a_run_that_cannot_be_read_is_told_and_the_others_open(
    qtbot, theme, settings, studio_folder, tmp_path
):
    (studio_folder / "runs" / "broken.yaml").write_text("kind: nonsense\n")
    tiles = open_window(qtbot, theme, settings, open_studio(studio_folder), tmp_path)
    assert tiles.model.rowCount() == 11
    assert "broken.yaml" in tiles.runs.faults.text()


def test_an_empty_studio_says_what_to_do_first(
    qtbot, theme, settings, studio_folder, run_file, tmp_path
):
    run_file.unlink()
    tiles = open_window(qtbot, theme, settings, open_studio(studio_folder), tmp_path)
    assert "Plan a run" in tiles.wall.empty_words
    assert not tiles.sides.isEnabled()
    assert not tiles.runs.print_button.isEnabled()
    with qtbot.waitSignal(tiles.plan_asked):
        tiles.runs.plan_button.click()


def test_without_a_studio_the_window_says_where_tiles_are_kept(qtbot, theme, settings, tmp_path):
    tiles = TilesWindow(Studio(), theme, settings, tmp_path / "cache", tmp_path / "state")
    qtbot.addWidget(tiles)
    assert "studio" in tiles.wall.empty_words
    assert not tiles.form.photo_button.isEnabled()


def test_printing_is_asked_for_the_run_at_hand(tiles, run_file, qtbot):
    with qtbot.waitSignal(tiles.print_asked) as asked:
        tiles.runs.print_button.click()
    assert asked.args == [run_file]


def test_a_new_run_is_shown_when_it_was_planned(tiles, run_file, qtbot):
    run = read_run(run_file)
    codes = [code_of("K", 100 + n) for n in range(11)]
    fresh = tuple(
        replace(t, code=c, result=None, tests=()) for t, c in zip(run.tiles, codes, strict=True)
    )
    path = run_file.with_name("next.yaml")
    save_run(path, replace(run, name="Next", fired="", tiles=fresh), None)
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.show_run(path)
    assert [entry.code for entry in tiles.model.entries] == codes
    assert tiles.runs.list.item(0).text() == "All tiles\n11 of 22 read"
    assert "counts from the firing" in tiles.soundness.states()["again-after-1-day"]


def many_entries(many):
    surfaces = [s.value for s in Surface]
    return [
        TileEntry(f"run-{n // 35}.yaml", f"Run {n // 35}", code_of("K", n), surface=surfaces[n % 5])
        for n in range(many)
    ]


def test_of_ten_thousand_tiles_only_those_in_sight_are_painted(qtbot):
    model = TileModel()
    wall = TileWall(model)
    qtbot.addWidget(wall)
    wall.resize(520, 500)
    entries = many_entries(10_000)
    model.show_entries(entries)
    painted = []
    paint = wall._delegate.paint
    wall._delegate.paint = lambda painter, option, index: (
        painted.append(index.row()),
        paint(painter, option, index),
    )
    wall.show()
    qtbot.waitExposed(wall)
    wall.grab()
    assert 0 < len(set(painted)) < 60
    painted.clear()
    assert wall.go_to(key_of(entries[-1]))
    wall.grab()
    assert len(entries) - 1 in painted
    assert len(set(painted)) < 60


def test_the_model_of_the_wall_keeps_qts_rules(qtmodeltester):
    model = TileModel()
    entries = many_entries(10)
    model.show_entries(entries)
    qtmodeltester.check(model)
    changed = TileEntry(entries[3].file, entries[3].run, entries[3].code, label="new")
    model.update_entries({key_of(changed): changed})
    assert model.entries[3].label == "new"
    qtmodeltester.check(model)


def test_words_find_the_same_tiles_as_a_walk_through_them():
    entries = many_entries(200)
    search = TileSearch(TileIndex(entries), {})
    assert search.find(Query(), "satin") == [e for e in entries if e.surface == "satin"]
    assert search.find(Query(surfaces=frozenset({"glossy"})), "satin") == []


def test_an_edited_run_is_found_as_it_is_now_and_in_its_place():
    entries = many_entries(105)
    search = TileSearch(TileIndex(entries), {})
    edited = [
        TileEntry(e.file, e.run, e.code, surface="glossy", defects=("crazing",))
        for e in entries[35:70]
    ]
    search.take_run(edited[0].file, edited)
    wanted = [*entries[:35], *edited, *entries[70:]]
    assert search.entries == wanted
    assert search.find(Query(), "crazing") == edited
    glossy = frozenset({"glossy"})
    assert search.find(Query(surfaces=glossy)) == TileIndex(wanted).find(Query(surfaces=glossy))
    assert search.counts("surface") == [TileIndex(wanted).values("surface")]


def test_the_filter_keeps_its_choice_when_the_counts_change(qtbot):
    line = TileFilter()
    qtbot.addWidget(line)
    line.offer(TileSearch(TileIndex(many_entries(20)), {}))
    line.surface.setCurrentIndex(line.surface.findData("satin"))
    with qtbot.assertNotEmitted(line.changed):
        line.offer(TileSearch(TileIndex(many_entries(40)), {}))
    assert line.query.surfaces == {"satin"}
    assert line.surface.currentText() == "satin (8)"


def test_a_run_that_did_not_change_is_no_step(studio_folder, qapp):
    edits = RunEdits(studio_folder / "runs")
    run = edits.run(FILE)
    edits.edit("nothing", FILE, replace(run))
    assert edits.undo_stack.count() == 0


def test_everything_has_a_name_and_is_large_enough_to_hit(tiles):
    for area in (0, 1):
        tiles.sides.setCurrentIndex(area)
        for kind in (QLineEdit, QComboBox, QAbstractButton):
            for widget in tiles.findChildren(kind):
                if not widget.isVisible() or widget.objectName().startswith("qt_"):
                    continue
                if isinstance(widget.parent(), (QLineEdit, QComboBox)):
                    continue
                name = widget.accessibleName() or getattr(widget, "text", str)()
                assert name, widget
                assert widget.height() >= 24, name
                assert widget.width() >= 24, name


def test_the_colours_follow_the_theme(tiles, theme):
    theme.set_choice("dark")
    assert tiles.wall._delegate.colors is DARK
    assert tiles.beside._colors is DARK
    theme.set_choice("light")


def test_the_window_fits_where_it_must(tiles):
    assert tiles.minimumSizeHint().width() <= 1100
    assert tiles.minimumSizeHint().height() <= 680


def test_measured_corners_are_kept_and_the_chart_goes_by_them(
    monkeypatch, tiles, studio_folder, run_file
):
    def type_and_save(dialog):
        for letter, water in (("A", "300"), ("B", "200")):
            _, dry_field, water_field, _ = dialog.fields[letter]
            dry_field.setText("300")
            water_field.setText(water)
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(MeasuredDialog, "exec", type_and_save)
    studio = open_studio(studio_folder)
    before = run_sheets(read_run(run_file), studio)
    tiles.runs.choose(FILE)
    tiles.runs.measured_button.click()
    run = read_run(run_file)
    assert [corner.measured.water_g for corner in run.corners] == [300.0, 200.0]
    assert "Print the sheets again" in tiles.message.text()
    assert run_sheets(run, studio).chart != before.chart
    tiles.undo()
    assert [corner.measured for corner in read_run(run_file).corners] == [None, None]


def test_a_run_weighed_dry_has_nothing_to_measure(tiles, run_file):
    save_run(run_file, replace(read_run(run_file), method="dry"), None)
    tiles.edits.forget()
    tiles.runs.choose(FILE)
    assert tiles.measured_dialog() is None
    assert "each tile is weighed" in tiles.message.text()


def test_codes_that_two_copies_gave_are_told(qtbot, tiles, run_file):
    again = run_file.with_name("from-another-copy.yaml")
    again.write_bytes(run_file.read_bytes())
    with qtbot.waitSignal(tiles.tiles_shown):
        tiles.reload()
    assert "stands on two tiles" in tiles.message.text()
    assert "10 more" in tiles.message.text()
