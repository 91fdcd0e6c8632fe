"""What the dialogs that find a recipe share: the result goes to the rows or becomes a variant."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QHBoxLayout, QLayout, QPushButton, QVBoxLayout, QWidget

TARGET = 28
"""Least height of a button [px]."""


class FindingDialog(QDialog):
    """Takes what was found; a subclass says in `_close_with` what that is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.as_variant = False
        """Whether it is to be kept as a variant instead of going to the rows."""
        self.take_button = QPushButton(self.tr("&Take it to the rows"))
        self.keep_button = QPushButton(self.tr("Keep as a &variant"))
        self.cancel_button = QPushButton(self.tr("Cancel"))
        for button in self.foot_buttons:
            button.setMinimumHeight(TARGET)
            # Enter in a field ends the figure; it takes nothing.
            button.setAutoDefault(False)
        self.take_button.clicked.connect(self.take)
        self.keep_button.clicked.connect(self.keep)
        self.cancel_button.clicked.connect(self.reject)

    @property
    def foot_buttons(self) -> tuple[QPushButton, QPushButton, QPushButton]:
        """The buttons at the foot, in their order."""
        return self.take_button, self.keep_button, self.cancel_button

    def take(self) -> None:
        """Close with what was found for the rows."""
        self._close_with(as_variant=False)

    def keep(self) -> None:
        """Close with what was found for a variant."""
        self._close_with(as_variant=True)

    def _close_with(self, *, as_variant: bool) -> None:
        raise NotImplementedError

    def _lay_foot(self, body: QLayout, beside: QWidget | None = None) -> None:
        """Lay the dialog out: the body, and under it the buttons."""
        foot = QHBoxLayout()
        foot.setSpacing(8)
        if beside is None:
            foot.addStretch(1)
        else:
            foot.addWidget(beside, 1)
        for button in self.foot_buttons:
            foot.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(12)
        layout.addLayout(body, 1)
        layout.addLayout(foot)
