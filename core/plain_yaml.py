"""YAML as plain text: mappings, lists and strings, with the line of each.

Every scalar stays the text that stands in the file; what it means is decided
by the schema that reads it. Aliases, anchors, tags and repeated keys are
refused before anything is built, and nothing in a file can make the reader
recurse, expand or run.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

from core.errors import InputError
from core.files.content import ABSENT, Stamp, stamp_of

Tree = dict[str, "Tree"] | list["Tree"] | str
Place = tuple[str | int, ...]

LARGEST_FILE = 8_000_000
"""Bytes; a studio's file is a few thousand."""
MOST_VALUES = 50_000
"""Values in one file; a recipe with a hundred variants has a tenth of that."""
LONGEST_VALUE = 20_000
"""Characters of one value; notes of ten pages."""
DEEPEST = 16
"""Levels; a recipe has five."""

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
_OPENING = (yaml.MappingStartEvent, yaml.SequenceStartEvent)
_CLOSING = (yaml.MappingEndEvent, yaml.SequenceEndEvent)
_STR_TAG = "tag:yaml.org,2002:str"
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
# YAML takes these only where they are written as escapes.
_NOT_BARE = re.compile(_NOT_TEXT.pattern[:-1] + "\x80-\x84\x86-\x9f]")


@dataclass(frozen=True, slots=True)
class PlainYaml:
    """A parsed file: its tree and the line on which each value begins."""

    tree: Tree
    source: str
    lines: Mapping[Place, int] = field(default_factory=dict)
    stamp: Stamp = ABSENT
    """Of the bytes that were read; `ABSENT` for a text that never was in a file."""

    def fault(self, place: Place, what: str, mend: str) -> InputError:
        """Return the error for something wrong at `place`."""
        known = place
        while known and known not in self.lines:
            known = known[:-1]
        return InputError(what, mend, self.source, self.lines.get(known), place_text(place))


def place_text(place: Place) -> str:
    """Write a place like ``base[2].parts``.

    Examples
    --------
    >>> place_text(("base", 2, "parts"))
    'base[2].parts'
    """
    text = ""
    for step in place:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def read_file(path: Path) -> PlainYaml:
    """Read a YAML file as plain text values.

    Raises
    ------
    InputError
        If the file cannot be read, is not UTF-8 text, is larger than
        `LARGEST_FILE`, or uses what this dialect refuses.
    """
    source = str(path)
    try:
        # A device or pipe has no size and might never end.
        if not path.is_file():
            what = "is a folder" if path.is_dir() else "does not exist or is no ordinary file"
            raise InputError(what, "name a YAML file", source)
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except OSError as fault:
        raise InputError(
            f"cannot be read ({fault.strerror or fault})", "check its name and rights", source
        ) from fault
    except ValueError as fault:  # a name with a NUL in it
        raise InputError("is no usable file name", "name a YAML file", source) from fault
    return replace(parse(data, source), stamp=stamp_of(data))


def parse(data: bytes | str, source: str) -> PlainYaml:
    """Parse one YAML document into mappings, lists and strings.

    Parameters
    ----------
    data : bytes or str
        UTF-8 text.
    source : str
        What to call it in messages.

    Raises
    ------
    InputError
        With the line of the first fault.

    Examples
    --------
    >>> parse("cone: 06\\nok: NO", "demo").tree
    {'cone': '06', 'ok': 'NO'}
    """
    text = _text_of(data, source)
    events = _events(text, source)
    root = _Builder(source)
    for event in events:
        root.take(event)
    if not root.documents:
        raise InputError("is empty", 'the first line should be: glost: "1"', source)
    return PlainYaml(root.tree, source, root.lines)


def _text_of(data: bytes | str, source: str) -> str:
    if len(data) > LARGEST_FILE:
        raise InputError(
            f"is larger than {LARGEST_FILE // 1_000_000} MB", "is it the right file?", source
        )
    text = _decoded(data, source) if isinstance(data, bytes) else data
    bad = _NOT_BARE.search(text)
    if bad is not None:
        line = text.count("\n", 0, bad.start()) + 1
        code = f"U+{ord(bad[0]):04X}"
        raise InputError(
            f"holds the character {code}, which is not text", "is it a text file?", source, line
        )
    return text


