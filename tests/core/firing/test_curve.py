"""Curves of schedules: times, areas and rates against arithmetic done by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from core.firing import Firing, FiringCurve, Segment, firing_curve
from core.firing.kiln import usual_kiln

# 20 to 1020 in 10 h, an hour's hold, down to 520 in 5 h.
PLAIN = FiringCurve([0, 10, 11, 16], [20, 1020, 1020, 520])


def test_a_schedule_becomes_a_curve_from_the_room_on():
    firing = Firing("x", segments=(Segment("100", 1020.0, 60.0), Segment("100", 520.0)))
    curve = firing_curve(firing)
    assert curve.hours.tolist() == PLAIN.hours.tolist()
    assert curve.temperatures_c.tolist() == PLAIN.temperatures_c.tolist()
    assert (curve.total_hours, curve.peak_c) == (16.0, 1020.0)


def test_a_rate_in_fahrenheit_takes_the_same_time():
    celsius = firing_curve(Firing("x", segments=(Segment("100", 1020.0),)))
    fahrenheit = firing_curve(Firing("x", segments=(Segment(rate_f_per_h="180", to_f=1868.0),)))
    assert fahrenheit.total_hours == pytest.approx(celsius.total_hours)
    assert fahrenheit.peak_c == pytest.approx(celsius.peak_c)


def test_natural_cooling_is_newtons_law():
    # Source: Newton's law of cooling, T = room + (T0 - room) exp(-t/tau), tau = (T0 - room)/rate.
    firing = Firing("x", segments=(Segment("100", 1220.0), Segment(natural_cooling=150.0)))
    curve = firing_curve(firing)
    tau = 1200.0 / 150.0
    for t in (0.5, 2.0, 5.0, 12.0):
        expected = 20.0 + 1200.0 * math.exp(-t / tau)
        assert float(curve.temperature_at(12.0 + t)) == pytest.approx(expected, abs=1.0)
    assert curve.temperatures_c[-1] == usual_kiln().opened_c
    assert curve.total_hours == pytest.approx(12.0 + tau * math.log(1200.0 / 80.0))
    assert curve.rate_at(12.001) == pytest.approx(-150.0, rel=0.05)


def test_full_is_the_kilns_own_rate():
    kiln = usual_kiln()
    firing = Firing("x", segments=(Segment("full", 1020.0), Segment("full", 900.0, 30.0)))
    curve = firing_curve(firing)
    heating = 1000.0 / kiln.heating_c_per_h
    cooling = kiln.time_constant_h * math.log(1000.0 / 880.0)
    assert curve.total_hours == pytest.approx(heating + cooling + 0.5)
    assert curve.rate_at(0.1) == pytest.approx(kiln.heating_c_per_h)


def test_time_above_a_temperature():
    assert float(PLAIN.hours_above(520.0)) == pytest.approx(5 + 1 + 5)
    assert float(PLAIN.hours_above(1019.999999)) == pytest.approx(1.0, abs=1e-6)
    assert float(PLAIN.hours_above(1020.0)) == 0.0
    assert float(PLAIN.hours_above(-10.0)) == PLAIN.total_hours
    assert PLAIN.hours_above([[520.0, 1020.0]]).shape == (1, 2)


def test_the_rate_at_a_time():
    assert [PLAIN.rate_at(h) for h in (-1, 0, 5, 10, 10.5, 11, 16, 99)] == [
        *(0.0, 100.0, 100.0, 0.0, 0.0, -100.0, 0.0, 0.0)
    ]


def test_the_mean_cooling_rate_counts_the_holds():
    assert PLAIN.cooling_rate_between(920, 620) == pytest.approx(100.0)
    held = FiringCurve([0, 10, 11, 13, 16], [20, 1020, 920, 920, 620])
    # 300 °C from 920 (reached at 11 h) to 620 (at 16 h), but the last time at 920 is 13 h.
    assert held.cooling_rate_between(920, 620) == pytest.approx(100.0)
    # 1000 is passed at 10.2 h, 620 at 16 h.
    assert held.cooling_rate_between(1000, 620) == pytest.approx(380 / 5.8)


@pytest.mark.parametrize("limits", [(1100, 800), (900, 400)])
def test_where_it_does_not_cool_through_both_there_is_no_rate(limits):
    assert PLAIN.cooling_rate_between(*limits) is None


def test_the_last_cooling_counts_not_the_first():
    twice = FiringCurve([0, 1, 2, 3, 13], [20, 1000, 500, 1000, 500])
    assert twice.cooling_rate_between(900, 600) == pytest.approx(50.0)
    with pytest.raises(ValueError, match="not above"):
        twice.cooling_rate_between(600, 900)


@pytest.mark.parametrize(
    ("hours", "temperatures"),
    [([], []), ([0, 1], [20]), ([1, 0], [20, 30]), ([0, math.nan], [1, 2]), ([0], [math.inf])],
)
def test_what_is_no_curve_is_refused(hours, temperatures):
    with pytest.raises(ValueError, match="must"):
        FiringCurve(hours, temperatures)


def test_a_curve_does_not_change():
    with pytest.raises(ValueError, match="read-only"):
        PLAIN.temperatures_c[0] = 5.0
    source = np.array([0.0, 1.0])
    curve = FiringCurve(source, [20, 30])
    source[0] = 0.5
    assert curve.hours[0] == 0.0


def test_an_empty_schedule_is_a_cold_kiln():
    curve = firing_curve(Firing("x"))
    assert (curve.total_hours, curve.peak_c) == (0.0, 20.0)
    assert float(curve.hours_above(10.0)) == 0.0
