"""Logs: the cone of a shelf from its witness cones, and drift from five firings on."""

from __future__ import annotations

import numpy as np
import pytest

from core.errors import InputError
from core.firing import FiringLog, WitnessCone, drift, local_cone
from core.firing.cones import rank


def log(*witnesses: tuple[str, str, float], begun: str = "2031-02-09") -> FiringLog:
    return FiringLog(begun=begun, witness_cones=tuple(WitnessCone(*w) for w in witnesses))


def test_a_cone_at_six_oclock_is_that_cone():
    # Source: the definition of the end point in the chart: the tip is down.
    found = local_cone(log(("top", "6", 6.0)), "top")
    assert found.position == pytest.approx(rank("6"))
    assert found.text == "cone 6"
    assert found.bound == ""
    # 2 °C between cones of one number and half an hour of the clock, against some 18 °C a cone.
    assert 0.1 < found.uncertainty < 0.25


def test_a_half_bent_cone_is_less_than_a_cone_short():
    # Source: notes to the chart: the bend takes 15 to 25 minutes, so about 20 °C at 60 °C/h;
    # cones 5.5 and 7 stand 36 °C apart around cone 6: 10 °C of 18 are 0.56 of a cone.
    found = local_cone(log(("top", "6", 3.0)), "top")
    assert found.position == pytest.approx(rank("6") - 10 / 18, abs=1e-9)


def test_a_further_bend_is_never_a_lower_cone():
    clocks = [1, 2, 3, 3.5, 5, 6]
    found = [local_cone(log(("a", "04", c)), "a").position for c in clocks]
    assert found == sorted(set(found))


def test_shelves_are_told_apart():
    one = log(("top", "6", 6.0), ("bottom", "5", 5.0), ("top", "7", 1.0))
    assert one.shelves() == ("top", "bottom")
    assert local_cone(one, "top").position > local_cone(one, "bottom").position
    assert local_cone(one, "middle") is None
    assert local_cone(FiringLog(), "top") is None


def test_two_bending_cones_agree_better_than_one_and_contradictions_are_less_certain():
    alone = local_cone(log(("a", "6", 6.0)), "a")
    agree = local_cone(log(("a", "6", 6.0), ("a", "6", 6.0)), "a")
    contradict = local_cone(log(("a", "6", 6.0), ("a", "8", 6.0)), "a")
    assert agree.uncertainty < alone.uncertainty < contradict.uncertainty
    assert rank("6") < contradict.position < rank("8")


def test_flat_and_upright_cones_only_bound_the_place():
    flat = local_cone(log(("a", "6", 7.0)), "a")
    assert (flat.bound, flat.text) == ("at least", "at least cone 6")
    assert local_cone(log(("a", "6", 12.0)), "a").bound == "at most"
    between = local_cone(log(("a", "5", 7.0), ("a", "7", 12.0)), "a")
    assert between.bound == ""
    assert rank("5") < between.position < rank("7")
    # A bending one beside them gives the figure.
    beside = local_cone(log(("a", "5", 7.0), ("a", "6", 6.0)), "a")
    assert beside.position == pytest.approx(rank("6"))


@pytest.mark.parametrize("clock", [0.0, 0.5, 8.0, 11.0, -3.0, float("nan")])
def test_no_cone_points_there(clock):
    with pytest.raises(InputError, match="o'clock"):
        local_cone(log(("a", "6", clock)), "a")


def test_cones_06_and_6_are_different_witnesses():
    cool, hot = (local_cone(log(("a", c, 6.0)), "a").position for c in ("06", "6"))
    assert hot - cool == pytest.approx(rank("6") - rank("06"))
    assert hot - cool > 10
    with pytest.raises(InputError, match=r"no cone '6\.0'"):
        local_cone(log(("a", "6.0", 6.0)), "a")


def _firings(clocks) -> list[FiringLog]:
    return [log(("a", "6", c), begun=f"2031-03-{day:02}") for day, c in enumerate(clocks, 1)]


def test_drift_needs_five_firings():
    assert drift([]) is None
    assert drift(_firings([6, 6, 5, 5])) is None
    # A firing without a reading does not count.
    assert drift([*_firings([6, 6, 5, 5]), FiringLog(begun="2031-04-01")]) is None
    assert drift([*_firings([6, 6, 5, 5]), log(("a", "6", 7.0), begun="2031-04-01")]) is None
    assert drift(_firings([6, 6, 5, 5, 4])) is not None


def test_drift_is_the_line_of_least_squares():
    # Source: numpy.polyfit and its covariance, an independent implementation.
    clocks = [6.0, 5.5, 5.7, 5.0, 4.8, 4.9, 4.1]
    found = drift(list(reversed(_firings(clocks))))
    assert found.dates == tuple(f"2031-03-{day:02}" for day in range(1, 8))
    (slope, _), covariance = np.polyfit(range(7), found.positions, 1, cov=True)
    assert found.slope == pytest.approx(slope)
    assert found.slope < 0
    assert found.slope_error == pytest.approx(covariance[0, 0] ** 0.5)


def test_drift_of_one_shelf():
    logs = [
        log(("a", "6", 6.0), ("b", "6", 6.0 - day), begun=f"2031-03-0{day}") for day in range(1, 6)
    ]
    assert drift(logs, "a").slope == pytest.approx(0.0, abs=1e-12)
    assert drift(logs, "b").slope < drift(logs).slope < 0
    assert drift(logs, "c") is None
