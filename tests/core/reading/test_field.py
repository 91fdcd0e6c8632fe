"""The zone field: one reading with the point, and a region where nothing is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.firing import firing_curve, shipped_firings
from core.oxides import vector
from core.reading import margin
from core.reading.basis import basis_of
from core.reading.field import zone_field
from core.reading.surface import ZONES, read_point, read_surface

CURVES = {id_: firing_curve(firing) for id_, firing in shipped_firings().items()}
CONE_10 = CURVES["cone-10-medium"]
FLUXES = {"K2O": 0.234, "CaO": 0.372, "MgO": 0.393}
X, Y = np.linspace(0.5, 8.0, 16), np.linspace(0.05, 1.2, 12)


@given(
    st.fixed_dictionaries(
        {o: st.floats(0.01, 1.0) for o in ("Na2O", "K2O", "MgO", "CaO", "ZnO", "BaO", "B2O3")}
    ),
    st.sampled_from(sorted(CURVES)),
    st.integers(0, 15),
    st.integers(0, 11),
)
def test_the_point_reads_as_the_field_does_there(fluxes, firing, column, row):
    basis = basis_of(vector(fluxes), CURVES[firing])
    margin.forget()
    # The point first: its own rays alone are then at hand.
    point = read_point(basis, X[column], Y[row])
    field = zone_field(basis, X, Y)
    alone = [point.probabilities[zone] for zone in ZONES]
    # Single precision of the networks: sums in another order differ in the last bits.
    assert field.probabilities[row, column] == pytest.approx(alone, abs=2e-5)
    assert field.melt_margin_percent[row, column] == pytest.approx(
        point.melt_margin_percent, abs=2e-3
    )
    assert bool(field.outside[row, column]) == point.outside


def test_a_recipe_reads_as_its_place_on_the_map():
    moles = vector({**FLUXES, "Al2O3": 0.475, "SiO2": 2.929})
    reading = read_surface(7.3 * moles, CONE_10)
    flux = sum(FLUXES.values())
    field = zone_field(reading.basis, [2.929 / flux], [0.475 / flux])
    alone = [reading.probabilities[zone] for zone in ZONES]
    assert field.probabilities[0, 0] == pytest.approx(alone, abs=2e-5)


def test_probabilities_sum_to_one_everywhere():
    field = zone_field(basis_of(vector(FLUXES), CONE_10), X, Y)
    assert field.probabilities.shape == (12, 16, 4)
    assert field.probabilities.sum(axis=-1) == pytest.approx(np.ones((12, 16)))
    assert (field.probabilities >= 0).all()
    assert field.outside.shape == field.melt_margin_percent.shape == (12, 16)


def test_the_corners_of_the_map_have_a_reading_too():
    field = zone_field(basis_of(vector(FLUXES), CONE_10), [0.0, 9.0], [0.0, 1.5])
    assert np.isfinite(field.probabilities).all()
    assert np.isfinite(field.melt_margin_percent).all()


def test_next_to_no_flux_lies_outside_the_data():
    field = zone_field(basis_of(vector(FLUXES), CONE_10), [3.0, 400.0], [0.45])
    assert field.outside.tolist() == [[False, True]]


def test_a_hotter_firing_moves_the_field_outward():
    cool, hot = (
        zone_field(basis_of(vector(FLUXES), CURVES[id_]), X, Y)
        for id_ in ("cone-6-medium", "cone-10-medium")
    )
    inner = np.abs(hot.melt_margin_percent) < 250.0
    assert (hot.melt_margin_percent > cool.melt_margin_percent)[inner].all()


@pytest.mark.parametrize(("x", "y"), [([], [0.3]), ([[1.0]], [0.3]), (2.0, [0.3])])
def test_axes_are_rows_of_places(x, y):
    with pytest.raises(ValueError, match="one row"):
        zone_field(basis_of(vector(FLUXES), CONE_10), x, y)
