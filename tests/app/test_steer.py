"""The point dragged on the map, by pointer and by keys; the recipe follows."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from core.evaluate import formula_alone
from core.recipe import Section


@pytest.fixture
def bench(window, qtbot):
    window.resize(1280, 800)
    window.map_view.plot.setFocus()
    return window


def spot(window, point) -> QPoint:
    box = window.map_view.plot.getViewBox()
    return box.mapViewToScene(QPointF(*point)).toPoint()


def drag(window, *goals, release=True):
    viewport = window.map_view.plot.viewport()
    QTest.mousePress(
        viewport, Qt.MouseButton.LeftButton, pos=spot(window, window.document.evaluation.point)
    )
    for goal in goals:
        QTest.mouseMove(viewport, spot(window, goal))
    if release:
        QTest.mouseRelease(viewport, Qt.MouseButton.LeftButton, pos=spot(window, goals[-1]))


def arrow(plot, key):
    """Press an arrow while Shift stays down; QTest would let go of Shift each time."""
    for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
        event = QKeyEvent(kind, key, Qt.KeyboardModifier.ShiftModifier)
        QApplication.sendEvent(plot, event)


def one_pixel(window):
    box = window.map_view.plot.getViewBox()
    (x0, x1), (y0, y1) = box.viewRange()
    rect = box.sceneBoundingRect()
    return (x1 - x0) / rect.width(), (y1 - y0) / rect.height()


def test_the_recipe_follows_the_point_and_one_drag_is_one_step(bench):
    document = bench.document
    before = document.recipe
    drag(bench, (2.95, 0.48), (3.05, 0.46), (3.2, 0.45))
    landed = formula_alone(document.recipe, document.studio).point
    across, up = one_pixel(bench)
    assert landed[0] == pytest.approx(3.2, abs=across)
    assert landed[1] == pytest.approx(0.45, abs=up)
    assert all(row.amount >= 0 for row in document.recipe.base)
    assert document.undo_stack.count() == 1
    document.undo_stack.undo()
    assert document.recipe == before


def test_out_and_back_brings_the_same_recipe(bench):
    document = bench.document
    before = [row.amount for row in document.recipe.base]
    viewport = bench.map_view.plot.viewport()
    begin = document.evaluation.point
    drag(bench, (3.4, 0.4), release=False)
    assert [row.amount for row in document.recipe.base] != before
    # The very place where the drag began, not the pixel beside it.
    bench.map_view.steer._to(begin)
    QTest.mouseRelease(viewport, Qt.MouseButton.LeftButton, pos=spot(bench, begin))
    after = [row.amount for row in document.recipe.base]
    assert after == pytest.approx(before, abs=1e-6)


def test_esc_takes_the_drag_back(bench):
    document = bench.document
    before = document.recipe
    drag(bench, (3.3, 0.42), release=False)
    assert document.recipe != before
    QTest.keyClick(bench.map_view.plot, Qt.Key.Key_Escape)
    assert document.recipe == before
    assert document.undo_stack.count() == 0
    assert not bench.map_view.steer.steering


def test_at_the_edge_it_stops_and_says_why(bench):
    document = bench.document
    # Of all rows kaolin has most alumina to its silica, one to two.
    drag(bench, (0.6, 0.9), release=False)
    assert not np.allclose(document.evaluation.point, (0.6, 0.9), atol=0.05)
    said = bench.map_view.readout.text()
    assert "used up" in said or "brings" in said
    region = bench.map_view.steer.region()
    assert region.contains(document.evaluation.point, 1e-3)
    assert len(bench.map_view.reach.corners) >= 3
    QTest.mouseRelease(bench.map_view.plot.viewport(), Qt.MouseButton.LeftButton)
    assert len(bench.map_view.reach.corners) == 0


def test_a_locked_row_stays_and_is_named_where_it_stops(bench):
    document = bench.document
    for row in (0, 3, 4):
        document.edit("lock", document.recipe.with_lock(Section.BASE, row, True))
    locked = [document.recipe.base[row].amount for row in (0, 3, 4)]
    drag(bench, (4.5, 0.5), release=False)
    assert [document.recipe.base[row].amount for row in (0, 3, 4)] == locked
    assert "lock" in bench.map_view.readout.text()
    QTest.mouseRelease(bench.map_view.plot.viewport(), Qt.MouseButton.LeftButton)


def test_shift_and_arrows_steer_as_one_step(bench):
    document, plot = bench.document, bench.map_view.plot
    x, y = document.evaluation.point
    (x0, x1), _ = plot.getViewBox().viewRange()
    for _ in range(4):
        arrow(plot, Qt.Key.Key_Right)
    QTest.keyRelease(plot, Qt.Key.Key_Shift)
    landed = document.evaluation.point
    assert landed[0] == pytest.approx(x + 4 * (x1 - x0) / 100, abs=2e-3)
    assert landed[1] == pytest.approx(y, abs=2e-3)
    assert document.undo_stack.count() == 1


def test_beside_the_point_the_map_pans_as_before(bench):
    document = bench.document
    viewport = bench.map_view.plot.viewport()
    wide = bench.map_view.plot.getViewBox().viewRange()
    away = spot(bench, (1.5, 0.8))
    QTest.mousePress(viewport, Qt.MouseButton.LeftButton, pos=away)
    for step in range(1, 6):
        QTest.mouseMove(viewport, away - QPoint(12 * step, 0))
    QTest.mouseRelease(viewport, Qt.MouseButton.LeftButton, pos=away - QPoint(60, 0))
    assert document.undo_stack.count() == 0
    assert not bench.map_view.steer.steering
    assert bench.map_view.plot.getViewBox().viewRange() != wide


def test_an_edit_during_a_run_of_keys_begins_a_new_run(bench):
    document, plot = bench.document, bench.map_view.plot
    arrow(plot, Qt.Key.Key_Right)
    changed = document.recipe.with_amount(Section.BASE, 1, 20.0)
    document.edit("talc", changed)
    arrow(plot, Qt.Key.Key_Up)
    QTest.keyRelease(plot, Qt.Key.Key_Shift)
    assert document.undo_stack.count() == 3
    document.undo_stack.undo()
    assert document.recipe == changed


def test_what_the_rows_can_reach_can_stay_shown(bench):
    action = bench.actions_by_name["reach"]
    action.setChecked(True)
    shown = bench.map_view.reach.corners
    assert len(shown) >= 3
    document = bench.document
    document.edit("less", document.recipe.without_rows(Section.BASE, {4}))
    assert not np.array_equal(bench.map_view.reach.corners, shown)
    action.setChecked(False)
    assert len(bench.map_view.reach.corners) == 0


def test_rounding_keeps_the_total_and_says_what_moved(bench):
    document = bench.document
    document.edit("odd", document.recipe.with_amount(Section.BASE, 1, 16.37))
    bench.actions_by_name["round"].trigger()
    amounts = [row.amount for row in document.recipe.base]
    assert sum(amounts) == pytest.approx(100.0)
    assert all(2 * amount == round(2 * amount) for amount in amounts)
    assert "Rounded to 0.5 parts" in bench.statusBar().currentMessage()


def test_a_recipe_without_a_point_is_left_alone(bench):
    document = bench.document
    document.edit("none", document.recipe.without_rows(Section.BASE, {0, 1, 2, 3, 4}))
    QTest.keyClick(bench.map_view.plot, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert document.undo_stack.count() == 1
    assert bench.map_view.steer.region() is None


def test_the_total_stays_where_no_row_is_locked(bench):
    document = bench.document
    assert not bench.state.hold_total
    drag(bench, (3.6, 0.35), (5.3, 0.09))
    assert sum(row.amount for row in document.recipe.base) == pytest.approx(100.0, abs=1e-6)
