"""Dwell times: a firing's time, shared out over the temperatures of the melt's curve."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from core.evaluate import evaluate
from core.firing import FiringCurve, firing_curve, shipped_firings
from core.melt.sheet import COOLEST_C, CURVE_C, HOTTEST_C
from core.reading.dwell import dwell_s, flow_error


@pytest.mark.parametrize("firing", list(shipped_firings()))
def test_the_times_add_up_to_the_time_above_the_coolest(firing):
    curve = firing_curve(shipped_firings()[firing])
    assert dwell_s(curve).sum() == pytest.approx(3600 * float(curve.hours_above(COOLEST_C)))


def test_a_rate_that_doubles_every_twenty_degrees_integrates_as_by_quadrature():
    curve = FiringCurve([0, 4, 6, 6.5, 9], [20, 1003, 1217, 1217, 655])

    def rate(celsius):
        return 2.0 ** ((celsius - 1200.0) / 20.0)

    found = dwell_s(curve) @ rate(CURVE_C)
    parts = [
        quad(lambda t: rate(float(curve.temperature_at(t))), a, b, limit=200)[0]
        for a, b in zip(curve.hours[:-1], curve.hours[1:], strict=True)
    ]
    # Straight pieces of 10 K overrate this curve by (ln 2 / 2)^2 / 12 = 1 %.
    assert found == pytest.approx(3600 * sum(parts), rel=0.012)


def test_a_straight_rate_integrates_exactly():
    curve = FiringCurve([0, 1, 2, 3], [705, 1203, 1203, 991])
    mean = [(705 + 1203) / 2, 1203, (1203 + 991) / 2]
    assert dwell_s(curve) @ CURVE_C == pytest.approx(3600 * sum(mean))


def test_heat_beyond_the_curve_counts_at_its_end_and_cold_does_not():
    hot = FiringCurve([0, 1], [1500, 1500])
    assert dwell_s(hot)[-1] == 3600
    through = FiringCurve([0, 1], [1390, 1450])
    assert dwell_s(through).sum() == pytest.approx(3600)
    assert dwell_s(through)[-1] == pytest.approx(3600 * (5 + 50) / 60)
    assert CURVE_C[-1] == HOTTEST_C
    assert not dwell_s(FiringCurve([0, 1, 2], [20, 699, 20])).any()
    assert not dwell_s(FiringCurve([0], [1200])).any()


def test_one_curve_is_worked_out_once_and_kept_from_change():
    curve = FiringCurve([0, 1], [1200, 1200])
    assert dwell_s(curve) is dwell_s(curve)
    with pytest.raises(ValueError, match="read-only"):
        dwell_s(curve)[0] = 1.0


def test_errors_that_differ_count_by_what_their_temperature_brings(fixture_recipe, studio):
    sheet = evaluate(fixture_recipe, studio).melt
    seconds = np.zeros(len(CURVE_C))
    seconds[40] = 1.0
    assert flow_error(seconds, sheet, np.ones(len(CURVE_C))) == sheet.curve_error[40]
