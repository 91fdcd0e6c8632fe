import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from core.melt.composition import (
    COLUMN,
    MODELLED,
    derived,
    families,
    features,
    fractions_of,
    from_basis,
    magnesia_share,
    unity,
)
from core.oxides import INDEX, OXIDES


def melt(**moles):
    found = np.zeros(len(MODELLED))
    for oxide, amount in moles.items():
        found[COLUMN[oxide]] = amount
    return found / found.sum()


def test_each_shared_oxide_lands_in_its_own_column():
    for oxide in set(OXIDES) & set(MODELLED):
        moles = np.zeros(len(OXIDES))
        moles[INDEX[oxide]] = 3.0
        assert from_basis(moles).fractions[COLUMN[oxide]] == pytest.approx(1.0)
    assert set(MODELLED) - set(OXIDES) == {"FeO"}


def test_oxides_without_data_are_left_out_and_their_share_is_told():
    moles = np.zeros(len(OXIDES))
    for oxide, amount in {"SiO2": 0.7, "CaO": 0.2, "SnO2": 0.06, "CoO": 0.04}.items():
        moles[INDEX[oxide]] = amount
    found = from_basis(moles)
    assert found.unmodelled == pytest.approx(0.1)
    assert found.fractions.sum() == pytest.approx(1.0)
    assert found.fractions[COLUMN["SiO2"]] == pytest.approx(0.7 / 0.9)


@given(arrays(float, (3, 25), elements=st.floats(allow_nan=True, allow_infinity=True, width=32)))
def test_no_amounts_however_odd_give_nan(moles):
    found = from_basis(moles)
    assert np.isfinite(features(found.fractions)).all()
    assert np.isfinite(unity(found.fractions)).all()
    assert ((found.unmodelled >= 0) & (found.unmodelled <= 1)).all()


def test_nothing_stays_nothing():
    assert not from_basis(np.zeros(25)).fractions.any()
    assert not fractions_of(np.zeros(18)).any()


def test_a_wrong_length_is_refused():
    with pytest.raises(ValueError, match="25"):
        from_basis(np.ones(18))
    with pytest.raises(ValueError, match="18"):
        fractions_of(np.ones(25))


def test_derived_shares_of_known_glasses():
    # Albite and anorthite: every alumina has its charge, no bridge is broken
    # (definition of a fully polymerised aluminosilicate).
    for glass in (melt(Na2O=1, Al2O3=1, SiO2=6), melt(CaO=1, Al2O3=1, SiO2=2)):
        assert derived(glass) == pytest.approx(np.zeros(5), abs=1e-12)
    # Sodium disilicate has 2 broken bridges in 5 oxygens, diopside 4 in 6.
    assert derived(melt(Na2O=1, SiO2=2))[4] == pytest.approx(2 / 5)
    assert derived(melt(CaO=1, MgO=1, SiO2=2))[4] == pytest.approx(4 / 6)
    # Na2O B2O3: all boron four-fold, nothing left to break a bridge.
    borate = derived(melt(Na2O=1, B2O3=1))
    assert borate[3] == pytest.approx(0.5)
    assert borate[4] == pytest.approx(0.0)
    assert derived(melt(Al2O3=3, SiO2=2, CaO=1))[1] == pytest.approx(2 / 6)


def test_families_follow_the_shares_of_the_fluxes():
    glazes = np.stack(
        [
            melt(SiO2=3, Al2O3=0.4, MgO=0.4, CaO=0.4, K2O=0.2),
            melt(SiO2=3, Al2O3=0.4, B2O3=0.3, CaO=0.7, Na2O=0.3),
            melt(SiO2=3, Al2O3=0.4, CaO=0.7, K2O=0.3),
            melt(SiO2=3, Al2O3=0.4, ZnO=0.5, CaO=0.5),
            melt(SiO2=3, B2O3=0.3, MgO=0.5, CaO=0.5),
        ]
    )
    found = families(glazes)
    assert found.magnesia_rich.tolist() == [True, False, False, False, True]
    assert found.boron_bearing.tolist() == [False, True, False, False, True]
    assert found.alkali_lime.tolist() == [False, False, True, False, False]
    assert magnesia_share(glazes)[0] == pytest.approx(0.4)
    assert not families(melt(SiO2=1)).alkali_lime
