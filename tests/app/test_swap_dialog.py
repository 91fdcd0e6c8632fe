"""Swapping in the window: what is chosen is what is swapped, and what moved is said.

Formulas are checked by plain arithmetic from the shipped analyses and the molar masses of
tests/data/minerals.yaml (computed there from the IUPAC abridged weights).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLineEdit, QTableWidget, QWidget

from app.before_after import Column
from app.formatting import oxide_text
from app.swap_dialog import SwapDialog, swaps_of_several, usual_swaps
from app.theme import DARK, Role
from core.evaluate import evaluate
from core.material_table import shipped_materials
from core.oxides import FLUXES
from core.recipe import Ingredient, Section


@pytest.fixture
def open_dialog(qtbot, theme, studio):
    held = []

    def make(recipe, out="", base_alone=False):
        dialog = SwapDialog(evaluate(recipe, studio, base_alone), theme, out)
        held.append(dialog)
        qtbot.addWidget(dialog)
        with qtbot.waitExposed(dialog):
            dialog.show()
        return dialog

    return make


@pytest.fixture
def dialog(open_dialog, fixture_recipe):
    return open_dialog(fixture_recipe, "kaolin")


@pytest.fixture
def unity(minerals):
    """Unity formula of a base, by hand."""
    masses = minerals["oxide_molar_mass"]["values"]

    def by_hand(recipe):
        moles = {}
        for row in recipe.base:
            for oxide, percent in shipped_materials().get(row.material).analysis.percent:
                moles[oxide] = moles.get(oxide, 0.0) + row.amount * percent / masses[oxide]
        fluxes = sum(moles.get(oxide, 0.0) for oxide in FLUXES)
        return {oxide: amount / fluxes for oxide, amount in moles.items()}

    return by_hand


def row_of(table, key):
    return next(i for i, line in enumerate(table.lines) if line.key == key)


def texts(table, key):
    row = row_of(table, key)
    return [table.item(row, column).text() for column in Column]


def bold(table):
    return {
        line.key
        for row, line in enumerate(table.lines)
        if table.item(row, Column.AFTER).font().bold()
    }


def shifts_of(dialog):
    return dialog.found.shifts


def test_before_anything_comes_in_nothing_is_offered_to_take(dialog):
    assert dialog.found is None
    assert not dialog.take_button.isEnabled()
    assert not dialog.keep_button.isEnabled()
    assert "Nothing changes yet" in dialog.words.text()
    assert texts(dialog.rows, "kaolin") == ["Kaolin", "20.00", "–", ""]
    assert dialog.coming == ()


def test_calcined_kaolin_for_raw_keeps_the_whole_formula(dialog, qtbot, unity, fixture_recipe):
    assert dialog.into_table.lines[0].key == "calcined-kaolin"
    dialog.put_in("calcined-kaolin")
    # 20 of raw kaolin are 17.21 calcined: 20 times 222.13 over 258.16, minerals.yaml.
    assert texts(dialog.rows, "calcined-kaolin") == ["Calcined kaolin", "–", "17.21", "+17.21"]
    assert texts(dialog.rows, "kaolin")[1:] == ["20.00", "–", "−20.00"]
    assert texts(dialog.rows, "")[1:] == ["100.00", "97.21", "−2.79"]
    assert "whole formula stays" in dialog.words.text()
    assert bold(dialog.oxides) == set()
    assert unity(dialog.found.recipe) == pytest.approx(unity(fixture_recipe), abs=1e-6)
    assert "97.21" in dialog.notes.text()
    qtbot.mouseClick(dialog.take_button, Qt.MouseButton.LeftButton)
    assert dialog.swapped.recipe.base[3].material == "calcined-kaolin"
    assert not dialog.as_variant
    assert dialog.result() == SwapDialog.DialogCode.Accepted


def test_a_swap_that_cannot_keep_the_formula_says_what_moved(open_dialog, fixture_recipe, unity):
    dialog = open_dialog(fixture_recipe, "potash-feldspar")
    dialog.put_in("nepheline-syenite")
    before, after = unity(fixture_recipe), unity(dialog.found.recipe)
    moved = {o for o in after if abs(after[o] - before.get(o, 0.0)) > 0.0051}
    assert bold(dialog.oxides) == moved
    assert "Na2O" in moved
    assert "cannot be kept" in dialog.words.text()
    assert dialog.words.text().startswith("◆")
    for oxide in moved - {"Na2O"}:
        assert oxide_text(oxide) in dialog.words.text()
        assert texts(dialog.oxides, oxide)[2] == f"{after[oxide]:.3f}"
    assert "Na₂O rises from 0.000" in dialog.notes.text()
    # The point before and after, with the ratio and what is read there.
    figures = [label.text() for label in dialog.readings]
    for place, formula in ((1, before), (4, after)):
        ratio = formula["SiO2"] / formula["Al2O3"]
        assert f"SiO₂ {formula['SiO2']:.3f}" in figures[place]
        assert f"Al₂O₃ {formula['Al2O3']:.3f}" in figures[place]
        assert f"{ratio:.2f}" in figures[place]
        assert "%" in figures[place + 1]
        assert "melt margin" in figures[place + 1]
    assert f"After: SiO₂ {after['SiO2']:.3f}" in dialog.map.accessibleDescription()


def test_rows_that_may_move_help_to_keep(open_dialog, fixture_recipe, qtbot):
    dialog = open_dialog(fixture_recipe, "potash-feldspar")
    dialog.put_in("soda-feldspar")
    dialog.put_in("nepheline-syenite")
    held = sum(abs(s) for s in shifts_of(dialog).values())
    dialog.rows.setFocus()
    for key in ("silica", "kaolin", "talc", "whiting"):
        dialog.rows.setCurrentCell(row_of(dialog.rows, key), Column.NAME)
        qtbot.keyClick(dialog.rows, Qt.Key.Key_Space)
        assert dialog.rows.lines[row_of(dialog.rows, key)].ticked
    assert sum(abs(s) for s in shifts_of(dialog).values()) < held - 0.05
    place = dialog.rows.visualItemRect(dialog.rows.item(row_of(dialog.rows, "silica"), 0)).center()
    qtbot.mouseClick(dialog.rows.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert not dialog.rows.lines[row_of(dialog.rows, "silica")].ticked
    assert texts(dialog.rows, "silica")[1:3] == ["10.00", "10.00"]


def test_an_oxide_that_is_let_go_gives_way_for_those_that_are_kept(open_dialog, fixture_recipe):
    dialog = open_dialog(fixture_recipe, "whiting")
    dialog.put_in("wollastonite")
    assert not dialog.found.kept
    for oxide in ("SiO2", "Al2O3"):
        dialog.keep_oxide(oxide, False)
        assert not dialog.oxides.lines[row_of(dialog.oxides, oxide)].ticked
    assert dialog.found.kept
    assert abs(shifts_of(dialog).get("CaO", 0.0)) <= 0.005
    assert "Let go: SiO₂" in dialog.words.text()


def test_a_name_can_be_typed_and_entered(dialog, qtbot):
    dialog.picker.setFocus()
    qtbot.keyClicks(dialog.picker, "alumina hyd")
    qtbot.keyClick(dialog.picker, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.coming == ("alumina-hydrate",))
    assert dialog.picker.text() == ""
    assert dialog.isVisible()
    assert dialog.found is not None
    qtbot.keyClicks(dialog.picker, "nothing of the kind")
    qtbot.keyClick(dialog.picker, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "nothing of the kind" in dialog.words.text())
    assert dialog.coming == ("alumina-hydrate",)


def test_a_name_picked_from_the_list_comes_in_once(dialog, qtbot):
    dialog.picker.setFocus()
    qtbot.keyClicks(dialog.picker, "alum")
    popup = dialog.picker.completer().popup()
    qtbot.waitUntil(popup.isVisible)
    qtbot.keyClick(popup, Qt.Key.Key_Down)
    qtbot.keyClick(popup, Qt.Key.Key_Down)
    name = popup.currentIndex().data()
    qtbot.keyClick(popup, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(dialog.coming))
    assert [shipped_materials().get(i).name for i in dialog.coming] == [name]
    qtbot.waitUntil(lambda: dialog.picker.text() == "")


def test_what_is_ticked_can_be_unticked(dialog, qtbot):
    qtbot.keyClick(dialog.into_table, Qt.Key.Key_Down)
    dialog.into_table.setCurrentCell(0, 0)
    qtbot.keyClick(dialog.into_table, Qt.Key.Key_Space)
    assert dialog.coming == ("calcined-kaolin",)
    qtbot.keyClick(dialog.into_table, Qt.Key.Key_Space)
    assert dialog.coming == ()
    assert dialog.found is None
    assert not dialog.take_button.isEnabled()


def test_dolomite_and_silica_for_talc_as_whiting_moves(open_dialog, base_of, unity):
    # Talc brings 3 MgO; dolomite brings as much CaO with it, which whiting must have brought.
    recipe = base_of(potash_feldspar=42, talc=16, whiting=20, kaolin=20, silica=10)
    dialog = open_dialog(recipe, "talc")
    assert dialog.suggest.isVisible()
    dialog.take_suggestion()
    assert dialog.found.exact
    # The check's molar masses have five digits and no longer cancel row by row.
    assert unity(dialog.found.recipe) == pytest.approx(unity(recipe), abs=2e-4)
    assert not dialog.suggest.isVisible()
    back = open_dialog(dialog.found.recipe, "dolomite")
    back.take_suggestion()
    amounts = {row.material: row.amount for row in back.found.recipe.base if row.amount > 1e-6}
    assert amounts == pytest.approx({r.material: r.amount for r in recipe.base}, abs=1e-5)


def test_two_materials_can_go_out_together(open_dialog, fixture_recipe):
    dialog = open_dialog(fixture_recipe, "talc")
    dialog.also_out.setCurrentIndex(dialog.also_out.findData("whiting"))
    dialog.put_in("dolomite")
    assert dialog.going == ("talc", "whiting")
    materials = {row.material for row in dialog.found.recipe.base}
    assert "dolomite" in materials
    assert not materials & {"talc", "whiting"}
    dialog.out.setCurrentIndex(dialog.out.findData("whiting"))
    assert dialog.going == ("whiting",)
    assert dialog.coming == ("dolomite",)


def test_locked_rows_neither_go_nor_move(open_dialog, fixture_recipe, qtbot):
    locked = fixture_recipe.with_lock(Section.BASE, 3, True)
    dialog = open_dialog(locked, "kaolin")
    assert dialog.going == ("potash-feldspar",)
    assert not dialog.out.model().item(dialog.out.findData("kaolin")).isEnabled()
    dialog.rows.setCurrentCell(row_of(dialog.rows, "kaolin"), Column.NAME)
    qtbot.keyClick(dialog.rows, Qt.Key.Key_Space)
    assert not dialog.rows.lines[row_of(dialog.rows, "kaolin")].ticked
    dialog.put_in("kaolin")
    assert dialog.found is None
    assert "locked" in dialog.words.text()
    assert dialog.words.text().startswith("✕")
    every = fixture_recipe
    for row in range(5):
        every = every.with_lock(Section.BASE, row, True)
    assert "unlock one first" in open_dialog(every).words.text()


def test_what_brings_no_flux_is_refused_in_words(open_dialog, base_of):
    dialog = open_dialog(base_of(whiting=30, silica=70), "whiting")
    dialog.put_in("tin-oxide")
    assert dialog.found is None
    assert "flux" in dialog.words.text()
    assert not dialog.take_button.isEnabled()
    nothing = open_dialog(base_of(silica=100))
    assert "flux" in nothing.words.text()
    assert open_dialog(base_of()).found is None


def test_additions_keep_their_weight_and_count(open_dialog, fixture_recipe, qtbot):
    coloured = fixture_recipe.with_rows(
        Section.ADDITIONS, (Ingredient("red-iron-oxide", 8.0), Ingredient("dolomite", 5.0))
    )
    dialog = open_dialog(coloured, "kaolin", base_alone=True)
    dialog.put_in("calcined-kaolin")
    assert dialog.found.exact
    # Percent of a base of 97.21 instead of 100: the same weight.
    assert texts(dialog.rows, "+red-iron-oxide")[1:3] == ["8.00", f"{800 / 97.2087:.2f}"]
    point = evaluate(coloured, dialog._studio).point
    assert f"SiO₂ {point[0]:.3f}" in dialog.readings[1].text()
    qtbot.mouseClick(dialog.keep_button, Qt.MouseButton.LeftButton)
    assert dialog.as_variant
    assert dialog.swapped is not None


def test_cancel_takes_nothing(dialog, qtbot):
    dialog.put_in("calcined-kaolin")
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.swapped is None
    assert not dialog.isVisible()


def test_cautions_come_with_new_materials(open_dialog, fixture_recipe):
    dialog = open_dialog(fixture_recipe, "whiting")
    dialog.put_in("barium-carbonate")
    assert "Barium carbonate" in dialog.notes.text()


def test_suggestions_are_materials_that_are_there(fixture_recipe, studio):
    assert usual_swaps(fixture_recipe, studio, ("kaolin",))[0] == "calcined-kaolin"
    spars = usual_swaps(fixture_recipe, studio, ("potash-feldspar",))
    assert "soda-feldspar" in spars
    assert "potash-feldspar" not in spars
    for row in fixture_recipe.base:
        for found in usual_swaps(fixture_recipe, studio, (row.material,)):
            material = studio.materials.get(found)
            assert material.form != "soluble"
            assert "lead" not in material.hazards
    locked = replace(
        fixture_recipe, base=tuple(replace(r, locked=True) for r in fixture_recipe.base)
    )
    assert swaps_of_several(locked, ("talc",)) == []


def test_it_fits_a_small_screen_and_can_be_heard(dialog, theme):
    dialog.put_in("nepheline-syenite")
    assert dialog.minimumSizeHint().width() <= 1000
    assert dialog.minimumSizeHint().height() <= 640
    assert (dialog.width(), dialog.height()) == (1000, 640)
    for widget in dialog.findChildren(QWidget):
        if not widget.isVisible() or widget.focusPolicy() == Qt.FocusPolicy.NoFocus:
            continue
        if isinstance(widget, QAbstractButton | QComboBox | QLineEdit):
            assert widget.height() >= 24
            assert widget.accessibleName() or getattr(widget, "text", str)()
        elif isinstance(widget, QTableWidget):
            assert widget.accessibleName()
            assert widget.verticalHeader().defaultSectionSize() >= 24


def test_tab_goes_from_the_choices_to_the_buttons(dialog):
    dialog.put_in("calcined-kaolin")
    order, widget = [], dialog.out
    while widget not in order:
        order.append(widget)
        widget = widget.nextInFocusChain()
    places = [
        order.index(w)
        for w in (
            dialog.out,
            dialog.also_out,
            dialog.picker,
            dialog.into_table,
            dialog.rows,
            dialog.oxides,
            dialog.take_button,
            dialog.cancel_button,
        )
    ]
    assert places == sorted(places)


def test_the_theme_is_followed(dialog, theme):
    dialog.put_in("nepheline-syenite")
    light = dialog.map.grab().toImage()
    theme.set_choice("dark")
    assert dialog.map.grab().toImage() != light
    assert dialog.notes.palette().windowText().color() == DARK.color(Role.MUTED)
    theme.set_choice("light")
    assert dialog.map.grab().toImage() == light
