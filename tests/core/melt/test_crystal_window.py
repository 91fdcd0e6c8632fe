"""The window in which crystals grow."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from core.evaluate import evaluate
from core.melt.crystal_window import crystal_window, growth_rules
from core.melt.sheet import CURVE_C


def test_the_stiff_end_is_where_growth_is_too_slow_to_see():
    # Source: the Stokes-Einstein relation; jumps of 0.3 nm: from memory.
    kelvin, jump = 1200.0, 3e-10
    metres_per_s = 1.380649e-23 * kelvin / (3 * math.pi * jump**2)
    per_hour = metres_per_s / 10 ** growth_rules()["stiff"].value * 3600
    assert 1e-6 < per_hour < 5e-6


def test_it_begins_below_the_liquidus_and_ends_on_the_viscosity_curve(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    melt, window = evaluation.melt, evaluation.crystal_window
    assert window.high_c == pytest.approx(melt.liquidus_c.value - growth_rules()["lag"].value)
    assert 150 <= growth_rules()["lag"].value <= 200
    there = np.interp(window.low_c, CURVE_C, melt.curve)
    assert there == pytest.approx(growth_rules()["stiff"].value, abs=0.01)
    # Holds between 1060 and 1100 °C: common practice, no source.
    assert window.low_c < 1060 < window.high_c + window.high_error_c


def test_a_melt_too_stiff_before_it_begins_has_no_window(fixture_recipe, studio):
    melt = evaluate(fixture_recipe, studio).melt
    assert crystal_window(replace(melt, curve=melt.curve + 6.0)) is None
    assert crystal_window(replace(melt, liquidus_c=None)) is None
