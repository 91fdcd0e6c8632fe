"""Sets of additive factors laid out over an order of oxides."""

from __future__ import annotations

import numpy as np
import pytest

from core.melt.factors import FactorSet, lay_out, molar_masses
from core.oxides import OXIDES

PAIR = ("SiO2", "CaO")


def make(basis: str, **factors: float) -> FactorSet:
    return FactorSet(
        id="x", name="X", basis=basis, source="made up", confidence="made up", factors=factors
    )


def test_a_sum_in_mole_percent():
    laid = lay_out(make("mol", SiO2=1.0, CaO=3.0), PAIR)
    assert laid.sum([3.0, 1.0]) == pytest.approx(75 * 1.0 + 25 * 3.0)


def test_a_sum_in_weight_percent():
    # Source: molar masses 60.083 and 56.077 g/mol (IUPAC standard atomic weights).
    laid = lay_out(make("weight", SiO2=0.0, CaO=1.0), PAIR)
    assert laid.sum([1.0, 1.0]) == pytest.approx(100 * 56.077 / 116.160, abs=0.01)


def test_oxides_that_a_set_does_not_know_are_left_out_and_told():
    laid = lay_out(make("mol", CaO=2.0), PAIR)
    assert laid.sum([3.0, 1.0]) == pytest.approx(200.0)
    assert laid.left_out([3.0, 1.0]) == pytest.approx(0.75)


def test_percents_sum_to_a_hundred_over_leading_axes():
    laid = lay_out(make("weight", SiO2=1.0, CaO=1.0), PAIR)
    amounts = laid.percent(np.random.default_rng(3).random((4, 5, 2)))
    assert amounts.shape == (4, 5, 2)
    np.testing.assert_allclose(amounts.sum(axis=-1), 100.0)


def test_nothing_gives_zero_and_no_warning():
    laid = lay_out(make("weight", SiO2=1.0), PAIR)
    assert laid.sum([0.0, 0.0]) == 0.0
    assert laid.left_out([0.0, 0.0]) == 0.0


def test_another_number_of_oxides_is_refused():
    with pytest.raises(ValueError, match="must hold 2 oxides"):
        lay_out(make("mol", SiO2=1.0), PAIR).sum(np.ones(3))


def test_ferrous_oxide_has_a_molar_mass_though_outside_the_basis():
    # Source: 55.845 + 15.999 g/mol (IUPAC standard atomic weights).
    assert "FeO" not in OXIDES
    assert molar_masses(("FeO",))[0] == pytest.approx(71.844, abs=0.002)
