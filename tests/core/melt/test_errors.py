import numpy as np
import pytest

from core.melt.card import card
from core.melt.composition import COLUMN, MODELLED
from core.melt.errors import liquidus_error, viscosity_error


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
