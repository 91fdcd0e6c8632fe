"""Learning from the studio's tiles: a switch, said plainly, and gone with a tick."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel

from app.learning_dialog import LearningDialog
from app.theme import LIGHT
from core.learn.features import no_features
from core.learn.fit import learn
from core.learn.observations import observations
from core.recipe import Ingredient
from core.tiles.result import Result, Surface
from core.tiles.run import Run, Tile


def learnt_from(studio, surface=Surface.GLOSSY, many=8):
    tiles = []
    for number in range(many):
        rows = {"potash-feldspar": 42.0, "talc": 14.0 + number, "whiting": 12.0}
        rows |= {"kaolin": 20.0, "silica": 10.0}
        base = tuple(Ingredient(m, p) for m, p in rows.items())
        tiles.append(Tile(code=f"KAA{number}", base=base, result=Result(surface=surface)))
    run = Run("Test", firing="cone-10-medium", body="stoneware", tiles=tuple(tiles))
    found = observations([run], studio)
    return learn(found.features, found.seen, "this kiln")


def test_the_reading_and_the_map_follow_the_switch_and_say_whose_zones_they_are(window):
    document, view = window.document, window.map_view
    view.settle()
    before, field = document.evaluation.reading.surface, view.backdrop.field
    learnt = learnt_from(document.studio)
    window.learning_actions.take(learnt, True)
    view.settle()
    after = document.evaluation.reading.surface
    assert after.probabilities["glossy"] > before.probabilities["glossy"]
    assert "learnt from 8 tiles" in view.basis_label.text()
    glossy = 0
    assert view.backdrop.field.probabilities[..., glossy].sum() > (
        field.probabilities[..., glossy].sum()
    )
    assert document.undo_stack.count() == 0
    window.learning_actions.take(learnt, False)
    view.settle()
    assert document.evaluation.reading.surface.probabilities == pytest.approx(
        before.probabilities, abs=1e-6
    )
    assert "learnt" not in view.basis_label.text()


def test_the_dialog_says_how_many_tiles_and_how_well_they_foretell(qtbot, studio):
    learnt = learnt_from(studio)
    dialog = LearningDialog(learnt, 2, LIGHT, False)
    qtbot.addWidget(dialog)

    words = " ".join(label.text() for label in dialog.findChildren(QLabel))
    assert "8 tiles of this kiln" in words
    assert f"{100 * learnt.right:.0f} %" in words
    assert f"{100 * learnt.right_as_shipped:.0f} %" in words
    assert "2 could not count" in words
    assert not dialog.wanted
    dialog.switch.setChecked(True)
    assert dialog.wanted


def test_without_tiles_there_is_nothing_to_switch(qtbot):
    dialog = LearningDialog(learn(no_features(), ()), 0, LIGHT, True)
    qtbot.addWidget(dialog)
    assert not dialog.switch.isEnabled()
    assert not dialog.wanted


def test_another_studio_forgets_what_was_learnt(window, studio_folder):
    learnt = learnt_from(window.document.studio)
    window.learning_actions.take(learnt, True)
    window.document.open(studio_folder / "recipes" / "eider.yaml")
    assert window.document.learnt is None


def test_the_demo_studio_is_learnt_from_in_the_background(
    window, studio_folder, qtbot, monkeypatch
):
    shown = []
    window.document.open(studio_folder / "recipes" / "eider.yaml")
    monkeypatch.setattr(window.learning_actions, "_show", shown.append)
    window.learning_actions.learn()
    qtbot.waitUntil(lambda: bool(shown), timeout=20_000)
    learnt, left_out = shown[0]
    assert learnt.tiles + left_out > 0


def test_without_a_studio_the_way_out_is_said(window):
    window.learning_actions.learn()
    assert "studio" in window.statusBar().currentMessage()
