"""The rules that the colours keep; the colours themselves may change."""

from __future__ import annotations

import itertools
import warnings

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QGuiApplication, QImage, QPainter, QPalette
from PySide6.QtWidgets import QApplication

from app.theme import (
    CHART_FAMILIES,
    DARK,
    LIGHT,
    OXIDE_FAMILY,
    TILE,
    ZONES,
    Role,
    Theme,
    apply_tabular_figures,
    pattern_color,
    qt_palette,
    zone_brush_pattern,
    zone_pixmap,
)
from core.oxides import OXIDES

with warnings.catch_warnings():
    # A docstring of the library has an unescaped backslash, which Python warns
    # of where nobody has compiled the library yet (3.12 changed the category).
    for category in (DeprecationWarning, SyntaxWarning):
        warnings.filterwarnings("ignore", ".*invalid escape sequence", category)
    from colorspacious import cspace_converter

TEXT, MARK, STEP = 4.5, 3.0, 8.0
VISIONS = ("normal", "protanomaly", "deuteranomaly", "tritanomaly")
NEIGHBOURS = (
    (Role.GLOSSY, Role.SATIN),
    (Role.SATIN, Role.MATTE),
    (Role.MATTE, Role.UNDERFIRED),
    (Role.GLOSSY, Role.UNDERFIRED),
    (Role.SATIN, Role.UNDERFIRED),
)

both_palettes = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)
every_vision = pytest.mark.parametrize("vision", VISIONS)


