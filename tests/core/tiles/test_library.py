"""Finding tiles among all of a studio."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.evaluate import formula_alone
from core.files.studio_index import database_of
from core.oxides import INDEX
from core.studio import begin_studio, open_studio
from core.tiles.codes import code_of
from core.tiles.index import UNREAD, Query, TileIndex, entries_of
from core.tiles.library import open_library, with_run
from core.tiles.placement import CONES, placed
from core.tiles.result import Defect, Result, Surface
from core.tiles.run import codes_of
from core.tiles.run_file import save_run


@pytest.fixture
def read(run):
    """Five tiles: glossy, glossy with crazing, satin on porcelain at cone 9, unread, unread."""
    codes = codes_of([run])
    read = run.with_result(codes[0], Result(Surface.GLOSSY))
    read = read.with_result(codes[1], Result(Surface.GLOSSY, defects=(Defect("crazing", "rim"),)))
    return read.with_result(codes[2], Result(Surface.SATIN, body="porcelain", local_cone="9"))


@pytest.fixture
def index(read, studio) -> TileIndex:
    return TileIndex(entries_of(read, studio, "r.yaml"), studio.convention)


def _found(index: TileIndex, **query) -> list[int]:
    codes = [entry.code for entry in index.entries]
    return [codes.index(entry.code) for entry in index.find(Query(**query))]


def test_tiles_are_found_by_every_field(index, run):
    assert _found(index) == [0, 1, 2, 3, 4]
    assert _found(index, surfaces=frozenset({"glossy"})) == [0, 1]
    assert _found(index, surfaces=frozenset({"satin", UNREAD})) == [2, 3, 4]
    assert _found(index, bodies=frozenset({"porcelain"})) == [2]
    assert _found(index, cones=frozenset({"9"})) == [2]
    assert _found(index, cones=frozenset({"10"})) == [0, 1, 3, 4]
    assert _found(index, defects=frozenset({"crazing"})) == [1]
    assert _found(index, without_defects=True) == [0, 2, 3, 4]
    assert _found(index, materials=frozenset({"talc", "kaolin"})) == [0, 1, 2, 3, 4]
    assert _found(index, materials=frozenset({"talc", "zircon"})) == []
    assert _found(index, firings=frozenset({"cone-10-medium"})) == [0, 1, 2, 3, 4]
    assert _found(index, text=run.tiles[3].code.lower()) == [3]
    assert _found(index, text=run.tiles[3].code[1:4]) == [3]
    assert _found(index, text="silica line") == [0, 1, 2, 3, 4]
    assert _found(index, text="silica nowhere") == []
    assert _found(index, surfaces=frozenset({"glossy"}), without_defects=True) == [0]


def test_an_oxide_range_is_that_of_the_unity_formula(index, run, studio):
    silica = [formula_alone(run.recipe_of(tile), studio).unity[INDEX["SiO2"]] for tile in run.tiles]
    # The fixture has 2.929; the tiles rise from it.
    assert silica[0] == pytest.approx(2.929, abs=0.002)
    edge = (silica[1] + silica[2]) / 2
    assert _found(index, oxides={"SiO2": (0.0, edge)}) == [0, 1]
    assert _found(index, oxides={"SiO2": (edge, 99.0)}) == [2, 3, 4]
    assert _found(index, oxides={"SiO2": (edge, 99.0), "ZnO": (0.1, 1.0)}) == []


def test_values_are_counted_for_the_filters(index):
    assert index.values("surface") == {"glossy": 2, "satin": 1, UNREAD: 2}
    assert index.values("defects") == {"crazing": 1}


def test_a_tile_of_unknown_materials_lies_in_no_oxide_range(run, studio):
    strange = replace(
        run, tiles=(replace(run.tiles[0], base=(replace(run.tiles[0].base[0], material="?"),)),)
    )
    index = TileIndex(entries_of(strange, studio, "r.yaml"), studio.convention)
    assert len(index.find(Query())) == 1
    assert index.find(Query(oxides={"SiO2": (0.0, 1e9)})) == []


@pytest.fixture
def folder(tmp_path, read):
    target = tmp_path / "studio"
    target.mkdir()
    begin_studio(target, "Invented")
    save_run(target / "runs" / "a.yaml", read, None)
    tiles = tuple(replace(t, code=code_of("L", i)) for i, t in enumerate(read.tiles))
    save_run(target / "runs" / "b.yaml", replace(read, name="Second", tiles=tiles), None)
    return target


def test_a_kept_index_gives_the_same_tiles_without_reading_runs(folder, tmp_path):
    studio = open_studio(folder)
    cache = tmp_path / "caches"
    first = open_library(studio, cache)
    second = open_library(studio, cache)
    assert (first.read_anew, second.read_anew) == (2, 0)
    assert first.index.entries == second.index.entries
    assert len(second.index) == 10


def test_a_run_that_moved_on_is_read_anew(folder, tmp_path, read):
    cache = tmp_path / "caches"
    open_library(open_studio(folder), cache)
    changed = read.with_result(read.tiles[4].code, Result(Surface.UNMELTED))
    save_run(folder / "runs" / "a.yaml", changed, None)
    (folder / "runs" / "b.yaml").unlink()
    library = open_library(open_studio(folder), cache)
    assert library.read_anew == 1
    assert len(library.index) == 5
    assert [e.code for e in library.index.find(Query(surfaces=frozenset({"unmelted"})))] == [
        read.tiles[4].code
    ]
    assert open_library(open_studio(folder), cache).read_anew == 0


def test_a_spoilt_run_is_told_and_the_others_open(folder, tmp_path):
    (folder / "runs" / "b.yaml").write_text("nothing", encoding="utf-8")
    library = open_library(open_studio(folder), tmp_path / "caches")
    assert len(library.index) == 5
    (fault,) = library.faults
    assert "b.yaml" in str(fault)
    # It is told again at the next start.
    assert open_library(open_studio(folder), tmp_path / "caches").faults


@pytest.mark.parametrize("text", ["", "{", '{"format": 1, "runs": {"a.yaml": 3}}', "\xff"])
def test_a_spoilt_index_counts_as_none(folder, tmp_path, text):
    cache = tmp_path / "caches"
    cache.mkdir()
    database_of(cache, folder).write_bytes(text.encode("latin-1"))
    assert open_library(open_studio(folder), cache).read_anew == 2
    assert open_library(open_studio(folder), cache).read_anew == 0


def test_a_run_being_read_shows_at_once(folder, read):
    studio = open_studio(folder)
    index = open_library(studio).index
    changed = read.with_result(read.tiles[4].code, Result(Surface.UNMELTED))
    now = with_run(index, changed, studio, "a.yaml")
    assert [entry.code for entry in now.entries] == [entry.code for entry in index.entries]
    assert len(now.find(Query(surfaces=frozenset({"unmelted"})))) == 1


@pytest.mark.parametrize(
    ("columns", "rows", "many"), [(7, 5, 35), (4, 3, 11), (2, 1, 3), (1, 2, 2)]
)
def test_every_tile_has_a_place_and_every_shelf_its_cones(columns, rows, many):
    codes = [code_of("K", number) for number in range(many)]
    shelves = placed(codes, columns, rows)
    assert [code for shelf in shelves for code in shelf.codes] == codes
    for shelf in shelves:
        assert len(shelf.places) == rows
        assert all(len(row) == columns for row in shelf.places)
        assert shelf.places[0][0] == CONES
        if columns * rows >= 4:
            assert shelf.places[-1][-1] == CONES
