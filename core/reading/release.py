"""Metals that fired ware may give up, and the tests that apply; never a promise."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import msgspec
import numpy as np
from molmass import Formula as Molecule
from numpy.typing import NDArray

from core.materials import DEFAULT_TOLERANCE
from core.oxides import INDEX
from core.schema import Number, convert, expect_kind
from core.tables import read_records, shipped

Floats = NDArray[np.float64]

TRACE_PERCENT = 0.05
"""Fired oxides below this [wt%] come with any clay and are not listed, save
where they matter from less."""
_DULL = 0.5
"""Chance of a matte or underfired surface from which the list says so."""


class Limit(msgspec.Struct, frozen=True):
    """Most lead and cadmium that one kind of ware may give up."""

    ware: str
    lead: Number
    unit: str
    """mg/dm2 or mg/l."""
    basis: str
    """Over which articles: mean, each, any."""
    cadmium: Number | None = None


class LeachTest(msgspec.Struct, frozen=True):
    """A test for the release of lead and cadmium, with its limits."""

    id: str
    name: str
    method: str
    limits_in: str
    where: str
    status: str
    source: str
    confidence: str
    limits: list[Limit]


class Metal(msgspec.Struct, frozen=True):
    """A metal to ask about, by its fired oxide."""

    id: str
    name: str
    notable_from: Number
    """Fired oxide [wt%] from which it matters."""
    says: str
    source: str
    confidence: str


class Leach(msgspec.Struct, frozen=True):
    """How ware is leached in the test."""

    liquid: str
    temperature_c: Number
    temperature_tolerance_c: Number
    hours: Number
    hours_tolerance: Number
    source: str
    confidence: str


class _File(msgspec.Struct, frozen=True):
    scope: str
    who_decides: str
    unseen: str
    leach: Leach
    metals: list[Metal]


@cache
def _file() -> _File:
    document = shipped("release_tests.yaml")
    expect_kind(document, "release-tests")
    return convert(document, _File)


@cache
def leach_tests() -> tuple[LeachTest, ...]:
    """Return the tests for lead and cadmium; read once."""
    document = shipped("release_tests.yaml")
    return tuple(t for _, t in read_records(document, "release-tests", LeachTest, True))


def leach() -> Leach:
    """Return how ware is leached in these tests."""
    return _file().leach


@dataclass(frozen=True, slots=True)
class Load:
    """One metal in the fired glaze; the error is one standard error."""

    oxide: str
    metal: str
    oxide_percent: float
    """[wt% of the fired glaze]"""
    oxide_error: float
    metal_percent: float
    """The metal alone [wt% of the fired glaze]."""
    metal_error: float
    notable_from: float
    """[wt% of the oxide]"""
    matters: bool
    says: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Release:
    """What to have tested, by which tests, and who decides."""

    loads: tuple[Load, ...]
    """Those that matter first, then the others, each from most to least."""
    tests: tuple[LeachTest, ...]
    scope: str
    """Of which metals the limits speak."""
    unseen: str
    """Which metal a recipe does not show."""
    who_decides: str
    reason: str


@cache
def _metal_share(oxide: str) -> float:
    """Mass of the metal in its oxide, 0 to 1."""
    whole = Molecule(oxide)
    others = sum(item.mass for element, item in whole.composition().items() if element != "O")
    return float(others / whole.mass)


def release(
    weight_percent: Floats | None,
    relative_error: Floats | None = None,
    probabilities: Mapping[str, float] | None = None,
) -> Release:
    """List metals of a glaze and the tests of what ware gives up.

    Parameters
    ----------
    weight_percent : ndarray, shape (25,), or None
        Fired oxides [wt%] in the order of `core.oxides.OXIDES`.
    relative_error : ndarray, shape (25,), optional
        One standard error of each as a share; that of an analysis which
        states none when left out (rectangular: JCGM 100:2008, 4.3.7).
    probabilities : mapping, optional
        Of glossy, satin, matte and underfired, 0 to 1.

    Returns
    -------
    Release
        Without loads where nothing was given.
    """
    file = _file()
    found = []
    fired = weight_percent if weight_percent is not None else np.zeros(len(INDEX))
    for metal in file.metals:
        percent = float(fired[INDEX[metal.id]])
        notable = float(metal.notable_from)
        if not percent >= min(TRACE_PERCENT, notable):
            continue
        share = DEFAULT_TOLERANCE / 100.0 / math.sqrt(3.0)
        if relative_error is not None:
            share = float(relative_error[INDEX[metal.id]])
        alone = _metal_share(metal.id)
        found.append(
            Load(
                metal.id,
                metal.name,
                percent,
                percent * share,
                percent * alone,
                percent * share * alone,
                notable,
                percent >= notable,
                metal.says,
                metal.source,
                metal.confidence,
            )
        )
    found.sort(key=lambda load: (not load.matters, -load.oxide_percent))
    return Release(
        tuple(found),
        leach_tests(),
        file.scope,
        file.unseen,
        file.who_decides,
        _reason(found, probabilities),
    )


def load_line(load: Load) -> str:
    """Say one metal of a glaze as a line for people."""
    text = f"{load.oxide} {load.oxide_percent:.2f} ± {load.oxide_error:.2g} % of the fired glaze"
    text += f" ({load.metal} {load.metal_percent:.2f} %)"
    if load.matters:
        return f"{text}: {load.says}; have its release measured"
    return f"{text}, less than {load.notable_from:g} %, from where it is asked about first"


def limits_line(test: LeachTest) -> str:
    """Say one test with all its limits as a line for people."""
    limits = "; ".join(
        f"{limit.ware}: Pb {limit.lead:g}"
        + (f", Cd {limit.cadmium:g}" if limit.cadmium is not None else "")
        + f" {limit.unit} ({limit.basis})"
        for limit in test.limits
    )
    return f"{test.name} ({test.where}): {limits}. Limits: {test.limits_in} [{test.confidence}]"


def _reason(loads: list[Load], probabilities: Mapping[str, float] | None) -> str:
    if not loads:
        text = (
            "None of the metals that are asked about is in the recipe above a trace; stains, "
            "lustres and other ware in the kiln can bring them, so the test stands"
        )
    else:
        asked = [load.metal for load in loads if load.matters]
        held = [load.metal for load in loads if not load.matters]
        parts = [f"much {', '.join(asked)}"] if asked else []
        parts += [f"some {', '.join(held)}"] if held else []
        text = f"The glaze holds {' and '.join(parts)}"
    if probabilities is not None:
        dull = probabilities.get("matte", 0.0) + probabilities.get("underfired", 0.0)
        if loads and dull >= _DULL:
            text += f"; matte or underfired by a chance of {dull:.2f}, and such glazes give up more"
    return text
