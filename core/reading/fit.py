"""Glaze against body: the stress left by cooling, and what it may do both ways."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from statistics import NormalDist
from typing import Any

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.bodies import Body
from core.errors import InputError
from core.melt.sheet import MeltSheet
from core.schema import Number
from core.tables import read_records, shipped

Floats = NDArray[np.float64]


class FitVerdict(StrEnum):
    """What a glaze may do on its body."""

    CRAZING_LIKELY = "crazing likely"
    CRAZING_POSSIBLE = "crazing possible"
    COMFORTABLE = "comfortable"
    SHIVERING = "shivering or dunting possible"


class FitLimit(msgspec.Struct, frozen=True):
    """A figure that the reading of the fit rests on; its unit stands beside it."""

    id: str
    value: Number
    unit: str
    what: str
    source: str
    confidence: str
    error: Number = Number(0.0)
    """One standard error, in the same unit."""


_NAMES = (
    *("tension", "comfortable-from", "comfortable-to", "magnesia-share"),
    *("magnesia-comfortable-to", "likely-from", "warned-from", "poisson-ratio", "room"),
    *("body-error", "beyond-range", "layer-error"),
)


@cache
def fit_limits() -> Mapping[str, FitLimit]:
    """Return the shipped limits by id; read once.

    Raises
    ------
    InputError
        If one that the reading needs is missing.
    """
    document = shipped("fit_limits.yaml")
    found = {row.id: row for _, row in read_records(document, "fit-limits", FitLimit, True)}
    missing = [name for name in _NAMES if name not in found]
    if missing:
        raise InputError(f"the limit {missing[0]} is missing", "add its row", document.source)
    return found


@dataclass(frozen=True, slots=True)
class Fit:
    """Glaze and body side by side; what cannot be said is None and `reason` says why.

    Expansions are linear [1e-6/K], stresses in MPa, pull (tension) above zero
    and squeeze (compression) below; errors are one standard error.
    """

    glaze_expansion: float | None
    glaze_expansion_error: float | None
    body_expansion: float | None
    body_expansion_error: float | None
    difference: float | None
    """Body less glaze: above zero the glaze is squeezed."""
    difference_error: float | None
    stress_mpa: float | None
    stress_error_mpa: float | None
    chance_of_tension: float | None
    """That the glaze is pulled, 0 to 1."""
    chance_of_crazing: float | None
    """That the squeeze is less than comfortable, 0 to 1."""
    chance_of_shivering: float | None
    """That the squeeze is more than comfortable, 0 to 1."""
    verdict: FitVerdict | None
    reason: str
    warning: str
    """Of the low side of magnesia-rich liners, or empty."""
    source: str
    confidence: str

    def as_json(self) -> dict[str, Any]:
        """Return the figures under the keys of ``glost read --json``."""
        return {
            "glaze_expansion": self.glaze_expansion,
            "glaze_expansion_error": self.glaze_expansion_error,
            "body_expansion": self.body_expansion,
            "body_expansion_error": self.body_expansion_error,
            "difference": self.difference,
            "difference_error": self.difference_error,
            "stress_mpa": self.stress_mpa,
            "stress_error_mpa": self.stress_error_mpa,
            "chance_of_crazing": self.chance_of_crazing,
            "chance_of_shivering": self.chance_of_shivering,
            "verdict": str(self.verdict) if self.verdict is not None else None,
            "reason": self.reason,
            "warning": self.warning or None,
        }


def stress_mpa(
    glaze_expansion: ArrayLike,
    body_expansion: ArrayLike,
    transition_c: ArrayLike,
    modulus_gpa: ArrayLike,
    poisson: float | None = None,
    room_c: float | None = None,
) -> Floats:
    """Stress in a thin glaze on a thick body cooled to the room [1]_.

    Modulus over one less Poisson's ratio, times the expansion of the glaze
    less that of the body, times the cooling since the glass stiffened. The
    shapes broadcast.

    Parameters
    ----------
    glaze_expansion, body_expansion : array_like
        Linear [1e-6/K].
    transition_c : array_like
        Where the glass stops giving way [°C].
    modulus_gpa : array_like
        Young's modulus of the glaze [GPa].
    poisson, room_c : float, optional
        Poisson's ratio of the glaze and the room [°C]; the shipped ones else.

    Returns
    -------
    ndarray
        [MPa], tension above zero, compression below.

    References
    ----------
    .. [1] Kingery, W. D., Bowen, H. K., Uhlmann, D. R. (1976). Introduction to
       Ceramics, 2nd ed., section on glazes and enamels (from memory).

    Examples
    --------
    70 GPa, 1e-6/K of difference over 500 K, Poisson's ratio 0.2:
    70e9 / 0.8 x 1e-6 x 500 = 43.75 MPa of squeeze.

    >>> float(stress_mpa(5.0, 6.0, 520.0, 70.0, poisson=0.2).round(2))
    -43.75
    """
    limits = fit_limits()
    ratio = float(limits["poisson-ratio"].value) if poisson is None else poisson
    room = float(limits["room"].value) if room_c is None else room_c
    misfit = np.asarray(glaze_expansion, float) - np.asarray(body_expansion, float)
    fall = np.asarray(transition_c, float) - room
    # 1e9 Pa of the modulus and 1e-6 of the expansion leave 1e-3 of a MPa.
    return np.asarray(1e-3 * np.asarray(modulus_gpa, float) / (1.0 - ratio) * misfit * fall)


def fit(sheet: MeltSheet | None, body: Body | None, magnesia_share: float | None = None) -> Fit:
    """Compare a glaze with its body.

    Parameters
    ----------
    sheet : MeltSheet or None
    body : Body or None
        Its error is half of a range, and counts as rectangular
        (JCGM 100:2008, 4.3.7).
    magnesia_share : float, optional
        `core.formula.Formula.magnesia_share`, 0 to 1.

    Returns
    -------
    Fit
        Figures are None where glaze or body have none.
    """
    limits = fit_limits()
    glaze = sheet.expansion if sheet is not None else None
    of_body = body.expansion_1e6_per_k if body is not None else None
    body_error = _body_error(body) if of_body is not None else None
    if sheet is None or glaze is None or of_body is None or body_error is None:
        return Fit(
            glaze.value if glaze else None,
            glaze.error if glaze else None,
            float(of_body) if of_body is not None else None,
            body_error,
            *(None,) * 8,
            reason=_what_lacks(glaze is not None, body),
            warning="",
            source="",
            confidence="",
        )
    difference = float(of_body) - glaze.value
    error = math.hypot(glaze.error, body_error, float(limits["beyond-range"].value))
    stress, stress_error = _stress(sheet, difference, error)
    about = NormalDist(difference, error)
    low, high = (float(limits[n].value) for n in ("comfortable-from", "comfortable-to"))
    tension = about.cdf(float(limits["tension"].value))
    if difference < low:
        likely = tension >= limits["likely-from"].value
        verdict = FitVerdict.CRAZING_LIKELY if likely else FitVerdict.CRAZING_POSSIBLE
    else:
        verdict = FitVerdict.SHIVERING if difference > high else FitVerdict.COMFORTABLE
    return Fit(
        glaze.value,
        glaze.error,
        float(of_body),
        body_error,
        difference,
        error,
        stress,
        stress_error,
        tension,
        about.cdf(low),
        1.0 - about.cdf(high),
        verdict,
        _reason(about, low, high, stress, stress_error, sheet.inside_domain),
        _warning(about, magnesia_share),
        limits["comfortable-from"].source,
        "memory",
    )


def _body_error(body: Body | None) -> float:
    """One standard error of a body's expansion [1e-6/K]."""
    half = body.expansion_error if body is not None else None
    if half is None:
        return float(fit_limits()["body-error"].value)
    return abs(float(half)) / math.sqrt(3.0)