def _rgb(text):
    return np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def _luminance(text):
    """Relative luminance: W3C, Web Content Accessibility Guidelines 2.2, "relative luminance"."""
    c = _rgb(text)
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(one, other):
    """Contrast ratio: W3C, Web Content Accessibility Guidelines 2.2, "contrast ratio"."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def difference(one, other, vision):
    """Colour difference in CAM02-UCS (Luo, Cui and Li 2006), as the colorspacious library has it.

    Colour vision deficiency is that of Machado, Oliveira and Fernandes (2009)
    at full severity, from the same library.
    """
    space = "sRGB1"
    if vision != "normal":
        space = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
    convert = cspace_converter(space, "CAM02-UCS")
    return float(np.linalg.norm(convert(_rgb(one)) - convert(_rgb(other))))


def test_the_contrast_formula_agrees_with_the_standard():
    # WCAG 2.2, note on contrast ratio: it runs from 1 to 21, and #767676 is
    # the lightest grey that passes 4.5:1 on white (computed by hand).
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#767676", "#FFFFFF") >= TEXT > contrast("#777777", "#FFFFFF")


@both_palettes
def test_every_role_has_one_opaque_colour(palette):
    for role in Role:
        assert palette.color(role).name().upper() == palette.hex(role)
        assert palette.color(role).alpha() == 255


@both_palettes
@pytest.mark.parametrize("ground", [Role.PAPER, Role.PANEL])
@pytest.mark.parametrize("text", [Role.INK, Role.MUTED, Role.ACCENT])
def test_text_reads_on_paper_and_panel(palette, text, ground):
    assert contrast(palette.hex(text), palette.hex(ground)) >= TEXT


@both_palettes
@pytest.mark.parametrize("ground", [Role.PAPER, Role.PANEL])
@pytest.mark.parametrize("word", [Role.GOOD, Role.LOOK, Role.STOP])
def test_words_of_judgement_read_on_paper_and_panel(palette, word, ground):
    assert contrast(palette.hex(word), palette.hex(ground)) >= TEXT


@both_palettes
@pytest.mark.parametrize("text", [Role.INK, Role.MUTED])
def test_text_reads_on_the_selected_row(palette, text):
    assert contrast(palette.hex(text), palette.hex(Role.SELECTION)) >= TEXT


@both_palettes
def test_the_accent_bar_shows_on_the_selected_row(palette):
    assert contrast(palette.hex(Role.ACCENT), palette.hex(Role.SELECTION)) >= MARK


@both_palettes
@pytest.mark.parametrize("zone", ZONES)
def test_the_name_of_a_zone_reads_on_its_fill_and_on_its_pattern(palette, zone):
    ink = palette.hex(Role.INK)
    assert contrast(ink, palette.hex(zone)) >= TEXT
    assert contrast(ink, pattern_color(zone, palette).name()) >= TEXT


@both_palettes
@pytest.mark.parametrize("mark", [Role.ACCENT, Role.INK, Role.EDGE])
def test_marks_stand_out_from_their_halo(palette, mark):
    assert contrast(palette.hex(mark), palette.hex(Role.HALO)) >= MARK


@both_palettes
@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("mark", [Role.INK, Role.EDGE])
def test_edges_and_ink_stand_out_from_every_fill_even_without_a_halo(palette, mark, zone):
    assert contrast(palette.hex(mark), palette.hex(zone)) >= MARK


@both_palettes
def test_the_halo_is_the_paper(palette):
    assert palette.hex(Role.HALO) == palette.hex(Role.PAPER)


@both_palettes
@every_vision
@pytest.mark.parametrize(("one", "other"), NEIGHBOURS)
def test_neighbouring_zones_differ_in_every_colour_vision(palette, vision, one, other):
    assert difference(palette.hex(one), palette.hex(other), vision) >= STEP


@both_palettes
@every_vision
def test_chart_families_differ_in_every_colour_vision(palette, vision):
    # Every pair, since a recipe that lacks a family brings others together.
    for one, other in itertools.combinations(CHART_FAMILIES, 2):
        assert difference(palette.hex(one), palette.hex(other), vision) >= STEP, (one, other)


@both_palettes
@pytest.mark.parametrize("family", CHART_FAMILIES)
def test_chart_families_show_on_paper(palette, family):
    assert contrast(palette.hex(family), palette.hex(Role.PAPER)) >= MARK


@both_palettes
def test_melted_zones_darken_or_lighten_in_one_direction(palette):
    # So that the map survives a print in grey.
    steps = np.diff([_luminance(palette.hex(zone)) for zone in ZONES[:3]])
    assert (steps > 0).all() or (steps < 0).all()


def test_the_chart_has_at_most_nine_colours_and_a_family_for_every_oxide():
    assert len(set(CHART_FAMILIES)) == len(CHART_FAMILIES) <= 9
    assert set(OXIDE_FAMILY) == set(OXIDES)
    assert set(OXIDE_FAMILY.values()) == set(CHART_FAMILIES)


@both_palettes
def test_every_widget_colour_comes_from_a_role(qapp, palette):
    made = qt_palette(palette)
    ours = {palette.hex(role) for role in Role}
    groups = (
        QPalette.ColorGroup.Active,
        QPalette.ColorGroup.Inactive,
        QPalette.ColorGroup.Disabled,
    )
    for group, role in itertools.product(groups, QPalette.ColorRole):
        if role not in (QPalette.ColorRole.NoRole, QPalette.ColorRole.NColorRoles):
            assert made.color(group, role).name().upper() in ours, (group, role)


@both_palettes
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        (QPalette.ColorRole.WindowText, QPalette.ColorRole.Window),
        (QPalette.ColorRole.Text, QPalette.ColorRole.Base),
        (QPalette.ColorRole.Text, QPalette.ColorRole.AlternateBase),
        (QPalette.ColorRole.ButtonText, QPalette.ColorRole.Button),
        (QPalette.ColorRole.HighlightedText, QPalette.ColorRole.Highlight),
        (QPalette.ColorRole.PlaceholderText, QPalette.ColorRole.Base),
        (QPalette.ColorRole.ToolTipText, QPalette.ColorRole.ToolTipBase),
        (QPalette.ColorRole.Link, QPalette.ColorRole.Base),
        (QPalette.ColorRole.Link, QPalette.ColorRole.Window),
    ],
)
@pytest.mark.parametrize("group", [QPalette.ColorGroup.Active, QPalette.ColorGroup.Disabled])
def test_widget_text_reads_on_its_ground(qapp, palette, text, ground, group):
    made = qt_palette(palette)
    assert contrast(made.color(group, text).name(), made.color(group, ground).name()) >= TEXT


@pytest.fixture
def restored_palette(qapp):
    before, style = QApplication.palette(), QApplication.style().objectName()
    yield
    QApplication.setStyle(style)
    QApplication.setPalette(before)


@pytest.fixture
def system_scheme(restored_palette):
    """Announces a colour scheme as the system would.

    The offscreen platform has no scheme of its own to set, so the signal of
    the style hints is emitted.
    """
    signal = QGuiApplication.styleHints().colorSchemeChanged
    return signal.emit


def test_the_theme_follows_the_system_live(system_scheme, qtbot):
    theme = Theme("system")
    system_scheme(Qt.ColorScheme.Light)
    with qtbot.waitSignal(theme.changed) as caught:
        system_scheme(Qt.ColorScheme.Dark)
    assert caught.args == [DARK]
    assert theme.palette is DARK
    assert QApplication.palette().color(QPalette.ColorRole.Base) == DARK.color(Role.PAPER)
    with qtbot.waitSignal(theme.changed) as caught:
        system_scheme(Qt.ColorScheme.Light)
    assert caught.args == [LIGHT]
    assert QApplication.palette().color(QPalette.ColorRole.Base) == LIGHT.color(Role.PAPER)


def test_a_fixed_choice_outlasts_a_change_of_the_system(system_scheme, qtbot):
    theme = Theme("light")
    QApplication.setPalette(qt_palette(DARK))
    with qtbot.assertNotEmitted(theme.changed):
        system_scheme(Qt.ColorScheme.Dark)
    assert theme.palette is LIGHT
    assert QApplication.palette().color(QPalette.ColorRole.Base) == LIGHT.color(Role.PAPER)


def test_a_choice_changes_the_palette_once(restored_palette, qtbot):
    theme = Theme("light")
    with qtbot.waitSignal(theme.changed):
        theme.set_choice("dark")
    assert (theme.choice, theme.palette) == ("dark", DARK)
    with qtbot.assertNotEmitted(theme.changed):
        theme.set_choice("dark")


def test_an_unknown_choice_is_refused_and_changes_nothing(restored_palette):
    theme = Theme("dark")
    with pytest.raises(ValueError, match="sepia"):
        theme.set_choice("sepia")
    assert (theme.choice, theme.palette) == ("dark", DARK)


def _share_of_pattern(zone, palette, scale=1.0):
    """Return the share of the tile's pixels that is not the bare fill."""
    image = zone_pixmap(zone, palette, scale).toImage()
    fill = palette.color(zone).rgb()
    pixels = itertools.product(range(image.width()), range(image.height()))
    return sum(image.pixel(x, y) != fill for x, y in pixels) / (image.width() * image.height())


