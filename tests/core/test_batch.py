"""A batch to weigh: the printed grams add up to the printed total."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.batch import LARGEST_BATCH_G, batch_of
from core.errors import InputError
from core.recipe import Ingredient, Recipe, Section

READOUTS = (0.01, 0.1, 0.5, 1.0, 5.0)
ROWS = st.lists(st.floats(0, 1000), min_size=1, max_size=20)


def _recipe(base: list[float], additions: list[float]) -> Recipe:
    return Recipe(
        base=tuple(Ingredient(f"b{i}", a) for i, a in enumerate(base)),
        additions=tuple(Ingredient(f"a{i}", a) for i, a in enumerate(additions)),
    )


@given(
    base=ROWS.filter(lambda rows: sum(rows) > 1e-3),
    additions=st.lists(st.floats(0, 100), max_size=5),
    grams=st.floats(5, LARGEST_BATCH_G),
    readout=st.sampled_from(READOUTS),
)
def test_what_is_printed_adds_up_exactly(base, additions, grams, readout):
    recipe = _recipe(base, additions)
    batch = batch_of(recipe, grams, readout)
    step = Decimal(str(readout))
    printed = [Decimal(str(line.grams)) for line in batch.lines]
    assert [line.material for line in batch.lines] == [
        row.material for row in (*recipe.base, *recipe.additions)
    ]
    assert sum(printed[: len(base)]) == batch.base_total
    assert sum(printed) == batch.total
    assert [line.running_total for line in batch.lines] == [
        sum(printed[: i + 1]) for i in range(len(printed))
    ]
    assert all(weight % step == 0 and weight >= 0 for weight in printed)
    assert abs(batch.base_total - Decimal(grams)) <= step / 2


@given(
    base=ROWS.filter(lambda rows: sum(rows) > 1e-3),
    additions=st.lists(st.floats(0, 100), max_size=5),
    grams=st.floats(5, LARGEST_BATCH_G),
    readout=st.sampled_from(READOUTS),
)
def test_no_line_is_more_than_a_readout_off(base, additions, grams, readout):
    # The bound of the largest-remainder method: each share is rounded down or up, never more.
    batch = batch_of(_recipe(base, additions), grams, readout)
    parts = sum(map(Fraction, base))
    step, whole = Fraction(batch.readout), Fraction(batch.base_total)
    for amount, line in zip(base, batch.section(Section.BASE), strict=True):
        assert abs(Fraction(line.grams) - Fraction(amount) / parts * whole) < step
    for amount, line in zip(additions, batch.section(Section.ADDITIONS), strict=True):
        assert abs(Fraction(line.grams) - Fraction(amount) / 100 * whole) <= step / 2


@given(grams=st.integers(1, 1_000_000), readout=st.sampled_from(READOUTS))
def test_a_batch_of_whole_readouts_is_weighed_as_asked(grams, readout):
    step = Decimal(str(readout))
    asked = (Decimal(grams) // step) * step
    if asked < step:
        return
    assert batch_of(_recipe([1.0, 1.0, 1.0], []), float(asked), readout).base_total == asked


def test_the_fixture_weighs_what_its_percent_say(fixture_recipe):
    batch = batch_of(fixture_recipe, 2500, 0.1)
    # By hand: 42, 16, 12, 20 and 10 % of 2500 g.
    assert [line.grams for line in batch.lines] == [1050, 400, 300, 500, 250]
    assert batch.total == batch.base_total == 2500
    assert not any(line.coarse for line in batch.lines)


def test_additions_come_on_top_of_the_base():
    batch = batch_of(_recipe([25, 25], [4.0]), 1000, 0.1)
    assert batch.base_total == 1000
    assert batch.total == 1040
    assert batch.lines[-1].grams == 40


def test_a_line_of_a_few_readouts_is_marked_coarse():
    # Half of 0.1 g is 5 % of 1 g: nine readouts are coarse, ten are not.
    batch = batch_of(_recipe([99.1, 0.9], [1.0, 0.0, 0.001]), 100, 0.1)
    assert [line.coarse for line in batch.lines] == [False, True, False, False, True]


@pytest.mark.parametrize(
    ("grams", "readout"),
    [(0, 0.1), (-5, 0.1), (0.05, 0.1), (1_000_001, 0.1), (100, 0), (100, -1), (100, 1001)],
)
def test_what_cannot_be_weighed_is_refused(fixture_recipe, grams, readout):
    with pytest.raises(InputError):
        batch_of(fixture_recipe, grams, readout)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")])
def test_a_batch_or_readout_that_is_no_number_is_refused(fixture_recipe, bad):
    with pytest.raises(InputError):
        batch_of(fixture_recipe, bad, 0.1)
    with pytest.raises(InputError):
        batch_of(fixture_recipe, 100, bad)


def test_nothing_cannot_be_weighed_out():
    for recipe in (Recipe(), _recipe([0.0, 0.0], [5.0])):
        with pytest.raises(InputError, match="weighs nothing"):
            batch_of(recipe, 100, 0.1)
