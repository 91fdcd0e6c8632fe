"""The reading of odd recipes: each part is said or None, and nothing raises."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from core.evaluate import evaluate
from core.reading.words import soundness, subjects, verdict
from core.recipe import Ingredient, Recipe
from core.report import report
from core.telling import report_text

SILICA = (Ingredient("silica", 10.0),)
ODD = {
    "empty": Recipe("Odd"),
    "no weight": Recipe("Odd", base=(Ingredient("whiting", 0.0),)),
    "no flux": Recipe("Odd", base=(Ingredient("silica", 10.0), Ingredient("kaolin", 5.0))),
    "silica alone": Recipe("Odd", base=SILICA),
    "no silica": Recipe("Odd", base=(Ingredient("whiting", 10.0),)),
    "unknown material": Recipe("Odd", base=(Ingredient("moon-dust", 10.0),)),
    "additions only": Recipe("Odd", additions=(Ingredient("red-iron-oxide", 4.0),)),
}


@pytest.mark.parametrize("firing", ["cone-10-medium", "bisque-cone-06", "nowhere", ""])
@pytest.mark.parametrize("name", ODD)
def test_an_odd_recipe_has_no_surface_and_says_so(studio, name, firing):
    evaluation = evaluate(replace(ODD[name], firing=firing, body="stoneware"), studio)
    reading = evaluation.reading
    assert reading.surface is None
    assert reading.kind is None
    assert reading.marking is None
    assert verdict(reading) == "Nothing to read yet"
    assert soundness(reading).text == "unknown"
    assert subjects(reading)
    found = report(evaluation)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["reading"]["surface"] is None
    text = report_text(evaluation)
    assert any(line.startswith("Reading: ") for line in text.splitlines())
    assert "None" not in text.replace("None of the metals", "")
    assert "nan" not in text.lower().split()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"firing": ""}, "No firing is chosen"),
        ({"firing": "nowhere"}, "The firing is not in the tables"),
        ({"base": SILICA}, "Without flux"),
        ({"base": (Ingredient("whiting", 10.0),)}, "Without silica"),
    ],
)
def test_the_text_says_what_is_lacking(fixture_recipe, studio, change, why):
    text = report_text(evaluate(replace(fixture_recipe, **change), studio))
    assert f"Reading: {why}" in text


@pytest.mark.parametrize(("body", "why"), [("", "No body is chosen"), ("nothing", "No body")])
def test_without_a_body_the_rest_is_read(fixture_recipe, studio, body, why):
    reading = evaluate(replace(fixture_recipe, body=body), studio).reading
    assert reading.surface is not None
    assert reading.fit.verdict is None
    assert reading.fit.stress_mpa is None
    assert reading.fit.reason.startswith(why)


def test_the_base_alone_leaves_the_additions_out(fixture_recipe, studio):
    coloured = replace(fixture_recipe, additions=(Ingredient("copper-carbonate", 4.0),))
    whole = evaluate(coloured, studio).reading
    base = evaluate(coloured, studio, base_alone=True).reading
    assert any(load.oxide == "CuO" for load in whole.release.loads)
    assert not base.release.loads
    assert whole.workability.loss_percent != base.workability.loss_percent


def test_every_part_of_a_whole_recipe_is_read(fixture_recipe, studio):
    reading = evaluate(fixture_recipe, studio).reading
    for part in ("surface", "kind", "healing", "running", "marking", "workability"):
        assert getattr(reading, part) is not None
    assert reading.fit.verdict is not None
