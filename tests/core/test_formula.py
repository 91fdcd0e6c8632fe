"""Moles, unity formula and percentages against independent calculations and identities."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from periodictable import formula as periodic
from pyrolite.geochem.transform import to_molecular, to_weight

from core.formula import State, flux_sum, formula_of, oxide_moles, unity_formula
from core.oxides import FLUXES, INDEX, MOLAR_MASS, OXIDES, Convention, vector
from core.studio import Studio

RECIPES = 1000
FLUX_NAMES = ["Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO"]
"""Written out here on purpose: design, section 4."""


@pytest.fixture(scope="module")
def materials():
    return list(Studio().materials)


@pytest.fixture(scope="module")
def weights(materials):
    """A thousand recipes of three to twelve materials each, shape (1000, n)."""
    random = np.random.default_rng(20)
    amounts = np.zeros((RECIPES, len(materials)))
    for row in amounts:
        chosen = random.choice(len(materials), random.integers(3, 13), replace=False)
        row[chosen] = random.uniform(0.1, 50.0, len(chosen))
    # Whiting in each, so that all of them have a flux.
    whiting = [m.id for m in materials].index("whiting")
    amounts[:, whiting] += 1.0
    return amounts


@pytest.fixture(scope="module")
def per_gram(materials):
    return np.array([m.moles_per_gram for m in materials])


def test_a_thousand_recipes_agree_with_pyrolite(materials, weights, per_gram):
    # Source: an independent calculation, pyrolite's weight-to-molecular transform, on the
    # oxide weights that the analyses bring. Both take atomic weights from periodictable.
    percent = pd.DataFrame([dict(m.analysis.percent) for m in materials], columns=list(OXIDES))
    oxide_weights = pd.DataFrame(weights @ percent.fillna(0.0).to_numpy(), columns=list(OXIDES))
    theirs = to_molecular(oxide_weights, renorm=False)
    expected = theirs.div(theirs[FLUX_NAMES].sum(axis=1), axis=0).to_numpy()
    moles = oxide_moles(weights, per_gram)
    assert expected.shape == (RECIPES, 25)
    np.testing.assert_allclose(unity_formula(moles), expected, rtol=1e-9, atol=1e-12)
    mole_percent = 100.0 * theirs.div(theirs.sum(axis=1), axis=0).to_numpy()
    fired = to_weight(theirs, renorm=False)
    weight_percent = 100.0 * fired.div(fired.sum(axis=1), axis=0).to_numpy()
    for amounts, mole, weight in zip(weights, mole_percent, weight_percent, strict=True):
        found = formula_of(amounts, per_gram, np.zeros(len(amounts)))
        np.testing.assert_allclose(found.mole_percent, mole, rtol=1e-9, atol=1e-12)
        np.testing.assert_allclose(found.weight_percent, weight, rtol=1e-9, atol=1e-12)


def test_a_thousand_recipes_agree_with_plain_atomic_weights(minerals, materials):
    # Source: formulas and moles of oxides of minerals.yaml; masses of the whole formulas from
    # periodictable. The percentages and the molar masses of oxides are not used at all.
    table = {e["formula"]: e for e in minerals["materials"].values() if e["formula"] != "FeTiO3"}
    ideal = [m for m in materials if m.analysis.formula in table]
    assert len(ideal) >= 50
    random = np.random.default_rng(21)
    amounts = random.uniform(0.0, 50.0, (RECIPES, len(ideal)))
    amounts *= random.random(amounts.shape) < 0.15
    amounts[:, [m.id for m in ideal].index("whiting")] += 1.0
    moles = np.zeros((RECIPES, len(OXIDES)))
    for column, material in enumerate(ideal):
        entry = table[material.analysis.formula]
        mass = sum(_mass(part) for part in entry["formula"].split("."))
        for oxide, count in entry["oxides_per_formula"].items():
            moles[:, OXIDES.index(oxide)] += amounts[:, column] / mass * count
    fluxes = sum(moles[:, OXIDES.index(oxide)] for oxide in FLUX_NAMES)
    ours = unity_formula(oxide_moles(amounts, [m.moles_per_gram for m in ideal]))
    np.testing.assert_allclose(ours, moles / fluxes[:, None], rtol=1e-9, atol=1e-12)


def _mass(part: str) -> float:
    """Mass of a part such as 2SiO2 or 3(OH)2."""
    digits = len(part) - len(part.lstrip("0123456789"))
    return int(part[:digits] or 1) * float(periodic(part[digits:]).mass)


def test_one_recipe_at_a_time_agrees_with_all_at_once(materials, weights, per_gram):
    loss = np.array([m.analysis.loi for m in materials])
    moles = oxide_moles(weights, per_gram)
    together = unity_formula(moles)
    for i, amounts in enumerate(weights):
        one = formula_of(amounts, per_gram, loss)
        np.testing.assert_allclose(one.moles, moles[i], rtol=1e-12, atol=1e-15)
        np.testing.assert_allclose(one.unity, together[i], rtol=1e-12, atol=1e-15)


def test_loss_on_ignition_is_what_the_weights_lose(materials, weights, per_gram):
    # An identity for ideal minerals: what is not fired oxide has left.
    ideal = np.array([bool(m.analysis.formula) for m in materials])
    loss = np.array([m.analysis.loi for m in materials])
    for amounts in weights[:100]:
        some = amounts * ideal
        found = formula_of(some, per_gram, loss)
        fired = 100.0 * float(found.moles @ MOLAR_MASS) / some.sum()
        assert found.loss_on_ignition_percent == pytest.approx(100.0 - fired, abs=1e-9)


POSITIVE = st.lists(st.floats(1e-6, 1e6), min_size=25, max_size=25).map(np.array)


@given(POSITIVE)
def test_fluxes_sum_to_one_and_percentages_to_a_hundred(moles):
    found = formula_of(np.array([1.0]), moles[None, :], np.zeros(1))
    assert sum(found.unity[INDEX[o]] for o in FLUX_NAMES) == pytest.approx(1.0, abs=1e-12)
    assert found.mole_percent.sum() == pytest.approx(100.0, abs=1e-9)
    assert found.weight_percent.sum() == pytest.approx(100.0, abs=1e-9)
    # Weight percent and back.
    back = found.weight_percent / MOLAR_MASS
    np.testing.assert_allclose(unity_formula(back), found.unity, rtol=1e-9)
    assert found.silica_alumina == pytest.approx(found.point[0] / found.point[1], rel=1e-12)
    assert found.share(*FLUXES) == pytest.approx(1.0, abs=1e-12)


@given(POSITIVE, st.floats(1e-3, 1e3))
def test_a_larger_batch_has_the_same_formula(moles, factor):
    np.testing.assert_allclose(unity_formula(moles * factor), unity_formula(moles), rtol=1e-12)


def test_the_unity_formula_keeps_the_shape_of_many_recipes():
    moles = np.ones((4, 3, 25))
    assert unity_formula(moles).shape == (4, 3, 25)
    assert flux_sum(moles).shape == (4, 3)
    np.testing.assert_allclose(unity_formula(moles), 1 / 9)


def test_without_a_flux_nothing_is_divided_by_zero():
    # Source: design, section 4: a state in words, never NaN on the screen.
    glass = vector({"SiO2": 1.0, "Al2O3": 0.1})
    assert np.isnan(unity_formula(glass)).all()
    found = formula_of(np.array([1.0]), glass[None, :], np.zeros(1))
    assert found.unity is None
    assert found.point is None
    assert found.r2o_share is None
    assert found.magnesia_share is None
    assert found.states == (State.NO_FLUX,)
    assert found.silica_alumina == pytest.approx(10.0)
    assert found.share("MgO") == 0.0


def test_a_trace_of_flux_is_no_flux():
    found = formula_of(np.array([1.0]), vector({"SiO2": 1.0, "CaO": 1e-12})[None, :], np.zeros(1))
    assert State.NO_FLUX in found.states


def test_a_studio_may_count_manganese_among_the_fluxes():
    # Source: design, section 4.
    moles = vector({"CaO": 1.0, "MnO": 1.0, "SiO2": 4.0})
    assert unity_formula(moles)[INDEX["SiO2"]] == 4.0
    counted = Convention((*FLUXES, "MnO"))
    assert unity_formula(moles, counted)[INDEX["SiO2"]] == 2.0


def test_no_rows_and_no_weight_are_told_apart():
    nothing = formula_of(np.zeros(0), np.zeros((0, 25)), np.zeros(0))
    assert nothing.states == (State.NO_ROWS,)
    unweighed = formula_of(np.zeros(2), np.ones((2, 25)), np.zeros(2))
    assert unweighed.states == (State.NO_WEIGHT,)
    for found in (nothing, unweighed):
        assert found.loss_on_ignition_percent is None
        assert found.weight_percent is None
        assert found.silica_alumina is None
