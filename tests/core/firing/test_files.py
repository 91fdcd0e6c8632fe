"""Files of firings: what is written reads back, keys from elsewhere stay, cones stay text."""

from __future__ import annotations

import os

import pytest

from core.errors import InputError
from core.firing import (
    Firing,
    FiringLog,
    Segment,
    SetPoint,
    WitnessCone,
    firing_from,
    firing_text,
    read_firing,
    shipped_firings,
    write_firing,
)
from core.plain_yaml import parse

FULL = """\
glost: "1"
kind: "firing"
id: "slow-satin"
name: "Cone 6 with a slow cool"
cone: 06
kiln_room: "the shed"
segments:
  - {rate_f_per_h: "108", to_f: "1652", newer: "kept"}
  - {rate_c_per_h: "60,5", to_c: "1215", hold_min: "15"}
  - {rate_c_per_h: "full", to_c: "1100"}
  - {natural_cooling: "150", to_c: "200"}
log:
  - begun: "2031-02-09 07:30"
    ended: "2031-02-10"
    weather: "frost"
    set_points:
      - {hours: "0", set_c: "20", read_c: "8"}
      - {hours: "2,5", set_c: "150", pen: "blue"}
    witness_cones:
      - {shelf: "top", cone: 6, clock: "4.5"}
      - {shelf: "top", cone: 010, clock: "7", maker: "x"}
    notes: |
      Invented.
      Two lines.
    photo: "shelves.jpg"
"""


def _read(text: str) -> Firing:
    return firing_from(parse(text, "x.yaml"))


def test_a_firing_is_read_with_its_log():
    firing = _read(FULL)
    assert firing.cone == "06"
    assert firing.segments[0].target_c == pytest.approx(900.0)
    assert firing.segments[0].extra == {"newer": "kept"}
    log = firing.log[0]
    assert log.set_points[1] == SetPoint(2.5, 150.0, None, {"pen": "blue"})
    assert log.witness_cones[0] == WitnessCone("top", "6", 4.5)
    assert log.witness_cones[1].cone == "010"
    assert log.notes == "Invented.\nTwo lines.\n"
    assert (log.photo, log.extra) == ("shelves.jpg", {"weather": "frost"})


def test_what_is_written_reads_back_with_every_key_from_elsewhere():
    firing = _read(FULL)
    text = firing_text(firing)
    assert _read(text) == firing
    assert firing_text(_read(text)) == text
    for kept in ("kiln_room", "newer", "weather", "pen", "maker"):
        assert kept in text
    # The potter's own units and marks stay as they were written.
    assert '{rate_f_per_h: "108", to_f: "1652", newer: "kept"}' in text
    assert 'rate_c_per_h: "60,5"' in text


@pytest.mark.parametrize("cone", ["06", "6", "010", "10", "05.5", "5.5", "1", "01"])
def test_a_cone_stays_the_same_text_through_files(cone):
    # Source: design, section 6: a plain loader reads 06 as 6 and 010 as 8.
    for written in (cone, f'"{cone}"'):
        firing = _read(f'glost: "1"\nkind: firing\nid: x\ncone: {written}\n')
        assert firing.cone == cone
        assert f'cone: "{cone}"' in firing_text(firing)
        assert _read(firing_text(firing)).cone == cone
    log = FiringLog(witness_cones=(WitnessCone("a", cone, 6.0),))
    back = _read(firing_text(Firing("x", log=(log,))))
    assert back.log[0].witness_cones[0].cone == cone


@pytest.mark.parametrize("firing", shipped_firings().values(), ids=lambda f: f.id)
def test_a_shipped_firing_saved_as_a_file_is_the_same(tmp_path, firing):
    path = tmp_path / "own.yaml"
    write_firing(path, firing, None)
    assert read_firing(path) == firing


@pytest.mark.parametrize(
    ("old", "new", "line", "path", "word"),
    [
        ('to_c: "1100"', 'to_c: "-3"', 10, "segments[2]", "segment 3"),
        ('"60,5"', '"-60"', 9, "segments[1]", "segment 2"),
        ('begun: "2031-02-09 07:30"', 'begun: "last week"', 13, "log[0].begun", "no date"),
        ('hours: "2,5"', 'hours: "-1"', 18, "log[0].set_points[1].hours", "back"),
        ("cone: 010", "cone: 0100", 21, "log[0].witness_cones[1]", "no cone '0100'"),
        ('clock: "7"', 'clock: "9"', 21, "log[0].witness_cones[1]", "9 o'clock"),
        ('clock: "7"', 'clock: "nan"', 21, "log[0].witness_cones[1].clock", "not a number"),
        ('hold_min: "15"', 'hold_min: ["15"]', 9, "segments[1].hold_min", "plain value"),
    ],
)
def test_a_slip_is_named_with_its_line_and_path(old, new, line, path, word):
    assert FULL.count(old) == 1
    with pytest.raises(InputError) as fault:
        _read(FULL.replace(old, new))
    assert word in str(fault.value)
    assert (fault.value.line, fault.value.path) == (line, path)


def test_a_save_that_fails_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    path = tmp_path / "own.yaml"
    write_firing(path, Firing("old"), None)
    before = path.read_bytes()

    def refuse(*_arguments):
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="disk full"):
        write_firing(path, Firing("new"), None)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_what_would_not_read_back_is_not_written(tmp_path):
    path = tmp_path / "own.yaml"
    with pytest.raises(InputError):
        write_firing(path, Firing("x", segments=(Segment("fast", 900.0),)), None)
    assert not path.exists()
