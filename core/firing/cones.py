"""Pyrometric cones: end points by heating rate. A cone is text: "06" is not "6"."""

from __future__ import annotations

import itertools
import math
from functools import cache

import msgspec

from core.errors import InputError
from core.schema import Number
from core.tables import read_records, shipped

COLUMNS = ("self_supporting", "large", "small")


class Cone(msgspec.Struct, frozen=True):
    """End points [°C] of one cone, by heating rate over the last 100 °C [°C/h]."""

    cone: str
    self_supporting: dict[str, Number] = {}
    large: dict[str, Number] = {}
    small: dict[str, Number] = {}


@cache
def cones() -> tuple[Cone, ...]:
    """Return the cones of the table, coldest first; read once."""
    return tuple(cone for _, cone in read_records(shipped("cones.yaml"), "cones", Cone, True))


def rank(cone: str) -> int | None:
    """Return the place of a cone in the series, coldest first, or None.

    Examples
    --------
    >>> rank("06") < rank("6")
    True
    """
    return next((i for i, row in enumerate(cones()) if row.cone == cone), None)


def nearest(position: float) -> tuple[str, float]:
    """Return the cone nearest to a place in the series, and how far beyond it that lies.

    Parameters
    ----------
    position : float
        The coldest cone is 0 [cones].

    Returns
    -------
    (cone, fraction) : (str, float)
        Half a cone or more outside the series the cone is empty and the fraction 0.

    Examples
    --------
    >>> nearest(16.25)
    ('06', 0.25)
    """
    place = math.floor(position + 0.5)
    if not 0 <= place < len(cones()):
        return "", 0.0
    return cones()[place].cone, position - place


def position_text(position: float) -> str:
    """Write a place in the series for people.

    Examples
    --------
    >>> position_text(16.25), position_text(29.0), position_text(-1.0)
    ('cone 06 + 0.2', 'cone 6', 'below cone 022')
    """
    cone, fraction = nearest(position)
    if not cone:
        return (
            f"below cone {cones()[0].cone}" if position < 0 else f"beyond cone {cones()[-1].cone}"
        )
    tenths = round(fraction, 1)
    sign = "+" if tenths > 0 else "−"
    return f"cone {cone}" + (f" {sign} {abs(tenths):.1f}" if tenths else "")


def end_point(cone: str, rate_c_per_h: float, column: str = "self_supporting") -> float:
    """Temperature at which a cone reaches its end position [°C].

    Between tabulated rates the figure is interpolated linearly in the
    logarithm of the rate (common practice, no source); beyond them there is
    no figure.

    Parameters
    ----------
    cone : str
        As text.
    rate_c_per_h : float
        Mean heating rate over the last 100 °C [°C/h].
    column : {"self_supporting", "large", "small"}

    Raises
    ------
    InputError
        If the table has no such cone, column or rate.

    Examples
    --------
    >>> end_point("6", 60)
    1222.0
    """
    place = rank(cone)
    if place is None:
        raise InputError(f"there is no cone {cone!r}", "write it as text, from 022 to 14")
    if column not in COLUMNS:
        raise InputError(f"there is no column {column!r}", f"use one of {', '.join(COLUMNS)}")
    table: dict[str, Number] = getattr(cones()[place], column)
    points = sorted((float(rate), float(temperature)) for rate, temperature in table.items())
    if not points or not points[0][0] <= rate_c_per_h <= points[-1][0]:
        rates = ", ".join(f"{rate:g}" for rate, _ in points) or "no rate"
        raise InputError(
            f"cone {cone} has no end point at {rate_c_per_h:g} °C/h", f"the table has {rates}"
        )
    for (rate_a, a), (rate_b, b) in itertools.pairwise(points):
        if rate_a <= rate_c_per_h <= rate_b:
            share = math.log(rate_c_per_h / rate_a) / math.log(rate_b / rate_a)
            return a + share * (b - a)
    return points[0][1]