def _decoded(data: bytes, source: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("is UTF-16 text", "save it as UTF-8", source, 1)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise InputError("is not UTF-8 text", "save it as UTF-8", source, line) from fault


def _events(text: str, source: str) -> Iterator[Any]:
    try:
        yield from yaml.parse(text, Loader=_Loader)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        line = mark.line + 1 if mark is not None else None
        raise InputError(
            f"is not sound YAML ({fault.problem or fault.context})",
            "look for a missing quote, bracket or indent at or above this line",
            source,
            line,
        ) from fault
    except yaml.YAMLError as fault:
        raise InputError(f"is not sound YAML ({fault})", "is it a text file?", source) from fault


class _Builder:
    """Builds the tree from parser events without recursion."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.tree: Tree = ""
        self.lines: dict[Place, int] = {}
        self.documents = 0
        self._open: list[dict[str, Tree] | list[Tree]] = []
        self._place: list[str | int] = []
        self._key: list[str | None] = []

    def take(self, event: Any) -> None:
        kind = type(event)
        if kind is yaml.ScalarEvent or kind in _OPENING:
            self._node(event, kind)
        elif kind in _CLOSING:
            self._open.pop()
            self._key.pop()
            if self._place:
                self._place.pop()
        elif kind is yaml.DocumentStartEvent:
            self.documents += 1
            if self.documents > 1:
                raise self._fault(event, "holds a second document", "keep one per file")
        elif kind is yaml.AliasEvent:
            raise self._fault(event, f"uses the alias *{event.anchor}", "write the value out")

    def _node(self, event: Any, kind: type) -> None:
        if kind is yaml.ScalarEvent and len(event.value) > LONGEST_VALUE:
            raise self._fault(event, f"is longer than {LONGEST_VALUE} characters", "shorten it")
        if kind is yaml.ScalarEvent and (bad := _NOT_TEXT.search(event.value)):
            # Written as an escape; it could be loaded, but never saved again as it was.
            what = f"holds the character U+{ord(bad[0]):04X}, which is not text"
            raise self._fault(event, what, "take it out")
        if event.anchor is not None:
            raise self._fault(event, f"uses the anchor &{event.anchor}", "leave it out")
        if event.tag is not None:
            raise self._fault(event, f"uses the tag {event.tag}", "leave it out")
        parent = self._open[-1] if self._open else None
        if isinstance(parent, dict) and self._key[-1] is None:
            self._take_key(event, parent)
            return
        step: str | int | None = None
        if isinstance(parent, dict):
            step, self._key[-1] = self._key[-1], None
        elif isinstance(parent, list):
            step = len(parent)
        place = (*self._place, step) if step is not None else ()
        if len(self.lines) >= MOST_VALUES:
            raise self._fault(event, f"holds more than {MOST_VALUES} values", "split the file")
        self.lines[place] = event.start_mark.line + 1
        value: Tree
        if kind is yaml.ScalarEvent:
            value = event.value
        else:
            if len(self._open) >= DEEPEST:
                raise self._fault(event, f"nests deeper than {DEEPEST} levels", "flatten it")
            value = {} if kind is yaml.MappingStartEvent else []
        if isinstance(parent, dict):
            assert isinstance(step, str)
            parent[step] = value
        elif isinstance(parent, list):
            parent.append(value)
        else:
            self.tree = value
        if not isinstance(value, str):
            self._open.append(value)
            self._key.append(None)
            if step is not None:
                self._place.append(step)

    def _take_key(self, event: Any, parent: dict[str, Tree]) -> None:
        if not isinstance(event, yaml.ScalarEvent):
            raise self._fault(event, "has a list or mapping as a key", "use a word as the key")
        if event.value in parent:
            raise self._fault(event, f"has the key {event.value!r} twice", "keep one of them")
        self._key[-1] = event.value

    def _fault(self, event: Any, what: str, mend: str) -> InputError:
        return InputError(
            what, mend, self.source, event.start_mark.line + 1, place_text(tuple(self._place))
        )


def write(tree: Tree, flow_below: int = 2) -> str:
    """Write a tree of text as YAML that a person can read and diff.

    Values are double-quoted, text of several lines stands as a block, and
    mappings deeper than `flow_below` levels go on one line.

    Parameters
    ----------
    tree : dict, list or str
        Text values only.
    flow_below : int
        Levels written in block style before rows go on one line.

    Returns
    -------
    str
        Reads back to the same tree.

    Examples
    --------
    >>> print(write({"glost": "1", "base": [{"material": "talc", "parts": "16"}]}), end="")
    glost: "1"
    base:
    - {material: "talc", parts: "16"}
    """
    node = _node_of(tree, flow_below)
    text = yaml.serialize(
        node, Dumper=_Dumper, allow_unicode=True, width=100_000, line_break="\n", encoding=None
    )
    return str(text)


def _node_of(tree: Tree, block_levels: int) -> yaml.Node:
    if isinstance(tree, dict):
        # A mapping of plain values inside a list is a row of a table.
        flat = block_levels <= 0 and not any(_holds_block(value) for value in tree.values())
        pairs = [(_key_node(key), _node_of(value, block_levels - 1)) for key, value in tree.items()]
        return yaml.MappingNode("tag:yaml.org,2002:map", pairs, flow_style=flat or not tree)
    if isinstance(tree, list):
        rows = [_node_of(item, block_levels - 1) for item in tree]
        flat = not tree or all(isinstance(item, str) and "\n" not in item for item in tree)
        return yaml.SequenceNode("tag:yaml.org,2002:seq", rows, flow_style=flat)
    # A block cannot keep leading blanks or blank line ends faithfully.
    block = "\n" in tree and not re.search(r"[ \t\r]\n|^\s|[ \t\r]$", tree)
    return yaml.ScalarNode(_STR_TAG, _writable(tree), style="|" if block else '"')


def _holds_block(value: Tree) -> bool:
    return isinstance(value, list) and any(not isinstance(item, str) for item in value)


def _key_node(key: str) -> yaml.Node:
    plain = re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*", key) is not None
    return yaml.ScalarNode(_STR_TAG, _writable(key), style=None if plain else '"')


def _writable(text: str) -> str:
    """Drop what no YAML text may hold, so that every written file reads back."""
    return _NOT_TEXT.sub("\ufffd", text)
