"""A reading in words: the verdict, its figures with their errors, the rest by subject."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from core.reading.dwell import factor_words
from core.reading.fit import FitVerdict
from core.reading.healing import HealingVerdict
from core.reading.kinds import Soundness
from core.reading.margin import LEAST_PERCENT, MOST_PERCENT
from core.reading.marking import MarkingVerdict
from core.reading.release import limits_line, load_line
from core.reading.running import RunningVerdict
from core.reading.sheet import Reading
from core.reading.surface import Reason, SurfaceReading
from core.reading.workability import Suspension

LEAST_PULL = 0.05
"""A reason that pulls less is not worth a line."""


class Tone(StrEnum):
    """How a line is meant; a sign stands before it, so that colour never speaks alone."""

    GOOD = "good"
    LOOK = "look"
    STOP = "stop"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing said."""

    tone: Tone
    text: str
    more: str = ""
    """Figures, errors and what to do about it; empty where the text says all."""
    source: str = ""
    """Where it comes from, with its confidence; empty where the text says so."""


@dataclass(frozen=True, slots=True)
class Subject:
    """The lines about one subject."""

    title: str
    lines: tuple[Line, ...]


def verdict(reading: Reading) -> str:
    """Name the kind of surface and how likely its zone is.

    Examples
    --------
    "Magnesia satin (57 %)", "Underfired (92 %)".
    """
    surface, kind = reading.surface, reading.kind
    if surface is None or kind is None:
        return "Nothing to read yet"
    name = kind.kind.name
    chance = surface.probabilities[surface.zone.value]
    return f"{name[:1].upper()}{name[1:]} ({100 * chance:.0f} %)"


def margin_words(surface: SurfaceReading) -> str:
    """Write the melt margin with its error.

    Examples
    --------
    "melt margin +72 ± 36 %", "melt margin over +300 %".
    """
    if surface.melt_margin_clamped:
        most = surface.melt_margin_percent > 0
        end = f"over +{MOST_PERCENT:.0f}" if most else f"below −{-LEAST_PERCENT:.0f}"
        return f"melt margin {end} %"
    value = f"{round(surface.melt_margin_percent) or 0:+d}".replace("-", "−").replace("+0", "0")
    return f"melt margin {value} ± {surface.melt_margin_error_percent:.0f} %"


def soundness(reading: Reading) -> Line:
    """Say how far chemistry vouches for the surface."""
    kind = reading.kind
    if kind is None:
        return Line(Tone.PLAIN, Soundness.UNKNOWN.value)
    tones = {Soundness.EXPECTED: Tone.GOOD, Soundness.UNKNOWN: Tone.LOOK}
    return Line(tones.get(kind.soundness, Tone.STOP), kind.soundness.value)


def reason_words(reason: Reason) -> str:
    """Write a reason with its figure, and its error where it has one."""
    if reason.error is None:
        return reason.sentence()
    places = 0 if reason.unit in ("°C", "%") else 2
    figure = f"{reason.value:.{places}f} ± {reason.error:.{places}f} {reason.unit}".rstrip()
    return f"{reason.text} {figure}: {_pull(reason)}"


def _pull(reason: Reason) -> str:
    return reason.sentence().rpartition(": ")[2]


def subjects(reading: Reading) -> list[Subject]:
    """Return everything that is said, by subject; subjects without a line are left out."""
    found = [
        Subject("Why", tuple(_why(reading))),
        Subject("This kind of surface", tuple(_kind(reading))),
        Subject("Bubbles and running", tuple(_flow(reading))),
        Subject("Fit to the body", tuple(_fit(reading))),
        Subject("In use", tuple(_use(reading))),
        Subject("In the bucket", tuple(_bucket(reading))),
        Subject("What to have tested", tuple(_release(reading))),
    ]
    return [subject for subject in found if subject.lines]


def _why(reading: Reading) -> Iterator[Line]:
    surface = reading.surface
    if surface is None:
        return
    if surface.outside:
        yield Line(
            Tone.LOOK,
            "Outside the melts that the models were fitted on: a guess, not a prediction.",
        )
    for reason in surface.reasons:
        if reason.id == "melt-margin":
            text = f"{margin_words(surface)}: {_pull(reason)}"
        elif abs(reason.contribution) < LEAST_PULL:
            continue
        else:
            text = reason_words(reason)
        yield Line(Tone.PLAIN, _sentence(text), source=_cited(reason))


