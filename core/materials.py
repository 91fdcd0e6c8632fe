"""Materials: what each gives to the fired glaze, and how they are found."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import InputError
from core.oxides import INDEX, MOLAR_MASS, OXIDES, outside_basis, parse_formula, vector

FORMS: Final = ("raw", "calcined", "hydrate", "soluble", "fritted")
TOTAL_RANGE: Final = (98.0, 102.0)
"""Oxides and loss of a sound analysis add up to this [wt%]."""
_MOST_PERCENT: Final = 110.0
_LEAST_LOI: Final = -20.0
DEFAULT_TOLERANCE: Final = 2.0
"""Of an analysis figure that states none [% of the figure]."""


@dataclass(frozen=True)
class Analysis:
    """Oxides [wt% as received] and loss on ignition of a material.

    Either `percent` comes from a laboratory or it follows from `formula`.
    """

    percent: tuple[tuple[str, float], ...]
    loi: float
    formula: str = ""
    tolerance: tuple[tuple[str, float], ...] = ()
    """Of single figures [% of the figure]; the others have `DEFAULT_TOLERANCE`."""

    @classmethod
    def from_formula(cls, formula: str, owner: str = "") -> Analysis:
        """Compute the analysis of an ideal mineral.

        Raises
        ------
        InputError
            If the formula cannot be read or leaves the basis.

        Examples
        --------
        >>> kaolin = Analysis.from_formula("Al2O3.2SiO2.2H2O")
        >>> round(kaolin.loi, 2)
        13.96
        """
        mineral = parse_formula(formula, owner)
        percent = tuple(
            (oxide, 100.0 * moles * float(MOLAR_MASS[INDEX[oxide]]) / mineral.molar_mass)
            for oxide, moles in sorted(mineral.fired_moles.items(), key=lambda p: INDEX[p[0]])
        )
        return cls(percent, 100.0 - sum(value for _, value in percent), formula)

    @classmethod
    def from_percent(
        cls,
        percent: Mapping[str, float],
        loi: float,
        owner: str = "",
        tolerance: Mapping[str, float] | None = None,
    ) -> Analysis:
        """Check the figures of a laboratory.

        Raises
        ------
        InputError
            If an oxide lies outside the basis, or a figure is out of reason.
        """
        for oxide, value in percent.items():
            if oxide not in INDEX:
                raise outside_basis(oxide, owner)
            if value < 0:
                raise InputError(f"{owner}: {oxide} is negative ({value:g})", "give zero or more")
            if value > _MOST_PERCENT:
                raise InputError(f"{owner}: {oxide} cannot be {value:g} %", "give 0 to 100")
        if not _LEAST_LOI <= loi <= _MOST_PERCENT:
            raise InputError(
                f"{owner}: the loss on ignition cannot be {loi:g} %",
                f"give {_LEAST_LOI:.0f} (a gain) to 100",
            )
        for oxide, value in (tolerance or {}).items():
            if oxide not in percent or not 0 <= value <= 100:
                raise InputError(
                    f"{owner}: a tolerance of {value:g} % for {oxide} has no use",
                    "give 0 to 100 % for an oxide of the analysis",
                )
        ordered = tuple(sorted(percent.items(), key=lambda pair: INDEX[pair[0]]))
        return cls(ordered, loi, "", tuple(sorted((tolerance or {}).items())))

    @property
    def total(self) -> float:
        """Oxides and loss together [wt%]."""
        return sum(value for _, value in self.percent) + self.loi


@dataclass(frozen=True)
class Material:
    """A raw material as it lies on the shelf."""

    id: str
    name: str
    analysis: Analysis
    synonyms: tuple[str, ...] = ()
    group: str = "other"
    form: str = "raw"
    density: float | None = None
    """Of the particles [g/cm3], where known."""
    hazards: tuple[str, ...] = ()
    dust: bool = True
    price_per_kg: float | None = None
    """In the studio's own money; None where nobody wrote it."""
    source: str = ""
    confidence: str = ""
    note: str = ""
    origin: str = "shipped"
    """Whose table it stands in: shipped, studio or recipe."""
    moles_per_gram: NDArray[np.float64] = field(init=False, repr=False, compare=False)
    """Of each fired oxide [mol/g as received], shape (25,)."""

    def __post_init__(self) -> None:
        moles = vector(dict(self.analysis.percent), self.name) / 100.0 / MOLAR_MASS
        moles.setflags(write=False)
        object.__setattr__(self, "moles_per_gram", moles)

    @property
    def relative_tolerance(self) -> NDArray[np.float64]:
        """Half-width of what each analysis figure may be off, shape (25,), as a fraction."""
        tolerance = np.full(len(OXIDES), DEFAULT_TOLERANCE / 100.0)
        for oxide, percent in self.analysis.tolerance:
            tolerance[INDEX[oxide]] = percent / 100.0
        return tolerance

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is odd about the analysis, in words."""
        total = self.analysis.total
        if TOTAL_RANGE[0] <= total <= TOTAL_RANGE[1]:
            return ()
        return (
            f"{self.name}: the analysis adds up to {total:.1f} %, "
            f"expected {TOTAL_RANGE[0]:.0f} to {TOTAL_RANGE[1]:.0f}",
        )


class MaterialTable:
    """Materials by id; those of a studio stand before the shipped ones."""

    def __init__(self, materials: Iterable[Material] = ()) -> None:
        self._by_id = {material.id: material for material in materials}
        self._keys = {m.id: _search_key(m) for m in self._by_id.values()}

    def __iter__(self) -> Iterator[Material]:
        return iter(self._by_id.values())

    def __len__(self) -> int:
        return len(self._by_id)

    def __contains__(self, material_id: object) -> bool:
        return material_id in self._by_id

    def get(self, material_id: str) -> Material | None:
        """Return the material of that id, or None."""
        return self._by_id.get(material_id)

    def over(self, behind: MaterialTable) -> MaterialTable:
        """Return both tables as one, in which this one's entries win."""
        return MaterialTable([*self, *(m for m in behind if m.id not in self)])

    def find(self, words: str) -> list[Material]:
        """Find materials whose name, id or synonym holds every word.

        Names that begin with what was typed come before synonyms that do,
        those before names and synonyms of which a word does, and the rest
        comes last. Plain names come before those with a qualifier; among equals
        the order of the table holds.

        Examples
        --------
        >>> clay = Material("kaolin", "Kaolin", Analysis.from_formula("Al2O3.2SiO2.2H2O"),
        ...                 ("china clay",))
        >>> [m.id for m in MaterialTable([clay]).find("chi cl")]
        ['kaolin']
        """
        wanted = _folded(words).split()
        if not wanted:
            return list(self)
        ranked: list[tuple[int, int, Material]] = []
        for order, material in enumerate(self):
            terms = self._keys[material.id]
            best = min(_rank(term, wanted, named=i == 0) for i, term in enumerate(terms))
            if best < _NO_MATCH:
                # "Flint clay, reference analysis" is rarer than what is called flint.
                best += _QUALIFIED if "," in material.name or "(" in material.name else 0
                ranked.append((best, order, material))
        return [material for _, _, material in sorted(ranked, key=lambda item: item[:2])]


_NO_MATCH = 9
_QUALIFIED = 2


def _rank(term: str, wanted: list[str], named: bool) -> int:
    """Return how well a term fits, 0 the best; `named` tells a name from a synonym or id."""
    if not all(word in term for word in wanted):
        return _NO_MATCH
    phrase = " ".join(wanted)
    if term == phrase:
        return 0 if named else 2
    if term.startswith(phrase):
        return 1 if named else 4
    words = term.split()
    if all(any(w.startswith(want) for w in words) for want in wanted):
        return 3 if named else 5
    return 6 if named else 7


def _search_key(material: Material) -> tuple[str, ...]:
    return tuple(_folded(t) for t in (material.name, material.id, *material.synonyms))


def _folded(text: str) -> str:
    """Lower case without accents, with hyphens read as blanks."""
    plain = unicodedata.normalize("NFKD", text.casefold().replace("-", " "))
    return "".join(c for c in plain if not unicodedata.combining(c))
