"""What a plan takes, shown: a small table, the warnings, what to know before beginning."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.message_label import MessageLabel
from app.plan_amounts import Amounts
from app.plan_layout import heading, scrolled
from app.theme import Palette, Role, apply_tabular_figures

_MOST_SAID = 8
"""Warnings at a time: of the corners, the syringe and the scale."""
_ROW_HEIGHT = 28


class AmountsPanel(QWidget):
    """Shows volumes and weights, and says inline what is wrong with them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._make_table()
        self.warnings = [MessageLabel(self.tr("Warning")) for _ in range(_MOST_SAID)]
        self.words = MessageLabel(self.tr("What to know before beginning"))
        said = QWidget()
        below = QVBoxLayout(said)
        below.setContentsMargins(0, 0, 4, 0)
        below.setSpacing(6)
        for label in self.warnings:
            below.addWidget(label)
        below.addWidget(self.words)
        below.addStretch(1)
        area = scrolled(said)
        area.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        area.setAccessibleName(self.tr("Warnings and what to know"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(heading(self.tr("To mix")))
        layout.addWidget(self.table, 3)
        layout.addWidget(area, 2)

    def show_amounts(self, amounts: Amounts | None, remarks: Sequence[str] = ()) -> None:
        """Show what a plan takes, or nothing; remarks stand before the warnings."""
        self._fill(amounts)
        warned = (*remarks, *(amounts.warnings if amounts is not None else ()))
        for place, label in enumerate(self.warnings):
            label.say(warned[place] if place < len(warned) else "", Role.LOOK)
            label.setVisible(place < len(warned))
        self.words.say("\n".join(amounts.words) if amounts is not None else "")

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        for label in (*self.warnings, self.words):
            label.set_palette(palette)

    def _make_table(self) -> None:
        table = self.table = QTableWidget(0, 0)
        copy_as_cell(table)
        table.setAccessibleName(self.tr("What the plan takes"))
        table.setFont(apply_tabular_figures(self.font()))
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(_ROW_HEIGHT)
        table.horizontalHeader().setHighlightSections(False)
        table.horizontalHeader().setMinimumSectionSize(24)
        table.setMinimumHeight(3 * _ROW_HEIGHT)

    def _fill(self, amounts: Amounts | None) -> None:
        table = self.table
        table.clear()
        table.clearSpans()
        table.setRowCount(len(amounts.rows) if amounts is not None else 0)
        table.setColumnCount(len(amounts.headings) if amounts is not None else 0)
        if amounts is None:
            return
        table.setHorizontalHeaderLabels(amounts.headings)
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        for column in range(len(amounts.headings)):
            table.horizontalHeaderItem(column).setTextAlignment(right if column else left)
        for row, texts in enumerate(amounts.rows):
            for column, text in enumerate(texts):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                item.setTextAlignment(right if column else left)
                table.setItem(row, column, item)
            empty = next((i for i, text in enumerate(texts[1:]) if text), 0)
            if empty:
                table.setSpan(row, 0, 1, empty + 1)
        header = table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
