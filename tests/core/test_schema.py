"""From plain text to records: what is converted, what is refused and where."""

from __future__ import annotations

import msgspec
import pytest

from core.errors import InputError
from core.plain_yaml import parse
from core.schema import Amount, Flag, Number, convert, expect_kind, unknown_keys


class _Leaf(msgspec.Struct):
    id: str
    share: Amount = Amount(0.0)


class _Record(msgspec.Struct):
    name: str
    rate: Number = Number(1.0)
    dust: Flag = Flag(True)
    leaves: list[_Leaf] = []
    figures: dict[str, Number] = {}


def _convert(text: str) -> _Record:
    return convert(parse(text, "t.yaml"), _Record)


def test_text_becomes_numbers_and_answers():
    record = _convert('name: "06"\nrate: "-0,5"\ndust: No\nfigures: {SiO2: "66.5"}\n')
    assert record.name == "06"
    assert record.rate == -0.5
    assert not record.dust
    assert record.figures == {"SiO2": 66.5}


def test_a_key_without_a_value_is_left_out_where_a_list_belongs():
    record = _convert("name: x\nleaves:\nfigures:\n")
    assert record.leaves == []
    assert record.figures == {}


@pytest.mark.parametrize("word", ["yes", "YES", "true", "True", "no", "No", "false"])
def test_yes_and_no_are_read_in_any_case(word):
    assert bool(_convert(f"name: x\ndust: {word}\n").dust) is (word.lower() in ("yes", "true"))


@pytest.mark.parametrize(
    ("text", "line", "path", "word"),
    [
        ("rate: 1\n", 1, "", "lacks 'name'"),
        ("name: x\nrate: fast\n", 2, "rate", "not a number"),
        ("name: x\nrate: [1]\n", 2, "rate", "plain value"),
        ("name: [x]\n", 1, "name", "a list where text belongs"),
        ("name: x\ndust: maybe\n", 2, "dust", "neither yes nor no"),
        ("name: x\nleaves: y\n", 2, "leaves", "text where a list belongs"),
        ("name: x\nleaves:\n  - {id: a}\n  - {id: b, share: -1}\n", 4, "leaves[1].share", "neg"),
        ("name: x\nleaves:\n  - {share: 1}\n", 3, "leaves[0]", "lacks 'id'"),
        ("name: x\nfigures:\n  SiO2: lots\n", 3, "figures", "not a number"),
        ("- a\n", 1, "", "a list where a mapping belongs"),
    ],
)
def test_a_fault_is_named_with_its_line_and_path(text, line, path, word):
    with pytest.raises(InputError) as fault:
        _convert(text)
    assert word in str(fault.value)
    assert fault.value.line == line
    assert fault.value.path == path
    assert fault.value.mend


def test_the_kind_and_format_of_a_file_are_checked():
    assert expect_kind(parse('glost: "1"\nkind: firing\n', "t"), "recipe", "firing") == "firing"
    for text in ("a: b", "- a", 'glost: "9"\nkind: firing', 'glost: "1"', 'glost: "1"\nkind: x'):
        with pytest.raises(InputError) as fault:
            expect_kind(parse(text, "t"), "firing")
        assert fault.value.line is not None
        assert fault.value.mend


def test_unknown_keys_are_told_apart_from_known_ones():
    assert unknown_keys({"name": "x", "colour": "red"}, _Record) == {"colour": "red"}
    assert unknown_keys("text", _Record) == {}
