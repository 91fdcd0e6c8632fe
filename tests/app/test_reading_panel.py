from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication

from app.probability_bars import ProbabilityBars
from app.reading_panel import PAUSE_MS, ReadingPanel, wrapped
from app.theme import PALETTES, Role
from core.reading.words import Tone, margin_words, subjects, verdict
from core.recipe import Ingredient, Section
from core.regions import Zone
from core.telling import cautions, shelf_words

SIGNS = {Tone.GOOD: "✓", Tone.LOOK: "◆", Tone.STOP: "✕"}


@pytest.fixture
def panel(qtbot, document, theme):
    panel = ReadingPanel(document, theme)
    qtbot.addWidget(panel)
    panel.resize(300, 228)
    panel.show()
    qtbot.waitExposed(panel)
    return panel


@pytest.fixture
def bars(qtbot):
    bars = ProbabilityBars()
    qtbot.addWidget(bars)
    bars.resize(240, bars.sizeHint().height())
    return bars


def plain(text):
    """Undo what is only typesetting: low numbers, true minus signs, spaces that hold."""
    subscripts = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
    text = text.translate(subscripts).replace("\u00a0", " ").replace("−", "-")
    return text.replace("10⁻⁶/K", "1e-6/K").replace("mg/dm²", "mg/dm2")


def page(panel):
    panel.settle()
    return plain(panel.browser.toPlainText())


def rows(document, **parts):
    """Put other rows into the base, underscores standing for hyphens."""
    new = tuple(Ingredient(name.replace("_", "-"), float(p)) for name, p in parts.items())
    document.edit("rows", replace(document.recipe, base=new))


def whiting(document, parts):
    document.edit("whiting", document.recipe.with_amount(Section.BASE, 2, parts))


def test_the_verdict_follows_at_once_and_the_page_when_the_hand_rests(panel, document, qtbot):
    before = page(panel)
    whiting(document, 0.0)
    reading = document.evaluation.reading
    chance = 100 * reading.surface.probabilities["underfired"]
    assert panel.verdict.text() == verdict(reading)
    assert panel.verdict.head.margin == margin_words(reading.surface)
    assert panel.bars.texts()[3] == f"Underfired {chance:.0f} %"
    assert plain(panel.browser.toPlainText()) == before
    qtbot.waitUntil(lambda: plain(panel.browser.toPlainText()) != before, timeout=50 * PAUSE_MS)
    assert "has not melted" in panel.browser.toPlainText()


def test_a_glaze_without_its_flux_is_called_underfired_and_never_a_matte(panel, document):
    whiting(document, 0.0)
    head = panel.verdict.head
    assert head.verdict.startswith("Underfired")
    assert (head.sign, head.signed[0]) == (Role.STOP, "✕")
    assert "matte" not in head.verdict.lower()
    assert head.margin.startswith("melt margin −")
    assert head.verdict in panel.verdict.accessibleName()


def test_typing_asks_for_no_new_layout(panel, document):
    class Watch(QObject):
        asked = 0

        def eventFilter(self, _watched, event):
            self.asked += event.type() == QEvent.Type.LayoutRequest
            return False

    QApplication.processEvents()
    watch = Watch()
    panel.installEventFilter(watch)
    parts = (panel.verdict, panel.bars, panel.details, panel.browser)
    places = [part.geometry() for part in parts]
    for amount in (0.0, 3.0, 30.0, 60.0):
        whiting(document, amount)
        QApplication.processEvents()
    assert watch.asked == 0
    assert [part.geometry() for part in parts] == places


def test_the_page_says_every_subject_in_its_order_each_line_behind_its_sign(panel, document):
    text = page(panel)
    found = subjects(document.evaluation.reading)
    assert {"Why", "Fit to the body", "In the bucket"} <= {subject.title for subject in found}
    place = 0
    for subject in found:
        place = text.index(subject.title, place)
        for line in subject.lines:
            wanted = plain(line.text)
            if line.tone in SIGNS:
                wanted = f"{SIGNS[line.tone]} {wanted}"
            place = text.index(wanted, place)
    assert text.index("Cautions", place) > place
    for caution in cautions(document.evaluation):
        assert plain(caution) in text


