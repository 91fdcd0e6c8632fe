"""The cloud of the point against the propagation of uncertainty done by hand.

Source of the treatment: Guide to the Expression of Uncertainty in Measurement
(JCGM 100:2008): limits ±a without further knowledge are rectangular, with the standard
uncertainty a / sqrt(3) (4.3.7); independent ones add in squares (5.1.2).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from core.evaluate import evaluate
from core.materials import Analysis, Material
from core.nudge import nudge
from core.oxides import INDEX
from core.recipe import Section
from core.studio import Scale
from core.uncertainty import DRAWS, cloud_of

SILICA = INDEX["SiO2"]
EXACT = 1e-9
"""A readout that weighs without error."""
# A standard deviation from n rectangular draws is itself off by sqrt((1.8 - 1) / (4 n)) of
# itself, for the kurtosis 1.8 of a rectangle; four such errors.
FOUR_SIGMA = 4 * math.sqrt(0.8 / (4 * 500))


def _material(id_: str, oxide: str, tolerance: float) -> Material:
    analysis = Analysis.from_percent({oxide: 100.0}, 0.0, tolerance={oxide: tolerance})
    return Material(id_, id_, analysis)


def _relative_error(lime: Material, sand: Material, grams, readout: float) -> float:
    """Standard error of SiO2 to CaO, by its mean."""
    cloud = cloud_of([lime, sand], np.asarray(grams, float), readout)
    return float(cloud.standard_error[SILICA] / cloud.points[:, 0].mean())


IDS = [f"sand-{i}" for i in range(20)]


def test_there_are_at_least_five_hundred_draws(fixture_recipe, studio):
    assert DRAWS >= 500
    cloud = evaluate(fixture_recipe, studio).cloud
    assert cloud.points.shape == (DRAWS, 2)
    assert cloud.standard_error.shape == (25,)


@pytest.mark.parametrize("sand", IDS)
def test_a_rectangular_tolerance_counts_by_the_root_of_three(sand):
    # JCGM 100:2008, 4.3.7: the flux is exact, so SiO2 is off as the sand's analysis is.
    found = _relative_error(
        _material("lime", "CaO", 0.0), _material(sand, "SiO2", 3.0), [20, 80], EXACT
    )
    assert found == pytest.approx(0.03 / math.sqrt(3), rel=FOUR_SIGMA)


def test_over_many_materials_the_draws_are_unbiased():
    # The mean of twenty such errors is twenty times as sure in the square.
    lime = _material("lime", "CaO", 0.0)
    found = [_relative_error(lime, _material(i, "SiO2", 3.0), [20, 80], EXACT) for i in IDS]
    assert np.mean(found) == pytest.approx(0.03 / math.sqrt(3), rel=FOUR_SIGMA / math.sqrt(20))


def test_independent_tolerances_add_in_squares():
    # JCGM 100:2008, 5.1.2; a ratio's relative variances add to first order.
    found = [
        _relative_error(
            _material(f"lime-{i}", "CaO", 2.0), _material(i, "SiO2", 3.0), [2, 8], EXACT
        )
        for i in IDS
    ]
    assert np.mean(found) == pytest.approx(math.hypot(0.02, 0.03) / math.sqrt(3), rel=0.02)


def test_a_figure_without_a_tolerance_is_off_by_two_percent():
    # Source: design, section 4: ±2 % relative.
    plain = [Material(i, i, Analysis.from_percent({"SiO2": 100.0}, 0.0)) for i in IDS]
    found = [_relative_error(_material("lime", "CaO", 0.0), m, [20, 80], EXACT) for m in plain]
    assert np.mean(found) == pytest.approx(0.02 / math.sqrt(3), rel=0.02)


@pytest.mark.parametrize("readout", [0.1, 1.0])
def test_half_a_readout_is_the_error_of_a_weight(readout):
    # JCGM 100:2008, F.2.2.1: a digital display of step d is rectangular with half-width d / 2.
    grams = [20.0, 80.0]
    found = [
        _relative_error(
            _material(f"lime-{i}", "CaO", 0.0), _material(i, "SiO2", 0.0), grams, readout
        )
        for i in IDS
    ]
    expected = math.hypot(*(readout / 2 / math.sqrt(3) / g for g in grams))
    assert np.mean(found) == pytest.approx(expected, rel=0.02)


def test_a_coarser_scale_or_a_smaller_batch_makes_the_cloud_wider(fixture_recipe, studio):
    def area(**changes) -> float:
        cloud = evaluate(fixture_recipe, replace(studio, **changes)).cloud
        return float(np.linalg.det(np.cov(cloud.points.T)))

    usual = area()
    assert area(scale=Scale("coarse", readout_g=5.0)) > 1.5 * usual
    assert area(test_batch_g=10.0, scale=Scale("coarse", readout_g=1.0)) > 1.5 * usual


def test_the_cloud_is_the_same_each_time(fixture_recipe, studio):
    first, second = (evaluate(fixture_recipe, studio).cloud for _ in range(2))
    np.testing.assert_array_equal(first.points, second.points)
    np.testing.assert_array_equal(first.standard_error, second.standard_error)


def test_the_cloud_moves_with_the_point_and_does_not_flicker(fixture_recipe, studio):
    before = evaluate(fixture_recipe, studio)
    after = evaluate(nudge(fixture_recipe, Section.BASE, 1, 0.1), studio)
    step = np.subtract(after.point, before.point)
    moved = after.cloud.points - before.cloud.points
    # Each draw goes the way that the point goes, but for a small part of the step.
    assert np.abs(moved - step).max() < 0.25 * np.hypot(*step)


def test_the_cloud_lies_around_the_point(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    error = evaluation.cloud.points.std(axis=0, ddof=1) / math.sqrt(DRAWS)
    offset = evaluation.cloud.points.mean(axis=0) - evaluation.point
    # The mean of a ratio is off by the square of its relative error, here 1e-4 of it.
    assert (np.abs(offset) < 4 * error + 5e-4 * np.asarray(evaluation.point)).all()
    np.testing.assert_allclose(
        evaluation.cloud.standard_error[[SILICA, INDEX["Al2O3"]]],
        evaluation.cloud.points.std(axis=0, ddof=1),
    )


def test_the_outline_holds_about_nine_draws_in_ten(fixture_recipe, studio):
    cloud = evaluate(fixture_recipe, studio).cloud
    outline = cloud.outline(360)
    assert outline.shape == (361, 2)
    np.testing.assert_allclose(outline[0], outline[-1])
    centre = outline[:-1].mean(axis=0)
    # Inside an ellipse, told from its corners alone: the cross products all have one sign.
    start, end = outline[:-1], outline[1:]
    a, b = (end - start)[None], cloud.points[:, None] - start[None]
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    inside = (cross > 0).all(axis=1) | (cross < 0).all(axis=1)
    np.testing.assert_allclose(centre, cloud.points.mean(axis=0), atol=1e-9)
    # 500 draws: a standard error of 1.3 %, four of them.
    assert inside.mean() == pytest.approx(0.90, abs=4 * math.sqrt(0.9 * 0.1 / DRAWS))


def test_two_rows_of_one_material_share_its_analysis_and_not_its_weighing():
    lime = _material("lime", "CaO", 0.0)
    sand = _material("sand", "SiO2", 3.0)
    one = cloud_of([lime, sand], np.array([20.0, 80.0]), EXACT)
    two = cloud_of([lime, sand, sand], np.array([20.0, 40.0, 40.0]), EXACT)
    np.testing.assert_allclose(one.points, two.points, rtol=1e-6)
    rough = _material("sand", "SiO2", 0.0)
    whole = cloud_of([lime, rough], np.array([1e6, 80.0]), 1.0).standard_error[SILICA]
    split = cloud_of([lime, rough, rough], np.array([1e6, 40.0, 40.0]), 1.0).standard_error[SILICA]
    # Two independent errors on the same total: sqrt(2) as large (JCGM 100:2008, 5.1.2).
    assert split / whole == pytest.approx(math.sqrt(2), rel=0.15)


def test_without_a_flux_there_is_no_cloud():
    sand = _material("sand", "SiO2", 3.0)
    assert cloud_of([sand], np.array([1.0]), 0.1) is None
    assert cloud_of([], np.zeros(0), 0.1) is None
    assert cloud_of([sand], np.zeros(1), 0.1) is None


def test_a_weight_below_the_readout_never_goes_below_nothing():
    cloud = cloud_of(
        [_material("lime", "CaO", 0.0), _material("sand", "SiO2", 0.0)], np.array([1.0, 0.1]), 1.0
    )
    assert (cloud.points[:, 0] >= 0).all()
    assert np.isfinite(cloud.points).all()


def test_a_flux_below_the_readout_gives_a_cloud_of_finite_figures_or_none():
    cloud = cloud_of(
        [_material("lime", "CaO", 0.0), _material("sand", "SiO2", 0.0)], np.array([0.01, 90]), 1.0
    )
    assert cloud is None or np.isfinite(cloud.points).all()
