"""The bucket and the coat: gas by hand and by balance, and rules of practice."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from core.evaluate import evaluate
from core.material_table import shipped_materials
from core.materials import Analysis, Material
from core.melt.sheet import CURVE_C
from core.reading.workability import (
    Suspension,
    gas_moles,
    sealing_c,
    workability,
)

TABLE = shipped_materials()
MINERALS = [m for m in TABLE if m.analysis.formula]


def _read(additions=(), seals_c=None, **parts):
    def rows(amounts):
        return [(TABLE.get(m.replace("_", "-")), float(a)) for m, a in amounts]

    return workability(rows(parts.items()), rows(additions), seals_c)


def _ids(found):
    return {remark.id for remark in found.remarks}


def test_a_mole_of_calcite_gives_a_mole_of_gas():
    # 100.09 g of calcite: 22.4 l at 0 °C and 101.325 kPa (CODATA molar volume 22.41 l).
    found = _read(whiting=100)
    assert found.gas_l == pytest.approx(22.414 * 100 / 100.087, rel=1e-4)
    assert found.gases_l == (("CO2", found.gas_l),)
    assert found.loss_percent == pytest.approx(43.97, abs=0.01)


@pytest.mark.parametrize(
    ("material", "gases"),
    [
        # Equations of general chemistry: moles from one mole, molar masses from atomic weights.
        ("kaolin", {"H2O": 2 / 258.16}),
        ("dolomite", {"CO2": 2 / 184.40}),
        ("magnesium-carbonate", {"CO2": 4 / 467.63, "H2O": 5 / 467.63}),
        ("manganese-dioxide", {"O2": 0.5 / 86.94}),
        ("cobalt-oxide-black", {"O2": 0.5 / 240.80}),
        ("sodium-bicarbonate", {"CO2": 2 / 168.01, "H2O": 1 / 168.01}),
        ("borax", {"H2O": 10 / 381.36}),
        ("barium-sulfate", {"SO2": 1 / 233.38, "O2": 0.5 / 233.38}),
        ("potassium-nitrate", {"NO2": 2 / 202.20, "O2": 0.5 / 202.20}),
        ("silica", {}),
    ],
)
def test_gases_of_minerals_by_their_equations(material, gases):
    found = dict(gas_moles(TABLE.get(material).analysis.formula))
    assert found == pytest.approx(gases, rel=2e-3)


@pytest.mark.parametrize("material", MINERALS, ids=lambda m: m.id)
def test_gases_weigh_what_is_lost(material):
    # Conservation of mass; halogens take their hydrogen from outside, and a gain is no gas.
    parts = [part.lstrip("0123456789") for part in material.analysis.formula.split(".")]
    halogens = {"F", "Cl"} & {e for part in parts for e in Formula(part).composition()}
    grams = sum(moles * Formula(gas).mass for gas, moles in gas_moles(material.analysis.formula))
    loss = material.analysis.loi / 100
    if halogens:
        assert grams > 0
    else:
        assert grams == pytest.approx(max(loss, 0.0), abs=1.5e-3)


@pytest.mark.parametrize(
    ("material", "percent"),
    [
        # Computed from atomic weights apart from this program (table of minerals).
        ("whiting", 43.97),
        ("dolomite", 47.73),
        ("kaolin", 13.96),
        ("talc", 4.75),
        ("colemanite", 21.91),
        ("lithium-carbonate", 59.56),
    ],
)
def test_losses_of_pure_materials(material, percent):
    found = workability([(TABLE.get(material), 50.0)])
    assert found.loss_percent == pytest.approx(percent, abs=0.01)
    assert found.loss_error_percent == pytest.approx(percent * 0.02 / 3**0.5, rel=0.001)


def test_the_loss_is_that_of_the_formula(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    rows = [(evaluation.materials[row.material], row.amount) for row in fixture_recipe.base]
    found = workability(rows)
    assert found.loss_percent == pytest.approx(evaluation.formula.loss_on_ignition_percent)


def test_additions_are_counted_in_percent_of_the_base():
    # 50 parts of silica with 10 % of whiting: 5 of whiting in 55.
    found = _read(additions=[("whiting", 10)], silica=50)
    assert found.loss_percent == pytest.approx(43.97 * 10 / 110, abs=0.001)


def test_a_loss_without_formula_is_its_groups_gas_with_a_wider_error():
    # 100 g of this ball clay lose 10.9 g of water: 10.9 / 18.015 x 22.414 = 13.56 l.
    found = _read(ball_clay=100)
    assert dict(found.gases_l) == pytest.approx({"H2O": 13.56}, abs=0.01)
    # One tenth for which gas it is, and 2 % of the analysis over the square root of three.
    assert found.gas_error_l == pytest.approx(13.56 * math.hypot(0.1, 0.02 / 3**0.5), rel=1e-3)
    strange = Material("x", "X", Analysis.from_percent({"SiO2": 70.0}, 30.0))
    assert workability([(strange, 1.0)]).gas_error_l > 0.4 * workability([(strange, 1.0)]).gas_l


@pytest.mark.parametrize(
    ("parts", "suspension", "remark"),
    [
        # Common practice, no source: 10 to 25 % of raw clay, calcine above 25 to 30 %, 1 to 3 %
        # of bentonite where there is little clay.
        ({"silica": 92, "kaolin": 8}, Suspension.SETTLES, "clay-little"),
        ({"silica": 94, "kaolin": 4, "bentonite": 2}, Suspension.HOLDS, None),
        ({"silica": 80, "kaolin": 20}, Suspension.HOLDS, None),
        ({"silica": 72, "kaolin": 28}, Suspension.HOLDS, "clay-much"),
        ({"silica": 60, "kaolin": 20, "ball_clay": 20}, Suspension.CRAWLS, "clay-much"),
        # Binns (1910): calcine part of the clay.
        ({"silica": 60, "kaolin": 20, "calcined_kaolin": 20}, Suspension.HOLDS, None),
        ({"silica": 80, "kaolin": 15, "bentonite": 5}, Suspension.HOLDS, "bentonite-much"),
        # Pyrophyllite is of the clays' kin, yet not plastic.
        ({"silica": 60, "pyrophyllite": 40}, Suspension.SETTLES, "clay-little"),
    ],
)
def test_clay_by_practice(parts, suspension, remark):
    found = _read(**parts)
    assert found.suspension is suspension
    spoken = {name for name in _ids(found) if name.startswith(("clay", "bentonite"))}
    assert spoken == ({remark} if remark else set())


def test_bulky_and_soluble_materials_are_named():
    found = _read(silica=60, kaolin=20, magnesium_carbonate=10, borax=10)
    assert found.bulky_percent == 10
    assert found.soluble_percent == 10
    assert {"magnesium-carbonate", "soluble-borax"} <= _ids(found)
    assert not _ids(_read(silica=80, kaolin=20, talc=0))


def test_gas_that_comes_after_the_coat_seals_is_counted():
    # Barium carbonate gives off its gas from 900 to 1300 °C (from memory, table of practice).
    late = _read(silica=50, kaolin=20, barium_carbonate=30, seals_c=900.0)
    assert late.late_gas_l == pytest.approx(22.414 * 30 / 197.33, rel=1e-3)
    assert "gas-late" in _ids(late)
    half = _read(silica=50, kaolin=20, barium_carbonate=30, seals_c=1100.0)
    assert half.late_gas_l == pytest.approx(late.late_gas_l / 2)
    # 50 K either way of 400 K, and the formula's own error.
    assert half.late_gas_error_l == pytest.approx(late.late_gas_l / 8, rel=0.01)
    assert _read(silica=50, kaolin=20, whiting=30, seals_c=950.0).late_gas_l == 0


def test_the_coat_seals_where_its_glass_softens(fixture_recipe, studio):
    sheet = evaluate(fixture_recipe, studio).melt
    # Softening point: 10^6.6 Pa·s, from memory (ASTM C338).
    assert np.interp(sealing_c(sheet), CURVE_C, sheet.curve) == pytest.approx(6.6, abs=0.001)
    assert sealing_c(None) is None


def test_nothing_weighed_is_none():
    assert workability([]) is None
    assert workability([(TABLE.get("silica"), 0.0)]) is None


def test_every_remark_has_a_source():
    base = {"silica": 10, "kaolin": 30, "borax": 20, "magnesium_carbonate": 20, "bentonite": 5}
    base |= {"barium_carbonate": 30, "colemanite": 20}
    found = _read(additions=[("lithium-carbonate", 10)], **base)
    assert len(found.remarks) >= 8
    for remark in found.remarks:
        assert remark.source
        assert remark.confidence in {"practice", "memory"}
        assert remark.says.endswith(".")
    assert len(_ids(found)) == len(found.remarks)


@given(st.lists(st.tuples(st.sampled_from(list(TABLE)), st.floats(0, 1e4)), max_size=20))
def test_any_batch_has_finite_figures(rows):
    found = workability(rows)
    if found is not None:
        assert 0 <= found.late_gas_l <= found.gas_l + 1e-9
        assert found.gas_l < 200
        assert found.gas_l == pytest.approx(sum(litres for _, litres in found.gases_l))
