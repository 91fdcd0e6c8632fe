"""Schedules: the shipped ones against the cone table, and what a schedule may not say."""

from __future__ import annotations

import pytest

from core.cones import end_point
from core.errors import InputError
from core.firings import read_firing, shipped_firings

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


@pytest.mark.parametrize("firing", shipped_firings().values(), ids=lambda f: f.id)
def test_a_shipped_firing_peaks_at_the_end_point_of_its_cone(firing):
    # Source: the published chart at 60 °C/h; medium is 60 °C/h over the last 100 °C (design, 6).
    assert firing.peak_c == end_point(firing.cone, 60)
    peak = [s.to_c for s in firing.segments].index(firing.peak_c)
    assert firing.segments[peak].rate_c_per_h == "60"
    assert firing.segments[peak].hold_min == 0
    assert firing.peak_c - firing.segments[peak - 1].to_c == 100
    assert firing.segments[-1].natural_cooling == 150
    assert firing.source
    assert firing.confidence == "practice"


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
