from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from core.melt.composition import COLUMN, MODELLED, families
from core.melt.domain import inside
from core.melt.errors import liquidus_error
from core.melt.liquidus import HIGHEST_C, LOWEST_C, liquidus_c, magnesia_ramp
from core.melt.rows import read_rows

SAMPLE = Path(__file__).parents[2] / "data" / "melts" / "liquidus.csv"


def melt(**moles):
    found = np.zeros(len(MODELLED))
    for oxide, amount in moles.items():
        found[COLUMN[oxide]] = amount
    return found / found.sum()


# Melting points at ordinary pressure [°C]; sources and values from memory but
# for diopside, anorthite and albite, which the description of the melt data gives.
MINERALS = {
    # Bowen, N. L. (1914). Am. J. Sci. 38, 207-264.
    "diopside": (melt(CaO=1, MgO=1, SiO2=2), 1391.5, 1391.5),
    # Osborn, E. F. (1942). Am. J. Sci. 240, 751-788: 1553; 1550 in the data.
    "anorthite": (melt(CaO=1, Al2O3=1, SiO2=2), 1550.0, 1557.0),
    # Schairer, J. F., Bowen, N. L. (1956). Am. J. Sci. 254, 129-195.
    "albite": (melt(Na2O=1, Al2O3=1, SiO2=6), 1118.0, 1120.0),
    # Pseudowollastonite: Rankin, G. A., Wright, F. E. (1915). Am. J. Sci. 39, 1-79.
    "wollastonite": (melt(CaO=1, SiO2=1), 1544.0, 1544.0),
    # Kracek, F. C. (1930). J. Phys. Chem. 34, 1583-1598.
    "sodium disilicate": (melt(Na2O=1, SiO2=2), 874.0, 874.0),
    # Kracek, F. C. (1930). J. Phys. Chem. 34, 2641-2650.
    "lithium disilicate": (melt(Li2O=1, SiO2=2), 1033.0, 1033.0),
    # Kracek, F. C., Bowen, N. L., Morey, G. W. (1929). J. Phys. Chem. 33, 1857-1879.
    "potassium disilicate": (melt(K2O=1, SiO2=2), 1045.0, 1045.0),
}


@pytest.mark.parametrize("name", MINERALS)
def test_minerals_melt_where_they_are_known_to(name):
    mineral, low, high = MINERALS[name]
    found = float(liquidus_c(mineral))
    off = max(low - found, found - high, 0.0)
    sigma = float(liquidus_error(mineral))
    assert off <= sigma * (1.0 if inside(mineral, "liquidus") else 2.0)


@pytest.fixture(scope="module")
def unseen():
    """Rows of publications that the fit did not see."""
    return read_rows(SAMPLE)


def test_unseen_publications_are_met(unseen):
    # Measured liquidus: SciGlass (see data/melts/README.md).
    residual = liquidus_c(unseen.fractions) - unseen.value
    assert np.sqrt(np.mean(residual**2)) <= 78.0
    assert np.abs(residual).mean() <= 58.0
    rich = families(unseen.fractions).magnesia_rich
    assert rich.sum() >= 30
    assert np.sqrt(np.mean(residual[rich] ** 2)) <= 75.0


def test_stated_errors_cover_what_unseen_rows_show(unseen):
    ratio = (liquidus_c(unseen.fractions) - unseen.value) / liquidus_error(unseen.fractions)
    # One sigma holds about 68 % of a normal spread, two 95 %.
    assert np.mean(np.abs(ratio) < 1) > 0.68
    assert np.mean(np.abs(ratio) < 2) > 0.93


def test_the_magnesia_correction_comes_in_smoothly():
    shares = np.linspace(0, 1, 101)
    glazes = np.stack([melt(SiO2=3, Al2O3=0.4, MgO=s, CaO=1 - s) for s in shares])
    ramp = magnesia_ramp(glazes)
    assert ramp[0] == 0.0
    assert ramp[30] == pytest.approx(0.5)
    assert ramp[-1] == 1.0
    assert (np.diff(ramp) >= 0).all()
    assert np.diff(ramp).max() < 0.06


@settings(deadline=None, max_examples=50)
@given(arrays(float, (4, 18), elements=st.floats(allow_nan=True, allow_infinity=True, width=32)))
def test_no_composition_leaves_the_range(amounts):
    found = liquidus_c(amounts)
    assert ((found >= LOWEST_C) & (found <= HIGHEST_C)).all()


def test_many_at_once_are_the_same_as_one_by_one():
    glazes = np.random.default_rng(1).dirichlet(np.ones(18), (3, 200))
    found = liquidus_c(glazes)
    assert found.shape == (3, 200)
    for row, column in ((0, 0), (1, 117), (2, 199)):
        assert liquidus_c(glazes[row, column]) == pytest.approx(found[row, column], abs=0.01)
