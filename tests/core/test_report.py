"""The object that scripts read: every key of the contract, and figures that follow from it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from statistics import NormalDist

import pytest

from core.evaluate import evaluate
from core.recipe import Ingredient, Recipe
from core.report import report
from core.telling import cautions, report_text

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
UNBUILT = {"melt": ["crystal_um"]}


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
    # Common practice, no source: 5 to 7 satin.
    assert "SiO2:Al2O3 6.17  (trade rule by ratio alone: satin)" in lines
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
    assert "None" not in text.replace("None of the metals", "")


FIRED = ("cone-10-medium", "cone-10-slow-cool", "cone-6-slow-cool", "cone-04-medium")
RECIPES = {
    "magnesia": {"potash_feldspar": 42, "talc": 16, "whiting": 12, "kaolin": 20, "silica": 10},
    "lime": {"potash_feldspar": 40, "silica": 30, "whiting": 20, "kaolin": 10},
    "zinc": {"soda_feldspar": 40, "zinc_oxide": 30, "silica": 25, "kaolin": 5},
    "baria": {"nepheline_syenite": 45, "barium_carbonate": 30, "silica": 15, "kaolin": 10},
    "no alumina": {"whiting": 40, "silica": 60},
}


def _logistic(x):
    return 1 / (1 + math.exp(-x))


def _filled(reason, alumina):
    rule = reason["rule"]
    filled = _logistic((reason["value"] - rule["middle"]) / rule["width"])
    if rule["alumina_below"] is not None:
        filled *= _logistic((rule["alumina_below"] - alumina) / rule["alumina_width"])
    return filled


def _contribution(reason, reading):
    """Work one reason out again from its printed value and rule, by the documented forms."""
    value, rule = reason["value"], reason["rule"]
    if rule is None:
        # The margin against its error, along the logarithm of the ray.
        return -math.log1p(value / 100) * (100 + value) / reason["error"]
    if rule["form"] == "bend":
        value = math.log(value) if rule["of"].startswith("ln(") else value
        return rule["cap"] * math.tanh(rule["weight"] * (value - rule["middle"]) / rule["cap"])
    if rule["form"] == "step":
        return rule["weight"] * _filled(reason, reading["alumina"])
    steps = [r for r in reading["reasons"] if r["rule"] and r["rule"]["form"] == "step"]
    ready = max(_filled(step, reading["alumina"]) for step in steps)
    longer = math.log2((value + rule["width"]) / (rule["middle"] + rule["width"]))
    return rule["weight"] * longer * (rule["readiness"] + (1 - rule["readiness"]) * ready)


@pytest.mark.parametrize("firing", FIRED)
@pytest.mark.parametrize("name", RECIPES)
def test_the_reading_follows_from_the_printed_object_alone(base_of, studio, name, firing):
    evaluation = evaluate(replace(base_of(**RECIPES[name]), firing=firing), studio)
    reading = json.loads(json.dumps(report(evaluation)))["reading"]
    for reason in reading["reasons"]:
        assert _contribution(reason, reading) == pytest.approx(reason["contribution"], abs=1e-9)
    score = sum(r["contribution"] for r in reading["reasons"] if r["toward"] == "matte")
    assert score == pytest.approx(reading["score"], abs=1e-9)
    against = sum(r["contribution"] for r in reading["reasons"] if r["toward"] == "underfired")
    under = NormalDist().cdf(against)
    glossy = _logistic(reading["edges"]["glossy_satin"] - score)
    matte = _logistic(score - reading["edges"]["satin_matte"])
    melted = 1 - under
    expected = {
        "glossy": glossy * melted,
        "satin": (1 - glossy - matte) * melted,
        "matte": matte * melted,
        "underfired": under,
    }
    assert reading["probabilities"] == pytest.approx(expected, abs=1e-9)
    assert reading["surface"] == max(expected, key=expected.get)


def test_every_reason_has_a_figure_a_source_and_its_confidence(whole):
    reasons = whole["reading"]["reasons"]
    assert reasons[0]["id"] == "melt-margin"
    assert len({r["id"] for r in reasons}) == len(reasons) >= 8
    for reason in reasons:
        assert math.isfinite(reason["value"])
        assert reason["source"]
        assert reason["confidence"] in {"published", "computed", "memory", "practice", "mixed"}
        assert reason["toward"] in {"matte", "underfired"}
    margin = reasons[0]
    assert margin["value"] == whole["reading"]["melt_margin_percent"]
    assert margin["error"] == whole["reading"]["melt_margin_error_percent"]


def test_the_whiting_left_out_is_underfired_at_the_same_ratio(fixture_recipe, studio):
    # Common practice, no source: without its whiting it does not melt at cone 10.
    base = tuple(row for row in fixture_recipe.base if row.material != "whiting")
    without = report(evaluate(replace(fixture_recipe, base=base), studio))
    whole = report(evaluate(fixture_recipe, studio))
    ratio = whole["ratios"]["silica_alumina"]
    assert without["ratios"]["silica_alumina"] == pytest.approx(ratio, abs=1e-9)
    assert whole["reading"]["melt_margin_percent"] > 0 > without["reading"]["melt_margin_percent"]
    assert without["reading"]["soundness"] == "suspect underfired"
    assert "matte" not in without["reading"]["kind"]


def test_without_a_firing_the_surface_is_null_and_the_fit_is_there(fixture_recipe, studio):
    found = report(evaluate(replace(fixture_recipe, firing=""), studio))
    reading = found["reading"]
    for key in ("surface", "kind", "probabilities", "melt_margin_percent", "score", "verdict"):
        assert reading[key] is None
    assert reading["reasons"] == []
    assert reading["soundness"] == "unknown"
    assert found["healing"] is found["running"] is found["marking"] is None
    assert found["melt"]["healing"] is None
    assert found["fit"]["verdict"] is not None
    text = report_text(evaluate(replace(fixture_recipe, firing=""), studio))
    assert "Reading: No firing is chosen: choose one to read the surface." in text.splitlines()


def test_loads_and_tests_of_release_are_listed(fixture_recipe, studio):
    coloured = replace(fixture_recipe, additions=(Ingredient("copper-carbonate", 12.0),))
    release = report(evaluate(coloured, studio))["release"]
    copper = next(load for load in release["loads"] if load["oxide"] == "CuO")
    assert copper["matters"]
    assert 0 < copper["metal_percent"] < copper["oxide_percent"]
    # Source: the standards of release that the design names.
    names = " ".join(test["name"] for test in release["tests"])
    assert all(name in names for name in ("ISO 6486", "84/500/EEC", "FDA"))
    assert all(test["limits"] for test in release["tests"])


def test_the_text_leads_with_the_verdict_and_says_nothing_twice(studio, base_of):
    recipe = base_of(soda_feldspar=30, talc=25, kaolin=32, whiting=8, bentonite=5)
    evaluation = evaluate(replace(recipe, firing="cone-10-medium", body="stoneware"), studio)
    text = report_text(evaluation)
    lines = text.splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("Reading: "))
    assert "melt margin" in lines[at]
    assert lines.index("Why") > at
    assert lines.index("Cautions") > lines.index("What to have tested")
    assert " ".join(text.split()).count("makes the coat crack") == 1
    assert " ".join(text.split()).count("calcine part of it") == 1
    assert max(len(line) for line in lines[at + 2 : lines.index("Cautions")]) <= 100
