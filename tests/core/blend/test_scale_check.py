"""Whether the scale is good enough."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.blend.plan import additions_plan, grid_blend, recipes_plan
from core.blend.scale_check import (
    enough_batch_g,
    scale_warnings,
    smallest_weight,
    syringe_warning,
)
from core.errors import InputError
from core.recipe import Ingredient


def test_a_quarter_percent_needs_400_g_on_a_scale_of_a_tenth():
    # By hand: 0.25 % of 400 g is 1 g; half a readout, 0.05 g, is 5 % of it.
    assert enough_batch_g(0.25, 0.1, 0.05) == pytest.approx(400.0)
    assert enough_batch_g(0.25, 0.01, 0.05) == pytest.approx(40.0)
    with pytest.raises(InputError):
        enough_batch_g(0.0, 0.1)


def test_a_series_of_additions_is_warned_of_below_the_batch_that_is_enough(fixture_recipe, studio):
    plan = additions_plan(fixture_recipe, "tin-oxide", (0.25, 0.5, 1.0, 2.0), studio)
    # By hand: the closest step is 0.25 %; half of it, 0.125 % of 40 g, is 0.05 g.
    (warning,) = scale_warnings(plan, 39.0, 0.1)
    assert warning.material == "tin-oxide"
    assert warning.enough_g == pytest.approx(40.0)
    assert warning.cells == (1, 2)
    assert "40 g" in warning.words("Tin oxide")
    assert scale_warnings(plan, 40.0, 0.1) == ()
    (coarse,) = scale_warnings(plan, 39.0, 1.0)
    assert coarse.cells == (1, 2, 3, 4)
    assert coarse.enough_g == pytest.approx(400.0)


def test_a_quarter_percent_in_100_g_is_off_by_a_fifth_and_400_g_are_named(fixture_recipe, studio):
    plan = additions_plan(fixture_recipe, "cobalt-carbonate", (0.25, 0.5, 1.0, 2.0), studio)
    least = smallest_weight(plan, 100.0, 0.1)
    assert (least.material, least.percent) == ("cobalt-carbonate", 0.25)
    # 0.05 g of 0.25 g.
    assert least.off == pytest.approx(0.2)
    assert "0.25 % Cobalt" in least.words("Cobalt")
    assert "20 % of itself" in least.words()
    assert "400 g" in least.words()
    assert smallest_weight(plan, 400.0, 0.1) is None
    assert smallest_weight(plan, 399.0, 0.1) is not None


def test_a_base_that_is_there_already_is_not_weighed_again(fixture_recipe, studio):
    held = replace(fixture_recipe, additions=(Ingredient("tin-oxide", 0.01),))
    least = smallest_weight(
        additions_plan(held, "cobalt-carbonate", (0.5, 1.0), studio), 100.0, 0.1
    )
    assert (least.material, least.percent) == ("cobalt-carbonate", 0.5)
    # Weighed tile by tile it is.
    alone = smallest_weight(recipes_plan([held], studio), 100.0, 0.1)
    assert alone.material == "tin-oxide"
    assert "not seen by it" in alone.words()


def test_the_batch_that_is_said_to_be_enough_is_enough(corners, studio):
    plan = grid_blend(corners, studio)
    warnings = scale_warnings(plan, 20.0, 0.1)
    assert warnings
    enough = max(warning.enough_g for warning in warnings)
    assert scale_warnings(plan, enough * 1.001, 0.1) == ()
    assert scale_warnings(plan, enough * 0.99, 0.1)


def test_tiles_that_do_not_differ_have_no_step(fixture_recipe, studio):
    assert scale_warnings(recipes_plan((fixture_recipe,) * 2, studio), 1.0, 1.0) == ()


def test_a_coarse_syringe_is_warned_of(corners, studio):
    plan = grid_blend(corners, studio)
    assert syringe_warning(plan, 50.0, 0.1) == ""
    assert "take cups of" in syringe_warning(plan, 5.0, 1.0)


def test_a_scale_that_reads_nothing_is_refused(corners, studio):
    with pytest.raises(InputError):
        scale_warnings(grid_blend(corners, studio), 100.0, 0.0)
