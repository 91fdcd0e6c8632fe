import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from core.errors import InputError
from core.melt import domain
from core.melt.composition import COLUMN, MODELLED
from core.melt.domain import PROPERTIES, Centres, distance, find_centres, inside, save


def melt(**moles):
    found = np.zeros(len(MODELLED))
    for oxide, amount in moles.items():
        found[COLUMN[oxide]] = amount
    return found / found.sum()


SATIN = melt(SiO2=2.929, Al2O3=0.475, K2O=0.234, CaO=0.372, MgO=0.393)


def test_common_glazes_and_glasses_lie_inside():
    assert inside(SATIN)
    assert inside(melt(SiO2=3.5, Al2O3=0.4, B2O3=0.4, CaO=0.6, Na2O=0.3, K2O=0.1))
    assert inside(melt(SiO2=72, Na2O=14, CaO=10, MgO=2, Al2O3=1))


@pytest.mark.parametrize(
    "oxides",
    [
        {"SiO2": 1},
        {"CaO": 1},
        {"B2O3": 1},
        {"SiO2": 2, "Al2O3": 1},
        {"SiO2": 9, "Al2O3": 1, "Na2O": 0.02},
        {"SiO2": 3, "Al2O3": 0.3, "PbO": 1},
        {"SiO2": 1, "TiO2": 1, "CaO": 1},
        {"P2O5": 1, "Fe2O3": 1},
    ],
)
def test_odd_compositions_lie_outside(oxides):
    assert not inside(melt(**oxides))


def test_nothing_lies_outside_and_has_a_distance():
    assert not inside(np.zeros(18))
    assert distance(np.zeros(18)) > 1.0


def test_a_strange_pair_is_far_though_each_oxide_is_in_range():
    # Half soda-rich, half magnesia: each share occurs in the data, with others.
    strange = melt(SiO2=0.4, Li2O=0.2, BaO=0.2, ZnO=0.2)
    assert distance(strange) > 1.0
    assert not inside(strange)


def test_an_oxide_above_its_range_lies_outside_however_near_the_rest():
    # The data stop at 6 mol% of lead oxide (their description).
    leaded = 0.925 * melt(SiO2=3.5, Al2O3=0.3, CaO=0.4, Na2O=0.3) + 0.075 * melt(PbO=1)
    assert not inside(leaded)


@settings(deadline=None, max_examples=50)
@given(arrays(float, (3, 18), elements=st.floats(allow_nan=True, allow_infinity=True, width=32)))
def test_no_composition_has_a_distance_that_is_no_number(amounts):
    assert np.isfinite(distance(amounts)).all()
    assert inside(amounts).shape == (3,)


def test_without_a_property_the_larger_distance_counts():
    glazes = np.random.default_rng(3).dirichlet(np.ones(18), 50)
    each = [distance(glazes, prop) for prop in PROPERTIES]
    assert np.array_equal(distance(glazes), np.maximum(*each))
    with pytest.raises(ValueError, match="hardness"):
        distance(glazes, "hardness")


def test_a_known_distance_need_not_be_found_again():
    glazes = np.random.default_rng(3).dirichlet(np.ones(18), (5, 4))
    assert np.array_equal(inside(glazes, far=distance(glazes)), inside(glazes))


def test_the_distance_is_the_euclidean_one():
    random = np.random.default_rng(5)
    places = random.dirichlet(np.ones(18), 7).astype(np.float32) * 100
    rows = random.dirichlet(np.ones(18), 20).astype(np.float32) * 100
    expected = np.linalg.norm(rows[:, None] - places, axis=-1).min(axis=1)
    assert Centres(places, 1.0, places.max(axis=0)).distance(rows) == pytest.approx(
        expected, abs=0.02
    )


def test_centres_find_the_groups_of_clear_data():
    random = np.random.default_rng(6)
    middles = random.dirichlet(np.ones(18), 4)
    cloud = np.abs(middles[:, None] + random.normal(0, 0.002, (4, 50, 18))).reshape(-1, 18)
    found = find_centres(cloud, 4, seed=0)
    expected = 100 * cloud.reshape(4, 50, 18).mean(axis=1)
    gaps = np.linalg.norm(found.places[:, None] - expected, axis=-1)
    assert sorted(gaps.argmin(axis=0)) == [0, 1, 2, 3]
    assert gaps.min(axis=0).max() < 0.3
    assert np.array_equal(find_centres(cloud, 4, seed=0).places, found.places)


def test_centres_are_saved_and_a_broken_file_is_refused(tmp_path, monkeypatch):
    places = np.eye(18, dtype=np.float32) * 100
    centres = Centres(places, 9.0, places.max(axis=0))
    (tmp_path / "melt").mkdir()
    monkeypatch.setattr(domain, "data_folder", lambda: tmp_path)
    domain._centres.cache_clear()
    try:
        with pytest.raises(InputError, match="centres"):
            distance(SATIN)
        save(tmp_path / "melt" / "domain.npz", dict.fromkeys(PROPERTIES, centres))
        # Nine tenths of silica: 10 and 10 mol% off the corner of pure silica.
        assert distance(melt(SiO2=9, CaO=1)) == pytest.approx(np.sqrt(200) / 9, rel=1e-3)
    finally:
        domain._centres.cache_clear()
