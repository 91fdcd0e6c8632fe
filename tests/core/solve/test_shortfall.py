"""Formulas out of reach: the oxide is named, and the kind of material that is missing."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from core.material_table import shipped_materials
from core.solve import Goal, Lack, Limits, Others, Wish, aim, wish_for
from core.solve.kinds import CATALOGUE, advice_to_bring

CASES = 50
FLUXES = ("Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO")
# Oxides that one kind of material alone brings to the shelf of the tests.
SOLE = {
    "B2O3": ("borax", "colemanite"),
    "ZnO": ("zinc-oxide",),
    "BaO": ("barium-carbonate",),
    "SrO": ("strontium-carbonate",),
    "P2O5": ("bone-ash",),
    "ZrO2": ("zircon",),
    "SnO2": ("tin-oxide",),
    "CoO": ("cobalt-carbonate",),
    "CuO": ("copper-carbonate",),
    "Li2O": ("lithium-carbonate", "spodumene", "petalite"),
}


def _mixtures(ids, by_hand, count, seed):
    random = np.random.default_rng(seed)
    while count:
        chosen = random.choice(len(ids), random.integers(4, 8), replace=False)
        parts = {ids[i]: float(random.uniform(2.0, 40.0)) for i in chosen}
        unity = by_hand(parts | {"whiting": 12.0, "silica": 20.0})
        if max(unity.values()) < 20:
            count -= 1
            yield unity


def test_an_oxide_that_nothing_brings_is_named_with_its_kind(shelf, by_hand):
    random = np.random.default_rng(3)
    for unity in _mixtures(shelf.ids, by_hand, CASES, seed=30):
        oxide = str(random.choice(sorted(SOLE)))
        bare = shelf.without(SOLE[oxide])
        wanted = unity | {oxide: float(random.uniform(0.03, 0.3))}
        fluxes = sum(wanted.get(o, 0.0) for o in FLUXES)
        wanted = {o: v / fluxes if o in FLUXES else v for o, v in wanted.items()}
        aimed = aim(bare, wish_for(wanted), most=1)
        assert not aimed.reached
        first = aimed.shortfalls[0]
        assert (first.oxide, first.lack) == (oxide, Lack.NOTHING_BRINGS_IT)
        assert oxide in first.says
        assert first.help
        for helper in first.help:
            assert shipped_materials().get(helper).moles_per_gram.sum() > 0


def _reach(shelf, wanted, oxide, sign):
    """Most or least of one oxide with the rest as wanted, by another solver call and check."""
    ones = [_moles(i) for i in shelf.ids]
    oxides = sorted({o for row in ones for o in row} | set(wanted))
    rest = [o for o in oxides if o != oxide]
    equal = [[row.get(o, 0.0) for row in ones] for o in rest]
    equal.append([sum(row.get(o, 0.0) for o in FLUXES) for row in ones])
    right = [wanted.get(o, 0.0) for o in rest] + [1.0]
    cost = [-sign * row.get(oxide, 0.0) for row in ones]
    found = linprog(cost, A_eq=equal, b_eq=right, method="highs-ipm")
    return -sign * found.fun if found.status == 0 else None


def _moles(material_id):
    """Moles that 100 g of a material bring, by plain arithmetic."""
    percent = dict(shipped_materials().get(material_id).analysis.percent)
    return {oxide: value / MASSES[oxide] for oxide, value in percent.items()}


# Molar masses [g/mol] from the IUPAC abridged atomic weights.
MASSES = {
    **{"SiO2": 60.083, "Al2O3": 101.961, "B2O3": 69.617, "P2O5": 141.943, "Li2O": 29.879},
    **{"Na2O": 61.979, "K2O": 94.195, "MgO": 40.304, "CaO": 56.077, "SrO": 103.619},
    **{"BaO": 153.326, "ZnO": 81.379, "Fe2O3": 159.687, "TiO2": 79.865, "ZrO2": 123.222},
    **{"SnO2": 150.708, "CoO": 74.932, "CuO": 79.545, "MnO": 70.937, "Cr2O3": 151.989},
}


def test_an_oxide_pushed_beyond_reach_is_named(shelf_with, by_hand):
    shelf = shelf_with(
        *("potash-feldspar", "soda-feldspar", "kaolin", "whiting", "talc", "dolomite", "zinc-oxide")
    )
    random = np.random.default_rng(5)
    named, cases = 0, 0
    while cases < CASES:
        parts = {i: float(random.uniform(3.0, 40.0)) for i in shelf.ids}
        unity = by_hand(parts)
        oxide, sign = ("SiO2", "Al2O3")[cases % 2], (1.0, -1.0)[cases // 2 % 2]
        edge = _reach(shelf, unity, oxide, sign)
        assert edge is not None
        beyond = edge + sign * min(0.25, edge / 2)
        aimed = aim(shelf, wish_for(unity | {oxide: beyond}), most=1)
        assert not aimed.reached
        names = [s.oxide for s in aimed.shortfalls]
        assert oxide in names, (oxide, names)
        mine = next(s for s in aimed.shortfalls if s.oxide == oxide)
        assert mine.within_reach == pytest.approx(edge, abs=2e-3)
        assert mine.lack is (Lack.TOO_LITTLE if sign > 0 else Lack.TOO_MUCH)
        named += names[0] == oxide
        cases += 1
    assert named >= 0.6 * CASES


def test_the_words_are_a_potters(shelf_with):
    bare = shelf_with("silica", "kaolin", "whiting")
    says = aim(bare, Wish((Goal("B2O3", 0.2, 0.2),))).shortfalls[0].says
    assert says == "No material here brings B2O3: add a borate frit, colemanite or borax"
    lead = aim(bare, Wish((Goal("PbO", 0.2, 0.2),))).shortfalls[0]
    assert lead.help == ()
    assert "better left alone" in lead.says


def test_a_helper_that_is_named_does_help(shelf_with):
    short = shelf_with("kaolin", "silica", "whiting", "talc")
    wish = wish_for({"CaO": 0.5, "MgO": 0.5, "Al2O3": 0.3, "SiO2": 0.8})
    aimed = aim(short, wish)
    assert not aimed.reached
    helpers = {h for s in aimed.shortfalls for h in s.help}
    assert helpers
    for helper in helpers:
        assert aim(shelf_with(*short.ids, helper), wish).reached


def test_no_flux_on_the_shelf_is_said(shelf_with):
    aimed = aim(shelf_with("silica", "kaolin"), Wish((Goal("SiO2", 3, 3),)))
    assert not aimed.proposals
    assert "flux" in aimed.shortfalls[0].says


def test_fluxes_that_do_not_add_up_to_one_are_said(shelf):
    aimed = aim(shelf, wish_for({"CaO": 0.9, "K2O": 0.4, "SiO2": 3}))
    assert aimed.shortfalls[0].lack is Lack.FLUX_SUM
    assert "1.3" in aimed.shortfalls[0].says
    aimed = aim(shelf, wish_for({"CaO": 0.4, "K2O": 0.4, "SiO2": 3}))
    assert aimed.shortfalls[0].lack is Lack.FLUX_SUM


def test_a_limit_that_cannot_be_kept_is_named(shelf_with):
    shelf = shelf_with("whiting", "kaolin", "silica")
    goals = wish_for({"CaO": 1.0, "Al2O3": 0.2, "SiO2": 1.0}).goals
    aimed = aim(shelf, Wish(goals, Others.NONE, (), Limits(loi_percent=(0.0, 1.0))))
    assert not aimed.reached
    assert aimed.shortfalls
    assert any("loss on ignition" in s.says for s in aimed.shortfalls)


def test_every_kind_of_the_catalogue_is_in_the_table():
    for material_id in CATALOGUE:
        assert shipped_materials().get(material_id) is not None
    assert advice_to_bring("F") == "no usual raw material brings it to a glaze"
