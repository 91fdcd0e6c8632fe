"""The next tiles: where the doubt about the zones is, and not the same question twice."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import entropy

from core.firing import firing_curve, shipped_firings
from core.learn.features import features_at, joined, no_features
from core.learn.fit import learn
from core.learn.likelihood import Scatter, as_seen, zone_chances
from core.learn.next_tiles import next_tiles, told
from core.learn.prior import scales
from core.oxides import vector
from core.reading.basis import basis_of
from core.reading.surface import ZONES

CURVE = firing_curve(shipped_firings()["cone-10-medium"])
BASIS = basis_of(vector({"K2O": 0.234, "CaO": 0.372, "MgO": 0.393}), CURVE)
X, Y = (a.ravel() for a in np.meshgrid(np.linspace(1.5, 6.5, 10), np.linspace(0.2, 1.0, 8)))
CANDIDATES = features_at(BASIS, X, Y)
START = learn(no_features(), [])


def test_proposals_are_distinct_and_always_the_same():
    first, second = (next_tiles(START, CANDIDATES, 6) for _ in range(2))
    assert first == second
    assert len({tile.candidate for tile in first}) == 6
    assert all(0 <= tile.candidate < len(CANDIDATES) for tile in first)


def test_no_more_are_proposed_than_there_are():
    few = CANDIDATES.part([1, 2, 3])
    assert sorted(tile.candidate for tile in next_tiles(START, few, 9)) == [0, 1, 2]
    assert next_tiles(START, no_features(), 3) == ()
    assert next_tiles(START, CANDIDATES, 0) == ()
    with pytest.raises(ValueError, match="-1 tiles"):
        next_tiles(START, CANDIDATES, -1)


def test_the_first_tile_is_where_the_zone_is_in_doubt():
    # Not deep within a zone, where every set of rules says the same.
    best = next_tiles(START, CANDIDATES, 1)[0].candidate
    drawn = np.random.default_rng(5).standard_normal((400, scales().size))
    drawn *= np.sqrt(np.diag(START.covariance))
    zones = zone_chances(CANDIDATES, drawn).argmax(axis=-1)
    doubt = entropy(np.stack([(zones == zone).mean(axis=0) for zone in range(4)]), axis=0)
    assert doubt[best] > np.quantile(doubt, 0.6)


def test_a_batch_is_not_one_question_asked_again():
    # Twins of the best tile stand among the candidates; another place tells more than a twin.
    best = next_tiles(START, CANDIDATES, 1)[0].candidate
    twins = joined([CANDIDATES, CANDIDATES.part([best] * 4)])
    chosen = [tile.candidate for tile in next_tiles(START, twins, 4)]
    alike = {best, *range(len(CANDIDATES), len(twins))}
    assert len(alike.intersection(chosen)) < 4
    bits = [tile.information for tile in next_tiles(START, twins, 4)]
    assert bits[-1] < bits[0]


def test_tiles_already_fired_leave_less_to_be_told():
    chances = zone_chances(CANDIDATES, np.zeros(scales().size)).argmax(axis=-1)
    learnt = learn(CANDIDATES, [ZONES[zone] for zone in chances])
    before, after = (next_tiles(known, CANDIDATES, 1)[0] for known in (START, learnt))
    assert after.information < 0.5 * before.information


def test_where_the_zones_are_wanted_decides_what_is_asked():
    # Asked about the limit of melting alone, a tile near it is proposed.
    far = np.hypot(X, 5 * Y) > np.quantile(np.hypot(X, 5 * Y), 0.6)
    best = next_tiles(START, CANDIDATES, 1, CANDIDATES.part(far))[0].candidate
    assert np.hypot(X, 5 * Y)[best] > np.median(np.hypot(X, 5 * Y))


def test_what_a_tile_tells_is_the_mutual_information():
    # Independent: entropies of scipy.stats, H(seen) + H(zone) - H(both), place by place.
    drawn = np.random.default_rng(9).standard_normal((64, scales().size))
    tiles, places, scatter = CANDIDATES.part([3, 30]), CANDIDATES.part([20, 41, 60]), START.scatter
    seen = as_seen(zone_chances(tiles, drawn), scatter)
    zones = zone_chances(places, drawn).argmax(axis=-1)
    expected = []
    for tile in range(2):
        bits = []
        for place in range(3):
            both = np.zeros((4, 4))
            for draw in range(64):
                both[:, zones[draw, place]] += seen[draw, tile] / 64
            separate = entropy(both.sum(0), base=2) + entropy(both.sum(1), base=2)
            bits.append(separate - entropy(both.ravel(), base=2))
        expected.append(np.mean(bits))
    assert told(drawn, tiles, places, scatter) == pytest.approx(expected, abs=1e-9)


def test_a_tile_that_shows_anything_tells_nothing():
    drawn = np.random.default_rng(9).standard_normal((64, scales().size))
    bits = told(drawn, CANDIDATES.part([3]), CANDIDATES, Scatter(1.0, 0.75))
    assert bits == pytest.approx([0.0], abs=1e-9)
