"""Where the keys and rows of a YAML text stand, and what comments stand between them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What ends a line, and so a comment, in YAML 1.1 (section 4.2)."""
_COMMENT = re.compile("#[^\r\n\x85\u2028\u2029]*+")
_OWN_LINES = re.compile(
    f"(?:[ \t]*+(?:{_COMMENT.pattern})?(?:{BREAK.pattern}))*+(?:[ \t]*+{_COMMENT.pattern})?"
)
"""Comments on lines of their own, and blank lines, as many as stand together."""
_HEADER = re.compile("[^\r\n\x85\u2028\u2029]*")
_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

MAPPING, LIST, END = 1, 2, 0
"""Signs among the tokens; the rest are keys and values, which are text."""
Token = str | int
_SIGNS: dict[type, int] = {
    yaml.MappingStartEvent: MAPPING,
    yaml.SequenceStartEvent: LIST,
    yaml.MappingEndEvent: END,
    yaml.SequenceEndEvent: END,
}


@dataclass(slots=True)
class Item:
    """A key with its value, or one row of a list, that stands outside brackets."""

    key: str
    """Empty for a row of a list."""
    start: int
    line: int
    column: int
    """Of the key, or of the dash of a row."""
    first: int
    """Number of the token that its value begins with."""
    after: int
    """Number after that of the last token of its value."""
    until: int
    """Number after that of the last item inside it."""
    last: int = 0
    """The line on which its own brackets or quotes end, or a block of text begins."""
    closed: int = 0
    """Where the brackets that it opens are closed; 0 without them."""
    literal: bool = False
    """Its value is a block of text, begun by | or >."""
    children: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Remark:
    """Comments that stand together: lines of their own, or one at a line's end."""

    at: int
    lines: list[str]
    """With their indentation; blank lines among them are empty."""
    ends_line: bool


@dataclass(slots=True)
class _Open:
    """A block mapping or list that is being read."""

    item: int
    children: list[int]
    column: int
    mapping: bool
    wants_key: bool


