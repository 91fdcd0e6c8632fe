"""Buttons at the foot of a dialog."""

from __future__ import annotations

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QDialogButtonBox


def without_pictures(box: QDialogButtonBox) -> QDialogButtonBox:
    """Take the style's own pictures off the buttons; our words stand alone everywhere."""
    for button in box.buttons():
        button.setIcon(QIcon())
    return box
