"""YAML read as plain text: what is refused, where, and how fast."""

from __future__ import annotations

import contextlib
import os
import re
import time

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.plain_yaml import (
    DEEPEST,
    LARGEST_FILE,
    LONGEST_VALUE,
    parse,
    place_text,
    read_file,
    write,
)

SOON = 2.0
"""Seconds; a bound for hostile files, far above what they need."""


def _fault(data: bytes | str) -> InputError:
    with pytest.raises(InputError) as caught:
        parse(data, "sample.yaml")
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("sample.yaml")
    return caught.value


def test_every_scalar_stays_the_text_of_the_file():
    # Source: design, section 6: a plain loader reads 06 as 6, 010 as 8 and NO as false.
    text = "a: 06\nb: 010\nc: NO\nd: 1.5e3\ne: ~\nf: 2026-11-25\ng: 0x1F\nh: null\ni:\nj: 1:30"
    assert parse(text, "t").tree == {
        **{"a": "06", "b": "010", "c": "NO", "d": "1.5e3", "e": "~", "f": "2026-11-25"},
        **{"g": "0x1F", "h": "null", "i": "", "j": "1:30"},
    }
    assert yaml.safe_load("a: 06\nb: 010\nc: NO") == {"a": 6, "b": 8, "c": False}


def test_the_line_of_each_value_is_known():
    document = parse('a: 1\nb:\n  - x\n  - {c: 2,\n     d: "3"}\n', "t")
    assert document.lines[("b", 1, "d")] == 5
    assert document.lines[("b", 0)] == 3
    assert document.fault(("b", 1, "d"), "is odd", "mend it").line == 5
    # A place that is not in the file falls back to what holds it.
    assert document.fault(("b", 1, "missing"), "is odd", "mend it").line == 4
    assert document.fault(("zzz",), "is odd", "mend it").line == 1


def test_places_are_written_as_paths():
    assert place_text(("base", 2, "parts")) == "base[2].parts"
    assert place_text(()) == ""


@pytest.mark.parametrize("data", ["", b"", "\n\n", "# only a comment\n", b"\xef\xbb\xbf", "   "])
def test_an_empty_file_is_called_empty(data):
    assert "is empty" in str(_fault(data))


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("a: 1\nb: *x\n", 2, "alias"),
        ("a: &x 1\n", 1, "anchor"),
        ("a: 1\nb: &x\n  - 1\n", 2, "anchor"),
        ("a:\n  <<: *x\n", 2, "alias"),
        ("a: 1\nb: !!int 3\n", 2, "tag"),
        ("a: !!python/object/apply:os.system ['true']\n", 1, "tag"),
        ("a: ! x\n", 1, "tag"),
        ("--- !x\na: 1\n", None, "tag"),
        ("a: 1\nb: 2\na: 3\n", 3, "twice"),
        ("r:\n  - {a: 1, b: 2, a: 3}\n", 2, "twice"),
        ('a: 1\n"a": 3\n', 2, "twice"),
        ("a: 1\n---\nb: 2\n", 2, "second document"),
        ("a: 1\n? [x, y]\n: 2\n", 2, "key"),
        ("? {x: y}\n: 2\n", 1, "key"),
        ("a: 1\nb: [1, 2\n", None, "not sound YAML"),
        ("a: 1\n  b: 2\n", 2, "not sound YAML"),
        ('a: "open\n', None, "not sound YAML"),
        ("a: 1\n\tb: 2\n", 2, "not sound YAML"),
        ("a: 1\nb: \x07\n", 2, "U+0007"),
        ("a: 1\nb: \x80\n", 2, "U+0080"),
        ('a: 1\nb: "\\0"\n', 2, "U+0000"),
        ('a: 1\n"\\x7f": 2\n', 2, "U+007F"),
        ('a: 1\nb: "\\uFFFF"\n', 2, "U+FFFF"),
        ("a: 1\nb: \ud800\n", 2, "U+D800"),
        ("a: 1\n%YAML 3.0\n", None, ""),
        ("a: @x\n", 1, "not sound YAML"),
    ],
)
def test_what_this_dialect_refuses_is_named_with_its_line(text, line, word):
    fault = _fault(text)
    assert word in str(fault)
    assert fault.line is not None
    if line is not None:
        assert fault.line == line


