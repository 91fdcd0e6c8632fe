"""Comments written by hand survive a save and stay beside what they belong to."""

from __future__ import annotations

import copy
import re
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from core import plain_yaml
from core.files import remarks
from core.files.remarks import keep_remarks
from core.tables import data_folder

RECIPE = """\
# Written at the bench.
# base: [

glost: "1"
kind: "recipe"
name: "Eider"  # after the duck
base:  # parts by weight
# the old sack
- {material: "potash-feldspar", parts: "40"}  # lot 3 "is better"
- {material: "talc # 2", parts: "15"}
# never more than this
- {material: "whiting", parts: "12"}
  # - {material: "dolomite", parts: "3"}

# none so far
additions: []
variants:
- name: "A"  # the first
  base:
  - {material: "talc", parts: "16"}  # in A
  additions: []
- name: "B"
  # why B
  reason: "Silkier."
  base:
  - {material: "talc", parts: "18"}  # in B
  additions: []
notes: |  # my own
  Cool slowly.
  # this is no comment
# The end.
"""


def _tree(text: str):
    return plain_yaml.parse(text.encode(), "sample.yaml").tree


def _kept(old: str, tree, flow_below: int = 2) -> str:
    """Return what a save of `tree` writes over `old`, with what must always hold checked."""
    new = plain_yaml.write(tree, flow_below)
    kept = keep_remarks(old, new)
    assert _tree(kept) == _tree(new)
    assert keep_remarks(kept, new) == kept
    return kept


def test_a_text_with_all_its_comments_in_place_stays_as_it_is():
    assert _kept(RECIPE, _tree(RECIPE)) == RECIPE


def test_comments_go_with_their_rows():
    tree = _tree(RECIPE)
    talc = tree["base"].pop(1)
    tree["base"].insert(0, {"material": "kaolin", "parts": "19"})
    tree["base"].reverse()
    talc["parts"] = "99"
    tree["base"].append(talc)
    tree["variants"].reverse()
    tree["additions"].append({"material": "tin-oxide", "parts": "5"})
    kept = _kept(RECIPE, tree)
    assert (
        """\
base:  # parts by weight
# never more than this
- {material: "whiting", parts: "12"}
  # - {material: "dolomite", parts: "3"}
# the old sack
- {material: "potash-feldspar", parts: "40"}  # lot 3 "is better"
- {material: "kaolin", parts: "19"}
- {material: "talc # 2", parts: "99"}

# none so far
additions:
- {material: "tin-oxide", parts: "5"}
variants:
- name: "B"
  # why B
  reason: "Silkier."
  base:
  - {material: "talc", parts: "18"}  # in B
  additions: []
- name: "A"  # the first
"""
        in kept
    )


def test_comments_of_what_is_gone_stay_nearby_on_lines_of_their_own():
    tree = _tree(RECIPE)
    del tree["base"][0]
    del tree["base"][1]
    del tree["variants"][0]
    del tree["notes"]
    kept = _kept(RECIPE, tree)
    assert (
        """\
base:  # parts by weight
# the old sack
# lot 3 "is better"
- {material: "talc # 2", parts: "15"}
  # never more than this
  # - {material: "dolomite", parts: "3"}
"""
        in kept
    )
    assert kept.endswith("  additions: []\n  # my own\n# The end.\n")
    assert "# the first" in kept
    assert "# in A" in kept


def test_an_emptied_list_keeps_the_comments_of_its_rows():
    tree = _tree(RECIPE)
    tree["base"] = []
    kept = _kept(RECIPE, tree)
    assert (
        """\
base: []  # parts by weight
  # the old sack
  # lot 3 "is better"
  # never more than this
  # - {material: "dolomite", parts: "3"}

# none so far
"""
        in kept
    )


def test_a_renamed_row_keeps_its_comments_by_its_place():
    tree = _tree(RECIPE)
    tree["variants"][0]["name"] = "Dune"
    tree["base"][2]["material"] = "wollastonite"
    kept = _kept(RECIPE, tree)
    assert '- name: "Dune"  # the first\n' in kept
    assert '# never more than this\n- {material: "wollastonite", parts: "12"}\n' in kept


def test_of_rows_with_one_name_the_equal_one_keeps_its_comment():
    old = 'base:\n- {material: "a", parts: "1"} # one\n- {material: "a", parts: "2"} # two\n'
    kept = _kept(old, {"base": [{"material": "a", "parts": "2"}]})
    assert '- {material: "a", parts: "2"}  # two\n' in kept
    assert "# one\n" in kept


