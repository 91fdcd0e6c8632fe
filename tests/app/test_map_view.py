from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QApplication, QLineEdit

from app.map_view import HOME, TRAIL_LENGTH
from core.reading.surface import read_point
from core.reading.words import margin_words
from core.recipe import Section
from core.variants import save_variant


@pytest.fixture
def map_view(window):
    return window.map_view


def test_the_point_moves_with_the_recipe_and_leaves_a_trail(map_view, window):
    before = window.document.evaluation.point
    window.recipe_view.base.rows_model.nudge(1, 1)
    after = window.document.evaluation.point
    assert after != before
    assert map_view.point.point == after
    assert tuple(map_view.trail.points[-2]) == before
    for _ in range(2 * TRAIL_LENGTH):
        window.recipe_view.base.rows_model.nudge(1, 1)
    assert len(map_view.trail.points) == TRAIL_LENGTH


def test_a_number_being_typed_is_one_step_of_the_trail_and_undo_takes_it_back(
    map_view, window, qtbot
):
    table = window.recipe_view.base
    table.go_to(1)
    before = len(map_view.trail.points)
    qtbot.keyClicks(table, "1")
    qtbot.keyClicks(table.viewport().findChild(QLineEdit), "7.5")
    assert len(map_view.trail.points) == before + 1
    assert tuple(map_view.trail.points[-1]) == window.document.evaluation.point
    window.document.undo_stack.undo()
    assert len(map_view.trail.points) == before


def test_a_point_beyond_the_map_is_told_at_its_rim(map_view, window):
    inside = map_view.plot.grab().toImage()
    window.document.edit("far", window.document.recipe.with_amount(Section.BASE, 4, 4000.0))
    silica, _ = window.document.evaluation.point
    assert silica > HOME[0][1]
    assert map_view.plot.grab().toImage() != inside
    assert f"{silica:.2f}" in map_view.readout.text()


def test_the_screen_place_of_the_point_agrees_with_the_axes(map_view, window):
    box = map_view.plot.getViewBox()
    spot = map_view.point.to_screen(np.array([window.document.evaluation.point]))[0]
    expected = box.mapViewToScene(QPointF(*window.document.evaluation.point))
    assert spot.x() == pytest.approx(expected.x(), abs=0.5)
    assert spot.y() == pytest.approx(expected.y(), abs=0.5)


def test_the_arrow_ends_where_the_nudge_would(map_view, window):
    window.recipe_view.base.go_to(1)
    window.state.set_step(1.0)
    end = map_view.nudge.end
    assert map_view.nudge.text == "Talc +1"
    window.recipe_view.base.rows_model.nudge(1, 1)
    assert window.document.evaluation.point == pytest.approx(end, abs=1e-12)


def test_saved_variants_stay_on_the_map_with_their_letters(map_view, window):
    document = window.document
    document.edit("save", save_variant(document.recipe, "first", "2026-11-25"))
    point = document.evaluation.point
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, 25.0))
    assert map_view.backdrop.variants.keys() == {"A"}
    assert map_view.backdrop.variants["A"] == pytest.approx(point)


def test_hovering_reads_what_that_point_would_be(map_view, window):
    box = map_view.plot.getViewBox()
    map_view._on_hover(box.mapViewToScene(QPointF(3.0, 0.3)))
    text = map_view.readout.text()
    assert "3.00" in text
    assert "0.300" in text
    assert "10.00" in text
    there = read_point(map_view.basis, 3.0, 0.3)
    assert f"{there.zone} {100 * there.probabilities[there.zone.value]:.0f} %" in text
    assert margin_words(there).removeprefix("melt ") in text


def test_the_field_agrees_with_the_reading_at_the_point(map_view, window):
    map_view.settle()
    field, surface = map_view.backdrop.field, window.document.evaluation.reading.surface
    x = np.abs(field.silica - surface.silica).argmin()
    y = np.abs(field.alumina - surface.alumina).argmin()
    near = read_point(field.basis, float(field.silica[x]), float(field.alumina[y]))
    # The field is worked out in single precision.
    assert field.probabilities[y, x] == pytest.approx(list(near.probabilities.values()), abs=1e-3)


