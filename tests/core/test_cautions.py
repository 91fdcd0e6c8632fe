"""Cautions: each hazard once, with what brings it, and what every card carries."""

from __future__ import annotations

import re

import pytest

from core.cautions import bearings, cautions_for, general_cautions, hazards
from core.material_table import shipped_materials
from core.materials import Analysis, Material

SILICA = Analysis.from_formula("SiO2")


def test_each_hazard_is_said_once_with_all_that_bring_it():
    table = shipped_materials()
    lines = cautions_for([table.get("kaolin"), table.get("silica"), table.get("ball-clay")])
    assert len(lines) == 2
    assert lines[0][1] == [table.get("kaolin").name, table.get("ball-clay").name]
    assert lines[1][1] == [table.get("silica").name]
    assert "mask" in lines[1][0]


def test_statement_codes_stand_behind_the_words():
    # Source: minerals.yaml, from memory of EU CLP Annex VI: barium carbonate is H302.
    text, _ = cautions_for([shipped_materials().get("barium-carbonate")])[0]
    assert text.endswith("(H302)")


def test_a_hazard_that_the_table_does_not_know_points_to_the_data_sheet():
    ((text, names),) = cautions_for([Material("x", "X", SILICA, hazards=("moon-rays",))])
    assert "moon-rays" in text
    assert "safety data sheet" in text
    assert names == ["X"]


def test_nothing_hazardous_brings_no_line():
    assert cautions_for([]) == []
    assert cautions_for([Material("x", "X", SILICA)]) == []


def test_every_hazard_has_words_and_sound_codes_and_a_source():
    for hazard in hazards().values():
        assert hazard.says.endswith(".")
        assert hazard.source
        # The form of hazard statement codes: GHS, annex 3.
        assert all(re.fullmatch(r"H[234]\d\d[A-Za-z]{0,2}", code) for code in hazard.statements)


def test_every_recipe_is_told_to_test_ware_and_heed_local_rules():
    # Source: design, section 5: what must be tested, never a promise.
    text = " ".join(caution.says for caution in general_cautions()).lower()
    for word in ("dust", "ventilate", "food", "accredited laboratory", "local rules", "data sheet"):
        assert word in text
    assert "food safe" not in text
    assert "safe for food" not in text


@pytest.mark.parametrize(
    ("oxide", "word"),
    [
        ("PbO", "lead"),
        ("BaO", "barium"),
        ("Li2O", "lithium"),
        ("MnO", "manganese"),
        ("Cr2O3", "chromium"),
        ("NiO", "nickel"),
        ("CoO", "cobalt"),
        ("V2O5", "vanadium"),
        ("CuO", "copper"),
    ],
)
def test_a_metal_in_an_analysis_is_cautioned_against_without_a_hazard(oxide, word):
    stain = Material("stain", "Stain", Analysis.from_percent({oxide: 30.0, "SiO2": 70.0}, 0.0))
    ((text, names),) = cautions_for([stain])
    assert word in text
    assert "data sheet" in text
    assert names == ["Stain"]


def test_a_shipped_material_says_each_metal_once():
    # Of the shipped ones barium sulfate alone holds a metal that none of its hazards names.
    told = {m.name for m in shipped_materials() if any("Holds" in t for t, _ in cautions_for([m]))}
    assert told == {shipped_materials().get("barium-sulfate").name}


def test_a_trace_of_a_metal_is_no_caution():
    clay = Analysis.from_percent({"SiO2": 60.0, "Al2O3": 39.0, "MnO": 0.1, "Cr2O3": 0.03}, 0.9)
    assert cautions_for([Material("clay", "Clay", clay)]) == []


def test_every_metal_that_is_looked_for_leaves_to_hazards_that_exist():
    for row in bearings():
        assert set(row.unless) <= set(hazards())
        assert row.source


def test_cadmium_is_known_for_a_studios_own_stains():
    ((text, _),) = cautions_for([Material("red", "Red stain", SILICA, hazards=("cadmium",))])
    assert "Cadmium" in text
