"""Conflict copies: what a program that syncs folders leaves where two computers wrote one file.

They are told by the names that such programs give, which are long and odd on
purpose; a name that a potter might choose is never taken for one.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from core.errors import InputError
from core.plain_yaml import read_file

# "eider (conflicted copy 2026-11-28)", "eider (Ana's conflicted copy)", "eider (case conflict 1)":
# the words are the mark, or in any of several languages the word with a date beside it.
_IN = r"(?:[^()]|\(\d{1,2}\))*"
_END = r"(?: ?\(\d{1,2}\)| \d{1,2})?$"  # a further number belongs to the mark
_IN_BRACKETS = re.compile(
    rf" ?\((?:{_IN}\b(?:conflicted copy|conflict copy|case conflict)\b{_IN}"
    rf"|(?={_IN}\d{{4}}-\d{{2}}-\d{{2}}){_IN}\b(?:conflic|konfli[ck]|conflit)\w*{_IN})\){_END}",
    re.IGNORECASE,
)
# "eider.sync-conflict-20261128-101112-ABCDEFG", "eider_conflict-20261128-101112"
_WITH_A_MOMENT = re.compile(
    rf"[._-](?:sync-)?conflict-\d{{8}}-\d{{6}}(?:-[A-Z0-9]{{1,16}})?{_END}", re.IGNORECASE
)
# "eider (1)": anybody may name a file so, and file managers do; its contents decide.
_NUMBERED = re.compile(r" \([1-9]\d?\)$")
_WORTH_A_LOOK = re.compile(r"conflic|konflic|konflik|conflit|\(\d", re.IGNORECASE)
_SUFFIX = ".yaml"
_AT_MOST = 3
"""A copy may itself have been in conflict."""


def original_name(name: str) -> str | None:
    """Return the name of the file that a conflict copy is of; None for any other name.

    Examples
    --------
    >>> original_name("eider (conflicted copy 2026-11-28).yaml")
    'eider.yaml'
    >>> original_name("eider.sync-conflict-20261128-101112-ABCDEFG.yaml")
    'eider.yaml'
    >>> original_name("eider 2.yaml"), original_name("eider (1).yaml")
    (None, None)
    """
    stem, dot, suffix = name.rpartition(".")
    if suffix not in ("yaml", "yml") or _WORTH_A_LOOK.search(stem) is None:
        return None
    plain = stem
    for _ in range(_AT_MOST):
        for pattern in (_IN_BRACKETS, _WITH_A_MOMENT):
            found = pattern.search(plain)
            if found is not None and found.start() > 0:
                plain = plain[: found.start()]
    return f"{plain}{dot}{suffix}" if plain != stem else None


def original_of(path: Path) -> Path | None:
    """Return the file that `path` is a conflict copy of, there or not; None if it is none.

    A name that ends in " (1)" counts only if the file without it lies beside it
    and both call themselves the same: the same kind, and the same name or id.
    """
    name = original_name(path.name)
    if name is not None:
        return path.with_name(name)
    found = _NUMBERED.search(path.stem)
    if found is None:
        return None
    original = path.with_name(path.stem[: found.start()] + path.suffix)
    return original if _same_subject(path, original) else None


def without_copies(paths: Iterable[Path]) -> list[Path]:
    """Return the files that are no conflict copies, in their order."""
    return [path for path in paths if original_of(path) is None]


def conflict_copies(folder: Path) -> list[Path]:
    """Return the conflict copies in a studio's folder and the folders that it keeps, by name."""
    places = [folder, *(folder / inner for inner in ("recipes", "runs", "firings", "machines"))]
    found = []
    for place in places:
        with suppress(OSError):  # not there, or not for us to look into
            # A studio may hold thousands of files: only odd names are looked at closely.
            names = [
                n for n in os.listdir(place) if n.endswith(".yaml") and _WORTH_A_LOOK.search(n)
            ]
            found += [place / name for name in sorted(names, key=str.casefold)]
    return [path for path in found if original_of(path) is not None]


def copy_words(path: Path, original: Path) -> str:
    """Say what a conflict copy is.

    Examples
    --------
    >>> copy_words(Path("a (conflicted copy).yaml"), Path("a.yaml"))
    'is a conflict copy of a.yaml that a sync program left; it is not read as one of the studio'
    """
    return (
        f"is a conflict copy of {original.name} that a sync program left; "
        "it is not read as one of the studio"
    )


def _same_subject(path: Path, original: Path) -> bool:
    try:
        one, other = (_subject(p) for p in (path, original))
    except InputError:
        return False
    return one is not None and one == other


def _subject(path: Path) -> tuple[str, ...] | None:
    tree = read_file(path).tree
    if not isinstance(tree, dict):
        return None
    called = tuple(str(tree.get(key, "")) for key in ("kind", "id", "name"))
    return called if any(called[1:]) else None
