"""The melt curve and its panel: their figures are the evaluation's, their words say what is not.

What the figures ought to be is checked in the tests of the melt models; here
only that the screen shows them, and where.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPolygonF, QWheelEvent

from app.chart_widget import Round, Stroke, Words
from app.melt_curve import STIFFEST, MeltCurve, meaning
from app.melt_panel import MeltPanel, figure_rows, set_words
from app.theme import DARK, LIGHT
from core.evaluate import evaluate
from core.firing import Segment
from core.melt import expansion_sets
from core.melt.card import card
from core.melt.sheet import CURVE_C, expansion_by_set, working_lines
from core.oxides import INDEX
from core.recipe import Ingredient, Recipe, Section
from core.telling import domain_words, melt_lines

SIZES = ((560, 160), (1500, 330))
every_size = pytest.mark.parametrize("size", SIZES, ids=str)

ODD = (
    {},
    {"silica": 10},
    {"whiting": 10},
    {"kaolin": 10},
    {"tin-oxide": 10},
    {"tin-oxide": 10, "whiting": 1},
    {"colemanite": 10},
    {"silica": 0},
    {"no-such-material": 5, "silica": 3},
    {"potash-feldspar": 50, "whiting": 10, "silica": 10, "tin-oxide": 12},
)
every_odd_recipe = pytest.mark.parametrize("parts", ODD, ids=str)


def _recipe(parts, firing="cone-10-medium"):
    rows = tuple(Ingredient(name, float(amount)) for name, amount in parts.items())
    return replace(Recipe("Test", base=rows), firing=firing)


def _curve(qtbot, evaluation, size=SIZES[0], palette=LIGHT):
    chart = MeltCurve()
    qtbot.addWidget(chart)
    chart.set_palette(palette)
    chart.show_evaluation(evaluation)
    chart.resize(*size)
    return chart


@pytest.fixture
def fixture(fixture_recipe, studio):
    return evaluate(fixture_recipe, studio)


@pytest.fixture
def outside(studio):
    evaluation = evaluate(_recipe(ODD[-1]), studio)
    assert not evaluation.melt.inside_domain
    return evaluation


@pytest.fixture
def panel(qtbot, document, theme):
    panel = MeltPanel(document, theme)
    qtbot.addWidget(panel)
    panel.resize(360, 560)
    panel.show()
    qtbot.waitExposed(panel)
    return panel


def _with_peak(evaluation, studio, celsius):
    legs = () if celsius is None else (Segment("60", celsius),)
    firing = replace(evaluation.firing, segments=legs)
    firings = {**studio.firings, firing.id: firing}
    return evaluate(evaluation.recipe, replace(studio, firings=firings))


def test_the_curves_words_are_the_evaluations_figures(qtbot, fixture):
    text = _curve(qtbot, fixture).accessibleDescription()
    melt = fixture.melt
    eta, liquidus = melt.log10_viscosity, melt.liquidus_c
    assert f"peak of {melt.peak_c:.0f} °C" in text
    assert f"is {eta.value:.2f} ± {eta.error:.2f} Pa·s" in text
    assert f"Liquidus {liquidus.value:.0f} ± {liquidus.error:.0f} °C" in text
    for line, celsius in melt.reached_c:
        assert f"{line.name} (log10 {line.log10_viscosity:.1f}) at {celsius:.0f} °C" in text


@every_size
def test_the_peak_stands_at_its_temperature_with_the_viscosity_there(qtbot, fixture, size):
    chart = _curve(qtbot, fixture, size)
    melt, plot = fixture.melt, chart.plot
    share = (melt.peak_c - 700) / (1400 - 700)
    expected = plot.left() + share * plot.width()
    uprights = [
        mark.points[0].x()
        for mark in chart._marks
        if isinstance(mark, Stroke)
        and mark.points.size() == 2
        and mark.points[0].x() == mark.points[1].x()
        and abs(mark.points[0].y() - mark.points[1].y()) > plot.height()
    ]
    assert uprights == pytest.approx([expected])
    eta = melt.log10_viscosity
    height = plot.bottom() - plot.height() * eta.value / STIFFEST
    dots = [mark.centre.toTuple() for mark in chart._marks if isinstance(mark, Round)]
    assert any(dot == pytest.approx((expected, height)) for dot in dots)
    assert f"peak {melt.peak_c:.0f} °C   {eta.value:.1f} ± {eta.error:.1f}" in chart.texts()


@every_size
def test_the_curve_falls_from_left_to_right_and_keeps_to_its_plot(qtbot, fixture, size):
    chart = _curve(qtbot, fixture, size)
    points = [point.toTuple() for point in chart.points]
    assert len(points) > 20
    xs, ys = np.array(points).T
    assert (np.diff(xs) > 0).all()
    assert (np.diff(ys) > 0).all()  # downward on the screen is more fluid
    plot = chart.plot
    assert ys.min() >= plot.top() - 1e-6
    assert ys.max() <= plot.bottom() + 1e-6
    at = (plot.bottom() - ys) / plot.height() * STIFFEST
    celsius = 700 + (xs - plot.left()) / plot.width() * 700
    assert at == pytest.approx(np.interp(celsius, CURVE_C, fixture.melt.curve), abs=1e-6)


def test_a_hotter_peak_widens_the_axis_and_the_curve_reaches_it(qtbot, fixture, studio):
    hot = _with_peak(fixture, studio, 1460.0)
    chart = _curve(qtbot, hot)
    assert chart.span_c == (700, 1500)
    last = chart.points[chart.points.size() - 1]
    assert last.x() == pytest.approx(chart.x_at(1460.0))
    assert last.y() == pytest.approx(chart.y_at(hot.melt.log10_viscosity.value))


def test_without_a_peak_there_is_no_peak_and_the_curve_stays(qtbot, fixture, studio):
    evaluation = _with_peak(fixture, studio, None)
    chart = _curve(qtbot, evaluation)
    assert not [text for text in chart.texts() if text.startswith("peak")]
    assert chart.points.size() > 20
    assert "no peak" in chart.accessibleDescription()


@every_size
def test_outside_the_domain_the_chart_says_so_and_the_curve_is_dashed(
    qtbot, fixture, outside, size
):
    def style(chart):
        points = chart.points
        return next(
            mark.pen.style()
            for mark in chart._marks
            if isinstance(mark, Stroke) and mark.points == points
        )

    inside_chart, outside_chart = (_curve(qtbot, e, size) for e in (fixture, outside))
    assert style(inside_chart) == Qt.PenStyle.SolidLine
    assert style(outside_chart) == Qt.PenStyle.DashLine
    words = domain_words(outside.melt)
    assert f"◆ {words}" in outside_chart.texts()
    assert words in outside_chart.accessibleDescription()
    assert not [text for text in inside_chart.texts() if text.startswith("◆")]


def test_without_rows_the_chart_says_what_to_do(qtbot, studio):
    chart = _curve(qtbot, evaluate(_recipe({}), studio))
    assert chart.texts() == ["No rows yet. Choose a first material."]
    assert chart.accessibleDescription() == chart.texts()[0]
    assert chart.plot.isEmpty()
    assert chart.points == QPolygonF()


@every_size
@every_odd_recipe
@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)
def test_odd_recipes_put_no_nan_on_the_chart(qtbot, studio, parts, size, palette):
    chart = _curve(qtbot, evaluate(_recipe(parts), studio), size, palette)
    said = [*chart.texts(), chart.accessibleDescription(), *(tip.text for tip in chart.tips())]
    said += [chart.tip_at(QPointF(x, size[1] / 2)) for x in range(0, size[0], 40)]
    assert any(said)
    assert not [text for text in said if re.search(r"\b(nan|inf)\b|-0\.0\b", text, re.IGNORECASE)]
    assert not chart.grab().isNull()


@every_size
@every_odd_recipe
def test_words_lie_inside_the_chart_and_are_not_cut(qtbot, studio, parts, size):
    chart = _curve(qtbot, evaluate(_recipe(parts), studio), size)
    chart.texts()
    frame = chart.rect().toRectF()
    for mark in (m for m in chart._marks if isinstance(m, Words)):
        needed = chart._small_metrics.boundingRect(mark.rect, mark.flags, mark.text)
        assert frame.contains(mark.rect), mark.text
        assert needed.width() <= mark.rect.width() + 2, mark.text


@every_size
@pytest.mark.parametrize("firing", ["cone-10-medium", "cone-6-medium", "cone-04-medium"])
def test_labels_lie_neither_on_each_other_nor_on_the_curve(
    qtbot, fixture_recipe, studio, size, firing
):
    chart = _curve(qtbot, evaluate(replace(fixture_recipe, firing=firing), studio), size)
    chart.texts()
    words = [
        mark
        for mark in chart._marks
        if isinstance(mark, Words) and not re.fullmatch(r"\d+", mark.text)
    ]
    assert len(words) == 7  # two axes, three lines, the peak, the liquidus
    for i, one in enumerate(words):
        assert not any(one.rect.contains(point) for point in chart.points), one.text
        for other in words[i + 1 :]:
            assert not one.rect.intersects(other.rect), (one.text, other.text)


def test_hovering_reads_temperature_viscosity_and_meaning(qtbot, fixture):
    chart = _curve(qtbot, fixture, SIZES[1])
    spot = QPointF(chart.x_at(1000), chart.plot.top() + 5)
    value = float(np.interp(1000, CURVE_C, fixture.melt.curve))
    error = float(np.interp(1000, CURVE_C, fixture.melt.curve_error))
    said = chart.tip_at(spot)
    assert said.startswith(f"1000 °C: log₁₀ viscosity {value:.1f} ± {error:.1f} Pa·s")
    stiff = next(line for line in working_lines() if line.id == "stiff")
    assert value > stiff.log10_viscosity
    assert stiff.says in said
    assert chart.tip_at(QPointF(1, 1)) == ""


def test_a_viscosity_means_what_its_lines_say():
    flows, heals, stiff = working_lines()
    assert flows.says in meaning(flows.log10_viscosity - 0.1)
    assert heals.says in meaning(flows.log10_viscosity + 0.1)
    assert meaning(heals.log10_viscosity + 0.1) == "between heals and stiff"
    assert stiff.says in meaning(stiff.log10_viscosity + 0.1)


def test_the_panels_figures_are_those_of_the_report(document, panel):
    melt = document.evaluation.melt
    rows, lines = figure_rows(melt), melt_lines(melt)
    assert panel.figures.rows == rows
    assert len(rows) == len(lines)
    for row, (what, text) in zip(rows, lines, strict=True):
        assert what.split()[0].rstrip(",") == row.name.split()[0].rstrip(",")
        assert f"{row.value} " in text.replace("10^", "")
        assert row.error in text
        assert row.error


def test_a_change_of_the_recipe_reaches_the_panel(qtbot, document, panel):
    before = panel.figures.rows
    document.edit("More talc", document.recipe.with_amount(Section.BASE, 1, 25.0))
    assert panel.figures.rows == figure_rows(document.evaluation.melt) != before
    expected = expansion_by_set(document.evaluation.formula.moles)
    qtbot.waitUntil(
        lambda: (
            [row.value for row in panel.sets.rows]
            == [f"{figure.value:.2f}" for figure in expected.values()]
        )
    )


def test_choosing_a_set_changes_the_expansion_and_is_no_step_to_undo(qtbot, document, panel):
    before = document.evaluation.melt.expansion.value
    assert [panel.set_box.itemData(i) for i in range(panel.set_box.count())] == list(
        expansion_sets()
    )
    place = panel.set_box.findData("appen")
    panel.set_box.setCurrentIndex(place)
    panel.set_box.activated.emit(place)
    melt = document.evaluation.melt
    assert melt.expansion_set == "appen"
    assert melt.expansion.value != pytest.approx(before)
    assert document.undo_stack.count() == 0
    assert document.undo_stack.isClean()
    shown = next(row for row in panel.figures.rows if row.name == "expansion")
    assert shown.value == f"{melt.expansion.value:.2f}"
    qtbot.waitUntil(
        lambda: [row.name for row in panel.sets.rows if row.marked] == ["Appen"],
    )


def test_a_wheel_that_passes_over_the_choice_changes_nothing(qtbot, document, panel):
    panel.setFocus()
    assert not panel.set_box.hasFocus()
    middle = QPointF(panel.set_box.rect().center())
    event = QWheelEvent(
        middle,
        panel.set_box.mapToGlobal(middle),
        QPointF(0, -120).toPoint(),
        QPointF(0, -120).toPoint(),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    panel.set_box.wheelEvent(event)
    assert not event.isAccepted()
    assert document.expansion_set == expansion_sets()[0]


def test_the_largest_shares_of_the_linear_sum_lead(document, panel):
    shares = document.evaluation.melt.expansion_shares
    rows = panel.shares.rows
    assert rows[0].name == "K₂O"
    assert rows[0].value == f"{shares[INDEX['K2O']]:.2f}"
    sizes = [abs(float(row.value)) for row in rows]
    assert sizes == sorted(sizes, reverse=True)
    assert len(rows) == 5


def test_the_panel_says_when_it_is_outside_and_when_it_has_nothing(document, panel):
    assert panel.outside.isHidden()
    assert panel.state.isHidden()
    document.edit("Tin", _recipe(ODD[-1]))
    assert panel.outside.text() == f"◆ {domain_words(document.evaluation.melt)}"
    assert panel.outside.isVisible()
    document.new()
    assert panel.outside.isHidden()
    assert panel.state.text() == "No rows yet. Choose a first material."
    assert {row.value for row in panel.figures.rows} == {"–"}
    assert panel.shares.rows == []


@every_odd_recipe
def test_odd_recipes_put_no_nan_on_the_panel(document, panel, parts):
    document.edit("Odd", _recipe(parts))
    panel._compare()
    said = panel.texts() + [
        part.tip_of(i) for part in (panel.figures, panel.sets, panel.shares) for i in range(6)
    ]
    assert not [text for text in said if re.search(r"\b(nan|inf)\b|-0\.0\b", text, re.IGNORECASE)]


def test_tips_name_the_source_and_the_error_of_every_figure(document, panel):
    assert card().liquidus_error  # the card that the errors come from is there
    figures = [panel.figures.tip_of(i) for i in range(len(panel.figures.rows))]
    assert all(figures)
    # Source: data/melt/card.yaml, its first held-out rows; card-expansion.yaml.
    assert "144 publications never used in the fit, ± 0.231" in figures[0]
    assert "85 publications never used in the fit, ± 56.1 K" in figures[1]
    assert "21,726 measured glasses" in figures[3]
    assert "SciGlass" in figures[0]
    assert "Makishima" in figures[4]
    assert set_words("fitted") == "fitted on 21,726 glasses"
    for i, name in enumerate(expansion_sets()[2:], start=2):
        assert "Source: " in panel.sets.tip_of(i), name


def test_a_hidden_panel_works_nothing_out_until_it_is_seen(qtbot, document, theme):
    panel = MeltPanel(document, theme)
    qtbot.addWidget(panel)
    document.edit("More talc", document.recipe.with_amount(Section.BASE, 1, 25.0))
    assert panel.figures.rows == []
    panel.resize(360, 560)
    panel.show()
    qtbot.waitUntil(lambda: panel.figures.rows == figure_rows(document.evaluation.melt))


def test_a_thicker_layer_runs_with_the_square_of_its_thickness(window):
    box, document = window.melt_panel.layer_box, window.document
    usual = document.evaluation.reading.running
    place = box.findData(2 * usual.thickness_mm)
    box.setCurrentIndex(place)
    box.activated.emit(place)
    thick = document.evaluation.reading.running
    # Source: the thin film of the textbooks: distance goes with thickness squared.
    assert thick.distance_mm == pytest.approx(4 * usual.distance_mm)
    assert document.undo_stack.count() == 0
