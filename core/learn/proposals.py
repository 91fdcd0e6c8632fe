"""Recipes for the few tiles that would tell most, made of the rows on the bench."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from core.errors import InputError
from core.evaluate import Evaluation
from core.learn.features import features_at
from core.learn.fit import LearntRules
from core.learn.next_tiles import next_tiles
from core.reading.field import zone_field
from core.recipe import Recipe
from core.solve.steer import steering
from core.studio import Studio

ACROSS, UP = 13, 9
"""Places of the map that are weighed."""
_SPAN = (0.55, 1.7)
"""They reach from so many times the recipe's silica and alumina to so many times."""
MOST = 12


@dataclass(frozen=True, slots=True)
class Proposed:
    """One tile worth firing."""

    recipe: Recipe
    silica: float
    alumina: float
    information: float
    """How much it is expected to tell of the zone of a place of the map [bit]."""


def proposed_tiles(evaluation: Evaluation, learnt: LearntRules, count: int) -> tuple[Proposed, ...]:
    """Propose the tiles that would most reduce the doubt about where the zones lie.

    Parameters
    ----------
    evaluation : Evaluation
        Of the recipe whose rows the tiles are made of, in its firing.
    learnt : LearntRules
        What is known so far; of no tile at the start.
    count : int
        How many, 1 to `MOST`.

    Returns
    -------
    tuple of Proposed
        The best first. Places that the rows cannot reach, or where the models
        have no data, are not proposed.

    Raises
    ------
    InputError
        If the recipe has no reading, or its rows reach too few places.
    """
    surface = evaluation.reading.surface
    if surface is None or evaluation.missing:
        raise InputError(
            "the recipe has no reading to go out from", "choose a firing, and rows with a flux"
        )
    if not 1 <= count <= MOST:
        raise InputError(f"{count} tiles cannot be proposed", f"ask for 1 to {MOST}")
    drag = steering(evaluation.recipe, evaluation.studio)
    silica = surface.silica * np.linspace(*_SPAN, ACROSS)
    alumina = max(surface.alumina, 0.02) * np.linspace(*_SPAN, UP)
    known = ~zone_field(surface.basis, silica, alumina, surface.rules).outside
    places = [
        (float(x), float(y))
        for row, y in enumerate(alumina)
        for column, x in enumerate(silica)
        if known[row, column] and drag.region.contains((float(x), float(y)))
    ]
    if len(places) < count:
        raise InputError(
            f"the rows reach only {len(places)} places of the map that could be tiles",
            "add a source of silica or of alumina, or unlock rows",
        )
    features = features_at(surface.basis, *np.array(places).T)
    found = []
    for number, tile in enumerate(next_tiles(learnt, features, count), 1):
        steered = drag.to(*places[tile.candidate])
        recipe = replace(steered.recipe, name=f"{evaluation.recipe.name}, next {number}")
        found.append(Proposed(recipe, *steered.point, tile.information))
    return tuple(found)


def known_tiles(studio: Studio, body: str) -> LearntRules:
    """Learn from every run of a studio, for proposals; see `core.learn.observations`.

    Raises
    ------
    InputError
        If a run cannot be read.
    """
    from core.learn.fit import learn
    from core.learn.observations import observations
    from core.tiles.run_file import read_run

    found = observations([read_run(path) for path in studio.run_paths()], studio, body)
    return learn(found.features, found.seen, studio.kiln.name or studio.kiln.id)
