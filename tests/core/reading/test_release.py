"""Release: printed limits of lead and cadmium, loads of metals, and no promise anywhere."""

from __future__ import annotations

import numpy as np
import periodictable
import pytest

from core.evaluate import evaluate
from core.oxides import INDEX, OXIDES
from core.reading.release import (
    TRACE_PERCENT,
    leach,
    leach_tests,
    limits_line,
    load_line,
    release,
)
from core.tables import data_folder

ASKED = ("PbO", "BaO", "Li2O", "MnO", "Cr2O3", "NiO", "CoO", "V2O5", "CuO")


def _fired(**percent):
    found = np.zeros(len(OXIDES))
    for oxide, value in percent.items():
        found[INDEX[oxide]] = value
    return found


def _limits(name):
    test = next(t for t in leach_tests() if t.id == name)
    return [(float(row.lead), row.cadmium, row.unit) for row in test.limits]


def test_the_limits_of_the_european_directive():
    # Published: Directive 84/500/EEC, article 2(4), consolidated 20 May 2005: flat ware, other
    # ware that can be filled, cooking ware and storage above 3 l.
    assert _limits("eu-84-500") == [
        (0.8, 0.07, "mg/dm2"),
        (4.0, 0.3, "mg/l"),
        (1.5, 0.1, "mg/l"),
    ]


def test_the_limits_of_the_food_and_drug_administration():
    # Published: lead, FDA Food Code 4-101.13 (flatware, small, large, cups, pitchers); cadmium,
    # Compliance Policy Guide 545.400 (flatware, small, large).
    assert _limits("us-fda") == [
        (3.0, 0.5, "mg/l"),
        (2.0, 0.5, "mg/l"),
        (1.0, 0.25, "mg/l"),
        (0.5, None, "mg/l"),
        (0.5, None, "mg/l"),
    ]


def test_the_international_limits_are_told_as_remembered():
    # From memory (ISO 6486-2:1999, table 1), so they decide nothing here but their own label.
    iso = next(t for t in leach_tests() if t.id == "iso-6486")
    assert iso.confidence == "memory"
    assert "[memory]" in limits_line(iso)
    assert "ISO 6486-1" in iso.method
    assert len(iso.limits) == 6


def test_the_leaching_of_the_directive():
    # Published: Directive 84/500/EEC, annex I: 4 % by volume, 22 ± 2 °C, 24 ± 0.5 h.
    test = leach()
    assert "4 %" in test.liquid
    figures = (test.temperature_c, test.temperature_tolerance_c, test.hours, test.hours_tolerance)
    assert figures == (22, 2, 24, 0.5)


@pytest.mark.parametrize("oxide", ASKED)
def test_each_metal_that_is_asked_about_shows_its_load(oxide):
    (load,) = release(_fired(**{oxide: 10.0})).loads
    assert load.oxide == oxide
    assert load.matters
    assert load.oxide_error == pytest.approx(10.0 * 0.02 / 3**0.5)  # JCGM 100:2008, 4.3.7
    # Atomic weights of another library than the one that the shares come from.
    symbol = oxide[:2].rstrip("2")
    atoms = 2 if oxide[len(symbol)] == "2" else 1
    alone = atoms * periodictable.elements.symbol(symbol).mass / periodictable.formula(oxide).mass
    assert load.metal_percent == pytest.approx(10.0 * alone, rel=1e-4)
    assert load.source


def test_lead_matters_in_any_amount_and_traces_of_others_are_left_out():
    assert release(_fired(PbO=0.02)).loads[0].matters
    assert not release(_fired(CuO=TRACE_PERCENT / 2)).loads
    (little,) = release(_fired(CuO=1.0)).loads
    assert not little.matters
    assert "3.6" in load_line(little)


def test_what_matters_comes_first():
    loads = release(_fired(CuO=3.0, CoO=2.0, BaO=4.0, PbO=0.5)).loads
    assert [load.metal for load in loads] == ["cobalt", "lead", "barium", "copper"]
    assert "measured" in load_line(loads[0])


def test_a_given_error_is_taken():
    error = np.full(len(OXIDES), 0.1)
    assert release(_fired(CuO=5.0), error).loads[0].oxide_error == pytest.approx(0.5)


def test_dull_surfaces_are_said_to_give_up_more():
    dull = {"glossy": 0.1, "satin": 0.2, "matte": 0.4, "underfired": 0.3}
    assert "0.70" in release(_fired(CuO=5.0), None, dull).reason
    bright = {"glossy": 0.9, "satin": 0.1, "matte": 0.0, "underfired": 0.0}
    assert "give up more" not in release(_fired(CuO=5.0), None, bright).reason


def test_the_share_of_a_copper_glaze_by_hand(base_of, studio):
    # 100 parts without loss and 5 of copper oxide: 5/105 = 4.762 % CuO, x 63.546/79.545 = 3.804.
    recipe = base_of(potash_feldspar=60, silica=20, wollastonite=20, copper_oxide=5.0)
    (load,) = release(evaluate(recipe, studio).formula.weight_percent).loads
    assert load.oxide_percent == pytest.approx(100 * 5 / 105, abs=0.001)
    assert load.metal_percent == pytest.approx(3.804, abs=0.002)


def test_it_says_who_decides_and_what_the_limits_leave_out():
    for found in (release(None), release(_fired(SiO2=100.0))):
        assert not found.loads
        assert "accredited laboratory" in found.who_decides
        assert "Local rules" in found.who_decides
        assert "only of lead and cadmium" in found.scope
        assert "Cadmium" in found.unseen
        assert "the test stands" in found.reason
        assert {test.id for test in found.tests} == {"iso-6486", "eu-84-500", "us-fda"}


def test_no_word_of_it_calls_ware_safe():
    # Source: design, section 5: what must be tested, never a promise.
    text = (data_folder() / "release_tests.yaml").read_text(encoding="utf-8")
    loads = release(_fired(**dict.fromkeys(ASKED, 5.0))).loads
    text += " ".join(load_line(load) for load in loads)
    text += " ".join(limits_line(test) for test in leach_tests())
    text = " ".join(text.lower().split())
    for words in ("food safe", "food-safe", "safe for food", "is safe", "are safe", "harmless"):
        assert words not in text
