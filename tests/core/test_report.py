"""The object that scripts read: every key of the contract, null where no model is built."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from core.evaluate import evaluate
from core.recipe import Ingredient, Recipe
from core.report import cautions, report, report_text

# Source: design, section 8.
KEYS = {
    "": "name variant firing body convention incomplete unity mol_percent weight_percent "
    "loss_on_ignition_percent ratios reading melt fit cautions",
    "firing": "id cone peak_c",
    "body": "id",
    "ratios": "silica_alumina r2o_share magnesia_share",
    "reading": "surface kind soundness probabilities melt_margin_percent reasons",
    "melt": "log10_viscosity_at_peak log10_viscosity_error liquidus_c liquidus_error_c "
    "surface_tension_n_m healing crystal_um glass_transition_c",
    "fit": "glaze_expansion glaze_expansion_error body_expansion stress_mpa verdict",
}
UNBUILT = {
    "reading": KEYS["reading"].split(),
    "melt": ["healing", "crystal_um"],
    "fit": ["stress_mpa", "verdict"],
}


@pytest.fixture(scope="module")
def whole(fixture_recipe, studio):
    return report(evaluate(fixture_recipe, studio))


@pytest.mark.parametrize("recipe", ["fixture", "empty"])
@pytest.mark.parametrize("part", KEYS)
def test_every_key_of_the_contract_is_there(fixture_recipe, studio, recipe, part):
    chosen = fixture_recipe if recipe == "fixture" else Recipe()
    found = report(evaluate(chosen, studio))
    assert set(KEYS[part].split()) <= set(found[part] if part else found)


@pytest.mark.parametrize("part", UNBUILT)
def test_what_no_model_gives_is_null(whole, part):
    assert all(whole[part][key] is None for key in UNBUILT[part])


def test_the_figures_are_those_of_the_fixture(whole):
    # Source: design, section 7.
    assert whole["name"] == "Fixture"
    assert whole["variant"] is None
    assert whole["firing"] == {"id": "cone-10-medium", "cone": "10", "peak_c": 1285}
    assert whole["heat"]["cone_reached"] == "cone 10"
    assert whole["body"] == {"id": "stoneware"}
    assert whole["incomplete"] == []
    assert whole["unity"] == pytest.approx(
        {"K2O": 0.234, "CaO": 0.372, "MgO": 0.393, "Al2O3": 0.475, "SiO2": 2.929}, abs=0.0006
    )
    assert whole["weight_percent"]["SiO2"] == pytest.approx(62.13, abs=0.01)
    assert sum(whole["weight_percent"].values()) == pytest.approx(100)
    assert sum(whole["mol_percent"].values()) == pytest.approx(100)
    assert whole["loss_on_ignition_percent"] == pytest.approx(8.83, abs=0.01)
    assert whole["ratios"]["silica_alumina"] == pytest.approx(6.17, abs=0.0051)
    assert list(whole["unity_error"]) == list(whole["unity"])
    assert "sum to 1" in whole["convention"]


def test_the_object_is_plain_json(fixture_recipe, studio):
    found = report(evaluate(fixture_recipe, studio), "A")
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["variant"] == "A"


def test_a_cone_stays_text(fixture_recipe, studio):
    found = report(evaluate(replace(fixture_recipe, firing="bisque-cone-06"), studio))
    assert found["firing"] == {"id": "bisque-cone-06", "cone": "06", "peak_c": 998}


def test_an_unnamed_firing_or_body_is_null(studio):
    found = report(evaluate(Recipe("x", base=(Ingredient("talc", 1.0),)), studio))
    assert found["firing"] == {"id": None, "cone": None, "peak_c": None}
    assert set(found["heat"].values()) == {None}
    assert found["body"] == {"id": None}
    assert found["fit"]["body_expansion"] is None


def test_the_lists_of_a_reading_are_plain_text(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    found = cautions(evaluation)
    assert found == report(evaluation)["cautions"]
    names = [evaluation.material_name(row.material) for row in fixture_recipe.base]
    # Silica and talc dust, then what always holds.
    assert any("silica" in line.lower() and names[4] in line for line in found)
    assert any(names[1] in line and "asbestos" in line for line in found)
    assert "safety data sheet" in found[-1]


def test_no_text_promises_ware_for_food(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    for text in (report_text(evaluation), json.dumps(report(evaluation))):
        assert "food safe" not in text.lower()
        assert "food-safe" not in text.lower()
        assert "accredited laboratory" in text


def test_the_text_holds_the_figures_rows_and_cautions(fixture_recipe, studio):
    coloured = replace(fixture_recipe, additions=(Ingredient("red-iron-oxide", 2.5),))
    text = report_text(evaluate(coloured, studio), "B")
    lines = text.splitlines()
    assert lines[0] == "Fixture, variant B"
    assert "cone 10, peak 1285 °C" in lines[1]
    talc = next(line for line in lines if line.startswith(studio.materials.get("talc").name))
    assert talc.split()[-2:] == ["16.00", "16.00"]
    silica = next(line for line in lines if line.startswith("SiO2 "))
    assert silica.split()[1] == "2.929"
    assert "SiO2:Al2O3 6.17" in lines
    assert any("additions" in line for line in lines)
    assert "Cautions" in lines


@pytest.mark.parametrize(
    "base",
    [(), (Ingredient("silica", 0.0),), (Ingredient("silica", 5.0),), (Ingredient("gone", 5.0),)],
    ids=["no rows", "no weight", "no flux", "unknown"],
)
def test_the_text_of_an_odd_recipe_says_why(studio, base):
    evaluation = evaluate(Recipe("Odd", base=base), studio)
    text = report_text(evaluation)
    assert all(str(state) in text for state in evaluation.formula.states)
    assert evaluation.formula.states
    assert "nan" not in text.lower().split()
    assert "None" not in text
