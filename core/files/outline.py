"""Where the keys and rows of a YAML text stand, and what comments stand between them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from core import plain_yaml
from core.plain_yaml import Tree

BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What ends a line, and so a comment, in YAML 1.1 (section 4.2)."""

_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@dataclass(slots=True)
class Item:
    """A key with its value, or one row of a list."""

    parent: int
    """Number of the item that holds it; -1 at the top."""
    step: str | int
    value: Tree
    start: int
    line: int
    column: int
    flat: bool
    """Stands inside brackets or braces."""
    host: int
    """The item whose line this is: itself, or the one that its brackets belong to."""
    closed: int
    """Where the brackets that it opens are closed; 0 without them."""
    last: int
    """The line on which its own brackets or quotes end."""
    literal: bool
    """Its value is a block of text, begun by | or >."""
    until: int = 0
    """Number after that of the last item inside it."""
    children: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Remark:
    """Comments that stand together: lines of their own, or one at a line's end."""

    at: int
    lines: list[tuple[int, str]]
    """Column and text of each; a blank line among them has no text, column -1."""
    ends_line: bool


class Outline:
    """The keys and rows of a text, numbered in the order in which they stand.

    Raises
    ------
    InputError
        If `plain_yaml.parse` refuses the text.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        # Size, number and depth are bounded here, and aliases refused, so that
        # composing cannot expand or nest without end.
        self.tree = plain_yaml.parse(text, "").tree
        self.items: list[Item] = []
        self.top: list[int] = []
        self._spans: list[tuple[int, int]] = []
        self._walk(yaml.compose(text, Loader=_Loader))
        for number in range(len(self.items) - 1, -1, -1):
            item = self.items[number]
            item.until = max(item.until, number + 1)
            if item.parent >= 0:
                above = self.items[item.parent]
                above.until = max(above.until, item.until)
        self.starts = [item.start for item in self.items]

    def children(self, number: int) -> tuple[Tree, list[int]]:
        """Return the value of an item, or of the whole for -1, and the items in it."""
        if number < 0:
            return self.tree, self.top
        return self.items[number].value, self.items[number].children

    def _walk(self, root: Any) -> None:
        waiting = self._inside(root, self.tree, -1) if _holds(root) else []
        if not _holds(root):
            self._span(root)
        waiting.reverse()
        while waiting:
            parent, step, value, key, node, flat, column = waiting.pop()
            mark = node.start_mark if key is None else key.start_mark
            number = len(self.items)
            holds = _holds(node)
            block = holds and not node.flow_style
            literal = not holds and node.style in ("|", ">")
            self.items.append(
                Item(
                    parent,
                    step,
                    value,
                    mark.index,
                    mark.line,
                    mark.column if column is None else column,
                    flat,
                    (self.items[parent].host if parent >= 0 else 0) if flat else number,
                    node.end_mark.index if holds and not block else 0,
                    mark.line if block or literal else node.end_mark.line,
                    literal,
                )
            )
            (self.items[parent].children if parent >= 0 else self.top).append(number)
            if key is not None:
                self._span(key)
            if holds:
                waiting.extend(reversed(self._inside(node, value, number)))
            else:
                self._span(node)

    def _inside(self, node: Any, value: Any, number: int) -> list[Any]:
        flat = bool(node.flow_style)
        if isinstance(node, yaml.MappingNode):
            return [
                (number, key.value, value[key.value], key, inner, flat, None)
                for key, inner in node.value
            ]
        # The dash of a row stands where its list does; the row begins after it.
        column = None if flat else node.start_mark.column
        return [
            (number, place, value[place], None, inner, flat, column)
            for place, inner in enumerate(node.value)
        ]

    def _span(self, node: Any) -> None:
        start, end = node.start_mark.index, node.end_mark.index
        if node.style in ("|", ">"):
            # The line of the | itself may end in a comment.
            header = BREAK.search(self.text, start, end)
            start = end if header is None else header.start()
        if start < end:
            self._spans.append((start, end))

    def remarks(self) -> Iterator[Remark]:
        """Yield the comments in the order in which they stand."""
        begin = 0
        for start, end in [*self._spans, (len(self.text), len(self.text))]:
            if self.text.find("#", begin, start) >= 0:
                yield from self._remarks_between(begin, start)
            begin = end

    def _remarks_between(self, begin: int, end: int) -> Iterator[Remark]:
        """Yield the comments of a stretch that holds nothing but comments and signs."""
        own: list[tuple[int, str]] = []
        own_at = -1
        whole = begin == 0 or BREAK.match(self.text, begin - 1) is not None
        while begin <= end:
            found = BREAK.search(self.text, begin, end)
            stop = end if found is None else found.start()
            line = self.text[begin:stop]
            signs, mark, text = line.partition("#")
            # A comment on the line of a bare dash belongs to the row that follows.
            if mark and whole and not signs.strip("-? \t"):
                own.append((len(signs) if not signs.strip() else -1, mark + text))
                own_at = begin + len(signs) if own_at < 0 else own_at
            elif whole and not line.strip() and found is not None:
                own.append((-1, ""))
            elif mark or line.strip():
                if own_at >= 0:
                    yield Remark(own_at, own, False)
                own, own_at = [], -1
                if mark:
                    yield Remark(begin + len(signs), [(-1, mark + text)], True)
            if found is None:
                break
            begin, whole = found.end(), True
        if own_at >= 0:
            yield Remark(own_at, own, False)


def _holds(node: Any) -> bool:
    return not isinstance(node, yaml.ScalarNode)
