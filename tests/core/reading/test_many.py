"""Many compositions at one go: each row reads as it does alone."""

from __future__ import annotations

import numpy as np
import pytest

from core.evaluate import evaluate
from core.firing import firing_curve, shipped_firings
from core.material_table import shipped_materials
from core.oxides import INDEX, OXIDES, vector
from core.reading.many import judge_of
from core.reading.surface import ZONES, read_surface
from core.uncertainty import drawn

CURVES = {id_: firing_curve(firing) for id_, firing in shipped_firings().items()}
CONE_10 = CURVES["cone-10-medium"]
UNDERFIRED = [0.0, 0.0, 0.0, 1.0]
# What glazes are made of, so that mixtures of it are glazes; and anything at all.
USUAL = (
    *("potash-feldspar", "soda-feldspar", "kaolin", "calcined-kaolin", "silica", "whiting"),
    *("dolomite", "talc", "wollastonite", "zinc-oxide", "barium-carbonate", "boron-frit"),
    *("colemanite", "titanium-dioxide", "tin-oxide"),
)


def _mixtures(ids, count, seed):
    rng = np.random.default_rng(seed)
    moles = np.array([shipped_materials().get(i).moles_per_gram for i in ids])
    return rng.dirichlet(np.full(len(ids), 0.5), count) @ moles


def _cloud(evaluation):
    materials = [evaluation.materials[row.material] for row in evaluation.recipe.base]
    analyses, _ = drawn(materials)
    return np.einsum("n,ndk->dk", [row.amount for row in evaluation.recipe.base], analyses)


def _agrees(rows, curve):
    chances, margin = judge_of(curve)(rows)
    assert chances.shape == (len(rows), 4)
    assert margin.shape == (len(rows),)
    for row, found, percent in zip(rows, chances, margin, strict=True):
        alone = read_surface(row, curve)
        if alone is None:
            assert (found.tolist(), percent) == (UNDERFIRED, -90.0)
            continue
        assert found == pytest.approx([alone.probabilities[z] for z in ZONES], abs=1e-4)
        # 1e-4 of the radius; the networks compute in single precision.
        assert percent == pytest.approx(alone.melt_margin_percent, abs=1e-2)


def test_a_cloud_reads_row_by_row_as_its_draws_do(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    _agrees(_cloud(evaluation)[:150], evaluation.heat.felt)


@pytest.mark.parametrize("firing", sorted(CURVES))
def test_different_glazes_read_as_they_do_alone(firing):
    _agrees(_mixtures(USUAL, 60, 1), CURVES[firing])


def test_any_mixture_reads_as_it_does_alone():
    """Also where the melt stiffens unevenly, so that every radius has to be looked at."""
    ids = [material.id for material in shipped_materials()]
    for curve in (CONE_10, CURVES["bisque-cone-06"]):
        _agrees(_mixtures(ids, 80, 2), curve)


def test_what_is_no_glaze_is_underfired_for_certain():
    rows = np.array(
        [
            np.zeros(len(OXIDES)),
            vector({"SiO2": 3.0, "Al2O3": 0.4}),
            vector({"CaO": 1.0, "Al2O3": 0.4}),
            np.full(len(OXIDES), np.nan),
            np.where(np.arange(len(OXIDES)) == INDEX["CaO"], np.inf, 1.0),
            vector({"K2O": 0.3, "CaO": 0.7, "Al2O3": 0.4, "SiO2": 3.5}),
        ]
    )
    chances, margin = judge_of(CONE_10)(rows)
    assert chances[:5].tolist() == [UNDERFIRED] * 5
    assert margin[:5].tolist() == [-90.0] * 5
    assert chances[5, 3] < 0.5
    assert margin[5] > 0
    assert np.isfinite(chances).all()


def test_the_unit_of_amount_and_the_neighbours_do_not_matter():
    rows = _mixtures(USUAL, 1100, 3)
    chances, margin = judge_of(CONE_10)(rows)
    again, margin_again = judge_of(CONE_10)(1000.0 * rows[::-1])
    assert again[::-1] == pytest.approx(chances, abs=2e-5)
    assert margin_again[::-1] == pytest.approx(margin, abs=2e-3)
    assert chances.sum(axis=1) == pytest.approx(np.ones(1100))


def test_a_sheet_is_read_as_its_shelf_feels_it(fixture_recipe, studio):
    evaluation = evaluate(fixture_recipe, studio)
    row = evaluation.formula.moles[None]
    chances, margin = judge_of(evaluation.heat)(row)
    surface = evaluation.reading.surface
    assert chances[0] == pytest.approx([surface.probabilities[z] for z in ZONES], abs=1e-4)
    assert margin[0] == pytest.approx(surface.melt_margin_percent, abs=1e-2)


def test_no_rows_give_none_and_other_shapes_are_refused():
    chances, margin = judge_of(CONE_10)(np.zeros((0, len(OXIDES))))
    assert (chances.shape, margin.shape) == ((0, 4), (0,))
    for shape in ((25,), (3, 24)):
        with pytest.raises(ValueError, match="shape"):
            judge_of(CONE_10)(np.ones(shape))
