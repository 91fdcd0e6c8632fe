"""How much of a cloud stays where it is wanted, with readings whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest

from core.errors import InputError
from core.evaluate import evaluate
from core.oxides import FLUXES, INDEX, mask_of
from core.recipe import Section
from core.solve import robustness, steadiest

SILICA, ALUMINA = INDEX["SiO2"], INDEX["Al2O3"]


def band(least, most, margin_at=9.0):
    """A reading: satin where SiO2 lies in a band, melted where it lies below `margin_at`."""

    def judge(moles):
        silica = moles[:, SILICA] / (moles @ mask_of(FLUXES))
        inside = (silica >= least) & (silica <= most)
        probabilities = np.zeros((len(moles), 4))
        probabilities[:, 1] = np.where(inside, 0.7, 0.1)
        probabilities[:, 0] = 1.0 - probabilities[:, 1]
        return probabilities, 100.0 * (margin_at / silica - 1.0)

    return judge


def test_the_share_is_that_of_the_cloud_on_the_map(fixture_recipe, studio):
    """The cloud that the map shows, counted directly."""
    points = evaluate(fixture_recipe, studio).cloud.points[:, 0]
    for least, most in ((2.9, 3.0), (2.8, 2.95), (0.0, 10.0), (4.0, 5.0)):
        there = robustness(fixture_recipe, studio, band(least, most), [1])
        share = float(((points >= least) & (points <= most)).mean())
        assert there.kept == pytest.approx(share, abs=0.004)
        assert there.likely == pytest.approx(0.1 + 0.6 * share, abs=0.004)
        assert there.melted == 1.0


def test_what_does_not_melt_counts_nothing(fixture_recipe, studio):
    points = evaluate(fixture_recipe, studio).cloud.points[:, 0]
    edge = float(np.median(points))
    there = robustness(fixture_recipe, studio, band(0.0, 10.0, margin_at=edge), [1])
    assert there.melted == pytest.approx(0.5, abs=0.01)
    assert there.kept == pytest.approx(0.5, abs=0.01)
    assert robustness(fixture_recipe, studio, band(0.0, 10.0, margin_at=1.0), [1]).kept == 0.0


def test_the_neighbour_keeps_more_within_the_distance(fixture_recipe, studio, parts_of):
    # The recipe lies at SiO2 2.93; the middle of the band is at 3.15.
    judge = band(3.05, 3.25)
    found = steadiest(fixture_recipe, studio, judge, [1], distance=4.0)
    assert found.robustness.kept > found.start.kept + 0.5
    before, after = parts_of(fixture_recipe), parts_of(found.recipe)
    assert sum(after.values()) == pytest.approx(100.0)
    moved = sum(abs(after[m] - before[m]) for m in before) / 2
    assert moved == pytest.approx(found.distance)
    assert moved <= 4.0 + 1e-9
    assert found.tried > 10
    again = robustness(found.recipe, studio, judge, [1])
    assert again.kept == pytest.approx(found.robustness.kept, abs=1e-9)
    further = steadiest(fixture_recipe, studio, judge, [1], distance=8.0)
    # The search stops where no exchange of two rows helps: a longer reach may end elsewhere.
    assert further.robustness.kept > found.robustness.kept - 0.02
    assert further.distance <= 8.0 + 1e-9


def test_locked_and_forbidden_rows_stay(fixture_recipe, studio, parts_of):
    locked = fixture_recipe.with_lock(Section.BASE, 4, True)
    found = steadiest(locked, studio, band(3.05, 3.25), [1], 4.0, forbidden=["kaolin"])
    parts = parts_of(found.recipe)
    assert (parts["silica"], parts["kaolin"]) == (10.0, 20.0)


def test_where_no_neighbour_is_better_the_recipe_stays(fixture_recipe, studio):
    found = steadiest(fixture_recipe, studio, band(0.0, 10.0), [1], distance=2.0)
    assert found.recipe == fixture_recipe
    assert found.distance == 0.0


def test_what_cannot_be_judged_is_said(fixture_recipe, base_of, studio):
    with pytest.raises(InputError, match="distance"):
        steadiest(fixture_recipe, studio, band(0, 1), [1], distance=0.0)
    with pytest.raises(InputError, match="weighed"):
        robustness(base_of(silica=0), studio, band(0, 1), [1])
    with pytest.raises(InputError, match="no-such"):
        robustness(base_of(no_such=1), studio, band(0, 1), [1])
