"""The dialog that plans a run: what it offers, shows, refuses and gives."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QWidget

from app.document import Document
from app.plan_cells import CellColumn
from app.plan_dialog import PlanDialog
from app.plan_kinds import SetForm
from app.plan_preview import one_flux_set
from core.blend.plan import BlendKind
from core.evaluate import evaluate, formula_alone
from core.materials import MaterialTable
from core.reading.surface import ZONES
from core.reading.words import verdict
from core.recipe_file import read_recipe
from core.studio import Scale, Studio, open_studio
from core.tiles.codes import is_code
from core.tiles.run_file import read_run, save_run
from core.variants import as_recipe, rows_of


@pytest.fixture
def here(studio_folder):
    """The demo studio, and the recipe of it that has variants."""
    return read_recipe(studio_folder / "recipes" / "eider.yaml"), open_studio(studio_folder)


@pytest.fixture
def state_folder(tmp_path):
    return tmp_path / "state"


@pytest.fixture
def dialog(qtbot, here, theme, state_folder):
    return _shown(qtbot, PlanDialog(here, theme, state_folder))


def _shown(qtbot, dialog):
    qtbot.addWidget(dialog)
    dialog.show()
    qtbot.waitExposed(dialog)
    return dialog


def _choose(dialog, kind):
    dialog.kind.choose(kind)
    dialog.settle()


def _type(dialog, field, text):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)
    dialog.settle()


def _takes(dialog):
    """Volumes of the cups as the table shows them [ml]."""
    table = dialog.takes.table
    return [float(table.item(row, 1).text()) for row in range(table.rowCount())]


# Each kind: the tile counts of the trade's usual blends (a line of n tiles, (k + 1)(k + 2)/2 in
# a triangle of k steps, columns × rows in a grid), and what a cup of 50 ml then takes of each
# corner: by symmetry every corner gives its part of all the cups together.


@pytest.mark.parametrize("tiles", [3, 11, 21])
def test_a_line_has_as_many_tiles_as_asked_and_both_ends_give_half(dialog, tiles):
    _choose(dialog, BlendKind.LINE)
    dialog.line.tiles.setValue(tiles)
    dialog.settle()
    assert len(dialog.plan.cells) == dialog.cells.rowCount() == tiles
    assert dialog.heading.text() == f"{tiles} tiles"
    assert _takes(dialog) == [pytest.approx(50.0 * tiles / 2)] * 2
    if tiles == 11:
        assert _takes(dialog) == [275.0, 275.0]


@pytest.mark.parametrize(("place", "tiles"), [(0, 21), (1, 45), (2, 66)])
def test_a_triangle_has_21_45_or_66_tiles_and_each_corner_gives_a_third(dialog, place, tiles):
    _choose(dialog, BlendKind.TRIAXIAL)
    dialog.triaxial.step.setCurrentIndex(place)
    dialog.settle()
    assert len(dialog.plan.cells) == tiles
    assert _takes(dialog) == [pytest.approx(50.0 * tiles / 3, abs=0.051)] * 3
    if tiles == 21:
        assert _takes(dialog) == [350.0, 350.0, 350.0]


@pytest.mark.parametrize(("columns", "rows"), [(5, 7), (3, 4)])
def test_a_grid_has_its_columns_times_rows_and_each_corner_gives_a_quarter(dialog, columns, rows):
    _choose(dialog, BlendKind.GRID)
    dialog.grid.columns.setValue(columns)
    dialog.grid.rows.setValue(rows)
    dialog.settle()
    assert not dialog.fault
    assert len(dialog.plan.cells) == columns * rows
    assert _takes(dialog) == [pytest.approx(50.0 * columns * rows / 4)] * 4
    if columns * rows == 35:
        assert _takes(dialog) == [437.5] * 4


def test_the_ways_to_the_corners_of_a_grid_give_the_rectangle_that_was_asked(dialog, here):
    _choose(dialog, BlendKind.GRID)
    for field, low, high in ((dialog.grid.silica, 3.1, 4), (dialog.grid.alumina, "0,5", 0.65)):
        _type(dialog, field.low, str(low))
        _type(dialog, field.high, str(high))
    points = [formula_alone(corner.recipe, here[1]).point for corner in dialog.plan.corners]
    wanted = [(3.1, 0.65), (4.0, 0.65), (3.1, 0.5), (4.0, 0.5)]
    assert [pytest.approx(one, abs=1e-6) for one in wanted] == points
    assert one_flux_set(dialog.plan)
    dialog.grid.way.choose("parts")
    dialog.settle()
    _type(dialog, dialog.grid.clay_parts.low, "10")
    _type(dialog, dialog.grid.clay_parts.high, "30")
    kaolin = [
        next(row.amount for row in corner.recipe.base if row.material == "kaolin")
        for corner in dialog.plan.corners
    ]
    assert kaolin == [30, 30, 10, 10]
    dialog.grid.way.choose("chosen")
    dialog.settle()
    chosen = [rows_of(corner.recipe) for corner in dialog.plan.corners]
    assert rows_of(here[0]) == chosen[0]
    assert all(rows != other for i, rows in enumerate(chosen) for other in chosen[:i])


def test_a_series_doubles_or_follows_an_own_list(dialog):
    _choose(dialog, BlendKind.ADDITIONS)
    names = [cell.label.split(" %")[0] for cell in dialog.plan.cells]
    assert names == ["0.25", "0.5", "1", "2"]
    dialog.additions.way.choose("list")
    _type(dialog, dialog.additions.list, "0 1,5 3")
    assert [cell.label.split(" %")[0] for cell in dialog.plan.cells] == ["0", "1.5", "3"]
    _type(dialog, dialog.additions.list, "1 1")
    assert "twice" in dialog.fault
    dialog.additions.way.choose("doubling")
    dialog.settle()
    edit = dialog.additions.material.lineEdit()
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "moonstone dust")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert "moonstone dust" in dialog.fault


def test_a_free_set_takes_variants_rows_and_recipes(dialog, here):
    _choose(dialog, BlendKind.VARIANTS)
    assert [cell.label for cell in dialog.plan.cells] == ["A", "B", "C"]
    assert dialog.mixing.is_dry
    form: SetForm = dialog.set
    titles = [form.list.item(row).text() for row in range(form.list.count())]
    form.list.item(titles.index("Rockpool")).setCheckState(Qt.CheckState.Checked)
    dialog.settle()
    assert [cell.recipe.name for cell in dialog.plan.cells][-1] == "Rockpool"
    # All go into one kiln: that of the recipe on the bench.
    assert {cell.recipe.firing for cell in dialog.plan.cells} == {here[0].firing}
    for row in range(form.list.count()):
        form.list.item(row).setCheckState(Qt.CheckState.Unchecked)
    dialog.settle()
    assert "ticked" in dialog.fault
    assert not dialog.ok.isEnabled()


def test_ends_are_the_rows_a_variant_or_another_recipe(dialog, here):
    recipe, studio = here
    titles = [source.title for source in dialog._sources.all]
    assert titles[0] == "the rows as they stand"
    dialog.line.ends[0].setCurrentIndex(titles.index(next(t for t in titles if "variant C" in t)))
    dialog.line.ends[1].setCurrentIndex(titles.index("Drystone"))
    dialog.settle()
    first, last = (corner.recipe for corner in dialog.plan.corners)
    assert rows_of(first) == rows_of(as_recipe(recipe, recipe.variant("C")))
    drystone = read_recipe(studio.folder / "recipes" / "drystone.yaml")
    assert rows_of(last) == rows_of(drystone)
    dialog.line.ends[0].setCurrentIndex(titles.index("Drystone"))
    dialog.settle()
    assert "same rows" in dialog.fault


def test_the_preview_reads_every_tile_and_names_the_zones(qtbot, dialog, here):
    _choose(dialog, BlendKind.GRID)
    assert dialog.reader.running
    qtbot.waitUntil(lambda: dialog.reader.done, timeout=20_000)
    plan = dialog.plan
    for row in (0, 17, 34):
        evaluation = evaluate(plan.cells[row].recipe, here[1])
        shown = dialog.cells.index(row, CellColumn.SURFACE).data()
        assert shown == verdict(evaluation.reading)
    words = dialog.preview.legend.text()
    assert all(zone.value in words for zone in ZONES)
    assert "not read" not in words
    counted = [int(text.split()[-1]) for text in words.split(", ")[: len(ZONES)]]
    assert sum(counted) == 35
    assert dialog.preview.plot.accessibleDescription().startswith(words.split(",")[0])
    qtbot.waitUntil(lambda: dialog.preview.backdrop.field is not None)
    basis = dialog.preview.backdrop.field.basis
    middle = evaluate(plan.cells[17].recipe, here[1]).reading.surface.basis
    assert basis.share("MgO") == pytest.approx(middle.share("MgO"), abs=1e-6)
    assert dialog.progress.value() == 35
    assert not dialog.stop_button.isEnabled()


def test_no_common_zones_are_drawn_where_the_fluxes_differ(qtbot, dialog):
    qtbot.waitUntil(lambda: dialog.reader.done, timeout=20_000)
    assert not one_flux_set(dialog.plan)
    assert dialog.preview.backdrop.field is None
    assert "no common zones" in dialog.preview.legend.text()


def test_reading_can_be_stopped_and_gone_on_with(qtbot, dialog):
    _choose(dialog, BlendKind.GRID)
    qtbot.waitUntil(lambda: dialog.reader.count >= 2, timeout=20_000)
    dialog.stop_button.click()
    there = dialog.reader.count
    assert 2 <= there < 35
    assert not dialog.reader.running
    assert "not read" in dialog.preview.legend.text()
    assert "Go on" in dialog.stop_button.text()
    dialog.stop_button.click()
    qtbot.waitUntil(lambda: dialog.reader.done, timeout=20_000)
    assert len(dialog.cells.readings) == 35


def test_another_plan_drops_what_was_being_read_and_closing_stops_it(qtbot, dialog):
    _choose(dialog, BlendKind.GRID)
    qtbot.waitUntil(lambda: dialog.reader.count >= 2, timeout=20_000)
    _choose(dialog, BlendKind.TRIAXIAL)
    assert (dialog.reader.tiles, dialog.reader.count) == (21, 0)
    assert not dialog.cells.readings
    dialog.reject()
    assert not dialog.reader.running


def test_figures_of_the_mixing_leave_plan_and_readings_alone(qtbot, dialog):
    qtbot.waitUntil(lambda: dialog.reader.done, timeout=20_000)
    plan = dialog.plan
    _type(dialog, dialog.mixing.cup, "100")
    assert dialog.plan is plan
    assert len(dialog.cells.readings) == 11
    assert _takes(dialog) == [550.0, 550.0]
    # 15 % over 550 ml is 632.5, rounded up to 5 ml.
    assert dialog.takes.table.item(0, 2).text() == "635"


def test_a_chosen_tile_shows_its_recipe_and_formula(qtbot, dialog, here):
    dialog.table.selectRow(5)
    assert dialog.detail.text().startswith("Tile 6, A 50 B 50")
    assert "MgO" in dialog.detail.text()
    assert "Potash feldspar" in dialog.recipe_line.text()
    spot = dialog.preview.tiles.to_screen([dialog.plan.cells[0].formula.point])[0]
    QTest.mouseClick(
        dialog.preview.plot.viewport(),
        Qt.MouseButton.LeftButton,
        pos=QPoint(*map(round, spot.toTuple())),
    )
    assert dialog.table.currentIndex().row() == 0


def test_corners_out_of_reach_are_refused_with_the_reason_until_a_material_helps(dialog):
    _choose(dialog, BlendKind.GRID)
    assert dialog.ok.isEnabled()
    _type(dialog, dialog.grid.silica.low, "2.5")
    _type(dialog, dialog.grid.alumina.high, "0.8")
    assert dialog.plan is None
    assert dialog.run is None
    assert "cannot be reached" in dialog.message.text()
    assert "another material" in dialog.message.text()
    assert not dialog.ok.isEnabled()
    assert dialog.ok.accessibleDescription() == dialog.fault != ""
    dialog.accept()
    assert dialog.isVisible()
    dialog.grid.also.choose("alumina")
    dialog.settle()
    assert dialog.fault == ""
    assert dialog.ok.isEnabled()


def test_a_coarse_scale_is_warned_of_with_the_batch_that_would_do(dialog):
    _choose(dialog, BlendKind.ADDITIONS)
    dialog.mixing.method.choose("dry")
    _type(dialog, dialog.mixing.batch, "20")
    # Between 0 and 0.25 % half a step is 0.125 %; half of 0.1 g is that much of 40 g.
    assert "at least 40 g" in dialog.takes.warnings[0].text()
    assert dialog.ok.isEnabled()
    _type(dialog, dialog.mixing.batch, "40")
    assert not dialog.amounts.warnings
    # 0.1 g of 40 g may be half of itself off; within 5 % it is from 400 g on.
    assert any("off by 50 %" in text and "400 g" in text for text in dialog.amounts.words)
    _type(dialog, dialog.mixing.batch, "20")
    assert dialog.amounts.warnings
    dialog.mixing.scale.setCurrentIndex(1)
    dialog.settle()
    assert dialog.mixing.mixing().readout_g == pytest.approx(0.01)
    assert not dialog.amounts.warnings
    assert not dialog.takes.warnings[0].isVisible()


def test_the_scale_begins_with_the_one_of_the_studio(qtbot, here, theme, state_folder):
    recipe, studio = here
    coarse = Scale("kitchen", "Kitchen scale", 5.0)
    studio = replace(studio, scales=(*studio.scales, coarse), scale=coarse)
    dialog = _shown(qtbot, PlanDialog((recipe, studio), theme, state_folder))
    assert "Kitchen" in dialog.mixing.scale.currentText()
    dialog.mixing.method.choose("dry")
    dialog.settle()
    assert dialog.amounts.warnings


def test_a_coarse_syringe_is_warned_of(dialog):
    dialog.line.tiles.setValue(21)
    _type(dialog, dialog.mixing.cup, "10")
    assert not dialog.amounts.warnings
    _type(dialog, dialog.mixing.step, "1")
    # A step of 1 ml may be off by half of it, half a step of 5 % is 2.5 %: of 20 ml.
    assert "take cups of 20 ml" in dialog.takes.warnings[0].text()
    _type(dialog, dialog.mixing.step, "0.3")
    assert "whole number" in dialog.fault


def test_measured_slops_correct_the_volumes_or_are_refused(dialog):
    a, b = dialog.mixing.measured[:2]
    assert not dialog.mixing.measured[2].isVisible()
    _type(dialog, a, "1.5")
    assert "every corner" in dialog.takes.words.text()
    _type(dialog, b, "1.4")
    # By Brongniart's rule the dry weights are as (1.5 - 1) to (1.4 - 1): the thin one gives more.
    assert "56:44" in dialog.takes.words.text()
    thick, thin = _takes(dialog)
    assert thick < 275 < thin
    assert thick + thin == pytest.approx(550)
    assert not dialog.amounts.warnings
    _type(dialog, dialog.mixing.reserve, "2")
    assert "larger reserve" in dialog.takes.warnings[0].text()
    _type(dialog, b, "1.2")
    assert "times the dry glaze" in dialog.fault
    _type(dialog, b, "0.9")
    assert "water" in dialog.fault
    _choose(dialog, BlendKind.TRIAXIAL)
    assert not dialog.fault
    assert [field.text() for field in dialog.mixing.measured] == [""] * 4


def test_codes_are_taken_on_accepting_and_only_then(qtbot, here, theme, state_folder, tmp_path):
    recipe, studio = here
    letters = sorted((studio.folder / "machines").iterdir())
    first = _shown(qtbot, PlanDialog(here, theme, state_folder))
    _choose(first, BlendKind.GRID)
    first.reject()
    assert first.run is None
    assert not state_folder.exists()
    assert sorted((studio.folder / "machines").iterdir()) == letters
    runs = []
    for _ in range(2):
        dialog = _shown(qtbot, PlanDialog(here, theme, state_folder))
        _choose(dialog, BlendKind.GRID)
        _type(dialog, dialog.name, "Rectangle of Eider")
        dialog.ok.click()
        assert dialog.result() == QDialog.DialogCode.Accepted
        runs.append(dialog.run)
    codes = [tile.code for run in runs for tile in run.tiles]
    assert len(set(codes)) == 70
    assert all(map(is_code, codes))
    run = runs[0]
    assert (run.name, run.blend, run.method) == ("Rectangle of Eider", "grid", "wet")
    assert (run.cup_ml, run.reserve_percent, run.specific_gravity) == (50.0, 15.0, 1.45)
    assert (run.firing, run.body) == (recipe.firing, recipe.body)
    assert len(run.corners) == 4
    assert "potash-feldspar" in run.pinned
    path = tmp_path / "run.yaml"
    save_run(path, run, None)
    assert read_run(path) == run


def test_a_disk_that_refuses_codes_leaves_the_dialog_open(qtbot, here, theme, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    dialog = _shown(qtbot, PlanDialog(here, theme, blocked / "state"))
    dialog.accept()
    assert dialog.isVisible()
    assert dialog.run is None
    assert "no codes" in dialog.message.text().lower()
    dialog.mixing.cup.setText("60")
    dialog.mixing.cup.textEdited.emit("60")
    dialog.settle()
    assert not dialog.fault


def test_measures_go_into_the_run(qtbot, dialog):
    for field, text in zip(dialog.mixing.measured, ("1.45", "1.46"), strict=False):
        _type(dialog, field, text)
    dialog.accept()
    gravities = [corner.measured.specific_gravity for corner in dialog.run.corners]
    assert gravities == [1.45, 1.46]


def test_what_is_wrong_is_said_and_keeps_the_button_shut(dialog):
    for field, text, said in (
        (dialog.mixing.cup, "x", "Cup, ml"),
        (dialog.mixing.reserve, "400", "reserve"),
        (dialog.mixing.gravity, "0", "Specific gravity"),
        (dialog.name, " ", "no name"),
        (dialog.date, "tomorrow", "day"),
    ):
        before = field.text()
        _type(dialog, field, text)
        assert said.lower() in dialog.message.text().lower(), said
        assert not dialog.ok.isEnabled()
        assert dialog.plan is not None
        _type(dialog, field, before)
        assert dialog.ok.isEnabled(), said
    _type(dialog, dialog.name, "Eider, whiting to talc")
    assert "already" in dialog.fault


def test_an_unfinished_figure_waits_and_is_told_once_it_is_left(qtbot, dialog):
    _choose(dialog, BlendKind.GRID)
    plan, low = dialog.plan, dialog.grid.silica.low
    low.setFocus()
    low.selectAll()
    QTest.keyClick(low, Qt.Key.Key_Delete)
    assert not dialog._breath.isActive()
    assert dialog.plan is plan
    QTest.keyClick(low, Qt.Key.Key_Tab)
    qtbot.waitUntil(lambda: "empty" in dialog.message.text())
    assert dialog.plan is None
    dialog.accept()
    assert dialog.run is None


def test_an_addition_is_found_by_part_of_its_name(dialog):
    _choose(dialog, BlendKind.ADDITIONS)
    plan, edit = dialog.plan, dialog.additions.material.lineEdit()
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "zirc")
    dialog.settle()
    assert dialog.plan is plan
    assert not dialog.fault
    QTest.keyClicks(edit, "on")
    dialog.settle()
    assert "ircon" in dialog.plan.cells[0].label


def test_a_name_is_offered_until_one_is_typed(dialog, here):
    offered = dialog.name.text()
    assert offered.startswith("Eider")
    _choose(dialog, BlendKind.TRIAXIAL)
    assert dialog.name.text() != offered
    _type(dialog, dialog.name, "Mine")
    _choose(dialog, BlendKind.LINE)
    assert dialog.name.text() == "Mine"


def test_without_a_studio_it_says_so(qtbot, fixture_recipe, theme, state_folder):
    dialog = _shown(qtbot, PlanDialog((fixture_recipe, Studio()), theme, state_folder))
    assert "studio" in dialog.message.text()
    dialog.accept()
    assert dialog.run is None
    assert not state_folder.exists()


def test_an_empty_recipe_is_told_not_thrown(qtbot, here, theme, state_folder):
    _, studio = here
    document = Document(studio)
    dialog = _shown(qtbot, PlanDialog(document, theme, state_folder))
    for kind in BlendKind:
        _choose(dialog, kind)
        if kind is BlendKind.GRID:
            assert "flux" in dialog.fault
    bare = PlanDialog((document.recipe, Studio(materials=MaterialTable())), theme, state_folder)
    qtbot.addWidget(bare)
    assert bare.fault


def test_a_recipe_file_that_cannot_be_read_is_named(qtbot, here, theme, state_folder):
    recipe, studio = here
    (studio.folder / "recipes" / "driftwood.yaml").write_text("kind: nonsense", encoding="utf-8")
    dialog = _shown(qtbot, PlanDialog((recipe, studio), theme, state_folder))
    assert not dialog.fault
    box = dialog.line.ends[1]
    box.setCurrentIndex(box.findText("Driftwood"))
    dialog.settle()
    assert dialog.fault.startswith("Driftwood")
    assert not dialog.ok.isEnabled()


def test_a_document_offers_its_recipe_once(qtbot, here, theme, state_folder):
    document = Document()
    document.open(here[1].folder / "recipes" / "eider.yaml")
    dialog = _shown(qtbot, PlanDialog(document, theme, state_folder))
    titles = [source.title for source in dialog._sources.all]
    assert "Eider" not in titles
    assert "Drystone" in titles


def test_it_goes_by_the_keyboard_alone(qtbot, dialog):
    dialog.kind.setFocus()
    seen: list[QWidget] = []
    for _ in range(60):
        seen.append(dialog.focusWidget())
        QTest.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
        if dialog.focusWidget() is dialog.kind:
            break
    wanted = [
        dialog.kind,
        *dialog.line.ends,
        dialog.line.tiles,
        dialog.mixing.method,
        dialog.mixing.cup,
        dialog.mixing.measured[1],
        dialog.mixing.scale,
        dialog.name,
        dialog.date,
        dialog.takes.table,
        dialog.table,
        dialog.ok,
    ]
    places = [seen.index(widget) for widget in wanted]
    assert places == sorted(places)
    assert all(widget.accessibleName() or widget.text() for widget in seen)
    # Enter ends a figure; only Ctrl+Enter or the button takes codes.
    dialog.mixing.cup.setFocus()
    QTest.keyClick(dialog.mixing.cup, Qt.Key.Key_Return)
    assert dialog.isVisible()
    QTest.keyClick(dialog.mixing.cup, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert dialog.result() == QDialog.DialogCode.Accepted


@pytest.mark.parametrize("kind", list(BlendKind))
def test_it_fits_1100_by_660_and_follows_the_theme(qtbot, dialog, theme, kind):
    _choose(dialog, kind)
    qtbot.waitUntil(lambda: dialog.reader.done, timeout=20_000)
    least = dialog.minimumSizeHint()
    assert least.width() <= 1100
    assert least.height() <= 660
    dialog.resize(1100, 660)
    page = dialog.pages.currentWidget()
    assert page.minimumSizeHint().width() <= page.width()
    before = dialog.grab().toImage()
    theme.set_choice("dark")
    assert dialog.grab().toImage() != before
    theme.set_choice("light")