def test_a_bomb_of_aliases_never_grows():
    levels = [f"l{i}: &l{i} [{', '.join([f'*l{i - 1}'] * 9)}]" for i in range(1, 30)]
    assert _fault("l0: &l0 [x]\n" + "\n".join(levels)).line == 1


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ("glost: x".encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + "glost: x".encode("utf-16-be"), "UTF-16"),
        ("glost: x".encode("utf-16-le"), "U+0000"),
        ("a: 1\nb: é\n".encode("latin-1"), "not UTF-8"),
        (b"a: 1\nb: \xff\xfe\n", "not UTF-8"),
        (bytes(range(256)), "not"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not UTF-8"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "not UTF-8"),
        (b"PK\x03\x04\x14\x00", "U+0003"),
    ],
)
def test_what_is_no_utf_8_text_is_named_with_its_line(data, word):
    fault = _fault(data)
    assert word in str(fault)
    assert fault.line is not None


def test_a_byte_order_mark_of_utf_8_is_passed_over():
    assert parse(b"\xef\xbb\xbfa: 1\n", "t").tree == {"a": "1"}


def test_windows_line_ends_count_as_one_line():
    document = parse(b"a: 1\r\nb: 2\r\n", "t")
    assert document.tree == {"a": "1", "b": "2"}
    assert document.lines[("b",)] == 2


@pytest.mark.parametrize(
    "text",
    [
        "[" * 10_000,
        "[" * 10_000 + "]" * 10_000,
        "{a: " * 10_000 + "}" * 10_000,
        "a: " + "[" * 10_000,
        "- " * 10_000 + "x",
        "? " * 10_000 + "x",
        "".join(" " * i + "k:\n" for i in range(2_500)),
        "[[" + "[], " * 100_000,
        "a: " + "{" * 10_000,
    ],
    ids=["open-lists", "lists", "mappings", "list-in-key", "dashes", "questions", "indents",
         "flat", "open-mappings"],
)  # fmt: skip
def test_ten_thousand_levels_are_refused_at_once(text):
    begin = time.perf_counter()
    fault = _fault(text)
    assert time.perf_counter() - begin < SOON
    assert fault.line is not None


def test_ten_thousand_levels_of_indentation_are_refused_at_once(tmp_path):
    path = tmp_path / "deep.yaml"
    path.write_text("".join(" " * i + "k:\n" for i in range(10_000)), encoding="utf-8")
    begin = time.perf_counter()
    with pytest.raises(InputError, match=re.escape(str(path))):
        read_file(path)
    assert time.perf_counter() - begin < SOON


