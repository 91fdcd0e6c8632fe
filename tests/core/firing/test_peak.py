"""The peak of a whole schedule for a cone, from the integral that reads it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.errors import InputError
from core.firing import Segment, cone_reached, firing_curve, peak_for, shipped_firings
from core.firing.cones import rank
from core.firing.peak import peak_row, with_peak_for
from core.firing.schedule import Firing


@pytest.mark.parametrize("cone", ["06", "6", "010", "10"])
def test_on_a_straight_ramp_it_is_the_peak_for_that_cone(cone):
    ramp = Firing("ramp", segments=(Segment("60", 300.0, 15.0),))
    found = with_peak_for(ramp, cone)
    assert found.peak_c == pytest.approx(peak_for(cone, 60.0, 15.0), abs=0.6)


def test_cones_6_and_06_stay_224_degrees_apart():
    # Source: the cone table, self-supporting, 60 °C/h: 1222 and 998 °C.
    ramp = Firing("ramp", segments=(Segment("60", 300.0),))
    difference = with_peak_for(ramp, "6").peak_c - with_peak_for(ramp, "06").peak_c
    assert difference == pytest.approx(224, abs=1)


@pytest.mark.parametrize("name", sorted(shipped_firings()))
def test_the_solved_schedule_reaches_the_cone_and_only_the_peak_moved(name):
    firing = shipped_firings()[name]
    found = with_peak_for(firing, firing.cone, cones_more=0.3)
    reached = cone_reached(firing_curve(found)).position
    # The peak is rounded to a degree; cones 10 and 11 stand 9 °C apart.
    assert reached == pytest.approx(rank(firing.cone) + 0.3, abs=0.1)
    row = peak_row(firing)
    assert replace(found.segments[row], to_c=0) == replace(firing.segments[row], to_c=0)
    others = [s for i, s in enumerate(found.segments) if i != row]
    assert others == [s for i, s in enumerate(firing.segments) if i != row]


def test_a_longer_hold_asks_for_a_lower_peak_and_fahrenheit_stays_fahrenheit():
    ramp = Firing("ramp", segments=(Segment(rate_f_per_h="108", to_f=500.0),))
    plain = with_peak_for(ramp, "6")
    held = with_peak_for(ramp.with_segment(0, replace(ramp.segments[0], hold_min=30.0)), "6")
    assert held.peak_c < plain.peak_c
    assert plain.segments[0].to_c is None
    assert plain.segments[0].to_f == round(plain.segments[0].to_f)


def test_what_cannot_be_reached_is_said():
    firing = shipped_firings()["cone-10-slow-cool"]
    with pytest.raises(InputError, match="no peak between"):
        with_peak_for(firing, "022")
    with pytest.raises(InputError, match="no cone"):
        with_peak_for(firing, "6.5")
    with pytest.raises(InputError, match="off the series"):
        with_peak_for(firing, "14", cones_more=2.0)
    with pytest.raises(InputError, match="no peak"):
        with_peak_for(Firing("empty"), "6")
