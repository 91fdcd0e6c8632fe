"""The card: its text read back from the PDF, its weights added up again, its pages."""

from __future__ import annotations

import io
import math
import os
from dataclasses import replace
from decimal import Decimal

import msgspec
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QLabel

from app import problems
from app.card import PAPERS, CardRequest, paint_card
from app.card_dialog import CardDialog
from app.card_page import FOOD
from app.card_pdf import pdf_bytes, write_pdf
from app.card_weighing import COARSE
from app.formatting import oxide_text
from core.evaluate import evaluate
from core.oxides import OXIDES
from core.reading.words import margin_words, soundness, verdict
from core.recipe import Ingredient, Pin, Recipe
from core.recipe_file import read_recipe
from core.schema import LONGEST_NAME
from core.studio import Scale, Studio, open_studio
from core.tables import data_folder
from core.variants import open_variant

DAY = "2026-11-25"
EVERY_PAPER = tuple(PAPERS)


def _request(recipe, studio=None, variant="", grams=1000.0, readout=0.1):
    return CardRequest(evaluate(recipe, studio or Studio()), variant, grams, readout, DAY)


def _pages(request, paper="A5"):
    return pypdf.PdfReader(io.BytesIO(pdf_bytes(request, paper))).pages


def _text(request, paper="A5"):
    return "\n".join(page.extract_text() for page in _pages(request, paper))


def _one_line(text):
    return " ".join(text.split())


def _weights(text, recipe):
    """Read grams and running total of each row back from the page; names must not wrap."""
    lines = text.splitlines()
    found, at = [], 0
    for rows in (recipe.base, recipe.additions):
        for row in rows:
            at = lines.index(Studio().materials.get(row.material).name, at) + 1
            figures = lines[at + (rows is recipe.additions) :]
            figures = [line for line in figures[:3] if line != COARSE]
            found.append((Decimal(figures[0]), Decimal(figures[1])))
    return found


@pytest.fixture(scope="module")
def demo():
    return open_studio(data_folder() / "demo-studio")


@pytest.fixture
def harbour(demo):
    return read_recipe(demo.folder / "recipes" / "winter-harbour.yaml")


@pytest.fixture
def short_names(qapp):
    """Rows whose names stand on one line whatever the paper."""
    return Recipe(
        "Sum",
        base=(
            Ingredient("kaolin", 33.3),
            Ingredient("talc", 17.21),
            Ingredient("whiting", 12.07),
            Ingredient("silica", 1.0),
        ),
        additions=(Ingredient("tin-oxide", 4.5), Ingredient("zircon", 0.25)),
    )


@pytest.mark.parametrize("paper", EVERY_PAPER)
def test_the_text_of_the_card_can_be_read_back(qapp, demo, harbour, paper):
    eider = open_variant(read_recipe(demo.folder / "recipes" / "eider.yaml"), "B")
    request = _request(replace(eider, additions=harbour.additions), demo, "B")
    text = _text(request, paper)
    flat = _one_line(text)
    for words in (
        "Eider",
        "Variant B: Two parts more talc, for a silkier surface.",
        DAY,
        "1000.0 g",
        request.evaluation.firing.name,
        "cone 10, peak 1285 °C",
        request.evaluation.body.name,
        "Invented, never fired, not for food.",
        "Zones computed for",
        "no boron",
        "fire a tile",
        f"{FOOD}: have fired ware checked by an accredited laboratory.",
        "Cobalt carbonate dust may cause cancer",
        "Fluxes Li₂O Na₂O K₂O",
    ):
        assert words in flat
    for row in (*request.evaluation.recipe.base, *harbour.additions):
        assert request.evaluation.material_name(row.material) in flat
    lines = text.splitlines()
    # 1000 g shared out over 102 parts: 40, 17, 12, 19 and 14, by hand.
    for grams in ("392.2", "166.7", "117.6", "186.3", "137.2", "50.0", "10.0", "2.5"):
        assert grams in lines
    for running in ("392.2", "558.9", "676.5", "862.8", "1000.0", "1050.0", "1060.0", "1062.5"):
        assert running in lines
    assert lines.count("1000.0") >= 2
    unity = request.evaluation.formula.unity
    for oxide, value in zip(OXIDES, unity, strict=True):
        if value > 0.0005:
            assert lines[lines.index(oxide_text(oxide)) + 1] == f"{value:.3f}"


