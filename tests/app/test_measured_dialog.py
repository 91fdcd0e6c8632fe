"""Corners measured after they were mixed correct the syringe."""

from __future__ import annotations

import pytest

from app.measured_dialog import MeasuredDialog
from core.studio import open_studio
from core.tiles.run_file import read_run

FILE = "eider-whiting-to-talc.yaml"


@pytest.fixture
def dialog(qtbot, theme, studio_folder):
    run = read_run(studio_folder / "runs" / FILE)
    made = MeasuredDialog(run, open_studio(studio_folder), theme)
    qtbot.addWidget(made)
    return made


def fill(dialog, letter, *texts):
    for field, text in zip(dialog.fields[letter], texts, strict=True):
        field.setText(text)


def test_half_and_half_of_unequal_slops_is_told_while_typing(dialog):
    assert "0 of 2" in dialog.message.text()
    # 300 g in 300 g of water and 300 g in 200 g: at 2.6 g/ml 0.722 and 0.951 g in a millilitre,
    # so that equal volumes are 43:57 by dry weight (plain arithmetic).
    fill(dialog, "A", "", "300", "300", "")
    assert "1 of 2" in dialog.message.text()
    fill(dialog, "B", "", "300", "200", "")
    assert "43:57" in dialog.message.text()
    dialog.accept()
    assert dialog.run is not None
    assert [corner.measured.water_g for corner in dialog.run.corners] == [300.0, 200.0]


def test_a_slop_that_cannot_be_is_said_and_keeps_the_dialog(dialog):
    fill(dialog, "A", "0,9", "", "", "")
    dialog.accept()
    assert dialog.run is None
    assert "no slop" in dialog.message.text()


def test_a_water_weight_alone_tells_nothing(dialog):
    fill(dialog, "A", "", "", "300", "")
    dialog.accept()
    assert dialog.run is None
    assert "do not tell its dry weight" in dialog.message.text()


def test_emptied_fields_forget_what_was_measured(qtbot, theme, dialog, studio_folder):
    fill(dialog, "A", "1,45", "", "", "")
    dialog.accept()
    again = MeasuredDialog(dialog.run, open_studio(studio_folder), theme)
    qtbot.addWidget(again)
    assert again.fields["A"][0].text() == "1.45"
    fill(again, "A", "", "", "", "")
    again.accept()
    assert [corner.measured for corner in again.run.corners] == [None, None]
