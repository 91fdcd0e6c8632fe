"""Finding recipes by the words of their names, materials, variants and notes."""

from __future__ import annotations

import re
import unicodedata
import weakref
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import msgspec

from core.errors import InputError

if TYPE_CHECKING:
    import sqlite3

_LONGEST_WORD: Final = 60
"""Letters that count; nobody types more."""
_EXCERPT: Final = 60
_WORD: Final = re.compile(r"[^\W_]+")
_WRITTEN_WORD: Final = re.compile(r"[^\W_][^\W_\u0300-\u036f]*[\u0300-\u036f\w]*")


class RecipeEntry(msgspec.Struct, frozen=True, array_like=True):
    """What is known of a recipe without opening its file."""

    name: str
    firing: str = ""
    body: str = ""
    materials: tuple[tuple[str, str], ...] = ()
    """(id, name) of those in the rows and variants, in order of appearance."""
    notes: str = ""
    variants: tuple[tuple[str, str], ...] = ()
    """(name, reason)."""
    unity: tuple[tuple[int, float], ...] | None = None
    """The unity formula [mol], by the oxides' places in `OXIDES`; None where there is none or a
    material is not known."""
    said: str = ""
    """Every word under which the recipe is found, once, between blanks; see `said_of`."""


@dataclass(frozen=True)
class ListedRecipe:
    """A recipe file of the studio: what it holds, or why it could not be read."""

    path: Path
    entry: RecipeEntry | None = None
    """None before the file is read, and where it cannot be."""
    fault: InputError | None = None

    @property
    def name(self) -> str:
        """The recipe's own name, or that of its file."""
        return self.entry.name if self.entry is not None else self.path.stem.replace("-", " ")


class Field(Enum):
    """Where a word was found."""

    MATERIAL = auto()
    VARIANT = auto()
    NOTE = auto()
    FILE = auto()


@dataclass(frozen=True)
class Match:
    """A place, besides the name, that holds what was looked for."""

    field: Field
    text: str


def words_of(text: str) -> list[str]:
    """Return the words of a text as they are compared: small letters, without accents.

    Examples
    --------
    >>> words_of("Émail «Café», 2,5 % talc")
    ['email', 'cafe', '2', '5', 'talc']
    """
    if text.isascii():
        plain = text.lower()
    else:
        plain = unicodedata.normalize("NFKD", text).casefold()
        plain = "".join(c for c in plain if not unicodedata.combining(c))
    return [word[:_LONGEST_WORD] for word in _WORD.findall(plain)]


def said_of(entry: RecipeEntry, synonyms: Mapping[str, Sequence[str]]) -> str:
    """Return the words of a recipe: its name, materials by all their names, variants and notes."""
    words = dict.fromkeys(words_of(entry.name))
    for material_id, name in entry.materials:
        terms = (name, material_id, *synonyms.get(material_id, ()))
        words |= dict.fromkeys(_words_of_terms(terms))
    for text in (*(f"{name} {reason}" for name, reason in entry.variants), entry.notes):
        words |= dict.fromkeys(words_of(text))
    return f" {' '.join(words)} "