class Outline:
    """The keys and rows of a text, numbered in the order in which they stand.

    It reads the parser's events once, without recursion.

    Raises
    ------
    ValueError
        If the text is no sound YAML or holds aliases, lists as keys or several
        documents.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.items: list[Item] = []
        self.top: list[int] = []
        self.tokens: list[Token] = []
        self.remarks: list[Remark] = []
        """In the order in which they stand."""
        self._noted = 0
        try:
            self._read(yaml.parse(text, Loader=_Loader))
        except yaml.YAMLError as fault:
            raise ValueError("no sound YAML") from fault
        self.starts = [item.start for item in self.items]

    def _read(self, events: Iterator[Any]) -> None:
        text, tokens = self.text, self.tokens
        opened: list[_Open] = []
        brackets = documents = behind = 0
        at = text.find("#")
        scalar = None
        for event in events:
            kind = type(event)
            if kind is yaml.ScalarEvent:
                if 0 <= at < event.end_mark.index:
                    behind = scalar.end_mark.index if scalar is not None else 0
                    at = self._note_before(at, event.start_mark.index, behind)
                    if 0 <= at < event.end_mark.index:
                        at = self._note_in(at, event)
                if not brackets:
                    self._take(event, opened)
                tokens.append(event.value)
                scalar = event
            elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                mapping = kind is yaml.MappingStartEvent
                if brackets or event.flow_style:
                    if not brackets:
                        self._take(event, opened)
                    brackets += 1
                else:
                    number = self._take(event, opened)
                    children = self.items[number].children if number >= 0 else self.top
                    opened.append(
                        _Open(number, children, event.start_mark.column, mapping, mapping)
                    )
                tokens.append(MAPPING if mapping else LIST)
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                tokens.append(END)
                if brackets:
                    brackets -= 1
                    if not brackets and self.items:
                        self.items[-1].last = event.end_mark.line
                        self.items[-1].closed = event.end_mark.index
                        self.items[-1].after = len(tokens)
                else:
                    done = opened.pop()
                    if done.item >= 0:
                        self.items[done.item].until = len(self.items)
                        self.items[done.item].after = len(tokens)
            elif kind is yaml.AliasEvent:
                raise ValueError("holds an alias")
            elif kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    raise ValueError("holds several documents")
        if at >= 0:
            behind = scalar.end_mark.index if scalar is not None else 0
            self._note_before(at, len(text), behind)

    def _take(self, event: Any, opened: list[_Open]) -> int:
        """Note a key, a row or the value of a key; return the number of its item."""
        if not opened:
            return -1
        parent = opened[-1]
        mark = event.start_mark
        number = len(self.items)
        if not parent.mapping or parent.wants_key:
            key = ""
            first = len(self.tokens)
            column = parent.column
            if not parent.mapping and not self.text[mark.index - mark.column : mark.index].strip():
                # The row begins on a line below its dash.
                column = mark.column
            if parent.mapping:
                if type(event) is not yaml.ScalarEvent:
                    raise ValueError("has a list or mapping as a key")
                key = event.value
                first += 1
                column = mark.column
            self.items.append(
                Item(key, mark.index, mark.line, column, first, first + 1, number + 1)
            )
            parent.children.append(number)
            if parent.mapping:
                parent.wants_key = False
                return number
        else:
            # A block collection's key is the last item as long as its value has not begun.
            parent.wants_key = True
            number -= 1
        item = self.items[number]
        end: Any = event.end_mark
        if type(event) is yaml.ScalarEvent:
            item.literal = event.style in ("|", ">")
            item.last = mark.line if item.literal else end.line
        else:
            item.last = item.line
        return number

    def _note_before(self, at: int, end: int, behind: int) -> int:
        """Note the comments from `at` up to `end`, after a value that ends at `behind`.

        Return where the next # stands; -1 if there is none.
        """
        text = self.text
        while 0 <= at < end:
            begin = max(self._noted, behind)
            *lines, signs = BREAK.split(text[begin:at])
            if begin > 0 and BREAK.match(text, begin - 1) is None:
                # The first is the rest of a line on which something stands.
                if not lines:
                    self._note_line_end(at, False)
                    at = text.find("#", self._noted)
                    continue
                del lines[0]
            if signs.strip(" \t"):
                self._note_line_end(at, not signs.strip("-?. \t"))
            else:
                blank = 0
                while blank < len(lines) and not lines[-1 - blank].strip():
                    blank += 1
                start = at - len(signs)
                self._noted = _end(_OWN_LINES, text, start)
                own = BREAK.split(text[start : self._noted])
                self.remarks.append(
                    Remark(at, [""] * blank + (own if own[-1] else own[:-1]), False)
                )
            at = text.find("#", self._noted)
        return at

    def _note_line_end(self, at: int, bare: bool) -> None:
        stop = _end(_COMMENT, self.text, at)
        # On the line of a bare dash, or of the document's end, it belongs to what follows.
        self.remarks.append(Remark(at, [self.text[at:stop]], not bare))
        self._noted = _end(BREAK, self.text, stop)

    def _note_in(self, at: int, event: Any) -> int:
        """Pass over the # that are text; the line of a | itself may end in a comment."""
        start, end = event.start_mark.index, event.end_mark.index
        if event.style in ("|", ">") and at < _end(_HEADER, self.text, start):
            self._note_line_end(at, False)
        return self.text.find("#", end)


def tokens_of(text: str) -> list[Token]:
    """Return the tokens of a text alone, in less time than its outline takes.

    Raises
    ------
    ValueError
        If the text is no sound YAML.
    """
    tokens: list[Token] = []
    try:
        for event in yaml.parse(text, Loader=_Loader):
            if type(event) is yaml.ScalarEvent:
                tokens.append(event.value)
            elif (sign := _SIGNS.get(type(event))) is not None:
                tokens.append(sign)
    except yaml.YAMLError as fault:
        raise ValueError("no sound YAML") from fault
    return tokens


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    found = pattern.match(text, at)
    return at if found is None else found.end()
