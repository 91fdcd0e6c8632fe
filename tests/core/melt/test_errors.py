import numpy as np
import pytest

from core.melt import properties
from core.melt.card import card
from core.melt.composition import COLUMN, MODELLED
from core.melt.errors import liquidus_error, viscosity_error
from core.oxides import OXIDES


def melt(**moles):
    found = np.zeros(len(MODELLED))
    for oxide, amount in moles.items():
        found[COLUMN[oxide]] = amount
    return found / found.sum()


SATIN = melt(SiO2=2.929, Al2O3=0.475, K2O=0.234, CaO=0.372, MgO=0.393)
LIME = melt(SiO2=4, Al2O3=0.5, K2O=0.3, CaO=0.7)


def test_errors_are_of_the_size_that_held_out_publications_show():
    # About 0.2 log10 Pa·s in the firing range and some tens of kelvins.
    assert 0.1 < viscosity_error(SATIN, 1200.0) < 0.35
    assert 30.0 < liquidus_error(SATIN) < 90.0


def test_viscosity_is_less_sure_in_the_cold():
    errors = viscosity_error(SATIN, [600.0, 850.0, 1100.0, 1300.0])
    assert errors[0] > errors[1] > errors[2] == errors[3]


def test_the_band_has_no_steps_along_the_curve():
    errors = viscosity_error(LIME, np.arange(400.0, 1750.0))
    assert np.abs(np.diff(errors)).max() < 0.01


def test_errors_grow_with_the_distance_and_never_fall():
    far = np.array([0.0, 0.5, 1.0, 2.0, 4.0, 8.0])
    for errors in (viscosity_error(LIME, 1200.0, far), liquidus_error(LIME, far)):
        assert (np.diff(errors) >= 0).all()
        assert errors[5] == pytest.approx(2.0 * errors[4])


def test_a_melt_of_two_families_takes_the_larger_error():
    both = melt(SiO2=3, Al2O3=0.4, B2O3=0.3, MgO=0.5, CaO=0.5)
    magnesia, boron = card().liquidus_error[:2]
    assert liquidus_error(both, card().distances[0]) == pytest.approx(
        max(magnesia, boron) * card().growth["liquidus"][0]
    )


@pytest.mark.parametrize("amounts", [np.zeros(18), melt(SiO2=1), melt(CaO=1), melt(B2O3=1)])
def test_odd_compositions_have_finite_errors(amounts):
    assert np.isfinite(viscosity_error(amounts, [0.0, 1200.0, 3000.0])).all()
    assert np.isfinite(liquidus_error(amounts))


def test_shapes_broadcast():
    glazes = np.broadcast_to(SATIN, (3, 4, 18))
    assert viscosity_error(glazes, 1200.0).shape == (3, 4)
    assert viscosity_error(glazes, np.linspace(900, 1300, 4)).shape == (3, 4)
    assert viscosity_error(SATIN, np.zeros((2, 5))).shape == (2, 5)
    assert liquidus_error(glazes).shape == (3, 4)


def test_where_nobody_measured_the_error_covers_what_is_known_of_silica():
    # Fused silica from memory (handbooks): about 10^11.5 Pa·s at 1285 °C, and a
    # glass transition near 1200 °C; no glaze data come near it.
    moles = np.zeros(len(OXIDES))
    moles[OXIDES.index("SiO2")] = 1.0
    silica = properties(moles, 1285.0)
    assert not silica.inside_domain
    assert abs(silica.log10_viscosity - 11.5) < 2 * silica.log10_viscosity_error
    assert abs(silica.glass_transition_c - 1200.0) < silica.glass_transition_error_c


def test_oxides_without_data_widen_every_error():
    moles = np.zeros(len(OXIDES))
    for oxide, amount in {"SiO2": 65, "Al2O3": 10, "K2O": 5, "CaO": 20}.items():
        moles[OXIDES.index(oxide)] = amount
    plain = properties(moles, 1250.0)
    moles[OXIDES.index("CoO")] = 50.0
    blue = properties(moles, 1250.0)
    for name in (
        "log10_viscosity_error",
        "liquidus_error_c",
        "glass_transition_error_c",
        "expansion_error",
        "youngs_modulus_error_gpa",
        "surface_tension_error_n_m",
    ):
        assert getattr(blue, name) > 3 * getattr(plain, name)


def test_any_unit_of_amount_gives_the_same_figures():
    moles = np.zeros(len(OXIDES))
    for oxide, amount in {"SiO2": 65, "Al2O3": 10, "K2O": 5, "CaO": 20}.items():
        moles[OXIDES.index(oxide)] = amount
    usual = properties(moles, 1250.0)
    for scale in (1e-300, 1e-14, 1e300):
        found = properties(moles * scale, 1250.0)
        assert found.log10_viscosity == pytest.approx(usual.log10_viscosity)
        assert found.expansion == pytest.approx(usual.expansion)
        assert found.inside_domain
