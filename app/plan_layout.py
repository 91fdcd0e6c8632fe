"""How the parts of the plan are laid out: titles, fields in one line, areas that scroll."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QFormLayout, QFrame, QLabel, QScrollArea, QSizePolicy, QWidget


def heading(text: str) -> QLabel:
    """Return the title of a part of the dialog."""
    label = QLabel(text)
    font = QFont(label.font())
    font.setBold(True)
    font.setPointSizeF(font.pointSizeF() + 1)
    label.setFont(font)
    return label


def line_up(forms: list[QFormLayout]) -> None:
    """Let the fields of several forms begin at one line."""
    labels = [
        item.widget()
        for form in forms
        for row in range(form.rowCount())
        if (item := form.itemAt(row, QFormLayout.ItemRole.LabelRole)) is not None
    ]
    width = max(label.sizeHint().width() for label in labels)
    for label in labels:
        label.setMinimumWidth(width)


def scrolled(widget: QWidget) -> QScrollArea:
    """Put a part into an area that scrolls up and down where there is no room."""
    area = QScrollArea()
    area.setWidget(widget)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area
