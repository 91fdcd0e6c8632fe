"""What happened to the files is said above the bench, one line a subject."""

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.notice_bar import NoticeBar


def test_a_subject_has_one_line_and_its_newest_words(qtbot):
    bar = NoticeBar()
    qtbot.addWidget(bar)
    bar.tell("outside", "Changed once.")
    bar.tell("outside", "Changed twice.")
    bar.tell("lock", "In use.")
    assert bar.subjects() == ["outside", "lock"]
    assert bar.text("outside") == "Changed twice."


def test_an_answer_is_called_and_a_dismissed_line_goes(qtbot):
    bar = NoticeBar()
    qtbot.addWidget(bar)
    asked = []
    bar.tell("outside", "Changed.", [("Read it again", lambda: asked.append("read"))], "Not now")
    read, later = bar.buttons("outside")
    read.click()
    assert asked == ["read"]
    assert bar.subjects() == ["outside"]
    with qtbot.waitSignal(bar.emptied) as told:
        later.click()
    assert told.args == [True]
    assert bar.text("outside") == ""


def test_the_window_shows_the_row_only_while_there_is_news(window):
    assert not window.notice_row.isVisibleTo(window)
    window.notices.tell("outside", "Changed outside.")
    assert window.notice_row.isVisibleTo(window)
    window.notices.drop("outside")
    assert not window.notice_row.isVisibleTo(window)


def test_the_buttons_are_reached_behind_the_head_and_by_a_key(window, qtbot):
    window.notices.tell("outside", "Changed.", [("Read it again", lambda: None)], "Not now")
    read, later = window.notices.buttons("outside")
    window.basis_bar.body.setFocus()
    QTest.keyClick(window, Qt.Key.Key_Tab)
    assert window.focusWidget() is read
    QTest.keyClick(window, Qt.Key.Key_Tab)
    assert window.focusWidget() is later
    QTest.keyClick(window, Qt.Key.Key_Tab)
    assert window.focusWidget() is window.recipe_view.name_edit
    window.actions_by_name["go_news"].trigger()
    assert window.focusWidget() is read


def test_a_row_that_was_open_at_the_end_is_not_open_at_the_next_start(window):
    window.notices.tell("outside", "Changed.")
    state = window.saveState()
    window.notices.drop("outside")
    window._take_up(state)
    assert not window.notice_row.isVisibleTo(window)
