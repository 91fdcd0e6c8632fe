"""How long a firing keeps a melt above its working lines and between two temperatures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.firing.curve import FiringCurve
from core.melt.sheet import CURVE_C, MeltSheet, WorkingLine

Spans = tuple[tuple[float, float], ...]
"""Stretches of time as (begin, end) in hours."""


@dataclass(frozen=True, slots=True)
class Level:
    """A working viscosity that the ware passes on its shelf."""

    line: WorkingLine
    celsius: float
    hours: float
    """Time above it [h]."""
    first_h: float
    last_h: float
    error_c: float | None
    """One sigma of its temperature [°C]; None beyond the model's curve."""


def level_of(line: WorkingLine, celsius: float, felt: FiringCurve, melt: MeltSheet) -> Level | None:
    """Return how long a firing keeps the melt above a working line; None if it never does."""
    temperatures = felt.temperatures_c
    above = np.flatnonzero(temperatures > celsius)
    if not above.size:
        return None
    first, last = int(above[0]), int(above[-1])
    hours = felt.hours
    begin, end = float(hours[first]), float(hours[last])
    if first:
        begin = _crossing(felt, first - 1, celsius)
    if last + 1 < len(hours):
        end = _crossing(felt, last, celsius)
    error_c = None
    if CURVE_C[0] < celsius < CURVE_C[-1]:
        near = np.interp([celsius - 5.0, celsius + 5.0], CURVE_C, melt.curve)
        slope = abs(float(near[1] - near[0])) / 10.0
        if slope > 0:
            error_c = float(np.interp(celsius, CURVE_C, melt.curve_error)) / slope
    return Level(line, celsius, float(felt.hours_above(celsius)), begin, end, error_c)


def cooling_side(curve: FiringCurve) -> FiringCurve:
    """Return what follows the last moment at the peak."""
    temperatures = curve.temperatures_c
    last = int(np.flatnonzero(temperatures == temperatures.max())[-1])
    return FiringCurve(curve.hours[last:], temperatures[last:])


def hours_inside(cooling: FiringCurve, low_c: float, high_c: float) -> float:
    """Return how long a cooling stays between two temperatures [h]."""
    over_low, over_high = cooling.hours_above([low_c, high_c]).tolist()
    return float(max(over_low - over_high, 0.0))


def spans_inside(cooling: FiringCurve, low_c: float, high_c: float) -> Spans:
    """Return when a curve is between two temperatures, as (begin, end) in hours."""
    spans: list[tuple[float, float]] = []
    hours, temperatures = cooling.hours.tolist(), cooling.temperatures_c.tolist()
    for i in range(len(hours) - 1):
        (h0, h1), (t0, t1) = hours[i : i + 2], temperatures[i : i + 2]
        if t0 == t1:
            shares = [0.0, 1.0] if low_c < t0 <= high_c else []
        else:
            ends = sorted(((low_c - t0) / (t1 - t0), (high_c - t0) / (t1 - t0)))
            shares = [max(ends[0], 0.0), min(ends[1], 1.0)]
        if not shares or shares[1] <= shares[0]:
            continue
        begin, end = (h0 + share * (h1 - h0) for share in shares)
        if spans and begin - spans[-1][1] < 1e-9:
            begin = spans.pop()[0]
        spans.append((begin, end))
    return tuple(spans)


def _crossing(curve: FiringCurve, piece: int, celsius: float) -> float:
    """Time at which a piece of a curve passes a temperature [h]."""
    start, end = curve.temperatures_c[piece : piece + 2].tolist()
    begin, done = curve.hours[piece : piece + 2].tolist()
    return float(begin + (celsius - start) / (end - start) * (done - begin))
