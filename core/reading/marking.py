"""Whether knives and spoons leave grey marks on a glaze, and how to try it at the bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import msgspec
from numpy import float64
from numpy.typing import NDArray

from core.oxides import INDEX
from core.schema import Number, convert, expect_kind
from core.tables import shipped

NO_STANDARD = "no international standard test exists for it"


class MarkingVerdict(StrEnum):
    """How far marks are to be expected."""

    LITTLE = "few marks expected"
    MAY = "may show cutlery marks"
    MARKS = "cutlery marks likely"


class _Opacifier(msgspec.Struct, frozen=True):
    id: str
    full_at_percent: Number
    adds: Number
    whitens: Number
    says: str
    source: str
    confidence: str


class _Visibility(msgspec.Struct, frozen=True):
    colouring: list[str]
    dark_at_percent: Number
    source: str
    confidence: str


class MarkingRule(msgspec.Struct, frozen=True):
    """What the reading of cutlery marks rests on; see ``marking.yaml``."""

    source: str
    confidence: str
    error: Number
    """One standard error of the score."""
    may_mark_from: Number
    marks_from: Number
    surfaces: dict[str, Number]
    opacifiers: list[_Opacifier]
    visibility: _Visibility
    bench_test: str
    bench_test_source: str


@cache
def marking_rule() -> MarkingRule:
    """Return the shipped rule; read once."""
    document = shipped("marking.yaml")
    expect_kind(document, "marking")
    return convert(document, MarkingRule)


@dataclass(frozen=True, slots=True)
class Marking:
    """Cutlery marks by a score whose terms are all visible."""

    verdict: MarkingVerdict
    score: float
    """Sum of the terms, 0 (none expected) to 1 (expected)."""
    score_error: float
    """One standard error, a judgement."""
    terms: tuple[tuple[str, float], ...]
    """(what, part of the score), none of them zero."""
    visibility: float
    """How clearly a grey mark shows, 0 (dark glaze) to 1 (white glaze); a judgement."""
    visibility_error: float
    reason: str
    bench_test: str
    source: str
    confidence: str


def marking(
    probabilities: Mapping[str, float] | None,
    weight_percent: NDArray[float64] | None,
    rule: MarkingRule | None = None,
) -> Marking | None:
    """Say whether cutlery will mark a glaze.

    Parameters
    ----------
    probabilities : mapping or None
        Of glossy, satin, matte and underfired, 0 to 1.
    weight_percent : ndarray, shape (25,), or None
        Fired oxides [wt%] in the order of `core.oxides.OXIDES`.
    rule : MarkingRule, optional
        Another than the shipped one.

    Returns
    -------
    Marking or None
        None where the surface or the composition is not known.
    """
    if probabilities is None or weight_percent is None:
        return None
    rule = rule or marking_rule()
    terms = [
        (f"{surface} {probabilities[surface]:.2f}", float(weight) * probabilities[surface])
        for surface, weight in rule.surfaces.items()
        if probabilities.get(surface, 0.0) > 0
    ]
    white, says = 0.0, []
    for opacifier in rule.opacifiers:
        percent = float(weight_percent[INDEX[opacifier.id]])
        share = min(percent / float(opacifier.full_at_percent), 1.0)
        if share <= 0:
            continue
        white = max(white, share * float(opacifier.whitens))
        terms.append((f"{opacifier.id} {percent:.1f} %", share * float(opacifier.adds)))
        # A trace from a clay's own titania is no opacifier.
        if share >= 0.25:
            says.append(opacifier.says)
    score = min(sum(part for _, part in terms), 1.0)
    colour = sum(float(weight_percent[INDEX[oxide]]) for oxide in rule.visibility.colouring)
    light = max(1.0 - colour / float(rule.visibility.dark_at_percent), 0.0)
    # Half for a clear glaze on a light body, all for a white.
    visibility = light * (0.5 + 0.5 * white)
    error = float(rule.error)
    return Marking(
        _verdict(score, rule),
        score,
        error,
        tuple(terms),
        visibility,
        error,
        _reason(score, error, terms, says, visibility),
        rule.bench_test,
        rule.source,
        rule.confidence,
    )


def _verdict(score: float, rule: MarkingRule) -> MarkingVerdict:
    if score >= rule.marks_from:
        return MarkingVerdict.MARKS
    return MarkingVerdict.MAY if score >= rule.may_mark_from else MarkingVerdict.LITTLE


def _reason(
    score: float,
    error: float,
    terms: list[tuple[str, float]],
    says: list[str],
    visibility: float,
) -> str:
    told = [f"{what}: +{part:.2f}" for what, part in terms if part >= 0.005]
    text = f"Metal rubs off on hard and rough surfaces: score {score:.2f} ± {error:.1f}"
    text += f" ({', '.join(told)})" if told else ""
    for line in says:
        text += f"; {line}"
    if visibility >= 0.75:
        text += "; on this white, marks show clearly"
    elif visibility < 0.25:
        text += "; so dark a glaze hides most marks"
    return f"{text}; {NO_STANDARD}"
