"""The firing log: cones stay text, faults are told where they lie, nothing is half taken.

The end points of the cones are those of the published chart in tests/data/cones.yaml; how a
bend is read as a fraction of a cone is common practice, no source.
"""

from __future__ import annotations

import gc
import re
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QComboBox,
    QDialog,
    QLineEdit,
    QPushButton,
    QWidget,
)

from app.chart_widget import Words
from app.drift_chart import DriftChart, firing_readings
from app.firing_log_dialog import FiringLogDialog
from app.log_draft import ConeColumn, PointColumn, draft_of, read_draft
from app.photo_files import copy_photo
from app.theme import DARK, Role
from core.firing import drift, firing_from, firing_text, local_cone, shipped_firings
from core.firing.log import FEWEST_FIRINGS, FiringLog, SetPoint, WitnessCone
from core.plain_yaml import parse

SHELF = "lower shelf"


def _log(month, clock, cone="10", **more):
    """One invented firing with one witness."""
    return FiringLog(
        begun=f"2031-{month:02d}-09 07:30",
        witness_cones=(WitnessCone(SHELF, cone, clock),),
        **more,
    )


@pytest.fixture
def firing():
    return replace(shipped_firings()["cone-10-medium"], log=(_log(1, 5.0),))


@pytest.fixture
def photos(tmp_path):
    return tmp_path / "studio" / "photos"


@pytest.fixture
def open_dialog(qtbot, theme):
    held = []

    def make(firing, photos=None, shelf="", **more):
        dialog = FiringLogDialog(firing, photos, theme, shelf, **more)
        held.append(dialog)
        qtbot.addWidget(dialog)
        with qtbot.waitActive(dialog):
            dialog.show()
            dialog.activateWindow()
        return dialog

    return make


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "camera" / "shelf.png"
    path.parent.mkdir()
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.gray)
    assert image.save(str(path))
    return path


def _type(qtbot, table, row, column, text):
    """Type over a cell as a person does."""
    table.setFocus()
    _wait_until_left(qtbot, table)
    table.setCurrentIndex(table.entries.index(row, column))
    qtbot.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QComboBox | QLineEdit)
    line = editor.lineEdit() if isinstance(editor, QComboBox) else editor
    line.selectAll()
    if text:
        qtbot.keyClicks(editor, text)
    else:
        qtbot.keyClick(editor, Qt.Key.Key_Backspace)
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    _wait_until_left(qtbot, table)


def _wait_until_left(qtbot, table):
    qtbot.waitUntil(lambda: table.state() != QAbstractItemView.State.EditingState)


def _press_ok(qtbot, dialog):
    qtbot.mouseClick(dialog.ok_button, Qt.MouseButton.LeftButton)


@pytest.mark.parametrize("cone", ["06", "6", "010", "10"])
def test_a_cone_is_the_text_that_was_typed_all_the_way_to_the_file_and_back(
    qtbot, open_dialog, firing, cone
):
    dialog = open_dialog(firing)
    _type(qtbot, dialog.editor.cones, 0, ConeColumn.CONE, cone)
    _press_ok(qtbot, dialog)
    assert dialog.result() == QDialog.DialogCode.Accepted
    text = firing_text(dialog.firing)
    again = firing_from(parse(text, "again.yaml"))
    assert again == dialog.firing
    assert again.log[0].witness_cones[0].cone == cone


def test_typing_one_figure_is_not_completed_to_another_cone(qtbot, open_dialog, firing):
    dialog = open_dialog(firing)
    for cone in ("1", "01", "02"):
        _type(qtbot, dialog.editor.cones, 0, ConeColumn.CONE, cone)
        assert dialog.editor.cones.entries.lines[0].texts[ConeColumn.CONE] == cone


def test_cone_06_and_cone_6_read_as_far_apart_as_the_chart_has_them(
    qtbot, open_dialog, firing, cone_chart
):
    order = cone_chart["order"]
    dialog = open_dialog(firing)
    places = []
    for cone in ("06", "6"):
        _type(qtbot, dialog.editor.cones, 0, ConeColumn.CONE, cone)
        log = read_draft(dialog.editor.draft)[0]
        places.append(local_cone(log, SHELF).position)
        assert dialog.editor.cones_say.text().startswith(f"{SHELF}: cone {cone} ")
    assert round(places[1]) - round(places[0]) == order.index("6") - order.index("06")


