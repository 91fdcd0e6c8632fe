"""Every icon draws, in the ink of its palette, from the one set of files."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QIcon
from PySide6.QtSvg import QSvgRenderer

from app.icons import icon, icon_folder, icon_names, icon_pixmap
from app.theme import DARK, LIGHT, Role

NEEDED = frozenset(
    (
        *("new", "open", "save", "save-as", "undo", "redo"),
        *("card", "variant", "compare", "delete", "lock", "unlock"),
        *("home", "plus", "minus", "scale-100", "add-row", "remove-row"),
        *("copy", "paste", "words", "theme", "firing"),
        *("body", "warning", "look", "good", "stop", "studio"),
        *("glost", "material"),
    )
)
APPLICATION = "glost"
SVG = "{http://www.w3.org/2000/svg}"

every_icon = pytest.mark.parametrize("name", sorted(NEEDED))
both_palettes = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)


def _is_drawn_in(image, color):
    """Whether the picture has opaque pixels and all of them have `color`.

    One step of 255 is allowed: Qt blends in premultiplied bytes, and rounds
    where the soft rims of two strokes add up to an opaque pixel.
    """
    opaque = [
        pixel.getRgb()
        for x in range(image.width())
        for y in range(image.height())
        if (pixel := image.pixelColor(x, y)).alpha() == 255
    ]
    wanted = color.getRgb()
    return bool(opaque) and all(
        abs(a - b) <= 1 for pixel in opaque for a, b in zip(pixel, wanted, strict=True)
    )


def test_the_set_is_whole():
    assert icon_names() == NEEDED


@every_icon
def test_a_drawing_is_plain_svg_without_words_links_or_colours(name):
    text = (icon_folder() / f"{name}.svg").read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert root.attrib["viewBox"] == "0 0 24 24"
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg",
        "path",
        "circle",
        "rect",
    }
    colors = set(re.findall(r'(?:fill|stroke)="([^"]+)"', text)) - {"none", "currentColor"}
    if name == APPLICATION:
        assert colors <= {LIGHT.hex(role) for role in Role}
    else:
        assert not colors
        assert root.attrib["stroke-width"] == "1.75"


@every_icon
def test_a_drawing_is_valid_for_qt(qapp, name):
    assert QSvgRenderer(str(icon_folder() / f"{name}.svg")).isValid()


@both_palettes
@pytest.mark.parametrize("name", sorted(NEEDED - {APPLICATION}))
def test_an_icon_is_drawn_in_ink_and_muted_where_disabled(qapp, name, palette):
    made = icon(name, palette, 24)
    for mode, role in ((QIcon.Mode.Normal, Role.INK), (QIcon.Mode.Disabled, Role.MUTED)):
        image = made.pixmap(QSize(24, 24), 2.0, mode).toImage()
        assert image.size() == QSize(48, 48)
        assert _is_drawn_in(image, palette.color(role))


@every_icon
def test_an_icon_stays_inside_its_square(qapp, name):
    image = icon_pixmap(name, LIGHT, 48).toImage()
    edge = range(48)
    rim = [(x, y) for x in edge for y in (0, 47)] + [(x, y) for x in (0, 47) for y in edge]
    assert all(image.pixelColor(x, y).alpha() < 64 for x, y in rim)


def test_no_two_icons_look_alike(qapp):
    drawn = {name: icon_pixmap(name, LIGHT, 24).toImage() for name in sorted(NEEDED)}
    names = list(drawn)
    alike = [
        (one, other)
        for i, one in enumerate(names)
        for other in names[i + 1 :]
        if drawn[one] == drawn[other]
    ]
    assert not alike


def test_a_sign_takes_the_colour_of_its_word(qapp):
    image = icon_pixmap("stop", DARK, 24, Role.STOP, 2.0).toImage()
    assert _is_drawn_in(image, DARK.color(Role.STOP))


@pytest.mark.parametrize("name", ["no-such", "../icons/plus", ""])
def test_an_unknown_name_is_a_key_error_with_the_name(qapp, name):
    with pytest.raises(KeyError) as caught:
        icon(name, LIGHT)
    assert caught.value.args == (name,)
