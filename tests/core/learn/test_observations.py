"""Tiles of a studio as a fit takes them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.evaluate import evaluate
from core.learn.features import features_at
from core.learn.fit import learn
from core.learn.observations import observations
from core.recipe import Ingredient
from core.regions import Zone
from core.studio import Studio
from core.tiles.result import Result, Surface
from core.tiles.run import Run, Tile

STUDIO = Studio()


def tile(code, surface, talc=16.0, **result):
    rows = {"potash-feldspar": 42.0, "talc": talc, "whiting": 12.0, "kaolin": 20.0, "silica": 10.0}
    base = tuple(Ingredient(m, p) for m, p in rows.items())
    seen = Result(surface=surface, **result) if surface or result else None
    return Tile(code=code, base=base, result=seen)


def run(*tiles, **changes):
    return Run("Test", firing="cone-10-medium", body="stoneware", tiles=tiles, **changes)


def test_only_tiles_whose_surface_was_read_count():
    found = observations(
        [run(tile("KAAA", Surface.SATIN), tile("KAAC", None), tile("KAAD", None, touch="dry"))],
        STUDIO,
    )
    assert found.seen == (Zone.SATIN,)
    assert len(found.features) == 1
    assert found.left_out == 0


def test_a_tile_is_what_the_reading_sees_of_its_recipe_in_its_firing():
    one = run(tile("KAAA", Surface.DRY_MATTE))
    found = observations([one], STUDIO)
    assert found.seen == (Zone.MATTE,)
    surface = evaluate(one.recipe_of(one.tiles[0]), STUDIO).reading.surface
    there = features_at(surface.basis, surface.silica, surface.alumina)
    assert found.features.contributions == pytest.approx(there.contributions)
    assert found.features.margins == pytest.approx(there.margins)


def test_tiles_of_another_body_and_tiles_that_cannot_be_read_are_left_out():
    tiles = (
        tile("KAAA", Surface.SATIN),
        tile("KAAC", Surface.SATIN, body="porcelain"),
        Tile("KAAD", base=(Ingredient("silica", 1.0),), result=Result(surface=Surface.UNMELTED)),
        Tile("KAAE", base=(Ingredient("gone", 1.0),), result=Result(surface=Surface.UNMELTED)),
    )
    found = observations([run(*tiles), replace(run(*tiles), firing="nowhere")], STUDIO, "stoneware")
    assert found.seen == (Zone.SATIN,)
    assert found.left_out == 5
    assert observations([run(*tiles)], STUDIO).seen == (Zone.SATIN, Zone.SATIN)


def test_what_was_learnt_moves_the_reading_and_without_tiles_nothing_does():
    tiles = [tile(f"KAA{i}", Surface.GLOSSY, talc=14.0 + i) for i in range(8)]
    found = observations([run(*tiles)], STUDIO)
    recipe = run(*tiles).recipe_of(tiles[2])
    shipped = evaluate(recipe, STUDIO).reading.surface
    none = learn(observations([], STUDIO).features, ())
    assert none.rules is shipped.rules
    again = evaluate(recipe, STUDIO, rules=none.rules).reading.surface
    # A ray that is known already is read in single precision.
    assert again.probabilities == pytest.approx(shipped.probabilities, abs=1e-6)
    learnt = learn(found.features, found.seen, "this kiln")
    moved = evaluate(recipe, STUDIO, rules=learnt.rules).reading.surface
    assert moved.probabilities["glossy"] > shipped.probabilities["glossy"]
    assert np.isclose(sum(moved.probabilities.values()), 1.0)
    assert any("learnt from 8 tiles" in reason.source for reason in moved.reasons)