def test_the_unity_formula_of_the_fixture_is_printed(qapp, fixture_recipe):
    # The arithmetic fixture: ideal minerals, 42 spar, 16 talc, 12 whiting, 20 kaolin, 10 silica.
    lines = _text(_request(fixture_recipe)).splitlines()
    for oxide, value in (
        ("K₂O", 0.234),
        ("CaO", 0.372),
        ("MgO", 0.393),
        ("Al₂O₃", 0.475),
        ("SiO₂", 2.929),
    ):
        assert float(lines[lines.index(oxide) + 1]) == pytest.approx(value, abs=0.002)
    assert "SiO₂:Al₂O₃ 6.17" in lines
    assert "Loss on ignition 8.83 %" in lines
    assert any(line.startswith("● SiO₂ 2.93, Al₂O₃ 0.4") for line in lines)


@pytest.mark.parametrize(
    ("grams", "readout"),
    [
        (10.0, 0.01),
        (10.0, 1.0),
        (99.9, 0.5),
        (100.0, 0.1),
        (333.33, 0.01),
        (333.33, 1.0),
        (12345.67, 0.5),
        (1e6, 0.01),
        (1e6, 1.0),
    ],
)
def test_the_printed_weights_add_up_to_the_printed_total(short_names, grams, readout):
    text = _text(_request(short_names, grams=grams, readout=readout), "A4")
    weights = _weights(text, short_names)
    running = Decimal(0)
    for weight, printed in weights:
        running += weight
        assert printed == running
        assert weight % Decimal(str(readout)) == 0
    lines = text.splitlines()
    base = max(i for i, line in enumerate(lines) if line == "Base")
    assert Decimal(lines[base + 1]) == sum(weight for weight, _ in weights[:4])
    assert Decimal(lines[lines.index("Total with additions") + 1]) == running


@settings(max_examples=15)
@given(
    parts=st.lists(st.floats(0.01, 500), min_size=4, max_size=4),
    grams=st.floats(5, 50_000),
    readout=st.sampled_from([0.01, 0.1, 0.5, 1.0]),
)
def test_any_batch_adds_up_on_paper(qapp, parts, grams, readout):
    names = ("kaolin", "talc", "whiting", "silica")
    recipe = Recipe("Any", base=tuple(map(Ingredient, names, parts)))
    text = _text(_request(recipe, grams=grams, readout=readout), "A6")
    weights = _weights(text, recipe)
    lines = text.splitlines()
    assert Decimal(lines[lines.index("Total") + 1]) == sum(weight for weight, _ in weights)
    assert weights[-1][1] == sum(weight for weight, _ in weights)


@pytest.mark.parametrize(
    ("paper", "letter"),
    [*((paper, "W") for paper in EVERY_PAPER), ("A4", "i"), ("A6", "é"), ("A6", "Ж")],
)
def test_the_longest_name_is_whole(qapp, fixture_recipe, paper, letter):
    name = letter * LONGEST_NAME
    page = _pages(_request(replace(fixture_recipe, name=name)), paper)[0]
    before = page.extract_text().partition("Batch")[0]
    assert "".join(before.split()) == name


@pytest.mark.parametrize("paper", EVERY_PAPER)
def test_no_text_leaves_the_page(qapp, demo, paper):
    font = QFont()
    font.setPixelSize(1000)
    plain = QFontMetricsF(font)
    recipe = Recipe(
        "W" * LONGEST_NAME,
        base=(Ingredient("M" * 60, 3.0), Ingredient("talc", 999999.0)),
        additions=(Ingredient("W" * 60, 33.333),),
    )
    for page in _pages(_request(recipe, demo, grams=1e6, readout=0.01), paper):
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        spots = []

        def visit(text, cm, tm, _font, size, spots=spots):
            if text.strip():
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                points = size * math.hypot(tm[0], tm[1]) * math.hypot(cm[0], cm[1])
                spots.append((x, y, x + points / 1000 * plain.horizontalAdvance(text.strip())))

        page.extract_text(visitor_text=visit)
        assert spots
        # Nearly seven millimetres are kept free at every edge; the regular type is the narrower.
        assert all(x > 19 and end < width - 19 for x, _, end in spots)
        assert all(19 < y < height - 19 for _, y, _ in spots)
        assert max(end for _, _, end in spots) > 0.8 * width


