"""Figures in columns, and a note above them: lists that change with every key press."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from PySide6.QtCore import QEvent, QRect, QSize, Qt
from PySide6.QtGui import QHelpEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.formatting import NOTHING, oxides_in
from app.theme import LIGHT, Palette, Role, apply_tabular_figures

_GAP: Final = 8
_BAR: Final = 3


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a list of figures."""

    name: str
    value: str = NOTHING
    error: str = ""
    unit: str = ""
    marked: bool = False

    @property
    def text(self) -> str:
        """The line in words."""
        return " ".join(part for part in (self.name, self.value, self.error, self.unit) if part)


class FigureColumns(QWidget):
    """A list of names and figures in columns; a new figure repaints its line and nothing else."""

    def __init__(self, name: str, lines: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines = lines
        self._rows: list[Row] = []
        self._says: Callable[[int], str] | None = None
        self._colors = LIGHT
        self.setAccessibleName(name)
        self.setFont(apply_tabular_figures(self.font()))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def rows(self) -> list[Row]:
        """The lines shown."""
        return list(self._rows)

    def set_tips(self, says: Callable[[int], str]) -> None:
        """Say by its number what hovering over a line tells; asked only when somebody hovers."""
        self._says = says

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.update()

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show other lines; at most as many as there is room for."""
        rows, old = list(rows[: self._lines]), self._rows
        if rows == old:
            return
        self._rows = rows
        for i in range(max(len(rows), len(old))):
            if (rows[i] if i < len(rows) else None) != (old[i] if i < len(old) else None):
                self.update(self._line_rect(i))
        self.setAccessibleDescription("; ".join(row.text for row in rows))

    def sizeHint(self) -> QSize:
        return QSize(self._width_of("glass transition", "log₁₀ Pa·s"), self._lines * self._high)

    def minimumSizeHint(self) -> QSize:
        return QSize(160, self._lines * self._high)

    def tip_of(self, line: int) -> str:
        """Return what hovering over a line says; empty where there is none."""
        if self._says is None or not 0 <= line < len(self._rows):
            return ""
        return oxides_in(self._says(line))

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            text = self.tip_of(event.pos().y() // self._high)
            if text:
                QToolTip.showText(event.globalPos(), f"<p>{escape(text)}</p>", self)
            else:
                QToolTip.hideText()
                event.ignore()
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        metrics = self.fontMetrics()
        units = max((metrics.horizontalAdvance(row.unit) for row in self._rows), default=0)
        errors = max((metrics.horizontalAdvance(row.error) for row in self._rows), default=0)
        # Room for the widest figure: a first digit cut off would be another number.
        texts = ["00.00", *(row.value for row in self._rows)]
        values = max(metrics.horizontalAdvance(text) for text in texts)
        right = self.width()
        unit_at = right - units
        error_at = unit_at - errors - (_GAP if units else 0)
        value_at = error_at - values - (_GAP // 2 if errors else 0)
        middle = Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextSingleLine
        for i, row in enumerate(self._rows):
            line = self._line_rect(i)
            if not event.rect().intersects(line):
                continue
            top, high = line.top(), line.height()
            if row.marked:
                bar = QRect(0, top + 3, _BAR, high - 6)
                painter.fillRect(bar, self._colors.color(Role.ACCENT))
            left = _BAR + _GAP // 2
            painter.setPen(self._colors.color(Role.INK))
            value_left = value_at + values - metrics.horizontalAdvance(row.value)
            room = max(value_left - left - _GAP, 0)
            name = metrics.elidedText(row.name, Qt.TextElideMode.ElideRight, room)
            painter.drawText(left, top, room, high, middle, name)
            flags = middle | Qt.AlignmentFlag.AlignRight
            painter.drawText(value_at, top, values, high, flags, row.value)
            painter.drawText(error_at, top, errors, high, middle, row.error)
            painter.setPen(self._colors.color(Role.MUTED))
            painter.drawText(unit_at, top, units, high, middle, row.unit)
        painter.end()

    @property
    def _high(self) -> int:
        return self.fontMetrics().height() + 4

    def _line_rect(self, line: int) -> QRect:
        return QRect(0, line * self._high, self.width(), self._high)

    def _width_of(self, name: str, unit: str) -> int:
        advance = self.fontMetrics().horizontalAdvance
        return sum(advance(text) for text in (name, "00.00", "± 0.00", unit)) + 4 * _GAP


class Note(QWidget):
    """Words that wrap, in a room that fits the longest of them: another figure moves nothing."""

    def __init__(self, role: Role, longest: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._role, self._longest, self._text = role, longest, ""
        self._colors = LIGHT
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.hide()

    def text(self) -> str:
        """Return the words shown; empty where there are none."""
        return self._text

    def setText(self, text: str) -> None:
        """Show other words; without any the note gives up its room."""
        if text == self._text:
            return
        self._text = text
        self.setAccessibleName(text)
        self.setVisible(bool(text))
        self.update()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(240, self._high_at(240))

    def minimumSizeHint(self) -> QSize:
        return QSize(160, 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wanted = self._high_at(self.width())
        if wanted != self.height():
            self.setFixedHeight(wanted)

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(self._colors.color(self._role))
        painter.drawText(self.rect(), Qt.TextFlag.TextWordWrap.value, self._text)
        painter.end()

    def _high_at(self, width: int) -> int:
        room = QRect(0, 0, max(width, 1), 10_000)
        flags = Qt.TextFlag.TextWordWrap.value
        return self.fontMetrics().boundingRect(room, flags, self._longest).height() + 2
