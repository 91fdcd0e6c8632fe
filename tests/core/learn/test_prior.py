"""Rules from numbers, and the prior's scales."""

from __future__ import annotations

import numpy as np
import pytest

from core.firing import firing_curve, shipped_firings
from core.learn.prior import LIMIT_SIGMA, MIDDLE_SIGMA, WIDTH_SIGMA, rules_of, scales
from core.oxides import vector
from core.reading.basis import basis_of
from core.reading.kinds import kind_of
from core.reading.surface import read_point, score_rules, shipped_rules

TERMS = list(score_rules().terms)


def numbers(**moved: float) -> np.ndarray:
    """Numbers in their own units, not in sigmas."""
    names = [*TERMS, "middle", "width", "limit"]
    found = np.zeros(len(names))
    for name, value in moved.items():
        found[names.index(name.replace("_", "-"))] = value
    return found / scales()


def test_no_number_moved_gives_the_shipped_rules_themselves():
    assert rules_of(numbers(), "nowhere") is shipped_rules()


def test_every_term_and_every_edge_has_a_scale():
    assert scales().shape == (len(TERMS) + 3,)
    assert (scales() > 0).all()
    assert list(scales()[-3:]) == [MIDDLE_SIGMA, WIDTH_SIGMA, LIMIT_SIGMA]


def test_a_weight_grows_with_its_cap_and_keeps_its_sign():
    rules = rules_of(numbers(ratio=np.log(1.5), saturation_magnesia=-3.0), "a test")
    shipped = score_rules().terms
    assert rules.score.terms["ratio"].weight == pytest.approx(1.5 * shipped["ratio"].weight)
    assert rules.score.terms["ratio"].cap == pytest.approx(1.5 * shipped["ratio"].cap)
    assert 0 < rules.score.terms["saturation-magnesia"].weight < 0.3
    assert rules.score.terms["cooling"].weight == pytest.approx(shipped["cooling"].weight)
    assert list(rules.score.terms) == TERMS


def test_edges_move_together_and_apart_but_never_cross():
    shifted = rules_of(numbers(middle=0.5), "a test").score.edges
    assert (shifted.gloss, shifted.matte) == pytest.approx((-0.8, 1.8))
    narrow = rules_of(numbers(width=-9.0), "a test").score.edges
    assert narrow.gloss < narrow.matte < 0.01


def test_the_limit_moves_alone_and_says_where_it_comes_from():
    rules = rules_of(numbers(limit=0.2), "learnt from 9 tiles")
    assert rules.melting.limit == pytest.approx(shipped_rules().melting.limit + 0.2)
    assert rules.melting.limit_error == shipped_rules().melting.limit_error
    assert rules.melting.source.startswith("learnt from 9 tiles; as shipped: ")


def test_a_kind_is_judged_by_the_rules_that_the_reading_went_by():
    # Half the weight of magnesia, equally saturated: the same kind of crystal.
    curve = firing_curve(shipped_firings()["cone-10-slow-cool"])
    basis = basis_of(vector({"K2O": 0.1, "CaO": 0.2, "MgO": 0.7}), curve)
    rules = rules_of(numbers(saturation_magnesia=np.log(0.5), middle=-2.0), "a test")
    shipped, other = read_point(basis, 2.2, 0.45), read_point(basis, 2.2, 0.45, rules)
    assert kind_of(shipped).kind.id == kind_of(other).kind.id == "magnesia-matte"
