"""Tab stops of panels that lie behind a tab."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QDockWidget, QWidget

_POLICY = "glost-focus-policy"


class TabStops(QObject):
    """Takes a panel's widgets out of the Tab order while the panel is behind another.

    Qt keeps them in the order though nobody can see where the focus went.
    """

    def __init__(self, dock: QDockWidget) -> None:
        super().__init__(dock)
        self._dock = dock
        dock.visibilityChanged.connect(self._on_visibility_changed)

    def _on_visibility_changed(self, visible: bool) -> None:
        panel = self._dock.widget()
        if panel is None:  # the window is being taken down
            return
        for widget in panel.findChildren(QWidget):
            kept = widget.property(_POLICY)
            # A viewport takes no keys itself, and would hand what it is told on to its table.
            if kept is None and widget.focusPolicy() == Qt.FocusPolicy.NoFocus:
                continue
            if visible and kept is not None:
                widget.setFocusPolicy(Qt.FocusPolicy(kept))
                widget.setProperty(_POLICY, None)
            elif not visible and kept is None:
                widget.setProperty(_POLICY, widget.focusPolicy().value)
                widget.setFocusPolicy(Qt.FocusPolicy.NoFocus)
