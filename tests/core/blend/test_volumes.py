"""Wet blending by volume and the honesty of it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.blend.additions import addition_grams
from core.blend.grid import grid_shares
from core.blend.line import line_shares
from core.blend.plan import grid_blend, line_blend, triaxial_blend
from core.blend.slop import Slop, dry_g_for, solid_density
from core.blend.triaxial import triaxial_shares
from core.blend.volumes import (
    dry_shares,
    honesty,
    needed_ml,
    syringe_sheet,
    with_reserve,
)
from core.blend.weighing import corner_batches, dry_batches
from core.errors import InputError


@pytest.mark.parametrize(
    ("shares", "volumes"),
    [
        (line_shares(11), [275.0] * 2),
        (triaxial_shares(5), [350.0] * 3),
        (grid_shares(), [437.5] * 4),
    ],
)
def test_fifty_millilitres_a_cup_take_these_volumes_of_each_corner(shares, volumes):
    # Computed: half of 11 cups, a third of 21, a quarter of 35.
    assert [float(volume) for volume in needed_ml(shares, 50.0)] == volumes


def test_forty_eight_millilitres_a_tile_take_420_of_each_corner():
    # Source: reference table of blends, volume example of the grid, computed.
    assert [float(volume) for volume in needed_ml(grid_shares(), 48.0)] == [420.0] * 4


def test_the_reserve_comes_on_top():
    assert with_reserve(437.5, 0.0) == 440.0
    assert with_reserve(275.0, 0.1) == 305.0
    with pytest.raises(InputError):
        with_reserve(275.0, 2.0)


@given(st.sampled_from([48.0, 50.0, 60.0, 33.3]), st.floats(0.75, 1.3), st.floats(0.75, 1.3))
def test_every_cup_is_full_to_a_tenth(corners, studio, cup, b, d):
    slops = [Slop(dry_g=300.0 * k, volume_ml=450.0) for k in (1.0, b, 1.1, d)]
    sheet = syringe_sheet(grid_blend(corners, studio), cup, slops)
    for made in sheet.cups:
        assert sum(made.volumes_ml) == Decimal(str(cup))
        assert all(volume >= 0 and volume % Decimal("0.1") == 0 for volume in made.volumes_ml)
        # A tenth of a millilitre in the cup, at dry weights that differ by less than twice.
        assert made.off < 2 * 0.1 / cup


@pytest.mark.parametrize("kind", ["line", "triangle", "grid"])
def test_equal_slops_take_their_shares_of_each_cup(corners, studio, kind):
    plan = {
        "line": lambda: line_blend(corners[0], corners[1], 11, studio),
        "triangle": lambda: triaxial_blend(corners[:3], 5, studio),
        "grid": lambda: grid_blend(corners, studio),
    }[kind]()
    sheet = syringe_sheet(plan, 50.0)
    assert not sheet.corrected
    exact = needed_ml([cell.shares for cell in plan.cells], 50.0)
    # Rounding to a tenth owes no corner more than a tenth in the end.
    for volume, wanted in zip(sheet.needed_ml, exact, strict=True):
        assert abs(Fraction(volume) - wanted) <= Fraction(1, 10)
    for made, cell in zip(sheet.cups, plan.cells, strict=True):
        assert sum(made.volumes_ml) == 50
        for volume, share in zip(made.volumes_ml, cell.shares, strict=True):
            assert abs(float(volume) - 50 * float(share)) < 0.1


def test_half_and_half_of_unequal_slops_is_really_43_to_57():
    # Volumes by hand: 300/2.6 + 300 = 415.4 ml and 300/2.6 + 200 = 315.4 ml.
    thin, thick = Slop(300.0, 300.0), Slop(300.0, 200.0)
    by_hand = (300 / 415.3846, 300 / 315.3846)
    per_ml = [slop.dry_g_per_ml() for slop in (thin, thick)]
    assert per_ml == pytest.approx(by_hand, rel=1e-6)
    assert [round(100 * share) for share in dry_shares((25.0, 25.0), per_ml)] == [43, 57]
    check = honesty((thin, thick), ("most clay", "most silica"))
    assert not check.equal
    assert "43:57" in check.words
    # The thick one, thinned as told, is as thin as the thin one.
    water = check.water_to_add_ml[1]
    assert per_ml[1] * 1000 / (1000 + water) == pytest.approx(per_ml[0])


def test_the_syringe_amounts_are_corrected_for_unequal_slops(corners, studio):
    plan = line_blend(corners[0], corners[3], 11, studio)
    sheet = syringe_sheet(plan, 50.0, (Slop(300.0, 300.0), Slop(300.0, 200.0)))
    assert sheet.corrected
    middle = sheet.cups[5]
    # By hand: volumes as 415.4 to 315.4.
    assert float(middle.volumes_ml[0]) == pytest.approx(50 * 415.38 / 730.77, abs=0.05)
    assert middle.dry_shares == pytest.approx((0.5, 0.5), abs=0.002)
    assert sheet.needed_ml[0] > sheet.needed_ml[1]


def test_unequal_stocks_come_to_the_tabled_dry_share():
    # Source: reference table of slurries, wet blending example, computed.
    stocks = [Slop(specific_gravity=gravity, solid_density=2.6) for gravity in (1.45, 1.40)]
    per_ml = [stock.dry_g_per_ml() for stock in stocks]
    assert per_ml == pytest.approx([0.73125, 0.650])
    assert dry_shares((60.0, 40.0), per_ml)[0] == pytest.approx(0.6279, abs=5e-5)


@pytest.mark.parametrize(
    ("gravity", "solid", "grams"), [(1.5, 2.5, 833.3), (1.75, 2.5, 1250.0), (1.45, 2.6, 731.25)]
)
def test_brongniart_gives_the_published_dry_weight_of_a_litre(gravity, solid, grams):
    # Source: worked examples of potters.org/subject11877.htm and subject13664.htm; the last
    # row computed.
    slop = Slop(specific_gravity=gravity, solid_density=solid)
    assert 1000 * slop.dry_g_per_ml() == pytest.approx(grams, abs=0.05)
    dry, water = dry_g_for(1000.0, gravity, solid)
    assert dry + water == pytest.approx(1000 * gravity)


def test_an_addition_goes_by_the_dry_weight_of_the_wet_glaze():
    # Source: reference table of slurries: 2000 ml at 1.5, solids 2.5, 2 % = 33.3 g.
    per_ml = Slop(specific_gravity=1.5, solid_density=2.5).dry_g_per_ml()
    assert addition_grams(2.0, 2000.0, per_ml) == pytest.approx(33.3, abs=0.05)


def test_it_says_no_where_correcting_would_not_help(corners, studio):
    names = ("most clay", "most silica")
    with pytest.raises(InputError, match=r"add \d+ ml of water"):
        honesty((Slop(300.0, 600.0), Slop(300.0, 100.0)), names)
    with pytest.raises(InputError, match="most silica: nothing says"):
        honesty((Slop(300.0, 300.0), Slop(300.0)), names)
    with pytest.raises(InputError, match="stir it well and measure again"):
        honesty((Slop(300.0, 300.0, volume_ml=340.0), Slop(300.0, 300.0)), names)
    with pytest.raises(InputError, match="is no slop's"):
        honesty((Slop(specific_gravity=0.9), Slop(300.0, 300.0)), names)
    with pytest.raises(InputError, match="4 corners"):
        syringe_sheet(grid_blend(corners, studio), 50.0, [Slop(300.0, 300.0)] * 3)
    with pytest.raises(InputError, match="whole number"):
        syringe_sheet(grid_blend(corners, studio), 50.05)
    with pytest.raises(InputError):
        syringe_sheet(grid_blend(corners, studio), 0.0)


def test_equal_slops_are_said_to_be_equal():
    check = honesty((Slop(300.0, 300.0), Slop(150.0, 150.0)), ("a", "b"))
    assert check.equal
    assert check.water_to_add_ml == (0.0, 0.0)


def test_corners_are_weighed_to_hold_equal_dry_weight_in_equal_volumes(corners, studio):
    plan = grid_blend(corners, studio)
    batches = corner_batches(plan, (440.0, 440.0, 500.0, 440.0), 1.45, 0.1, studio)
    per_ml = [float(batch.batch.total) / batch.volume_ml for batch in batches]
    assert max(per_ml) - min(per_ml) < 0.2 / 440  # the scale's readout
    for batch, corner in zip(batches, plan.corners, strict=True):
        density, unknown = solid_density(corner.recipe, studio)
        assert not unknown
        filled = float(batch.batch.total) / density + batch.water_g
        assert filled == pytest.approx(batch.volume_ml)
        # Feldspar and clays 2.5 to 2.6, silica 2.65, whiting and talc 2.7 to 2.9, tin oxide 6.9.
        assert 2.5 < density < 2.8


def test_cells_can_be_weighed_dry_one_by_one(corners, studio):
    plan = grid_blend(corners, studio)
    batches = dry_batches(plan, 100.0, 0.1)
    assert len(batches) == 35
    assert all(batch.base_total == 100 for batch in batches)
