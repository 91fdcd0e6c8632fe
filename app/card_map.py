"""The small map on the card: zones of practice, axes, the recipe's point, and words on them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPolygonF, QTransform

from app.card_page import Block, Sheet, joined
from app.theme import LIGHT, Role, zone_brush_pattern
from app.zone_roles import ZONE_ROLE
from core.evaluate import Evaluation
from core.regions import practice_rules

Point = tuple[float, float]
"""(SiO2, Al2O3) of the unity formula."""

_HOME = (6.0, 1.0)
_PATTERN_PT = 0.5
"""Size on paper of what is one pixel of a pattern on the screen [pt]."""


def map_block(sheet: Sheet, cone: str, point: Point, x: float, width: float) -> Block:
    """Lay out the map in a column."""
    height = 0.68 * width

    def paint(painter: QPainter, top: float) -> None:
        _paint_map(painter, sheet, QRectF(x, top, width, height), cone, point)

    return Block(height, paint)


def map_words(sheet: Sheet, evaluation: Evaluation, point: Point, x: float, width: float) -> Block:
    """Lay out the point's figures, its zone and what the zones rest on, in a column."""
    cone = evaluation.cone
    basis = f"Zones: rules of practice, {f'cone {cone}' if cone else 'cone not said'}"
    if cone and practice_rules().limit(cone) is None:
        basis += ", for which they have no limit of melting"
    return joined(
        *(
            line
            for text, font, role in (
                (f"● SiO₂ {point[0]:.2f}, Al₂O₃ {point[1]:.2f}", sheet.strong, Role.INK),
                (f"By practice: {evaluation.zone}", sheet.small, Role.INK),
                (f"{basis}. They do not know the fluxes.", sheet.small, Role.MUTED),
            )
            for line in sheet.paragraph(text, font, role, x=x, width=width)
        )
    )


def _paint_map(painter: QPainter, sheet: Sheet, frame: QRectF, cone: str, point: Point) -> None:
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

    shapes = []
    for zone, corners in practice_rules().polygons(cone, far_x, far_y):
        shape = [to_page.map(QPointF(float(x), float(y))) for x, y in corners]
        brush = zone_brush_pattern(ZONE_ROLE[zone], LIGHT, 4.0)
        size = sheet.pt(_PATTERN_PT)
        brush.setTransform(brush.transform() * QTransform.fromScale(size, size))
        painter.setPen(sheet.pen(Role.EDGE, 0.5))
        painter.setBrush(brush)
        painter.drawPolygon(QPolygonF(shape))
        shapes.append((str(zone), shape))
    room = 1.6 * radius
    keep_off = QRectF(spot.x() - room, spot.y() - room, 2 * room, 2 * room)
    for name, shape in shapes:
        _paint_zone_name(painter, sheet, name, shape, keep_off)

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


def _paint_zone_name(
    painter: QPainter, sheet: Sheet, name: str, shape: Sequence[QPointF], keep_off: QRectF
) -> None:
    """Write a zone's name where it fits inside, nearest the middle; else leave it out."""
    font, inset = sheet.tiny, sheet.pt(1.5)
    plate = QRectF(
        0, 0, sheet.advance(name, font) + 2 * inset, sheet.line_height(font) + sheet.pt(0.5)
    )
    # A zone too narrow for the whole plate still holds most of its name.
    if not any(_move_inside(plate, shape, keep_off, share) for share in (1.0, 0.6)):
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(LIGHT.color(Role.HALO, 0.85))
    painter.drawRoundedRect(plate, inset, inset)
    baseline = plate.top() + sheet.pt(0.25) + sheet.ascent(font)
    sheet.write(painter, plate.left() + inset, baseline, name, font)


def _move_inside(plate: QRectF, shape: Sequence[QPointF], keep_off: QRectF, share: float) -> bool:
    """Move the plate as near to the middle as a share of it fits; tell whether it does."""
    path = QPainterPath()
    path.addPolygon(QPolygonF(shape))
    path.closeSubpath()
    around = path.boundingRect()
    middle_x = sum(corner.x() for corner in shape) / len(shape)
    middle_y = sum(corner.y() for corner in shape) / len(shape)
    spots = [
        (around.left() + around.width() * i / 40, around.top() + around.height() * j / 30)
        for i in range(1, 40)
        for j in range(1, 30)
    ]
    core = QRectF(0, 0, share * plate.width(), share * plate.height())
    for spot in sorted(spots, key=lambda s: math.hypot(s[0] - middle_x, s[1] - middle_y)):
        core.moveCenter(QPointF(*spot))
        plate.moveCenter(QPointF(*spot))
        if path.contains(core) and not plate.intersects(keep_off):
            return True
    return False


def _ticks(far: float) -> list[tuple[float, str]]:
    """Round figures from zero to the end of an axis, at most seven."""
    size = 10.0 ** math.floor(math.log10(far / 5))
    step = next(size * m for m in (1, 2, 5, 10) if far / (size * m) <= 6)
    return [(i * step, f"{i * step:g}") for i in range(int(far / step + 1e-9) + 1)]