# ISO 216 and ISO/IEC 10180 sizes at 72 points to the inch; US Letter is 8.5 x 11 in (ANSI Y14.1).
@pytest.mark.parametrize(
    ("paper", "size"),
    [
        ("A4", (595.3, 841.9)),
        ("A5", (419.5, 595.3)),
        ("A6", (297.6, 419.5)),
        ("Letter", (612, 792)),
        ("4x6", (288, 432)),
    ],
)
def test_the_page_has_the_size_of_its_paper(qapp, fixture_recipe, paper, size):
    for page in _pages(_request(fixture_recipe), paper):
        assert float(page.mediabox.width) == pytest.approx(size[0], abs=1)
        assert float(page.mediabox.height) == pytest.approx(size[1], abs=1)


def test_the_file_names_its_recipe_and_its_maker(qapp, fixture_recipe):
    reader = pypdf.PdfReader(io.BytesIO(pdf_bytes(_request(fixture_recipe), "A4")))
    assert reader.metadata.title == "Fixture"
    assert reader.metadata.creator == "Glost"


def test_forty_rows_go_on_and_every_row_is_there(qapp, demo):
    materials = [m.id for m in demo.materials][:40]
    recipe = Recipe("Forty rows", base=tuple(Ingredient(m, 1.0) for m in materials))
    pages = _pages(_request(recipe, demo), "A5")
    assert len(pages) > 1
    flat = _one_line(" ".join(page.extract_text() for page in pages))
    for material in materials:
        assert _one_line(demo.materials.get(material).name) in flat
    for number, page in enumerate(pages, 1):
        text = _one_line(page.extract_text())
        assert f"page {number} of {len(pages)}" in text
        assert "Forty rows" in text
        assert FOOD in text
    assert "running total" in pages[1].extract_text()


def test_a_caution_that_many_materials_bring_is_not_cut_off(qapp, demo):
    materials = [m for m in demo.materials if "some-silica-dust" in m.hazards][:6]
    rows = tuple(Ingredient(m.id, 1.0) for m in materials)
    pinned = {m.id: Pin(f"{m.name} {'long ' * 80}", m.analysis, "", m.hazards) for m in materials}
    # A pin that differs from the table keeps its own name.
    pinned = {
        name: replace(pin, analysis=demo.materials.get("whiting").analysis)
        for name, pin in pinned.items()
    }
    pages = _pages(_request(Recipe("Dust", base=rows, pinned=pinned), demo), "A6")
    last = _one_line(" ".join(page.extract_text() for page in pages[-4:]))
    assert "The dust may carry free silica" in last
    lowest = []

    def visit(text, cm, tm, *_):
        if text.strip():
            lowest.append(tm[5] * cm[3] + cm[5])

    for page in pages:
        page.extract_text(visitor_text=visit)
    assert min(lowest) > 19


def test_a_name_of_many_lines_breaks_over_pages(qapp):
    endless = "endless" * 200
    recipe = Recipe("Odd", base=(Ingredient(endless, 1.0),))
    pages = _pages(_request(recipe), "A6")
    text = "".join("".join(page.extract_text().split()) for page in pages)
    assert text.count("endless") >= 150
    assert len(pages) > 1


@pytest.mark.parametrize("paper", EVERY_PAPER)
def test_the_card_says_what_is_read_with_its_errors(qapp, fixture_recipe, paper):
    request = _request(fixture_recipe)
    reading, flat = request.evaluation.reading, _one_line(_text(request, paper))
    for words in (verdict(reading), margin_words(reading.surface)[1:], "xpected sound."):
        assert words in flat
    assert "MPa of" in flat
    # The point stands in a satin or matte field; each zone is named on the map.
    for zone in ("glossy", "matte", "underfired"):
        assert zone in flat.split()
    assert "By practice" not in flat


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_the_arithmetic_fixture_takes_one_page(qapp, fixture_recipe, paper):
    assert len(_pages(_request(fixture_recipe), paper)) == 1


def test_without_a_firing_the_card_has_no_zones_and_says_so(qapp, fixture_recipe):
    for firing, why in (
        ("", "No zones. No firing is chosen: choose one"),
        ("nowhere", "No zones. The firing is not in the tables"),
    ):
        flat = _one_line(_text(_request(replace(fixture_recipe, firing=firing))))
        assert why in flat
        assert "glossy" not in flat
        assert "Zones computed" not in flat


def test_an_unknown_soundness_is_said_as_such(qapp, demo, harbour):
    reading = evaluate(harbour, demo).reading
    assert soundness(reading).text == "unknown"
    assert "Soundness unknown." in _one_line(_text(_request(harbour, demo), "A4"))


