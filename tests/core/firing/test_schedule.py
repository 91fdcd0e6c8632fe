"""Schedules: the shipped ones against the cone table, and what no kiln can fire."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.firing import Firing, Segment, check_segments, read_firing, shipped_firings
from core.firing.cones import end_point
from core.firing.schedule import segment_fault

# The example of the design, section 6.
DESIGN = """\
glost: "1"
kind: firing
id: "slow-satin"
name: "Cone 6 with a slow cool"
segments:
  - {rate_c_per_h: "60", to_c: "900"}
  - {rate_c_per_h: "100", to_c: "1120"}
  - {rate_c_per_h: "60", to_c: "1215", hold_min: "15"}
  - {rate_c_per_h: "full", to_c: "1100"}
  - {rate_c_per_h: "65", to_c: "850"}
  - {natural_cooling: "150"}
"""


def _read(tmp_path, text: str):
    path = tmp_path / "firing.yaml"
    path.write_text(text, encoding="utf-8")
    return read_firing(path)


MEDIUM = [f for f in shipped_firings().values() if not f.id.endswith(("fast", "drop-and-hold"))]


def _to_the_peak(firing):
    peak = [s.to_c for s in firing.segments].index(firing.peak_c)
    return firing.segments[peak - 1], firing.segments[peak]


@pytest.mark.parametrize("firing", MEDIUM, ids=lambda f: f.id)
def test_a_medium_firing_peaks_at_the_end_point_of_its_cone(firing):
    # Source: the published chart at 60 °C/h; medium is 60 °C/h over the last 100 °C (design, 6).
    assert firing.peak_c == end_point(firing.cone, 60)
    before, peak = _to_the_peak(firing)
    assert (peak.rate, peak.hold_min) == (60, 0)
    assert firing.peak_c - before.to_c == 100
    assert firing.segments[-1].natural_cooling == 150


@pytest.mark.parametrize("id_", ["cone-6-fast", "cone-10-fast"])
def test_a_fast_firing_peaks_at_the_end_point_of_its_cone_at_150(id_):
    # Source: the published chart at 150 °C/h.
    firing = shipped_firings()[id_]
    assert firing.peak_c == end_point(firing.cone, 150)
    before, peak = _to_the_peak(firing)
    assert (peak.rate, peak.hold_min) == (150, 0)
    assert firing.peak_c - before.to_c == 100


def test_at_least_eight_firings_are_shipped_and_marked_as_common_practice():
    assert len(shipped_firings()) >= 8
    for firing in shipped_firings().values():
        assert firing.source == "common practice, no source"
        assert firing.confidence == "practice"
        assert firing.cone
        assert not firing.log


@pytest.mark.parametrize("id_", ["cone-6-slow-cool", "cone-10-slow-cool"])
def test_a_slow_cool_holds_an_hour_and_goes_on_slowly(id_):
    # Source: design, section 6: 60 minutes at 1080 °C and 65 °C/h to 850 °C.
    hold, slow = shipped_firings()[id_].segments[-3:-1]
    assert (hold.to_c, hold.hold_min) == (1080, 60)
    assert (slow.rate_c_per_h, slow.to_c) == ("65", 850)
    medium = shipped_firings()[id_.replace("slow-cool", "medium")]
    assert shipped_firings()[id_].segments[:3] == medium.segments[:3]


def test_the_example_of_the_design_is_read(tmp_path):
    firing = _read(tmp_path, DESIGN)
    assert firing.peak_c == 1215
    assert firing.cone == ""
    assert len(firing.segments) == 6
    assert firing.segments[2].hold_min == 15


def test_a_schedule_without_segments_has_no_peak(tmp_path):
    assert _read(tmp_path, 'glost: "1"\nkind: firing\nid: "x"\n').peak_c is None


@pytest.mark.parametrize(
    ("segment", "word"),
    [
        ('{rate_c_per_h: "60"}', "nowhere"),
        ('{rate_c_per_h: "60", to_c: "1900"}', "reach"),
        ('{rate_c_per_h: "60", to_c: "-5"}', "reach"),
        ('{rate_c_per_h: "60", to_c: "900", hold_min: "-1"}', "holds"),
        ('{rate_c_per_h: "0", to_c: "900"}', "not positive"),
        ('{rate_c_per_h: "-60", to_c: "900"}', "not positive"),
        ('{rate_c_per_h: "fast", to_c: "900"}', "not a number"),
        ('{rate_c_per_h: "nan", to_c: "900"}', "not a number"),
        ('{to_c: "900"}', "not a number"),
        ('{natural_cooling: "0"}', "positive"),
        ('{natural_cooling: "inf"}', "not a number"),
    ],
)
def test_a_segment_that_no_kiln_can_fire_is_named(tmp_path, segment, word):
    text = f'glost: "1"\nkind: firing\nid: "x"\nsegments:\n  - {segment}\n'
    with pytest.raises(InputError, match=word) as fault:
        _read(tmp_path, text)
    assert fault.value.line == 5
    assert fault.value.path.startswith("segments[0]")


def test_a_cone_that_is_not_in_the_series_is_refused(tmp_path):
    with pytest.raises(InputError, match="no cone '60'") as fault:
        _read(tmp_path, 'glost: "1"\nkind: firing\nid: "x"\ncone: 60\n')
    assert (fault.value.line, fault.value.path) == (4, "cone")


def test_a_cone_without_quotes_stays_text(tmp_path):
    assert _read(tmp_path, 'glost: "1"\nkind: firing\nid: "x"\ncone: 06\n').cone == "06"


def test_a_firing_without_an_id_is_refused(tmp_path):
    for id_ in ("", 'id: ""\n', 'id: " "\n'):
        with pytest.raises(InputError):
            _read(tmp_path, f'glost: "1"\nkind: firing\n{id_}name: "x"\n')


def test_a_rate_in_fahrenheit_is_a_difference_and_a_temperature_is_not():
    # Source: the definition of the Fahrenheit degree, 1.8 to one of Celsius, 32 at freezing.
    segment = Segment(rate_f_per_h="100", to_f=1900.0)
    assert segment.rate == pytest.approx(55.6, abs=0.05)
    assert segment.target_c == pytest.approx(1038, abs=0.5)
    assert Segment(rate_f_per_h="180", to_f=212.0).rate == pytest.approx(100.0)
    assert Segment(rate_f_per_h="180", to_f=212.0).target_c == pytest.approx(100.0)
    assert Segment(rate_f_per_h="full", to_f=212.0).rate is None


def test_a_schedule_in_fahrenheit_is_the_same_firing(tmp_path):
    # Source: tests/data/cones.yaml, cross_check_F: cone 6 at 108 °F/h is 2232 °F.
    text = 'glost: "1"\nkind: firing\nid: x\nsegments:\n- {rate_f_per_h: "108", to_f: "2232"}\n'
    firing = _read(tmp_path, text)
    assert firing.segments[0].rate == pytest.approx(60.0)
    assert firing.peak_c == pytest.approx(1222.2, abs=0.05)


RAMP = Segment("100", 1000.0)
BAD = [
    ([RAMP, Segment("-65", 1100.0)], 2, "written as a cooling"),
    ([RAMP, Segment("-65", 900.0)], 2, "not positive"),
    ([RAMP, Segment("0", 900.0)], 2, "not positive"),
    ([RAMP, Segment("nan", 900.0)], 2, "not a number"),
    ([RAMP, Segment("", 900.0)], 2, "not a number"),
    ([RAMP, Segment("60")], 2, "nowhere"),
    ([RAMP, Segment("1e9", 1100.0)], 2, "no kiln"),
    ([RAMP, Segment("0.001", 1100.0)], 2, "no kiln"),
    ([RAMP, Segment("60", 1900.0)], 2, "reach"),
    ([RAMP, Segment("60", float("nan"))], 2, "reach"),
    ([RAMP, Segment("60", 1000.0)], 2, "no time"),
    ([RAMP, Segment("60", 1100.0, -5.0)], 2, "minutes"),
    ([RAMP, Segment("60", 1100.0, 1e7)], 2, "minutes"),
    ([RAMP, Segment("60", 1100.0, to_f=2000.0)], 2, "twice"),
    ([RAMP, Segment("60", 1100.0, rate_f_per_h="60")], 2, "twice"),
    ([RAMP, Segment("full", 15.0)], 2, "below the room"),
    ([RAMP, Segment(natural_cooling=150.0), RAMP], 2, "before the end"),
    ([RAMP, Segment(natural_cooling=-150.0)], 2, "positive"),
    ([RAMP, Segment(natural_cooling=1300.0)], 2, "no kiln has"),
    ([RAMP, Segment(natural_cooling=float("nan"))], 2, "positive"),
    ([RAMP, Segment(natural_cooling=150.0, to_c=1100.0)], 2, "natural cooling but climbs"),
    ([RAMP, Segment(natural_cooling=150.0, to_c=10.0)], 2, "below the room"),
    ([RAMP, Segment(natural_cooling=150.0, hold_min=5.0)], 2, "switched off"),
    ([RAMP, Segment("60", natural_cooling=150.0)], 2, "keep one"),
    ([Segment(natural_cooling=150.0)], 1, "cold"),
    ([RAMP, Segment("60", 900.0)] * 51, 101, "too many"),
]


@pytest.mark.parametrize(("segments", "number", "word"), BAD)
def test_a_bad_schedule_is_refused_with_the_segment_named(segments, number, word):
    with pytest.raises(InputError, match=f"segment {number} .*{word}") as fault:
        check_segments(segments)
    assert fault.value.mend


@pytest.mark.parametrize(("segments", "number", "word"), BAD)
def test_a_bad_edit_leaves_the_firing_as_it_was(segments, number, word):
    firing = Firing("x", segments=(RAMP,))
    with pytest.raises(InputError):
        firing.with_segments(segments)
    assert firing == Firing("x", segments=(RAMP,))


def test_an_edit_gives_a_new_firing():
    firing = Firing("x", segments=(RAMP, Segment("60", 1200.0)))
    longer = firing.with_segment(1, Segment("60", 1200.0, 30.0))
    assert firing.segments[1].hold_min == 0
    assert longer.segments == (RAMP, Segment("60", 1200.0, 30.0))
    with pytest.raises(InputError, match="segment 1"):
        firing.with_segment(0, Segment("60", -1.0))


def test_a_hold_may_stand_alone_at_the_temperature_reached():
    check_segments([RAMP, Segment("60", 1000.0, 30.0)])


@given(st.text(max_size=12), st.floats(), st.floats(), st.none() | st.floats())
def test_whatever_is_typed_a_segment_is_sound_or_refused_in_words(rate, to_c, hold, cooling):
    fault = segment_fault([RAMP, Segment(rate, to_c, hold, cooling)])
    assert fault is None or (fault.row == 1 and fault.what and fault.mend)
