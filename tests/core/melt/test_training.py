import numpy as np
import pytest
from scipy.optimize import approx_fprime

from core.melt.fit_viscosity import slopes
from core.melt.training import Shape, fit_network, huber, scaling
from core.melt.viscosity import curve_from_outputs


def test_slopes_of_the_viscosity_agree_with_differences():
    outputs = np.array([[0.3, -0.5, 0.8], [-0.6, 1.2, -0.4]])
    celsius = np.array([600.0, 900.0, 1300.0, 1100.0])
    glass = np.array([0, 0, 1, 1])

    def value(flat):
        kelvin = celsius + 273.15
        return curve_from_outputs(flat.reshape(2, 3)[glass]).log10_viscosity(kelvin - 273.15)

    found, by_output = slopes(
        outputs.astype(np.float32), (1 / (celsius + 273.15)).astype(np.float32), glass
    )
    assert found == pytest.approx(value(outputs.ravel()), rel=1e-5)
    jacobian = approx_fprime(outputs.ravel(), value, 1e-6).reshape(4, 2, 3)
    for output in range(3):
        expected = jacobian[np.arange(4), glass, output]
        assert by_output[output] == pytest.approx(expected, rel=2e-3, abs=2e-4)


def test_huber_is_square_within_and_straight_beyond():
    loss, slope = huber(np.array([0.1, -0.5, 2.0], np.float32), 0.5)
    assert loss == pytest.approx([0.005, 0.125, 0.875])
    assert slope == pytest.approx([0.1, -0.5, 0.5])


def wave(seed=4):
    random = np.random.default_rng(seed)
    features = random.uniform(-1, 1, (400, 2))
    target = (np.sin(2 * features[:, 0]) + features[:, 1] ** 2).astype(np.float32)
    weight = np.full(400, 1 / 400)

    def head(outputs):
        loss, slope = huber(outputs[:, 0] - target, 1.0)
        return float(weight @ loss), (weight * slope).astype(np.float32)[:, None]

    return features, target, head, weight


def test_a_network_learns_a_smooth_function():
    features, target, head, weight = wave()
    fitted = fit_network(features, scaling(features, weight), 1, head, Shape((8, 8), 1e-6, 300), 0)
    assert np.sqrt(np.mean((fitted.mean(features)[:, 0] - target) ** 2)) < 0.03


def test_the_same_seed_gives_the_same_network():
    features, _, head, weight = wave()
    scale = scaling(features, weight)
    one, same, other = (
        fit_network(features, scale, 1, head, Shape((4,), 1e-5, 20), seed) for seed in (3, 3, 4)
    )
    assert np.array_equal(one.weights[0], same.weights[0])
    assert not np.array_equal(one.weights[0], other.weights[0])


def test_decay_keeps_weights_small():
    features, _, head, weight = wave()
    scale = scaling(features, weight)
    loose, tight = (
        fit_network(features, scale, 1, head, Shape((8,), decay, 200), 0) for decay in (1e-6, 1e-2)
    )
    sums = [sum(float(np.sum(w**2)) for w in fitted.weights) for fitted in (loose, tight)]
    assert sums[1] < 0.6 * sums[0]