def _kind(reading: Reading) -> Iterator[Line]:
    if reading.kind is None:
        return
    kind = reading.kind.kind
    yield Line(Tone.PLAIN, kind.says, source=_cited(kind))
    if kind.minerals:
        yield Line(Tone.PLAIN, f"Likely minerals: {', '.join(kind.minerals)}.")
    if kind.durability:
        yield Line(Tone.PLAIN, kind.durability)
    for note in reading.kind.notes:
        if note.id != "outside":  # said with the reasons
            yield Line(Tone.LOOK, note.says, source=_cited(note))


def _flow(reading: Reading) -> Iterator[Line]:
    healing, running = reading.healing, reading.running
    if healing is not None:
        tones = {HealingVerdict.HEALS: Tone.GOOD, HealingVerdict.OPEN: Tone.STOP}
        tone = tones.get(healing.verdict, Tone.LOOK)
        text = f"{healing.verdict.value} ({100 * healing.probability:.0f} %)"
        yield Line(tone, _sentence(text), _sentence(healing.reason), _cited(healing))
    if running is not None:
        ways = {RunningVerdict.STAYS: Tone.GOOD, RunningVerdict.RUNS: Tone.STOP}
        tone = ways.get(running.verdict, Tone.LOOK)
        text = f"{running.verdict.value}; {running.distance_mm:.1f} mm down a wall"
        text += f", {factor_words(running.log10_error)}"
        yield Line(tone, _sentence(text), _sentence(running.reason), _cited(running))


def _fit(reading: Reading) -> Iterator[Line]:
    fit = reading.fit
    if fit.verdict is None:
        yield Line(Tone.PLAIN, _sentence(fit.reason))
        return
    tone = Tone.GOOD if fit.verdict is FitVerdict.COMFORTABLE else Tone.LOOK
    text = fit.verdict.value
    if fit.stress_mpa is not None and fit.stress_error_mpa is not None:
        way = "pull" if fit.stress_mpa > 0 else "squeeze"
        text += f"; {abs(fit.stress_mpa):.0f} ± {fit.stress_error_mpa:.0f} MPa of {way}"
    yield Line(tone, _sentence(text), _sentence(fit.reason), _cited(fit))
    if fit.warning:
        yield Line(Tone.LOOK, _sentence(fit.warning))


def _use(reading: Reading) -> Iterator[Line]:
    marking = reading.marking
    if marking is None:
        return
    tone = Tone.PLAIN if marking.verdict is MarkingVerdict.LITTLE else Tone.LOOK
    yield Line(tone, _sentence(marking.verdict.value), _sentence(marking.reason), _cited(marking))
    yield Line(Tone.PLAIN, "To try it: a spoon, and vinegar for a day.", marking.bench_test)


def _bucket(reading: Reading) -> Iterator[Line]:
    work = reading.workability
    if work is None:
        return
    spoken = {remark.id for remark in work.remarks}
    if not spoken & {"clay-little", "clay-much"}:
        clay = f"raw clay {work.clay_percent:.0f} %"
        if work.bentonite_percent:
            clay += f", bentonite {work.bentonite_percent:.1f} %"
        tone = Tone.PLAIN if work.suspension is Suspension.HOLDS else Tone.LOOK
        yield Line(tone, _sentence(f"{work.suspension.value} ({clay})"))
    yield Line(
        Tone.PLAIN,
        f"Gas on firing {work.gas_l:.1f} ± {work.gas_error_l:.1g} l from 100 g of dry batch,"
        f" loss {work.loss_percent:.1f} ± {work.loss_error_percent:.1g} %.",
    )
    for remark in work.remarks:
        yield Line(Tone.LOOK, _sentence(remark.says), source=_cited(remark))


def _release(reading: Reading) -> Iterator[Line]:
    release = reading.release
    yield Line(Tone.LOOK, _sentence(release.who_decides), _sentence(release.scope))
    for load in release.loads:
        yield Line(Tone.LOOK if load.matters else Tone.PLAIN, _sentence(load_line(load)))
    yield Line(Tone.PLAIN, _sentence(release.reason))
    names = ", ".join(test.name for test in release.tests)
    limits = " ".join(_sentence(limits_line(test)) for test in release.tests)
    yield Line(Tone.PLAIN, f"Tests of lead and cadmium: {names}.", limits)


def _sentence(text: str) -> str:
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?", "!")) else ".")


def _cited(row: object) -> str:
    source, confidence = getattr(row, "source", ""), getattr(row, "confidence", "")
    return f"{source} ({confidence})" if source and confidence else source


def finite(value: float | None) -> float | None:
    """Return a figure for JSON; what is not finite is null."""
    return value if value is not None and math.isfinite(value) else None
