"""How likely a surface is, and its slopes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import check_grad
from scipy.stats import logistic, norm

from core.learn.features import SHIFTS, Features
from core.learn.likelihood import Scatter, as_seen, information, seen_chances, zone_chances
from core.reading.surface import score_rules

TERMS = len(score_rules().terms)


def some_features(seed: int, count: int = 7) -> Features:
    rng = np.random.default_rng(seed)
    start, rise = rng.normal(0.5, 1.5, (count, 1)), rng.uniform(1.0, 4.0, (count, 1))
    return Features(rng.normal(0.0, 0.7, (count, TERMS)), start + rise * SHIFTS)


@given(st.integers(0, 50), st.sampled_from([1.0, 2.0, 4.0]), st.sampled_from([0.01, 0.08, 0.3]))
def test_what_is_seen_sums_to_one_and_a_surface_keeps_a_share_of_the_mistakes(seed, power, share):
    features = some_features(seed)
    numbers = np.random.default_rng(seed + 1).standard_normal(TERMS + 3)
    found = seen_chances(features, numbers, Scatter(power, share))
    assert found.seen.sum(axis=-1) == pytest.approx(np.ones(7))
    assert found.slopes.sum(axis=1) == pytest.approx(np.zeros((7, TERMS + 3)), abs=1e-9)
    assert (found.seen >= share / 3 - 1e-12).all()
    assert (found.seen <= 1 - share + 1e-12).all()
    again = as_seen(zone_chances(features, numbers), Scatter(power, share))
    assert found.seen == pytest.approx(again)


@pytest.mark.parametrize("power", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("zone", range(4))
def test_slopes_agree_with_finite_differences(power, zone):
    # An independent derivative: scipy.optimize.check_grad.
    features, scatter = some_features(3), Scatter(power, 0.08)
    rng = np.random.default_rng(4)
    for tile in range(7):
        error = check_grad(
            lambda n, tile=tile: seen_chances(features, n, scatter).seen[tile, zone],
            lambda n, tile=tile: seen_chances(features, n, scatter).slopes[tile, zone],
            0.5 * rng.standard_normal(TERMS + 3),
        )
        assert error < 1e-5


def test_chances_are_an_ordered_logistic_over_a_normal_margin():
    # Independent: the distribution functions of scipy.stats.
    features = some_features(8)
    score = features.contributions.sum(axis=-1)
    edges = score_rules().edges
    under = norm.cdf(-features.margins[:, SHIFTS.size // 2])
    up_to_satin = logistic.cdf(edges.matte - score)
    glossy = logistic.cdf(edges.gloss - score)
    expected = np.stack([glossy, up_to_satin - glossy, 1 - up_to_satin], -1) * (1 - under)[:, None]
    found = zone_chances(features, np.zeros(TERMS + 3))
    assert found == pytest.approx(np.column_stack([expected, under]), abs=1e-9)


def test_many_numbers_at_once_give_what_each_gives():
    features = some_features(5)
    many = np.random.default_rng(6).standard_normal((4, TERMS + 3))
    stacked = zone_chances(features, many)
    assert stacked.shape == (4, 7, 4)
    for one, numbers in zip(stacked, many, strict=True):
        assert one == pytest.approx(zone_chances(features, numbers))


def test_crispness_sharpens_and_keeps_the_likeliest():
    chances = np.array([[0.5, 0.3, 0.15, 0.05]])
    plain, crisp = (as_seen(chances, Scatter(power, 1e-9))[0] for power in (1.0, 4.0))
    assert plain == pytest.approx(chances[0], abs=1e-6)
    assert crisp[0] == pytest.approx(0.5**4 / (chances**4).sum(), abs=1e-6)


def test_information_is_the_mean_square_of_the_slopes_of_the_logarithm():
    # Fisher's definition, summed outright.
    features, numbers = some_features(2), 0.3 * np.ones(TERMS + 3)
    found = seen_chances(features, numbers, Scatter(2.0, 0.1))
    for tile, gain in enumerate(information(found)):
        logs = found.slopes[tile] / found.seen[tile][:, None]
        expected = sum(p * np.outer(s, s) for p, s in zip(found.seen[tile], logs, strict=True))
        assert gain == pytest.approx(expected, abs=1e-12)