def test_the_clock_is_explained_and_its_reading_follows_every_key(qtbot, open_dialog, firing):
    editor = open_dialog(firing).editor
    for word in ("12 upright", "1 to 6 bending", "7 flat"):
        assert word in editor.clock_says.text()
    editor.cones.setFocus()
    editor.cones.setCurrentIndex(editor.cones.entries.index(0, ConeColumn.CLOCK))
    qtbot.keyClicks(editor.cones, "2")
    reading = local_cone(_log(1, 2.0), SHELF)
    assert editor.cones_say.text() == f"{SHELF}: {reading.text} ± {reading.uncertainty:.1f}"
    # The editor is still open: nothing waited for Enter.
    assert editor.cones.state() == QAbstractItemView.State.EditingState
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Escape)
    assert editor.cones.entries.lines[0].texts[ConeColumn.CLOCK] == "5"
    _type(qtbot, editor.cones, 0, ConeColumn.CLOCK, "7")
    assert editor.cones_say.text() == f"{SHELF}: at least cone 10"
    _type(qtbot, editor.cones, 0, ConeColumn.CLOCK, "12")
    assert editor.cones_say.text().startswith(f"{SHELF}: at most cone")
    assert "±" not in editor.cones_say.text()


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        (ConeColumn.CONE, "23", "there is no cone '23'"),
        (ConeColumn.CONE, "6.0", "there is no cone '6.0'"),
        (ConeColumn.CLOCK, "9", "no cone points to 9 o'clock"),
        (ConeColumn.CLOCK, "five", "'five' is not a number"),
    ],
)
def test_a_wrong_witness_is_told_beside_its_table_and_nothing_is_taken(
    qtbot, open_dialog, firing, column, text, words
):
    dialog = open_dialog(firing)
    dialog.editor.notes.setPlainText("a change that is sound")
    _type(qtbot, dialog.editor.cones, 0, column, text)
    assert words in dialog.editor.cones_say.text()
    _press_ok(qtbot, dialog)
    assert dialog.isVisible()
    assert dialog.firing is None
    assert dialog.focusWidget() is dialog.editor.cones
    assert dialog.editor.cones.currentIndex().column() == column
    index = dialog.editor.cones.entries.index(0, column)
    assert index.data() == f"✕ {text}"
    assert words in index.data(Qt.ItemDataRole.ToolTipRole)
    assert "2031-01-09" in dialog.message.text()
    _type(qtbot, dialog.editor.cones, 0, column, {0: SHELF, 1: "9", 2: "4"}[column])
    _press_ok(qtbot, dialog)
    assert dialog.firing is not None


@pytest.mark.parametrize(
    ("texts", "column", "words"),
    [
        (("-1", "20", ""), PointColumn.HOURS, "before the start"),
        (("1", "1,2.3", ""), PointColumn.SET, "more than one number"),
        (("1", "", "9000"), PointColumn.READ, "out of a kiln's reach"),
        (("", "900", ""), PointColumn.HOURS, "has no time"),
    ],
)
def test_a_wrong_set_point_is_told_and_nothing_is_taken(
    qtbot, open_dialog, firing, texts, column, words
):
    dialog = open_dialog(firing)
    table = dialog.editor.points
    table.add_line()
    for place, text in enumerate(texts):
        table.entries.setData(table.entries.index(0, place), text)
    _press_ok(qtbot, dialog)
    assert dialog.firing is None
    assert words in dialog.editor.points_say.text()
    assert (table.currentIndex().row(), table.currentIndex().column()) == (0, column)


def test_a_line_still_being_typed_is_no_fault_until_ok(qtbot, open_dialog, firing):
    dialog = open_dialog(firing)
    dialog.editor.add_cone.click()
    _type(qtbot, dialog.editor.cones, 1, ConeColumn.SHELF, "top")
    assert "✕" not in dialog.editor.cones_say.text()
    _press_ok(qtbot, dialog)
    assert dialog.firing is None
    assert "line 2: names no cone" in dialog.editor.cones_say.text()


