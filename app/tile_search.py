"""Looking for tiles by words: code, label, recipe, material, cone, defect, or an oxide's range."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Final

from core.numbers import read_number
from core.oxides import OXIDES, Convention
from core.tiles.codes import tidy
from core.tiles.index import Query, TileEntry, TileIndex

_CONE: Final = re.compile(r"\bcone\s*(\d{1,3})\b", re.IGNORECASE)
_FIGURE: Final = r"\d+(?:[.,]\d+)?"
_RANGE: Final = re.compile(
    rf"\b({'|'.join(sorted(OXIDES, key=len, reverse=True))})"
    rf"\s*(?:(?P<side>[<>])\s*(?P<end>{_FIGURE})"
    rf"|(?P<low>{_FIGURE})\s*(?:-|–|to)\s*(?P<high>{_FIGURE}))",
    re.IGNORECASE,
)
_OXIDE: Final = {oxide.casefold(): oxide for oxide in OXIDES}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a line of free text asks for."""

    words: tuple[str, ...] = ()
    """Each stands somewhere in what is known of the tile."""
    cones: frozenset[str] = frozenset()
    oxides: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """From and to, in the unity formula [mol]."""


def read_words(text: str) -> Wanted:
    """Part a line into words, "cone 10", and ranges such as "MgO 0.2-0.4" or "SiO2 > 3".

    Examples
    --------
    >>> found = read_words("talc cone 10 MgO 0.2-0.4")
    >>> found.words, sorted(found.cones), dict(found.oxides)
    (('talc',), ['10'], {'MgO': (0.2, 0.4)})
    """
    oxides: dict[str, tuple[float, float]] = {}

    def take_range(found: re.Match[str]) -> str:
        oxide = _OXIDE[found[1].casefold()]
        low, high = oxides.get(oxide, (0.0, math.inf))
        if found["side"] == ">":
            oxides[oxide] = (read_number(found["end"]), high)
        elif found["side"] == "<":
            oxides[oxide] = (low, read_number(found["end"]))
        else:
            oxides[oxide] = (read_number(found["low"]), read_number(found["high"]))
        return " "

    text = _RANGE.sub(take_range, text)
    cones = frozenset(found[1] for found in _CONE.finditer(text))
    return Wanted(tuple(_CONE.sub(" ", text).casefold().split()), cones, oxides)


class TileSearch:
    """Finds tiles by words and fields; runs that are edited change in their place.

    An index is made once for all tiles. Making it anew after each edit would
    hold up the next key in the filter; edited runs get small ones of their own.
    """

    def __init__(
        self,
        index: TileIndex,
        material_names: Mapping[str, str],
        convention: Convention | None = None,
    ) -> None:
        self._index = index
        self._names = material_names
        self._convention = convention
        self._edited: dict[str, TileIndex] = {}
        self._lines = {(e.file, e.code): self._line(e) for e in index.entries}
        self._places = {key: place for place, key in enumerate(self._lines)}

    def __len__(self) -> int:
        return len(self._lines)

    @property
    def entries(self) -> list[TileEntry]:
        """Every tile as it stands, in the order of the index."""
        return self._merged(
            self._index.entries, [e for i in self._edited.values() for e in i.entries]
        )

    def take_run(self, file: str, entries: Iterable[TileEntry]) -> None:
        """Take what is known of a run's tiles now."""
        index = self._edited[file] = TileIndex(entries, self._convention)
        self._lines |= {(e.file, e.code): self._line(e) for e in index.entries}

    def counts(self, *names: str) -> list[Counter[str]]:
        """Count the tiles by fields such as surface, body and cone, one count for each."""
        entries = self.entries
        return [Counter(map(attrgetter(name), entries)) for name in names]

    def find(self, query: Query, text: str = "") -> list[TileEntry]:
        """Return the tiles of a query whose words hold those of `text` as well."""
        wanted = read_words(text)
        if wanted.cones:
            cones = query.cones & wanted.cones if query.cones else wanted.cones
            if not cones:
                return []
            query = replace(query, cones=cones)
        query = replace(query, oxides={**query.oxides, **wanted.oxides})
        edited = [e for index in self._edited.values() for e in index.find(query)]
        found = self._merged(self._index.find(query), edited)
        for word in wanted.words:
            # A code may have been typed with blanks and dashes, as it was written on the tile.
            code = tidy(word).casefold()
            lines = self._lines
            found = [
                e
                for e in found
                if word in (line := lines[e.file, e.code]) or (code and code in line[:5])
            ]
        return found

    def _merged(self, indexed: Sequence[TileEntry], edited: Sequence[TileEntry]) -> list[TileEntry]:
        if not self._edited:
            return list(indexed)
        found = [e for e in indexed if e.file not in self._edited]
        last = len(self._places)
        places = self._places
        return sorted([*found, *edited], key=lambda e: places.get((e.file, e.code), last))

    def _line(self, entry: TileEntry) -> str:
        names = " ".join(self._names.get(m, m) for m in entry.materials)
        parts = (entry.code, entry.label, entry.run, entry.recipe, entry.surface)
        materials = " ".join(entry.materials)
        return f"{' '.join(parts)} {' '.join(entry.defects)} {materials} {names}".casefold()
