from itertools import pairwise

import numpy as np
import pytest

from core.errors import InputError
from core.melt.network import Ensemble, join, load, save


def some_ensemble(networks=3, hidden=(5, 4), seed=1):
    random = np.random.default_rng(seed)
    sizes = (6, *hidden, 2)
    layers = list(pairwise(sizes))

    def draw(*shape):
        return random.normal(size=shape).astype(np.float32)

    return Ensemble(
        draw(6),
        np.abs(draw(6)),
        tuple(draw(networks, a, b) for a, b in layers),
        tuple(draw(networks, 1, b) for _, b in layers),
    )


@pytest.mark.parametrize("hidden", [(7,), (5, 4), (3, 5, 4)])
def test_the_mean_is_the_plain_formula_of_tanh_layers(hidden):
    ensemble = some_ensemble(hidden=hidden)
    features = np.random.default_rng(2).normal(size=(2, 300, 6))
    each = []
    for network in range(3):
        state = (features - ensemble.centre) * ensemble.scale
        last = len(hidden)
        for layer in range(last):
            state = np.tanh(
                state @ ensemble.weights[layer][network] + ensemble.biases[layer][network, 0]
            )
        each.append(state @ ensemble.weights[last][network] + ensemble.biases[last][network, 0])
    found = ensemble.mean(features)
    assert found.shape == (2, 300, 2)
    # Single precision against double.
    assert found == pytest.approx(np.mean(each, axis=0), abs=2e-5)
    assert ensemble.mean(features[0, 0]) == pytest.approx(found[0, 0], abs=1e-5)


def test_saved_and_loaded_networks_are_the_same(tmp_path):
    ensemble = some_ensemble()
    save(tmp_path / "a.npz", ensemble)
    features = np.ones((4, 6))
    assert np.array_equal(load(tmp_path / "a.npz").mean(features), ensemble.mean(features))


def test_joined_networks_average():
    one = some_ensemble(networks=1, seed=1)
    other = some_ensemble(networks=1, seed=2)
    other = Ensemble(one.centre, one.scale, other.weights, other.biases)
    features = np.random.default_rng(0).normal(size=(5, 6))
    expected = (one.mean(features) + other.mean(features)) / 2
    assert join([one, other]).mean(features) == pytest.approx(expected, abs=1e-5)


def test_a_file_that_is_no_network_is_refused(tmp_path):
    (tmp_path / "a.npz").write_bytes(b"nothing of the kind")
    for name in ("a.npz", "none.npz"):
        with pytest.raises(InputError, match="coefficients"):
            load(tmp_path / name)
