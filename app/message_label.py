"""A line of words under a field, with a sign before those of good or ill."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QLabel, QWidget

from app.theme import LIGHT, Palette, Role

_SIGNS = {Role.LOOK: "◆", Role.STOP: "✕"}


class MessageLabel(QLabel):
    """Says what is wrong, or what a field means; wraps, and takes its colour from a role."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._role = Role.MUTED
        self._words = ""
        self._colors: Palette = LIGHT
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAccessibleName(name)
        self.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)

    @property
    def words(self) -> str:
        """What was said, without its sign."""
        return self._words

    def say(self, text: str, role: Role = Role.MUTED) -> None:
        """Say something; an empty text says nothing."""
        self._role, self._words = role, text
        sign = _SIGNS.get(role, "")
        words = f"{sign} {text}" if sign and text else text
        if words != self.text():
            self.setText(words)
            # The name of a label stands in for its text; this says the text as well.
            self.setAccessibleDescription(words)
        self.set_palette(self._colors)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        own = QPalette(self.palette())
        own.setColor(QPalette.ColorRole.WindowText, palette.color(self._role))
        if own != self.palette():
            self.setPalette(own)
