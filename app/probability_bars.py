"""How likely each surface is, as four slim bars."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from PySide6.QtCore import QEvent, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.formatting import NOTHING
from app.theme import LIGHT, Palette, Role, apply_tabular_figures, zone_brush_pattern
from app.zone_roles import ZONE_ROLE
from core.regions import Zone

_GAP: Final = 4
_SLIM: Final = 7


class ProbabilityBars(QWidget):
    """Shows how likely glossy, satin, matte and underfired are; another reading only repaints.

    Name and percent stand beside the bar, the likeliest in bold, and the
    zone's pattern fills it: it reads in grey and without colour vision. The
    bars lie below each other, or two by two, under their words, where there
    is no room for that.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._chances: tuple[float, ...] = ()
        self._colors: Palette = LIGHT
        self._brushes: dict[Zone, QBrush] = {}
        self._brush_scale = 0.0
        self._set_fonts()
        self.setAccessibleName(self.tr("How likely each surface is"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._say()

    def show_probabilities(self, probabilities: Mapping[str, float] | None) -> None:
        """Show the probability of each zone, by its name, 0 to 1; None where nothing is read."""
        found = probabilities or {}
        chances = tuple(found[zone.value] for zone in Zone) if found else ()
        if chances == self._chances:
            return
        said = self.texts()
        self._chances = chances
        self.update()
        if self.texts() != said:
            self._say()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self._brushes.clear()
        self.update()

    def texts(self) -> list[str]:
        """Return the words on the bars, in their order."""
        return [f"{zone.value.capitalize()} {self._percent(i)}" for i, zone in enumerate(Zone)]

    def sizeHint(self) -> QSize:
        return QSize(240, self._stacked_height)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, self._paired_height)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._set_fonts()
            self.updateGeometry()
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        self._find_brushes()
        likeliest = max(self._chances, default=0.0)
        for i, zone in enumerate(Zone):
            words, bar = self.places(i)
            chance = self._chances[i] if self._chances else 0.0
            self._paint_bar(painter, bar, zone, chance)
            first = bool(self._chances) and chance == likeliest
            font = self._bold if first else self._small
            painter.setFont(font)
            painter.setPen(self._colors.color(Role.INK if self._chances else Role.MUTED))
            middle = Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextSingleLine
            room = words.width() - self._figure
            name = QFontMetrics(font).elidedText(
                zone.value.capitalize(), Qt.TextElideMode.ElideRight, room
            )
            painter.drawText(words, middle, name)
            painter.drawText(words, middle | Qt.AlignmentFlag.AlignRight, self._percent(i))
        painter.end()

    def _paint_bar(self, painter: QPainter, rect: QRect, zone: Zone, chance: float) -> None:
        painter.fillRect(rect, self._colors.color(Role.PAPER))
        filled = QRectF(rect)
        filled.setWidth(rect.width() * min(max(chance, 0.0), 1.0))
        if filled.width() < 1:
            return
        # The pattern begins at the bar, so that it does not swim as the window is dragged.
        painter.setBrushOrigin(rect.topLeft())
        painter.fillRect(filled, self._brushes[zone])
        # Pale fills differ little from paper in grey: the outline tells where they end.
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self._colors.color(Role.EDGE), 1))
        painter.drawRect(filled.adjusted(0.5, 0.5, -0.5, -0.5))

    def _find_brushes(self) -> None:
        scale = self.devicePixelRatioF()
        if not self._brushes or scale != self._brush_scale:
            self._brush_scale = scale
            self._brushes = {
                zone: zone_brush_pattern(ZONE_ROLE[zone], self._colors, scale) for zone in Zone
            }

    def _percent(self, place: int) -> str:
        if not self._chances:
            return NOTHING
        return f"{100.0 * self._chances[place]:.0f} %"

    def _say(self) -> None:
        words = ", ".join(self.texts()) if self._chances else self.tr("Nothing to read yet")
        self.setAccessibleDescription(words)

    def _set_fonts(self) -> None:
        self._small = apply_tabular_figures(self.font())
        if self._small.pointSizeF() > 0:
            self._small.setPointSizeF(self._small.pointSizeF() - 1)
        else:
            self._small.setPixelSize(self._small.pixelSize() - 1)
        self._bold = QFont(self._small)
        self._bold.setBold(True)
        metrics = QFontMetrics(self._bold)
        self._high = metrics.height()
        self._name = max(metrics.horizontalAdvance(zone.value.capitalize()) for zone in Zone)
        self._figure = metrics.horizontalAdvance("99 %")

    @property
    def _stacked_height(self) -> int:
        return len(Zone) * self._high + (len(Zone) - 1) * _GAP

    @property
    def _paired_height(self) -> int:
        return 2 * (self._high + _SLIM) + _GAP

    def places(self, place: int) -> tuple[QRect, QRect]:
        """Return where the words and the bar of a zone lie."""
        if self.height() >= self._stacked_height:
            words = QRect(0, place * (self._high + _GAP), self.width(), self._high)
            taken = self._name + self._figure + 4 * _GAP
            left = self._name + 2 * _GAP
            return words, QRect(left, words.top() + 1, self.width() - taken, self._high - 2)
        row, column = divmod(place, 2)
        width = (self.width() - 3 * _GAP) // 2
        top = row * (self._high + _SLIM + _GAP)
        words = QRect(column * (width + 3 * _GAP), top, width, self._high)
        return words, QRect(words.left(), words.bottom() + 1, width, _SLIM)
