from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from core.melt.composition import COLUMN, MODELLED
from core.melt.errors import viscosity_error
from core.melt.rows import read_rows
from core.melt.viscosity import (
    ViscosityCurve,
    curve,
    glass_transition_c,
    log10_viscosity,
    temperature_at,
)

SAMPLE = Path(__file__).parents[2] / "data" / "melts"
AMOUNTS = arrays(float, (4, 18), elements=st.floats(0, 1, width=32))


def melt(**moles):
    found = np.zeros(len(MODELLED))
    for oxide, amount in moles.items():
        found[COLUMN[oxide]] = amount
    return found / found.sum()


SATIN = melt(SiO2=2.929, Al2O3=0.475, K2O=0.234, CaO=0.372, MgO=0.393)


@pytest.fixture(scope="module")
def firing():
    """Rows at 1000 to 1350 °C of publications that the fit did not see."""
    return read_rows(SAMPLE / "viscosity.csv")


def rms(residual):
    return float(np.sqrt(np.mean(residual**2)))


def giordano_russell_dingwell(fractions, temperature_c):
    """Viscosity after Giordano, D., Russell, J. K., Dingwell, D. B. (2008).

    Viscosity of magmatic liquids: a model. Earth Planet. Sci. Lett. 271,
    123-134, table 1, for dry melts. Coefficients from memory.
    """

    def of(oxide):
        return fractions[..., COLUMN[oxide]]

    # All iron counts as FeO there: one Fe2O3 gives two.
    total = (1.0 + of("Fe2O3")) / 100.0
    iron = (2.0 * of("Fe2O3") + of("FeO")) / total
    si, ti, al, mn, mg, ca, na, k, p = (
        of(oxide) / total
        for oxide in ("SiO2", "TiO2", "Al2O3", "MnO", "MgO", "CaO", "Na2O", "K2O", "P2O5")
    )
    fm, ta, nk = iron + mn + mg, ti + al, na + k
    b = 159.6 * (si + ti) - 173.3 * al + 72.1 * (iron + mn + p) + 75.7 * mg - 39.0 * ca
    b += -84.1 * na - 2.43 * (si + ti) * fm - 0.91 * (si + ta + p) * nk + 17.6 * al * nk
    c = 2.75 * si + 15.7 * ta + 8.3 * fm + 10.2 * ca - 12.3 * nk
    c += 0.30 * (al + fm + ca - p) * nk
    return -4.55 + b / (temperature_c + 273.15 - c)


def test_unseen_publications_are_met_in_the_firing_range(firing):
    # Measured viscosities: SciGlass (see data/melts/README.md).
    residual = log10_viscosity(firing.fractions, firing.temperature_c) - firing.value
    assert rms(residual) <= 0.21
    assert np.abs(residual).mean() <= 0.14


def test_it_is_less_than_half_as_far_off_as_a_published_model():
    rows = read_rows(SAMPLE / "viscosity-of-magmas.csv")
    theirs = giordano_russell_dingwell(rows.fractions, rows.temperature_c) - rows.value
    ours = log10_viscosity(rows.fractions, rows.temperature_c) - rows.value
    assert rms(ours) < 0.5 * rms(theirs)
    # Their model does about 0.62 on glaze-like rows of this kind, as other
    # people's reckoning of it has it; half of that is the stricter bar here.
    assert rms(ours) < 0.31


def test_stated_errors_cover_what_unseen_rows_show(firing):
    ratio = (log10_viscosity(firing.fractions, firing.temperature_c) - firing.value) / (
        viscosity_error(firing.fractions, firing.temperature_c)
    )
    # One sigma holds about 68 % of a normal spread, two 95 %.
    assert np.mean(np.abs(ratio) < 1) > 0.68
    assert np.mean(np.abs(ratio) < 2) > 0.93


@settings(deadline=None, max_examples=50)
@given(AMOUNTS)
def test_viscosity_falls_with_temperature_whatever_the_composition(amounts):
    temperatures = np.linspace(400, 1750, 80)
    found = log10_viscosity(amounts[:, None, :], temperatures)
    assert np.isfinite(found).all()
    assert (np.diff(found, axis=1) < 0).all()


@settings(deadline=None, max_examples=50)
@given(AMOUNTS, st.floats(0.5, 12.0))
def test_temperature_at_undoes_the_viscosity(amounts, wanted):
    celsius = temperature_at(amounts, wanted)
    reached = log10_viscosity(amounts, celsius)
    within = (celsius > 0.0) & (celsius < 3000.0)
    assert reached[within] == pytest.approx(wanted, abs=1e-3)
    assert np.isfinite(celsius).all()


def test_glazes_pass_every_working_viscosity_at_some_temperature():
    wanted = np.array([2.0, 3.0, 4.0, 6.6, 9.0, 12.0])
    celsius = temperature_at(SATIN, wanted)
    assert (np.diff(celsius) < 0).all()
    assert log10_viscosity(SATIN, celsius) == pytest.approx(wanted, abs=1e-3)


def test_the_curve_is_the_published_form():
    # MYEGA in its authors' letters (Mauro and others 2009, PNAS 106, 19780,
    # equation 6): the bend is m / (12 - A) - 1.
    known = ViscosityCurve(np.array(-2.9), np.array(900.0), np.array(1.5))
    m, a, tg = float(known.fragility), -2.9, 900.0
    for kelvin in (800.0, 900.0, 1100.0, 1600.0):
        x = tg / kelvin
        expected = a + (12 - a) * x * np.exp((m / (12 - a) - 1) * (x - 1))
        assert known.log10_viscosity(kelvin - 273.15) == pytest.approx(expected)
    # Fragility is the slope against Tg/T at Tg.
    steps = known.log10_viscosity(900.0 / np.array([0.9999, 1.0001]) - 273.15)
    assert (steps[1] - steps[0]) / 0.0002 == pytest.approx(m, rel=1e-4)


def test_the_transition_lies_at_ten_to_the_twelve():
    assert log10_viscosity(SATIN, glass_transition_c(SATIN)) == pytest.approx(12.0)
    # Albite: T(10^12 Pa s) 814 °C, in the description of the melt data.
    albite = melt(Na2O=1, Al2O3=1, SiO2=6)
    found = glass_transition_c(albite)
    slope = 1.0 / abs(np.diff(log10_viscosity(albite, found + np.array([-0.5, 0.5]))).item())
    assert abs(found - 814.0) < 2.0 * viscosity_error(albite, found) * slope


@pytest.mark.parametrize("oxides", [{"SiO2": 1}, {"CaO": 1}, {"SiO2": 2, "Al2O3": 1}, {"PbO": 1}])
def test_odd_compositions_give_numbers(oxides):
    found = log10_viscosity(melt(**oxides), [0.0, 600.0, 1200.0, 2000.0])
    assert np.isfinite(found).all()
    assert np.isfinite(temperature_at(melt(**oxides), [-9.0, 2.0, 12.0])).all()


def test_nothing_at_all_gives_numbers():
    assert np.isfinite(log10_viscosity(np.zeros(18), 1200.0))


def test_many_at_once_are_the_same_as_one_by_one():
    glazes = np.random.default_rng(1).dirichlet(np.ones(18), (3, 200))
    temperature = np.linspace(900, 1300, 200)
    found = log10_viscosity(glazes, temperature)
    assert found.shape == (3, 200)
    for row, column in ((0, 0), (1, 117), (2, 199)):
        one = log10_viscosity(glazes[row, column], temperature[column])
        assert one == pytest.approx(found[row, column], abs=2e-4)
    assert curve(glazes).transition_k.shape == (3, 200)
