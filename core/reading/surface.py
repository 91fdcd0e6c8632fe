"""The surface of what melts: an explainable score, and the probabilities that follow from it.

The score is a sum of terms, each with its weight and source in
``data/surface_score.yaml``. Positive is toward matte. What melts is then
glossy, satin or matte by an ordered logistic; what does not melt is
underfired, by the melt margin and its error.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.firing.curve import FiringCurve
from core.formula import unity_formula
from core.melt.crystal_window import growth_rules
from core.melt.sheet import Figure
from core.oxides import INDEX, Convention
from core.reading.basis import Basis, basis_of
from core.reading.margin import Margin, melts_and_margin
from core.reading.melting import MeltingRules, Melts, melting_rules
from core.regions import Zone
from core.schema import Number, convert
from core.tables import read_records, shipped

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ZONES: Final = tuple(Zone)
"""The order of the last axis of probabilities: glossy, satin, matte, underfired."""

_LEAST_RATIO: Final = 0.01
_MOST_RATIO: Final = 1000.0
"""Ratios beyond these read as these: the term of the ratio is at its end long before."""


class Term(msgspec.Struct, frozen=True):
    """One term of the score.

    With v the value: ``bend`` gives cap × tanh(weight (v - middle) / cap);
    ``step`` gives weight × filled, filled = 1 / (1 + exp((middle - v) / width)),
    times the same of alumina falling below ``alumina_below`` where that is
    given; ``cooling`` gives weight × log2((v + width) / (middle + width)) ×
    (readiness + (1 - readiness) × the largest filled of the steps).
    """

    id: str
    form: str
    of: str
    says: str
    weight: Number
    middle: Number
    source: str
    confidence: str
    cap: Number = Number(0.0)
    width: Number = Number(0.0)
    alumina_below: Number | None = None
    alumina_width: Number = Number(0.0)
    readiness: Number = Number(0.0)


class Edges(msgspec.Struct, frozen=True):
    """Scores at which glossy gives way to satin, and satin to matte, at even odds."""

    gloss: Number
    matte: Number
    says: str
    source: str
    confidence: str


class _File(msgspec.Struct):
    edges: Edges


@dataclass(frozen=True)
class ScoreRules:
    """Terms of the score by id, in their order, and the edges."""

    terms: Mapping[str, Term]
    edges: Edges


@cache
def score_rules() -> ScoreRules:
    """Return the shipped terms; read once."""
    document = shipped("surface_score.yaml")
    rows = read_records(document, "surface-score", Term, True)
    return ScoreRules({term.id: term for _, term in rows}, convert(document, _File).edges)


@dataclass(frozen=True)
class Rules:
    """What a reading goes by: the score of what melts, and where melting gives out."""

    score: ScoreRules
    melting: MeltingRules


@cache
def shipped_rules() -> Rules:
    """Return the rules that ship with the program; read once."""
    return Rules(score_rules(), melting_rules())


@dataclass(frozen=True, slots=True, eq=False)
class Surfaces:
    """Surfaces at points of a map; every array has the shape (...) of the points."""

    melts: Melts
    margin: Margin
    log10_viscosity: Floats
    """At the peak."""
    window_high_c: Floats
    window_low_c: Floats
    window_h: Floats
    """Time that the cooling spends in the crystal window [h]."""
    values: Mapping[str, Floats]
    """What each term of the score reads, by its id."""
    contributions: Mapping[str, Floats]
    """What each term adds to the score, toward matte."""
    score: Floats
    probabilities: Floats
    """Shape (..., 4), in the order of `ZONES`; they sum to 1."""


def surfaces(
    basis: Basis, silica: ArrayLike, alumina: ArrayLike, rules: Rules | None = None
) -> Surfaces:
    """Read the surface at points of the map of a basis.

    Parameters
    ----------
    basis : Basis
    silica, alumina : array_like
        Unity formula; they broadcast to (...).
    rules : Rules, optional
        As shipped where None.

    Returns
    -------
    Surfaces
        Never NaN.
    """
    x, y = np.broadcast_arrays(np.asarray(silica, float), np.asarray(alumina, float))
    rules = rules or shipped_rules()
    melts, margin = melts_and_margin(basis, x, y, rules.melting)
    stiffness = melts.log10_viscosity_at_peak()
    lag, stiff = growth_rules()["lag"], growth_rules()["stiff"]
    high = melts.liquidus_c - float(lag.value)
    low = melts.viscosity.temperature_at(float(stiff.value))
    hours = basis.heat.hours_between(high, low)
    values: dict[str, Floats] = {
        "ratio": _ratio(x, y),
        "viscosity": stiffness,
        "liquidus": melts.liquidus_c - basis.heat.peak_c,
        "cooling": hours,
    }
    shape = np.zeros(x.shape)
    contributions: dict[str, Floats] = {}
    ready = shape
    for term in rules.score.terms.values():
        if term.form == "step":
            values[term.id] = shape + basis.share(term.of)
            filled = _filled(term, values[term.id], y)
            ready = np.maximum(ready, filled)
            contributions[term.id] = term.weight * filled
        elif term.form == "bend":
            value = np.log(values[term.id]) if term.id == "ratio" else values[term.id]
            contributions[term.id] = _bent(term, value)
    for term in rules.score.terms.values():
        if term.form == "cooling":
            contributions[term.id] = _cooled(term, values[term.id], ready)
    score = np.asarray(sum(contributions.values(), shape))
    return Surfaces(
        melts=melts,
        margin=margin,
        log10_viscosity=stiffness,
        window_high_c=high,
        window_low_c=low,
        window_h=hours,
        values=values,
        contributions=contributions,
        score=score,
        probabilities=probabilities(score, margin.z, rules.score.edges),
    )


def probabilities(score: ArrayLike, margin_z: ArrayLike, edges: Edges | None = None) -> Floats:
    """Probabilities of the four surfaces.

    Parameters
    ----------
    score : array_like, shape (...)
        Sum of the contributions toward matte.
    margin_z : array_like, shape (...)
        ln(1 + margin / 100) × (100 + margin) / error, margin and error in
        percent as they are reported.
    edges : Edges, optional
        As shipped where None.

    Returns
    -------
    ndarray, shape (..., 4)
        In the order of `ZONES`. Underfired is the normal distribution function
        at -margin_z; the rest goes by the logistic edges of the table.
    """
    edges = edges or score_rules().edges
    under = _normal(-np.asarray(margin_z, float))
    glossy = _logistic(float(edges.gloss) - np.asarray(score, float))
    matte = _logistic(np.asarray(score, float) - float(edges.matte))
    melted = 1.0 - under
    found = np.empty((*np.broadcast(glossy, under).shape, len(ZONES)))
    found[..., 0] = glossy * melted
    found[..., 1] = (1.0 - glossy - matte) * melted
    found[..., 2] = matte * melted
    found[..., 3] = under
    return found


def _ratio(silica: Floats, alumina: Floats) -> Floats:
    some = np.maximum(np.maximum(alumina, silica / _MOST_RATIO), 1e-300)
    return np.asarray(np.maximum(silica / some, _LEAST_RATIO))


def _bent(term: Term, value: Floats) -> Floats:
    return np.asarray(term.cap * np.tanh(term.weight * (value - term.middle) / term.cap))


def _filled(term: Term, share: Floats, alumina: Floats) -> Floats:
    filled = _logistic((share - term.middle) / term.width)
    if term.alumina_below is not None:
        filled = filled * _logistic((term.alumina_below - alumina) / term.alumina_width)
    return filled


def _cooled(term: Term, hours: Floats, ready: Floats) -> Floats:
    longer = np.log2((hours + term.width) / (term.middle + term.width))
    return np.asarray(term.weight * longer * (term.readiness + (1.0 - term.readiness) * ready))


def _logistic(x: ArrayLike) -> Floats:
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * np.asarray(x, float))))


def _normal(x: Floats) -> Floats:
    """Distribution function of the standard normal.

    Of plain numbers: a library that has it for arrays takes longer to import
    than the window has to open.
    """
    values = np.asarray(x, float)
    tails = map(math.erfc, (values / -math.sqrt(2.0)).ravel().tolist())
    return np.fromiter(tails, float, values.size).reshape(values.shape) * 0.5


@dataclass(frozen=True, slots=True)
class Reason:
    """One figure that made the reading say what it says."""

    id: str
    text: str
    """What the figure is, without the figure."""
    value: float
    error: float | None
    """One sigma, where a model gives one, in the same unit."""
    unit: str
    """May be empty."""
    contribution: float
    """Signed, toward what `toward` names."""
    toward: str
    """"matte" for a term of the score, "underfired" for the melt margin."""
    source: str
    confidence: str

    def sentence(self) -> str:
        """Return the reason in words.

        Examples
        --------
        >>> Reason("ratio", "silica:alumina ratio", 4.2, None, "", 1.1, "matte", "", "").sentence()
        'silica:alumina ratio 4.20: +1.1 toward matte'
        """
        figure = f"{self.value:.0f}" if self.unit in ("°C", "%") else f"{self.value:.2f}"
        if self.unit:
            figure += f" {self.unit}"
        pull = self.contribution
        away = {"matte": "glossy", "underfired": "melted"}[self.toward]
        where = self.toward if pull >= 0 else away
        return f"{self.text} {figure}: +{abs(pull):.1f} toward {where}"


@dataclass(frozen=True, eq=False)
class SurfaceReading:
    """What the surface of one glaze is expected to be, and why."""

    basis: Basis
    silica: float
    alumina: float
    probabilities: Mapping[str, float]
    """By zone; they sum to 1."""
    zone: Zone
    """The likeliest."""
    score: float
    """Sum of the contributions toward matte."""
    melt_margin_percent: float
    melt_margin_error_percent: float
    melt_margin_clamped: bool
    """Whether the margin lies beyond what is reported."""
    melt_index: float
    """[log10 Pa·s]; melting gives out above `rules.melting.limit`."""
    log10_viscosity: Figure
    liquidus_c: Figure
    window_high_c: float
    window_low_c: float
    window_h: float
    outside: bool
    """Whether the models have no data there."""
    reasons: tuple[Reason, ...]
    """The margin first, then the terms of the score, the strongest first."""
    rules: Rules
    """By which it was read."""

    def contribution(self, id_: str) -> float:
        """What one reason adds."""
        return next(r.contribution for r in self.reasons if r.id == id_)


def read_surface(
    moles: ArrayLike,
    curve: FiringCurve,
    convention: Convention | None = None,
    cone: str = "",
    rules: Rules | None = None,
) -> SurfaceReading | None:
    """Read the surface of one glaze in one firing.

    Parameters
    ----------
    moles : array_like, shape (25,)
        In the order of `core.oxides.OXIDES`, in any unit.
    curve : FiringCurve
        As felt by the ware; its highest point is the peak.
    convention : Convention, optional
        Which oxides sum to one.
    cone : str
        Of the firing, for the words of the basis.
    rules : Rules, optional
        As shipped where None.

    Returns
    -------
    SurfaceReading or None
        None without flux or without silica.

    Notes
    -----
    The same as `core.reading.field.zone_field` gives at the point.
    """
    basis = basis_of(moles, curve, convention, cone)
    if basis is None:
        return None
    unity = unity_formula(np.fmax(np.asarray(moles, float), 0.0), convention)
    silica, alumina = float(unity[INDEX["SiO2"]]), float(unity[INDEX["Al2O3"]])
    if not (silica > 0 and math.isfinite(silica) and math.isfinite(alumina)):
        return None
    return read_point(basis, silica, alumina, rules)


def read_point(
    basis: Basis, silica: float, alumina: float, rules: Rules | None = None
) -> SurfaceReading:
    """Read one point of the map of a basis, as `read_surface` reads a recipe.

    Parameters
    ----------
    basis : Basis
    silica, alumina : float
        Unity formula.
    rules : Rules, optional
        As shipped where None.
    """
    rules = rules or shipped_rules()
    found = surfaces(basis, silica, alumina, rules)
    far = found.melts.far()
    stiff_error, liquidus_error = (float(error) for error in found.melts.errors(far))
    chances = dict(zip((z.value for z in ZONES), found.probabilities.tolist(), strict=True))
    margin = found.margin
    return SurfaceReading(
        basis=basis,
        silica=silica,
        alumina=alumina,
        probabilities=chances,
        zone=ZONES[int(np.argmax(found.probabilities))],
        score=float(found.score),
        melt_margin_percent=float(margin.percent),
        melt_margin_error_percent=float(margin.error_percent),
        melt_margin_clamped=bool(margin.clamped),
        melt_index=float(found.melts.index),
        log10_viscosity=Figure(float(found.log10_viscosity), stiff_error),
        liquidus_c=Figure(float(found.melts.liquidus_c), liquidus_error),
        window_high_c=float(found.window_high_c),
        window_low_c=float(found.window_low_c),
        window_h=float(found.window_h),
        outside=not bool(found.melts.inside(far)),
        reasons=_reasons(found, stiff_error, liquidus_error, rules),
        rules=rules,
    )


_UNITS: Final = {"viscosity": "log10 Pa·s", "liquidus": "°C", "cooling": "h"}


def _reasons(
    found: Surfaces, stiff_error: float, liquidus_error: float, rules: Rules
) -> tuple[Reason, ...]:
    margin = Reason(
        "melt-margin",
        "melt margin",
        float(found.margin.percent),
        float(found.margin.error_percent),
        "%",
        -float(found.margin.z),
        "underfired",
        rules.melting.source,
        rules.melting.confidence,
    )
    errors = {"viscosity": stiff_error, "liquidus": liquidus_error}
    terms = [
        Reason(
            term.id,
            term.says,
            float(found.values[term.id]),
            errors.get(term.id),
            _UNITS.get(term.id, ""),
            float(found.contributions[term.id]),
            "matte",
            term.source,
            term.confidence,
        )
        for term in rules.score.terms.values()
    ]
    return (margin, *sorted(terms, key=lambda reason: -abs(reason.contribution)))
