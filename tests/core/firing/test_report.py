"""The reading of a firing in JSON and in words."""

from __future__ import annotations

import json

import pytest

from core.errors import InputError
from core.firing import Firing, Segment
from core.firing.cones import end_point
from core.firing.report import firing_report, firing_report_text


@pytest.mark.parametrize("cone", ["06", "6", "010", "10", "05.5", "5.5"])
def test_a_cone_is_the_same_text_in_json_and_in_words(cone):
    firing = Firing("x", cone=cone, segments=(Segment("60", end_point(cone, 60)),))
    values = json.loads(json.dumps(firing_report(firing), allow_nan=False))
    assert values["cone"] == values["stated_cone"] == cone
    assert values["text"] == f"cone {cone}"
    assert f"cone {cone} " in firing_report_text(values)
    assert "itself says" not in firing_report_text(values)


def test_a_schedule_that_says_another_cone_is_told_so():
    firing = Firing("x", cone="6", segments=(Segment("60", 998.0),))
    text = firing_report_text(firing_report(firing))
    assert "cone 06" in text
    assert "The schedule itself says cone 6." in text


def test_figures_that_do_not_exist_are_null():
    values = firing_report(Firing("x", segments=(Segment("60", 300.0),)))
    assert values["cone"] is values["fraction"] is values["uncertainty"] is None
    assert values["cooling_c_per_h_1100_to_800"] is None
    assert values["stated_cone"] is None
    assert values["text"] == "below cone 022"
    json.dumps(values, allow_nan=False)
    text = firing_report_text(values)
    assert "None" not in text
    assert "nan" not in text


def test_a_firing_without_segments_has_no_reading():
    with pytest.raises(InputError, match="no segments"):
        firing_report(Firing("x"))
