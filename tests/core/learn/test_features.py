"""What a fit knows of a tile is what the reading says of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.firing import firing_curve, shipped_firings
from core.learn.features import SHIFTS, features_at, features_of, joined, no_features
from core.learn.likelihood import zone_chances
from core.learn.prior import LIMIT_SIGMA, rules_of, scales
from core.oxides import vector
from core.reading.basis import basis_of
from core.reading.surface import (
    Rules,
    read_surface,
    score_rules,
    shipped_rules,
    surfaces,
)

CURVE = firing_curve(shipped_firings()["cone-10-medium"])
FLUXES = {"K2O": 0.234, "CaO": 0.372, "MgO": 0.393}
X, Y = (a.ravel() for a in np.meshgrid(np.linspace(1.5, 6.5, 9), np.linspace(0.2, 1.0, 7)))


@pytest.fixture
def basis():
    return basis_of(vector(FLUXES), CURVE)


@pytest.fixture
def features(basis):
    return features_at(basis, X, Y)


def test_contributions_sum_to_the_score_and_the_middle_margin_is_the_readings(basis, features):
    found = surfaces(basis, X, Y)
    assert features.contributions.sum(axis=-1) == pytest.approx(found.score, abs=1e-9)
    assert SHIFTS[SHIFTS.size // 2] == 0.0
    assert features.margins[:, SHIFTS.size // 2] == pytest.approx(found.margin.z, abs=1e-9)


def test_a_higher_limit_lets_everything_melt_further(features):
    # Not step by step: the margin is counted in its own error, which ripples along a ray.
    assert (features.margins[:, -1] > features.margins[:, 0]).all()


def test_with_the_shipped_numbers_the_chances_are_those_of_the_reading(basis, features):
    chances = zone_chances(features, np.zeros(scales().size))
    assert chances == pytest.approx(surfaces(basis, X, Y).probabilities, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_the_fit_sees_the_zones_that_the_reading_draws_with_the_same_rules(basis, features, seed):
    numbers = np.random.default_rng(seed).standard_normal(scales().size)
    drawn = surfaces(basis, X, Y, rules_of(numbers, "a test")).probabilities
    # Limits between the places of the table are read off a cubic.
    assert zone_chances(features, numbers) == pytest.approx(drawn, abs=0.02)
    assert np.abs(zone_chances(features, numbers) - drawn).mean() < 0.001


def test_a_limit_beyond_the_table_is_followed_straight_on(basis, features):
    numbers = np.zeros(scales().size)
    numbers[-1] = 1.0 / LIMIT_SIGMA
    shipped = shipped_rules()
    moved = Rules(shipped.score, replace(shipped.melting, limit=shipped.melting.limit + 1.0))
    drawn = surfaces(basis, X, Y, moved).probabilities
    assert zone_chances(features, numbers) == pytest.approx(drawn, abs=0.1)


def test_a_recipe_has_the_features_of_its_place_on_the_map(basis):
    flux = sum(FLUXES.values())
    alone = features_of(5.0 * vector({**FLUXES, "Al2O3": 0.5 * flux, "SiO2": 3.0 * flux}), CURVE)
    there = features_at(basis, 3.0, 0.5)
    assert alone.contributions == pytest.approx(there.contributions, abs=1e-4)
    assert alone.margins == pytest.approx(there.margins, abs=1e-3)


@pytest.mark.parametrize(
    "oxides", [{"Al2O3": 1.0, "SiO2": 4.0}, {"CaO": 1.0, "Al2O3": 0.3}, {"SiO2": 1.0}]
)
def test_without_flux_or_silica_there_is_nothing_to_learn_from(oxides):
    assert len(features_of(vector(oxides), CURVE)) == 0


def test_tiles_of_several_maps_stand_in_one_row(features):
    both = joined([features.part([0, 1]), no_features(), features.part([5])])
    assert len(both) == 3
    assert both.margins[2] == pytest.approx(features.margins[5])
    assert both.contributions.shape == (3, len(score_rules().terms))
    assert len(joined([])) == 0


def test_other_rules_reach_every_way_of_reading():
    moles = vector({**FLUXES, "Al2O3": 0.5, "SiO2": 3.4})
    numbers = np.zeros(scales().size)
    numbers[-1] = -2.0
    lower = rules_of(numbers, "a test")
    shipped, learnt = read_surface(moles, CURVE), read_surface(moles, CURVE, rules=lower)
    assert shipped.rules is shipped_rules()
    assert learnt.rules is lower
    assert learnt.melt_margin_percent < shipped.melt_margin_percent - 5.0
    assert learnt.score == pytest.approx(shipped.score)
    # And the shipped limits of the rays are not lost or mixed up by having drawn others.
    assert read_surface(moles, CURVE).probabilities == shipped.probabilities
    assert learnt.reasons[0].source.startswith("a test")