def test_the_shelf_that_the_zones_are_for_is_named(qapp, demo):
    sealskin = read_recipe(demo.folder / "recipes" / "sealskin.yaml")
    flat = _one_line(_text(_request(sealskin, demo), "A4"))
    assert "Shelf: bottom, where the witness cones" in flat


@pytest.mark.parametrize("paper", ["A4", "A6"])
def test_an_empty_recipe_says_so_in_words(qapp, paper):
    flat = _one_line(_text(_request(Recipe()), paper))
    assert "Recipe without a name" in flat
    assert "No weights: the base weighs nothing" in flat
    assert "No rows yet." in flat
    assert FOOD in flat


def test_a_recipe_without_flux_makes_a_card(qapp):
    recipe = Recipe("Sand", base=(Ingredient("silica", 1.0),), firing="nowhere", body="nothing")
    flat = _one_line(_text(_request(recipe)))
    assert "No flux: nothing here melts the glaze" in flat
    assert "nowhere not in the tables" in flat
    assert "nothing (not in the tables)" in flat
    assert "Silica dust harms the lungs" in flat


@pytest.mark.parametrize("paper", ["A5", "A6"])
def test_a_long_name_of_a_firing_or_body_stays_in_its_column(qapp, demo, harbour, paper):
    """The longest name of a recipe is shown whole; what is longer is cut with a word about it."""
    long, endless = "W" * LONGEST_NAME, "kiln " * 400
    for name, whole in ((long, True), (endless, False)):
        evaluation = evaluate(harbour, demo)
        firing, body = evaluation.firing, evaluation.body
        evaluation = replace(
            evaluation,
            firing=replace(firing, name=name),
            body=msgspec.structs.replace(body, name=name.replace("W", "M")),
        )
        ends = []

        def visit(text, cm, tm, *_, ends=ends):
            if text.strip():
                ends.append(tm[5] * cm[3] + cm[5])

        first, *_ = _pages(replace(_request(harbour, demo), evaluation=evaluation), paper)
        flat = "".join(first.extract_text(visitor_text=visit).split())
        assert min(ends) > 19
        assert DAY in flat
        assert flat.count("(longer)") == (0 if whole else 2)
        assert not whole or flat.count("W") >= LONGEST_NAME <= flat.count("M")


def test_a_batch_below_the_readout_keeps_the_rows(qapp, fixture_recipe):
    flat = _one_line(_text(_request(fixture_recipe, grams=0.0)))
    assert "No weights: a batch of 0 g cannot be weighed" in flat
    assert "Whiting" in flat


def test_a_material_that_the_tables_lack_is_named(qapp, fixture_recipe):
    recipe = replace(fixture_recipe, base=(*fixture_recipe.base, Ingredient("moon-dust", 5.0)))
    flat = _one_line(_text(_request(recipe)))
    assert "Not in the tables: moon-dust. Their oxides and hazards are not on this card." in flat


def test_lines_that_the_scale_cannot_weigh_well_are_marked(qapp, demo, harbour):
    small = _text(_request(harbour, demo, grams=50.0))
    # 0.25 % of 50 g is 0.125 g: half a step of 0.1 g is 40 % of it.
    lines = small.splitlines()
    assert lines[lines.index("Cobalt carbonate") + 2] == COARSE
    assert f"Weigh the lines marked {COARSE} on a finer scale" in _one_line(small)
    assert COARSE not in _text(_request(harbour, demo, grams=5000.0))


def test_long_notes_are_cut_with_a_word_about_it(qapp, fixture_recipe):
    recipe = replace(fixture_recipe, notes="Fired twice on the lower shelf. " * 60)
    assert "(more in the recipe)" in _text(_request(recipe))


def test_a_full_disk_leaves_the_old_file_and_no_litter(qapp, fixture_recipe, tmp_path):
    # A limit on the size of files fails a write as a full disk does.
    resource = pytest.importorskip("resource")
    path = tmp_path / "card.pdf"
    path.write_bytes(b"old")
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, usual[1]))
    try:
        with pytest.raises(OSError, match=r"the card could not be written to .*: \w"):
            write_pdf(path, _request(fixture_recipe), "A5")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.skipif(os.name == "nt", reason="modes of files are of POSIX")