def test_as_many_levels_as_a_file_may_have_are_read():
    document = parse("[" * DEEPEST + "]" * DEEPEST, "t")
    depth, tree = 0, document.tree
    while isinstance(tree, list):
        depth, tree = depth + 1, tree[0] if tree else ""
    assert depth == DEEPEST
    assert "nests deeper" in str(_fault("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1)))


def test_one_string_of_fifty_megabytes_is_refused_at_once(tmp_path):
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.write(b'glost: "1"\nnotes: "')
        for _ in range(50):
            file.write(b"x" * 1_000_000)
        file.write(b'"\n')
    begin = time.perf_counter()
    with pytest.raises(InputError) as fault:
        read_file(path)
    assert time.perf_counter() - begin < SOON
    assert str(path) in str(fault.value)
    assert "larger than" in str(fault.value)
    assert len(str(fault.value)) < 1000


def test_a_string_as_large_as_a_file_may_be_is_refused_soon():
    begin = time.perf_counter()
    with pytest.raises(InputError, match="longer than"):
        parse('notes: "' + "x" * (LARGEST_FILE - 20) + '"\n', "t")
    assert time.perf_counter() - begin < SOON


def test_the_longest_value_is_read():
    assert len(parse(f'notes: "{"x" * LONGEST_VALUE}"\n', "t").tree["notes"]) == LONGEST_VALUE


def test_millions_of_tiny_values_are_read_or_refused_soon():
    # Source: design, section 6: nothing in a file can freeze the window.
    text = "notes: [" + "a," * (LARGEST_FILE // 2 - 5) + "]"
    begin = time.perf_counter()
    with contextlib.suppress(InputError):
        parse(text, "t")
    assert time.perf_counter() - begin < SOON


@pytest.mark.parametrize("name", ["missing.yaml", "folder", "nul\0name.yaml", "n" * 5000])
def test_a_path_that_is_no_file_is_named(tmp_path, name):
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as fault:
        read_file(tmp_path / name)
    assert "\n" not in str(fault.value)
    assert str(tmp_path)[:50] in str(fault.value)


def test_a_pipe_is_not_waited_for(tmp_path):
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    os.mkfifo(tmp_path / "pipe.yaml")
    with pytest.raises(InputError, match="no ordinary file"):
        read_file(tmp_path / "pipe.yaml")


# Text that a file can hold at all: the characters of YAML 1.1, section 5.1, and the byte order
# mark inside a value.
TEXT = st.text(
    st.characters(
        codec="utf-8",
        exclude_characters="".join(
            map(chr, [*range(9), 11, 12, *range(14, 32), 0x7F, 0xFFFE, 0xFFFF])
        ),
    ),
    max_size=30,
)
TREES = st.recursive(
    TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(TEXT, TREES, min_size=1, max_size=4))
def test_what_is_written_reads_back_and_is_the_same_bytes_again(tree):
    text = write(tree)
    assert parse(text.encode("utf-8"), "t").tree == tree
    assert write(parse(text, "t").tree) == text


@pytest.mark.parametrize(
    "note",
    ["one\rtwo\nthree", "one\n\rtwo", "a\n\x85b", "a\n\u2028b", "a\n\u2029b", "a\r\nb\r\n", "a\n\n",
     "\na", " a\nb", "a\n b\n", "a\nb\n\n\n", "\t\n", "a\tb\nc", "a \nb", "# a\n# b", "---\na",
     "...\nb", "a: b\nc: d", "'\"\n\\", "\ufeffa\nb", "a\n\ufeffb", "\x80\n\x9f", "\U0001f3fa\nb",
     "-\n-", "a\n\xa0", "\xa0\na"],
)  # fmt: skip
def test_notes_of_several_lines_read_back_as_they_were(note):
    assert parse(write({"notes": note}), "t").tree == {"notes": note}
    assert parse(write({"rows": [{"notes": note}]}), "t").tree == {"rows": [{"notes": note}]}


@pytest.mark.parametrize("key", ["k" * 200, "k" * 2000, "two\nlines", "", " ", "a: b", "#", "NO"])
def test_any_key_reads_back_as_it_was(key):
    for tree in ({key: "v"}, {"rows": [{key: "v"}]}, {"x": {"y": {"z": {key: ["v"]}}}}):
        assert parse(write(tree), "t").tree == tree


def test_rows_stand_on_one_line_each_and_notes_as_a_block():
    text = write({"name": "x", "base": [{"material": "talc", "parts": "16"}], "notes": "a\nb"})
    assert text.splitlines() == [
        'name: "x"',
        "base:",
        '- {material: "talc", parts: "16"}',
        "notes: |-",
        "  a",
        "  b",
    ]


def test_what_no_file_can_hold_is_replaced_so_that_the_file_reads_back():
    assert parse(write({"a": "x\x00y\ud800"}), "t").tree == {"a": "x\ufffdy\ufffd"}


def test_what_is_written_is_what_a_plain_loader_reads():
    # Source: PyYAML's own safe loader, an independent reader of the same text.
    tree = {"glost": "1", "cone": "06", "yes": "no", "rows": [{"a": "1e3"}], "n": "a\nb\n"}
    assert yaml.safe_load(write(tree)) == tree
