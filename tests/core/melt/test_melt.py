import numpy as np
import pytest

from core.melt import properties, properties_of
from core.melt.composition import Composition, composition_of, from_basis, on_basis
from core.melt.domain import distance
from core.melt.errors import liquidus_error, viscosity_error
from core.melt.expansion import fitted_expansion
from core.melt.liquidus import liquidus_c
from core.melt.melt import Melt
from core.melt.stiffness import youngs_modulus_gpa
from core.melt.viscosity import curve
from core.oxides import INDEX, OXIDES

GLAZES = np.random.default_rng(3).dirichlet(np.full(len(OXIDES), 0.3), 40)


def test_a_checked_composition_passes_as_it_is():
    melt = from_basis(GLAZES)
    assert composition_of(melt) is melt
    assert isinstance(composition_of(melt.fractions), Composition)


@pytest.mark.parametrize(
    "model",
    [
        distance,
        liquidus_c,
        liquidus_error,
        fitted_expansion,
        youngs_modulus_gpa,
        lambda melt: viscosity_error(melt, 1200.0),
        lambda melt: curve(melt).transition_k,
    ],
)
def test_models_read_a_checked_composition_as_they_read_its_fractions(model):
    melt = from_basis(GLAZES)
    assert model(melt) == pytest.approx(model(melt.fractions), rel=1e-5)


def test_figures_of_a_melt_are_those_of_its_moles():
    melt = Melt(GLAZES)
    kept, anew = properties_of(melt, 1200.0), properties(GLAZES, 1200.0)
    for name in anew.__slots__:
        assert np.array_equal(getattr(kept, name), getattr(anew, name)), name
    assert melt.viscosity is melt.viscosity


def test_shares_go_back_to_their_oxides_on_the_basis():
    moles = np.zeros(len(OXIDES))
    moles[INDEX["CaO"]], moles[INDEX["SiO2"]], moles[INDEX["CoO"]] = 1.0, 3.0, 0.5
    found = on_basis(from_basis(moles).fractions)
    assert found[INDEX["CaO"]] == pytest.approx(0.25)
    assert found[INDEX["SiO2"]] == pytest.approx(0.75)
    assert found.sum() == pytest.approx(1.0)
