"""The tiles of a recipe as points of its map."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.evaluate import formula_alone
from core.recipe import Ingredient
from core.studio import open_studio
from core.tables import data_folder
from core.tiles.index import TileIndex, entries_of
from core.tiles.on_map import tiles_of
from core.tiles.result import ZONE_OF
from core.tiles.run_file import read_run

DEMO = data_folder() / "demo-studio"


@pytest.fixture(scope="module")
def demo():
    return open_studio(DEMO)


@pytest.fixture(scope="module")
def run():
    return read_run(DEMO / "runs" / "eider-whiting-to-talc.yaml")


def shown(run, demo, name):
    return tiles_of(name, TileIndex(entries_of(run, demo, "run.yaml"), demo.convention))


def test_each_tile_stands_where_its_own_recipe_would(run, demo):
    tiles = shown(run, demo, "Eider")
    assert [tile.code for tile in tiles] == [tile.code for tile in run.tiles]
    for on_map, tile in zip(tiles, run.tiles, strict=True):
        point = formula_alone(run.recipe_of(tile), demo).point
        assert (on_map.silica, on_map.alumina) == pytest.approx(point, rel=1e-9)
        assert on_map.zone is ZONE_OF[tile.result.surface]


def test_another_recipe_has_none_of_them(run, demo):
    assert shown(run, demo, "Lamplight") == ()


def test_a_tile_not_read_has_no_zone_and_one_without_a_point_is_left_out(run, demo):
    first, second, third, *rest = run.tiles
    unread = replace(first, result=None)
    no_flux = replace(second, base=(Ingredient("silica", 100.0),), result=None)
    unknown = replace(third, base=(Ingredient("moon-dust", 100.0),), result=None)
    tiles = shown(replace(run, tiles=(unread, no_flux, unknown, *rest)), demo, "Eider")
    assert [tile.code for tile in tiles] == [tile.code for tile in (first, *rest)]
    assert tiles[0].zone is None
