"""All runs of a studio: opened through the index that is kept from one start to the next.

Reading 10,000 tiles from their files takes seconds. What a search needs of
each run is therefore kept in the studio's index; a run that moved on is read
anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import msgspec

from core.errors import InputError
from core.files.studio_index import database_of, indexed
from core.plain_yaml import PlainYaml
from core.studio import Studio
from core.tiles.index import TileEntry, TileIndex, entries_of
from core.tiles.run import Run
from core.tiles.run_file import run_from

TILES_FORMAT = 2
"""Of what the index keeps; another number, and all runs are read anew."""


class _KeptRun(msgspec.Struct, array_like=True):
    firing_cone: str
    entries: list[TileEntry]


@dataclass(frozen=True)
class TileLibrary:
    """The tiles of a studio, and what is wrong with runs that could not be read."""

    index: TileIndex
    faults: tuple[InputError, ...] = ()
    read_anew: int = 0
    """Runs that the index did not hold as they are."""


def open_library(studio: Studio, cache_folder: Path | None = None) -> TileLibrary:
    """Index every tile of a studio.

    Parameters
    ----------
    studio : Studio
    cache_folder : Path, optional
        Where the index is kept; a folder that cannot be used only costs time.
    """
    if studio.folder is None:
        return TileLibrary(TileIndex((), studio.convention))
    cones = {name: firing.cone for name, firing in studio.firings.items()}

    def read(document: PlainYaml) -> _KeptRun:
        run = run_from(document)
        entries = entries_of(run, studio, Path(document.source).name)
        return _KeptRun(_cone_of(entries, cones), entries)

    found = indexed(
        database_of(cache_folder, studio.folder) if cache_folder is not None else None,
        "runs",
        studio.run_paths(),
        _KeptRun,
        f"{TILES_FORMAT} {studio.tables_mark()}",
        read,
        lambda kept: kept.firing_cone == _cone_of(kept.entries, cones),
    )
    everything = (entry for kept in found.records.values() for entry in kept.entries)
    index = TileIndex(everything, studio.convention)
    return TileLibrary(index, tuple(found.faults.values()), found.read_anew)


def with_run(index: TileIndex, run: Run, studio: Studio, file: str) -> TileIndex:
    """Return the index with a run as it stands now, in the place of what it knew of it."""
    known = index.entries
    place = next((i for i, entry in enumerate(known) if entry.file == file), len(known))
    after = (entry for entry in known[place:] if entry.file != file)
    entries = [*known[:place], *entries_of(run, studio, file), *after]
    return TileIndex(entries, studio.convention)


def _cone_of(entries: Iterable[TileEntry], cones: dict[str, str]) -> str:
    first = next(iter(entries), None)
    return cones.get(first.firing, "") if first is not None else ""
