"""Aiming: what is typed is what is solved, and nothing is half applied.

What a proposal comes to is checked by plain arithmetic from the shipped analyses and the molar
masses of tests/data/minerals.yaml (computed there from the IUPAC abridged weights).
"""

from __future__ import annotations

import math
import threading
from dataclasses import replace

import pytest
from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QDialog,
    QLineEdit,
    QWidget,
)
from shiboken6 import delete, isValid

import app.aim_dialog
from app.aim_dialog import SECONDS, AimDialog
from app.goal_model import Column, GoalModel, wanted_range
from app.proposals_table import FIRST, Now, ProposalsModel, now_of
from app.shelf_list import ShelfModel
from app.theme import DARK, Role
from app.worker import run_in_background
from core.errors import InputError
from core.material_table import shipped_materials
from core.oxides import FLUXES, INDEX
from core.recipe import Section
from core.solve import Goal, Limits, Others, Wish, aim, shelf_of

PATIENCE_S = 10.0
SOLVE_MS = 15000


@pytest.fixture
def open_dialog(qtbot, theme, document):
    held = []

    def make(of=document):
        dialog = AimDialog(of, theme)
        held.append(dialog)
        qtbot.addWidget(dialog)
        with qtbot.waitActive(dialog):
            dialog.show()
            dialog.activateWindow()
        return dialog

    return make


@pytest.fixture
def dialog(open_dialog):
    return open_dialog()


@pytest.fixture
def held_back(monkeypatch):
    """Hold every search back until the gate opens; lists the wishes that were searched."""

    class Held:
        gate = threading.Event()
        begun: list = []
        ended: list = []

    held = Held()

    def slow(shelf, wish, **options):
        held.begun.append(wish)
        assert held.gate.wait(PATIENCE_S)
        try:
            return aim(shelf, wish, **options)
        finally:
            held.ended.append(wish)

    held.gate.clear()
    monkeypatch.setattr(app.aim_dialog, "aim", slow)
    yield held
    held.gate.set()


@pytest.fixture
def formula_by_hand(minerals):
    masses = minerals["oxide_molar_mass"]["values"]

    def formula(proposal):
        moles: dict[str, float] = {}
        for material_id, weight in zip(proposal.materials, proposal.parts, strict=True):
            for oxide, percent in shipped_materials().get(material_id).analysis.percent:
                moles[oxide] = moles.get(oxide, 0.0) + weight * percent / masses[oxide]
        fluxes = sum(moles.get(oxide, 0.0) for oxide in FLUXES)
        return {oxide: amount / fluxes for oxide, amount in moles.items()}

    return formula


def want(dialog, **texts):
    """Put texts into the column of what is wanted."""
    model = dialog.goal_model
    for oxide, text in texts.items():
        model.show_oxides([*model.oxides, oxide])
        index = model.index(model.oxides.index(oxide), Column.WANTED)
        assert model.setData(index, text)


def wait_for_answer(qtbot, dialog):
    qtbot.waitUntil(lambda: not dialog.looking, timeout=SOLVE_MS)


def cell_editor():
    """Return the line that is being typed in; one that was closed may live on for an event."""
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    return editor


def type_into(qtbot, dialog, oxide, text):
    """Type with the keyboard into the line of an oxide and press Enter."""
    dialog.goals.go_to(oxide)
    qtbot.keyClick(dialog.goals, text[0])
    editor = cell_editor()
    qtbot.keyClicks(editor, text[1:])
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    # Qt closes the cell an event later.
    qtbot.waitUntil(dialog.goals.hasFocus)


def own_near(document):
    return tuple(float(v) for v in document.evaluation.formula.unity)


