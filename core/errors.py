"""Faults that a person can mend, said in one line."""

from __future__ import annotations


class GlostError(Exception):
    """Anything that Glost itself refuses, with words for the potter."""


class InputError(GlostError):
    """A file, table or figure that cannot be used as it stands.

    Parameters
    ----------
    what : str
        What is wrong.
    mend : str
        How to put it right.
    source : str
        The file or table it stands in.
    line : int or None
        Line in the file, counted from 1.
    path : str
        Place inside the file, such as ``base[2].parts``.

    Examples
    --------
    >>> print(InputError("is negative", "give zero or more", "a.yaml", 8, "base[2].parts"))
    a.yaml, line 8, base[2].parts: is negative; give zero or more
    """

    def __init__(
        self, what: str, mend: str, source: str = "", line: int | None = None, path: str = ""
    ) -> None:
        self.what = _one_line(what)
        self.mend = _one_line(mend)
        self.source = _one_line(source)
        self.line = line
        self.path = _one_line(path)
        place = [self.source] if self.source else []
        if line is not None:
            place.append(f"line {line}")
        if self.path:
            place.append(self.path)
        text = f"{self.what}; {self.mend}" if self.mend else self.what
        super().__init__(f"{', '.join(place)}: {text}" if place else text)


def _one_line(text: str, limit: int = 300) -> str:
    """Keep a message on one line and of readable length, whatever was quoted in it."""
    # Whatever a file put into it, a few lines of it are looked at.
    text = text[: 10 * limit]
    flat = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"
