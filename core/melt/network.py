"""Small tanh networks, averaged: what the fit writes and the models evaluate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError

Single = NDArray[np.float32]
_Layer = tuple[Single, Single]

# Rows at a time, so that what lies between two layers stays in the cache.
_BLOCK: Final = 256


@dataclass(frozen=True, eq=False)
class Ensemble:
    """Networks of one shape whose outputs are averaged.

    Each has one or more layers of tanh units and a linear last layer. Inputs
    are brought to zero mean and unit spread first.
    """

    centre: Single
    """Mean of each input, shape (inputs,)."""
    scale: Single
    """One over the spread of each input, shape (inputs,)."""
    weights: tuple[Single, ...]
    """By layer, shape (networks, units before, units after)."""
    biases: tuple[Single, ...]
    """By layer, shape (networks, 1, units after)."""

    @property
    def networks(self) -> int:
        """How many networks are averaged."""
        return len(self.weights[0])

    @property
    def inputs(self) -> int:
        """Length of the last axis that `mean` takes."""
        return len(self.centre)

    @property
    def outputs(self) -> int:
        """Length of the last axis that `mean` gives."""
        return int(self.weights[-1].shape[-1])

    def mean(self, features: NDArray[np.floating]) -> NDArray[np.float64]:
        """Outputs averaged over the networks.

        Parameters
        ----------
        features : ndarray, shape (..., inputs)

        Returns
        -------
        ndarray, shape (..., outputs)
            Computed in single precision.
        """
        rows = features.reshape(-1, self.inputs).astype(np.float32)
        found = np.empty((len(rows), self.outputs), np.float32)
        for start in range(0, len(rows), _BLOCK):
            block = slice(start, start + _BLOCK)
            self._into(found[block], rows[block])
        return found.reshape(*features.shape[:-1], self.outputs).astype(float)

    def _into(self, out: Single, rows: Single) -> None:
        first, middle, last = self._fused
        layer = rows @ first[0]
        layer += first[1]
        np.tanh(layer, out=layer)
        for weight, bias in middle:
            # Units lie network by network along a row: one product per network.
            after = np.empty((len(rows), bias.shape[0]), np.float32)
            np.matmul(self._by_network(layer), weight, out=self._by_network(after))
            after += bias
            layer = np.tanh(after, out=after)
        np.matmul(layer, last[0], out=out)
        out += last[1]

    def _by_network(self, layer: Single) -> Single:
        """View units, shape (n, networks × units), as (networks, n, units)."""
        return layer.reshape(len(layer), self.networks, -1).transpose(1, 0, 2)

    @cached_property
    def _fused(self) -> tuple[_Layer, list[_Layer], _Layer]:
        """Layers of all networks side by side, scaling and averaging worked in."""
        biases = [_single(np.concatenate(list(bias), axis=-1)[0]) for bias in self.biases[:-1]]
        weight = _single(np.concatenate(list(self.weights[0]), axis=-1) * self.scale[:, None])
        first = (weight, _single(biases[0] - self.centre @ weight))
        middle = list(zip(self.weights[1:-1], biases[1:], strict=True))
        last = _single(np.concatenate(list(self.weights[-1])) / self.networks)
        return first, middle, (last, _single(self.biases[-1].mean(axis=0)[0]))


def _single(values: NDArray[np.floating]) -> Single:
    return np.ascontiguousarray(values, dtype=np.float32)


def join(ensembles: Sequence[Ensemble]) -> Ensemble:
    """Put networks of one shape and one scaling of inputs together."""
    first = ensembles[0]
    layers = range(len(first.weights))
    return Ensemble(
        first.centre,
        first.scale,
        tuple(np.concatenate([e.weights[i] for e in ensembles]) for i in layers),
        tuple(np.concatenate([e.biases[i] for e in ensembles]) for i in layers),
    )


def save(path: Path, ensemble: Ensemble) -> None:
    """Write an ensemble as compressed numpy arrays."""
    arrays = {"centre": ensemble.centre, "scale": ensemble.scale}
    for i, (weight, bias) in enumerate(zip(ensemble.weights, ensemble.biases, strict=True)):
        arrays[f"weight{i}"] = weight
        arrays[f"bias{i}"] = bias
    np.savez_compressed(path, allow_pickle=False, **arrays)


def load(path: Path) -> Ensemble:
    """Read an ensemble.

    Raises
    ------
    InputError
        If the file is missing or is no such file.
    """
    try:
        with np.load(path, allow_pickle=False) as stored:
            count = sum(name.startswith("weight") for name in stored.files)
            return Ensemble(
                stored["centre"],
                stored["scale"],
                tuple(stored[f"weight{i}"].astype(np.float32) for i in range(count)),
                tuple(stored[f"bias{i}"].astype(np.float32) for i in range(count)),
            )
    except (OSError, KeyError, ValueError) as fault:
        raise InputError(
            f"the coefficients cannot be read: {fault}",
            "fetch the file anew or run python -m core.melt.fit",
            str(path),
        ) from fault