def test_a_typed_goal_gives_what_core_gives_and_the_formula_that_was_asked(
    dialog, document, qtbot, formula_by_hand
):
    type_into(qtbot, dialog, "SiO2", "3.4")
    type_into(qtbot, dialog, "MgO", "0.35")
    wait_for_answer(qtbot, dialog)
    goals = (Goal("MgO", 0.35, 0.35), Goal("SiO2", 3.4, 3.4))
    wish = Wish(goals, Others.NEAR, own_near(document))
    shelf = shelf_of(document.recipe, document.studio, dialog.shelf.ticked)
    expected = aim(shelf, wish, seconds=SECONDS)
    got = dialog.aimed
    assert got.reached
    assert [p.materials for p in got.proposals] == [p.materials for p in expected.proposals]
    for ours, theirs in zip(got.proposals, expected.proposals, strict=True):
        assert ours.parts == pytest.approx(theirs.parts, abs=1e-6)
    formula = formula_by_hand(got.proposals[0])
    assert formula["SiO2"] == pytest.approx(3.4, abs=1e-3)
    assert formula["MgO"] == pytest.approx(0.35, abs=1e-3)
    dialog.take()
    assert dialog.result() == QDialog.DialogCode.Accepted
    assert dialog.proposal is got.proposals[0]
    assert dialog.wish == wish
    assert not dialog.as_variant


@pytest.mark.parametrize("text", ["0.3..0.34", "0.3 to 0.34", "0,3 to 0,34", "0.3…0.34"])
def test_a_range_is_kept_to_however_it_is_written(dialog, qtbot, formula_by_hand, text):
    want(dialog, MgO=text)
    wait_for_answer(qtbot, dialog)
    assert dialog.goal_model.goals == (Goal("MgO", 0.3, 0.34),)
    assert dialog.aimed.reached
    for proposal in dialog.aimed.proposals:
        if proposal.reached:
            assert 0.299 <= formula_by_hand(proposal)["MgO"] <= 0.341


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3.2", (3.2, 3.2)),
        ("0.3..", (0.3, math.inf)),
        ("..0.4", (0.0, 0.4)),
        ("Free", (0.0, math.inf)),
        ("0.3 TO 0.4", (0.3, 0.4)),
    ],
)
def test_what_is_wanted_is_read_as_people_write_it(text, expected):
    assert wanted_range(text, "MgO") == expected


@pytest.mark.parametrize("text", ["x", "to", "0.3 0.4", "0.3..0.4..0.5", "-1", "1.000,5"])
def test_what_makes_no_sense_is_refused_with_the_oxide_named(text):
    with pytest.raises(InputError, match="MgO"):
        wanted_range(text, "MgO")


def test_at_first_it_says_what_to_do_and_offers_nothing(dialog):
    assert "wanted" in dialog.words.text()
    assert not dialog.looking
    assert not dialog.take_button.isEnabled()
    assert not dialog.keep_button.isEnabled()
    dialog.take()
    assert dialog.isVisible()
    assert (dialog.proposal, dialog.wish, dialog.as_variant) == (None, None, False)


def test_as_it_is_now_finds_the_recipe_again(dialog, document, qtbot):
    qtbot.mouseClick(dialog.as_now, Qt.MouseButton.LeftButton)
    wait_for_answer(qtbot, dialog)
    assert dialog.aimed.reached, dialog.words.text()
    first = dialog.aimed.proposals[0]
    assert set(first.materials) == {row.material for row in document.recipe.base}
    for row in document.recipe.base:
        place = first.materials.index(row.material)
        assert first.parts[place] == pytest.approx(row.amount, abs=0.05)
    qtbot.mouseClick(dialog.clear, Qt.MouseButton.LeftButton)
    assert dialog.goal_model.goals == ()


def test_out_of_reach_names_the_oxide_and_ticks_what_helps(dialog, qtbot):
    assert "B2O3" not in dialog.goal_model.oxides
    dialog.every_oxide.setChecked(True)
    type_into(qtbot, dialog, "B2O3", "0.15")
    wait_for_answer(qtbot, dialog)
    assert not dialog.aimed.reached
    assert "B₂O₃" in dialog.words.text()
    assert dialog.aimed.shortfalls[0].oxide == "B2O3"
    assert dialog.help_button.isVisible()
    helps = dialog.aimed.shortfalls[0].help
    assert "colemanite" in helps
    assert not set(helps) & set(dialog.shelf.ticked)
    qtbot.mouseClick(dialog.help_button, Qt.MouseButton.LeftButton)
    assert set(helps) <= set(dialog.shelf.ticked)
    wait_for_answer(qtbot, dialog)
    assert dialog.aimed.reached
    assert not dialog.help_button.isVisible()


