"""The bucket and the raw coat: clay, loss and gas, bulky and soluble materials."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from typing import Final

import msgspec
import numpy as np
from molmass import Formula as Molecule

from core.materials import DEFAULT_TOLERANCE, Material
from core.melt.sheet import CURVE_C, MeltSheet
from core.oxides import parse_formula
from core.schema import Number, convert, expect_kind
from core.tables import shipped

Batch = Sequence[tuple[Material, float]]

_MASS: Final[Mapping[str, float]] = {
    gas: float(Molecule(gas).mass) for gas in ("CO2", "H2O", "SO2", "NO2", "HF", "HCl", "O2")
}
"""[g/mol]"""
_GAS_OF: Final = (("C", "CO2", 1), ("H", "H2O", 2), ("S", "SO2", 1), ("N", "NO2", 1))
_HALOGENS: Final = (("F", "HF"), ("Cl", "HCl"))


class Suspension(StrEnum):
    """What the clay does for the bucket and the coat."""

    SETTLES = "settles: little clay holds it up"
    HOLDS = "stays in suspension"
    CRAWLS = "the coat may shrink and crawl"


class _Clay(msgspec.Struct, frozen=True):
    settles_below: Number
    crawls_from: Number
    crawls_above: Number
    strong_from: Number
    strong_to: Number
    strong: list[str]
    not_plastic: list[str]
    source: str
    confidence: str


class _Loss(msgspec.Struct, frozen=True):
    id: str
    gas: str
    error: Number


class _Leaves(msgspec.Struct, frozen=True):
    id: str
    from_c: Number
    to_c: Number


class _Gas(msgspec.Struct, frozen=True):
    litres_per_mole: Number
    litres_source: str
    much_from: Number
    much_source: str
    seals_c: Number
    seals_log10_viscosity: Number
    seals_error_c: Number
    seals_source: str
    late_from: Number
    late_source: str
    confidence: str
    losses: list[_Loss]
    losses_source: str
    leaves: list[_Leaves]
    leaves_source: str


class _Bulky(msgspec.Struct, frozen=True):
    id: str
    above: Number
    says: str
    source: str
    confidence: str


class _Soluble(msgspec.Struct, frozen=True):
    id: str
    says: str


class _File(msgspec.Struct, frozen=True):
    source: str
    confidence: str
    clay: _Clay
    gas: _Gas
    bulky: list[_Bulky]
    slightly_soluble: list[_Soluble]


@cache
def _rule() -> _File:
    document = shipped("workability.yaml")
    expect_kind(document, "workability")
    return convert(document, _File)


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to know about the bucket or the coat."""

    id: str
    says: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Workability:
    """What the raw batch is like; errors are one standard error.

    Shares follow from the recipe alone and are exact [percent of the base].
    """

    suspension: Suspension
    clay_percent: float
    """Raw plastic clay without bentonite."""
    bentonite_percent: float
    bulky_percent: float
    soluble_percent: float
    """Of materials that dissolve in water."""
    loss_percent: float
    """Loss on ignition of the dry batch, additions included [wt%]."""
    loss_error_percent: float
    gas_l: float
    """From 100 g of dry batch [l at 0 °C and 101.325 kPa]."""
    gas_error_l: float
    gases_l: tuple[tuple[str, float], ...]
    """By gas, most first [l]."""
    late_gas_l: float
    """Given off above `seals_c` [l]; an upper figure."""
    late_gas_error_l: float
    seals_c: float
    """Where the coat is taken to seal over [°C]."""
    remarks: tuple[Remark, ...]


def sealing_c(sheet: MeltSheet | None) -> float | None:
    """Temperature at which a coat is taken to seal, the softening of its glass [°C], or None.

    Within the temperatures of the melt's curve; its error is that of the
    melt and some 50 K of the rule.
    """
    if sheet is None:
        return None
    wanted = float(_rule().gas.seals_log10_viscosity)
    # The curve falls as it warms; interp wants it rising.
    return float(np.interp(wanted, sheet.curve[::-1], CURVE_C[::-1]))