def test_rows_written_in_block_style_lose_no_comment_on_one_line():
    old = """\
base:
    # before the talc
    -   material: talc   # from the old sack
        # weighed wet
        parts: 16  # grams
    - # on a dash
      # below a dash
      material: clay
      parts: 3
"""
    assert (
        _kept(old, _tree(old))
        == """\
base:
# before the talc
# weighed wet
- {material: "talc", parts: "16"}  # from the old sack  # grams
# on a dash
# below a dash
- {material: "clay", parts: "3"}
"""
    )


def test_comments_inside_brackets_stay_by_their_row():
    old = """\
materials:
  - id: spar
    analysis: {Na2O: 3, # sodium
      # potash
      K2O: 10} # sums to 13
    hazards: [ # dusty
      "silica # 1"
      # more?
    ]
    loi: 0.4 # low
"""
    kept = _kept(old, _tree(old), flow_below=3)
    assert (
        """\
  # potash
  analysis: {Na2O: "3", K2O: "10"}  # sodium  # sums to 13
  # more?
  hazards: ["silica # 1"]  # dusty
  loi: "0.4"  # low
"""
        in kept
    )


def test_a_comment_moves_from_a_line_to_a_block_of_text_and_back():
    old = 'notes: "one" # mine\nnext: "1"\n'
    kept = _kept(old, {"notes": "one\ntwo\n\n", "next": "1"})
    assert kept == 'notes: |+  # mine\n  one\n  two\n\nnext: "1"\n...\n'
    assert _kept(kept, _tree(old)) == 'notes: "one"  # mine\nnext: "1"\n'


def test_nothing_becomes_part_of_a_block_of_text_that_keeps_its_end():
    old = 'notes: "one"\n\n\n  # indented\n\n# flush\nnext: "1"\n'
    kept = _kept(old, {"notes": "one\n\n\n", "next": "1"})
    assert kept == 'notes: |+\n  one\n\n\n# indented\n\n# flush\nnext: "1"\n...\n'


def test_a_run_keeps_comments_by_the_codes_of_its_tiles():
    run = {
        "glost": "1",
        "kind": "run",
        "corners": [
            {"letter": letter, "name": name, "base": [{"material": "talc", "parts": "5"}]}
            for letter, name in ("Ax", "By")
        ],
        "tiles": [
            {"code": code, "base": [{"material": "talc", "parts": "5"}], "result": {"touch": "dry"}}
            for code in ("KHJLQ", "KABCD", "KZZZZ")
        ],
    }
    old = plain_yaml.write(run)
    old = old.replace('- code: "KABCD"', '# fell over\n- code: "KABCD"  # at the door')
    old = old.replace('- letter: "B"', '# corner By\n- letter: "B"')
    del run["tiles"][0]
    run["tiles"][0]["result"]["touch"] = "silk"
    run["tiles"].reverse()
    run["corners"].reverse()
    kept = _kept(old, run)
    assert '# fell over\n- code: "KABCD"  # at the door\n' in kept
    assert 'corners:\n# corner By\n- letter: "B"\n' in kept


def test_a_firing_keeps_comments_when_a_segment_is_put_in():
    old = """\
id: "slow"
segments:
  - {rate_c_per_h: "60", to_c: "900"}  # slowly for the bisque
  # the kiln stalls here
  - {rate_c_per_h: "100", to_c: "1215"}
  - {natural_cooling: "150"} # door shut
"""
    tree = _tree(old)
    tree["segments"].insert(1, {"rate_c_per_h": "80", "to_c": "1000"})
    tree["segments"][2]["hold_min"] = "15"
    kept = _kept(old, tree)
    assert (
        """\
- {rate_c_per_h: "60", to_c: "900"}  # slowly for the bisque
"""
        in kept
    )
    assert '- {natural_cooling: "150"}  # door shut\n' in kept
    assert "# the kiln stalls here\n- {" in kept


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_line_ends_of_any_system_and_a_byte_order_mark_are_read(ends: str):
    old = "\ufeff# head\nname: x # end\n\n# tail".replace("\n", ends)
    assert _kept(old, {"name": "x"}) == '# head\nname: "x"  # end\n\n# tail\n'