def test_stop_waits_for_nothing_and_what_ends_later_is_not_shown(dialog, qtbot, held_back):
    want(dialog, SiO2="3.4")
    qtbot.waitUntil(lambda: len(held_back.begun) == 1)
    assert dialog.looking
    assert dialog.state.text() == "looking…"
    assert not dialog.take_button.isEnabled()
    qtbot.mouseClick(dialog.stop_button, Qt.MouseButton.LeftButton)
    assert not dialog.looking
    assert dialog.state.text() == "stopped"
    held_back.gate.set()
    qtbot.waitUntil(lambda: len(held_back.ended) == 1, timeout=SOLVE_MS)
    QApplication.processEvents()
    assert dialog.aimed is None
    assert not dialog.take_button.isEnabled()
    # The same button begins anew.
    qtbot.mouseClick(dialog.stop_button, Qt.MouseButton.LeftButton)
    wait_for_answer(qtbot, dialog)
    assert dialog.aimed.reached


def test_typing_on_shows_only_what_was_asked_last(dialog, qtbot, held_back):
    want(dialog, SiO2="3.4")
    qtbot.waitUntil(lambda: len(held_back.begun) == 1)
    want(dialog, SiO2="3.6")
    qtbot.waitUntil(lambda: len(held_back.begun) == 2)
    held_back.gate.set()
    wait_for_answer(qtbot, dialog)
    assert dialog.proposals.proposal.unity[INDEX["SiO2"]] == pytest.approx(3.6, abs=1e-3)
    dialog.keep()
    assert dialog.wish.of("SiO2").low == 3.6


@pytest.mark.parametrize("way", ["escape", "close"])
def test_leaving_while_it_looks_is_safe(dialog, qtbot, held_back, way):
    want(dialog, SiO2="3.4")
    qtbot.waitUntil(lambda: len(held_back.begun) == 1)
    if way == "escape":
        qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    else:
        dialog.close()
    assert not dialog.looking
    held_back.gate.set()
    qtbot.waitUntil(lambda: len(held_back.ended) == 1, timeout=SOLVE_MS)
    QApplication.processEvents()
    assert (dialog.proposal, dialog.aimed) == (None, None)


def test_a_dialog_that_dies_while_it_looks_is_told_nothing(qtbot, theme, document, held_back):
    window = QWidget()
    dialog = AimDialog(document, theme, window)
    want(dialog, SiO2="3.4")
    qtbot.waitUntil(lambda: len(held_back.begun) == 1)
    # Nothing is closed first: the window goes, and the dialog with it.
    delete(window)
    assert not isValid(dialog)
    held_back.gate.set()
    qtbot.waitUntil(lambda: len(held_back.ended) == 1, timeout=SOLVE_MS)
    other, got = QObject(), []
    run_in_background(other, lambda: True, got.append, got.append)
    qtbot.waitUntil(lambda: got == [True])


def test_from_the_first_key_to_a_variant_without_a_mouse(dialog, qtbot):
    assert dialog.goals.hasFocus()
    qtbot.keyClick(dialog.goals, Qt.Key.Key_Down)
    oxide = dialog.goal_model.oxides[dialog.goals.currentIndex().row()]
    now = dialog.goal_model.index(dialog.goals.currentIndex().row(), Column.NOW).data()
    qtbot.keyClick(dialog.goals, "0")
    editor = cell_editor()
    qtbot.keyClicks(editor, f".{now.partition('.')[2]}")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    # Qt closes the cell an event later.
    qtbot.waitUntil(dialog.goals.hasFocus)
    assert dialog.isVisible()
    assert [goal.oxide for goal in dialog.goal_model.goals] == [oxide]
    # One more material than the recipe has, so that there is more than one way.
    for _ in range(20):
        if dialog.search.hasFocus():
            break
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClicks(dialog.search, "dolomite")
    qtbot.keyClick(dialog.search, Qt.Key.Key_Return)
    assert "dolomite" in dialog.shelf.ticked
    wait_for_answer(qtbot, dialog)
    assert len(dialog.aimed.proposals) > 1
    for _ in range(20):
        if dialog.proposals.hasFocus():
            break
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClick(dialog.proposals, Qt.Key.Key_Right)
    second = dialog.aimed.proposals[1]
    assert dialog.proposals.proposal is second
    for _ in range(20):
        if dialog.keep_button.hasFocus():
            break
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    qtbot.keyClick(dialog.keep_button, Qt.Key.Key_Space)
    assert dialog.result() == QDialog.DialogCode.Accepted
    assert dialog.proposal is second
    assert dialog.as_variant