def test_the_zones_follow_the_basis_after_the_edit_and_a_ray_leaves_them(map_view, window, qtbot):
    map_view.settle()
    before = map_view.backdrop.field
    document = window.document
    document.edit("talc", document.recipe.with_amount(Section.BASE, 1, 25.0))
    # Not in the way of the key; once the window has repainted.
    assert map_view.backdrop.field is before
    qtbot.waitUntil(lambda: map_view.backdrop.field is not before)
    assert map_view.backdrop.field.basis == document.evaluation.reading.surface.basis
    assert "MgO" in map_view.basis_label.text().replace("₂", "2")
    settled = map_view.backdrop.field
    document.edit("silica", document.recipe.with_amount(Section.BASE, 4, 12.0))
    QApplication.processEvents()
    # Silica is what the map varies: the same zones, another point.
    assert map_view.backdrop.field is settled


def test_the_firing_draws_other_zones_and_without_one_there_are_none(map_view, window):
    map_view.settle()
    document = window.document
    bright = map_view.backdrop.field.probabilities[..., 3].sum()
    document.edit("cooler", replace(document.recipe, firing="cone-6-medium"))
    map_view.settle()
    assert map_view.backdrop.field.probabilities[..., 3].sum() > bright
    assert "cone 6" in map_view.basis_label.text()
    document.edit("none", replace(document.recipe, firing=""))
    map_view.settle()
    assert map_view.backdrop.field is None
    assert "choose a firing" in map_view.basis_label.text()
    map_view.grab()


def test_every_zone_is_named_and_the_names_keep_off_the_point(map_view, window):
    map_view.settle()
    map_view.plot.grab()
    names = map_view.backdrop.names
    assert len(names) >= 3
    point = map_view.point.to_screen(np.array([window.document.evaluation.point]))[0]
    assert not any(name.contains(point) for name in names)


def test_zoom_pan_and_home_work_by_keyboard(map_view, qtbot):
    plot = map_view.plot
    wide = plot.getViewBox().viewRange()
    qtbot.keyClicks(plot, "+")
    near = plot.getViewBox().viewRange()
    assert near[0][1] - near[0][0] < wide[0][1] - wide[0][0]
    qtbot.keyClick(plot, Qt.Key.Key_Right)
    assert plot.getViewBox().viewRange()[0][0] > near[0][0]
    qtbot.keyClicks(plot, "h")
    x, y = plot.getViewBox().viewRange()
    assert tuple(x) == pytest.approx(HOME[0])
    assert tuple(y) == pytest.approx(HOME[1])


def test_the_words_of_the_chart_carry_its_figures(map_view, window, qtbot):
    silica, alumina = window.document.evaluation.point
    text = map_view.text()
    assert f"{silica:.2f} silica" in text
    assert f"{alumina:.3f} alumina" in text
    qtbot.waitUntil(lambda: map_view.plot.accessibleDescription() == text)
    assert window.words.toPlainText() == text


def test_the_chart_says_what_its_zones_are_drawn_for(map_view):
    map_view.settle()
    words = map_view.basis_label.text()
    assert "cone 10, 1285 °C" in words
    assert "K₂O 0.23 MgO 0.39 CaO 0.37, no boron" in words


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ((), "no rows yet"),
        (("silica",), "no flux"),
        (("whiting",), "no silica"),
    ],
)
def test_what_has_no_point_is_said_in_words_and_nothing_is_nan(map_view, window, rows, words):
    from core.recipe import Ingredient

    recipe = replace(window.document.recipe, base=tuple(Ingredient(m, 50.0) for m in rows))
    window.document.edit("strange", recipe)
    window.reading_panel.settle()
    shown = map_view.state_label.text() + window.reading_panel.browser.toPlainText()
    assert words in shown.lower()
    everything = shown + map_view.text() + map_view.readout.text()
    assert "nan" not in everything.lower().split()
    model = window.formula_panel.model
    for row in range(model.rowCount()):
        for column in range(model.columnCount()):
            assert "nan" not in str(model.index(row, column).data()).lower()
    map_view.grab()


def test_the_map_repaints_two_thousand_times(map_view, window):
    viewport = map_view.plot.viewport()
    model = window.recipe_view.base.rows_model
    for i in range(2000):
        if i % 20 == 0:
            model.nudge(1, 1 if i % 40 else -1)
        viewport.repaint()
    assert not map_view.plot.grab().isNull()


def test_colours_follow_the_theme_live(map_view, window, theme):
    def corner():
        return map_view.plot.grab().toImage().pixelColor(2, 2)

    light = corner()
    theme.set_choice("dark")
    assert corner().lightness() < light.lightness()
