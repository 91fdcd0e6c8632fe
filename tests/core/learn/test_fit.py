"""Rules from tiles: three nudge, thirty decide, one wrong tile does not rule."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from core.firing import firing_curve, shipped_firings
from core.learn.features import features_at, no_features
from core.learn.fit import averaged, fits_of, learn, left_out, likeliest
from core.learn.likelihood import MISTAKES, Scatter, seen_chances, zone_chances
from core.learn.prior import LIMIT_SIGMA, scales
from core.oxides import vector
from core.reading.basis import basis_of
from core.reading.field import zone_field
from core.reading.surface import ZONES, Rules, shipped_rules, surfaces
from core.regions import Zone

CURVE = firing_curve(shipped_firings()["cone-10-medium"])
BASIS = basis_of(vector({"K2O": 0.234, "CaO": 0.372, "MgO": 0.393}), CURVE)
SHIPPED = shipped_rules()
HOTTER = 0.35
TRUE = Rules(SHIPPED.score, replace(SHIPPED.melting, limit=SHIPPED.melting.limit + HOTTER))


def grid(columns: int, rows: int) -> tuple[np.ndarray, np.ndarray]:
    x, y = np.meshgrid(np.linspace(1.5, 6.5, columns), np.linspace(0.2, 1.0, rows))
    return x.ravel(), y.ravel()


def tiles_of(rules: Rules, columns: int, rows: int):
    points = grid(columns, rows)
    zones = surfaces(BASIS, *points, rules).probabilities.argmax(axis=-1)
    return features_at(BASIS, *points), zones


def seen(zones: np.ndarray) -> list[Zone]:
    return [ZONES[zone] for zone in zones]


def test_without_tiles_the_rules_are_the_shipped_ones():
    learnt = learn(no_features(), [], "the gas kiln, stoneware")
    assert learnt.rules is SHIPPED
    assert learnt.tiles == 0
    assert learnt.right is learnt.right_as_shipped is None
    assert learnt.says == ("No tile yet: the rules are as shipped.",)
    x, y = np.linspace(1.5, 6.5, 12), np.linspace(0.2, 1.0, 9)
    drawn, shipped = zone_field(BASIS, x, y, learnt.rules), zone_field(BASIS, x, y)
    assert (drawn.probabilities == shipped.probabilities).all()


@pytest.mark.parametrize("spread", [0.25, 1.0])
@pytest.mark.parametrize("power", [1.0, 4.0])
def test_the_likeliest_rules_are_those_that_a_general_optimiser_finds(spread, power):
    # Independent: BFGS of scipy.optimize on the logarithm of the posterior.
    features, zones = tiles_of(TRUE, 6, 4)
    scatter, line = Scatter(power, MISTAKES), np.arange(len(zones))

    def worth(numbers: np.ndarray) -> float:
        chances = seen_chances(features, numbers, scatter).seen[line, zones]
        return -float(np.log(chances).sum()) + 0.5 * float(numbers @ numbers) / spread**2

    expected = minimize(worth, np.zeros(scales().size), method="BFGS", options={"gtol": 1e-6})
    found = likeliest(features, zones, scatter, spread)
    assert worth(found) <= expected.fun + 1e-6
    assert found == pytest.approx(expected.x, abs=2e-3)


def test_three_tiles_nudge_and_thirty_decide():
    # Tiles far out that melted although the shipped rules have them underfired.
    features, zones = tiles_of(TRUE, 7, 5)
    shipped = zone_chances(features, np.zeros(scales().size)).argmax(axis=-1)
    at_odds = np.flatnonzero(shipped != zones)[:3]
    assert at_odds.size == 3
    few = learn(features.part(at_odds), seen(zones[at_odds]))
    many = learn(features, seen(zones))
    moved = [learnt.limit()[0] - SHIPPED.melting.limit for learnt in (few, many)]
    # Three that all say the same stay within what was believed beforehand; thirty leave it.
    assert 0.0 < moved[0] < LIMIT_SIGMA < moved[1]
    assert moved[1] == pytest.approx(HOTTER, abs=0.1)
    assert few.limit()[1] > many.limit()[1]
    assert many.limit()[1] < 0.5 * LIMIT_SIGMA
    assert "melts more than the shipped rules say" in many.says[0]
    assert many.right > many.right_as_shipped


def test_tiles_that_agree_change_next_to_nothing():
    features, zones = tiles_of(SHIPPED, 7, 5)
    learnt = learn(features, seen(zones))
    drawn = zone_chances(features, learnt.numbers).argmax(axis=-1)
    assert (drawn == zones).mean() > 0.95
    assert abs(learnt.limit()[0] - SHIPPED.melting.limit) < 0.05
    assert learnt.right_as_shipped == 1.0


def test_one_wrong_tile_does_not_rule():
    features, zones = tiles_of(SHIPPED, 5, 4)
    before = learn(features, seen(zones))
    # The safest gloss is entered as unmelted.
    chances = zone_chances(features, np.zeros(scales().size))
    wrong = zones.copy()
    wrong[chances[:, 0].argmax()] = ZONES.index(Zone.UNDERFIRED)
    after = learn(features, seen(wrong))
    trusting = learn(features, seen(wrong), mistakes=1e-6)
    nudge = np.abs(after.numbers - before.numbers).max()
    assert nudge < 0.25
    assert nudge < 0.5 * np.abs(trusting.numbers - before.numbers).max()


def test_the_same_tiles_teach_the_same_to_the_last_bit():
    features, zones = tiles_of(TRUE, 5, 4)
    one, two = (learn(features, seen(zones)) for _ in range(2))
    assert (one.numbers == two.numbers).all()
    assert (one.covariance == two.covariance).all()
    assert one.says == two.says


def test_a_tile_left_out_in_one_step_is_as_good_as_fitting_anew():
    features, zones = tiles_of(TRUE, 6, 4)
    zones = zones.copy()
    zones[[3, 11]] = (zones[[3, 11]] + 1) % 4
    stepped = left_out(features, zones, fits_of(features, zones, MISTAKES))
    anew = []
    for tile in range(len(zones)):
        rest = np.arange(len(zones)) != tile
        numbers, _, _ = averaged(fits_of(features.part(rest), zones[rest], MISTAKES))
        anew.append(zone_chances(features.part([tile]), numbers)[0])
    assert stepped == pytest.approx(np.array(anew), abs=0.06)
    assert (stepped.argmax(axis=-1) == np.argmax(anew, axis=-1)).mean() > 0.95


def test_a_term_that_no_tile_feels_keeps_its_weight():
    features, zones = tiles_of(TRUE, 7, 5)  # without zinc
    learnt = learn(features, seen(zones))
    zinc = "saturation-zinc"
    shipped = SHIPPED.score.terms[zinc].weight
    assert learnt.rules.score.terms[zinc].weight == pytest.approx(shipped, rel=1e-3)


def test_the_words_name_what_changed_and_by_how_much():
    features, zones = tiles_of(TRUE, 7, 5)
    learnt = learn(features, seen(zones), "the gas kiln, stoneware")
    limit, error = learnt.limit()
    assert f"from 4.70 to {limit:.2f} ± {error:.2f}" in learnt.says[0]
    assert all(sentence.endswith(".") for sentence in learnt.says)
    assert learnt.rules.melting.source.startswith(
        "learnt from 35 tiles of the gas kiln, stoneware; as shipped: "
    )


@pytest.mark.parametrize("mistakes", [0.0, 0.6, float("nan")])
def test_a_share_of_mistakes_out_of_range_is_refused(mistakes):
    with pytest.raises(ValueError, match="share of mistakes"):
        learn(no_features(), [], mistakes=mistakes)


def test_every_tile_needs_its_surface():
    features, _ = tiles_of(SHIPPED, 2, 1)
    with pytest.raises(ValueError, match="2 tiles, but 1 surfaces"):
        learn(features, [Zone.SATIN])