@lru_cache(maxsize=1024)
def gas_moles(formula: str) -> tuple[tuple[str, float], ...]:
    """Gas that one gram of a mineral gives off on firing, from its formula.

    Carbon leaves as CO2, hydrogen as H2O, sulphur as SO2, nitrogen as NO2,
    halogens with hydrogen; what is then missing from the loss is oxygen.

    Parameters
    ----------
    formula : str
        One that `core.oxides.parse_formula` reads.

    Returns
    -------
    tuple of (gas, moles)
        [mol/g of the mineral]

    Examples
    --------
    Calcite: 1 mol of CO2 from 100.09 g.

    >>> [(gas, round(1000 * moles, 2)) for gas, moles in gas_moles("CaCO3")]
    [('CO2', 9.99)]
    """
    atoms: dict[str, float] = {}
    for part in re.split(r"[.·*]", formula.replace(" ", "")):
        count, text = re.fullmatch(r"(\d*)(.+)", part).groups()  # type: ignore[union-attr]
        for element, item in Molecule(text).composition().items():
            atoms[str(element)] = atoms.get(str(element), 0.0) + int(count or 1) * item.count
    mineral = parse_formula(formula)
    found = {gas: atoms[element] / per for element, gas, per in _GAS_OF if element in atoms}
    halogens = {gas: atoms[element] for element, gas in _HALOGENS if element in atoms}
    if halogens:
        # Their oxygen comes from the air, so no balance of mass tells the rest.
        found.update(halogens)
    else:
        # Oxides that take up oxygen show a gain here, which is no gas.
        loss = mineral.molar_mass - _fired_mass(formula)
        rest = loss - sum(moles * _MASS[gas] for gas, moles in found.items())
        if rest > 1e-3 * mineral.molar_mass:
            found["O2"] = rest / _MASS["O2"]
    return tuple((gas, moles / mineral.molar_mass) for gas, moles in found.items())


def _fired_mass(formula: str) -> float:
    """Mass of the oxides that one formula unit leaves [g/mol]."""
    fired = parse_formula(formula).fired_moles
    return sum(moles * float(Molecule(oxide).mass) for oxide, moles in fired.items())


def workability(
    base: Batch, additions: Batch = (), seals_c: float | None = None
) -> Workability | None:
    """Say what the raw batch of a recipe is like.

    Parameters
    ----------
    base : sequence of (Material, parts)
        Rows of the base that could be found.
    additions : sequence of (Material, percent of the base)
    seals_c : float, optional
        `sealing_c` of the melt [°C]; 900 when left out.

    Returns
    -------
    Workability or None
        None where the base weighs nothing.
    """
    total = math.fsum(amount for _, amount in base)
    if not total > 0:
        return None
    rule = _rule()
    rows = [(m, 100.0 * amount / total) for m, amount in base if amount > 0]
    rows += [(m, amount) for m, amount in additions if amount > 0]
    raw = [(m, p) for m, p in rows if m.group == "clay" and m.form == "raw"]
    strong = math.fsum(p for m, p in raw if m.id in rule.clay.strong)
    unplastic = (*rule.clay.strong, *rule.clay.not_plastic)
    clay = math.fsum(p for m, p in raw if m.id not in unplastic)
    shares: dict[str, float] = {}
    for material, percent in rows:
        shares[material.id] = shares.get(material.id, 0.0) + percent
    bulky = [row for row in rule.bulky if shares.get(row.id, 0.0) > row.above]
    soluble = math.fsum(p for m, p in rows if m.form == "soluble")
    seals = float(rule.gas.seals_c) if seals_c is None else seals_c
    gas = _gas(rows, seals, rule.gas)
    return Workability(
        suspension=_suspension(clay, strong, rule.clay),
        clay_percent=clay,
        bentonite_percent=strong,
        bulky_percent=math.fsum(shares[row.id] for row in bulky),
        soluble_percent=soluble,
        loss_percent=gas.loss,
        loss_error_percent=gas.loss_error,
        gas_l=gas.litres,
        gas_error_l=gas.error,
        gases_l=gas.by_gas,
        late_gas_l=gas.late,
        late_gas_error_l=gas.late_error,
        seals_c=seals,
        remarks=(
            *_of_clay(clay, strong, rule.clay),
            *(Remark(row.id, _sentence(row.says), row.source, row.confidence) for row in bulky),
            *_of_solubles(rows, rule),
            *_of_gas(gas, seals, rule.gas),
        ),
    )


@dataclass(frozen=True, slots=True)
class _Given:
    """Loss [wt%] and gas [l] of 100 g, with errors."""

    loss: float
    loss_error: float
    litres: float
    error: float
    by_gas: tuple[tuple[str, float], ...]
    late: float
    late_error: float


