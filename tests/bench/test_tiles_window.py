"""Budgets of the Tiles window with ten thousand tiles, each beside plain Python of the same run.

Run with ``python -m pytest tests/bench --benchmark-enable``; the plain test run
executes each once, without timing.
"""

from __future__ import annotations

import statistics
import time

import pytest

from app.tile_model import TileModel
from app.tile_search import TileSearch
from app.tile_wall import TileWall
from core.tiles.codes import code_of
from core.tiles.index import Query, TileEntry, TileIndex
from core.tiles.result import Surface

TILES, RUN = 10_000, 35
_MATERIALS = ("potash-feldspar", "talc", "whiting", "kaolin", "silica")


@pytest.fixture(scope="module")
def entries():
    return [
        TileEntry(
            f"run-{n // RUN}.yaml",
            f"Run {n // RUN}",
            code_of("K", n),
            surface=list(Surface)[n % 5].value,
            materials=_MATERIALS,
        )
        for n in range(TILES)
    ]


def walk(entries):
    """Median seconds of looking at every tile once in plain Python."""
    taken = []
    for _ in range(15):
        begin = time.perf_counter()
        [e for e in entries if "talc" in f"{e.code} {e.run} {' '.join(e.materials)}".casefold()]
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def test_a_wall_of_ten_thousand_is_laid_out_and_painted(benchmark, qtbot, entries):
    """Budget: under 1 s, and within 40 walks over the tiles."""
    model = TileModel()
    wall = TileWall(model)
    qtbot.addWidget(wall)
    wall.resize(520, 500)

    def show():
        model.show_entries(entries)
        return wall.grab()

    assert not benchmark(show).isNull()
    if benchmark.enabled:
        ratio = benchmark.stats.stats.median / walk(entries)
        benchmark.extra_info["over_a_walk"] = ratio
        assert ratio < 40


def test_the_filter_answers_on_the_wall_after_an_edit(benchmark, qtbot, entries):
    """Budget: under 100 ms, and within 15 walks over the tiles."""
    search = TileSearch(TileIndex(entries), {})
    search.take_run("run-3.yaml", entries[3 * RUN : 4 * RUN])
    model = TileModel()
    wall = TileWall(model)
    qtbot.addWidget(wall)
    wall.resize(520, 500)

    def answer():
        found = search.find(Query(), "talc satin")
        model.show_entries(found)
        wall.grab()
        return found

    assert len(benchmark(answer)) == TILES // 5
    if benchmark.enabled:
        ratio = benchmark.stats.stats.median / walk(entries)
        benchmark.extra_info["over_a_walk"] = ratio
        assert ratio < 15
