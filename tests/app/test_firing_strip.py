"""The firing strip: its figures are the evaluation's, and a drag says exactly one segment.

What a firing's figures ought to be is checked in the tests of `core.firing`;
here only that the screen shows them, where, and what a gesture makes of them.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.chart_widget import Box, Stroke, Words
from app.firing_chart import PICK
from app.firing_strip import FiringStrip
from app.theme import DARK, LIGHT, Role
from core.evaluate import evaluate
from core.firing import FiringCurve, FiringLog, Segment, WitnessCone, shipped_firings
from core.melt.along_firing import cooling_side, hours_inside, spans_inside
from core.melt.crystal_window import growth_rules
from core.melt.sheet import CURVE_C

SIZES = ((560, 150), (900, 220), (1400, 400))
every_size = pytest.mark.parametrize("size", SIZES, ids=str)
every_firing = pytest.mark.parametrize("firing", sorted(shipped_firings()))
LARGE = SIZES[-1]
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier
NONE = Qt.KeyboardModifier.NoModifier
LEFT = Qt.MouseButton.LeftButton
KEY = Qt.Key


def _strip(qtbot, evaluation, size=LARGE, palette=LIGHT):
    strip = FiringStrip()
    qtbot.addWidget(strip)
    strip.set_palette(palette)
    strip.resize(*size)
    strip.show_evaluation(evaluation)
    return strip


def _with_segments(evaluation, *segments, log=(), shelf=""):
    """The same recipe in a firing with other segments."""
    firing = replace(evaluation.firing, segments=tuple(segments), log=tuple(log))
    studio = replace(evaluation.studio, firings={firing.id: firing})
    return evaluate(replace(evaluation.recipe, shelf=shelf), studio)


class _Listener:
    """What a strip said; its schedules are taken, as the bench takes them."""

    def __init__(self, strip, evaluation):
        self.schedules, self.refusals, self.picked = [], [], []
        self.ended = self.cancelled = 0
        self._strip, self._evaluation = strip, evaluation
        strip.schedule_dragged.connect(self._on_schedule)
        strip.refused.connect(self.refusals.append)
        strip.segment_picked.connect(self.picked.append)
        strip.drag_ended.connect(self._on_ended)
        strip.drag_cancelled.connect(self._on_cancelled)

    @property
    def last(self):
        return self.schedules[-1]

    def _on_schedule(self, segments):
        self.schedules.append(segments)
        self._strip.show_evaluation(_with_segments(self._evaluation, *segments))

    def _on_ended(self):
        self.ended += 1

    def _on_cancelled(self):
        self.cancelled += 1
        self._strip.show_evaluation(self._evaluation)


def _focus(qtbot, strip):
    strip.show()
    strip.activateWindow()
    strip.setFocus()
    qtbot.waitUntil(strip.hasFocus)
    return strip


def _handle(strip, row, is_hold=False):
    return next(h for h in strip.handles if h.key == (row, is_hold))


def _drag(strip, handle, dx, dy, modifiers=NONE, *, release=True):
    """Drag in two moves, as a hand does."""
    begin = handle.spot.toPoint()
    half, end = begin + QPointF(dx / 2, dy / 2).toPoint(), begin + QPointF(dx, dy).toPoint()
    QTest.mousePress(strip, LEFT, modifiers, begin)
    for spot in (half, end):
        _move(strip, spot, modifiers)
    if release:
        QTest.mouseRelease(strip, LEFT, modifiers, end)


def _move(strip, spot, modifiers):
    place = QPointF(spot)
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        place,
        strip.mapToGlobal(place),
        Qt.MouseButton.NoButton,
        LEFT,
        modifiers,
    )
    QApplication.sendEvent(strip, event)


def _changed(before, after):
    assert len(before) == len(after)
    return [i for i, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]


def _words(strip):
    strip.texts()
    return [mark for mark in strip._marks if isinstance(mark, Words)]


def _is_tick(text):
    return re.fullmatch(r"[\d.]+( h| °[CF])?", text) is not None


@pytest.fixture(scope="module")
def slow(fixture_recipe, studio):
    return evaluate(replace(fixture_recipe, firing="cone-10-slow-cool"), studio)


@pytest.fixture(scope="module")
def on_a_shelf(slow):
    log = FiringLog(begun="2031-02-09", witness_cones=(WitnessCone("top", "9", 5.0),))
    return _with_segments(slow, *slow.firing.segments, log=[log], shelf="top")


@pytest.fixture
def strip(qtbot, slow):
    return _strip(qtbot, slow)


@pytest.fixture
def heard(strip, slow):
    return _Listener(strip, slow)


# The chart.


@every_size
def test_time_and_temperature_stand_in_proportion(qtbot, slow, size):
    strip = _strip(qtbot, slow, size)
    plot, curve = strip.plot, slow.heat.curve
    assert strip.x_at(0) == pytest.approx(plot.left())
    assert strip.x_at(curve.total_hours) == pytest.approx(plot.right())
    assert strip.y_at(0) == pytest.approx(plot.bottom())
    assert plot.top() < strip.y_at(curve.peak_c) < plot.top() + plot.height() / 3
    assert strip.hour_at(strip.x_at(7.25)) == pytest.approx(7.25)
    middle = (strip.y_at(curve.peak_c) + plot.bottom()) / 2
    assert strip.y_at(curve.peak_c / 2) == pytest.approx(middle)


@every_size
def test_the_painted_curve_is_the_firings(qtbot, slow, size):
    strip = _strip(qtbot, slow, size)
    strip.texts()
    accent = LIGHT.color(Role.ACCENT)
    points = next(
        mark.points
        for mark in strip._marks
        if isinstance(mark, Stroke) and mark.pen.color() == accent
    )
    curve, plot = slow.heat.curve, strip.plot
    assert points.size() > 10
    for point in (points[i] for i in range(points.size())):
        expected = float(curve.temperature_at(strip.hour_at(point.x())))
        assert point.y() == pytest.approx(strip.y_at(expected), abs=1e-6)
    # What is left out of a bend is less than a pixel of it.
    xs = [points[i].x() for i in range(points.size())]
    ys = [points[i].y() for i in range(points.size())]
    for hour, celsius in zip(curve.hours, curve.temperatures_c, strict=True):
        drawn = float(np.interp(strip.x_at(hour), xs, ys))
        assert drawn == pytest.approx(strip.y_at(celsius), abs=1.0)
    assert xs[0] == pytest.approx(plot.left())
    assert xs[-1] == pytest.approx(plot.right())


@every_size
@every_firing
@pytest.mark.parametrize("fahrenheit", [False, True], ids=["C", "F"])
def test_words_lie_inside_and_on_nothing(qtbot, fixture_recipe, studio, firing, size, fahrenheit):
    evaluation = evaluate(replace(fixture_recipe, firing=firing), studio)
    strip = _strip(qtbot, evaluation, size)
    strip.set_fahrenheit(fahrenheit)
    _check_words(strip, evaluation)


@every_size
def test_words_lie_on_nothing_where_a_shelf_feels_another_curve(qtbot, on_a_shelf, size):
    _check_words(_strip(qtbot, on_a_shelf, size), on_a_shelf)


@every_size
def test_words_lie_on_nothing_where_the_firing_ends_at_its_peak(qtbot, slow, size):
    evaluation = _with_segments(slow, Segment("60", 900.0), Segment("100", 1285.0, 30.0))
    _check_words(_strip(qtbot, evaluation, size), evaluation)


def _check_words(strip, evaluation):
    words, frame = _words(strip), strip.rect().toRectF()
    heat = evaluation.heat
    assert words
    for i, one in enumerate(words):
        needed = strip._small_metrics.horizontalAdvance(one.text)
        assert frame.contains(one.rect), one.text
        assert needed <= one.rect.width() + 2, one.text
        # Ticks may touch each other's rectangles at the corner of the axes, where no ink is.
        for other in words[i + 1 :]:
            if not (_is_tick(one.text) and _is_tick(other.text)):
                assert not one.rect.intersects(other.rect), (one.text, other.text)
        if _is_tick(one.text) and not strip.plot.contains(one.rect):
            continue
        for curve in (heat.curve, heat.felt):
            for hour in np.linspace(0, curve.total_hours, 600):
                spot = QPointF(strip.x_at(hour), strip.y_at(float(curve.temperature_at(hour))))
                assert not one.rect.contains(spot), one.text
        for handle in strip.handles:
            assert not one.rect.contains(handle.spot), one.text


@every_size
@every_firing
def test_the_head_says_cone_peak_and_hours(qtbot, fixture_recipe, studio, firing, size):
    evaluation = evaluate(replace(fixture_recipe, firing=firing), studio)
    texts = _strip(qtbot, evaluation, size).texts()
    cone, curve = evaluation.heat.cone, evaluation.heat.curve
    assert f"{cone.text} ± {cone.uncertainty:.1f}" in texts
    assert f"peak {curve.peak_c:.0f} °C" in texts
    assert f"{curve.total_hours:.1f} h" in texts


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)
@every_firing
def test_every_shipped_firing_is_painted(qtbot, fixture_recipe, studio, firing, palette):
    evaluation = evaluate(replace(fixture_recipe, firing=firing), studio)
    strip = _strip(qtbot, evaluation, SIZES[0], palette)
    assert not strip.grab().isNull()
    movable = [s for s in evaluation.firing.segments if s.natural_cooling is None]
    holds = [s for s in movable if s.hold_min]
    assert len(strip.handles) == len(movable) + len(holds)
    said = [strip.accessibleDescription(), *strip.texts(), *(tip.text for tip in strip.tips())]
    assert not [text for text in said if re.search(r"\b(nan|inf)\b", text, re.IGNORECASE)]


def test_levels_say_the_cores_time_above_them(qtbot, slow):
    strip = _strip(qtbot, slow)
    texts = strip.texts()
    inside = [(ln, c) for ln, c in slow.melt.reached_c if c < slow.heat.felt.peak_c]
    assert len(inside) == 2  # this glaze never flows in this firing
    assert [level.line for level in strip.levels] == [line for line, _ in inside]
    for line, celsius in inside:
        hours = float(slow.heat.felt.hours_above(celsius))
        name = {"stiff": "past stiff"}.get(line.id, line.name)
        assert f"{name} {celsius:.0f} °C, {hours:.1f} h" in texts
        level = next(x for x in strip.levels if x.line == line)
        for hour in (level.first_h, level.last_h):
            assert float(slow.heat.felt.temperature_at(hour)) == pytest.approx(celsius)
        spot = QPointF(strip.x_at(level.first_h) + 20, strip.y_at(celsius))
        said = strip.tip_at(spot)
        assert f"{hours:.1f} h" in said
        assert f"{celsius:.0f} ± " in said
        assert line.says in said
        assert line.source.split(";")[0] in " ".join(said.split())


def test_the_error_of_a_level_is_that_of_the_melt(qtbot, on_a_shelf):
    strip = _strip(qtbot, on_a_shelf)
    melt, felt = on_a_shelf.melt, on_a_shelf.heat.felt
    level = next(x for x in strip.levels if x.line.id == "stiff")
    # So many degrees change the viscosity by its own error.
    error = float(np.interp(level.celsius, CURVE_C, melt.curve_error))
    slope = float(np.interp(level.celsius, CURVE_C, np.gradient(melt.curve, CURVE_C)))
    assert level.error_c == pytest.approx(error / -slope, rel=0.02)
    least, most = (
        float(felt.hours_above(level.celsius + sign * level.error_c)) for sign in (1, -1)
    )
    said = " ".join(tip.text for tip in strip.tips())
    assert f"{level.hours:.1f} h ({least:.1f} to {most:.1f} h)" in said
    assert f"{level.celsius:.0f} ± {level.error_c:.0f} °C" in said


def test_a_level_lies_where_the_firing_is_above_it(qtbot, slow):
    strip = _strip(qtbot, slow)
    strip.texts()
    for level in strip.levels:
        chord = [
            mark.rect
            for mark in strip._marks
            if isinstance(mark, Box)
            and mark.rect.height() == 1
            and mark.rect.left() == pytest.approx(strip.x_at(level.first_h))
        ]
        assert len(chord) == 1
        assert chord[0].right() == pytest.approx(strip.x_at(level.last_h))
        assert chord[0].top() == pytest.approx(strip.y_at(level.celsius), abs=1)


def test_the_window_counts_the_cooling_side_alone(qtbot, slow):
    strip = _strip(qtbot, slow)
    window, felt = slow.crystal_window, slow.heat.felt
    whole = felt.hours_above([window.low_c, window.high_c])
    # Counted by sampling, apart from how the core counts.
    times = np.linspace(0, felt.total_hours, 400_001)
    temperatures = felt.temperature_at(times)
    after = times > times[temperatures.argmax()]
    inside = after & (temperatures > window.low_c) & (temperatures < window.high_c)
    expected = float(inside.mean()) * felt.total_hours
    assert strip.window_hours == pytest.approx(expected, abs=1e-3)
    assert strip.window_hours < float(whole[0] - whole[1])
    assert f"crystals grow, {strip.window_hours:.1f} h" in strip.texts()
    hour = float(times[inside].mean())
    said = strip.tip_at(QPointF(strip.x_at(hour), strip.plot.bottom() - 5))
    assert f"{window.high_c:.0f} ± {window.high_error_c:.0f}" in said
    assert f"{window.low_c:.0f} ± {window.low_error_c:.0f}" in said
    assert growth_rules()["lag"].says in said
    before = float(times[temperatures > window.low_c][0])
    assert "Crystals" not in strip.tip_at(QPointF(strip.x_at(before), strip.plot.bottom() - 5))


def test_spans_and_hours_inside_agree_where_a_cooling_climbs_again():
    curve = FiringCurve([0, 1, 2, 3, 4, 6], [1200, 1000, 1100, 1100, 900, 700])
    spans = spans_inside(curve, 950.0, 1050.0)
    assert np.array(spans) == pytest.approx(np.array([(0.75, 1.5), (3.25, 3.75)]))
    assert hours_inside(curve, 950.0, 1050.0) == pytest.approx(1.25)
    held = FiringCurve([0, 1, 3, 4], [1200, 1000, 1000, 800])
    [span] = spans_inside(held, 900.0, 1100.0)
    assert span == pytest.approx((0.5, 3.5))


def test_the_cooling_side_begins_when_the_peak_is_left():
    cooling = cooling_side(FiringCurve([0, 10, 11, 12], [20, 1200, 1200, 800]))
    assert cooling.hours.tolist() == [11, 12]


def test_a_shelf_with_a_witness_has_its_dashed_curve(qtbot, slow, on_a_shelf):
    def dashed(strip):
        strip.texts()
        return [
            mark
            for mark in strip._marks
            if isinstance(mark, Stroke) and mark.pen.style() == Qt.PenStyle.DashLine
        ]

    strip = _strip(qtbot, on_a_shelf)
    heat = on_a_shelf.heat
    assert heat.felt is not heat.curve
    [stroke] = dashed(strip)
    highest = min(stroke.points[i].y() for i in range(stroke.points.size()))
    assert highest == pytest.approx(strip.y_at(heat.felt.peak_c))
    assert "felt on top" in strip.texts()
    assert f"top: {heat.local.text} ± {heat.local.uncertainty:.1f}" in strip.texts()
    assert "witness cones of the firing 2031-02-09" in " ".join(t.text for t in strip.tips())
    hour = 8.0
    spot = QPointF(strip.x_at(hour), strip.plot.top() + 2)
    felt = float(heat.felt.temperature_at(hour))
    assert f"felt on top: {felt:.0f} °C" in strip.tip_at(spot)
    plain = _strip(qtbot, slow)
    assert not dashed(plain)
    assert not [text for text in plain.texts() if text.startswith("felt")]


def test_hovering_reads_time_temperature_and_rate(qtbot, slow):
    strip = _strip(qtbot, slow)
    curve = slow.heat.curve
    top = strip.plot.top() + 2
    spans = slow.heat.spans
    for hour, course in (
        (3.0, "100 °C/h up"),
        ((spans[3].reached_h + spans[3].end_h) / 2, "held"),
        ((spans[4].start_h + spans[4].reached_h) / 2, "65 °C/h down"),
    ):
        spot = QPointF(strip.x_at(hour), top)
        celsius = float(curve.temperature_at(hour))
        assert strip.tip_at(spot).startswith(f"{hour:.1f} h, {celsius:.0f} °C, {course}")
    assert strip.tip_at(QPointF(1, strip.height() - 1)) == ""


def test_in_fahrenheit_a_rate_converts_as_a_difference(qtbot, slow):
    strip = _strip(qtbot, slow)
    strip.set_fahrenheit(True)
    texts = strip.texts()
    # 1285 °C is 2345 °F by the definition of the scale; 100 °C/h is 180 °F/h.
    assert "peak 2345 °F" in texts
    assert "32 °F" in texts
    assert not [text for text in texts if "°C" in text]
    said = strip.tip_at(QPointF(strip.x_at(3.0), strip.plot.top() + 2))
    assert said.startswith("3.0 h, 608 °F, 180 °F/h up")  # 20 + 300 °C
    ticks = [int(t) for t in texts if re.fullmatch(r"\d+", t) and int(t) >= 200]
    assert ticks == list(range(200, 2401, 200))
    for words in _words(strip):
        if words.text in ("600", "2000"):
            celsius = (int(words.text) - 32) / 1.8
            assert words.rect.center().y() == pytest.approx(strip.y_at(celsius), abs=0.5)
    assert "2345 °F" in strip.accessibleDescription()
    window = slow.crystal_window
    errors = [window.high_error_c * 1.8, window.low_error_c * 1.8]
    tips = " ".join(tip.text for tip in strip.tips())
    assert all(f"± {error:.0f}" in tips for error in errors)


def test_ticks_stand_at_their_values(strip):
    plot, labels = strip.plot, {words.text: words.rect for words in _words(strip)}
    assert labels["600"].center().y() == pytest.approx(strip.y_at(600), abs=0.5)
    assert labels["10"].center().x() == pytest.approx(strip.x_at(10), abs=0.5)
    assert labels["10"].top() >= plot.bottom()


def test_empty_states_say_what_to_do(qtbot, slow, fixture_recipe, studio):
    def said(evaluation):
        strip = _strip(qtbot, evaluation, SIZES[0])
        assert strip.plot.isEmpty()
        assert strip.handles == []
        assert not strip.grab().isNull()
        _focus(qtbot, strip)
        QTest.keyClick(strip, KEY.Key_Right)
        QTest.mouseClick(strip, LEFT, NONE, strip.rect().center())
        [text] = strip.texts()
        assert strip.accessibleDescription() == text
        return text

    assert said(evaluate(replace(fixture_recipe, firing=""), studio)).startswith("No firing yet")
    missing = evaluate(replace(fixture_recipe, firing="gone"), studio)
    assert "gone is not in this studio" in said(missing)
    assert said(_with_segments(slow)) == (
        "Cone 10, slow cool has no segments yet. Give it a first ramp."
    )


def test_a_firing_shows_without_a_melt(qtbot, slow, studio):
    evaluation = evaluate(replace(slow.recipe, base=()), studio)
    assert evaluation.melt is None
    strip = _strip(qtbot, evaluation)
    assert strip.levels == ()
    assert f"peak {evaluation.heat.curve.peak_c:.0f} °C" in strip.texts()


def test_a_size_too_small_for_a_plot_is_no_fault(qtbot, slow):
    for size in ((40, 20), (320, 30), (30, 200), (320, 130)):
        strip = _strip(qtbot, slow, size)
        assert not strip.grab().isNull()


# Dragging.


def test_dragging_up_changes_the_target_of_one_segment(strip, heard, slow):
    before = slow.firing.segments
    handle = _handle(strip, 1)
    per_px = 1 / (strip.y_at(0) - strip.y_at(1))
    # The pointer strays sideways by less than it climbs.
    _drag(strip, handle, 9, -30)
    assert _changed(before, heard.last) == [1]
    expected = round((1185 + 30 * per_px) / 5) * 5
    assert heard.last[1] == replace(before[1], to_c=float(expected))
    assert heard.picked == [1]
    assert (heard.ended, heard.cancelled) == (1, 0)
    assert not strip.dragging
    assert _handle(strip, 1).spot.y() == pytest.approx(strip.y_at(expected))


def test_dragging_sideways_changes_the_rate_of_one_segment(strip, heard, slow):
    before, span = slow.firing.segments, slow.heat.spans[0]
    per_px = strip.hour_at(1) - strip.hour_at(0)
    _drag(strip, _handle(strip, 0), 60, 8)
    assert _changed(before, heard.last) == [0]
    rate = round((span.end_c - span.start_c) / (span.reached_h + 60 * per_px) / 5) * 5
    assert rate < 100
    assert heard.last[0] == replace(before[0], rate_c_per_h=str(rate))


def test_with_shift_a_drag_goes_in_single_steps(strip, heard, slow):
    per_px = 1 / (strip.y_at(0) - strip.y_at(1))
    _drag(strip, _handle(strip, 1), 0, -31, SHIFT)
    assert heard.last[1].to_c == round(1185 + 31 * per_px)


def test_with_ctrl_a_drag_is_free_in_both_directions(strip, heard, slow):
    _drag(strip, _handle(strip, 0), 40, -40, CTRL)
    changed = heard.last[0]
    assert _changed(slow.firing.segments, heard.last) == [0]
    assert changed.to_c > 600
    assert changed.rate_c_per_h != "100"


def test_a_small_move_is_no_drag(strip, heard):
    _drag(strip, _handle(strip, 1), 4, -4)
    assert heard.schedules == []
    assert (heard.ended, heard.cancelled) == (0, 0)
    assert heard.picked == [1]


def test_the_end_of_a_hold_changes_only_its_length(strip, heard, slow):
    before = slow.firing.segments
    per_px = strip.hour_at(1) - strip.hour_at(0)
    _drag(strip, _handle(strip, 3, True), 50, 20)
    assert _changed(before, heard.last) == [3]
    expected = round((60 + 50 * per_px * 60) / 5) * 5
    assert heard.last[3] == replace(before[3], hold_min=float(expected))
    count = len(heard.schedules)
    _drag(strip, _handle(strip, 3, True), 0, -50)
    assert len(heard.schedules) == count


def test_a_hold_drawn_shut_goes(strip, heard, slow):
    _drag(strip, _handle(strip, 3, True), -300, 0)
    assert heard.last[3].hold_min == 0
    assert (3, True) not in [h.key for h in strip.handles]


def test_alt_gives_a_segment_a_hold(strip, heard, slow):
    before = slow.firing.segments
    per_px = strip.hour_at(1) - strip.hour_at(0)
    _drag(strip, _handle(strip, 2), 40, 0, ALT)
    assert _changed(before, heard.last) == [2]
    expected = round(40 * per_px * 60 / 5) * 5
    assert heard.last[2] == replace(before[2], hold_min=float(expected))
    assert (2, True) in [h.key for h in strip.handles]


def test_a_segment_at_full_rate_keeps_it(strip, heard, slow):
    _drag(strip, _handle(strip, 3), 60, 0)
    assert heard.schedules == []
    _drag(strip, _handle(strip, 3), 0, 30)
    assert heard.last[3].rate_c_per_h == "full"
    assert heard.last[3].to_c < 1080


def test_natural_cooling_has_nothing_to_drag(strip, slow):
    last = len(slow.firing.segments) - 1
    assert slow.firing.segments[last].natural_cooling
    assert last not in [h.row for h in strip.handles]


def test_a_segment_in_fahrenheit_stays_in_it(qtbot, slow):
    evaluation = _with_segments(
        slow, Segment(rate_f_per_h="180", to_f=1100.0), Segment("60", 1285.0)
    )
    strip = _strip(qtbot, evaluation)
    heard = _Listener(strip, evaluation)
    px_per_f = (strip.y_at(0) - strip.y_at(100)) / 180
    _drag(strip, _handle(strip, 0), 0, -40)
    expected = float(round((1100 + 40 / px_per_f) / 5) * 5)
    assert heard.last[0] == Segment(rate_f_per_h="180", to_f=expected)
    per_px = strip.hour_at(1) - strip.hour_at(0)
    _drag(strip, _handle(strip, 0), 60, 0)
    assert heard.last[0].to_f == expected
    assert heard.last[0].rate_c_per_h == ""
    # From the room at 20 °C, which is 68 °F.
    rate = (expected - 68) / ((expected - 68) / 180 + 60 * per_px)
    assert heard.last[0].rate_f_per_h == f"{round(rate / 5) * 5}"


def test_what_no_kiln_can_fire_is_refused_in_words(qtbot, slow):
    evaluation = _with_segments(slow, Segment("60", 900.0), Segment("60", 1780.0))
    strip = _strip(qtbot, evaluation)
    heard = _Listener(strip, evaluation)
    handle = _handle(strip, 1)
    begin = handle.spot.toPoint()
    QTest.mousePress(strip, LEFT, NONE, begin)
    # Far over the top, in one go; staying there says nothing more.
    for _ in range(3):
        _move(strip, begin - QPointF(0, 200).toPoint(), NONE)
    QTest.mouseRelease(strip, LEFT, NONE, begin - QPointF(0, 200).toPoint())
    assert heard.schedules == []
    assert heard.ended == 0
    [words] = heard.refusals
    assert words.startswith("segment 2 ends at ")
    assert strip.handles[1].spot == handle.spot


def test_escape_takes_a_drag_back(strip, heard, slow):
    spots = [h.spot for h in strip.handles]
    _drag(strip, _handle(strip, 1), 0, -30, release=False)
    assert strip.dragging
    assert heard.schedules
    QTest.keyClick(strip, KEY.Key_Escape)
    assert (heard.ended, heard.cancelled) == (0, 1)
    assert not strip.dragging
    assert [h.spot for h in strip.handles] == spots
    count = len(heard.schedules)
    _move(strip, spots[1].toPoint() - QPointF(0, 80).toPoint(), NONE)
    QTest.mouseRelease(strip, LEFT, NONE, spots[1].toPoint())
    assert len(heard.schedules) == count
    assert (heard.ended, heard.cancelled) == (0, 1)


def test_the_scale_stands_still_during_a_drag(strip, heard, slow):
    first = strip.x_at(10), strip.y_at(1000)
    _drag(strip, _handle(strip, 2), 0, 60, release=False)
    assert slow.heat.curve.peak_c > heard.last[2].to_c
    assert (strip.x_at(10), strip.y_at(1000)) == first
    QTest.mouseRelease(strip, LEFT, NONE, strip.rect().center())
    assert (strip.x_at(10), strip.y_at(1000)) != first


def test_a_drag_ends_when_another_edit_takes_its_segments(strip, heard, slow):
    _drag(strip, _handle(strip, 1), 0, -30, release=False)
    strip.show_evaluation(_with_segments(slow, Segment("60", 1000.0)))
    assert not strip.dragging
    assert heard.ended == 1


def test_a_handle_is_taken_from_twelve_pixels_away_and_no_further(strip):
    handle = _handle(strip, 0)
    for dx, dy in ((PICK - 1, 0), (0, 1 - PICK), (PICK - 1, PICK - 1)):
        assert strip.handle_at(handle.spot + QPointF(dx, dy)).key == handle.key
    assert strip.handle_at(handle.spot + QPointF(PICK + 1, 0)) is None


def test_of_two_handles_the_nearer_one_is_taken(qtbot, slow):
    evaluation = _with_segments(slow, Segment("100", 1000.0, 20.0), Segment("60", 500.0))
    strip = _strip(qtbot, evaluation, SIZES[0])
    reached, held = _handle(strip, 0), _handle(strip, 0, True)
    assert 0 < held.spot.x() - reached.spot.x() < 2 * PICK
    assert strip.handle_at(held.spot).key == held.key
    assert strip.handle_at(reached.spot).key == reached.key


def test_what_cannot_be_edited_shows_no_handles_and_says_why(qtbot, strip, heard):
    spot = _handle(strip, 1).spot
    strip.set_editable(False, "This firing is shared.")
    assert strip.handles == []
    assert "This firing is shared." in strip.tip_at(spot)
    assert "This firing is shared." in strip.accessibleDescription()
    QTest.mousePress(strip, LEFT, NONE, spot.toPoint())
    _move(strip, spot.toPoint() - QPointF(0, 40).toPoint(), NONE)
    QTest.mouseRelease(strip, LEFT, NONE, spot.toPoint())
    _focus(qtbot, strip)
    QTest.keyClick(strip, KEY.Key_Up)
    assert heard.schedules == []
    strip.set_editable(True)
    assert _handle(strip, 1).spot == spot


# Keys.


@pytest.fixture
def focused(qtbot, strip):
    return _focus(qtbot, strip)


def test_left_and_right_choose_a_handle(focused, heard):
    keys = [h.key for h in focused.handles]
    assert focused.chosen.key == keys[0]
    for expected in (*keys[1:], keys[-1]):
        QTest.keyClick(focused, KEY.Key_Right)
        assert focused.chosen.key == expected
    QTest.keyClick(focused, KEY.Key_Left)
    assert focused.chosen.key == keys[-2]
    assert heard.picked[-1] == keys[-2][0]
    assert heard.schedules == []


def test_the_chosen_handle_shows_while_the_strip_has_the_focus(qtbot, focused):
    def boxes():
        focused.texts()
        return sum(isinstance(mark, Box) for mark in focused._marks)

    with_focus = boxes()
    focused.clearFocus()
    qtbot.waitUntil(lambda: not focused.hasFocus())
    assert boxes() < with_focus


@pytest.mark.parametrize(
    ("key", "modifiers", "expected"),
    [
        (KEY.Key_Up, NONE, {"to_c": 605.0}),
        (KEY.Key_Down, NONE, {"to_c": 595.0}),
        (KEY.Key_Up, SHIFT, {"to_c": 601.0}),
        (KEY.Key_Right, CTRL, {"rate_c_per_h": "95"}),
        (KEY.Key_Left, CTRL, {"rate_c_per_h": "105"}),
        (KEY.Key_Left, CTRL | SHIFT, {"rate_c_per_h": "101"}),
        (KEY.Key_Right, ALT, {"hold_min": 5.0}),
    ],
    ids=str,
)
def test_a_key_changes_one_figure_of_one_segment(focused, heard, slow, key, modifiers, expected):
    QTest.keyClick(focused, key, modifiers)
    before = slow.firing.segments
    assert heard.schedules == [(replace(before[0], **expected), *before[1:])]
    assert (heard.ended, heard.cancelled) == (1, 0)


def test_keys_on_the_end_of_a_hold_change_its_length(focused, heard, slow):
    while not focused.chosen.is_hold:
        QTest.keyClick(focused, KEY.Key_Right)
    QTest.keyClick(focused, KEY.Key_Right, CTRL)
    assert _changed(slow.firing.segments, heard.last) == [3]
    assert heard.last[3].hold_min == 65
    QTest.keyClick(focused, KEY.Key_Left, CTRL | SHIFT)
    assert heard.last[3].hold_min == 64


def test_a_held_key_is_one_step_and_escape_takes_it_back(focused, heard):
    for _ in range(3):
        QTest.keyPress(focused, KEY.Key_Up)
    assert [schedule[0].to_c for schedule in heard.schedules] == [605, 610, 615]
    assert heard.ended == 0
    QTest.keyPress(focused, KEY.Key_Escape)
    QTest.keyRelease(focused, KEY.Key_Up)
    assert (heard.ended, heard.cancelled) == (0, 1)


def test_a_key_that_asks_too_much_is_refused(qtbot, slow):
    evaluation = _with_segments(slow, Segment("5", 900.0))
    strip = _strip(qtbot, evaluation)
    heard = _Listener(strip, evaluation)
    _focus(qtbot, strip)
    QTest.keyClick(strip, KEY.Key_Right)
    QTest.keyClick(strip, KEY.Key_Right, CTRL)
    assert heard.schedules == []
    assert heard.ended == 0
    assert heard.refusals == [
        "segment 1 has the rate 0, which is not positive; the direction follows from to_c"
    ]


def test_the_strip_says_its_figures_in_words(strip, slow):
    text, heat = strip.accessibleDescription(), slow.heat
    assert text.startswith(f"Cone 10, slow cool: {heat.cone.text}")
    assert f"peak {heat.curve.peak_c:.0f} °C, {heat.curve.total_hours:.1f} hours" in text
    assert "Hold of 60 minutes at 1080 °C" in text
    for level in strip.levels:
        assert f"above {level.celsius:.0f} °C for {level.hours:.1f} hours" in text
    assert f"for {strip.window_hours:.1f} hours" in text
    assert "Alt" in strip.whatsThis()


def test_the_line_under_the_pointer_follows_it_and_goes(strip):
    inside = strip.plot.center().toPoint()
    _move(strip, inside, NONE)
    assert strip._hover_x == inside.x()
    assert not strip.grab().isNull()
    _move(strip, QPointF(2, 2).toPoint(), NONE)
    assert strip._hover_x is None
