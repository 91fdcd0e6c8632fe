"""Cutlery marks: what makes them likelier, what hides them, and the bench test."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.oxides import INDEX, OXIDES
from core.reading.marking import MarkingVerdict, marking, marking_rule

SURFACES = ("glossy", "satin", "matte", "underfired")


def _fired(**percent):
    found = np.zeros(len(OXIDES))
    found[INDEX["SiO2"]] = 100.0 - sum(percent.values())
    for oxide, value in percent.items():
        found[INDEX[oxide]] = value
    return found


def _sure(surface, **percent):
    chances = {name: float(name == surface) for name in SURFACES}
    return marking(chances, _fired(**percent))


def test_the_rougher_the_surface_the_more_it_marks():
    # Published: Hennetier, Moura, Ribeiro, Materials 15 (2022) 2442: hard rough glazes.
    scores = [_sure(surface).score for surface in SURFACES]
    assert scores == sorted(scores)
    assert _sure("glossy").verdict is MarkingVerdict.LITTLE
    assert _sure("satin").verdict is MarkingVerdict.MAY
    assert _sure("matte").verdict is MarkingVerdict.MARKS


def test_zircon_adds_marks_to_a_bright_white():
    # From memory, trade reports on zircon-opacified tableware.
    plain, white = _sure("glossy"), _sure("glossy", ZrO2=8.0)
    assert white.score > plain.score
    assert "zircon" in white.reason
    assert "zircon" not in plain.reason


@pytest.mark.parametrize("oxide", ["ZrO2", "SnO2", "TiO2"])
def test_white_shows_marks_and_dark_hides_them(oxide):
    clear, white = _sure("satin"), _sure("satin", **{oxide: 8.0})
    dark = _sure("satin", Fe2O3=8.0, **{oxide: 8.0})
    assert dark.visibility < clear.visibility < white.visibility
    assert "hides" in dark.reason
    assert "hides" not in white.reason


def test_the_score_is_the_sum_of_its_terms():
    found = marking({"glossy": 0.4, "satin": 0.3, "matte": 0.2, "underfired": 0.1}, _fired(SnO2=3))
    assert found.score == pytest.approx(sum(part for _, part in found.terms))
    # By hand from the weights: 0.4 x 0.05 + 0.3 x 0.35 + 0.2 x 0.75 + 0.1 x 0.9 + 0.5 x 0.05.
    assert found.score == pytest.approx(0.02 + 0.105 + 0.15 + 0.09 + 0.025)
    assert f"{found.score:.2f} ± {found.score_error:.1f}" in found.reason


def test_a_trace_of_titania_is_no_opacifier():
    assert "titania" not in _sure("glossy", TiO2=0.3).reason


def test_the_reason_says_that_there_is_no_standard_test_and_how_to_try():
    found = _sure("satin")
    assert "no international standard test" in found.reason
    for word in ("spoon", "vinegar", "day", "half"):
        assert word in found.bench_test


def test_what_cannot_be_said_is_none():
    assert marking(None, _fired()) is None
    assert marking({"glossy": 1.0}, None) is None


def test_every_term_names_its_source():
    rule = marking_rule()
    for row in (*rule.opacifiers, rule.visibility):
        assert row.source
        assert row.confidence
    assert set(rule.surfaces) == set(SURFACES)
    assert {row.id for row in rule.opacifiers} <= set(OXIDES)
    assert set(rule.visibility.colouring) <= set(OXIDES)


@given(
    st.tuples(*[st.floats(0, 1)] * 4).filter(lambda p: sum(p) > 0.1),
    st.lists(st.floats(0, 100), min_size=len(OXIDES), max_size=len(OXIDES)),
)
def test_figures_stay_between_none_and_all(chances, percent):
    probabilities = dict(zip(SURFACES, np.array(chances) / sum(chances), strict=True))
    found = marking(probabilities, np.array(percent))
    assert 0 <= found.score <= 1
    assert 0 <= found.visibility <= 1