def test_details_add_figures_and_sources_and_go_again(panel, document, qtbot):
    brief = page(panel)
    lines = [line for s in subjects(document.evaluation.reading) for line in s.lines]
    extra = [plain(text) for line in lines for text in (line.more, line.source) if text]
    assert len(extra) > 10
    assert not panel.details.isChecked()
    assert not any(text in brief for text in extra)
    panel.details.setFocus()
    qtbot.keyClick(panel.details, Qt.Key.Key_Space)
    full = plain(panel.browser.toPlainText())
    assert all(text in full for text in extra)
    qtbot.keyClick(panel.details, Qt.Key.Key_Space)
    assert page(panel) == brief


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({}, "first material"),
        ({"silica": 0}, "amount"),
        ({"silica": 50}, "No flux"),
        ({"whiting": 50}, "No silica"),
    ],
)
def test_where_nothing_is_read_it_says_what_to_do_first(panel, document, parts, words):
    rows(document, **parts)
    assert panel.verdict.text() == "Nothing to read yet"
    assert words in panel.verdict.head.status
    assert panel.verdict.head.margin == ""
    assert [text.rpartition(" ")[2] for text in panel.bars.texts()] == ["–"] * 4
    assert "nan" not in page(panel).lower().split()


def test_without_a_firing_it_asks_for_one_and_still_speaks_of_the_bucket(panel, document):
    document.edit("no firing", replace(document.recipe, firing=""))
    assert panel.verdict.text() == "Nothing to read yet"
    assert "No firing" in panel.verdict.head.status
    assert "In the bucket" in page(panel)
    assert "Why" not in page(panel).splitlines()


def test_half_a_recipe_is_never_called_sound(panel, document):
    assert "sound" in panel.verdict.head.status
    more = (*document.recipe.base, Ingredient("unheard-of", 5.0))
    document.edit("row", replace(document.recipe, base=more))
    head = panel.verdict.head
    assert head.verdict.startswith("Incomplete. ")
    assert (head.sign, head.status) == (Role.STOP, "a material is missing")
    assert "unheard-of is not in the tables" in page(panel).lower()


def test_a_hint_that_the_score_or_the_bucket_says_is_not_said_again(panel, document):
    # Common practice, no source: more than half magnesia, more than 30 % raw clay.
    rows(document, potash_feldspar=25, talc=35, kaolin=40)
    hints = {hint.id: hint.says for hint in document.evaluation.hints}
    assert {"magnesia-crystals", "clay-share", "talc-share"} <= set(hints)
    text = page(panel)
    assert hints["magnesia-crystals"] not in text
    assert hints["clay-share"] not in text
    assert hints["talc-share"] in text
    assert "Magnesia in the fluxes" in text
    assert "Raw clay is" in text


def test_a_hint_stays_where_the_reading_is_silent(panel, document):
    rows(document, potash_feldspar=25, talc=35, kaolin=40)
    document.edit("no firing", replace(document.recipe, firing=""))
    hints = {hint.id: hint.says for hint in document.evaluation.hints}
    text = page(panel)
    assert hints["magnesia-crystals"] in text
    assert hints["clay-share"] not in text


def test_that_a_material_dissolves_is_said_once(panel, document):
    soluble = "borax"
    rows(document, potash_feldspar=60, silica=20, kaolin=10, **{soluble: 10})
    assert any("dissolves in water" in text for text in document.evaluation.warnings)
    assert page(panel).count("dissolves") == 1
    # The base alone leaves the bucket's remark on an addition out; the warning stands in.
    rows(document, potash_feldspar=60, silica=20, kaolin=20)
    addition = (Ingredient(soluble, 5.0),)
    document.edit("addition", replace(document.recipe, additions=addition))
    document.set_base_alone(True)
    assert page(panel).count("dissolves") == 1


def test_what_the_shelf_saw_stands_on_the_page(panel, document, studio_folder):
    document.open(studio_folder / "recipes" / "sealskin.yaml")
    shelf = shelf_words(document.evaluation.heat)
    assert shelf
    assert plain(shelf) in page(panel)


def test_the_page_keeps_its_place_while_typing_and_begins_anew_with_a_recipe(
    panel, document, studio_folder
):
    panel.settle()
    bar = panel.browser.verticalScrollBar()
    bar.setValue(120)
    whiting(document, 13.0)
    panel.settle()
    QApplication.processEvents()
    assert bar.value() == 120
    document.open(studio_folder / "recipes" / "drystone.yaml")
    QApplication.processEvents()
    assert bar.value() == 0
    assert "alumina" in page(panel)


