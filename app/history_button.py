"""A button for undo or redo on the bar."""

from __future__ import annotations

import shiboken6
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QToolButton, QWidget


class HistoryButton(QToolButton):
    """Follows an action of the undo stack.

    The action itself on the bar would lay the bar out anew with every step,
    because the step's name is in its text.
    """

    def __init__(self, action: QAction, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._action = action
        self.setAutoRaise(True)
        self.setAccessibleName(name)
        self.clicked.connect(action.trigger)
        action.changed.connect(self._follow)
        self._follow()

    def _follow(self) -> None:
        action = self._action
        # An action says "changed" once more while its window is taken down.
        if not shiboken6.isValid(action):
            return
        self.setEnabled(action.isEnabled())
        self.setToolTip(f"{action.text()} ({action.shortcut().toString()})")