def test_what_the_yaml_standard_allows_about_a_document_is_no_hindrance():
    # Source: YAML 1.1, chapter 9: directives, document markers and comments beside them.
    old = "# 0\n%YAML 1.1 # 1\n# 2\n--- # 3\n# 4\nname: x # 5\n# 6\n... # 7\n# 8\n"
    kept = _kept(old, {"name": "x"})
    assert sorted(re.findall(r"# (\d)", kept)) == list("012345678")


@pytest.mark.parametrize(
    "text",
    ["# base: [", '#"', "#\ttab\tbed\t", "# größer – 😀", "#", "# # {a: b} |", "#: - ?", "#'%&*!"],
)
def test_odd_comments_are_kept_letter_for_letter(text: str):
    old = f'{text}\na: "1" {text}\n{text}\nb:\n- "x" {text}\n{text}\n'
    assert _kept(old, _tree(old)) == f'{text}\na: "1"  {text}\n{text}\nb: ["x"]  {text}\n{text}\n'


@pytest.mark.parametrize(
    "old",
    [
        "# c\na: [",
        "# c\na: &x 1\nb: *x",
        "# c\na: 1\n---\nb: 1",
        "# \x00",
        "# \ud800",
        "? [a]\n: 1 # c",
        "",
    ],
)
def test_a_text_that_cannot_be_read_gives_the_new_one(old: str):
    assert keep_remarks(old, 'a: "1"\n') == 'a: "1"\n'


def test_without_comments_the_new_text_is_returned_as_it_is():
    new = plain_yaml.write({"a": "# 1", "b": "two\n# lines\n"})
    assert keep_remarks(new, new) is new
    assert keep_remarks('\n\na: "1"\n', new) is new


def test_more_comments_than_any_person_writes_are_kept_together_at_the_head(monkeypatch):
    old, new = 'name: "x"\n# a\n# b\nnotes: "y"  # c\n', 'name: "x"\nnotes: "z"\n'
    assert keep_remarks(old, new) == 'name: "x"\n# a\n# b\nnotes: "z"  # c\n'
    monkeypatch.setattr(remarks, "MOST_PLACED", 2)
    assert keep_remarks(old, new) == '# a\n# b\n# c\nname: "x"\nnotes: "z"\n'


def test_comments_that_would_not_fit_beside_their_rows_stand_at_the_head(monkeypatch):
    deep = "a:\n" + "".join(f"{' ' * n}k:\n" for n in range(1, 12)) + f"{' ' * 12}k: 1\n"
    old = deep.replace(" k: 1", " # deep\n            k: 1")
    new = plain_yaml.write(_tree(deep), flow_below=20)
    monkeypatch.setattr(plain_yaml, "LARGEST_FILE", len(new) + len("# deep\n"))
    assert keep_remarks(old, new) == f"# deep\n{new}"
    monkeypatch.setattr(plain_yaml, "LARGEST_FILE", len(new))
    assert keep_remarks(old, new) == new


@pytest.mark.parametrize(
    "path",
    sorted((data_folder() / "demo-studio").rglob("*.yaml")),
    ids=lambda path: path.name,
)
def test_the_demo_studio_keeps_a_comment_at_every_line(path: Path):
    text = path.read_text("utf-8")
    tree = _tree(text)
    starts = set(plain_yaml.parse(text, "").lines.values())
    old = ""
    for number, line in enumerate(text.splitlines(), 1):
        own = number in starts
        indent = line[: len(line) - len(line.lstrip())]
        old += (f"{indent}# before {number}.\n" if own else "") + f"{line}\n"
    kept = _kept(old, tree)
    assert re.findall("# .*", kept) == re.findall("# .*", old)


VALUES = st.sampled_from(
    [
        "1",
        "40",
        "",
        "# no comment",
        'a "b" #c',
        "ä # 😀",
        "two\nlines # x",
        "a\n\n\n",
        " led\n# x",
        "\u2028",
    ]
)
ROWS = st.fixed_dictionaries(
    {"material": st.sampled_from(["talc", "silica", "clay", "spar"]), "parts": VALUES},
    optional={"note": VALUES},
)
LISTS = st.lists(ROWS, max_size=4)
VARIANTS = st.lists(
    st.fixed_dictionaries({"name": VALUES, "base": LISTS}, optional={"reason": VALUES}), max_size=3
)
RECIPES = st.fixed_dictionaries(
    {"glost": st.just("1"), "name": VALUES, "base": LISTS, "variants": VARIANTS},
    optional={"notes": VALUES, "tags": st.lists(VALUES, max_size=3), "more": st.just({})},
)
WORDS = st.sampled_from(["", " ä", ' "', " base: [", "\tx", "#", " - a: 1", " {", "!", " |"])