@pytest.mark.parametrize("text", ["yesterday", "2031-02-30 07:30", "09.02.2031", "2031-2-9"])
def test_a_wrong_date_is_told_beside_its_field(qtbot, open_dialog, firing, text):
    dialog = open_dialog(firing)
    dialog.editor.ended.setFocus()
    qtbot.keyClicks(dialog.editor.ended, text)
    _press_ok(qtbot, dialog)
    assert dialog.firing is None
    assert "no such date" in dialog.editor.ended_says.text()
    assert "no such date" in dialog.editor.ended.accessibleDescription()
    assert dialog.focusWidget() is dialog.editor.ended
    assert not dialog.editor.begun_says.text()


def test_an_end_before_the_begin_is_told_but_the_same_day_without_a_time_is_not():
    for ended, sound in (
        ("2031-01-08 23:00", False),
        ("2031-01-09 07:29", False),
        ("2031-01-09", True),
        ("2031-01-09T19:00", True),
    ):
        log, faults = read_draft(replace(draft_of(_log(1, 5.0)), ended=ended))
        assert (not faults) is sound
        assert log.ended == (ended.replace("T", " ") if sound else "")


def test_what_no_file_can_hold_is_refused_and_nothing_is_copied(
    qtbot, open_dialog, firing, photos, picture
):
    photos.parent.mkdir()
    dialog = open_dialog(firing, photos)
    dialog.editor.photo.take(picture)
    dialog.editor.notes.setPlainText("bell \x07")
    _press_ok(qtbot, dialog)
    assert dialog.firing is None
    assert dialog.message.isVisible()
    assert dialog.message.text().startswith("✕")
    assert list(photos.iterdir()) == []


def test_cancel_gives_nothing(qtbot, open_dialog, firing):
    dialog = open_dialog(firing)
    _type(qtbot, dialog.editor.cones, 0, ConeColumn.CONE, "6")
    dialog.add_log()
    qtbot.mouseClick(dialog.cancel_button, Qt.MouseButton.LeftButton)
    assert dialog.result() == QDialog.DialogCode.Rejected
    assert dialog.firing is None
    assert firing.log == (_log(1, 5.0),)


def test_escape_loses_typed_changes_only_when_pressed_twice(qtbot, open_dialog, firing):
    dialog = open_dialog(firing)
    dialog.editor.notes.setPlainText("windy")
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.isVisible()
    assert "Esc" in dialog.message.text()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    assert dialog.firing is None


def test_enter_in_a_field_does_not_close_the_dialog(qtbot, open_dialog, firing):
    dialog = open_dialog(firing)
    qtbot.keyClick(dialog.editor.begun, Qt.Key.Key_Return)
    assert dialog.isVisible()


def test_untouched_logs_come_back_as_they_were_with_keys_nobody_knows(qtbot, open_dialog):
    log = FiringLog(
        begun="2031-01-09T07:30",
        set_points=(SetPoint(0.1, 20.123456, None, {"who": "Ada"}), SetPoint(2.0, None, 99.9)),
        witness_cones=(WitnessCone("", "06", 5.25, {"batch": "7"}),),
        notes="one\u00a0two\n\n three ",
        photo="a.jpg",
        extra={"weather": "wind"},
    )
    firing = replace(shipped_firings()["cone-10-medium"], log=(log,), extra={"kept": "yes"})
    for fahrenheit in (False, True):
        dialog = open_dialog(firing, fahrenheit=fahrenheit)
        _type(qtbot, dialog.editor.cones, 0, ConeColumn.SHELF, "top")
        _press_ok(qtbot, dialog)
        witness = replace(log.witness_cones[0], shelf="top")
        assert dialog.firing == replace(firing, log=(replace(log, witness_cones=(witness,)),))


def test_degrees_fahrenheit_are_kept_as_celsius(qtbot, open_dialog, firing):
    dialog = open_dialog(firing, fahrenheit=True)
    dialog.editor.add_point.click()
    for column, text in enumerate(("0,5", "1900", "212")):
        _type(qtbot, dialog.editor.points, 0, column, text)
    _press_ok(qtbot, dialog)
    point = dialog.firing.log[0].set_points[0]
    assert point.hours == 0.5
    # 1900 °F is 1038 °C, and water boils at 212 °F and 100 °C: general knowledge.
    assert round(point.set_c) == 1038
    assert point.read_c == pytest.approx(100.0)


def test_set_points_are_put_in_order_of_time():
    draft = draft_of(FiringLog(set_points=(SetPoint(2.0, 300.0), SetPoint(1.0, 100.0))))
    assert [point.hours for point in read_draft(draft)[0].set_points] == [1.0, 2.0]


