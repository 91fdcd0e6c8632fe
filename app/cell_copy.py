"""Copying from a table or list: names reach a spreadsheet as text, never as a formula."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractItemView

from core.spreadsheet import as_cell


def copy_as_cell(view: QAbstractItemView) -> None:
    """Let the copy key of a view put its current cell on the clipboard.

    By itself Qt would put the bare text there, and a name such as "=cmd"
    would run where it is pasted. Figures stay as they are.
    """

    def copy() -> None:
        index = view.currentIndex()
        text = str(index.data(Qt.ItemDataRole.DisplayRole) or "") if index.isValid() else ""
        if text:
            QGuiApplication.clipboard().setText(_cell(text))

    keys = QShortcut(QKeySequence(QKeySequence.StandardKey.Copy), view)
    keys.setContext(Qt.ShortcutContext.WidgetShortcut)
    keys.activated.connect(copy)


def _cell(text: str) -> str:
    """Return the text for the clipboard; only what begins like a figure and is one may do so."""
    figure = text.replace("−", "-").replace(",", ".").removesuffix("%").strip()
    try:
        float(figure)
    except ValueError:
        return as_cell(" ".join(text.split()))
    return text
