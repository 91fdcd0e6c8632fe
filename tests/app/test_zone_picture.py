"""Zones as shapes and colours, and where their names find room."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.path import Path as Outline
from PySide6.QtCore import QRectF

from app.label_place import label_place
from app.theme import DARK, LIGHT
from app.zone_picture import outside_shape, zone_image, zone_shapes
from app.zone_roles import ZONE_ROLE
from core.reading.field import zone_field
from core.reading.surface import ZONES


@pytest.fixture(scope="module")
def field(fixture_recipe, studio):
    from core.evaluate import evaluate

    basis = evaluate(fixture_recipe, studio).reading.surface.basis
    return zone_field(basis, np.linspace(0.0, 6.0, 60), np.linspace(0.001, 1.0, 45))


def inside(rings, x, y):
    """Whether points lie inside: an odd number of outlines around them."""
    points = np.stack([x, y], axis=1)
    return sum(Outline(ring).contains_points(points) for ring in rings) % 2 == 1


def test_the_shapes_hold_the_points_whose_zone_they_are(field):
    # Source of the inside test: matplotlib, a general-purpose library.
    winner = field.probabilities.argmax(axis=-1)
    lead = np.sort(field.probabilities, axis=-1)
    clear = (lead[..., -1] - lead[..., -2]) > 0.25
    x, y = np.meshgrid(field.silica, field.alumina)
    for shape in zone_shapes(field):
        own = ZONES.index(shape.zone)
        held = inside(shape.rings, x.ravel(), y.ravel()).reshape(x.shape)
        core = clear[1:-1, 1:-1]
        assert (held == (winner == own))[1:-1, 1:-1][core].all()
        assert np.array_equal(shape.cells, winner == own)


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_where_a_zone_is_sure_the_picture_has_its_colour_and_between_it_fades(field, palette):
    image = zone_image(field, palette, 240, 160)
    for place, zone in enumerate(ZONES):
        chances = field.probabilities[..., place]
        if chances.max() < 0.9:
            continue
        y, x = np.unravel_index(chances.argmax(), chances.shape)
        column = min(int(x / (len(field.silica) - 1) * 240), 239)
        row = 159 - min(int(y / (len(field.alumina) - 1) * 160), 159)
        found, wanted = image.pixelColor(column, row), palette.color(ZONE_ROLE[zone])
        for a, b in zip(found.getRgb(), wanted.getRgb(), strict=True):
            assert abs(a - b) <= 3
    # Neighbouring pixels never jump: the edges are soft.
    pixels = np.array(
        [[image.pixelColor(c, r).lightness() for c in range(240)] for r in range(0, 160, 8)]
    )
    assert np.abs(np.diff(pixels, axis=1)).max() < 20


def test_the_region_without_data_is_outlined(field):
    rings = outside_shape(field)
    assert rings
    x, y = np.meshgrid(field.silica, field.alumina)
    held = inside(rings, x.ravel(), y.ravel()).reshape(x.shape)
    # Islands too small to see are left out of the outline.
    assert (held == field.outside).mean() > 0.95


def test_a_label_stands_inside_its_area_and_off_what_it_should_leave_free():
    area = np.zeros((60, 90), bool)
    area[10:40, 20:80] = True
    box, label = QRectF(0, 0, 900, 600), QRectF(0, 0, 80, 20)
    middle = label_place(area, box, label)
    assert (middle.x(), middle.y()) == pytest.approx((500, 250), abs=10)
    clear = QRectF(480, 230, 40, 40)
    moved = label_place(area, box, label, clear)
    placed = QRectF(moved.x() - 40, moved.y() - 10, 80, 20)
    assert QRectF(200, 100, 600, 300).contains(placed)
    assert not placed.intersects(clear)


def test_a_label_that_does_not_fit_is_left_out():
    area = np.zeros((60, 90), bool)
    area[30, :] = True
    assert label_place(area, QRectF(0, 0, 900, 600), QRectF(0, 0, 80, 20)) is None
    assert label_place(~area & area, QRectF(0, 0, 900, 600), QRectF(0, 0, 8, 2)) is None