def test_a_new_log_begins_now_and_follows_the_older_ones_in_the_file(qtbot, open_dialog, firing):
    before = datetime.now().replace(second=0, microsecond=0)
    dialog = open_dialog(firing)
    qtbot.mouseClick(dialog.new_button, Qt.MouseButton.LeftButton)
    assert dialog.focusWidget() is dialog.editor.begun
    _press_ok(qtbot, dialog)
    old, new = dialog.firing.log
    assert old == firing.log[0]
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", new.begun)
    assert timedelta(0) <= datetime.fromisoformat(new.begun) - before < timedelta(minutes=2)


def test_a_deleted_log_can_be_brought_back(qtbot, open_dialog, firing):
    firing = replace(firing, log=(_log(1, 5.0), _log(2, 4.0), _log(3, 3.0)))
    dialog = open_dialog(firing)
    assert [dialog.list.item(i).text()[:7] for i in range(3)] == ["2031-03", "2031-02", "2031-01"]
    dialog.list.setCurrentRow(1)
    dialog.delete_button.click()
    assert dialog.list.count() == 2
    dialog.back_button.click()
    assert dialog.list.count() == 3
    assert not dialog.back_button.isEnabled()
    dialog.list.setCurrentRow(0)
    dialog.delete_button.click()
    _press_ok(qtbot, dialog)
    assert dialog.firing.log == firing.log[:2]


def test_without_logs_the_dialog_says_what_to_do_first(open_dialog, firing):
    dialog = open_dialog(replace(firing, log=()))
    assert dialog.pages.currentWidget() is dialog.empty
    assert dialog.focusWidget() is dialog.new_button
    assert not dialog.delete_button.isEnabled()
    dialog.add_log()
    assert dialog.pages.currentWidget() is dialog.editor
    dialog.delete_log()
    assert dialog.pages.currentWidget() is dialog.empty


def test_rows_come_and_go_by_key(qtbot, open_dialog, firing):
    table = open_dialog(firing).editor.cones
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_Insert)
    editor = QApplication.focusWidget()
    for text in ("top", "010"):
        qtbot.keyClicks(editor, text)
        qtbot.keyClick(editor, Qt.Key.Key_Tab)
        editor = QApplication.focusWidget()
    qtbot.keyClicks(editor, "3,5")
    qtbot.keyClick(editor, Qt.Key.Key_Tab)
    assert table.entries.lines[1].texts == ("top", "010", "3,5")
    # Tab past the last cell asked for a further line; on an empty one it leads out.
    assert table.entries.rowCount() == 3
    for _ in range(3):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert table.entries.rowCount() == 3
    assert table.state() != QAbstractItemView.State.EditingState
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_Delete)
    qtbot.keyClick(table, Qt.Key.Key_Delete)
    assert [line.texts[1] for line in table.entries.lines] == ["10"]


def test_rows_come_and_go_by_button(open_dialog, firing):
    editor = open_dialog(firing).editor
    editor.add_point.click()
    editor.add_point.click()
    assert editor.points.entries.rowCount() == 2
    editor.remove_point.click()
    editor.remove_point.click()
    assert editor.points.entries.rowCount() == 0
    assert not editor.remove_point.isEnabled()


def test_the_entry_models_keep_the_rules_of_qt(qtmodeltester, open_dialog, firing):
    model = open_dialog(firing).editor.cones.entries
    qtmodeltester.check(model)
    model.add_line(1)
    model.show_faults({(0, 1): "odd"})
    model.remove_line(0)
    qtmodeltester.check(model)


def test_a_photo_is_copied_as_it_is_and_only_its_name_is_kept(
    qtbot, open_dialog, firing, photos, picture
):
    photos.parent.mkdir()
    original = picture.read_bytes()
    dialog = open_dialog(firing, photos)
    assert dialog.editor.photo.take(picture)
    assert not photos.exists()
    _press_ok(qtbot, dialog)
    assert dialog.firing.log[0].photo == "shelf.png"
    assert (photos / "shelf.png").read_bytes() == original == picture.read_bytes()


def test_a_photo_never_takes_the_place_of_another(photos, picture):
    photos.mkdir(parents=True)
    (photos / "shelf.png").write_bytes(b"older")
    assert copy_photo(picture, photos) == "shelf-2.png"
    assert copy_photo(picture, photos) == "shelf-3.png"
    assert (photos / "shelf.png").read_bytes() == b"older"
    assert copy_photo(photos / "shelf-2.png", photos) == "shelf-2.png"
    assert len(list(photos.iterdir())) == 3


