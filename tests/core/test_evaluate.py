"""From a recipe to its figures: the arithmetic fixture, odd recipes, pinned analyses.

The figures of the fixture are those of the project's design (its section 7): ideal
minerals, worked out apart from this program, to the digits given there.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.evaluate import (
    batch_amounts,
    evaluate,
    formula_alone,
    material_of,
    nudged_point,
    pins_of,
    resolve,
)
from core.formula import State
from core.materials import Analysis
from core.nudge import nudge
from core.oxides import INDEX
from core.recipe import Ingredient, Pin, Recipe, Section, total
from core.regions import Zone
from core.report import report
from core.studio import Studio
from core.telling import report_text

SHIPPED = Studio()
HALF_DIGIT = {3: 0.0005 + 5e-5, 2: 0.005 + 5e-5}
"""Half of the last printed place, and a little for other atomic weights."""


def _row(recipe: Recipe, material: str) -> int:
    return [row.material for row in recipe.base].index(material)


def _unity(recipe: Recipe, oxide: str) -> float:
    unity = evaluate(recipe, SHIPPED).formula.unity
    assert unity is not None
    return float(unity[INDEX[oxide]])


@pytest.mark.parametrize(
    ("oxide", "moles"),
    [("K2O", 0.234), ("CaO", 0.372), ("MgO", 0.393), ("Al2O3", 0.475), ("SiO2", 2.929)],
)
def test_the_fixture_has_its_unity_formula(fixture_recipe, oxide, moles):
    # Source: design, section 7.
    assert _unity(fixture_recipe, oxide) == pytest.approx(moles, abs=HALF_DIGIT[3])


@pytest.mark.parametrize(
    ("oxide", "percent"),
    [("SiO2", 62.13), ("Al2O3", 17.10), ("K2O", 7.80), ("CaO", 7.37), ("MgO", 5.59)],
)
def test_the_fixture_has_its_fired_weights(fixture_recipe, studio, oxide, percent):
    # Source: design, section 7 (±0.01).
    weights = evaluate(fixture_recipe, studio).formula.weight_percent
    assert weights[INDEX[oxide]] == pytest.approx(percent, abs=0.01)
    assert weights.sum() == pytest.approx(100.0, abs=1e-9)


def test_the_fixture_has_its_ratio_and_loss(fixture_recipe, studio):
    # Source: design, section 7.
    formula = evaluate(fixture_recipe, studio).formula
    assert formula.silica_alumina == pytest.approx(6.17, abs=HALF_DIGIT[2])
    assert formula.loss_on_ignition_percent == pytest.approx(8.83, abs=0.01)
    assert formula.states == ()
    # Only potash is an alkali here, so its share is the K2O above.
    assert formula.r2o_share == pytest.approx(0.234, abs=HALF_DIGIT[3])
    assert formula.magnesia_share == pytest.approx(0.393, abs=HALF_DIGIT[3])


@pytest.mark.parametrize(
    ("material", "step", "silica", "alumina", "ratio", "magnesia"),
    [
        ("talc", 1, 2.891, 0.464, 6.23, 0.408),
        ("talc", -1, 2.969, 0.487, 6.10, 0.378),
        ("kaolin", 1, 2.953, 0.487, 6.06, 0.393),
        ("kaolin", -1, 2.905, 0.463, 6.27, 0.393),
        ("whiting", 1, 2.841, 0.461, 6.17, 0.381),
        ("whiting", -1, 3.023, 0.490, 6.17, 0.406),
    ],
)
def test_one_part_more_or_less_moves_the_point_as_in_the_table(
    fixture_recipe, studio, material, step, silica, alumina, ratio, magnesia
):
    # Source: the nudge table of the design, section 7, the other rows fixed.
    row = _row(fixture_recipe, material)
    changed = nudge(fixture_recipe, Section.BASE, row, step)
    assert formula_alone(changed, studio).point == pytest.approx(
        (silica, alumina), abs=HALF_DIGIT[3]
    )
    assert _unity(changed, "MgO") == pytest.approx(magnesia, abs=HALF_DIGIT[3])
    formula = evaluate(changed, studio).formula
    assert formula.silica_alumina == pytest.approx(ratio, abs=HALF_DIGIT[2])


def test_the_arrow_of_the_next_nudge_points_where_the_nudge_goes(fixture_recipe, studio):
    here = evaluate(fixture_recipe, studio)
    row = _row(fixture_recipe, "talc")
    # Source: the nudge table of the design, section 7.
    foretold = nudged_point(here, Section.BASE, row, 1.0, hold_total=False)
    assert foretold == pytest.approx((2.891, 0.464), abs=HALF_DIGIT[3])
    held = nudged_point(here, Section.BASE, row, 1.0, hold_total=True)
    after = nudge(fixture_recipe, Section.BASE, row, 1.0, hold_total=True)
    assert held == formula_alone(after, studio).point
    assert nudged_point(here, Section.BASE, 99, 1.0, hold_total=False) is None


def test_without_its_whiting_the_fixture_keeps_the_ratio_and_stops_melting(fixture_recipe, studio):
    # Source: design, sections 5 and 7: the worst mistake, which the ratio cannot see.
    whole = evaluate(fixture_recipe, studio)
    row = _row(fixture_recipe, "whiting")
    without = evaluate(fixture_recipe.without_rows(Section.BASE, {row}), studio)
    assert without.point == pytest.approx((4.667, 0.757), abs=HALF_DIGIT[3])
    assert _unity(without.recipe, "MgO") == pytest.approx(0.627, abs=HALF_DIGIT[3])
    assert without.formula.silica_alumina == pytest.approx(whole.formula.silica_alumina, rel=1e-9)
    assert whole.zone is Zone.SATIN
    assert without.zone is Zone.UNDERFIRED


def test_calcined_kaolin_takes_the_place_of_kaolin(fixture_recipe, studio):
    # Source: design, section 7: 17.21 for 20; 20 × 222.13 / 258.16 = 17.209 (minerals.yaml).
    row = _row(fixture_recipe, "kaolin")
    swapped = fixture_recipe.with_row(Section.BASE, row, Ingredient("calcined-kaolin", 17.21))
    formula = evaluate(swapped, studio).formula
    assert formula.point == pytest.approx((2.929, 0.475), abs=HALF_DIGIT[3])
    assert formula.silica_alumina == pytest.approx(6.17, abs=HALF_DIGIT[2])
    assert _unity(swapped, "MgO") == pytest.approx(0.393, abs=HALF_DIGIT[3])


PURE_FLUXES = sorted(
    m.id
    for m in SHIPPED.materials
    if m.moles_per_gram[INDEX["SiO2"]] == 0
    and m.moles_per_gram[INDEX["Al2O3"]] == 0
    and m.moles_per_gram[: INDEX["B2O3"]].sum() > 0
)


def test_there_are_fluxes_to_try_the_ray_with():
    assert {"whiting", "dolomite", "magnesium-carbonate", "zinc-oxide", "borax"} <= set(PURE_FLUXES)


@given(
    flux=st.sampled_from(PURE_FLUXES),
    amount=st.floats(0.01, 500),
    parts=st.lists(st.floats(1, 100), min_size=5, max_size=5),
)
def test_a_flux_without_silica_or_alumina_moves_the_point_along_its_ray(
    fixture_recipe, flux, amount, parts
):
    # Source: an identity of the definitions; design, section 7, asks for 1e-9.
    rows = tuple(replace(r, amount=p) for r, p in zip(fixture_recipe.base, parts, strict=True))
    recipe = replace(fixture_recipe, base=rows)
    more = replace(recipe, base=(*rows, Ingredient(flux, amount)))
    before, after = evaluate(recipe, SHIPPED), evaluate(more, SHIPPED)
    assert after.formula.silica_alumina == pytest.approx(before.formula.silica_alumina, rel=1e-9)
    assert after.point[0] < before.point[0]
    assert np.cross((*before.point, 0), (*after.point, 0))[2] == pytest.approx(
        0, abs=1e-9 * before.point[0] * before.point[1]
    )


def test_additions_are_percent_of_the_base(fixture_recipe, studio):
    # 4 % on a base of 50 parts weighs 2 parts: the definition of the design, section 4.
    half = replace(
        fixture_recipe,
        base=tuple(replace(r, amount=r.amount / 2) for r in fixture_recipe.base),
        additions=(Ingredient("red-iron-oxide", 4.0),),
    )
    assert batch_amounts(half)[-1] == ("red-iron-oxide", pytest.approx(2.0, abs=1e-12))
    iron = evaluate(half, studio).formula
    # By hand: 4 / 159.687 of Fe2O3 (IUPAC abridged) beside 42 / 556.65 of K2O at 0.2342.
    expected = 4 / 159.687 / (42 / 556.65) * iron.unity[INDEX["K2O"]]
    assert iron.unity[INDEX["Fe2O3"]] == pytest.approx(expected, rel=1e-4)


def test_the_base_alone_leaves_the_additions_out(fixture_recipe, studio):
    coloured = replace(fixture_recipe, additions=(Ingredient("zinc-oxide", 10.0),))
    alone = evaluate(coloured, studio, base_alone=True)
    assert alone.point == evaluate(fixture_recipe, studio).point
    assert evaluate(coloured, studio).point != alone.point
    assert len(alone.contributions) == 5


def test_colouring_oxides_stay_outside_unity(fixture_recipe, studio):
    # Source: design, section 4.
    coloured = replace(fixture_recipe, additions=(Ingredient("cobalt-carbonate", 2.0),))
    assert evaluate(coloured, studio).point == pytest.approx(
        evaluate(fixture_recipe, studio).point, rel=1e-12
    )


def test_the_rows_bring_together_what_the_formula_holds(fixture_recipe, studio):
    coloured = replace(
        fixture_recipe, additions=(Ingredient("zircon", 10.0), Ingredient("cobalt-carbonate", 0.5))
    )
    evaluation = evaluate(coloured, studio)
    assert evaluation.contributions.shape == (7, 25)
    np.testing.assert_allclose(
        evaluation.contributions.sum(axis=0), evaluation.formula.unity, rtol=1e-12, atol=1e-15
    )


def test_the_base_is_shown_in_percent(fixture_recipe, studio):
    doubled = replace(
        fixture_recipe, base=tuple(replace(r, amount=2 * r.amount) for r in fixture_recipe.base)
    )
    percent = evaluate(doubled, studio).base_percent
    np.testing.assert_allclose(percent, [42, 16, 12, 20, 10], rtol=1e-12)
    assert evaluate(doubled, studio).point == pytest.approx(
        evaluate(fixture_recipe, studio).point, rel=1e-12
    )


@pytest.mark.parametrize(
    ("rows", "state"),
    [
        ({}, State.NO_ROWS),
        ({"kaolin": 0, "silica": 0}, State.NO_WEIGHT),
        ({"kaolin": 50, "silica": 50}, State.NO_FLUX),
        ({"red_iron_oxide": 1}, State.NO_FLUX),
        ({"whiting": 50, "alumina": 5}, State.NO_SILICA),
        ({"whiting": 50, "silica": 5}, State.NO_ALUMINA),
        ({"whiting": 50, "silica": 5, "unheard_of": 5}, State.INCOMPLETE),
    ],
)
def test_what_keeps_a_formula_from_being_whole_is_said_in_words(base_of, studio, rows, state):
    evaluation = evaluate(base_of(**rows), studio)
    assert state in evaluation.formula.states
    printed = report(evaluation)
    assert str(state) in printed["states"]
    json.dumps(printed, allow_nan=False)
    if state in (State.NO_ROWS, State.NO_WEIGHT, State.NO_FLUX):
        assert evaluation.point is None
        assert evaluation.zone is None
        assert evaluation.cloud is None
        assert printed["unity"] is None
        assert printed["ratios"]["r2o_share"] is None


def test_an_unknown_material_is_never_read_as_nothing_in_silence(fixture_recipe, studio):
    row = _row(fixture_recipe, "whiting")
    lost = fixture_recipe.with_material(Section.BASE, row, "mine-that-closed")
    evaluation = evaluate(lost, studio)
    assert evaluation.missing == ("mine-that-closed",)
    assert State.INCOMPLETE in evaluation.formula.states
    assert lost.base[row].amount == 12.0
    assert evaluation.base_percent[row] == pytest.approx(12.0)
    assert report(evaluation)["incomplete"] == ["mine-that-closed"]
    assert "mine-that-closed" in report_text(evaluation)


def test_a_firing_or_body_that_no_table_has_is_a_warning(fixture_recipe, studio):
    odd = replace(fixture_recipe, firing="raku", body="moon-clay")
    evaluation = evaluate(odd, studio)
    assert evaluation.firing is None
    assert evaluation.body is None
    assert any("raku" in warning for warning in evaluation.warnings)
    assert any("moon-clay" in warning for warning in evaluation.warnings)


def test_a_soluble_material_is_a_warning(base_of, studio):
    recipe = base_of(borax=20, silica=50, kaolin=30)
    assert any("dissolves" in warning for warning in evaluate(recipe, studio).warnings)


MATERIALS = [*(m.id for m in SHIPPED.materials), "unheard-of"]
AMOUNTS = st.one_of(st.just(0.0), st.floats(0, 1e6, allow_subnormal=False), st.floats(1e-6, 100))
ROWS = st.lists(st.builds(Ingredient, st.sampled_from(MATERIALS), AMOUNTS), max_size=8).map(tuple)


@given(base=ROWS, additions=ROWS, base_alone=st.booleans())
def test_no_recipe_however_odd_shows_a_figure_that_is_none(base, additions, base_alone):
    recipe = Recipe("Odd", "cone-10-medium", "stoneware", base, additions)
    evaluation = evaluate(recipe, SHIPPED, base_alone)
    json.dumps(report(evaluation), allow_nan=False)
    assert "nan" not in report_text(evaluation).lower().split()
    assert np.isfinite(evaluation.base_percent).all()
    assert np.isfinite(evaluation.contributions).all()
    if evaluation.formula.unity is not None:
        fluxes = evaluation.formula.unity @ evaluation.formula.convention.mask
        assert fluxes == pytest.approx(1.0, abs=1e-9)
        assert evaluation.formula.mole_percent.sum() == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("amount", [1e-300, 1e-308, 1e-310, 5e-324])
def test_a_vanishing_base_gives_words_and_no_infinities(base_of, studio, amount):
    recipe = base_of(potash_feldspar=amount, whiting=amount, silica=amount)
    evaluation = evaluate(recipe, studio)
    json.dumps(report(evaluation), allow_nan=False)
    assert np.isfinite(evaluation.base_percent).all()
    if evaluation.cloud is not None:
        assert np.isfinite(evaluation.cloud.points).all()


OLD_WHITING = Pin("Whiting, old bag", Analysis.from_percent({"CaO": 54.0, "MgO": 1.0}, 44.5))


def test_a_pinned_analysis_is_what_the_recipe_is_computed_with(fixture_recipe, studio):
    pinned = replace(fixture_recipe, pinned={"whiting": OLD_WHITING})
    evaluation = evaluate(pinned, studio)
    # By hand, IUPAC abridged weights: 12 parts of whiting hold 12 × 0.54 / 56.077 of CaO,
    # beside 16 × 3 / 379.26 + 12 × 0.01 / 40.304 of MgO and 42 / 556.65 of K2O.
    lime = 12 * 0.54 / 56.077
    fluxes = lime + 16 * 3 / 379.26 + 12 * 0.01 / 40.304 + 42 / 556.65
    assert evaluation.formula.unity[INDEX["CaO"]] == pytest.approx(lime / fluxes, rel=1e-4)
    assert [moved.id for moved in evaluation.moved] == ["whiting"]
    assert evaluation.moved[0].pinned == OLD_WHITING.analysis
    assert evaluation.moved[0].table == studio.materials.get("whiting").analysis


def test_a_moved_table_is_said_and_its_formula_shown_too(fixture_recipe, studio):
    pinned = replace(fixture_recipe, pinned={"whiting": OLD_WHITING})
    evaluation = evaluate(pinned, studio)
    today = evaluate(fixture_recipe, studio)
    assert evaluation.table_formula is not None
    assert evaluation.table_formula.point == pytest.approx(today.point, rel=1e-12)
    assert evaluation.point != pytest.approx(today.point, rel=1e-4)
    assert report(evaluation)["moved_analyses"] == ["whiting"]
    text = report_text(evaluation)
    assert "Whiting, old bag" in text
    assert "With today's table" in text


def test_a_pin_that_agrees_with_the_table_is_silent(fixture_recipe, studio):
    pinned = replace(fixture_recipe, pinned=pins_of(fixture_recipe, studio))
    evaluation = evaluate(pinned, studio)
    assert set(pinned.pinned) == {row.material for row in fixture_recipe.base}
    assert evaluation.moved == ()
    assert evaluation.table_formula is None
    assert evaluation.point == evaluate(fixture_recipe, studio).point


def test_a_pin_keeps_a_material_that_left_the_tables(fixture_recipe, studio):
    row = _row(fixture_recipe, "whiting")
    gone = fixture_recipe.with_material(Section.BASE, row, "closed-mine-whiting")
    pin = replace(OLD_WHITING, hazards=("silica-dust",), source="an invented sheet")
    evaluation = evaluate(replace(gone, pinned={"closed-mine-whiting": pin}), studio)
    assert evaluation.missing == ()
    assert State.INCOMPLETE not in evaluation.formula.states
    assert evaluation.material_name("closed-mine-whiting") == "Whiting, old bag"
    assert evaluation.materials["closed-mine-whiting"].hazards == ("silica-dust",)


def test_pins_hold_what_the_recipe_and_its_variants_use(fixture_recipe, studio):
    recipe = replace(
        fixture_recipe,
        base=(*fixture_recipe.base, Ingredient("unheard-of", 1.0)),
        pinned={"whiting": OLD_WHITING, "talc-of-nobody": OLD_WHITING},
    )
    pins = pins_of(recipe, studio)
    assert pins["whiting"].analysis == OLD_WHITING.analysis
    assert set(pins) == {row.material for row in fixture_recipe.base}
    assert material_of(recipe, studio, "unheard-of") is None
    found, missing = resolve(recipe, studio)
    assert set(found) == set(pins)
    assert missing == ("unheard-of",)
    assert total(recipe.base) == 101.0
