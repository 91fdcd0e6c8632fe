"""Comments that a person wrote into a file, carried over to its next text.

A save writes the whole text anew from the model, which knows no comments. They
are found in the old text by the parser's marks and set beside the same keys
and rows of the new text, whose values stay as the writer laid them out.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict, deque
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from itertools import dropwhile, pairwise

from core import plain_yaml
from core.files.outline import BREAK, END, LIST, MAPPING, Outline, Remark, Token, tokens_of

MOST_PLACED = 100_000
"""Lines of comments; more are no person's, and are kept together at the head."""
_NAMING_KEYS = ("id", "code", "material", "name", "letter", "begun", "shelf", "hours")
"""What tells one row of a list from another, the surest first."""
_BLANK = " \t"


def keep_remarks(old: str, new: str) -> str:
    """Return the new text of a file with the comments of its old text.

    A comment on lines of its own stays before the key or row that it stood
    before, one indented deeper than what follows stays after what it stood
    behind, and one at a line's end stays at the end of that line. Rows of a list
    are known by being equal, else by what names them, else by their place. A
    comment whose row is gone stands on a line of its own after the nearest
    thing before it that is still there. More than `MOST_PLACED` lines of comments
    all stand together at the head.

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
    if len(old) > plain_yaml.LARGEST_FILE:
        return new
    try:
        before = Outline(old.removeprefix("\ufeff"))
        if not before.remarks:
            return new
        after = Outline(new)
    except ValueError:
        return new
    page = _Page(before, after)
    texts = [page.loose]
    if sum(len(remark.lines) for remark in before.remarks) <= MOST_PLACED:
        for remark in before.remarks:
            page.take(remark)
        texts = [page.text, page.loose]
    # Comments must never be what makes a save fail: together at the head they
    # need the least room and stand clear of every value.
    for text in texts:
        if _reads_as(result := text(), after):
            return result
    return new


def _reads_as(text: str, outline: Outline) -> bool:
    if len(text.encode()) > plain_yaml.LARGEST_FILE:
        return False
    try:
        return tokens_of(text) == outline.tokens
    except ValueError:
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
        self._before: dict[int, list[str]] = defaultdict(list)
        self._ends: dict[int, list[str]] = defaultdict(list)
        self._after: dict[int, list[str]] = defaultdict(list)

    def take(self, remark: Remark) -> None:
        """Find the place of a comment."""
        items = self._old.items
        previous = bisect_right(self._old.starts, remark.at) - 1
        following = previous + 1
        if previous < 0:
            self._before[0] += remark.lines
        elif remark.ends_line:
            self._put_at_end(previous, remark.lines)
        elif remark.at < items[previous].closed:
            self._put_before(previous, remark.lines)
        else:
            deeper = 0
            if following >= items[previous].until:
                column = items[following if following < len(items) else 0].column
                deeper = _count_deeper(remark.lines, column)
            if deeper:
                self._put_after(previous, remark.lines[:deeper])
            if deeper < len(remark.lines):
                self._put_before(following, remark.lines[deeper:])

    def _put_at_end(self, number: int, lines: list[str]) -> None:
        found = self._found[number]
        if found >= 0:
            self._ends[self._row_of[found]] += lines
        else:
            self._put_near(number, lines)

    def _put_before(self, number: int, lines: list[str]) -> None:
        if number >= len(self._found):
            self._before[len(self._rows)] += lines
        elif self._found[number] >= 0:
            self._before[self._row_of[self._found[number]]] += lines
        else:
            self._put_near(number, lines)

    def _put_after(self, number: int, lines: list[str]) -> None:
        found = self._found[number]
        if found >= 0:
            self._after[self._last_row(found)] += lines
        else:
            self._put_near(number, lines)

    def _put_near(self, number: int, lines: list[str]) -> None:
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

    def loose(self) -> str:
        """Return the new text after all comments, which touch nothing there."""
        lines = [
            bare
            for remark in self._old.remarks
            for line in remark.lines
            if (bare := line.lstrip(_BLANK))
        ]
        return "\n".join([*lines, self._new.text])

    def _between(self, number: int) -> str:
        """Return the lines before a row, or before the end of the file."""
        column = self._rows[number].column if number < len(self._rows) else 0
        lines = _indented(self._before.get(number, ()), column)
        if number:
            above = self._rows[number - 1]
            # Deeper than what follows, so that it is told from what belongs to
            # that; but below a block of text it would become part of the block.
            deep = above.column if above.literal else max(above.column, column + 2)
            lines = _indented(self._after.get(number - 1, ()), deep) + lines
            if above.literal:
                # Nor may blank lines follow it there.
                lines = list(dropwhile(lambda line: not line, lines))
        return "\n".join([*lines, ""])


def _indented(lines: Iterable[str], column: int) -> list[str]:
    blank = " " * column
    return [blank + bare if (bare := line.lstrip(_BLANK)) else "" for line in lines]


def _count_deeper(lines: list[str], column: int) -> int:
    """Count the lines, from the first on, that stand deeper than what follows them."""
    deep = column + 1
    found = (
        number
        for number in range(len(lines), 0, -1)
        if not lines[number - 1][:deep].strip(_BLANK) and lines[number - 1].strip(_BLANK)
    )
    count = next(found, 0)
    return count if any(line.strip() for line in lines[count:]) or not count else len(lines)


def _rows(new: Outline) -> tuple[list[_Row], list[int]]:
    """Return the rows of a text, and for each item the number of its row."""
    breaks = [found.span() for found in BREAK.finditer(new.text)]
    rows: list[_Row] = []
    row_of: list[int] = []
    line = -1
    for item in new.items:
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
    waiting = [(old.top, new.top)]
    while waiting:
        here, there = waiting.pop()
        for number, match in zip(here, _match(old, here, new, there), strict=True):
            if match < 0:
                continue
            found[number] = match
            item, other = old.items[number], new.items[match]
            if other.children:
                waiting.append((item.children, other.children))
            elif other.closed and new.tokens[other.first + 1] != END:
                # All of it now stands on one line.
                found[number : item.until] = [match] * (item.until - number)
    return found


def _match(old: Outline, here: list[int], new: Outline, there: list[int]) -> list[int]:
    """Return for some neighbours in the old text their like in the new one, or -1."""
    if not here or not there:
        return [-1] * len(here)
    if old.items[here[0]].key and new.items[there[0]].key:
        places = {new.items[number].key: number for number in there}
        return [places.get(old.items[number].key, -1) for number in here]
    found = [-1] * len(here)
    free = set(there)
    for sign in (_content, _name):
        waiting: dict[Hashable, deque[int]] = defaultdict(deque)
        for number in there:
            if number in free:
                waiting[sign(new, number)].append(number)
        for place, number in enumerate(here):
            if found[place] < 0 and (matches := waiting.get(sign(old, number))):
                found[place] = matches.popleft()
                free.remove(found[place])
    beside = dict(pairwise((-1, *there)))
    for place in range(len(here)):
        if found[place] < 0 and (place == 0 or found[place - 1] >= 0):
            candidate = beside.get(found[place - 1] if place else -1, -1)
            if candidate in free:
                found[place] = candidate
                free.remove(candidate)
    return found


def _content(outline: Outline, number: int) -> Hashable:
    """Return all that a row holds."""
    item = outline.items[number]
    return tuple(outline.tokens[item.first : item.after])


def _name(outline: Outline, number: int) -> Hashable:
    """Return what names a row; of one without a name, all of it."""
    item = outline.items[number]
    if outline.tokens[item.first] == MAPPING:
        words: list[Token] = []
        depth = 0
        for token in outline.tokens[item.first + 1 : item.after - 1]:
            if token == END:
                depth -= 1
                continue
            if not depth:
                words.append(token)
            depth += token in (MAPPING, LIST)
        names = dict(zip(words[::2], words[1::2], strict=True))
        for key in _NAMING_KEYS:
            if isinstance(name := names.get(key), str):
                return key, name
    return _content(outline, number)