def _commented(data, tree) -> tuple[str, list[str]]:
    """Return the written text of a tree with comments at places where YAML allows them."""
    text = plain_yaml.write(tree)
    lines = text.split("\n")[:-1]
    # A block of text has comments on its first line only.
    heads = [event for event in yaml.parse(text) if getattr(event, "style", None) == "|"]
    block = {
        line: event.start_mark.line
        for event in heads
        for line in range(event.start_mark.line, event.end_mark.line)
    }
    out: list[str] = []
    comments: list[str] = []

    def comment() -> str:
        comments.append(f"#{len(comments)}:{data.draw(WORDS)}.")
        return comments[-1]

    for number, line in enumerate(lines):
        inner = number in block and block[number] != number
        if not inner:
            lowest = len(line) - len(line.lstrip(" "))
            after_block = number - 1 in block
            for _ in range(data.draw(st.integers(0, 2)) if data.draw(st.booleans()) else 0):
                deeper = 0 if after_block else data.draw(st.sampled_from([0, 0, 2, 5]))
                out.append(" " * (lowest + deeper) + comment())
                out += [""] * data.draw(st.sampled_from([0, 0, 1, 2]))
            if data.draw(st.integers(0, 3)) == 0:
                line += f" {comment()}"
        out.append(line)
    if data.draw(st.booleans()):
        out.append(comment())
    ends = data.draw(st.sampled_from(["\n", "\n", "\r\n"]))
    return data.draw(st.sampled_from(["", "\ufeff"])) + ends.join([*out, ""]), comments


def _edited(data, tree):
    """Return a tree after some edits such as the program makes, or another tree."""
    if data.draw(st.integers(0, 9)) == 0:
        return data.draw(RECIPES)
    tree = copy.deepcopy(tree)
    for _ in range(data.draw(st.integers(0, 4))):
        lists = [tree["base"], tree["variants"], *(each["base"] for each in tree["variants"])]
        rows = data.draw(st.sampled_from(lists))
        fresh = VARIANTS if rows is tree["variants"] else LISTS
        match data.draw(st.sampled_from(["insert", "remove", "move", "change", "rename", "drop"])):
            case "insert":
                rows[:0] = data.draw(fresh)
            case "remove" if rows:
                rows.pop(data.draw(st.integers(0, len(rows) - 1)))
            case "move" if rows:
                rows.append(rows.pop(data.draw(st.integers(0, len(rows) - 1))))
            case "change" if rows:
                row = data.draw(st.sampled_from(rows))
                row[data.draw(st.sampled_from(["parts", "material", "name"]))] = data.draw(VALUES)
            case "rename":
                tree["name"] = data.draw(VALUES)
            case "drop":
                tree.pop("notes", None)
    return tree


@settings(max_examples=80)
@given(st.data())
def test_no_comment_is_lost_or_doubled_whatever_is_edited(data):
    tree = data.draw(RECIPES)
    old, comments = _commented(data, tree)
    assert _tree(old) == tree
    kept = _kept(old, _edited(data, tree))
    for comment in comments:
        assert kept.count(comment) == 1, comment


def _inked(text: str) -> str:
    return re.sub(r"^\.\.\.(?=\s|$)|\s|\ufeff", "", text.replace("\r", ""), flags=re.M)


@settings(max_examples=40)
@given(st.data())
def test_comments_stay_in_order_where_nothing_is_edited(data):
    tree = data.draw(RECIPES)
    old, _ = _commented(data, tree)
    kept = _kept(old, tree)
    # Only spaces may differ, and the mark after which a document may not go on.
    assert _inked(kept) == _inked(old)


@settings(max_examples=60)
@given(st.text(alphabet="#ab:-[]{}\"'|> \n\t\r,&*?%\u2028é", max_size=40))
def test_any_text_at_all_gives_a_text_that_reads_as_the_new_one(old: str):
    _kept(old, {"a": "1", "b": [{"a": "b", "b": "a"}], "ab": "a\nb\n\n"})
