"""Analyses of materials against the table of ideal minerals, and how materials are found."""

from __future__ import annotations

import numpy as np
import pytest

from core.errors import InputError
from core.materials import Analysis, Material, MaterialTable
from core.oxides import INDEX, MOLAR_MASS

# The table writes ilmenite's iron as FeO. The basis counts iron as Fe2O3, so its figures
# differ: the oxygen that it gains makes the loss negative.
AS_FE2O3 = {"ilmenite"}
PRINTED = 0.005 + 100 * 1e-5
"""Half of the last printed place; the table's abridged weights are up to 1e-5 off in a mineral."""


def test_ideal_minerals_have_the_analyses_of_the_table(minerals):
    # Source: minerals.yaml, oxide_wt and loi_percent, computed from IUPAC abridged weights.
    compared = 0
    for name, entry in minerals["materials"].items():
        if name in AS_FE2O3:
            continue
        analysis = Analysis.from_formula(entry["formula"], name)
        assert dict(analysis.percent) == pytest.approx(entry["oxide_wt"], abs=PRINTED), name
        assert analysis.loi == pytest.approx(entry["loi_percent"], abs=PRINTED), name
        compared += 1
    assert compared == 62


def test_ilmenite_gains_the_oxygen_that_its_iron_takes_up(minerals):
    # Source: minerals.yaml: 47.36 % FeO, 52.64 % TiO2, "a gain of 5.3 %" in oxidation.
    entry = minerals["materials"]["ilmenite"]
    masses = minerals["oxide_molar_mass"]["values"]
    analysis = Analysis.from_formula(entry["formula"])
    iron = entry["oxide_wt"]["FeO"] * masses["Fe2O3"] / (2 * masses["FeO"])
    found = dict(analysis.percent)
    assert found["Fe2O3"] == pytest.approx(iron, abs=0.01)
    assert found["TiO2"] == pytest.approx(entry["oxide_wt"]["TiO2"], abs=PRINTED)
    assert analysis.loi == pytest.approx(-5.3, abs=0.05)


def test_an_analysis_is_turned_into_moles_by_the_molar_masses():
    # By hand with IUPAC abridged weights: 56.03 g of CaO in 100 g are 56.03 / 56.077 mol.
    material = Material("w", "W", Analysis.from_percent({"CaO": 56.03}, 43.97))
    assert material.moles_per_gram[INDEX["CaO"]] == pytest.approx(56.03 / 56.077 / 100, rel=1e-6)
    assert material.moles_per_gram.sum() == material.moles_per_gram[INDEX["CaO"]]
    with pytest.raises(ValueError, match="read-only"):
        material.moles_per_gram[0] = 1.0


def test_formula_and_analysis_give_the_same_moles(minerals):
    for name, entry in minerals["materials"].items():
        analysis = Analysis.from_formula(entry["formula"])
        moles = Material(name, name, analysis).moles_per_gram
        assert 100 * moles @ MOLAR_MASS + analysis.loi == pytest.approx(100.0, abs=1e-9), name
        assert analysis.total == pytest.approx(100.0, abs=1e-9)


def test_an_oxide_outside_the_basis_is_named_with_its_material():
    # Source: design, section 4.
    with pytest.raises(InputError, match=r"Odd spar.*'Rb2O'"):
        Analysis.from_percent({"SiO2": 60, "Rb2O": 0.06}, 0, "Odd spar")


def test_a_negative_figure_is_refused():
    with pytest.raises(InputError, match="Odd spar: SiO2 is negative"):
        Analysis.from_percent({"SiO2": -1.0}, 0, "Odd spar")


@pytest.mark.parametrize(
    ("silica", "odd"), [(97.9, True), (98, False), (102, False), (102.1, True)]
)
def test_a_total_outside_98_to_102_is_a_warning(silica, odd):
    # Source: design, section 4.
    material = Material("s", "Sand", Analysis.from_percent({"SiO2": silica}, 0))
    assert bool(material.warnings) is odd
    assert all("Sand" in warning for warning in material.warnings)


def test_a_figure_without_a_tolerance_may_be_off_by_two_percent():
    # Source: design, section 4.
    analysis = Analysis.from_percent({"SiO2": 66, "K2O": 11}, 0.4, tolerance={"K2O": 5})
    tolerance = Material("s", "Spar", analysis).relative_tolerance
    assert tolerance[INDEX["K2O"]] == pytest.approx(0.05)
    assert tolerance[INDEX["SiO2"]] == pytest.approx(0.02)


def test_the_order_of_the_figures_does_not_make_another_analysis():
    a = Analysis.from_percent({"SiO2": 66, "K2O": 11}, 0.4, tolerance={"SiO2": 1, "K2O": 5})
    b = Analysis.from_percent({"K2O": 11, "SiO2": 66}, 0.4, tolerance={"K2O": 5, "SiO2": 1})
    assert a == b
    assert hash(a) == hash(b)


SPAR = Analysis.from_formula("K2O.Al2O3.6SiO2")
TABLE = MaterialTable(
    [
        Material("bone-ash", "Bone ash", SPAR, ("calcium phosphate",)),
        Material("potash-feldspar", "Potash feldspar, ideal", SPAR, ("orthoclase", "spath")),
        Material("feldspar-x", "Feldspar X", SPAR),
        Material("creme", "Crème", SPAR),
    ]
)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("feldspar", ["feldspar-x", "potash-feldspar"]),
        ("ORTHO", ["potash-feldspar"]),
        ("pot fel", ["potash-feldspar"]),
        ("potash-feldspar", ["potash-feldspar"]),
        ("creme", ["creme"]),
        ("ash", ["bone-ash", "potash-feldspar"]),
        ("zzz", []),
    ],
)
def test_materials_are_found_by_the_beginnings_of_their_words(words, found):
    assert [m.id for m in TABLE.find(words)] == found


def test_no_words_find_everything():
    assert TABLE.find("  ") == list(TABLE)


def test_the_front_table_wins_and_the_rest_stands_behind():
    own = Material("creme", "Our cream", SPAR, origin="studio")
    both = MaterialTable([own]).over(TABLE)
    assert both.get("creme") is own
    assert len(both) == len(TABLE)
    assert next(iter(both)) is own
    assert "bone-ash" in both
    assert both.get("nothing") is None
    assert TABLE.get("creme").name == "Crème"


def test_materials_compare_by_value_though_they_hold_an_array():
    a, b = (Material("s", "S", SPAR) for _ in range(2))
    assert a == b
    assert hash(a) == hash(b)
    assert not np.shares_memory(a.moles_per_gram, b.moles_per_gram)
