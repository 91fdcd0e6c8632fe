"""What is typed into a schedule: rates as differences, targets, holds, cones never touched."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.firing import Segment, check_segments, shipped_firings, usual_kiln
from core.firing.entry import (
    fahrenheit,
    hold_text,
    new_segment_at,
    rate_text,
    target_text,
    with_hold,
    with_rate,
    with_target,
)

KILN = usual_kiln()
RAMP = Segment("60", 900.0, 15.0)


def test_a_rate_in_fahrenheit_is_a_difference_and_a_temperature_is_not():
    # Source: definition of the degree Fahrenheit; 1 °C is 1.8 °F.
    segment = with_rate(RAMP, "100", True, KILN)
    assert segment.rate == pytest.approx(55.6, abs=0.05)
    assert rate_text(segment, True) == "100"
    assert rate_text(segment) == "55.6"
    hot = with_target(segment, "1900", True)
    assert hot.target_c == pytest.approx(1038, abs=0.5)
    assert target_text(hot, True) == "1900"
    assert fahrenheit(100.0) == 212.0


def test_words_for_what_the_kiln_decides_itself():
    assert with_rate(RAMP, " Full ", False, KILN).rate is None
    off = with_rate(RAMP, "off", False, KILN)
    assert off.natural_cooling == KILN.cooling_c_per_h
    assert with_rate(RAMP, "off 180", True, KILN).natural_cooling == pytest.approx(100.0)
    assert rate_text(off) == "off 150"
    assert target_text(off) == ""
    # Back to a ramp it has to end somewhere: where the kiln is opened.
    assert with_rate(off, "80", False, KILN).target_c == KILN.opened_c


@pytest.mark.parametrize(
    ("typed", "minutes"), [("15", 15.0), ("1:30", 90.0), ("0,5", 0.5), ("", 0.0), ("0:05", 5.0)]
)
def test_a_hold_is_minutes_or_hours_and_minutes(typed, minutes):
    assert with_hold(RAMP, typed).hold_min == minutes


@pytest.mark.parametrize("typed", ["1:5", "1:60", ":30", "1:", "a:30", "1:30:00", "ten", "١:٣٠"])
def test_what_is_no_time_is_refused(typed):
    with pytest.raises(InputError):
        with_hold(RAMP, typed)


@pytest.mark.parametrize("typed", ["", "fast", "of", "off fast", "1.000,5"])
def test_what_is_no_rate_is_refused(typed):
    with pytest.raises(InputError):
        with_rate(RAMP, typed, False, KILN)


@given(
    st.floats(1.0, 999.0),
    st.floats(30.0, 1700.0),
    st.floats(0.0, 600.0),
    st.booleans(),
)
def test_what_is_shown_reads_back_to_what_it_was(rate, target, hold, unit):
    segment = with_rate(Segment("1", 900.0), repr(rate), unit, KILN)
    segment = with_hold(with_target(segment, repr(target), unit), repr(hold))
    again = with_rate(segment, rate_text(segment, unit), unit, KILN)
    again = with_target(again, target_text(segment, unit), unit)
    assert again.rate == pytest.approx(segment.rate)
    assert again.target_c == pytest.approx(segment.target_c, abs=0.06)
    assert with_hold(segment, hold_text(segment) or "0").hold_min == segment.hold_min


@pytest.mark.parametrize("unit", [False, True])
@pytest.mark.parametrize("name", sorted(shipped_firings()))
def test_a_new_segment_fits_anywhere_before_the_natural_cooling(name, unit):
    segments = shipped_firings()[name].segments
    for row in range(len(segments)):
        new = new_segment_at(segments, row, unit)
        check_segments((*segments[:row], new, *segments[row:]))
    check_segments((new_segment_at((), 0, unit),))