def test_cancel_gives_nothing(dialog, qtbot):
    want(dialog, SiO2="3.4")
    wait_for_answer(qtbot, dialog)
    qtbot.mouseClick(dialog.cancel_button, Qt.MouseButton.LeftButton)
    assert dialog.result() == QDialog.DialogCode.Rejected
    assert (dialog.proposal, dialog.wish) == (None, None)


@pytest.mark.parametrize(
    ("texts", "named"),
    [({"MgO": "much"}, "MgO"), ({"MgO": "0.4..0.3"}, "MgO"), ({"Al2O3": "-1"}, "Al₂O₃")],
)
def test_a_fault_is_said_in_words_and_nothing_can_be_taken(dialog, qtbot, texts, named):
    want(dialog, SiO2="3.4")
    wait_for_answer(qtbot, dialog)
    assert dialog.take_button.isEnabled()
    want(dialog, **texts)
    wait_for_answer(qtbot, dialog)
    assert dialog.fault.isVisible()
    assert named in dialog.fault.text()
    oxide = next(iter(texts))
    cell = dialog.goal_model.index(dialog.goal_model.oxides.index(oxide), Column.WANTED)
    assert cell.data().startswith("✕")
    assert dialog.aimed is None
    assert not dialog.take_button.isEnabled()
    want(dialog, **{oxide: ""})
    wait_for_answer(qtbot, dialog)
    assert not dialog.fault.isVisible()
    assert dialog.take_button.isEnabled()


@pytest.mark.parametrize("text", ["plenty", "1,000.5"])
def test_a_limit_that_cannot_be_read_is_named(dialog, qtbot, text):
    qtbot.keyClicks(dialog.limits.clay_least, text)
    wait_for_answer(qtbot, dialog)
    assert dialog.fault.isVisible()
    assert dialog.fault.text().startswith("✕ Raw clay from")


def test_limits_are_asked_and_kept(dialog, document, qtbot):
    qtbot.keyClicks(dialog.limits.loi_most, "6")
    qtbot.keyClicks(dialog.limits.clay_least, "5")
    qtbot.keyClicks(dialog.limits.clay_most, "12,5")
    dialog.shelf.tick(["calcined-kaolin", "wollastonite"])
    wait_for_answer(qtbot, dialog)
    assert dialog.aimed.reached, dialog.words.text()
    first = dialog.aimed.proposals[0]
    table = shipped_materials()
    weights = dict(zip(first.materials, first.parts, strict=True))
    assert sum(w * table.get(m).analysis.loi for m, w in weights.items()) / 100 <= 6.001
    assert 4.999 <= weights["kaolin"] <= 12.501
    dialog.take()
    assert dialog.wish.limits == Limits(loi_percent=(0.0, 6.0), clay_percent=(5.0, 12.5))


def test_limits_in_the_wrong_order_are_said(dialog, qtbot):
    want(dialog, SiO2="3.4")
    qtbot.keyClicks(dialog.limits.expansion_least, "7")
    qtbot.keyClicks(dialog.limits.expansion_most, "6")
    wait_for_answer(qtbot, dialog)
    assert "expansion" in dialog.fault.text()


def test_the_others_may_be_near_free_or_none(dialog, qtbot):
    want(dialog, SiO2="3.4")
    for others in Others:
        dialog.others.setCurrentIndex(dialog.others.findData(others))
        dialog.look()
        wait_for_answer(qtbot, dialog)
        assert dialog._shown[0].others is others
    # Without any flux there is nothing to hold the silica against.
    assert not dialog.aimed.reached


