"""The steadiest neighbour: the window shows what the search found, and can be left at any time."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QTableWidget, QWidget
from shiboken6 import delete

import app.steady_dialog
from app.before_after import Column
from app.steady_dialog import SteadyDialog
from core.evaluate import evaluate
from core.reading.many import judge_of
from core.reading.surface import ZONES
from core.recipe import Section
from core.regions import Zone
from core.solve import robustness, steadiest

PATIENCE_MS = 30000
SATIN = ZONES.index(Zone.SATIN)


@pytest.fixture
def recipe(fixture_recipe):
    """Near the rim of satin, of three rows that may move, so that the search is short."""
    amounts = {"potash-feldspar": 42.0, "talc": 16.0, "whiting": 12.0, "kaolin": 13.0}
    rows = tuple(
        replace(
            row,
            amount=amounts.get(row.material, 17.0),
            locked=row.material in ("potash-feldspar", "talc"),
        )
        for row in fixture_recipe.base
    )
    return fixture_recipe.with_rows(Section.BASE, rows)


@pytest.fixture
def open_dialog(qtbot, theme, studio):
    held = []

    def make(recipe):
        dialog = SteadyDialog(evaluate(recipe, studio), theme)
        held.append(dialog)
        qtbot.addWidget(dialog)
        with qtbot.waitExposed(dialog):
            dialog.show()
        return dialog

    return make


@pytest.fixture
def dialog(open_dialog, recipe, qtbot):
    dialog = open_dialog(recipe)
    qtbot.waitUntil(lambda: not dialog.looking, timeout=PATIENCE_MS)
    return dialog


@pytest.fixture
def gate(monkeypatch):
    """A judge that waits until it is let go, so that a test can act while it works."""
    opened, reached = threading.Event(), threading.Event()

    def waiting(heat, convention, rules):
        judge = judge_of(heat, convention, rules)

        def judged(moles):
            reached.set()
            assert opened.wait(PATIENCE_MS / 1000)
            return judge(moles)

        return judged

    monkeypatch.setattr(app.steady_dialog, "judge_of", waiting)
    yield opened, reached
    opened.set()


def want(dialog, zone):
    dialog.wanted.setCurrentIndex(dialog.wanted.findData(zone))


def settled(dialog, qtbot):
    qtbot.waitUntil(lambda: not dialog.looking, timeout=PATIENCE_MS)


def texts(table, key):
    row = next(i for i, line in enumerate(table.lines) if line.key == key)
    return [table.item(row, column).text() for column in Column]


def test_what_the_recipe_keeps_now_is_judged_at_once(dialog, recipe, studio):
    evaluation = evaluate(recipe, studio)
    judge = judge_of(evaluation.heat, studio.convention)
    likeliest = dialog.wanted.currentData()
    chances = evaluation.reading.surface.probabilities
    assert chances[likeliest] == max(chances[z] for z in ("glossy", "satin", "matte"))
    alone = robustness(recipe, studio, judge, [ZONES.index(likeliest)])
    assert dialog.now == alone
    assert texts(dialog.shares, "kept")[1:] == [f"{100 * alone.kept:.1f}", "–", ""]
    assert texts(dialog.shares, "likely")[1] == f"{100 * alone.likely:.1f}"
    assert not dialog.take_button.isEnabled()
    assert dialog.look_button.isEnabled()
    assert not dialog.stop_button.isEnabled()


def test_the_search_is_the_solvers_and_is_taken(dialog, recipe, studio, qtbot):
    want(dialog, Zone.SATIN)
    settled(dialog, qtbot)
    dialog.distance.setCurrentIndex(0)
    qtbot.mouseClick(dialog.look_button, Qt.MouseButton.LeftButton)
    assert dialog.looking
    assert "looking…" in dialog.state.text()
    settled(dialog, qtbot)
    judge = judge_of(evaluate(recipe, studio).heat, studio.convention)
    alone = steadiest(recipe, studio, judge, [SATIN], 2.0)
    found = dialog.found
    assert found.recipe == alone.recipe
    assert found.robustness == alone.robustness
    assert alone.robustness.better_than(alone.start)
    assert texts(dialog.shares, "kept")[1:3] == [
        f"{100 * alone.start.kept:.1f}",
        f"{100 * alone.robustness.kept:.1f}",
    ]
    # Moved by no more than was allowed, and the locked rows not at all.
    before = {r.material: r.amount for r in recipe.base}
    after = {r.material: r.amount for r in found.recipe.base}
    assert sum(abs(after[m] - before[m]) for m in before) / 2 <= 2.0 + 1e-6
    assert after["talc"] == before["talc"]
    assert texts(dialog.rows, "whiting")[2] == f"{after['whiting']:.2f}"
    assert f"{found.tried} recipes" in dialog.words.text()
    assert "not a proof" in dialog.method.text()
    qtbot.mouseClick(dialog.take_button, Qt.MouseButton.LeftButton)
    assert dialog.recipe == alone.recipe
    assert not dialog.as_variant


def test_a_row_that_is_held_stays_and_a_variant_can_be_kept(dialog, recipe, qtbot):
    row = next(i for i, line in enumerate(dialog.rows.lines) if line.key == "whiting")
    want(dialog, Zone.SATIN)
    dialog.distance.setCurrentIndex(0)
    dialog.rows.setFocus()
    dialog.rows.setCurrentCell(row, Column.NAME)
    qtbot.keyClick(dialog.rows, Qt.Key.Key_Space)
    assert not dialog.rows.lines[row].ticked
    dialog.look()
    settled(dialog, qtbot)
    assert dialog.found.distance > 0
    assert {r.material: r.amount for r in dialog.found.recipe.base}["whiting"] == 12.0
    qtbot.mouseClick(dialog.keep_button, Qt.MouseButton.LeftButton)
    assert dialog.as_variant
    assert dialog.recipe is not None


def test_another_wish_drops_what_was_found_and_judges_anew(dialog, recipe, studio, qtbot):
    want(dialog, Zone.SATIN)
    dialog.distance.setCurrentIndex(0)
    dialog.look()
    settled(dialog, qtbot)
    assert dialog.found is not None
    want(dialog, Zone.MATTE)
    assert dialog.found is None
    assert not dialog.take_button.isEnabled()
    settled(dialog, qtbot)
    judge = judge_of(evaluate(recipe, studio).heat, studio.convention)
    assert dialog.now == robustness(recipe, studio, judge, [ZONES.index(Zone.MATTE)])


def test_it_can_be_stopped(open_dialog, recipe, qtbot, gate):
    opened, reached = gate
    dialog = open_dialog(recipe)
    opened.set()
    settled(dialog, qtbot)
    opened.clear()
    reached.clear()
    dialog.look()
    qtbot.waitUntil(reached.is_set, timeout=PATIENCE_MS)
    assert dialog.stop_button.isEnabled()
    assert not dialog.look_button.isEnabled()
    qtbot.mouseClick(dialog.stop_button, Qt.MouseButton.LeftButton)
    assert not dialog.looking
    assert dialog.state.text() == "stopped"
    assert dialog._progress.stop.is_set()
    opened.set()
    assert dialog.found is None
    assert dialog.look_button.isEnabled()
    dialog.distance.setCurrentIndex(0)
    dialog.look()
    settled(dialog, qtbot)
    assert dialog.found is not None


def test_a_row_turned_while_it_looks_ends_the_search(open_dialog, recipe, qtbot, gate):
    opened, _ = gate
    dialog = open_dialog(recipe)
    opened.set()
    settled(dialog, qtbot)
    opened.clear()
    dialog.look()
    dialog.let_move("silica", False)
    assert not dialog.looking
    assert dialog.found is None
    assert not dialog.take_button.isEnabled()


def test_it_can_be_closed_while_it_looks(open_dialog, recipe, qtbot, gate):
    opened, reached = gate
    dialog = open_dialog(recipe)
    qtbot.waitUntil(reached.is_set, timeout=PATIENCE_MS)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.looking
    assert dialog.recipe is None
    opened.set()
    again = open_dialog(recipe)
    opened.clear()
    reached.clear()
    again.look()
    progress = again._progress
    qtbot.waitUntil(reached.is_set, timeout=PATIENCE_MS)
    again.close()
    assert progress.stop.is_set()
    opened.set()


def test_an_owner_that_is_gone_hears_nothing(theme, studio, recipe, qtbot, gate):
    opened, reached = gate
    dialog = SteadyDialog(evaluate(recipe, studio), theme)
    task = dialog._task
    qtbot.waitUntil(reached.is_set, timeout=PATIENCE_MS)
    delete(dialog)
    opened.set()
    qtbot.waitUntil(lambda: not task.wanted, timeout=PATIENCE_MS)


def test_without_a_firing_or_a_glaze_it_says_what_is_missing(open_dialog, recipe, base_of):
    cold = open_dialog(replace(recipe, firing=""))
    assert not cold.looking
    assert "choose a firing" in cold.words.text()
    assert not cold.look_button.isEnabled()
    stiff = open_dialog(replace(base_of(kaolin=50, silica=50), firing="cone-10-medium"))
    assert "flux" in stiff.words.text()
    assert not stiff.look_button.isEnabled()


def test_where_nothing_melts_it_does_not_call_that_steady(open_dialog, base_of, qtbot):
    stiff = replace(base_of(potash_feldspar=10, kaolin=50, silica=40), firing="cone-04-medium")
    dialog = open_dialog(stiff)
    settled(dialog, qtbot)
    assert dialog.now.kept == 0.0
    dialog.distance.setCurrentIndex(0)
    dialog.look()
    settled(dialog, qtbot)
    assert dialog.found.distance == 0.0
    assert "another surface" in dialog.words.text()
    assert dialog.words.text().startswith("◆")
    assert not dialog.take_button.isEnabled()


def test_it_fits_a_small_screen_and_can_be_heard(dialog):
    assert dialog.minimumSizeHint().width() <= 1000
    assert dialog.minimumSizeHint().height() <= 640
    for widget in dialog.findChildren(QWidget):
        if not widget.isVisible() or widget.focusPolicy() == Qt.FocusPolicy.NoFocus:
            continue
        if isinstance(widget, QAbstractButton | QComboBox):
            assert widget.height() >= 24
            assert widget.accessibleName() or getattr(widget, "text", str)()
        elif isinstance(widget, QTableWidget):
            assert widget.accessibleName()
            assert widget.verticalHeader().defaultSectionSize() >= 24