def _stress(sheet: MeltSheet, difference: float, error: float) -> tuple[float | None, float | None]:
    """Stress and its standard error [MPa]."""
    transition, modulus = sheet.glass_transition_c, sheet.youngs_modulus_gpa
    if transition is None or modulus is None:
        return None, None
    limits = fit_limits()
    room, ratio = float(limits["room"].value), limits["poisson-ratio"]
    fall = transition.value - room
    if not (fall > 0 and modulus.value > 0):
        return None, None
    stress = float(stress_mpa(0.0, difference, transition.value, modulus.value))
    relative = math.hypot(
        modulus.error / modulus.value,
        transition.error / fall,
        float(ratio.error) / (1.0 - float(ratio.value)),
        float(limits["layer-error"].value),
    )
    of_difference = float(stress_mpa(0.0, error, transition.value, modulus.value))
    return stress, math.hypot(of_difference, stress * relative)


def _reason(
    about: NormalDist,
    low: float,
    high: float,
    stress: float | None,
    stress_error: float | None,
    inside_domain: bool,
) -> str:
    text = (
        f"The glaze expands {abs(about.mean):.2f} ± {about.stdev:.2f} 1e-6/K "
        f"{'less' if about.mean >= 0 else 'more'} than the body"
    )
    if stress is not None and stress_error is not None:
        way = "squeeze" if stress <= 0 else "pull"
        text += f", which leaves {abs(stress):.0f} ± {stress_error:.0f} MPa of {way}"
    text += (
        f"; {low:g} to {high:g} less is comfortable. Chance of too little squeeze "
        f"{about.cdf(low):.2f}, of too much {1.0 - about.cdf(high):.2f}. "
        "Test: hot and cold water by turns, and a look at rims and edges"
    )
    return text if inside_domain else text + ". Outside the melts that the models know: a guess"


def _warning(about: NormalDist, magnesia_share: float | None) -> str:
    limits = fit_limits()
    if magnesia_share is None or magnesia_share < limits["magnesia-share"].value:
        return ""
    chance = 1.0 - about.cdf(float(limits["magnesia-comfortable-to"].value))
    if chance < limits["warned-from"].value:
        return ""
    return (
        f"Rich in magnesia ({magnesia_share:.2f} of the fluxes), so low in expansion: as a liner "
        "it may shiver or split the pot, the more so under another glaze outside; chance of a "
        f"difference above {limits['magnesia-comfortable-to'].value:g} 1e-6/K: {chance:.2f}"
    )


def _what_lacks(has_glaze: bool, body: Body | None) -> str:
    if not has_glaze:
        return "The glaze has no expansion: nothing in it makes a glass"
    if body is None:
        return "No body is chosen: choose one to read the fit"
    return f"{body.name} states no expansion: measure it, or take the nearest body of the table"