def test_no_tick_and_no_oxide_are_told(dialog, qtbot):
    dialog.others.setCurrentIndex(dialog.others.findData(Others.FREE))
    qtbot.keyClicks(dialog.limits.loi_most, "6")
    wait_for_answer(qtbot, dialog)
    assert "no oxide" in dialog.fault.text().casefold()
    want(dialog, SiO2="3.4")
    dialog.shelf.tick(dialog.shelf.ticked, on=False)
    wait_for_answer(qtbot, dialog)
    assert "no material" in dialog.fault.text().casefold()


@pytest.mark.parametrize("step", [0.5, 1.0])
def test_the_parts_are_rounded_as_told(dialog, qtbot, step):
    want(dialog, SiO2="3.4")
    dialog.step.setCurrentIndex(dialog.step.findData(step))
    wait_for_answer(qtbot, dialog)
    for proposal in dialog.aimed.proposals:
        assert sum(proposal.parts) == pytest.approx(100)
        for part in proposal.parts:
            assert part / step == pytest.approx(round(part / step), abs=1e-9)


def test_the_chosen_proposal_is_compared_oxide_by_oxide(dialog, qtbot):
    want(dialog, SiO2="3.4", MgO="0.3")
    dialog.shelf.tick(["dolomite", "wollastonite"])
    wait_for_answer(qtbot, dialog)
    row = dialog.goal_model.oxides.index("SiO2")
    for column, proposal in enumerate(dialog.aimed.proposals, start=FIRST):
        dialog.proposals.choose_column(column)
        assert dialog.proposals.proposal is proposal
        got = dialog.goal_model.index(row, Column.GOT).data()
        assert float(got) == pytest.approx(proposal.unity[INDEX["SiO2"]], abs=5e-4)
    silica, alumina = proposal.point
    assert f"got {silica / alumina:.2f}" in dialog.ratio.text()


def test_the_ratio_that_is_asked_is_shown(dialog):
    want(dialog, SiO2="3.2", Al2O3="0.4")
    assert "wanted 8.00" in dialog.ratio.text()
    want(dialog, Al2O3="0.4 to 0.5")
    assert "wanted 6.40..8.00" in dialog.ratio.text()


def test_the_own_rows_come_first_and_the_table_behind_a_switch(dialog, document, qtbot):
    own = [row.material for row in document.recipe.base]
    assert list(dialog.shelf.shown) == own
    assert list(dialog.shelf.ticked) == own
    dialog.everything.setChecked(True)
    assert list(dialog.shelf.shown[: len(own)]) == own
    assert len(dialog.shelf.shown) == len(document.studio.materials)
    dialog.everything.setChecked(False)
    qtbot.keyClicks(dialog.search, "wollast")
    assert dialog.shelf.shown[0] == "wollastonite"
    line = dialog.materials.visualRect(dialog.shelf.index(0))
    assert line.height() >= 24
    # Far from the box itself.
    viewport = dialog.materials.viewport()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=line.center())
    assert "wollastonite" in dialog.shelf.ticked
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=line.center())
    assert "wollastonite" not in dialog.shelf.ticked
    dialog.materials.setFocus()
    dialog.materials.setCurrentIndex(dialog.shelf.index(0))
    qtbot.keyClick(dialog.materials, Qt.Key.Key_Space)
    assert "wollastonite" in dialog.shelf.ticked
    dialog.search.clear()
    assert "wollastonite" in dialog.shelf.shown


def test_escape_in_a_cell_takes_back_what_was_typed_there_and_no_more(dialog, qtbot):
    type_into(qtbot, dialog, "SiO2", "3.4")
    dialog.goals.go_to("SiO2")
    qtbot.keyClick(dialog.goals, "9")
    editor = cell_editor()
    assert dialog.goal_model.goals == (Goal("SiO2", 9.0, 9.0),)
    qtbot.keyClick(editor, Qt.Key.Key_Escape)
    assert dialog.isVisible()
    assert dialog.goal_model.goals == (Goal("SiO2", 3.4, 3.4),)
    qtbot.keyClick(dialog.goals, Qt.Key.Key_Delete)
    assert dialog.goal_model.goals == ()


