"""The reading in words: signs, errors beside figures, and no promise about food."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from core.evaluate import evaluate
from core.reading.words import (
    Tone,
    finite,
    margin_words,
    reason_words,
    soundness,
    subjects,
    verdict,
)
from core.recipe_file import read_recipe
from core.studio import open_studio
from core.tables import data_folder
from core.telling import report_text

DEMO = data_folder() / "demo-studio"
FIRINGS = ("cone-10-medium", "cone-10-slow-cool", "cone-6-medium", "cone-04-medium")
NAMES = sorted(path.stem for path in (DEMO / "recipes").glob("*.yaml"))


@pytest.fixture(scope="module")
def demo():
    return open_studio(DEMO)


def _said(reading):
    lines = [line for subject in subjects(reading) for line in subject.lines]
    texts = [text for line in lines for text in (line.text, line.more, line.source)]
    return [verdict(reading), soundness(reading).text, *texts]


@pytest.mark.parametrize("firing", FIRINGS)
@pytest.mark.parametrize("name", [*NAMES, ""])
def test_nothing_is_called_safe_for_food(fixture_recipe, demo, name, firing):
    recipe = read_recipe(DEMO / "recipes" / f"{name}.yaml") if name else fixture_recipe
    evaluation = evaluate(replace(recipe, firing=firing), demo)
    reading = evaluation.reading
    written = "\n".join((*_said(reading), report_text(evaluation)))
    told = written.lower()
    assert not re.search(r"food[\s-]*safe|safe\s+(for|with|to)\s+(food|eat|drink)", told)
    assert "will not craze" not in told
    assert "accredited laboratory" in " ".join(told.split())
    assert not re.search(r"\b(nan|inf|None)\b", written.replace("None of the metals", ""))
    # Chemistry alone expects; it proves nothing.
    assert "proven" not in soundness(reading).text


@pytest.mark.parametrize("name", NAMES)
def test_every_line_is_a_sentence_with_a_tone(demo, name):
    found = subjects(evaluate(read_recipe(DEMO / "recipes" / f"{name}.yaml"), demo).reading)
    titles = [subject.title for subject in found]
    assert len(set(titles)) == len(titles)
    for subject in found:
        assert subject.lines
        for line in subject.lines:
            assert line.tone in Tone
            assert line.text[0] == line.text[0].upper()
            assert line.text.endswith((".", "?", "!"))
            assert ".." not in line.text


def test_what_is_underfired_stops_and_is_no_matte(fixture_recipe, studio):
    # Common practice, no source: a cone 10 glaze does not melt at cone 04.
    hot = evaluate(fixture_recipe, studio).reading
    cold = evaluate(replace(fixture_recipe, firing="cone-04-medium"), studio).reading
    assert soundness(hot).tone is Tone.GOOD
    assert soundness(cold).tone is Tone.STOP
    assert verdict(cold).startswith("Underfired (")
    assert "matte" not in verdict(cold)
    assert "−" in margin_words(cold.surface)
    assert "-" not in margin_words(cold.surface)
    healing = next(s for s in subjects(cold) if s.title == "Bubbles and running").lines[0]
    assert healing.tone is Tone.STOP


def test_predictions_carry_their_errors(fixture_recipe, studio):
    reading = evaluate(fixture_recipe, studio).reading
    assert re.fullmatch(r"melt margin [+−]\d+ ± \d+ %", margin_words(reading.surface))
    assert re.fullmatch(r"[A-Z].* \(\d+ %\)", verdict(reading))
    with_errors = [r for r in reading.surface.reasons if r.error is not None]
    assert {r.id for r in with_errors} >= {"melt-margin", "viscosity", "liquidus"}
    assert all("±" in reason_words(reason) for reason in with_errors)
    fit = next(s for s in subjects(reading) if s.title == "Fit to the body").lines[0]
    assert re.search(r"\d+ ± \d+ MPa of (pull|squeeze)", fit.text)


def test_a_margin_beyond_what_is_reported_says_over(studio, base_of):
    molten = replace(base_of(borax=80, soda_feldspar=20), firing="cone-10-medium")
    surface = evaluate(molten, studio).reading.surface
    assert surface.melt_margin_clamped
    assert margin_words(surface) == "melt margin over +300 %"


def test_without_a_firing_there_is_nothing_to_read_yet(fixture_recipe, studio):
    reading = evaluate(replace(fixture_recipe, firing=""), studio).reading
    assert verdict(reading) == "Nothing to read yet"
    assert soundness(reading).text == "unknown"
    titles = {subject.title for subject in subjects(reading)}
    assert "Why" not in titles
    assert "Fit to the body" in titles


def test_only_finite_figures_pass():
    assert [finite(v) for v in (1.5, None, float("nan"), float("inf"))] == [1.5, None, None, None]
