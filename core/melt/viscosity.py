"""Viscosity of the melt against temperature, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.melt.composition import Composition, composition_of
from core.melt.network import Ensemble, load
from core.tables import data_folder

Floats = NDArray[np.float64]

KELVIN: Final = 273.15
LOG10_AT_TRANSITION: Final = 12.0
_COLDEST_C: Final = 0.0
_HOTTEST_C: Final = 3000.0

# The middle of each output and how far a network can carry it: the limit of
# very hot silicate melts lies near 10^-2 to 10^-4 Pa·s whatever they hold.
LIMIT_MIDDLE: Final = -2.0
LIMIT_REACH: Final = 3.0
TG_MIDDLE_K: Final = 950.0
TG_STEP: Final = 0.15
TG_REACH: Final = 0.6
CURVE_MIDDLE: Final = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class ViscosityCurve:
    """A MYEGA curve for each composition; all arrays share one shape."""

    limit: Floats
    """A: log10 viscosity of the infinitely hot melt [log10 Pa·s]."""
    transition_k: Floats
    """Tg: temperature at 10^12 Pa·s [K]."""
    bend: Floats
    """m / (12 - A) - 1: how far the curve bends from a straight Arrhenius line; above 0."""

    @property
    def fragility(self) -> Floats:
        """m: slope of log10 viscosity against Tg/T at Tg."""
        return np.asarray((LOG10_AT_TRANSITION - self.limit) * (1.0 + self.bend))

    def log10_viscosity(self, temperature_c: ArrayLike) -> Floats:
        """Viscosity at temperatures that broadcast against the compositions [log10 Pa·s]."""
        kelvin = np.maximum(np.asarray(temperature_c, float) + KELVIN, KELVIN)
        ratio = self.transition_k / kelvin
        rise = np.exp(np.minimum(self.bend * (ratio - 1.0), 50.0))
        return np.asarray(self.limit + (LOG10_AT_TRANSITION - self.limit) * ratio * rise)

    def temperature_at(self, log10_viscosity: ArrayLike) -> Floats:
        """Temperature at which a viscosity is reached [°C], kept within 0 to 3000.

        A viscosity that the curve never reaches, being below its hot limit,
        gives 3000.
        """
        target = np.asarray(log10_viscosity, float)
        share = (target - self.limit) / (LOG10_AT_TRANSITION - self.limit)
        goal = np.log(np.maximum(share, 1e-9))
        # Newton on ln x + bend (x - 1) = goal in u = ln x: convex and rising,
        # so from the right of the root it comes down without overshoot.
        u = np.where(goal > 0, goal, goal + self.bend)
        for _ in range(12):
            x = np.exp(np.minimum(u, 20.0))
            step = (u + self.bend * (x - 1.0) - goal) / (1.0 + self.bend * x)
            u = u - step
            # What is left after a step is less than half its square.
            if np.abs(step).max(initial=0.0) < 1e-8:
                break
        kelvin = self.transition_k * np.exp(-np.maximum(u, -20.0))
        return np.asarray(np.minimum(np.maximum(kelvin - KELVIN, _COLDEST_C), _HOTTEST_C))


def curve_from_outputs(outputs: NDArray[np.floating]) -> ViscosityCurve:
    """Turn the three outputs of a network, shape (..., 3), into curves."""
    first, second, third = (np.asarray(outputs[..., i], float) for i in range(3))
    return ViscosityCurve(
        LIMIT_MIDDLE + LIMIT_REACH * np.tanh(first / LIMIT_REACH),
        TG_MIDDLE_K * np.exp(TG_REACH * np.tanh(second * (TG_STEP / TG_REACH))),
        np.logaddexp(0.0, third + CURVE_MIDDLE),
    )


@cache
def _ensemble() -> Ensemble:
    return load(data_folder() / "melt" / "viscosity.npz")


def curve(fractions: ArrayLike | Composition, ensemble: Ensemble | None = None) -> ViscosityCurve:
    """Viscosity curve of melts (MYEGA [1]_, its three figures from networks).

    Fitted on SciGlass rows from 400 to 1750 °C; errors in `core.melt.errors`.

    Parameters
    ----------
    fractions : array_like, shape (..., 18), or Composition
        Mole fractions in the order of `core.melt.composition.MODELLED`.
    ensemble : Ensemble, optional
        Other networks than the shipped ones.

    Returns
    -------
    ViscosityCurve
        Its arrays have shape (...).

    References
    ----------
    .. [1] Mauro, J. C., Yue, Y., Ellison, A. J., Gupta, P. K., Allan, D. C.
       (2009). Viscosity of glass-forming liquids. PNAS 106, 19780-19784.
       doi:10.1073/pnas.0911705106
    """
    networks = ensemble if ensemble is not None else _ensemble()
    return curve_from_outputs(networks.mean(composition_of(fractions).features))


def log10_viscosity(fractions: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Viscosity of melts [log10 Pa·s].

    Parameters
    ----------
    fractions : array_like, shape (..., 18)
        Mole fractions in the order of `core.melt.composition.MODELLED`.
    temperature_c : array_like
        [°C]; broadcasts against (...).

    Returns
    -------
    ndarray
        One standard error is about 0.2 at 1000-1350 °C within the fitted
        domain; `core.melt.errors` holds the figures.
    """
    return curve(fractions).log10_viscosity(temperature_c)


def temperature_at(fractions: ArrayLike, log10_eta: ArrayLike) -> Floats:
    """Temperature at which melts reach a viscosity [°C], within 0 to 3000.

    Parameters
    ----------
    fractions : array_like, shape (..., 18)
    log10_eta : array_like
        [log10 Pa·s]; broadcasts against (...).
    """
    return curve(fractions).temperature_at(log10_eta)


def glass_transition_c(fractions: ArrayLike) -> Floats:
    """Glass transition, taken where the viscosity is 10^12 Pa·s [°C], shape (...)."""
    return np.asarray(curve(fractions).transition_k - KELVIN)