class RecipeSearch:
    """The recipes of a studio with an index over their words.

    Parameters
    ----------
    recipes : iterable of ListedRecipe
    synonyms : mapping, optional
        Other names of materials by id, to tell which of them a word meant.
    full_text : bool
        Whether to use the full-text index of sqlite where its build has one; without it the
        same is found, only slower.
    """

    def __init__(
        self,
        recipes: Iterable[ListedRecipe] = (),
        synonyms: Mapping[str, Sequence[str]] | None = None,
        full_text: bool = True,
    ) -> None:
        self.recipes = tuple(
            sorted(recipes, key=lambda r: (r.name.casefold(), r.path.name.casefold(), r.path.name))
        )
        self._synonyms = synonyms or {}
        self._named = [frozenset(words_of(recipe.name)) for recipe in self.recipes]
        self._full_text = full_text
        self._words: sqlite3.Connection | None = None

    @property
    def full_text(self) -> bool:
        """Whether the full-text index of sqlite is used."""
        self.prepare()
        return self._full_text

    def prepare(self) -> sqlite3.Connection:
        """Make the index over the words, if it is not made; the first question does it else.

        It lies in memory, so that no key press waits for a disk. It may be made in one thread
        and asked in another, though never by both at once.
        """
        if self._words is not None:
            return self._words
        import sqlite3

        words = sqlite3.connect(":memory:", check_same_thread=False, isolation_level=None)
        weakref.finalize(self, words.close)
        self._full_text = self._full_text and _make_full_text(words)
        if not self._full_text:
            words.execute("CREATE TABLE words (said TEXT)")
        words.execute("BEGIN")
        words.executemany(
            "INSERT INTO words (rowid, said) VALUES (?, ?)",
            ((row, _said(recipe)) for row, recipe in enumerate(self.recipes)),
        )
        words.execute("COMMIT")
        self._words = words
        return words

    def __len__(self) -> int:
        return len(self.recipes)

    def find(self, text: str) -> list[ListedRecipe]:
        """Return the recipes that hold every word; of the last word its beginning is enough.

        Those that hold all of it in their name come first, else the order is by name. Signs that
        belong to no word do not count, and a text without words asks for all.
        """
        words = list(dict.fromkeys(words_of(text)))
        if not words:
            return list(self.recipes)
        last = words_of(text)[-1]
        rows = self._rows(last, begun=True)
        for word in words:
            if not rows:
                return []
            if word != last:
                rows &= self._rows(word)
        named = self._named
        before = {row for row in rows if _all_in(words, last, named[row])}
        return [self.recipes[row] for row in (*sorted(before), *sorted(rows - before))]

    def matches(self, recipe: ListedRecipe, text: str) -> list[Match]:
        """Tell where a found recipe holds the words that are not in its name, in few places."""
        words = words_of(text)
        name = words_of(recipe.name)
        last = words[-1] if words else ""
        missing = [w for w in dict.fromkeys(words) if not _holds(name, w, w == last)]
        places = self._places(recipe, missing, last) if missing else []
        found = []
        while missing:
            held = [[w for w in missing if _holds(said, w, w == last)] for _, said, _ in places]
            most = max(range(len(places)), key=lambda place: len(held[place]), default=None)
            if most is None or not held[most]:
                break
            field, _, shown = places[most]
            found.append(Match(field, _excerpt(shown, held[most][0], held[most][0] == last)))
            missing = [word for word in missing if word not in held[most]]
        return found

    def _places(
        self, recipe: ListedRecipe, words: Sequence[str], last: str
    ) -> list[tuple[Field, Sequence[str], str]]:
        """Return what a recipe may hold words in: (field, its words, text)."""
        entry = recipe.entry
        places: list[tuple[Field, Sequence[str], str]] = []
        if entry is not None:
            for word in words:
                shown = self._material(entry, word, word == last)
                if shown:
                    # It may be called by its id, which is not shown.
                    places.append((Field.MATERIAL, [*words_of(shown), word], shown))
            for name, reason in entry.variants:
                shown = f"{name}: {reason}" if reason else name
                places.append((Field.VARIANT, words_of(shown), shown))
            places.append((Field.NOTE, words_of(entry.notes), entry.notes))
        places.append((Field.FILE, words_of(recipe.path.stem), recipe.path.name))
        return places

    def _material(self, entry: RecipeEntry, word: str, begun: bool) -> str:
        """Return the material that a word means most likely, with the other name it goes by."""
        others = []
        for material_id, name in entry.materials:
            if _holds(words_of(name), word, begun):
                return name
            for term in (*self._synonyms.get(material_id, ()), material_id):
                said = words_of(term)
                if _holds(said, word, begun):
                    # Chalk is whiting before it is French chalk, which is talc.
                    own = name if term == material_id else f"{name} ({term})"
                    others.append((len(said), own))
        return min(others, key=lambda other: other[0])[1] if others else ""

    def _rows(self, word: str, begun: bool = False) -> set[int]:
        """Return the rows that hold one word; it consists of letters and digits alone."""
        words = self.prepare()
        if self._full_text:
            asked = f'"{word}"*' if begun else f'"{word}"'
            found = words.execute("SELECT rowid FROM words WHERE words MATCH ?", (asked,))
        else:
            asked = f"% {word}%" if begun else f"% {word} %"
            found = words.execute("SELECT rowid FROM words WHERE said LIKE ?", (asked,))
        return {row for (row,) in found}


def _said(recipe: ListedRecipe) -> str:
    # A file that was renamed holds the same bytes: its name is no part of what is kept.
    own = recipe.entry.said if recipe.entry is not None else " "
    return f"{own}{' '.join(words_of(recipe.path.stem))} "


def _make_full_text(connection: sqlite3.Connection) -> bool:
    import sqlite3

    try:
        # The words are cut before: to this tokenizer all that is not ASCII belongs to a word.
        connection.execute(
            "CREATE VIRTUAL TABLE words USING fts5"
            "(said, content='', detail='none', tokenize='ascii')"
        )
    except sqlite3.OperationalError:  # built without it
        return False
    return True


@lru_cache(maxsize=4096)
def _words_of_terms(terms: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(word for term in terms for word in words_of(term))


def _holds(said: Sequence[str], word: str, begun: bool) -> bool:
    return any(w.startswith(word) for w in said) if begun else word in said


def _all_in(words: Sequence[str], last: str, said: frozenset[str]) -> bool:
    return all(
        any(w.startswith(word) for w in said) if word == last else word in said for word in words
    )


def _excerpt(text: str, word: str, begun: bool) -> str:
    """Return the words about the first one that matches, on one line."""
    flat = " ".join(text.split())
    if len(flat) <= _EXCERPT:
        return flat
    place = next(
        (m.start() for m in _WRITTEN_WORD.finditer(flat) if _holds(words_of(m[0]), word, begun)), 0
    )
    start = 0 if place < _EXCERPT // 3 else flat.rfind(" ", 0, place - _EXCERPT // 4) + 1
    end = start + _EXCERPT
    return f"{'… ' if start else ''}{flat[start:end].rstrip()}{'…' if end < len(flat) else ''}"
