"""Running: the falling film, by its velocity profile and by hand, and glazes known to run."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.integrate import quad

from core.evaluate import evaluate
from core.firing import FiringCurve, firing_curve, shipped_firings
from core.melt.sheet import CURVE_C
from core.reading.running import RunningVerdict, mean_run_mm, running

CURVES = {name: firing_curve(firing) for name, firing in shipped_firings().items()}


def _read(recipe, studio, firing="cone-10-medium", thickness=None):
    sheet = evaluate(replace(recipe, firing=firing), studio).melt
    return running(CURVES[firing], sheet, thickness)


def test_the_mean_is_that_of_the_films_velocity_profile():
    # Shear stress at depth y is the weight of what hangs outside it; velocity is its integral.
    thick, density, eta, gravity = 4e-4, 2500.0, 1000.0, 9.80665

    def velocity(y):
        return quad(lambda s: density * gravity * (thick - s) / eta, 0, y)[0]

    mean = quad(velocity, 0, thick)[0] / thick
    assert mean_run_mm([1.0], [3.0], 0.4, 2.5) == pytest.approx(1e3 * mean)
    assert velocity(thick) == pytest.approx(1.5 * mean)


def test_a_film_of_glycerol_by_hand():
    # 1 mm of glycerol at 20 °C, 1.41 Pa·s and 1.261 g/cm3 (from memory, CRC Handbook):
    # 1261 x 9.80665 x 1e-6 / (3 x 1.41) = 2.92e-3 m/s.
    assert mean_run_mm([1.0], [math.log10(1.41)], 1.0, 1.261) == pytest.approx(2.92, abs=0.005)


def test_the_skin_runs_half_as_far_again(fixture_recipe, studio):
    found = _read(fixture_recipe, studio)
    assert found.surface_mm == pytest.approx(1.5 * found.distance_mm)


def test_twice_as_thick_runs_four_times_as_far(fixture_recipe, studio):
    thin, thick = (_read(fixture_recipe, studio, thickness=mm) for mm in (0.4, 0.8))
    assert thick.distance_mm == pytest.approx(4 * thin.distance_mm)
    assert "0.8 mm" in thick.reason


def test_the_error_is_the_melts_and_the_densitys(fixture_recipe, studio):
    sheet = evaluate(fixture_recipe, studio).melt
    curve = CURVES["cone-10-medium"]
    softer = replace(sheet, curve=sheet.curve - sheet.curve_error)
    moved = math.log10(running(curve, softer).distance_mm / running(curve, sheet).distance_mm)
    density = math.log10(1 + 0.2 / 2.5)
    expected = math.hypot(moved, density)
    assert running(curve, sheet).log10_error == pytest.approx(expected, rel=0.01)


def test_practice_calls_these_stiff_fluid_or_in_between(fixture_recipe, base_of, studio):
    # Common practice, no source: a glaze without its flux stays, one with twice as much runs.
    rows = {row.material.replace("-", "_"): row.amount for row in fixture_recipe.base}
    without = _read(base_of(**{m: p for m, p in rows.items() if m != "whiting"}), studio)
    twice = _read(base_of(**rows | {"whiting": 24.0}), studio)
    whole = _read(fixture_recipe, studio)
    assert without.verdict is RunningVerdict.STAYS
    assert twice.verdict is RunningVerdict.RUNS
    # Source: practice table: 3 to 6 mm are usually left bare above the foot.
    assert whole.verdict is RunningVerdict.MOVES
    assert without.distance_mm < 1 < whole.distance_mm < 6 < twice.distance_mm


def test_a_hold_adds_what_its_viscosity_allows(fixture_recipe, studio):
    sheet = evaluate(fixture_recipe, studio).melt
    short = running(FiringCurve([0, 5, 9], [20, 1280, 600]), sheet)
    held = running(FiringCurve([0, 5, 6, 10], [20, 1280, 1280, 600]), sheet)
    there = float(sheet.curve[CURVE_C == 1280.0][0])
    expected = float(mean_run_mm([3600.0], [there], 0.4, 2.5))
    assert held.distance_mm - short.distance_mm == pytest.approx(expected)


def test_what_cannot_be_said_is_none_and_a_slip_is_refused(fixture_recipe, studio):
    sheet = evaluate(fixture_recipe, studio).melt
    assert running(CURVES["cone-10-medium"], None) is None
    assert running(FiringCurve([0, 1, 2], [20, 600, 20]), sheet) is None
    for slip in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="thickness"):
            running(CURVES["cone-10-medium"], sheet, slip)
