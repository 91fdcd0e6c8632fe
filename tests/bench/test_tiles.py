"""Budgets of ten thousand tiles: opened from the index in under 1 s, filtered in under 100 ms."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.blend.plan import grid_blend
from core.recipe import Ingredient
from core.studio import begin_studio, open_studio
from core.tiles.codes import code_of
from core.tiles.index import Query
from core.tiles.library import open_library
from core.tiles.result import Defect, Result, Surface
from core.tiles.run import run_of
from core.tiles.run_file import run_text

RUNS, TILES = 286, 35


@pytest.fixture(scope="module")
def studio_of_ten_thousand(tmp_path_factory, fixture_recipe):
    folder = tmp_path_factory.mktemp("many") / "studio"
    folder.mkdir()
    begin_studio(folder, "Invented")
    studio = open_studio(folder)
    corners = [
        replace(fixture_recipe, base=(*fixture_recipe.base[:3], *rows))
        for rows in (
            (Ingredient("kaolin", clay), Ingredient("silica", silica))
            for clay, silica in ((50, 2), (50, 60), (5, 2), (5, 60))
        )
    ]
    plan = grid_blend(corners, studio)
    for number in range(RUNS):
        codes = [code_of("K", number * TILES + tile) for tile in range(TILES)]
        run = run_of(plan, codes, f"Run {number}", "2031-02-01", studio)
        tiles = tuple(
            replace(
                tile,
                result=Result(
                    list(Surface)[(place + number) % 5],
                    defects=(Defect("pinholes"),) if place % 3 else (),
                ),
            )
            for place, tile in enumerate(run.tiles)
        )
        text = run_text(replace(run, tiles=tiles))
        (folder / "runs" / f"run-{number}.yaml").write_text(text, encoding="utf-8")
    cache = folder.parent / "caches"
    assert len(open_library(studio, cache).index) == RUNS * TILES
    return studio, cache


def test_ten_thousand_tiles_open_from_their_index(benchmark, studio_of_ten_thousand):
    library = benchmark(open_library, *studio_of_ten_thousand)
    assert library.read_anew == 0
    assert len(library.index) == RUNS * TILES
    if benchmark.enabled:
        assert benchmark.stats.stats.median < 1.0


def test_ten_thousand_tiles_are_filtered(benchmark, studio_of_ten_thousand):
    index = open_library(*studio_of_ten_thousand).index
    query = Query(
        text="k run",
        surfaces=frozenset({"satin", "silky matte"}),
        defects=frozenset({"pinholes"}),
        materials=frozenset({"talc", "kaolin"}),
        oxides={"SiO2": (2.0, 4.0), "Al2O3": (0.3, 0.6)},
    )
    found = benchmark(index.find, query)
    assert 0 < len(found) < RUNS * TILES
    if benchmark.enabled:
        assert benchmark.stats.stats.max < 0.1
