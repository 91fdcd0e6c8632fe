"""Comments that a person wrote into a file, carried over to its next text.

A save writes the whole text anew from the model, which knows no comments. They
are found in the old text by the parser's marks and set beside the same keys
and rows of the new text, whose values stay as the writer laid them out.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections import defaultdict, deque
from collections.abc import Hashable
from dataclasses import dataclass

from core import plain_yaml
from core.errors import InputError
from core.files.outline import BREAK, Outline, Remark
from core.plain_yaml import Tree

_NAMING_KEYS = ("id", "code", "material", "name", "letter", "begun", "shelf", "hours")
"""What tells one row of a list from another, the surest first."""

_Lines = list[tuple[int, str]]


def keep_remarks(old: str, new: str) -> str:
    """Return the new text of a file with the comments of its old text.

    A comment on lines of its own stays before the key or row that it stood
    before, one indented deeper than what follows stays after what it stood
    behind, and one at a line's end stays at the end of that line. Rows of a list
    are known by being equal, else by what names them, else by their place. A
    comment whose row is gone stands on a line of its own after the nearest
    thing before it that is still there.

    The work grows with the length of the texts, which `plain_yaml` bounds in
    bytes, values and depth; nothing recurses.

    Parameters
    ----------
    old : str
        What stands in the file, perhaps touched by hand.
    new : str
        What `plain_yaml.write` gives for the model now.

    Returns
    -------
    str
        Reads to the same tree as `new`. It is `new` itself where `old` has no
        comment or cannot be read, or where the comments would make the file
        larger than `plain_yaml.LARGEST_FILE`.

    Examples
    --------
    >>> print(keep_remarks("parts: 15 # wet\\n", 'parts: "16"\\n'), end="")
    parts: "16"  # wet
    """
    if "#" not in old:
        return new
    try:
        before = Outline(old.removeprefix("\ufeff"))
        remarks = list(before.remarks())
        if not remarks:
            return new
        after = Outline(new)
    except InputError:
        return new
    page = _Page(before, after)
    for remark in remarks:
        page.take(remark)
    # Comments must never be what makes a save fail: together at the head they
    # need the least room and stand clear of every value.
    loose = "".join(f"{text}\n" for remark in remarks for _, text in remark.lines if text) + new
    return next((text for text in (page.text(), loose) if _reads_as(text, after.tree)), new)


def _reads_as(text: str, tree: Tree) -> bool:
    try:
        return plain_yaml.parse(text.encode(), "").tree == tree
    except InputError:
        return False


@dataclass(slots=True)
class _Row:
    """A line of the new text on which keys or rows of a list begin."""

    start: int
    stop: int
    """Where a comment at the end of the line goes."""
    column: int
    literal: bool


class _Page:
    """The new text, and what is to stand before, at the end of and after its rows."""

    def __init__(self, old: Outline, new: Outline) -> None:
        self._old = old
        self._new = new
        self._found = _pairs(old, new)
        self._survivor: list[int] = []
        for number, found in enumerate(self._found):
            before = self._survivor[-1] if number else -1
            self._survivor.append(number if found >= 0 else before)
        self._rows, self._row_of = _rows(new)
        self._before: dict[int, _Lines] = defaultdict(list)
        self._ends: dict[int, list[str]] = defaultdict(list)
        self._after: dict[int, _Lines] = defaultdict(list)

    def take(self, remark: Remark) -> None:
        """Find the place of a comment."""
        items = self._old.items
        previous = bisect_right(self._old.starts, remark.at) - 1
        if previous < 0:
            self._before[0] += remark.lines
            return
        host = items[previous].host
        inside = remark.at < items[host].closed
        if remark.ends_line:
            self._put_at_end(previous if inside else host, remark.lines)
            return
        following = previous + 1
        if inside:
            if following < items[host].until:
                self._put_before(following, remark.lines)
            else:
                self._put_after(previous, remark.lines)
            return
        deeper = 0
        if following >= items[host].until:
            column = items[following if following < len(items) else 0].column
            deep = [at for at, (own, _) in enumerate(remark.lines, 1) if own > column]
            deeper = deep[-1] if deep else 0
        if deeper and not any(text for _, text in remark.lines[deeper:]):
            deeper = len(remark.lines)
        if deeper:
            self._put_after(host, remark.lines[:deeper])
        if deeper < len(remark.lines):
            self._put_before(following, remark.lines[deeper:])

    def _put_at_end(self, number: int, lines: _Lines) -> None:
        found = self._found[number]
        if found >= 0:
            self._ends[self._row_of[found]] += [text for _, text in lines]
        else:
            self._put_near(number, lines)

    def _put_before(self, number: int, lines: _Lines) -> None:
        if number >= len(self._found):
            self._before[len(self._rows)] += lines
        elif self._found[number] >= 0:
            self._before[self._row_of[self._found[number]]] += lines
        else:
            self._put_near(number, lines)

    def _put_after(self, number: int, lines: _Lines) -> None:
        found = self._found[number]
        if found >= 0:
            self._after[self._last_row(found)] += lines
        else:
            self._put_near(number, lines)

    def _put_near(self, number: int, lines: _Lines) -> None:
        """Put what stood by something that is gone after the nearest thing before it."""
        survivor = self._survivor[number]
        if survivor < 0:
            self._before[0] += lines
            return
        found = self._found[survivor]
        row, last = self._row_of[found], self._last_row(found)
        if number < self._old.items[survivor].until and row < last:
            self._before[row + 1] += lines
        else:
            self._after[last] += lines

    def _last_row(self, number: int) -> int:
        return self._row_of[self._new.items[number].until - 1]

    def text(self) -> str:
        """Return the new text with all comments in place."""
        whole = self._new.text
        pieces: list[str] = []
        written = 0
        for number in range(len(self._rows) + 1):
            row = self._rows[number] if number < len(self._rows) else None
            start = len(whole) if row is None else row.start
            pieces += [whole[written:start], self._between(number)]
            written = start
            if row is not None and number in self._ends:
                pieces += [whole[start : row.stop], "  ", "  ".join(self._ends[number])]
                written = row.stop
        return "".join(pieces)

    def _between(self, number: int) -> str:
        """Return the lines before a row, or before the end of the file."""
        column = self._rows[number].column if number < len(self._rows) else 0
        lines = [(column, text) for _, text in self._before.get(number, ())]
        if number:
            above = self._rows[number - 1]
            # Deeper than what follows, so that it is told from what belongs to
            # that; but below a block of text it would become part of the block.
            deep = above.column if above.literal else max(above.column, column + 2)
            lines = [(deep, text) for _, text in self._after.get(number - 1, ())] + lines
            while above.literal and lines and not lines[0][1]:
                del lines[0]
        return "".join(f"{' ' * indent if text else ''}{text}\n" for indent, text in lines)


def _rows(new: Outline) -> tuple[list[_Row], list[int]]:
    """Return the rows of a text, and for each item the number of its row."""
    breaks = [found.span() for found in BREAK.finditer(new.text)]
    rows: list[_Row] = []
    row_of: list[int] = []
    line = -1
    for number, item in enumerate(new.items):
        if item.host != number:
            row_of.append(row_of[item.host])
            continue
        if item.line != line:
            line = item.line
            rows.append(_Row(breaks[line - 1][1] if line else 0, 0, item.column, False))
        rows[-1].stop = breaks[item.last][0] if item.last < len(breaks) else len(new.text)
        rows[-1].literal |= item.literal
        row_of.append(len(rows) - 1)
    return rows, row_of


def _pairs(old: Outline, new: Outline) -> list[int]:
    """Return for each item of the old text its number in the new one; -1 if it is gone."""
    found = [-1] * len(old.items)
    waiting = [(-1, -1)]
    while waiting:
        here, there = waiting.pop()
        before, numbers = old.children(here)
        after, others = new.children(there)
        if isinstance(before, dict) and isinstance(after, dict):
            places = {step: place for place, step in enumerate(after)}
            matches = [places.get(step, -1) for step in before]
        elif isinstance(before, list) and isinstance(after, list):
            matches = _match_rows(before, after)
        else:
            continue
        for number, match in zip(numbers, matches, strict=True):
            if match >= 0:
                found[number] = others[match]
                waiting.append((number, others[match]))
    return found


def _match_rows(old: list[Tree], new: list[Tree]) -> list[int]:
    """Return for each row of a list its place in the new list; -1 if it is gone."""
    found = [-1] * len(old)
    free = set(range(len(new)))
    for sign in (_content, _name):
        waiting: dict[Hashable, deque[int]] = defaultdict(deque)
        for place, row in enumerate(new):
            if place in free:
                waiting[sign(row)].append(place)
        for place, row in enumerate(old):
            if found[place] < 0 and (matches := waiting.get(sign(row))):
                found[place] = matches.popleft()
                free.remove(found[place])
    for place in range(len(old)):
        if found[place] < 0 and (place == 0 or found[place - 1] >= 0):
            beside = found[place - 1] + 1 if place else 0
            if beside in free:
                found[place] = beside
                free.remove(beside)
    return found


def _content(row: Tree) -> Hashable:
    return json.dumps(row, sort_keys=True)


def _name(row: Tree) -> Hashable:
    """Return what names a row; of one without a name, all of it."""
    if isinstance(row, dict):
        for key in _NAMING_KEYS:
            if key in row:
                return key, json.dumps(row[key])
    return _content(row)
