"""How the small networks are fitted: their loss, its gradient, its minimum."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from core.melt.network import Ensemble

Single = NDArray[np.float32]
Head = Callable[[Single], tuple[float, Single]]
"""Takes the outputs of a network, shape (n, outputs); gives the loss and its
gradient by those outputs."""


@dataclass(frozen=True)
class Shape:
    """How large a network is and how it is held back."""

    hidden: tuple[int, ...]
    decay: float
    """Weight of half the sum of squared weights in the loss."""
    steps: int
    """Most iterations of the minimisation (L-BFGS); few of them hold back too."""


def scaling(features: NDArray[np.floating], weight: NDArray[np.floating]) -> tuple[Single, Single]:
    """Weighted mean and one over the spread of inputs, each of shape (inputs,).

    Rare oxides would get huge inputs from their small spread: it counts as at
    least 0.015.
    """
    share = weight / weight.sum()
    centre = share @ features
    spread = np.sqrt(share @ (features - centre) ** 2)
    return (
        np.asarray(centre, dtype=np.float32),
        np.asarray(1.0 / np.maximum(spread, 0.015), dtype=np.float32),
    )


def fit_network(
    features: NDArray[np.floating],
    scale: tuple[Single, Single],
    outputs: int,
    head: Head,
    shape: Shape,
    seed: int,
) -> Ensemble:
    """Fit one network.

    Parameters
    ----------
    features : ndarray, shape (n, inputs)
    scale : pair of ndarray
        From `scaling`.
    outputs : int
    head : callable
        Loss of the outputs, in the order of `features`.
    shape : Shape
    seed : int
        Of the first weights; the same seed gives the same network.

    Returns
    -------
    Ensemble
        Of one network.
    """
    from scipy.optimize import minimize

    inputs = ((features - scale[0]) * scale[1]).astype(np.float32)
    sizes = (inputs.shape[1], *shape.hidden, outputs)
    random = np.random.default_rng(seed)
    start = np.concatenate(
        [
            np.concatenate(
                [
                    random.normal(0.0, 1.0 / np.sqrt(before), before * after),
                    random.normal(0.0, 0.1, after),
                ]
            )
            for before, after in pairwise(sizes)
        ]
    )
    # Outputs near zero first: the heads put their middle there.
    last = sizes[-2] * sizes[-1]
    start[-(last + sizes[-1]) :] *= 0.1

    def parts(flat: NDArray[np.float64]) -> list[tuple[Single, Single]]:
        found, place = [], 0
        single = flat.astype(np.float32)
        for before, after in pairwise(sizes):
            weight = single[place : place + before * after].reshape(before, after)
            place += before * after
            found.append((weight, single[place : place + after]))
            place += after
        return found

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        layers = parts(flat)
        states = [inputs]
        for weight, bias in layers[:-1]:
            state = states[-1] @ weight
            state += bias
            states.append(np.tanh(state, out=state))
        weight, bias = layers[-1]
        value, back = head(states[-1] @ weight + bias)
        pieces: list[NDArray[np.floating]] = []
        for number in range(len(layers) - 1, -1, -1):
            weight, _ = layers[number]
            pieces[:0] = [
                (states[number].T @ back + np.float32(shape.decay) * weight).ravel(),
                back.sum(axis=0),
            ]
            value += 0.5 * shape.decay * float(np.vdot(weight, weight))
            if number:
                back = (back @ weight.T) * (1.0 - states[number] ** 2)
        return value, np.concatenate(pieces).astype(float)

    best = minimize(
        loss,
        start,
        jac=True,
        method="L-BFGS-B",
        options={"maxiter": shape.steps, "maxfun": 2 * shape.steps, "maxcor": 20, "ftol": 1e-9},
    )
    layers = parts(best.x)
    return Ensemble(
        *scale,
        tuple(weight[None] for weight, _ in layers),
        tuple(bias[None, None] for _, bias in layers),
    )


def huber(residual: Single, delta: float) -> tuple[Single, Single]:
    """Huber loss of residuals and its slope: square within `delta`, straight beyond."""
    held = np.clip(residual, -delta, delta)
    return held * (residual - 0.5 * held), held