def test_a_recipe_without_a_formula_can_still_be_aimed(open_dialog, document, qtbot):
    recipe = document.recipe
    document.edit("no flux", recipe.with_rows(Section.BASE, recipe.base[3:]))
    assert document.evaluation.formula.unity is None
    dialog = open_dialog()
    assert not dialog.as_now.isEnabled()
    assert dialog.others.findData(Others.NEAR) < 0
    dialog.shelf.tick(["whiting"])
    want(dialog, CaO="1", Al2O3="0.3", SiO2="2.5")
    wait_for_answer(qtbot, dialog)
    assert dialog.aimed.reached


def test_new_materials_bring_their_cautions(dialog, qtbot):
    dialog.shelf.tick(["barium-carbonate"])
    want(dialog, BaO="0.1")
    wait_for_answer(qtbot, dialog)
    assert "barium-carbonate" in dialog.proposals.proposal.materials
    assert dialog.caution_area.isVisible()
    assert "Barium carbonate" in dialog.cautions.text()


def test_the_theme_is_followed_live(dialog, theme, qtbot):
    want(dialog, MgO="x")
    wait_for_answer(qtbot, dialog)
    theme.set_choice("dark")
    ink = dialog.fault.palette().windowText().color()
    assert ink == DARK.color(Role.STOP)


def test_everything_is_named_and_large_enough_to_hit(dialog):
    fields = (QAbstractButton, QAbstractItemView, QComboBox, QLineEdit)
    own = [w for w in dialog.findChildren(QWidget) if isinstance(w, fields) and w.isVisible()]
    reached = [w for w in own if w.focusPolicy() & Qt.FocusPolicy.TabFocus]
    assert len(reached) > 15
    for widget in reached:
        named = widget.accessibleName() or getattr(widget, "text", str)()
        assert named, widget
        assert widget.height() >= 24, named


def test_it_fits_a_small_screen_with_every_word_on_show(dialog, qtbot):
    smallest = dialog.minimumSizeHint()
    assert smallest.width() <= 1100
    assert smallest.height() <= 640
    want(dialog, SiO2="2", Al2O3="1.4", MgO="0.9", K2O="0.4")
    wait_for_answer(qtbot, dialog)
    words = dialog.words
    assert words.text().count("\n") >= 2
    qtbot.waitUntil(lambda: words.height() >= words.heightForWidth(words.width()))
    assert dialog.height() <= 640


def test_locked_rows_are_spoken_of(open_dialog, document):
    assert not open_dialog().note.text()
    recipe = document.recipe
    locked = (replace(recipe.base[0], locked=True), *recipe.base[1:])
    document.edit("lock", recipe.with_rows(Section.BASE, locked))
    assert "Locked" in open_dialog().note.text()


def test_the_recipe_on_the_bench_stands_beside_the_proposals(document):
    """Losses by formula: kaolin 2 H2O in 258.16, whiting CO2 in 100.09, talc H2O in 379.26."""
    now = now_of(document.recipe, document.studio, with_additions=True)
    assert now.parts == {row.material: row.amount for row in document.recipe.base}
    assert now.clay_percent == pytest.approx(20.0)
    water, gas = 18.015, 44.009
    loss = 20 * 2 * water / 258.16 + 12 * gas / 100.09 + 16 * water / 379.26
    assert now.loi_percent == pytest.approx(loss, abs=0.01)


def test_the_models_keep_qt_s_rules(qtmodeltester, document, qtbot):
    near = own_near(document)
    shelf = shelf_of(document.recipe, document.studio)
    goals = GoalModel(near)
    goals.show_oxides(["SiO2", "CaO"])
    materials = ShelfModel(shelf.materials, shipped_materials(), ["kaolin"])
    proposals = ProposalsModel(Now({"kaolin": 100.0}), str)
    for model in (goals, materials, proposals):
        qtmodeltester.check(model)
    goals.show_oxides(["MgO", "SiO2"])
    assert goals.oxides == ("MgO", "SiO2")
    materials.show_all(True)
    wish = Wish((Goal("SiO2", 3.4, 3.4),), Others.NEAR, near)
    proposals.show_proposals(aim(shelf, wish).proposals)
    goals.show_proposal(proposals.proposals[0])
    for model in (goals, materials, proposals):
        qtmodeltester.check(model)
