"""Swaps keep the formula; each checked by plain arithmetic."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.errors import InputError
from core.recipe import Ingredient, Section
from core.solve import swap

EXACT = 1e-6


def _same(found, wanted, tolerance):
    return max(abs(found.get(o, 0.0) - wanted.get(o, 0.0)) for o in {*found, *wanted}) <= tolerance


def test_calcined_kaolin_for_raw_keeps_the_whole_formula(fixture_recipe, studio, by_hand, parts_of):
    before = by_hand(parts_of(fixture_recipe))
    swapped = swap(fixture_recipe, studio, ["kaolin"], ["calcined-kaolin"])
    parts = parts_of(swapped.recipe)
    # 20 of raw kaolin are 17.21 calcined: 20 times 222.13 over 258.16, minerals.yaml.
    assert parts["calcined-kaolin"] == pytest.approx(17.21, abs=0.005)
    assert _same(by_hand(parts), before, EXACT)
    assert swapped.exact
    assert swapped.kept
    assert swapped.shifts == {}
    assert [row.material for row in swapped.recipe.base] == [
        *("potash-feldspar", "talc", "whiting", "calcined-kaolin", "silica")
    ]
    back = swap(swapped.recipe, studio, ["calcined-kaolin"], ["kaolin"])
    assert parts_of(back.recipe)["kaolin"] == pytest.approx(20.0, abs=1e-6)


def test_dolomite_and_silica_for_talc_and_whiting_keep_the_whole_formula(
    studio, base_of, by_hand, parts_of
):
    # Talc brings 3 MgO; dolomite brings as much CaO with it, which whiting must have brought.
    recipe = base_of(potash_feldspar=42, talc=16, whiting=20, kaolin=20, silica=10)
    before = by_hand(parts_of(recipe))
    swapped = swap(recipe, studio, ["talc"], ["dolomite", "silica"], moving=["whiting"])
    parts = parts_of(swapped.recipe)
    assert "talc" not in parts
    assert parts["whiting"] < 20
    assert parts["silica"] > 10
    # The check's molar masses have five digits and no longer cancel row by row.
    assert _same(by_hand(parts), before, 2e-4)
    assert swapped.exact
    again = swap(swapped.recipe, studio, ["dolomite"], ["talc", "whiting"], moving=["silica"])
    assert parts_of(again.recipe) == pytest.approx(parts_of(recipe), abs=1e-5)


def test_talc_and_whiting_go_together_where_they_match(studio, base_of, by_hand, parts_of):
    # One talc (379.26) to three whiting (100.09) is three MgO to three CaO, as in dolomite.
    talc = 16.0
    whiting = talc / 379.263 * 3 * 100.086
    recipe = base_of(potash_feldspar=42, talc=talc, whiting=whiting, kaolin=20, silica=10)
    before = by_hand(parts_of(recipe))
    swapped = swap(recipe, studio, ["talc", "whiting"], ["dolomite", "silica"])
    parts = parts_of(swapped.recipe)
    assert "whiting" not in parts
    assert _same(by_hand(parts), before, 2e-4)
    assert max(map(abs, swapped.shifts.values()), default=0.0) < 1e-4


def test_the_reported_formula_is_the_one_by_hand(fixture_recipe, studio, by_hand, parts_of):
    from core.oxides import OXIDES

    for out, into, moving in (
        (["potash-feldspar"], ["soda-feldspar"], []),
        (["potash-feldspar"], ["nepheline-syenite"], ["silica", "kaolin"]),
        (["whiting"], ["wollastonite"], ["silica"]),
        (["talc"], ["dolomite", "silica"], ["whiting"]),
    ):
        before = by_hand(parts_of(fixture_recipe))
        swapped = swap(fixture_recipe, studio, out, into, moving=moving)
        found = by_hand(parts_of(swapped.recipe))
        assert dict(zip(OXIDES, swapped.after, strict=True)) == pytest.approx(
            {o: found.get(o, 0.0) for o in OXIDES}, abs=3e-4
        )
        assert swapped.point_after == pytest.approx((found["SiO2"], found["Al2O3"]), abs=3e-4)
        for oxide, shift in swapped.shifts.items():
            real = found.get(oxide, 0.0) - before.get(oxide, 0.0)
            assert shift == pytest.approx(real, abs=3e-4)
        for row in fixture_recipe.base:
            if row.material not in (*out, *into, *moving):
                assert row in swapped.recipe.base


def test_wollastonite_for_whiting_is_exact_when_silica_may_move(fixture_recipe, studio):
    swapped = swap(fixture_recipe, studio, ["whiting"], ["wollastonite"], moving=["silica"])
    assert swapped.exact
    still = swap(fixture_recipe, studio, ["whiting"], ["wollastonite"])
    assert not still.exact
    assert still.shifts["SiO2"] > 0


def test_a_frit_becomes_raw_materials(studio, base_of, by_hand, parts_of):
    recipe = base_of(boron_frit=30, kaolin=20, silica=20, whiting=15, talc=5)
    before = by_hand(parts_of(recipe))
    raw = ["colemanite", "borax", "potash-feldspar", "soda-feldspar"]
    swapped = swap(recipe, studio, ["boron-frit"], raw, moving=["kaolin", "silica", "whiting"])
    found = by_hand(parts_of(swapped.recipe))
    assert "boron-frit" not in parts_of(swapped.recipe)
    assert found["B2O3"] == pytest.approx(before["B2O3"], abs=0.005)
    assert found["SiO2"] == pytest.approx(before["SiO2"], abs=0.005)
    assert swapped.kept


def test_a_swap_that_cannot_says_what_moved(fixture_recipe, studio, by_hand, parts_of):
    swapped = swap(fixture_recipe, studio, ["potash-feldspar"], ["soda-feldspar"])
    assert not swapped.kept
    assert not swapped.exact
    found = by_hand(parts_of(swapped.recipe))
    assert "K2O" not in found
    assert swapped.shifts["K2O"] == pytest.approx(-0.234, abs=0.002)
    says = " / ".join(swapped.notes)
    assert "K2O falls from 0.234 to 0.000: nothing that was put in brings it" in says
    assert "Na2O and K2O together" in says
    useless = swap(fixture_recipe, studio, ["talc"], ["zircon", "magnesium-carbonate", "silica"])
    assert useless.unused == ("zircon",)
    assert "Zircon" in " ".join(useless.notes)


def test_the_oxides_that_are_chosen_come_first(fixture_recipe, studio):
    reference = "nepheline-syenite"
    everything = swap(fixture_recipe, studio, ["potash-feldspar"], [reference])
    chosen = swap(
        fixture_recipe, studio, ["potash-feldspar"], [reference], keep=["Al2O3"], moving=["silica"]
    )
    assert abs(chosen.shifts.get("Al2O3", 0.0)) <= 0.005 + 1e-9
    assert chosen.kept
    assert not everything.kept


def test_additions_keep_their_weight(fixture_recipe, studio, by_hand, parts_of):
    recipe = replace(fixture_recipe, additions=(Ingredient("red-iron-oxide", 4.0),))
    before = by_hand(parts_of(recipe), {"red-iron-oxide": 4.0})
    swapped = swap(recipe, studio, ["kaolin"], ["calcined-kaolin"])
    percent = swapped.recipe.additions[0].amount
    assert percent > 4.0
    found = by_hand(parts_of(swapped.recipe), {"red-iron-oxide": percent})
    assert _same(found, before, EXACT)


def test_what_cannot_be_swapped_is_said(fixture_recipe, studio, base_of):
    locked = fixture_recipe.with_lock(Section.BASE, 3, True)
    for recipe, out, into, word in (
        (fixture_recipe, ["zircon"], ["silica"], "no row"),
        (fixture_recipe, ["kaolin"], ["no-such-thing"], "no-such-thing"),
        (fixture_recipe, ["kaolin"], ["kaolin"], "goes out and comes in"),
        (fixture_recipe, [], ["kaolin"], "take out"),
        (fixture_recipe, ["kaolin"], [], "put in"),
        (locked, ["kaolin"], ["calcined-kaolin"], "locked"),
        (locked, ["talc"], ["kaolin"], "locked"),
        (base_of(silica=50, kaolin=50), ["kaolin"], ["calcined-kaolin"], "flux"),
        (base_of(silica=50, whiting=50), ["whiting"], ["kaolin"], "flux"),
    ):
        with pytest.raises(InputError, match=word):
            swap(recipe, studio, out, into)
    with pytest.raises(InputError, match="Xx"):
        swap(fixture_recipe, studio, ["kaolin"], ["calcined-kaolin"], keep=["Xx"])
    assert (
        locked.base[3]
        in swap(locked, studio, ["talc"], ["dolomite"], moving=["kaolin"]).recipe.base
    )
