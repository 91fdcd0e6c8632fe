"""Finding tiles: an index in memory over every tile of a studio."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import msgspec
import numpy as np
from numpy.typing import NDArray

from core.evaluate import batch_amounts, material_of
from core.formula import unity_formula
from core.materials import Material
from core.oxides import INDEX, OXIDES, Convention
from core.recipe import Recipe
from core.studio import Studio
from core.tiles.codes import tidy
from core.tiles.run import Run

UNREAD = "not read"
"""Stands among the surfaces for a tile without one."""


class TileEntry(msgspec.Struct, frozen=True, array_like=True):
    """What is known of one tile without opening its run."""

    file: str
    """Name of the run's file."""
    run: str
    code: str
    label: str = ""
    recipe: str = ""
    surface: str = UNREAD
    defects: tuple[str, ...] = ()
    body: str = ""
    firing: str = ""
    cone: str = ""
    shelf: str = ""
    read: str = ""
    photo: str = ""
    materials: tuple[str, ...] = ()
    moles: tuple[tuple[int, float], ...] | None = None
    """Of the fired oxides [mol per 100 of dry glaze], by their place in `OXIDES`; None where a
    material is not known."""
    sources: tuple[str, ...] = ()
    """Names of the recipes that it was planned from, its own first."""


@dataclass(frozen=True)
class Query:
    """What to look for; what is empty does not count. Within one field any value will do."""

    text: str = ""
    """Words that all stand in code, label, run or recipe; a part of a code is enough."""
    surfaces: frozenset[str] = frozenset()
    bodies: frozenset[str] = frozenset()
    cones: frozenset[str] = frozenset()
    firings: frozenset[str] = frozenset()
    defects: frozenset[str] = frozenset()
    without_defects: bool = False
    materials: frozenset[str] = frozenset()
    """Ids that all have to be in the tile."""
    oxides: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """From and to, in the unity formula [mol]."""


def entries_of(run: Run, studio: Studio, file: str) -> list[TileEntry]:
    """Return what the index keeps of a run.

    Parameters
    ----------
    run : Run
    studio : Studio
        Whose tables stand behind what the run pins.
    file : str
        Name of the run's file.
    """
    pinned = Recipe(pinned=run.pinned)
    known: dict[str, Material | None] = {}
    firing = studio.firings.get(run.firing)
    corners = [corner.recipe for corner in run.corners]
    found = []
    for tile in run.tiles:
        amounts = batch_amounts(Recipe(base=tile.base, additions=tile.additions))
        for material_id, _ in amounts:
            if material_id not in known:
                known[material_id] = material_of(pinned, studio, material_id)
        result = tile.result
        found.append(
            TileEntry(
                file=file,
                run=run.name,
                code=tile.code,
                label=tile.label,
                recipe=tile.recipe,
                surface=result.surface.value if result and result.surface else UNREAD,
                defects=tuple(defect.name for defect in result.defects) if result else (),
                body=(result.body if result else "") or run.body,
                firing=run.firing,
                cone=(result.local_cone if result else "") or (firing.cone if firing else ""),
                shelf=(result.shelf if result else "") or run.shelf,
                read=result.read if result else "",
                photo=result.photo if result else "",
                materials=tuple(dict.fromkeys(m for m, amount in amounts if amount > 0)),
                moles=_moles(amounts, known),
                sources=tuple(dict.fromkeys((tile.recipe, *corners))),
            )
        )
    return found


def _moles(
    amounts: Sequence[tuple[str, float]], known: Mapping[str, Material | None]
) -> tuple[tuple[int, float], ...] | None:
    weight = math.fsum(amount for _, amount in amounts)
    if weight <= 0:
        return None
    moles = np.zeros(len(OXIDES))
    for material_id, amount in amounts:
        material = known[material_id]
        if material is None:
            return None
        moles += amount / weight * 100.0 * material.moles_per_gram
    return tuple((int(i), float(moles[i])) for i in np.flatnonzero(moles))


class TileIndex:
    """Entries with what makes looking among them quick; made once, then only read."""

    def __init__(self, entries: Iterable[TileEntry], convention: Convention | None = None) -> None:
        self.entries = tuple(entries)
        moles = np.zeros((len(self.entries), len(OXIDES)))
        for row, entry in enumerate(self.entries):
            for place, value in entry.moles or ():
                moles[row, place] = value
        self._unity = unity_formula(moles, convention)
        self._words = [f"{e.code} {e.label} {e.run} {e.recipe}".casefold() for e in self.entries]
        self._places: dict[str, dict[str, list[int]]] = {}
        for name in ("surface", "body", "cone", "firing"):
            groups = self._places.setdefault(name, {})
            for row, entry in enumerate(self.entries):
                groups.setdefault(getattr(entry, name), []).append(row)
        for name in ("defects", "materials"):
            groups = self._places.setdefault(name, {})
            for row, entry in enumerate(self.entries):
                for value in getattr(entry, name):
                    groups.setdefault(value, []).append(row)

    def __len__(self) -> int:
        return len(self.entries)

    def values(self, name: str) -> Counter[str]:
        """Count the tiles by a field: surface, body, cone, firing, defects or materials.

        Examples
        --------
        >>> TileIndex([TileEntry("a.yaml", "A", "KHJLQ")]).values("surface")
        Counter({'not read': 1})
        """
        return Counter({value: len(set(rows)) for value, rows in self._places[name].items()})

    def find(self, query: Query) -> list[TileEntry]:
        """Return the tiles that a query asks for, in the order of the index."""
        wanted = np.ones(len(self.entries), dtype=bool)
        for name, values in (
            ("surface", query.surfaces),
            ("body", query.bodies),
            ("cone", query.cones),
            ("firing", query.firings),
            ("defects", query.defects),
        ):
            if values:
                wanted &= self._any(name, values)
        if query.without_defects:
            wanted &= ~self._any("defects", self._places["defects"])
        for material in query.materials:
            wanted &= self._any("materials", (material,))
        for oxide, (low, high) in query.oxides.items():
            # A tile without a unity formula lies in no range.
            column = self._unity[:, INDEX[oxide]]
            wanted &= (column >= low) & (column <= high)
        rows: Iterable[int] = np.flatnonzero(wanted)
        for word in query.text.casefold().split():
            code = tidy(word).casefold()
            rows = [
                row
                for row in rows
                if word in self._words[row] or (code and code in self._words[row][:5])
            ]
        return [self.entries[row] for row in rows]

    def unity(self) -> NDArray[np.float64]:
        """Return the unity formulas, shape (tiles, 25); NaN where there is none."""
        return self._unity

    def _any(self, name: str, values: Iterable[str]) -> NDArray[np.bool_]:
        mask = np.zeros(len(self.entries), dtype=bool)
        for value in values:
            mask[self._places[name].get(value, [])] = True
        return mask