def test_a_copy_that_fails_leaves_nothing_behind_and_is_told(
    qtbot, open_dialog, firing, photos, picture
):
    photos.parent.mkdir()
    dialog = open_dialog(replace(firing, log=(_log(1, 5.0), _log(2, 5.0))), photos)
    second = picture.with_name("other.png")
    second.write_bytes(picture.read_bytes())
    dialog.list.setCurrentRow(1)
    dialog.editor.photo.take(picture)
    dialog.list.setCurrentRow(0)
    dialog.editor.photo.take(second)
    second.unlink()
    _press_ok(qtbot, dialog)
    assert dialog.firing is None
    assert "was not copied" in dialog.editor.photo_says.text()
    assert list(photos.iterdir()) == []
    dialog.editor.photo.take_off()
    _press_ok(qtbot, dialog)
    assert [log.photo for log in dialog.firing.log] == ["shelf.png", ""]


def test_cancel_copies_no_photo(qtbot, open_dialog, firing, photos, picture):
    photos.parent.mkdir()
    dialog = open_dialog(firing, photos)
    dialog.editor.photo.take(picture)
    qtbot.mouseClick(dialog.cancel_button, Qt.MouseButton.LeftButton)
    assert not photos.exists()


def test_what_is_no_picture_is_refused_in_words(open_dialog, firing, photos, tmp_path):
    text = tmp_path / "list.txt"
    text.write_text("glazes")
    dialog = open_dialog(firing, photos)
    for path in (text, tmp_path, tmp_path / "gone.png"):
        assert not dialog.editor.photo.take(path)
        assert f"{path.name} is no picture" in dialog.editor.photo_says.text()


def test_without_a_studio_the_dialog_says_why_no_photo_can_be_kept(open_dialog, firing, picture):
    editor = open_dialog(firing).editor
    assert not editor.photo.choose_button.isEnabled()
    assert "studio" in editor.photo_says.text()
    assert not editor.photo.take(picture)
    assert editor.photo.photo == ("", None)


def test_the_drift_waits_for_five_readings_and_says_how_many_are_missing(qtbot):
    chart = DriftChart()
    qtbot.addWidget(chart)
    logs = [_log(month, 5.0 - 0.3 * month) for month in range(1, 6)]
    for count in range(FEWEST_FIRINGS):
        chart.show_logs(logs[:count], None)
        assert re.search(rf"\b{FEWEST_FIRINGS - count} more reading", chart.words)
        assert chart.texts() == [chart.words]
    chart.show_logs(logs, None)
    assert chart.words.startswith("drift −")
    assert chart.words.endswith("per firing over 5 firings")
    # A cone that is down only bounds its firing: it does not count.
    chart.show_logs([*logs[:4], _log(7, 7.0)], None)
    assert "1 more reading" in chart.words
    assert "1 firing" in chart.words


def test_the_drift_is_the_line_that_numpy_fits(qtbot):
    logs = [_log(month, clock) for month, clock in enumerate((5, 4.5, 5, 3.5, 4, 3), start=1)]
    chart = DriftChart()
    qtbot.addWidget(chart)
    chart.resize(700, 240)
    chart.show_logs(logs, SHELF)
    with qtbot.waitExposed(chart):
        chart.show()
    readings, _ = firing_readings(logs, SHELF)
    found = drift(logs, SHELF)
    assert tuple(reading.position for reading in readings) == found.positions
    slope, start = np.polyfit(range(6), found.positions, 1)
    assert f"{abs(slope):.2f}" in chart.words
    lines = [mark for mark in chart._marks if type(mark).__name__ == "Stroke"]
    fitted = [QPointF(chart.x_at(i), chart.y_at(start + slope * i)) for i in (0, 5)]
    assert any(
        len(line.points) == 2
        and all((a - b).manhattanLength() < 0.01 for a, b in zip(line.points, fitted, strict=True))
        for line in lines
    )


