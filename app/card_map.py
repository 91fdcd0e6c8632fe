"""The small map on the card: the zones of its own basis, the point, and words on them."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPolygonF, QTransform

from app.card_page import Block, Sheet, joined
from app.formatting import oxides_in
from app.theme import LIGHT, Role, zone_brush_pattern
from app.zone_picture import zone_shapes
from app.zone_roles import ZONE_ROLE
from core.evaluate import Evaluation
from core.reading.field import ZoneField, zone_field
from core.reading.surface import ZONES, SurfaceReading
from core.reading.words import margin_words, verdict
from core.regions import Zone
from core.telling import fit_words, no_reading_words, shelf_words, soundness_words

Point = tuple[float, float]
"""(SiO2, Al2O3) of the unity formula."""

_HOME = (6.0, 1.0)
_COLUMNS, _ROWS = 49, 37
"""Points of the zones; between them they are interpolated."""
_PATTERN_PT = 0.5
"""Size on paper of what is one pixel of a pattern on the screen [pt]."""


def map_block(
    sheet: Sheet,
    surface: SurfaceReading | None,
    point: Point,
    x: float,
    width: float,
) -> Block:
    """Lay out the map in a column; without a reading it has no zones."""
    height = 0.68 * width

    def paint(painter: QPainter, top: float) -> None:
        _paint_map(painter, sheet, QRectF(x, top, width, height), surface, point)

    return Block(height, paint)


def map_words(sheet: Sheet, evaluation: Evaluation, point: Point, x: float, width: float) -> Block:
    """Lay out the point's figures, what is read of it and for what basis, in a column."""
    reading = evaluation.reading
    words = [(f"● SiO₂ {point[0]:.2f}, Al₂O₃ {point[1]:.2f}", sheet.strong, Role.INK)]
    if reading.surface is None:
        words.append((f"No zones. {no_reading_words(evaluation)}", sheet.small, Role.INK))
    else:
        words.append((verdict(reading), sheet.small_strong, Role.INK))
        words += [
            (_sentence(said), sheet.small, Role.INK)
            for said in (soundness_words(reading), margin_words(reading.surface))
        ]
        if reading.surface.outside:
            outside = "Outside the melts that the models were fitted on: a guess."
            words.append((outside, sheet.small, Role.INK))
    words.append((fit_words(reading), sheet.small, Role.INK))
    if reading.surface is not None:
        basis = f"Zones computed for {oxides_in(reading.surface.basis.words())}."
        words.append((f"{basis} Computed, not fired: fire a tile.", sheet.small, Role.MUTED))
        words.append((shelf_words(evaluation.heat), sheet.small, Role.MUTED))
    return joined(
        *(
            line
            for text, font, role in words
            if text
            for line in sheet.paragraph(text, font, role, x=x, width=width)
        )
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _paint_map(
    painter: QPainter, sheet: Sheet, frame: QRectF, surface: SurfaceReading | None, point: Point
) -> None:
    font = sheet.tiny
    line, ascent = sheet.line_height(font), sheet.ascent(font)
    far_x = max(_HOME[0], math.ceil(point[0] * 1.1))
    far_y = max(_HOME[1], math.ceil(point[1] * 5.5) / 5)
    x_ticks, y_ticks = _ticks(far_x), _ticks(far_y)
    gutter = sheet.widest([text for _, text in y_ticks], font) + sheet.pt(3)
    box = frame.adjusted(gutter, line, -sheet.pt(0.5), -line - sheet.pt(1))
    to_page = QTransform.fromTranslate(box.left(), box.bottom())
    to_page.scale(box.width() / far_x, -box.height() / far_y)
    spot = to_page.map(QPointF(*point))
    radius = sheet.em(0.36)

    if surface is not None:
        silica, alumina = np.linspace(0.0, far_x, _COLUMNS), np.linspace(0.0, far_y, _ROWS)
        field = zone_field(surface.basis, silica, alumina, surface.rules)
        room = 1.6 * radius
        keep_off = QRectF(spot.x() - room, spot.y() - room, 2 * room, 2 * room)
        _paint_zones(painter, sheet, field, to_page, keep_off)

    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(sheet.pen(Role.EDGE, 0.7))
    painter.drawRect(box)
    baseline = box.bottom() + sheet.pt(1) + ascent
    name_x = box.right() - sheet.advance("SiO₂", font)
    for value, text in x_ticks:
        x = max(to_page.map(QPointF(value, 0)).x() - 0.5 * sheet.advance(text, font), box.left())
        if x + sheet.advance(text + " ", font) <= name_x:
            sheet.write(painter, x, baseline, text, font, Role.MUTED)
    sheet.write(painter, name_x, baseline, "SiO₂", font, Role.MUTED)
    for value, text in y_ticks[1:]:
        y = max(to_page.map(QPointF(0, value)).y() - 0.5 * line, box.top()) + ascent
        sheet.write_up_to(painter, box.left() - sheet.pt(2), y, text, font, Role.MUTED)
    sheet.write(painter, frame.left(), frame.top() + ascent, "Al₂O₃", font, Role.MUTED)

    painter.setPen(Qt.PenStyle.NoPen)
    for role, r in ((Role.HALO, radius + sheet.pt(1.2)), (Role.ACCENT, radius)):
        painter.setBrush(LIGHT.color(role))
        painter.drawEllipse(spot, r, r)


def _paint_zones(
    painter: QPainter, sheet: Sheet, field: ZoneField, to_page: QTransform, keep_off: QRectF
) -> None:
    """Fill where each zone is the likeliest, then name them, off the point."""
    leading = field.probabilities.argmax(axis=-1)
    areas = []
    for shape in zone_shapes(field):
        path = QPainterPath()  # odd and even: a ring within a ring is a hole
        for ring in shape.rings:
            path.addPolygon(to_page.map(QPolygonF([QPointF(x, y) for x, y in ring.tolist()])))
            path.closeSubpath()
        brush = zone_brush_pattern(ZONE_ROLE[shape.zone], LIGHT, 4.0)
        size = sheet.pt(_PATTERN_PT)
        brush.setTransform(brush.transform() * QTransform.fromScale(size, size))
        painter.setPen(sheet.pen(Role.EDGE, 0.5))
        painter.setBrush(brush)
        painter.drawPath(path)
        rows, columns = np.nonzero(leading == ZONES.index(shape.zone))
        spots = [
            to_page.map(QPointF(float(field.silica[column]), float(field.alumina[row])))
            for row, column in zip(rows, columns, strict=True)
        ]
        areas.append((shape.zone, path, spots))
    for zone, path, spots in areas:
        _paint_zone_name(painter, sheet, zone, path, spots, keep_off)


def _paint_zone_name(
    painter: QPainter,
    sheet: Sheet,
    zone: Zone,
    path: QPainterPath,
    spots: list[QPointF],
    keep_off: QRectF,
) -> None:
    """Write a zone's name where it fits inside, nearest the middle; else leave it out."""
    font, inset, name = sheet.tiny, sheet.pt(1.5), str(zone)
    plate = QRectF(
        0, 0, sheet.advance(name, font) + 2 * inset, sheet.line_height(font) + sheet.pt(0.5)
    )
    # A zone too narrow for the whole plate still holds most of its name.
    if not any(_move_inside(plate, path, spots, keep_off, share) for share in (1.0, 0.6)):
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(LIGHT.color(Role.HALO, 0.85))
    painter.drawRoundedRect(plate, inset, inset)
    baseline = plate.top() + sheet.pt(0.25) + sheet.ascent(font)
    sheet.write(painter, plate.left() + inset, baseline, name, font)


def _move_inside(
    plate: QRectF, path: QPainterPath, spots: list[QPointF], keep_off: QRectF, share: float
) -> bool:
    """Move the plate as near to the middle as a share of it fits; tell whether it does."""
    if not spots:
        return False
    middle_x = sum(spot.x() for spot in spots) / len(spots)
    middle_y = sum(spot.y() for spot in spots) / len(spots)
    around = path.boundingRect()
    core = QRectF(0, 0, share * plate.width(), share * plate.height())
    for spot in sorted(spots, key=lambda s: math.hypot(s.x() - middle_x, s.y() - middle_y)):
        core.moveCenter(spot)
        plate.moveCenter(spot)
        # The corners first: to ask for the whole takes long.
        if (
            not plate.intersects(keep_off)
            and around.contains(plate)
            and path.contains(core.topLeft())
            and path.contains(core.bottomRight())
            and path.contains(core)
        ):
            return True
    return False


def _ticks(far: float) -> list[tuple[float, str]]:
    """Round figures from zero to the end of an axis, at most seven."""
    size = 10.0 ** math.floor(math.log10(far / 5))
    step = next(size * m for m in (1, 2, 5, 10) if far / (size * m) <= 6)
    return [(i * step, f"{i * step:g}") for i in range(int(far / step + 1e-9) + 1)]
