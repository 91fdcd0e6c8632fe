"""All runs of a studio: opened through an index that is kept from one start to the next.

Reading 10,000 tiles from their files takes seconds. What the index needs of
each run is therefore kept in a cache file of plain JSON outside the studio,
with the size and time of the run's file; a run that moved on is read anew.
The cache may be deleted at any time.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import msgspec

from core.errors import InputError
from core.files.saving import write_in_place
from core.studio import Studio
from core.tiles.index import TileEntry, TileIndex, entries_of
from core.tiles.run import Run
from core.tiles.run_file import read_run

CACHE_FORMAT = 1


class _KeptRun(msgspec.Struct, array_like=True):
    size: int
    time: int
    firing_cone: str
    tables: int
    entries: list[TileEntry]


class _Cache(msgspec.Struct):
    format: int
    runs: dict[str, _KeptRun]


@dataclass(frozen=True)
class TileLibrary:
    """The tiles of a studio, and what is wrong with runs that could not be read."""

    index: TileIndex
    faults: tuple[InputError, ...] = ()
    read_anew: int = 0
    """Runs that the cache did not hold as they are."""


def open_library(studio: Studio, cache: Path | None = None) -> TileLibrary:
    """Index every tile of a studio.

    Parameters
    ----------
    studio : Studio
    cache : Path, optional
        File of the cache, in a folder of the user's caches; made or renewed
        where runs were read anew. One that cannot be read counts as absent.
    """
    kept = _kept(cache)
    tables = _tables_mark(studio)
    now: dict[str, _KeptRun] = {}
    faults: list[InputError] = []
    fresh = 0
    cones = {name: firing.cone for name, firing in studio.firings.items()}
    for path in studio.run_paths():
        try:
            stat = path.stat()
        except OSError:  # gone between the listing and now
            continue
        old = kept.get(path.name)
        if (
            old is not None
            and (old.size, old.time, old.tables) == (stat.st_size, stat.st_mtime_ns, tables)
            and old.firing_cone == _cone_of(old.entries, cones)
        ):
            now[path.name] = old
            continue
        fresh += 1
        try:
            run = read_run(path)
        except InputError as fault:
            faults.append(fault)
            continue
        entries = entries_of(run, studio, path.name)
        now[path.name] = _KeptRun(
            stat.st_size, stat.st_mtime_ns, _cone_of(entries, cones), tables, entries
        )
    if cache is not None and (fresh or kept.keys() - now.keys()):
        # Without its cache the studio opens as well, only later.
        with suppress(OSError):
            cache.parent.mkdir(parents=True, exist_ok=True)
            text = msgspec.json.encode(_Cache(CACHE_FORMAT, now)).decode()
            write_in_place(cache, text)
    everything = (entry for run_kept in now.values() for entry in run_kept.entries)
    return TileLibrary(TileIndex(everything, studio.convention), tuple(faults), fresh)


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


def _tables_mark(studio: Studio) -> int:
    """Size and time of the studio's materials, on which tiles without pins rest."""
    if studio.folder is None:
        return 0
    try:
        stat = (studio.folder / "materials.yaml").stat()
    except OSError:
        return 0
    return stat.st_mtime_ns ^ stat.st_size


def _kept(cache: Path | None) -> dict[str, _KeptRun]:
    if cache is None or not cache.is_file():
        return {}
    try:
        found = msgspec.json.decode(cache.read_bytes(), type=_Cache)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return {}
    return found.runs if found.format == CACHE_FORMAT else {}