@both_palettes
@pytest.mark.parametrize("scale", [1.0, 1.5, 2.0])
def test_patterns_grow_denser_from_glossy_to_matte(qapp, palette, scale):
    glossy, satin, matte, underfired = (_share_of_pattern(z, palette, scale) for z in ZONES)
    assert glossy == 0.0
    assert 0.0 < satin < matte < 0.6
    assert 0.0 < underfired < 0.6


@both_palettes
@pytest.mark.parametrize("zone", [Role.SATIN, Role.MATTE, Role.UNDERFIRED])
@pytest.mark.parametrize("scale", [1.0, 1.25, 2.0])
def test_a_pattern_repeats_at_its_size_whatever_the_screen(qapp, palette, zone, scale):
    brush = zone_brush_pattern(zone, palette, scale)
    tile = brush.transform().map(float(brush.texture().width()), 0.0)
    assert tile[0] == pytest.approx(TILE, abs=1e-9)

    pixels = brush.texture().width()
    image = QImage(2 * pixels, pixels, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    painter.scale(pixels / TILE, pixels / TILE)
    painter.fillRect(0, 0, 2 * TILE, TILE, brush)
    painter.end()
    assert image.copy(0, 0, pixels, pixels) == image.copy(pixels, 0, pixels, pixels)


def test_a_pattern_is_drawn_for_zones_only(qapp):
    with pytest.raises(ValueError, match="ink"):
        zone_brush_pattern(Role.INK, LIGHT)


def test_tabular_figures_leave_the_given_font_alone(qapp):
    font = QFont()
    tabular = apply_tabular_figures(font)
    tag = QFont.Tag("tnum")
    assert tabular.featureValue(tag) == 1
    assert not font.isFeatureSet(tag)
