"""Steering: the recipe follows the point; each landing checked by plain arithmetic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog, minimize

from core.errors import InputError
from core.material_table import shipped_materials
from core.recipe import Ingredient, Section
from core.solve import steering

LANDED = 0.002
# The check's own molar masses have five digits.
WEIGHTS = 5e-4
TEN = {
    **{"potash-feldspar": 30, "soda-feldspar": 10, "talc": 12, "whiting": 12, "kaolin": 15},
    **{"silica": 10, "dolomite": 4, "zinc-oxide": 2, "colemanite": 3, "bone-ash": 2},
}


@pytest.fixture(scope="module")
def ten(base_of):
    return base_of(**{m.replace("-", "_"): p for m, p in TEN.items()})


def _drag(start, count, seed, far=1.2):
    random = np.random.default_rng(seed)
    for _ in range(count):
        yield start[0] + random.normal() * far, start[1] + random.normal() * 0.2 * far


# Molar masses [g/mol] from the IUPAC abridged atomic weights.
FORMERS = {"SiO2": 60.083, "Al2O3": 101.961}
FLUXES = {
    **{"Li2O": 29.879, "Na2O": 61.979, "K2O": 94.195, "MgO": 40.304, "CaO": 56.077},
    **{"SrO": 103.619, "BaO": 153.326, "ZnO": 81.379},
}


def _brings(material_id):
    """SiO2, Al2O3 and fluxes of one part, by plain arithmetic."""
    percent = dict(shipped_materials().get(material_id).analysis.percent)
    return (
        percent.get("SiO2", 0.0) / FORMERS["SiO2"],
        percent.get("Al2O3", 0.0) / FORMERS["Al2O3"],
        sum(percent.get(oxide, 0.0) / mass for oxide, mass in FLUXES.items()),
    )


def _reachable(ids, point):
    """Whether a mixture comes to the point, asked of another solver."""
    silica, alumina, flux = (np.array(v) for v in zip(*map(_brings, ids), strict=True))
    found = linprog(
        np.zeros(len(ids)),
        A_eq=np.stack([silica - point[0] * flux, alumina - point[1] * flux, flux]),
        b_eq=[0.0, 0.0, 1.0],
        method="highs",
    )
    return found.status == 0


def test_the_recipe_lands_on_the_cursor_wherever_it_is_reachable(ten, studio, by_hand, parts_of):
    drag = steering(ten, studio)
    reached = 0
    for cursor in _drag(drag.start, 300, seed=1):
        there = drag.to(*cursor)
        parts = parts_of(there.recipe)
        assert all(amount >= 0 for amount in parts.values())
        assert sum(parts.values()) == pytest.approx(100.0, abs=1e-9)
        found = by_hand(parts)
        place = found.get("SiO2", 0.0), found.get("Al2O3", 0.0)
        assert place == pytest.approx(there.point, abs=WEIGHTS * max(1.0, *place))
        if _reachable(list(TEN), cursor):
            assert there.reached
            assert np.hypot(place[0] - cursor[0], place[1] - cursor[1]) < LANDED
            assert there.says == ""
            reached += 1
        else:
            assert not there.reached
            assert there.says
    assert 150 < reached < 300


def test_where_it_cannot_go_on_it_stops_at_the_edge_along_the_way(ten, studio):
    drag = steering(ten, studio)
    start = np.array(drag.start)
    stopped = 0
    for cursor in _drag(drag.start, 200, seed=2, far=3.0):
        there = drag.to(*cursor)
        if there.reached:
            continue
        stopped += 1
        way, gone = np.array(cursor) - start, np.array(there.point) - start
        share = float(gone @ way / (way @ way))
        assert np.linalg.norm(gone - share * way) < 1e-6 * max(1.0, float(np.linalg.norm(way)))
        # Inside it can be reached, a little beyond it cannot.
        assert _reachable(list(TEN), start + 0.99 * share * way)
        assert not _reachable(list(TEN), start + (share + 0.01) * way)
        assert there.oxide in ("SiO2", "Al2O3")
        assert there.oxide in there.says
    assert stopped > 50


def test_a_drag_out_and_back_is_the_same_recipe(ten, studio):
    drag = steering(ten, studio)
    out = [drag.to(*cursor) for cursor in _drag(drag.start, 60, seed=3, far=2.0)]
    assert len({tuple(r.amount for r in there.recipe.base) for there in out}) > 30
    back = drag.to(*drag.start)
    assert back.reached
    assert [r.amount for r in back.recipe.base] == pytest.approx(
        [r.amount for r in ten.base], abs=1e-6
    )
    # Nothing is carried from event to event.
    again = drag.to(3.1, 0.42)
    drag.to(9.0, 1.0)
    assert drag.to(3.1, 0.42).recipe == again.recipe


def test_the_other_oxides_keep_their_proportions_where_the_rows_allow(
    fixture_recipe, studio, by_hand, parts_of
):
    drag = steering(fixture_recipe, studio)
    before = by_hand(parts_of(fixture_recipe))
    for cursor in ((3.2, 0.5), (2.9, 0.45), (3.5, 0.6)):
        found = by_hand(parts_of(drag.to(*cursor).recipe))
        assert found["SiO2"] == pytest.approx(cursor[0], abs=LANDED)
        for oxide in ("K2O", "CaO", "MgO"):
            assert found[oxide] == pytest.approx(before[oxide], abs=1e-3)


def test_no_recipe_on_the_point_is_nearer(ten, studio):
    """The optimum against a general solver for smooth problems (SLSQP)."""
    drag = steering(ten, studio)
    brings = np.array([_brings(m) for m in TEN])
    for cursor in ((3.4, 0.45), (2.0, 0.40), (2.4, 0.2)):
        there = drag.to(*cursor)
        assert there.reached
        mine = np.array([row.amount for row in there.recipe.base])

        def cost(x):
            return float(((drag._matrix @ x - drag._wanted) ** 2).sum())

        lines = np.stack(
            [
                brings[:, k] - mine @ brings[:, k] / (mine @ brings[:, 2]) * brings[:, 2]
                for k in (0, 1)
            ]
        )
        other = minimize(
            cost,
            np.array(list(TEN.values()), float),
            jac=lambda x: 2 * drag._matrix.T @ (drag._matrix @ x - drag._wanted),
            method="SLSQP",
            bounds=[(0, None)] * len(TEN),
            constraints=[
                {"type": "eq", "fun": lambda x, a=lines: a @ x, "jac": lambda x, a=lines: a},
                {"type": "eq", "fun": lambda x: x.sum() - 100, "jac": lambda x: np.ones(len(x))},
            ],
            options={"ftol": 1e-13, "maxiter": 500},
        )
        assert cost(mine) <= other.fun + 1e-6 * max(1.0, other.fun)


def test_locked_rows_stay_and_are_named_when_they_stop_it(fixture_recipe, studio):
    locked = fixture_recipe.with_lock(Section.BASE, 0, True).with_lock(Section.BASE, 3, True)
    drag = steering(locked, studio)
    there = drag.to(3.0, 0.48)
    assert there.reached
    assert there.recipe.base[0].amount == 42.0
    assert there.recipe.base[3].amount == 20.0
    far = drag.to(3.0, 0.1)
    assert not far.reached
    assert set(far.locked) <= {"potash-feldspar", "kaolin"}
    assert far.locked
    assert "unlock" in far.says
    everything = replace(
        fixture_recipe, base=tuple(replace(r, locked=True) for r in fixture_recipe.base)
    )
    still = steering(everything, studio).to(3.5, 0.6)
    assert not still.reached
    assert still.recipe.base == everything.base


def test_a_recipe_of_two_rows_slides_along_its_line(base_of, studio, by_hand, parts_of):
    recipe = base_of(potash_feldspar=60, whiting=40)
    drag = steering(recipe, studio)
    assert drag.region.flat
    there = drag.to(drag.start[0] + 0.5, drag.start[1] + 0.5 / 6)
    found = by_hand(parts_of(there.recipe))
    assert found["SiO2"] == pytest.approx(drag.start[0] + 0.5, abs=LANDED)
    aside = drag.to(drag.start[0], drag.start[1] + 0.3)
    assert not aside.reached
    assert aside.point[0] / aside.point[1] == pytest.approx(6.0, abs=1e-6)


def _change(recipe, begin):
    """Squared change of the rows, each against what it was."""
    return sum(
        (a.amount - b.amount) ** 2 / b.amount for a, b in zip(recipe.base, begin.base, strict=True)
    )


def test_the_total_may_be_let_go(fixture_recipe, studio, by_hand, parts_of):
    drag = steering(fixture_recipe, studio, hold_total=False)
    there = drag.to(3.6, 0.45)
    assert there.reached
    found = by_hand(parts_of(there.recipe))
    assert (found["SiO2"], found["Al2O3"]) == pytest.approx((3.6, 0.45), abs=LANDED)
    assert abs(sum(parts_of(there.recipe).values()) - 100) > 1
    # With room to grow or shrink no row has to move further than with the total held.
    held = steering(fixture_recipe, studio).to(3.6, 0.45)
    assert _change(there.recipe, fixture_recipe) < _change(held.recipe, fixture_recipe)


def test_additions_keep_their_percent_and_count(fixture_recipe, studio, by_hand, parts_of):
    recipe = replace(fixture_recipe, additions=(Ingredient("talc", 5.0),))
    there = steering(recipe, studio).to(3.0, 0.5)
    assert there.recipe.additions == recipe.additions
    found = by_hand(parts_of(there.recipe), {"talc": 5.0})
    assert (found["SiO2"], found["Al2O3"]) == pytest.approx((3.0, 0.5), abs=LANDED)


def test_the_region_holds_what_mixtures_come_to_and_no_more(ten, studio):
    region = steering(ten, studio).region
    random = np.random.default_rng(8)
    brings = np.array([_brings(m) for m in TEN])
    for _ in range(200):
        silica, alumina, flux = random.dirichlet(np.full(len(TEN), 0.3)) @ brings
        assert region.contains((silica / flux, alumina / flux), slack=1e-4)
    box = (0.0, 0.0, 8.0, 1.2)
    outline = region.polygon(box)
    assert len(outline) >= 3
    assert outline.min() >= 0
    middle = outline.mean(axis=0)
    for corner in outline:
        assert _reachable(list(TEN), middle + 0.98 * (corner - middle))
    for _ in range(200):
        point = (random.uniform(0, 8), random.uniform(0, 1.2))
        if not region.contains(point, slack=-1e-3) and not region.contains(point, slack=1e-3):
            assert not _reachable(list(TEN), point)


def test_what_cannot_be_steered_is_said(base_of, studio):
    for recipe in (base_of(), base_of(silica=50, kaolin=50), base_of(silica=0)):
        with pytest.raises(InputError):
            steering(recipe, studio)
    with pytest.raises(InputError, match="no-such"):
        steering(base_of(no_such=10, whiting=10), studio)
    with pytest.raises(InputError, match="weight"):
        steering(base_of(whiting=50, silica=50), studio, weights=[1.0, 0.0])
    recipe = base_of(whiting=50, silica=40, kaolin=10)
    assert steering(recipe, studio).to(float("nan"), 1.0).reached
