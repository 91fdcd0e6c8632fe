"""One line of figures that changes with every key press."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.theme import Palette, Role, apply_tabular_figures


class FigureLine(QWidget):
    """Shows a line of text; a new text repaints the line and nothing else.

    A QLabel asks for a new layout of the window each time its text changes,
    which costs more than the repaint.
    """

    def __init__(
        self,
        role: Role = Role.INK,
        elide: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._elide = elide
        self._text = ""
        self._role = role
        self._palette: Palette | None = None
        self.setFont(apply_tabular_figures(self.font()))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def text(self) -> str:
        """Return the text shown."""
        return self._text

    def setText(self, text: str) -> None:
        """Show another text."""
        if text != self._text:
            self._text = text
            self.setAccessibleName(text)
            self.update()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._palette = palette
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(80, self.fontMetrics().height() + 2)

    def minimumSizeHint(self) -> QSize:
        return QSize(40, self.fontMetrics().height() + 2)

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        if self._palette is not None:
            painter.setPen(self._palette.color(self._role))
        metrics = self.fontMetrics()
        text = metrics.elidedText(self._text, self._elide, self.width())
        flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(self.rect(), flags, text)
        painter.end()
