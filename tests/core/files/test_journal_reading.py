"""Reading a journal: whatever a crash or a hand did to it, what is read was true once."""

import json
import zlib
from dataclasses import replace

import pytest

from core.errors import InputError
from core.files.journal import Step, Work
from core.files.journal_reading import read_bytes
from core.plain_yaml import LONGEST_VALUE
from tests.core.files.some_steps import some_steps, written


def test_every_prefix_is_a_state_that_was_true(folder, origin):
    steps = some_steps(origin.work.recipe)
    data = written(folder, origin, steps)
    true = [None, *steps]
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    for length in range(len(data) + 1):
        if length < ends[0]:
            with pytest.raises(InputError):
                read_bytes(data[:length], "j")
            continue
        kept = read_bytes(data[:length], "j")
        whole = sum(end <= length for end in ends) - 1
        assert kept.last == true[whole]
        assert kept.origin == origin
        assert not kept.damaged


def test_every_changed_byte_is_noticed(folder, origin):
    """What is read ends before the line that was touched."""
    steps = some_steps(origin.work.recipe)[:3]
    data = written(folder, origin, steps)
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    true = [None, *steps]
    for place in range(len(data)):
        changed = bytearray(data)
        changed[place] ^= (0x01, 0x20, 0x80)[place % 3]
        line = sum(end <= place for end in ends)
        if line == 0:
            with pytest.raises(InputError):
                read_bytes(bytes(changed), "j")
            continue
        kept = read_bytes(bytes(changed), "j")
        assert kept.last == true[line - 1], place
        # Without its line end a line and the next look like one torn at the end.
        if line < len(ends) - 1 and data[place] != 10:
            assert kept.damaged, place


def test_a_line_left_out_or_twice_ends_the_reading(folder, origin):
    steps = some_steps(origin.work.recipe)
    lines = written(folder, origin, steps).splitlines(keepends=True)
    gap = read_bytes(b"".join([*lines[:2], *lines[3:]]), "j")
    assert (gap.last, gap.damaged) == (steps[0], True)
    twice = read_bytes(b"".join([*lines[:3], lines[2], *lines[3:]]), "j")
    assert (twice.last, twice.damaged) == (steps[1], True)


def line_of(tree):
    payload = json.dumps(tree).encode()
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


HEAD = {
    "journal": "1",
    "number": 0,
    "path": None,
    "stamp": {"digest": "", "size": 0},
    "studio": None,
    "recipe": {"glost": "1", "kind": "recipe", "name": "X"},
    "firings": {},
}


@pytest.mark.parametrize(
    "change",
    [
        {"journal": "2"},
        {"recipe": {"glost": "1", "kind": "run", "name": "X"}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": 7}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": "X", "notes": None}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": "X", "base": [{"parts": "1"}]}},
        {"firings": {"a": {"glost": "1", "kind": "firing", "id": "b"}}},
        {"firings": {"a": []}},
        {"stamp": "none"},
        {"firing_stamps": {"mine": "none"}},
        {"number": "0"},
        {"path": 3},
    ],
)
def test_a_sound_line_still_goes_through_the_checks_of_a_file(change):
    assert read_bytes(line_of(HEAD), "j").last is None
    with pytest.raises(InputError):
        read_bytes(line_of(HEAD | change), "j")


@pytest.mark.parametrize("opening", [b"[", b'{"a":'])
def test_deeply_nested_text_is_refused(opening):
    payload = opening * 100_000
    data = b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)
    with pytest.raises(InputError):
        read_bytes(data, "j")
    deep = "x"
    for _ in range(200):
        deep = [deep]
    with pytest.raises(InputError):
        read_bytes(line_of(HEAD | {"recipe": HEAD["recipe"] | {"x": deep}}), "j")


def test_a_last_state_that_no_file_could_hold_gives_the_one_before_and_says_so(folder, origin):
    steps = some_steps(origin.work.recipe)
    long = replace(steps[-1].work.recipe, notes="x" * (LONGEST_VALUE + 1))
    data = written(folder, origin, [*steps, Step("too much", 6, Work(long))])
    kept = read_bytes(data, "j")
    assert kept.last == steps[-1]
    assert kept.damaged


def test_text_that_is_no_text_never_raises(folder, origin):
    odd = replace(origin.work.recipe, notes="a\x07b\ud800c")
    kept = read_bytes(written(folder, origin, [Step("\ud800", 1, Work(odd))]), "j")
    assert kept.last.work.recipe.notes == "a\ufffdb\ufffdc"