def test_the_file_keeps_its_mode_and_a_new_one_gets_the_usual(qapp, fixture_recipe, tmp_path):
    usual = tmp_path / "usual"
    usual.touch()
    kept, new = tmp_path / "kept.pdf", tmp_path / "new.pdf"
    kept.touch()
    kept.chmod(0o640)
    link = tmp_path / "link.pdf"
    link.symlink_to(kept)
    for path in (link, new):
        write_pdf(path, _request(fixture_recipe), "A5")
    assert link.is_symlink()
    assert kept.read_bytes().startswith(b"%PDF")
    assert kept.stat().st_mode & 0o777 == 0o640
    assert new.stat().st_mode == usual.stat().st_mode


def test_a_missing_folder_is_said_in_a_sentence(qapp, fixture_recipe, tmp_path):
    with pytest.raises(OSError, match="the card could not be written to"):
        write_pdf(tmp_path / "gone" / "card.pdf", _request(fixture_recipe), "A5")


def test_printer_and_pdf_show_the_same(qapp, fixture_recipe, tmp_path):
    request = _request(fixture_recipe)
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    printer.setPageSize(PAPERS["A6"])
    pages = paint_card(printer, request)
    printed = pypdf.PdfReader(tmp_path / "printed.pdf").pages
    assert len(printed) == pages
    text = "\n".join(page.extract_text() for page in printed)
    assert _one_line(text) == _one_line(_text(request, "A6"))


@pytest.fixture
def dialog(qtbot, fixture_recipe, settings):
    evaluation = evaluate(fixture_recipe, Studio())
    scales = (Scale("usual", "Bench scale"), Scale("fine", "Pocket scale", 0.01))
    made = CardDialog(
        lambda grams, readout: CardRequest(evaluation, "", grams, readout, DAY), scales, settings
    )
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.show()
    return made


def test_the_preview_follows_the_fields(dialog, qtbot):
    dialog.scale.setCurrentIndex(1)
    with qtbot.waitSignal(dialog.preview.paintRequested):
        dialog.batch.setText("0,5")
    assert dialog.request.batch_grams == 0.5
    assert dialog.request.readout_g == 0.01
    dialog.paper.setCurrentIndex(dialog.paper.findData("A6"))
    assert dialog.preview.pageCount() >= 1
    assert dialog.message.text() == ""


@pytest.mark.parametrize("wrong", ["1.234,5", "", "much", "-5", "0", "1e9"])
def test_a_batch_that_cannot_be_read_is_said_in_words(dialog, wrong):
    dialog.batch.setText("250")
    dialog.batch.setText(wrong)
    assert dialog.message.text().startswith("Look: ")
    assert not dialog.save_button.isEnabled()
    assert not dialog.print_button.isEnabled()
    assert dialog.request.batch_grams == 250.0
    dialog.batch.setText("500")
    assert dialog.message.text() == ""
    assert dialog.save_button.isEnabled()


def test_the_dialog_saves_what_it_shows(dialog, tmp_path):
    dialog.batch.setText("250")
    dialog.paper.setCurrentIndex(dialog.paper.findData("4x6"))
    path = tmp_path / "card.pdf"
    assert dialog.save_pdf(path)
    page = pypdf.PdfReader(path).pages[0]
    assert float(page.mediabox.width) == pytest.approx(288, abs=1)
    assert "250.0 g" in page.extract_text()
    assert "card.pdf" in dialog.message.text()


def test_a_failed_save_is_told(dialog, tmp_path, monkeypatch):
    told = []
    monkeypatch.setattr(problems, "tell", lambda _parent, title, text: told.append((title, text)))
    assert not dialog.save_pdf(tmp_path / "gone" / "card.pdf")
    assert "card.pdf was not saved" in told[0][0]
    assert "could not be written" in told[0][1]


def test_the_dialog_works_by_keys_and_remembers(dialog, qtbot, settings):
    assert dialog.focusWidget() is dialog.batch
    dialog.batch.setText("750")
    qtbot.keyClick(dialog.batch, Qt.Key.Key_Return)
    assert dialog.isVisible()
    dialog.paper.setCurrentIndex(dialog.paper.findData("Letter"))
    dialog.scale.setCurrentIndex(1)
    buddies = {label.buddy() for label in dialog.findChildren(QLabel) if label.buddy()}
    assert buddies == {dialog.batch, dialog.scale, dialog.paper}
    assert all(w.accessibleName() for w in (*buddies, dialog.preview))
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    assert settings.text("card/batch", "") == "750"
    assert settings.text("card/paper", "") == "Letter"
    assert settings.text("card/scale", "") == "fine"
