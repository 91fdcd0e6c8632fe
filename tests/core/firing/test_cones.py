"""Cones against the published chart; a cone is text."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.firing.cones import COLUMNS, cones, end_point, nearest, position_text, rank


def _figures(chart_column) -> dict[tuple[str, float], float]:
    return {
        (cone, float(rate)): float(temperature)
        for cone, row in chart_column["values"].items()
        for rate, temperature in row.items()
        if isinstance(rate, int) and temperature is not None
    }


@pytest.mark.parametrize(
    ("column", "published", "left_out"),
    [
        ("self_supporting", "self_supporting_regular", set()),
        # The chart prints large cone 14 out of order and warns of it.
        ("large", "large_regular", {"14"}),
    ],
)
def test_every_end_point_is_that_of_the_published_chart(cone_chart, column, published, left_out):
    # Source: cones.yaml, the cone maker's chart C-022-14-2016 and its reprints.
    expected = _figures(cone_chart[published])
    expected = {key: value for key, value in expected.items() if key[0] not in left_out}
    found = {
        (cone.cone, float(rate)): float(temperature)
        for cone in cones()
        for rate, temperature in getattr(cone, column).items()
    }
    assert found == expected
    assert len(found) == {"self_supporting": 111, "large": 66}[column]


def test_small_cones_are_those_of_the_published_chart(cone_chart):
    # Source: cones.yaml, the cone maker's chart, small cones at 300 °C/h.
    expected = cone_chart["small_regular"]["values"]
    assert {c.cone: c.small["300"] for c in cones() if c.small} == expected


def test_cone_6_is_what_an_e_mail_archive_quotes_in_fahrenheit(cone_chart):
    # Source: cones.yaml, potters.org subject 81597: 2165, 2232, 2269 °F at 27, 108, 270 °F/h.
    check = cone_chart["cross_check_F"][0]
    for rate_f, fahrenheit in zip(check["rates_F_per_h"], check["printed_F"], strict=True):
        # A rate is a difference of temperatures: 108 °F/h are 60 °C/h.
        celsius = (fahrenheit - 32) / 1.8
        assert end_point(check["cone"], rate_f / 1.8) == pytest.approx(celsius, abs=0.5)


def test_cones_stand_in_the_order_of_the_series(cone_chart):
    assert [cone.cone for cone in cones()] == cone_chart["order"]
    assert [rank(cone) for cone in cone_chart["order"]] == list(range(len(cones())))
    assert rank("023") is None
    assert rank(" 6") is None


@pytest.mark.parametrize("rate", [60.0, 150.0])
@pytest.mark.parametrize("column", ["self_supporting", "large"])
def test_a_higher_cone_is_hotter(column, rate):
    points = [
        end_point(c.cone, rate, column) for c in cones() if str(int(rate)) in getattr(c, column)
    ]
    assert len(points) > 30
    assert points == sorted(set(points))


def test_faster_heating_needs_more_heat():
    for cone in cones():
        for column in COLUMNS:
            table = getattr(cone, column)
            by_rate = [table[rate] for rate in sorted(table, key=float)]
            assert by_rate == sorted(set(by_rate))


def test_cone_06_is_not_cone_6():
    # Source: the published chart, 998 and 1222 °C at 60 °C/h.
    assert end_point("6", 60) - end_point("06", 60) == 224.0
    with pytest.raises(InputError, match=r"'6\.0'"):
        end_point("6.0", 60)


@given(
    st.sampled_from([c.cone for c in cones() if len(c.self_supporting) == 3]), st.floats(15, 150)
)
def test_between_the_rates_the_end_point_lies_between_the_figures(cone, rate):
    low, high = (15, 60) if rate <= 60 else (60, 150)
    assert end_point(cone, low) <= end_point(cone, rate) <= end_point(cone, high)


def test_halfway_in_the_logarithm_is_halfway_in_temperature():
    # Linear in the logarithm of the rate: common practice, no source.
    middle = math.sqrt(60 * 150)
    assert end_point("10", middle) == pytest.approx((1285 + 1305) / 2, abs=1e-9)


@pytest.mark.parametrize(
    ("cone", "rate", "column"),
    [
        ("6", 14.9, "self_supporting"),
        ("6", 151, "self_supporting"),
        ("6", 300, "small"),
        ("6", float("nan"), "self_supporting"),
        ("022", 15, "self_supporting"),
        ("99", 60, "self_supporting"),
        ("6", 60, "giant"),
    ],
)
def test_beyond_the_chart_there_is_no_figure(cone, rate, column):
    with pytest.raises(InputError):
        end_point(cone, rate, column)


@given(st.floats(-3, 41))
def test_a_place_in_the_series_is_its_nearest_cone_and_a_fraction(position):
    cone, fraction = nearest(position)
    if cone:
        assert rank(cone) + fraction == pytest.approx(position)
        assert abs(fraction) <= 0.5
        assert position_text(position).startswith(f"cone {cone}")
    else:
        assert position < -0.5 or position >= 37.5


def test_a_place_in_words_keeps_the_cone_as_text():
    for cone in ("06", "6", "010", "10", "5.5"):
        assert position_text(rank(cone)) == f"cone {cone}"
        assert position_text(rank(cone) + 0.3) == f"cone {cone} + 0.3"
        assert position_text(rank(cone) - 0.3) == f"cone {cone} − 0.3"
        assert position_text(rank(cone) - 0.04) == f"cone {cone}"