def test_a_new_theme_colours_the_signs_anew(panel, theme):
    panel.settle()
    theme.set_choice("dark")
    html = panel.browser.toHtml().lower()
    assert PALETTES["dark"].hex(Role.LOOK).lower() in html
    assert PALETTES["light"].hex(Role.LOOK).lower() not in html


def test_nothing_promises_that_ware_may_be_eaten_from(panel, document, studio_folder):
    panel.details.setChecked(True)
    for path in sorted((studio_folder / "recipes").glob("*.yaml")):
        document.open(path)
        text = page(panel).lower()
        assert "food safe" not in text
        assert "food-safe" not in text
        assert "accredited laboratory" in text


def test_a_name_that_looks_like_markup_is_only_a_name(panel, document):
    more = (*document.recipe.base, Ingredient("<b>x</b>", 5.0))
    document.edit("row", replace(document.recipe, base=more))
    assert "<b>x</b> is not in the tables" in page(panel).lower()


def test_long_words_wrap_to_two_lines_and_end_in_dots(panel):
    font, text = panel.font(), "magnesia crystal matte with very much more to say about it"
    assert wrapped("short", font, 300, 2) == ["short"]
    lines = wrapped(text, font, 150, 2)
    assert len(lines) == 2
    assert text.startswith(lines[0])
    assert lines[1].endswith("…")


def test_the_bars_say_the_zones_in_their_order_with_their_percent(bars):
    bars.show_probabilities({"glossy": 0.1, "satin": 0.57, "matte": 0.3, "underfired": 0.03})
    words = ["Glossy 10 %", "Satin 57 %", "Matte 30 %", "Underfired 3 %"]
    assert bars.texts() == words
    assert bars.accessibleDescription() == ", ".join(words)
    bars.show_probabilities(None)
    assert bars.accessibleDescription() == "Nothing to read yet"


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("paired", [False, True])
def test_a_bar_is_as_long_as_its_probability(bars, name, place, paired):
    palette = PALETTES[name]
    bars.set_palette(palette)
    if paired:
        bars.resize(240, bars.minimumSizeHint().height())
    chances = dict.fromkeys((zone.value for zone in Zone), 0.0)
    chances[list(Zone)[place].value] = 0.5
    bars.show_probabilities(chances)
    image = bars.grab().toImage()
    _words, bar = bars.places(place)
    paper = palette.color(Role.PAPER)
    middle = bar.center().y()
    filled = [x for x in range(bar.left(), bar.right()) if image.pixelColor(x, middle) != paper]
    assert filled[0] == bar.left()
    assert filled[-1] - bar.left() + 1 == pytest.approx(bar.width() / 2, abs=1.5)


@pytest.mark.parametrize("name", ["light", "dark"])
def test_the_bars_differ_in_grey(bars, name):
    """Lightness and pattern tell the fills apart where there is no colour."""
    bars.set_palette(PALETTES[name])
    seen = set()
    for place, zone in enumerate(Zone):
        bars.show_probabilities({z.value: float(z is zone) for z in Zone})
        image = bars.grab().toImage()
        bar = bars.places(place)[1].adjusted(2, 2, -2, -2)
        greys = [
            QColor(image.pixel(x, y)).lightness()
            for y in range(bar.top(), bar.bottom())
            for x in range(bar.left(), bar.left() + 24)
        ]
        seen.add((max(set(greys), key=greys.count), min(greys), max(greys)))
    assert len(seen) == 4


def test_another_probability_repaints_the_bars_and_the_same_does_not(bars, qtbot):
    chances = {"glossy": 0.1, "satin": 0.57, "matte": 0.3, "underfired": 0.03}
    bars.show()
    qtbot.waitExposed(bars)
    painted = []

    class Watch(QObject):
        def eventFilter(self, _watched, event):
            if event.type() == QEvent.Type.UpdateRequest:
                painted.append(event.type())
            return False

    bars.show_probabilities(chances)
    QApplication.processEvents()
    watch = Watch()
    bars.installEventFilter(watch)
    bars.show_probabilities(dict(chances))
    QApplication.processEvents()
    assert painted == []
    bars.show_probabilities({**chances, "glossy": 0.11, "satin": 0.56})
    QApplication.processEvents()
    assert painted
