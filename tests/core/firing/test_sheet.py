"""A firing as a recipe meets it: the spans of its segments, and the cone that a shelf felt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.evaluate import evaluate
from core.firing import (
    FiringLog,
    Kiln,
    WitnessCone,
    cone_reached,
    curve_and_spans,
    firing_sheet,
    shipped_firings,
)
from core.firing.cones import rank
from core.firing.schedule import Firing

MEDIUM = shipped_firings()["cone-6-medium"]


def logged(*witnesses, begun="2031-02-09"):
    cones = tuple(WitnessCone(*w) for w in witnesses)
    return FiringLog(begun=begun, witness_cones=cones)


@pytest.mark.parametrize("name", sorted(shipped_firings()))
def test_the_spans_lie_on_the_curve_from_end_to_end(name):
    firing = shipped_firings()[name]
    curve, spans = curve_and_spans(firing)
    assert len(spans) == len(firing.segments)
    assert spans[0].start_h == 0
    assert spans[-1].end_h == pytest.approx(curve.total_hours)
    for segment, span in zip(firing.segments, spans, strict=True):
        assert span.end_h - span.reached_h == pytest.approx(segment.hold_min / 60)
        assert curve.temperature_at(span.reached_h) == pytest.approx(span.end_c)
        assert curve.temperature_at(span.start_h) == pytest.approx(span.start_c)


def test_without_a_witness_the_shelf_feels_the_set_curve():
    sheet = firing_sheet(MEDIUM, shelf="top")
    assert sheet.local is None
    assert sheet.felt is sheet.curve
    assert sheet.felt_cone == "6"


def test_a_witness_moves_the_felt_curve_to_its_cone():
    firing = replace(MEDIUM, log=(logged(("top", "7", 6.0), ("low", "5", 6.0)),))
    top, low = firing_sheet(firing, shelf="top"), firing_sheet(firing, shelf="low")
    assert cone_reached(top.felt).position == pytest.approx(rank("7"), abs=2e-3)
    assert cone_reached(low.felt).position == pytest.approx(rank("5"), abs=2e-3)
    assert low.felt.peak_c < low.curve.peak_c < top.felt.peak_c
    # Source: the cone table: cone 7 stands 17 °C above cone 6 at 60 °C/h.
    assert top.felt.peak_c - top.curve.peak_c == pytest.approx(17, abs=1.5)
    assert np.array_equal(top.felt.hours, top.curve.hours)
    assert top.felt_error == top.local.uncertainty


def test_the_last_firing_by_date_counts():
    firing = replace(
        MEDIUM,
        log=(
            logged(("top", "7", 6.0), begun="2031-03-01"),
            logged(("top", "5", 6.0), begun="2031-01-01"),
            logged(("low", "6", 6.0), begun="2031-04-01"),
        ),
    )
    sheet = firing_sheet(firing, shelf="top")
    assert sheet.felt_cone == "7"
    assert sheet.local_log is firing.log[0]


@pytest.mark.parametrize(
    ("cone", "clock", "felt"), [("5", 7.0, "6"), ("7", 7.0, "7"), ("7", 12.0, "6")]
)
def test_a_bound_counts_only_where_it_contradicts(cone, clock, felt):
    firing = replace(MEDIUM, log=(logged(("top", cone, clock)),))
    assert firing_sheet(firing, shelf="top").felt_cone == felt


def test_a_schedule_without_segments_has_no_sheet():
    assert firing_sheet(Firing("empty")) is None


def test_a_kiln_of_ones_own_cools_by_its_own_rate():
    slow = Kiln("brick", heating_c_per_h=100.0, cooling_c_per_h=40.0, cooling_from_c=1200.0)
    # The schedule switches off at 150 °C/h whatever the kiln; "full" is the kiln's own.
    drop = shipped_firings()["cone-6-slow-cool"]
    assert firing_sheet(drop, slow).curve.total_hours > firing_sheet(drop).curve.total_hours


def test_the_reading_uses_the_local_cone(fixture_recipe, studio):
    firing = studio.firings[fixture_recipe.firing]
    cooler = replace(firing, log=(logged(("low", "8", 6.0)),))
    here = replace(studio, firings={**studio.firings, firing.id: cooler})
    set_, felt = (
        evaluate(replace(fixture_recipe, shelf=shelf), here).melt for shelf in ("", "low")
    )
    assert felt.peak_c < set_.peak_c
    assert felt.log10_viscosity.value > set_.log10_viscosity.value