def _gas(rows: Batch, seals_c: float, rule: _Gas) -> _Given:
    whole = math.fsum(percent for _, percent in rows)
    losses = {row.id: row for row in rule.losses}
    leaves = {row.id: row for row in rule.leaves}
    # Half-width of a figure that states none, taken as rectangular (JCGM 100:2008, 4.3.7).
    doubt = DEFAULT_TOLERANCE / 100.0 / math.sqrt(3.0)
    by_gas: dict[str, float] = {}
    loss = variance = loss_variance = late = late_variance = 0.0
    for material, percent in rows:
        grams = 100.0 * percent / whole
        lost = grams * material.analysis.loi / 100.0
        loss += lost
        loss_variance += (lost * doubt) ** 2
        if material.analysis.formula:
            relative, given = doubt, gas_moles(material.analysis.formula)
        else:
            kind = losses.get(material.group) or losses[""]
            relative = math.hypot(doubt, float(kind.error))
            given = ((kind.gas, max(material.analysis.loi, 0.0) / 100.0 / _MASS[kind.gas]),)
        litres = 0.0
        for gas, moles in given:
            part = grams * moles * float(rule.litres_per_mole)
            by_gas[gas] = by_gas.get(gas, 0.0) + part
            litres += part
        variance += (litres * relative) ** 2
        span = leaves.get(material.id)
        if span is not None and litres > 0:
            caught, error = _late(span, seals_c, float(rule.seals_error_c))
            late += litres * caught
            late_variance += (litres * math.hypot(error, relative * caught)) ** 2
    ordered = tuple(sorted(((g, v) for g, v in by_gas.items() if v > 0), key=lambda i: -i[1]))
    return _Given(
        loss,
        math.sqrt(loss_variance),
        math.fsum(litres for _, litres in ordered),
        math.sqrt(variance),
        ordered,
        late,
        math.sqrt(late_variance),
    )


def _late(span: _Leaves, seals_c: float, error_c: float) -> tuple[float, float]:
    """Share of a gas that leaves above a temperature, and one standard error."""

    def above(limit: float) -> float:
        share = (float(span.to_c) - limit) / (float(span.to_c) - float(span.from_c))
        return min(max(share, 0.0), 1.0)

    return above(seals_c), (above(seals_c - error_c) - above(seals_c + error_c)) / 2.0


def _suspension(clay: float, strong: float, rule: _Clay) -> Suspension:
    if clay > rule.crawls_above:
        return Suspension.CRAWLS
    if clay < rule.settles_below and strong < rule.strong_from:
        return Suspension.SETTLES
    return Suspension.HOLDS


def _of_clay(clay: float, strong: float, rule: _Clay) -> list[Remark]:
    says = []
    if _suspension(clay, strong, rule) is Suspension.SETTLES:
        says.append(
            (
                "clay-little",
                f"Raw clay is {clay:.1f} % of the base, below {rule.settles_below:g}: it settles "
                f"hard; {rule.strong_from:g} to {rule.strong_to:g} % bentonite helps.",
            )
        )
    elif clay > rule.crawls_from:
        how = "shrinks and may crawl" if clay > rule.crawls_above else "may shrink and crawl"
        says.append(
            (
                "clay-much",
                f"Raw clay is {clay:.1f} % of the base, above {rule.crawls_from:g} to "
                f"{rule.crawls_above:g}: the coat {how}; calcine part of it.",
            )
        )
    if strong > rule.strong_to:
        says.append(
            (
                "bentonite-much",
                f"Bentonite is {strong:.1f} %: {rule.strong_from:g} to {rule.strong_to:g} % is "
                "usual, more makes the coat crack.",
            )
        )
    return [Remark(name, text, rule.source, rule.confidence) for name, text in says]


def _of_solubles(rows: Batch, rule: _File) -> list[Remark]:
    slightly = {row.id: row.says for row in rule.slightly_soluble}
    found: dict[str, Remark] = {}
    for material, percent in rows:
        if material.form == "soluble":
            text = (
                f"{material.name} ({percent:.1f} %) dissolves: it moves with the water into the "
                "body and to rims, and the bucket changes as it stands; a frit holds it."
            )
        elif material.id in slightly:
            text = f"{material.name} ({percent:.1f} %): {slightly[material.id]}."
        else:
            continue
        found.setdefault(
            material.id, Remark(f"soluble-{material.id}", text, rule.source, rule.confidence)
        )
    return list(found.values())


def _of_gas(gas: _Given, seals_c: float, rule: _Gas) -> list[Remark]:
    found = []
    if gas.litres > rule.much_from:
        found.append(
            Remark(
                "gas-much",
                f"100 g give off {gas.litres:.1f} ± {gas.error:.1f} l of gas: fire slowly up to "
                "900 °C, and look for blisters and crawling.",
                rule.much_source,
                rule.confidence,
            )
        )
    if gas.late > rule.late_from:
        found.append(
            Remark(
                "gas-late",
                f"Up to {gas.late:.1f} ± {gas.late_error:.1f} l of it may come after the coat "
                f"seals near {seals_c:.0f} °C: blisters and pinholes are likelier.",
                rule.late_source,
                rule.confidence,
            )
        )
    return found


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
