"""Recipes for the tiles that would tell most."""

from __future__ import annotations

import pytest

from core.errors import InputError
from core.evaluate import evaluate, formula_alone
from core.learn.features import no_features
from core.learn.fit import learn
from core.learn.proposals import proposed_tiles

SHIPPED = learn(no_features(), ())


def test_the_tiles_are_made_of_the_rows_and_lie_where_they_are_said_to(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    found = proposed_tiles(evaluation, SHIPPED, 5)
    assert len({(one.silica, one.alumina) for one in found}) == 5
    for one in found:
        point = formula_alone(one.recipe, studio).point
        assert point == pytest.approx((one.silica, one.alumina), abs=2e-3)
        assert [r.material for r in one.recipe.base] == [r.material for r in fixture_recipe.base]
        assert all(row.amount >= 0 for row in one.recipe.base)
        assert one.information > 0
    # What the first told is no longer news to the next.
    assert found[0].information >= found[-1].information


def test_the_same_is_proposed_each_time_and_locked_rows_stay(fixture_recipe, studio):
    from core.recipe import Section

    evaluation = evaluate(fixture_recipe, studio)
    first, again = (proposed_tiles(evaluation, SHIPPED, 3) for _ in range(2))
    assert first == again
    locked = fixture_recipe.with_lock(Section.BASE, 2, True)
    for one in proposed_tiles(evaluate(locked, studio), SHIPPED, 3):
        assert one.recipe.base[2].amount == fixture_recipe.base[2].amount


def test_what_cannot_be_proposed_is_said(base_of, fixture_recipe, studio):
    with pytest.raises(InputError, match="no reading"):
        proposed_tiles(evaluate(base_of(silica=100), studio), SHIPPED, 3)
    with pytest.raises(InputError, match="cannot be proposed"):
        proposed_tiles(evaluate(fixture_recipe, studio), SHIPPED, 40)