@pytest.mark.parametrize("size", [(320, 120), (700, 180), (1400, 300)], ids=str)
def test_the_words_of_the_chart_stay_inside_and_apart(qtbot, size):
    logs = [_log(1 + i, 5.0 - 0.25 * i, "06" if i % 2 else "6") for i in range(12)]
    for shown in (logs, logs[::2]):
        chart = DriftChart()
        qtbot.addWidget(chart)
        chart.set_palette(DARK)
        chart.resize(*size)
        chart.show_logs(shown, None)
        with qtbot.waitExposed(chart):
            chart.show()
        words = [mark.rect for mark in chart._marks if isinstance(mark, Words)]
        room = QRectF(chart.rect())
        assert all(room.contains(rect) for rect in words)
        for i, rect in enumerate(words):
            assert not any(rect.intersects(other) for other in words[i + 1 :])
        assert any(text == "cone 6" for text in chart.texts()) or shown is logs


def test_hovering_over_a_dot_says_its_reading(qtbot):
    logs = [_log(month, 5.0 - 0.3 * month, "06") for month in range(1, 7)]
    chart = DriftChart()
    qtbot.addWidget(chart)
    chart.resize(700, 240)
    chart.show_logs(logs, SHELF)
    with qtbot.waitExposed(chart):
        chart.show()
    reading = local_cone(logs[2], SHELF)
    said = chart.tip_at(QPointF(chart.x_at(2), chart.y_at(reading.position)))
    assert said == f"2031-03-09 07:30: {reading.text} ± {reading.uncertainty:.1f}"
    assert reading.text in chart.accessibleDescription()


def test_the_fifth_bent_cone_makes_the_drift_appear_in_the_dialog(qtbot, open_dialog, firing):
    firing = replace(firing, log=(*(_log(i, 5.0 - 0.3 * i) for i in range(1, 5)), _log(5, 7.0)))
    dialog = open_dialog(firing, shelf=SHELF)
    assert dialog.shelf.currentText() == SHELF
    assert "1 more reading" in dialog.chart.words
    _type(qtbot, dialog.editor.cones, 0, ConeColumn.CLOCK, "3")
    assert "over 5 firings" in dialog.chart.words
    dialog.shelf.setCurrentIndex(0)
    assert dialog.shelf.currentText() == "all shelves"


def test_every_control_has_a_name_a_size_and_its_place_in_the_tab_order(open_dialog, firing):
    dialog = open_dialog(firing)
    stops, widget = [], dialog.list
    for _ in range(200):
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible():
            stops.append(widget)
        widget = widget.nextInFocusChain()
        if widget is dialog.list:
            break
    for stop in stops:
        name = stop.accessibleName() or (stop.text() if isinstance(stop, QPushButton) else "")
        assert name, stop
        assert stop.height() >= 24
        assert stop.width() >= 24
    wanted = [
        dialog.list,
        dialog.new_button,
        dialog.delete_button,
        dialog.editor.begun,
        dialog.editor.ended,
        dialog.editor.cones,
        dialog.editor.points,
        dialog.editor.notes,
        dialog.shelf,
        dialog.ok_button,
        dialog.cancel_button,
    ]
    assert [stop for stop in stops if stop in wanted] == wanted


def test_the_dialog_fits_a_small_screen_and_follows_the_theme(qtbot, open_dialog, firing, theme):
    dialog = open_dialog(firing)
    dialog.resize(1100, 640)
    assert (dialog.width(), dialog.height()) == (1100, 640)
    least = dialog.minimumSizeHint()
    assert least.width() <= 1100
    assert least.height() <= 640
    dialog.editor.tell_photo("was not copied")
    theme.set_choice("dark")
    color = dialog.editor.photo_says.palette().windowText().color()
    assert color == DARK.color(Role.STOP)
    for child in dialog.editor.findChildren(QWidget):
        if child.isVisible() and child.parent() is dialog.editor:
            assert dialog.editor.rect().contains(child.geometry())


def test_a_palette_alone_will_do(qtbot, firing):
    dialog = FiringLogDialog(firing, None, DARK)
    qtbot.addWidget(dialog)
    color = dialog.caution.palette().windowText().color()
    assert color == DARK.color(Role.MUTED)


def test_dialogs_that_nobody_holds_go_away_quietly(qtbot, theme, firing):
    for _ in range(3):
        dialog = FiringLogDialog(firing, None, theme)
        dialog.show()
        dialog.add_log()
        dialog.editor.add_cone.click()
        dialog.close()
        del dialog
        gc.collect()
