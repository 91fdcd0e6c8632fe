"""The segments of the recipe's firing as a table; edits go to the document."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from enum import IntEnum
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
    Signal,
)

from app.document import Document
from app.formatting import decimals, in_a_sentence
from app.problems import words_of
from core.errors import InputError
from core.evaluate import Evaluation
from core.firing import Firing, Segment, SegmentSpan
from core.firing.entry import (
    hold_text,
    new_segment_at,
    rate_text,
    target_text,
    with_hold,
    with_rate,
    with_target,
)

Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()


class Column(IntEnum):
    """Columns from left to right."""

    NUMBER = 0
    RATE = 1
    TARGET = 2
    HOLD = 3
    TAKES = 4


EDITABLE = (Column.RATE, Column.TARGET, Column.HOLD)


class SegmentModel(QAbstractTableModel):
    """One row per segment."""

    refused = Signal(str)
    """Why an edit was not made, with the segment named."""
    accepted = Signal()
    rows_about_to_change = Signal()
    """Rows will come or go: an editor on one of them has to close while it still can."""

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._fahrenheit = False
        self._firing: Firing | None = None
        self._segments: tuple[Segment, ...] = ()
        self._spans: tuple[SegmentSpan, ...] = ()
        document.evaluation_changed.connect(self.show)
        self.show(document.evaluation)

    @property
    def fahrenheit(self) -> bool:
        """Whether temperatures are shown and read in °F."""
        return self._fahrenheit

    def set_fahrenheit(self, fahrenheit: bool) -> None:
        """Show and read temperatures in °F or in °C."""
        if fahrenheit != self._fahrenheit:
            self._fahrenheit = fahrenheit
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, Column.RATE, Column.TARGET)
            self._announce(range(len(self._segments)))

    @property
    def editable(self) -> bool:
        """Whether the firing can be changed: there is one, and a studio that can keep it."""
        return self._firing is not None and self._document.studio.folder is not None

    def rowCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._segments)

    def columnCount(self, parent: Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(Column)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        unit = "°F" if self._fahrenheit else "°C"
        if role == Qt.ItemDataRole.DisplayRole:
            return {
                Column.NUMBER: "",
                Column.RATE: self.tr("rate, {}/h").format(unit),
                Column.TARGET: self.tr("to, {}").format(unit),
                Column.HOLD: self.tr("hold, min"),
                Column.TAKES: self.tr("takes, h"),
            }[Column(section)]
        if role == Qt.ItemDataRole.ToolTipRole:
            return {
                Column.NUMBER: "",
                Column.RATE: self.tr(
                    "A number; “full” as fast as the kiln goes; “off” switched off, cooling by"
                    " itself, with the rate at its start if you know it (off 150)"
                ),
                Column.TARGET: self.tr("Temperature that the segment ends at"),
                Column.HOLD: self.tr("Time at that temperature: minutes, or hours:minutes"),
                Column.TAKES: self.tr("Ramp and hold together; full and off by the kiln's rates"),
            }[Column(section)]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self.editable and index.column() in EDITABLE:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        column = Column(index.column())
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._in_words(index.row())
        if role not in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return None
        segment = self._segments[index.row()]
        if column is Column.NUMBER:
            return str(index.row() + 1)
        if column is Column.TAKES:
            span = self._spans[index.row()]
            return decimals(span.end_h - span.start_h, 1)
        text = {
            Column.RATE: lambda: rate_text(segment, self._fahrenheit),
            Column.TARGET: lambda: target_text(segment, self._fahrenheit),
            Column.HOLD: lambda: hold_text(segment),
        }[column]()
        empty = not text and role == Qt.ItemDataRole.DisplayRole
        return "–" if empty else text

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        return self.set_text(index.row(), Column(index.column()), str(value))

    def set_text(
        self, row: int, column: Column, text: str, session: Hashable | None = None
    ) -> bool:
        """Take what was typed into a cell; False where no kiln could fire the result."""
        kiln, unit = self._document.studio.kiln, self._fahrenheit

        def changed(segment: Segment) -> Segment:
            if column is Column.RATE:
                return with_rate(segment, text, unit, kiln)
            if column is Column.TARGET:
                return with_target(segment, text, unit)
            return with_hold(segment, text)

        if column not in EDITABLE or row >= len(self._segments):
            return False
        return self._try(
            self.tr("Segment {}").format(row + 1),
            lambda: _swapped(self._segments, row, changed(self._segments[row])),
            session,
        )

    def add_after(self, row: int) -> int | None:
        """Add a segment behind `row` (before a natural cooling); return its row, or None."""
        place = min(row + 1, len(self._segments))
        if place and self._segments[place - 1].natural_cooling is not None:
            place -= 1
        new = new_segment_at(self._segments, place, self._fahrenheit)
        segments = (*self._segments[:place], new, *self._segments[place:])
        added = self._try(self.tr("Add a segment"), lambda: segments)
        return place if added else None

    def remove(self, row: int) -> bool:
        """Take a segment out."""
        if row >= len(self._segments):
            return False
        if len(self._segments) == 1:
            self.refused.emit(self.tr("A schedule keeps at least one segment."))
            return False
        rest = (*self._segments[:row], *self._segments[row + 1 :])
        return self._try(self.tr("Take out segment {}").format(row + 1), lambda: rest)

    def _try(
        self,
        text: str,
        segments: Callable[[], tuple[Segment, ...]],
        session: Hashable | None = None,
    ) -> bool:
        if self._firing is None or not self.editable:
            return False
        try:
            changed = self._firing.with_segments(segments())
        except InputError as fault:
            self.refused.emit(in_a_sentence(words_of(fault)))
            return False
        self._document.edit_firing(text, changed, session)
        self.accepted.emit()
        return True

    def show(self, evaluation: Evaluation) -> None:
        """Show the firing of a recipe."""
        firing, heat = evaluation.firing, evaluation.heat
        if firing is self._firing and heat is not None and heat.spans is self._spans:
            return
        segments = firing.segments if firing is not None and heat is not None else ()
        spans = heat.spans if heat is not None else ()
        old = len(self._segments)
        if len(segments) != old:
            self.rows_about_to_change.emit()
            self.beginResetModel()
            self._firing, self._segments, self._spans = firing, segments, spans
            self.endResetModel()
            return
        changed = [
            row
            for row in range(old)
            if segments[row] != self._segments[row] or spans[row] != self._spans[row]
        ]
        self._firing, self._segments, self._spans = firing, segments, spans
        self._announce(changed)

    def _announce(self, rows: Any) -> None:
        for row in rows:
            self.dataChanged.emit(self.index(row, 0), self.index(row, len(Column) - 1))

    def _in_words(self, row: int) -> str:
        segment = self._segments[row]
        unit = "°F" if self._fahrenheit else "°C"
        text = self.tr("segment {}: {} {} per hour to {} {}").format(
            row + 1,
            rate_text(segment, self._fahrenheit),
            unit,
            target_text(segment, self._fahrenheit) or "–",
            unit,
        )
        held = hold_text(segment)
        return text + (self.tr(", held {} minutes").format(held) if held else "")


def _swapped(segments: tuple[Segment, ...], row: int, new: Segment) -> tuple[Segment, ...]:
    return (*segments[:row], new, *segments[row + 1 :])
