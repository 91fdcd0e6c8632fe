"""The oxide basis: one order, one vector, molar masses and groups."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import periodictable
from molmass import Formula
from numpy.typing import NDArray

from core.errors import InputError

R2O: Final = ("Li2O", "Na2O", "K2O")
RO: Final = ("MgO", "CaO", "SrO", "BaO", "ZnO", "PbO")
FLUXES: Final = R2O + RO
COLOURING_RO: Final = ("MnO", "CoO", "NiO", "CuO")
OXIDES: Final = (
    *FLUXES,
    *("B2O3", "Al2O3", "Fe2O3", "Cr2O3"),
    *("SiO2", "TiO2", "ZrO2", "SnO2", "P2O5", "V2O5", "CeO2"),
    *COLOURING_RO,
    "F",
)
INDEX: Final[Mapping[str, int]] = {oxide: i for i, oxide in enumerate(OXIDES)}
LIME_KIN: Final = ("CaO", "SrO", "BaO")

# What each element of the basis becomes in the fired glaze: (oxide, atoms of
# the element in one formula unit of it).
_FIRED: Final[Mapping[str, tuple[str, int]]] = {
    re.match(r"[A-Z][a-z]?", oxide)[0]: (  # type: ignore[index]
        oxide,
        int(re.match(r"[A-Z][a-z]?(\d*)", oxide)[1] or 1),  # type: ignore[index]
    )
    for oxide in OXIDES
    if oxide != "F"
}
# Leave as gas on firing, or are the oxygen that the oxides already count.
# Fluorine of a mineral is taken as lost and replaced by oxygen.
_LEAVES: Final = frozenset({"H", "C", "N", "S", "Cl", "O", "F"})
_PART: Final = re.compile(r"(\d{0,3})((?:[A-Z][a-z]?\d*|\((?:[A-Z][a-z]?\d*)+\)\d*)+)", re.ASCII)
_LONGEST_FORMULA: Final = 120


def _atoms(formula: str) -> dict[str, float]:
    """Count the atoms of a formula without dots."""
    return {
        str(element): float(item.count) for element, item in Formula(formula).composition().items()
    }


def _molar_mass(atoms: Mapping[str, float]) -> float:
    """Sum the standard atomic weights [g/mol]; KeyError where an element has none."""
    weights = {element: float(periodictable.elements.symbol(element).mass) for element in atoms}
    return sum(count * weights[element] for element, count in atoms.items())


MOLAR_MASS: Final[NDArray[np.float64]] = np.array([_molar_mass(_atoms(o)) for o in OXIDES])
"""Molar masses [g/mol] in the order of `OXIDES`, from the atomic weights of
the periodictable library (IUPAC standard atomic weights)."""
MOLAR_MASS.setflags(write=False)


@dataclass(frozen=True, slots=True)
class Convention:
    """Which oxides sum to one in the unity formula."""

    fluxes: tuple[str, ...] = FLUXES

    @property
    def mask(self) -> NDArray[np.float64]:
        """One for each flux, zero for the others, shape (25,)."""
        return mask_of(self.fluxes)

    def __str__(self) -> str:
        outside = [oxide for oxide in COLOURING_RO if oxide not in self.fluxes]
        text = f"fluxes {' '.join(self.fluxes)} sum to 1"
        if outside:
            text += f"; {' '.join(outside)} stay outside"
        return text + "; Fe2O3 counts as R2O3"


@lru_cache(maxsize=64)
def mask_of(oxides: tuple[str, ...]) -> NDArray[np.float64]:
    """Ones at the places of `oxides`, shape (25,).

    Examples
    --------
    >>> float(mask_of(("CaO", "MgO")) @ mask_of(FLUXES))
    2.0
    """
    mask = np.zeros(len(OXIDES))
    for oxide in oxides:
        mask[INDEX[oxide]] = 1.0
    mask.setflags(write=False)
    return mask


def vector(amounts: Mapping[str, float], owner: str = "") -> NDArray[np.float64]:
    """Amounts by oxide as one vector in the order of `OXIDES`.

    Parameters
    ----------
    amounts : mapping of oxide to amount
        In any one unit.
    owner : str
        Whose oxides these are, for the message.

    Returns
    -------
    ndarray, shape (25,)
        In the unit given.

    Raises
    ------
    InputError
        If an oxide lies outside the basis.
    """
    result = np.zeros(len(OXIDES))
    for oxide, amount in amounts.items():
        if oxide not in INDEX:
            raise outside_basis(oxide, owner)
        result[INDEX[oxide]] = amount
    return result


def outside_basis(oxide: str, owner: str) -> InputError:
    """Return the error for an oxide that the basis does not hold."""
    return InputError(
        f"{owner + ': ' if owner else ''}the oxide {oxide!r} is outside the basis",
        f"write it as one of {' '.join(OXIDES)}",
    )


@dataclass(frozen=True, slots=True)
class MineralFormula:
    """What one formula unit weighs and which fired oxides it leaves."""

    molar_mass: float
    """[g/mol]"""
    fired_moles: Mapping[str, float]
    """Moles of each fired oxide given by one formula unit."""


def parse_formula(text: str, owner: str = "") -> MineralFormula:
    """Read a mineral formula with its water, such as ``Al2O3.2SiO2.2H2O``.

    Dots part the oxides or the hydrate; a whole number before a part
    multiplies it. Hydrogen, carbon, nitrogen, sulphur, chlorine and fluorine
    leave on firing; metals change to the oxide of the basis whatever their
    state in the mineral (Fe3O4 gains oxygen, MnO2 loses it).

    Parameters
    ----------
    text : str
        The formula.
    owner : str
        The material, for the message.

    Returns
    -------
    MineralFormula

    Raises
    ------
    InputError
        If the text is not a formula, or an element lies outside the basis.

    Examples
    --------
    >>> kaolin = parse_formula("Al2O3.2SiO2.2H2O")
    >>> dict(kaolin.fired_moles)
    {'Al2O3': 1.0, 'SiO2': 2.0}
    """
    who = f"{owner}: " if owner else ""
    mend = 'write it like "Al2O3.2SiO2.2H2O"'
    if not text or len(text) > _LONGEST_FORMULA:
        raise InputError(f"{who}the formula is empty or too long", mend)
    mass = 0.0
    atoms: dict[str, float] = {}
    for part in re.split(r"[.·*]", text.replace(" ", "")):
        match = _PART.fullmatch(part)
        if match is None:
            raise InputError(f"{who}{part!r} in the formula {text!r} cannot be read", mend)
        count = int(match[1] or 1)
        for symbol in re.findall(r"[A-Z][a-z]?", match[2]):
            # The library also knows groups such as Et; a mineral has none.
            if symbol not in _FIRED and symbol not in _LEAVES:
                raise outside_basis(symbol, owner)
        try:
            found = _atoms(match[2])
            mass += count * _molar_mass(found)
        except ValueError as fault:
            raise InputError(f"{who}{part!r} in {text!r} names no known element", mend) from fault
        for element, number in found.items():
            atoms[element] = atoms.get(element, 0.0) + count * number
    moles: dict[str, float] = {}
    for element, number in atoms.items():
        if element in _LEAVES:
            continue
        if element not in _FIRED:
            raise outside_basis(element, owner)
        oxide, per_unit = _FIRED[element]
        moles[oxide] = moles.get(oxide, 0.0) + number / per_unit
    if mass <= 0:
        raise InputError(f"{who}the formula {text!r} weighs nothing", mend)
    return MineralFormula(mass, moles)
