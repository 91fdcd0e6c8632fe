"""The small charts: their geometry, their figures in words, and what they say when empty.

The figures of the fixture are those of the project's design (its section 7): ideal
minerals, worked out apart from this program, to the digits given there.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QEvent, QPointF, QRectF
from PySide6.QtGui import QFontMetricsF, QHelpEvent
from PySide6.QtWidgets import QApplication, QScrollArea, QToolTip

from app.chart_widget import (
    TINTS,
    Box,
    Words,
    mixed,
    on_grid,
    proportional,
    share_text,
    side_by_side,
    with_gap,
)
from app.contributions_view import ContributionsView, grouped_oxides, oxide_bars
from app.flux_ribbon import FluxRibbon, flux_shares
from app.flux_triangle import (
    TRAIL_LENGTH,
    FluxTriangle,
    family_shares,
    place,
    shares_at,
    triangle_in,
)
from app.theme import CHART_FAMILIES, DARK, LIGHT, Role
from core.evaluate import evaluate
from core.formula import State
from core.oxides import COLOURING_RO, FLUXES, INDEX, OXIDES, Convention
from core.recipe import Ingredient, Recipe, Section

UNITY = {"K2O": 0.234, "CaO": 0.372, "MgO": 0.393, "Al2O3": 0.475, "SiO2": 2.929}
"""Source: design, section 7."""
DIGIT = 0.0005 + 5e-5
"""Half of the last printed place, and a little for other atomic weights."""
SIZES = ((280, 180), (900, 300))
TEXT = 4.5

CHARTS = (FluxRibbon, FluxTriangle, ContributionsView)
every_chart = pytest.mark.parametrize("kind", CHARTS)
every_size = pytest.mark.parametrize("size", SIZES, ids=str)
both_palettes = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)
amounts = st.lists(
    st.floats(0, 1e3, allow_nan=False, allow_subnormal=False), min_size=1, max_size=13
)

FEW = (("kaolin", 20.0), ("silica", 10.0))
MANY = (
    ("nepheline-syenite", 30.0),
    ("lithium-carbonate", 2.0),
    ("zinc-oxide", 6.0),
    ("dolomite", 8.0),
    ("whiting", 6.0),
    ("barium-carbonate", 6.0),
    ("strontium-carbonate", 3.0),
    ("ball-clay", 10.0),
    ("silica", 22.0),
    ("colemanite", 7.0),
)
COLOURS = (("red-iron-oxide", 4.0), ("rutile", 3.0), ("cobalt-carbonate", 0.5))


def _rows(pairs):
    return tuple(Ingredient(material, amount) for material, amount in pairs)


@pytest.fixture
def evaluated(studio):
    def make(base, additions=(), base_alone=False):
        recipe = Recipe(base=_rows(base), additions=_rows(additions))
        return evaluate(recipe, studio, base_alone)

    return make


@pytest.fixture
def fixture(fixture_recipe, studio):
    return evaluate(fixture_recipe, studio)


def _chart(qtbot, kind, evaluation, size=SIZES[0], palette=LIGHT):
    chart = kind()
    qtbot.addWidget(chart)
    chart.set_palette(palette)
    chart.show_evaluation(evaluation)
    chart.resize(size[0], max(size[1], chart.minimumHeight()))
    return chart


def _words(chart):
    chart.texts()
    return [mark for mark in chart._marks if isinstance(mark, Words)]


def _luminance(color):
    """Relative luminance: W3C, Web Content Accessibility Guidelines 2.2, "relative luminance"."""
    c = np.array(color.getRgbF()[:3])
    return float(
        np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        @ (np.array([0.2126, 0.7152, 0.0722]))
    )


def _contrast(a, b):
    low, high = sorted((_luminance(a), _luminance(b)))
    return (high + 0.05) / (low + 0.05)


def _number_after(name, text):
    return float(re.search(rf"\b{name} (\d+\.\d+)", text)[1])


@given(amounts, st.floats(0, 50), st.floats(1, 1000))
def test_spans_are_proportional_and_meet(values, left, width):
    spans = proportional(values, left, width)
    whole = sum(values)
    end = left
    for value, (start, length) in zip(values, spans, strict=True):
        assert start == pytest.approx(end)
        assert length * whole == pytest.approx(width * value)
        end = start + length
    if whole > 0:
        assert end == pytest.approx(left + width)


def test_a_gap_is_taken_from_both_ends_and_never_from_more_than_there_is():
    assert with_gap(10, 20, 0, 8) == QRectF(11, 0, 18, 8)
    assert with_gap(10, 1, 0, 8) == QRectF(10.25, 0, 0.5, 8)


@given(
    st.lists(st.tuples(st.floats(0, 400), st.floats(5, 80)), min_size=1, max_size=9),
    st.floats(100, 400),
)
def test_labels_side_by_side_never_overlap_and_stay_inside(labels, right):
    centres = sorted(centre for centre, _ in labels)
    widths = [width for _, width in labels]
    places = side_by_side(centres, widths, 0, right, 4)
    needed = sum(widths) + 4 * (len(widths) - 1)
    assert (places is None) == (needed > right)
    if places is None:
        return
    assert places[0] >= -1e-9
    assert places[-1] + widths[-1] <= right + 1e-9
    for i in range(len(places) - 1):
        assert places[i] + widths[i] + 4 <= places[i + 1] + 1e-9


def test_labels_with_room_stay_at_their_centres():
    assert side_by_side([50, 150], [20, 40], 0, 300, 4) == [40, 130]


def test_a_trace_is_not_written_as_nothing_and_lengths_keep_the_grid():
    assert share_text(0.0049) == "<0.01"
    assert share_text(0.005).startswith("0.0")
    assert share_text(0.0) == "0.00"
    assert [on_grid(x) for x in (12.0, 12.1, 16.0)] == [12, 16, 16]


@both_palettes
@pytest.mark.parametrize("family", CHART_FAMILIES)
@pytest.mark.parametrize("tint", TINTS)
def test_text_reads_on_every_segment(palette, family, tint):
    # Source: Web Content Accessibility Guidelines 2.2, success criterion 1.4.3.
    ground = mixed(palette.color(family), palette.color(Role.PAPER), tint)
    assert _contrast(palette.color(Role.INK), ground) >= TEXT


def test_the_fixtures_fluxes_sum_to_one_with_families_together(fixture):
    fluxes = flux_shares(fixture.formula)
    assert [flux.oxide for flux in fluxes] == ["K2O", "CaO", "MgO"]
    assert sum(flux.share for flux in fluxes) == pytest.approx(1, abs=1e-12)
    for flux in fluxes:
        assert flux.share == pytest.approx(UNITY[flux.oxide], abs=DIGIT)


def test_every_flux_has_its_place_and_colouring_oxides_only_where_they_count(studio, evaluated):
    evaluation = evaluated(MANY, COLOURS)
    assert [flux.oxide for flux in flux_shares(evaluation.formula)] == [
        *("Li2O", "Na2O", "K2O", "CaO", "SrO", "BaO", "MgO", "ZnO"),
    ]
    counting = replace(studio, convention=Convention((*FLUXES, *COLOURING_RO)))
    formula = evaluate(evaluation.recipe, counting).formula
    assert flux_shares(formula)[-1].oxide == "CoO"
    assert sum(flux.share for flux in flux_shares(formula)) == pytest.approx(1, abs=1e-12)


@every_size
def test_the_ribbons_segments_are_as_wide_as_their_shares(qtbot, fixture, size):
    ribbon = _chart(qtbot, FluxRibbon, fixture, size)
    ribbon.texts()
    segments = [m.rect for m in ribbon._marks if isinstance(m, Box)][::2]
    shares = [flux.share for flux in flux_shares(fixture.formula)]
    widths = [rect.width() + 2 for rect in segments]
    assert np.array(widths) / sum(widths) == pytest.approx(shares, abs=1e-6)


def test_the_ribbon_says_its_figures(qtbot, fixture):
    ribbon = _chart(qtbot, FluxRibbon, fixture)
    text = ribbon.accessibleDescription()
    assert ribbon.accessibleName()
    for oxide in ("K2O", "CaO", "MgO"):
        assert _number_after(oxide, text) == pytest.approx(UNITY[oxide], abs=0.005 + DIGIT)
    assert "R2O to RO is 0.23 to 0.77" in text
    assert "MgO is 0.39 of the fluxes" in text
    assert ribbon.texts()[:3] == ["K₂O 0.23", "CaO 0.37", "MgO 0.39"]
    assert "R₂O : RO  0.23 : 0.77   MgO 0.39" in ribbon.texts()[-1]


@pytest.mark.parametrize("width", [160, 220, 280, 420, 900])
def test_the_ribbons_labels_never_overlap_and_none_is_lost_in_silence(qtbot, evaluated, width):
    evaluation = evaluated(MANY, COLOURS)
    ribbon = _chart(qtbot, FluxRibbon, evaluation, (width, 96))
    words = _words(ribbon)
    for i, one in enumerate(words):
        assert ribbon.rect().toRectF().contains(one.rect)
        for other in words[i + 1 :]:
            assert not one.rect.intersects(other.rect), (one.text, other.text)
    labels = [w.text for w in words if re.fullmatch(r"\w+ [<\d.]+", w.text)]
    more = sum(int(m[1]) for w in words if (m := re.fullmatch(r"\+(\d+) more", w.text)))
    assert len(labels) + more == len(flux_shares(evaluation.formula))
    if width >= 280:
        assert more == 0


def test_hovering_over_the_ribbon_reads_the_flux(qtbot, fixture):
    ribbon = _chart(qtbot, FluxRibbon, fixture, (280, 68))
    assert "K₂O is 0.234 of the fluxes" in ribbon.tip_at(QPointF(20, 12))
    assert "MgO is 0.393 of the fluxes" in ribbon.tip_at(QPointF(250, 12))
    assert ribbon.tip_at(QPointF(1, 67)) == ""


def test_the_corners_of_the_triangle_are_pure_families():
    corners = triangle_in(QRectF(10, 20, 300, 200))
    assert place(corners, (1.0, 0.0, 0.0)) == corners.alkali
    assert place(corners, (0.0, 1.0, 0.0)) == corners.lime
    assert place(corners, (0.0, 0.0, 1.0)) == corners.magnesia
    sides = [
        math.dist(a.toTuple(), b.toTuple())
        for a, b in (
            (corners.alkali, corners.lime),
            (corners.lime, corners.magnesia),
            (corners.magnesia, corners.alkali),
        )
    ]
    assert sides == pytest.approx([corners.side] * 3)


def test_a_glaze_of_whiting_alone_lies_on_the_lime_corner(qtbot, evaluated):
    evaluation = evaluated((("whiting", 20.0), ("silica", 40.0), ("kaolin", 10.0)))
    triangle = _chart(qtbot, FluxTriangle, evaluation)
    shares = family_shares(evaluation.formula)
    assert shares == pytest.approx((0, 1, 0))
    spot = place(triangle.corners, shares)
    assert spot.toTuple() == pytest.approx(triangle.corners.lime.toTuple())
    assert "lime 100.0 %" in triangle.accessibleDescription()


@given(st.tuples(*[st.floats(0.01, 1)] * 3))
def test_a_place_in_the_triangle_reads_back_as_its_mixture(parts):
    shares = tuple(part / sum(parts) for part in parts)
    corners = triangle_in(QRectF(7, 11, 320, 210))
    assert shares_at(corners, place(corners, shares)) == pytest.approx(shares, abs=1e-9)


def test_outside_the_triangle_nothing_is_read():
    corners = triangle_in(QRectF(0, 0, 300, 200))
    assert shares_at(corners, QPointF(corners.lime.x(), 0)) is None
    assert shares_at(triangle_in(QRectF()), QPointF()) is None


@every_size
def test_the_triangle_and_its_words_lie_inside_the_widget(qtbot, evaluated, size):
    triangle = _chart(qtbot, FluxTriangle, evaluated(MANY), size)
    for word in _words(triangle):
        wide = max(QFontMetricsF(word.font).horizontalAdvance(t) for t in word.text.split())
        assert word.rect.width() >= wide, word.text
        assert triangle.rect().toRectF().contains(word.rect), word.text
    for corner in ("alkali", "lime", "magnesia"):
        assert triangle.rect().toRectF().contains(getattr(triangle.corners, corner))


def test_the_triangle_says_its_figures_and_its_variants(qtbot, fixture):
    triangle = _chart(qtbot, FluxTriangle, fixture)
    # The fixture has no other flux: its shares are the unity formula's own.
    text = triangle.accessibleDescription()
    for name, oxide in (("alkali", "K2O"), ("lime", "CaO"), ("magnesia", "MgO")):
        assert _number_after(name, text) == pytest.approx(
            100 * UNITY[oxide], abs=100 * DIGIT + 0.05
        )
    triangle.show_variants([("A", (0.2, 0.3, 0.5))])
    assert "Variant A: alkali 20.0 %, lime 30.0 %, magnesia 50.0 %" in (
        triangle.accessibleDescription()
    )
    assert "A" in triangle.texts()
    spot = place(triangle.corners, (0.2, 0.3, 0.5))
    assert triangle.tip_at(spot).startswith("Variant A: R₂O 20.0 %")
    assert triangle.tip_at(place(triangle.corners, family_shares(fixture.formula))).startswith(
        "The recipe: R₂O 23.4 %"
    )
    assert triangle.tip_at(place(triangle.corners, (0.7, 0.15, 0.15))).startswith("Here: R₂O 70")


def test_fluxes_without_a_corner_are_named(qtbot, evaluated):
    evaluation = evaluated((*FEW, ("whiting", 10.0), ("zinc-oxide", 10.0)))
    zinc = float(evaluation.formula.unity[INDEX["ZnO"]])
    triangle = _chart(qtbot, FluxTriangle, evaluation)
    assert f"ZnO {zinc:.2f} not in the triangle" in triangle.texts()
    assert f"ZnO {zinc:.2f} of the fluxes not in the triangle" in triangle.accessibleDescription()


def test_zinc_alone_leaves_the_triangle_without_a_point_and_says_so(qtbot, evaluated):
    triangle = _chart(qtbot, FluxTriangle, evaluated((*FEW, ("zinc-oxide", 10.0))))
    assert triangle.corners is None
    assert triangle.texts() == ["No alkali, lime or magnesia here: ZnO 1.00 not in the triangle."]
    assert "only ZnO 1.00" in triangle.accessibleDescription()


def test_the_trail_keeps_the_last_places_and_no_rest(qtbot, evaluated):
    triangle = FluxTriangle()
    qtbot.addWidget(triangle)
    mixtures = [
        evaluated((*FEW, ("whiting", 10.0), ("talc", 1.0 + i))) for i in range(TRAIL_LENGTH + 5)
    ]
    for evaluation in mixtures:
        triangle.show_evaluation(evaluation)
        triangle.show_evaluation(evaluation)
    assert triangle.trail == tuple(family_shares(e.formula) for e in mixtures[-TRAIL_LENGTH:])
    # More silica leaves the fluxes as they are.
    triangle.show_evaluation(
        evaluated(
            (("kaolin", 20.0), ("silica", 30.0), ("whiting", 10.0), ("talc", TRAIL_LENGTH + 5.0))
        )
    )
    assert triangle.trail[-1] == family_shares(mixtures[-1].formula)
    assert triangle.trail[-2] == family_shares(mixtures[-2].formula)
    triangle.forget_trail()
    assert triangle.trail == ()


def test_every_oxide_of_the_basis_stands_in_one_group(fixture):
    groups = grouped_oxides(fixture.formula)
    assert sorted(oxide for group in groups for oxide in group) == sorted(OXIDES)


def test_the_bars_carry_the_unity_formula(fixture):
    bars = oxide_bars(fixture)
    assert [bar.oxide for bar in bars] == ["K2O", "CaO", "MgO", "Al2O3", "SiO2"]
    for bar in bars:
        assert bar.total == pytest.approx(UNITY[bar.oxide], abs=DIGIT)
        assert sum(part.moles for part in bar.parts) == pytest.approx(bar.total, abs=1e-12)
        assert [part.row for part in bar.parts] == sorted(part.row for part in bar.parts)


def test_ideal_minerals_bring_oxides_in_the_ratio_of_their_formulas(fixture):
    # Source: the formulas K2O.Al2O3.6SiO2, Al2O3.2SiO2.2H2O and 3MgO.4SiO2.H2O.
    brought = {
        bar.oxide: {fixture.recipe.base[part.row].material: part.moles for part in bar.parts}
        for bar in oxide_bars(fixture)
    }
    alumina, silica = brought["Al2O3"], brought["SiO2"]
    assert silica["potash-feldspar"] == pytest.approx(6 * brought["K2O"]["potash-feldspar"])
    assert alumina["potash-feldspar"] == pytest.approx(brought["K2O"]["potash-feldspar"])
    assert silica["kaolin"] == pytest.approx(2 * alumina["kaolin"])
    assert silica["talc"] == pytest.approx(4 / 3 * brought["MgO"]["talc"])
    assert set(brought["CaO"]) == {"whiting"}


def test_the_contributions_say_their_figures(qtbot, fixture):
    view = _chart(qtbot, ContributionsView, fixture, (900, 300))
    text = view.accessibleDescription()
    for oxide, moles in UNITY.items():
        assert _number_after(oxide, text) == pytest.approx(moles, abs=0.005 + DIGIT)
    assert "MgO 0.39: Talc 0.39." in text
    assert "K2O 0.23: Potash feldspar 0.23." in text
    painted = view.texts()
    assert {"SiO₂", "2.93", "Al₂O₃", "0.37", "Kaolin", "Silica"} <= set(painted)


def test_a_name_that_does_not_fit_is_shortened_and_whole_on_hovering(qtbot, fixture):
    view = _chart(qtbot, ContributionsView, fixture)
    assert any(text.endswith("…") for text in view.texts())
    tips = [tip.text for tip in view.tips()]
    assert any(tip.startswith("Potash feldspar brings 1.4") for tip in tips)
    assert any(tip.startswith("SiO₂ 2.929 to one of fluxes\nPotash feldspar") for tip in tips)


def test_the_selected_row_is_outlined_in_every_bar_that_it_feeds(qtbot, evaluated):
    base = (*FEW, ("whiting", 10.0), ("talc", 10.0))
    view = _chart(qtbot, ContributionsView, evaluated(base, (("talc", 5.0),)), (900, 300))

    def outlines():
        view.texts()
        return sum(isinstance(m, Box) and m.pen is not None for m in view._marks)

    assert outlines() == 0
    view.set_selected(Section.BASE, 3)
    assert outlines() == 2
    assert "Marked: Talc." in view.accessibleDescription()
    view.set_selected(Section.ADDITIONS, 0)
    assert outlines() == 2
    view.set_selected(Section.ADDITIONS, 1)
    assert outlines() == 0
    view.set_selected(Section.BASE, 4)
    assert outlines() == 0
    view.set_selected(None)
    assert "Marked" not in view.accessibleDescription()


def test_the_base_alone_leaves_the_additions_out(qtbot, evaluated):
    base = (*FEW, ("whiting", 10.0))
    whole = _chart(qtbot, ContributionsView, evaluated(base, COLOURS))
    alone = _chart(qtbot, ContributionsView, evaluated(base, COLOURS, base_alone=True))
    alone.set_selected(Section.ADDITIONS, 0)
    assert "Red iron oxide" in whole.accessibleDescription()
    assert "Red iron oxide" not in alone.accessibleDescription()
    assert "Marked" not in alone.accessibleDescription()


def test_the_contributions_ask_for_the_height_of_their_bars(qtbot, fixture, evaluated):
    few = _chart(qtbot, ContributionsView, fixture)
    many = _chart(qtbot, ContributionsView, evaluated(MANY, COLOURS))
    rows = len(oxide_bars(evaluated(MANY, COLOURS))) - len(oxide_bars(fixture))
    assert many.minimumHeight() - few.minimumHeight() >= 28 * rows
    for view in (few, many):
        assert all(view.rect().toRectF().contains(word.rect) for word in _words(view))


@every_chart
@every_size
def test_without_a_flux_a_chart_shows_the_words_of_that_state(qtbot, evaluated, kind, size):
    chart = _chart(qtbot, kind, evaluated(FEW), size)
    words = str(State.NO_FLUX)[1:]
    assert [words in text for text in chart.texts()] == [True]
    assert words in chart.accessibleDescription()


@every_chart
def test_an_empty_recipe_says_what_to_do_first(qtbot, evaluated, kind):
    chart = _chart(qtbot, kind, evaluated(()))
    assert chart.texts() == ["No rows yet. Choose a first material."]
    assert chart.accessibleDescription() == chart.texts()[0]
    chart.show_evaluation(evaluated((("whiting", 0.0),)))
    assert chart.texts() == ["Nothing weighed yet. Type an amount."]


@every_chart
def test_a_missing_material_makes_a_chart_incomplete_and_it_says_so(qtbot, evaluated, kind):
    chart = _chart(qtbot, kind, evaluated((*FEW, ("whiting", 10.0), ("nowhere-to-be-found", 5.0))))
    assert any("incomplete" in text for text in chart.texts())
    assert "missing from the tables" in chart.accessibleDescription()


@every_chart
@both_palettes
@every_size
@pytest.mark.parametrize("base", [(), FEW, (*FEW, ("zinc-oxide", 9.0)), MANY], ids=len)
def test_a_chart_paints_in_its_palette_and_never_writes_nan(
    qtbot, evaluated, kind, palette, size, base
):
    chart = _chart(qtbot, kind, evaluated(base, COLOURS if base == MANY else ()), size, palette)
    image = chart.grab().toImage()
    assert image.pixelColor(1, 1) == palette.color(Role.PAPER)
    colors = {image.pixel(x, y) for x in range(image.width()) for y in range(image.height())}
    assert len(colors) > 2
    said = [*chart.texts(), chart.accessibleDescription(), *(tip.text for tip in chart.tips())]
    assert said[0]
    assert not any(re.search(r"\b(nan|inf)\b", text, re.IGNORECASE) for text in said)


@every_chart
def test_another_palette_changes_the_colours_and_no_words(qtbot, fixture, kind):
    chart = _chart(qtbot, kind, fixture)
    light = chart.grab().toImage()
    texts = chart.texts()
    chart.set_palette(DARK)
    dark = chart.grab().toImage()
    assert light != dark
    assert chart.texts() == texts
    chart.set_palette(LIGHT)
    assert chart.grab().toImage() == light


@every_chart
def test_a_chart_on_screen_is_laid_out_by_the_evaluation_and_not_by_painting(
    qtbot, fixture, evaluated, kind, monkeypatch
):
    area = QScrollArea()
    qtbot.addWidget(area)
    area.resize(320, 240)
    area.setWidgetResizable(True)
    chart = kind()
    chart.show_evaluation(fixture)
    area.setWidget(chart)
    with qtbot.waitExposed(area):
        area.show()
    calls = []
    lay_out = chart._lay_out
    monkeypatch.setattr(chart, "_lay_out", lambda e: (calls.append(e), lay_out(e)))
    chart.repaint()
    assert calls == []
    evaluation = evaluated(MANY)
    chart.show_evaluation(evaluation)
    assert evaluation in calls
    laid_out = len(calls)
    chart.repaint()
    assert len(calls) == laid_out


def test_a_materials_name_is_never_taken_for_markup(qtbot, fixture, monkeypatch):
    named = replace(fixture.materials["talc"], name="<b>Talc</b> & co")
    evaluation = replace(fixture, materials={**fixture.materials, "talc": named})
    view = _chart(qtbot, ContributionsView, evaluation, (900, 300))
    tip = next(t for t in view.tips() if t.text.startswith("<b>Talc</b> & co brings"))
    spot = tip.rect.center().toPoint()
    shown = []
    # The offscreen platform warns when a tooltip is raised.
    monkeypatch.setattr(QToolTip, "showText", lambda _place, text, _widget: shown.append(text))
    QApplication.sendEvent(view, QHelpEvent(QEvent.Type.ToolTip, spot, view.mapToGlobal(spot)))
    assert len(shown) == 1
    assert "&lt;b&gt;Talc&lt;/b&gt; &amp; co brings 0.393" in shown[0]


@every_chart
def test_a_larger_font_lays_a_chart_out_anew_and_no_text_is_below_body_less_one(
    qtbot, fixture, kind
):
    chart = _chart(qtbot, kind, fixture, (900, 300))
    height = chart.minimumSizeHint().height()
    font = chart.font()
    font.setPointSizeF(font.pointSizeF() + 8)
    chart.setFont(font)
    assert min(word.font.pointSizeF() for word in _words(chart)) == font.pointSizeF() - 1
    assert chart.minimumSizeHint().height() >= height


@every_chart
def test_charts_take_no_focus_and_stand_empty_before_the_first_evaluation(qtbot, kind):
    chart = kind()
    qtbot.addWidget(chart)
    chart.resize(280, 180)
    assert chart.texts() == []
    assert chart.tip_at(QPointF(100, 100)) == ""
    assert not chart.grab().isNull()
    assert chart.focusPolicy().value == 0
