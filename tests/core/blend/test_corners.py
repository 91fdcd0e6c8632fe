"""Corners of one flux set."""

from __future__ import annotations

import numpy as np
import pytest

from core.blend.corners import LARGEST_DRIFT, Range, parts_corners, unity_corners
from core.errors import InputError
from core.evaluate import formula_alone
from core.oxides import FLUXES, INDEX
from core.recipe import Ingredient, total
from core.recipe_file import read_recipe
from core.studio import open_studio
from core.tables import data_folder

_FLUX = [INDEX[oxide] for oxide in FLUXES]


def _unity(recipe, studio):
    return formula_alone(recipe, studio, base_alone=True).unity


def test_ideal_minerals_span_the_rectangle_with_the_fluxes_as_they_were(fixture_recipe, studio):
    corners = unity_corners(fixture_recipe, Range(3.0, 4.5), Range(0.35, 0.75), studio)
    wanted = [(3.0, 0.75), (4.5, 0.75), (3.0, 0.35), (4.5, 0.35)]
    fluxes = _unity(fixture_recipe, studio)[_FLUX]
    for recipe, (silica, alumina) in zip(corners.recipes, wanted, strict=True):
        unity = _unity(recipe, studio)
        assert unity[INDEX["SiO2"]] == pytest.approx(silica, abs=1e-8)
        assert unity[INDEX["Al2O3"]] == pytest.approx(alumina, abs=1e-8)
        np.testing.assert_allclose(unity[_FLUX], fluxes, atol=1e-8)
        assert total(recipe.base) == pytest.approx(100.0, abs=1e-6)
        assert all(row.amount > 0 for row in recipe.base)
    assert corners.flux_drift < 1e-8


def test_real_lots_keep_the_fluxes_as_nearly_as_they_can():
    demo = open_studio(data_folder() / "demo-studio")
    recipe = read_recipe(data_folder() / "demo-studio" / "recipes" / "sealskin.yaml")
    corners = unity_corners(recipe, Range(3.1, 4.2), Range(0.4, 0.6), demo)
    base = _unity(recipe, demo)
    worst = 0.0
    for one in corners.recipes:
        unity = _unity(one, demo)
        worst = max(worst, float(np.abs(unity - base)[[*_FLUX, INDEX["B2O3"]]].max()))
    assert worst == pytest.approx(corners.flux_drift, abs=1e-6)
    assert 0 < worst < LARGEST_DRIFT


def test_it_says_what_the_materials_can_reach(fixture_recipe, studio):
    # The feldspar alone brings 0.234 alumina, by the fixture's own K2O.
    with pytest.raises(InputError, match=r"alumina 0\.15 cannot be reached"):
        unity_corners(fixture_recipe, Range(3.0, 4.5), Range(0.15, 0.75), studio)
    # Feldspar brings 1.404 silica and talc 0.524: 1.93 less what the fluxes may drift.
    with pytest.raises(InputError, match="silica 1 cannot be reached"):
        unity_corners(fixture_recipe, Range(1.0, 4.5), Range(0.3, 0.75), studio)
    with pytest.raises(InputError, match=r"silica 2\.5 with alumina 0\.75"):
        unity_corners(fixture_recipe, Range(2.5, 4.5), Range(0.35, 0.75), studio)


def test_another_material_opens_what_was_out_of_reach(fixture_recipe, studio):
    ids = [*(row.material for row in fixture_recipe.base), "alumina"]
    corners = unity_corners(fixture_recipe, Range(2.5, 4.5), Range(0.35, 0.75), studio, ids)
    assert _unity(corners.recipes[0], studio)[INDEX["SiO2"]] == pytest.approx(2.5, abs=1e-8)
    assert "alumina" in {row.material for row in corners.recipes[0].base}


def test_parts_of_clay_and_silica_span_a_rectangle(fixture_recipe, studio):
    corners = parts_corners(
        fixture_recipe, ("kaolin", Range(5, 40)), ("silica", Range(2, 40)), studio
    )
    wanted = [(40, 2), (40, 40), (5, 2), (5, 40)]
    for recipe, (clay, silica) in zip(corners.recipes, wanted, strict=True):
        amounts = {row.material: row.amount for row in recipe.base}
        assert total(recipe.base) == pytest.approx(100.0, abs=1e-6)
        assert (amounts["kaolin"], amounts["silica"]) == (clay, silica)
        assert amounts["potash-feldspar"] / amounts["whiting"] == pytest.approx(42 / 12)
        assert amounts["talc"] / amounts["whiting"] == pytest.approx(16 / 12)
    assert corners.flux_drift < 1e-8


def test_rectangles_that_cannot_be_are_refused(fixture_recipe, studio, base_of):
    with pytest.raises(InputError, match="no room"):
        parts_corners(fixture_recipe, ("kaolin", Range(5, 60)), ("silica", Range(2, 40)), studio)
    with pytest.raises(InputError, match="same material"):
        parts_corners(fixture_recipe, ("kaolin", Range(5, 6)), ("kaolin", Range(2, 4)), studio)
    with pytest.raises(InputError, match="no range"):
        unity_corners(fixture_recipe, Range(4.0, 3.0), Range(0.3, 0.5), studio)
    with pytest.raises(InputError, match="no flux"):
        unity_corners(base_of(silica=50, kaolin=50), Range(3, 4), Range(0.3, 0.5), studio)
    with pytest.raises(InputError, match="not in the tables"):
        unity_corners(fixture_recipe, Range(3, 4), Range(0.3, 0.5), studio, ["moondust"])


def test_a_nought_of_clay_leaves_the_row_out(fixture_recipe, studio):
    corners = parts_corners(
        fixture_recipe, ("kaolin", Range(0, 40)), ("silica", Range(2, 40)), studio
    )
    assert Ingredient("kaolin", 0.0) not in corners.recipes[2].base
