"""What a map is drawn for: the fluxes and lesser oxides of a recipe, and the heat it gets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.curve import FiringCurve
from core.firing.kiln import usual_kiln
from core.formula import flux_sum
from core.oxides import INDEX, OXIDES, Convention

Floats = NDArray[np.float64]

_SILICA: Final = INDEX["SiO2"]
_ALUMINA: Final = INDEX["Al2O3"]
_LEAST_FLUX: Final = 1e-9
"""Flux in all moles below which there is no unity formula, as in `core.formula`."""
_SPOKEN: Final = 0.005
"""Moles per mole of fluxes from which an oxide is named."""

# Melting is decided near the peak: 54 °C below it a melt is e times stiffer.
_BELOW_PEAK_C: Final = np.array(
    [0.0, 2.0, 8.0, 16.0, 26.0, 38.0, 52.0, 70.0, 90.0, 115.0, 145.0, 180.0, 220.0, 270.0, 330.0]
)
_COLDEST_C: Final = 400.0
_STEP_C: Final = 5.0
_PIECES: Final = 49
"""Points of a cooling that a schedule leaves to the kiln."""


@dataclass(frozen=True, slots=True, eq=False)
class Heat:
    """A firing as the melt feels it: time near the peak, and time on the way down."""

    peak_c: float
    near_c: Floats
    """Temperatures near the peak, the hottest first, shape (k,) [°C]."""
    near_h: Floats
    """Time spent about each of them, heating and cooling, shape (k,) [h]."""
    cooling_c: Floats
    """Rising places for `cooling_h`, shape (n,) [°C]."""
    cooling_h: Floats
    """Time spent above each place once the peak is over, shape (n,) [h]."""
    key: bytes

    def hours_between(self, high_c: ArrayLike, low_c: ArrayLike) -> Floats:
        """Time that the cooling spends between two temperatures [h], 0 where high is not above low.

        Parameters
        ----------
        high_c, low_c : array_like, shape (...)
            [°C]

        Returns
        -------
        ndarray, shape (...)
        """
        above_low = np.interp(np.asarray(low_c, float), self.cooling_c, self.cooling_h)
        above_high = np.interp(np.asarray(high_c, float), self.cooling_c, self.cooling_h)
        return np.asarray(np.maximum(above_low - above_high, 0.0))


@lru_cache(maxsize=32)
def heat_of(curve: FiringCurve) -> Heat:
    """Read a firing as the melt feels it.

    Parameters
    ----------
    curve : FiringCurve
        As felt by the ware. Kept by identity: hold on to the curve of a
        firing rather than make it anew at each edit. One that ends hot goes
        on as the usual kiln cools when it is switched off.

    Returns
    -------
    Heat
    """
    key = curve.hours.tobytes() + curve.temperatures_c.tobytes()
    curve = _cooled(curve)
    peak = curve.peak_c
    edges = peak - _BELOW_PEAK_C
    near_h = np.diff(curve.hours_above(edges))
    near_c = 0.5 * (edges[:-1] + edges[1:])
    last = int(np.flatnonzero(curve.temperatures_c >= peak)[-1])
    down = FiringCurve(curve.hours[last:], curve.temperatures_c[last:])
    # The last place is just above the peak, where no time is left.
    cooling_c = np.append(np.arange(_COLDEST_C, peak, _STEP_C), [peak, peak + 1.0])
    cooling_h = down.hours_above(cooling_c)
    for array in (near_c, near_h, cooling_c, cooling_h):
        array.setflags(write=False)
    return Heat(peak, near_c, near_h, cooling_c, cooling_h, key)


def _cooled(curve: FiringCurve) -> FiringCurve:
    kiln, end = usual_kiln(), float(curve.temperatures_c[-1])
    if end <= _COLDEST_C:
        return curve
    fallen = np.linspace(0.0, np.log((end - kiln.room_c) / (_COLDEST_C - kiln.room_c)), _PIECES)[1:]
    return FiringCurve(
        np.append(curve.hours, curve.hours[-1] + kiln.time_constant_h * fallen),
        np.append(curve.temperatures_c, kiln.room_c + (end - kiln.room_c) * np.exp(-fallen)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """All that a map of silica against alumina holds fixed.

    Two are equal when their oxides and their firing are, to the last bit.
    """

    shares: Floats
    """Moles per mole of fluxes, shape (25,); SiO2 and Al2O3, which the map varies, are 0."""
    heat: Heat
    cone: str
    """Of the firing, for the words alone; may be empty."""
    key: tuple[bytes, bytes]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Basis) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)

    def share(self, oxide: str) -> float:
        """Moles of an oxide per mole of fluxes."""
        return float(self.shares[INDEX[oxide]])

    def moles(self, silica: ArrayLike, alumina: ArrayLike) -> Floats:
        """Compositions at points of the map.

        Parameters
        ----------
        silica, alumina : array_like
            Unity formula; they broadcast to (...).

        Returns
        -------
        ndarray, shape (..., 25)
            Moles per mole of fluxes.
        """
        found = np.empty((*np.broadcast(silica, alumina).shape, len(OXIDES)))
        found[...] = self.shares
        found[..., _SILICA] = silica
        found[..., _ALUMINA] = alumina
        return found

    def words(self) -> str:
        """Return the basis for the chart.

        Examples
        --------
        >>> from core.oxides import vector
        >>> moles = vector({"K2O": 0.3, "CaO": 0.7, "Al2O3": 0.5, "SiO2": 4.0})
        >>> firing = FiringCurve([0.0, 8.0], [20.0, 1260.0])
        >>> basis_of(moles, firing, cone="9").words()
        'cone 9, 1260 °C: K2O 0.30 CaO 0.70, no boron'
        """
        named = [(o, self.share(o)) for o in OXIDES if o != "B2O3" and self.share(o) >= _SPOKEN]
        boron = self.share("B2O3")
        parts = [" ".join(f"{oxide} {share:.2f}" for oxide, share in named)]
        parts.append(f"B2O3 {boron:.2f}" if boron >= _SPOKEN else "no boron")
        firing = f"{self.heat.peak_c:.0f} °C"
        if self.cone:
            firing = f"cone {self.cone}, {firing}"
        return f"{firing}: {', '.join(part for part in parts if part)}"


def basis_of(
    moles: ArrayLike, curve: FiringCurve, convention: Convention | None = None, cone: str = ""
) -> Basis | None:
    """Return the basis that a recipe stands on.

    Parameters
    ----------
    moles : array_like, shape (25,)
        In the order of `core.oxides.OXIDES`, in any unit.
    curve : FiringCurve
        As felt by the ware.
    convention : Convention, optional
        Which oxides sum to one.
    cone : str
        Of the firing, for the words.

    Returns
    -------
    Basis or None
        None where there is no flux.
    """
    amounts = np.fmax(np.asarray(moles, float), 0.0)  # fmax takes the 0 where the other is NaN
    fluxes, everything = float(flux_sum(amounts, convention)), float(amounts.sum())
    if not fluxes > _LEAST_FLUX * everything or not fluxes > 0:
        return None
    shares = amounts / fluxes
    if not np.isfinite(shares).all():
        return None
    shares[[_SILICA, _ALUMINA]] = 0.0
    # Rounded so that the last bits of a sum do not make another basis: along a ray
    # the map stays as it is.
    shares = shares.round(9)
    shares.setflags(write=False)
    heat = heat_of(curve)
    return Basis(shares, heat, cone, (shares.tobytes(), heat.key))
