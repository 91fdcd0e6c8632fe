"""The door of the melt models: shapes, units, the edges of what they know."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.evaluate import evaluate
from core.melt import (
    MeltProperties,
    expansion_sets,
    expansion_shares_of,
    properties,
    temperature_at,
    viscosity_curve,
)
from core.oxides import OXIDES, vector

FIGURES = [f.name for f in fields(MeltProperties)]
# Usual unity formulas, common practice, no source; "satin" is invented.
GLAZES = {
    "lime": {"K2O": 0.3, "CaO": 0.7, "Al2O3": 0.5, "SiO2": 4.0},
    "magnesia": {"K2O": 0.2, "CaO": 0.4, "MgO": 0.4, "Al2O3": 0.45, "SiO2": 3.0},
    "boron": {"Na2O": 0.3, "CaO": 0.7, "B2O3": 0.4, "Al2O3": 0.4, "SiO2": 3.0},
    "zinc": {"K2O": 0.2, "CaO": 0.5, "ZnO": 0.3, "Al2O3": 0.4, "SiO2": 3.2},
    "satin": {"Na2O": 0.2, "CaO": 0.6, "BaO": 0.2, "Al2O3": 0.4, "SiO2": 3.0, "TiO2": 0.1},
}


def glaze(name: str) -> np.ndarray:
    return vector(GLAZES[name])


def arrays(found: MeltProperties) -> dict[str, np.ndarray]:
    return {name: value for name in FIGURES if (value := getattr(found, name)) is not None}


@pytest.mark.parametrize("name", GLAZES)
def test_a_sensible_glaze_has_every_figure_and_lies_inside_the_domain(name):
    found = properties(glaze(name), 1240.0)
    for figure, value in arrays(found).items():
        assert np.isfinite(value).all(), figure
    assert found.inside_domain
    # Wide limits of what a glaze melt can be, common practice, no source.
    assert 1.5 < found.log10_viscosity < 5.5
    assert 900 < found.liquidus_c < 1500
    assert 500 < found.glass_transition_c < 850
    assert 4.5 < found.expansion < 10
    assert 65 < found.youngs_modulus_gpa < 100
    assert 0.28 < found.surface_tension_n_m < 0.42


def test_the_arithmetic_fixture_has_every_figure(fixture_recipe, studio):
    formula = evaluate(fixture_recipe, studio).formula
    found = properties(formula.moles, 1285.0)
    assert all(np.isfinite(value).all() for value in arrays(found).values())
    assert found.inside_domain
    assert found.unmodelled == pytest.approx(0.0, abs=1e-12)


def test_errors_are_positive_and_no_larger_than_their_figures():
    found = properties(glaze("magnesia"), 1240.0)
    for name in FIGURES:
        if name.endswith(("_error", "_error_c", "_error_gpa", "_error_n_m")):
            figure = name.replace("_error", "", 1)
            assert 0 < getattr(found, name) < abs(getattr(found, figure)), name


def test_without_a_temperature_there_is_no_viscosity_but_all_else():
    found = properties(glaze("lime"))
    assert found.log10_viscosity is None
    assert found.log10_viscosity_error is None
    assert np.isfinite(found.liquidus_c)
    # The surface tension is then that of 1400 °C.
    at = properties(glaze("lime"), 1400.0)
    assert found.surface_tension_n_m == pytest.approx(float(at.surface_tension_n_m))


@pytest.mark.parametrize("lead", [(), (3,), (2, 3), (0,), (1, 4, 2)])
def test_leading_axes_are_kept(lead):
    one = properties(glaze("zinc"), 1200.0)
    found = properties(np.broadcast_to(glaze("zinc"), (*lead, len(OXIDES))), 1200.0)
    for name, value in arrays(found).items():
        assert value.shape == lead, name
        np.testing.assert_allclose(value, np.broadcast_to(getattr(one, name), lead), rtol=1e-4)


def test_temperatures_broadcast_against_the_compositions():
    grid = np.stack([glaze("lime"), glaze("boron")])
    found = properties(grid, np.array([[1100.0], [1200.0], [1300.0]]))
    for name, value in arrays(found).items():
        assert value.shape == (3, 2), name
    assert (np.diff(found.log10_viscosity, axis=0) < 0).all()
    assert (found.liquidus_c == found.liquidus_c[0]).all()
    assert (np.diff(found.surface_tension_n_m, axis=0) < 0).all()


def test_the_amount_does_not_matter_only_the_shares():
    one, many = properties(glaze("boron"), 1200.0), properties(37.0 * glaze("boron"), 1200.0)
    for name, value in arrays(one).items():
        np.testing.assert_allclose(value, getattr(many, name), rtol=1e-5, atol=1e-9, err_msg=name)


def test_nothing_at_all_is_nan_and_outside():
    found = properties(np.zeros((2, len(OXIDES))), 1200.0)
    assert not found.inside_domain.any()
    for name, value in arrays(found).items():
        if name not in ("inside_domain", "unmodelled"):
            assert np.isnan(value).all(), name
    assert np.isnan(viscosity_curve(np.zeros(len(OXIDES)), [1000.0])).all()
    assert np.isnan(temperature_at(np.zeros(len(OXIDES)), 4.0))


OUTSIDE = {
    "fused silica": {"SiO2": 1.0},
    "fired clay, no flux": {"SiO2": 2.0, "Al2O3": 1.0},
    "lime alone": {"CaO": 1.0},
    "alumina alone": {"Al2O3": 1.0},
    "cobalt alone": {"CoO": 1.0},
    "lead glass": {"PbO": 1.0, "SiO2": 1.0},
    "too much tin": {"CaO": 0.7, "K2O": 0.3, "Al2O3": 0.4, "SiO2": 3.5, "SnO2": 0.4},
}


@pytest.mark.parametrize("name", OUTSIDE)
def test_what_the_data_do_not_hold_is_marked_outside(name):
    found = properties(vector(OUTSIDE[name]), 1200.0)
    assert not found.inside_domain
    if name != "cobalt alone":  # nothing of it is modelled
        assert all(np.isfinite(value).all() for value in arrays(found).values())


def test_oxides_without_data_are_left_out_and_reported():
    tinted = glaze("lime") + vector({"CoO": 0.02})
    found = properties(tinted, 1200.0)
    assert found.unmodelled == pytest.approx(0.02 / 5.52)
    assert found.inside_domain
    assert found.expansion == pytest.approx(float(properties(glaze("lime")).expansion), rel=1e-5)


def test_outside_the_domain_the_error_of_the_expansion_grows():
    assert (
        properties(vector({"SiO2": 1.0})).expansion_error
        > 1.5 * properties(glaze("lime")).expansion_error
    )


@given(st.lists(st.floats(0, 100), min_size=len(OXIDES), max_size=len(OXIDES)))
def test_any_composition_gives_figures_or_is_empty(amounts):
    found = properties(np.array(amounts), 1200.0)
    if not np.isnan(found.liquidus_c):
        assert all(np.isfinite(value).all() for value in arrays(found).values())
    else:
        assert not found.inside_domain


@pytest.mark.parametrize("name", expansion_sets())
def test_the_expansion_follows_the_set_chosen(name):
    found = properties(glaze("lime"), expansion_set=name)
    assert 4.0 < found.expansion < 10.0
    assert found.expansion_error > 0
    usual = properties(glaze("lime"))
    assert (float(found.expansion) == float(usual.expansion)) == (name == "fitted")
    assert float(found.liquidus_c) == float(usual.liquidus_c)


def test_shares_of_the_expansion_sum_to_the_linear_set():
    shares = expansion_shares_of(glaze("zinc") + vector({"SnO2": 0.01}))
    assert shares.shape == (len(OXIDES),)
    linear = properties(glaze("zinc"), expansion_set="linear").expansion
    assert shares.sum() == pytest.approx(float(linear))
    assert shares[OXIDES.index("SnO2")] == 0.0


def test_the_curve_and_the_temperature_at_a_viscosity_agree():
    grid = np.stack([glaze(name) for name in GLAZES])
    at = temperature_at(grid, 4.0)
    assert at.shape == (len(GLAZES),)
    for melt, temperature in zip(grid, at, strict=True):
        assert viscosity_curve(melt, [temperature])[0] == pytest.approx(4.0, abs=1e-3)
    curves = viscosity_curve(grid, np.linspace(700, 1300, 50))
    assert curves.shape == (len(GLAZES), 50)
    assert (np.diff(curves, axis=-1) < 0).all()


def test_the_glass_transition_is_where_the_viscosity_is_1e12():
    found = properties(glaze("lime"))
    assert found.glass_transition_c == pytest.approx(
        float(temperature_at(glaze("lime"), 12.0)), abs=0.01
    )
    # A standard error of the viscosity there is worth the stated kelvins.
    step = float(found.glass_transition_error_c)
    rise = viscosity_curve(glaze("lime"), [float(found.glass_transition_c) - step])[0] - 12.0
    assert 0.2 < rise < 1.0


def test_bad_arguments_are_refused():
    with pytest.raises(ValueError, match="25 oxides"):
        properties(np.ones(18))
    with pytest.raises(ValueError, match="no expansion set 'guess'"):
        properties(glaze("lime"), expansion_set="guess")
    with pytest.raises(ValueError, match="one axis"):
        viscosity_curve(glaze("lime"), 1200.0)
    with pytest.raises(ValueError, match="broadcast"):
        properties(np.ones((2, len(OXIDES))), np.ones(3))
