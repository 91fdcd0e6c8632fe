"""The fields of one firing log, each with what it means or what is wrong with it beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.drift_chart import shelf_reading
from app.entry_model import EntryColumn, EntryModel
from app.entry_table import EntryTable
from app.log_draft import DATE_EXAMPLE, ConeColumn, Field, LogDraft, LogFault, draft_of, read_draft
from app.message_label import MessageLabel
from app.photo_field import PhotoField
from app.theme import Palette, Role
from core.firing.cones import cones
from core.firing.log import FiringLog, local_cone


class LogEditor(QWidget):
    """Edits a draft; every key counts at once and `edited` says so."""

    edited = Signal()

    def __init__(
        self,
        photos: Path | None,
        in_fahrenheit: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._draft = draft_of(FiringLog(), in_fahrenheit)
        self._filling = False
        self._notes_shown = ""
        self._photo_refusal = ""
        self._make_fields(photos)
        self._make_tables(in_fahrenheit)
        self._lay_out()
        for field in (self.begun, self.ended):
            field.textEdited.connect(self._on_edited)
            field.editingFinished.connect(self._on_edited)
        for table in (self.cones, self.points):
            table.edited.connect(self._on_edited)
            table.left_cell.connect(self._on_edited)
        self.notes.textChanged.connect(self._on_edited)
        self.photo.edited.connect(self._on_photo_edited)
        self.photo.refused.connect(self._on_photo_refused)

    @property
    def draft(self) -> LogDraft:
        """What the fields say."""
        notes = self.notes.toPlainText()
        name, new = self.photo.photo
        return replace(
            self._draft,
            begun=self.begun.text(),
            ended=self.ended.text(),
            cones=self.cones.entries.lines,
            points=self.points.entries.lines,
            # The field writes some characters anew; untouched notes stay as they were.
            notes=self._draft.notes if notes == self._notes_shown else notes,
            photo=name,
            new_photo=new,
        )

    def show_draft(self, draft: LogDraft) -> None:
        """Show another log."""
        self._filling = True
        self._draft = draft
        self._photo_refusal = ""
        self.begun.setText(draft.begun)
        self.ended.setText(draft.ended)
        self.cones.entries.show_lines(draft.cones)
        self.points.entries.show_lines(draft.points)
        self.notes.setPlainText(draft.notes)
        self._notes_shown = self.notes.toPlainText()
        self.photo.show_photo(draft.photo, draft.new_photo)
        self._filling = False
        self.show_reading(strict=False)

    def offer_shelves(self, shelves: Sequence[str]) -> None:
        """Take the shelves that a witness cone may be said to have stood on."""
        self.cones.entries.offer(ConeColumn.SHELF, shelves)

    def show_reading(self, *, strict: bool) -> None:
        """Say what the log reads as and what is wrong with it.

        Unless `strict`, what is still being typed counts as no fault.
        """
        log, faults = read_draft(self.draft)
        told = [fault for fault in faults if strict or not self._is_in_hand(fault)]
        for field, edit, line in (
            (Field.BEGUN, self.begun, self.begun_says),
            (Field.ENDED, self.ended, self.ended_says),
        ):
            line.say(_words(told, field), Role.STOP)
            edit.setAccessibleDescription(line.text())
        self._say_photo(_words(told, Field.PHOTO) or self._photo_refusal)
        self.remove_cone.setEnabled(bool(self.cones.entries.lines))
        self.remove_point.setEnabled(bool(self.points.entries.lines))
        for field, table, line, else_says in (
            (Field.CONES, self.cones, self.cones_say, self._shelf_words(log)),
            (Field.POINTS, self.points, self.points_say, self._point_words(log)),
        ):
            table.entries.show_faults(
                {(f.row, f.column): f.words for f in told if f.field is field}
            )
            words = _words(told, field)
            line.say(words or else_says, Role.STOP if words else Role.INK)
            table.setAccessibleDescription(line.text())

    def go_to(self, fault: LogFault) -> None:
        """Put the focus where the fault lies."""
        tables = {Field.CONES: self.cones, Field.POINTS: self.points}
        if fault.field in tables:
            tables[fault.field].go_to(fault.row, fault.column)
            return
        fields = {
            Field.BEGUN: self.begun,
            Field.ENDED: self.ended,
            Field.NOTES: self.notes,
            Field.PHOTO: self.photo.choose_button,
        }
        fields[fault.field].setFocus(Qt.FocusReason.OtherFocusReason)

    def tell_photo(self, words: str) -> None:
        """Say why the photo could not be copied."""
        self._photo_refusal = words
        self._say_photo(words)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        for part in (
            self.cones,
            self.points,
            self.photo,
            self.clock_says,
            self.begun_says,
            self.ended_says,
            self.photo_says,
            self.cones_say,
            self.points_say,
        ):
            part.set_palette(palette)

    def tab_order(self) -> list[QWidget]:
        """Return the fields in reading order."""
        return [
            self.begun,
            self.ended,
            self.photo.choose_button,
            self.photo.remove_button,
            self.cones,
            self.add_cone,
            self.remove_cone,
            self.points,
            self.add_point,
            self.remove_point,
            self.notes,
        ]

    def _make_fields(self, photos: Path | None) -> None:
        self.begun = QLineEdit()
        self.begun.setAccessibleName(self.tr("Begun, date and time"))
        self.ended = QLineEdit()
        self.ended.setAccessibleName(self.tr("Ended, date and time"))
        for field in (self.begun, self.ended):
            field.setPlaceholderText(DATE_EXAMPLE)
            field.setMaxLength(40)
            field.setMinimumHeight(28)
        self.begun_says = MessageLabel(self.tr("About the begin"))
        self.ended_says = MessageLabel(self.tr("About the end"))
        self.photo = PhotoField(photos)
        self.photo_says = MessageLabel(self.tr("About the photo"))
        self.notes = QPlainTextEdit()
        self.notes.setAccessibleName(self.tr("Notes of this firing"))
        self.notes.setPlaceholderText(self.tr("Weather, load, what was odd"))
        self.notes.setTabChangesFocus(True)

    def _make_tables(self, in_fahrenheit: bool) -> None:
        clock = self.tr("12 upright, 1 to 6 bending, 7 flat")
        cone_columns = (
            EntryColumn(self.tr("shelf"), self.tr("shelf"), may_choose=True),
            EntryColumn(self.tr("cone"), self.tr("cone"), self.tr("06 is not 6"), may_choose=True),
            EntryColumn(self.tr("clock"), self.tr("clock: {}").format(clock), clock, True),
        )
        unit = "°F" if in_fahrenheit else "°C"
        point_columns = (
            EntryColumn(self.tr("hours"), self.tr("hours since the start"), "", True),
            EntryColumn(
                self.tr("set, {}").format(unit),
                self.tr("set, {}").format(unit),
                self.tr("What the controller asked for"),
                True,
            ),
            EntryColumn(
                self.tr("read, {}").format(unit),
                self.tr("read, {}").format(unit),
                self.tr("What the thermocouple or pyrometer showed"),
                True,
            ),
        )
        self.cones = EntryTable(
            EntryModel(cone_columns, self),
            self.tr("Witness cones: shelf, cone and clock position of its tip"),
        )
        self.cones.entries.offer(ConeColumn.CONE, (cone.cone for cone in cones()))
        self.cones.empty_words = self.tr("No witness cone yet. Press Ins or “Add cone”.")
        self.points = EntryTable(
            EntryModel(point_columns, self), self.tr("Set points: hours, set and read")
        )
        self.points.empty_words = self.tr("No set point yet. Press Ins or “Add point”.")
        self.add_cone, self.remove_cone = self._row_buttons(self.cones, self.tr("&Add cone"))
        self.add_point, self.remove_point = self._row_buttons(self.points, self.tr("Add poin&t"))
        self.remove_cone.setAccessibleName(self.tr("Remove the chosen cone"))
        self.remove_point.setAccessibleName(self.tr("Remove the chosen set point"))
        self.clock_says = MessageLabel(self.tr("How to read the clock"))
        self.clock_says.say(
            self.tr("Clock, where the tip points: {}. 6 is its end point.").format(clock)
        )
        self.cones_say = MessageLabel(self.tr("What the shelves read as"))
        self.cones_say.setToolTip(
            self.tr(
                "From the bend of its cones, with one standard error. A flat or upright cone only "
                "bounds the reading. Common practice, no source."
            )
        )
        self.points_say = MessageLabel(self.tr("About the set points"))

    def _row_buttons(self, table: EntryTable, text: str) -> tuple[QPushButton, QPushButton]:
        add, remove = QPushButton(text), QPushButton(self.tr("Remove"))
        add.setToolTip(self.tr("Ins in the table"))
        remove.setToolTip(self.tr("Del in the table"))
        for button, slot in ((add, table.add_line), (remove, table.remove_line)):
            button.setAutoDefault(False)
            button.setMinimumHeight(28)
            button.clicked.connect(slot)
        return add, remove

    def _lay_out(self) -> None:
        top = QGridLayout()
        top.setContentsMargins(0, 0, 0, 0)
        top.setHorizontalSpacing(12)
        top.setVerticalSpacing(2)
        for column, (text, field, line, stretch) in enumerate(
            (
                (self.tr("&Begun"), self.begun, self.begun_says, 4),
                (self.tr("&Ended"), self.ended, self.ended_says, 4),
                (self.tr("Photo"), self.photo, self.photo_says, 6),
            )
        ):
            top.addWidget(_title(text, field), 0, column)
            top.addWidget(field, 1, column)
            top.addWidget(line, 2, column)
            top.setColumnStretch(column, stretch)
        # Room for one line, so that nothing jumps when a fault is told.
        top.setRowMinimumHeight(2, self.fontMetrics().height() + 2)
        columns = QGridLayout()
        columns.setContentsMargins(0, 0, 0, 0)
        columns.setHorizontalSpacing(12)
        columns.setVerticalSpacing(4)
        for column, (text, body, buttons, lines, stretch) in enumerate(
            (
                (
                    self.tr("&Witness cones"),
                    self.cones,
                    (self.add_cone, self.remove_cone),
                    (self.clock_says, self.cones_say),
                    9,
                ),
                (
                    self.tr("&Set points"),
                    self.points,
                    (self.add_point, self.remove_point),
                    (self.points_say,),
                    7,
                ),
            )
        ):
            columns.addWidget(_title(text, body), 0, column)
            columns.addWidget(body, 1, column)
            columns.addLayout(_row(buttons), 2, column)
            columns.addLayout(_stack(lines), 3, column)
            columns.setColumnStretch(column, stretch)
        columns.addWidget(_title(self.tr("&Notes"), self.notes), 0, 2)
        columns.addWidget(self.notes, 1, 2, 3, 1)
        columns.setColumnStretch(2, 5)
        columns.setRowStretch(1, 1)
        # The clock in two lines, and a reading: so that little jumps as readings come.
        columns.setRowMinimumHeight(3, 3 * self.fontMetrics().height() + 4)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(top)
        layout.addLayout(columns, 1)

    def _say_photo(self, fault: str) -> None:
        if fault:
            self.photo_says.say(fault, Role.STOP)
        else:
            self.photo_says.say(self.photo.reason())

    def _is_in_hand(self, fault: LogFault) -> bool:
        """Whether somebody is still typing what the fault is about."""
        if fault.field in (Field.BEGUN, Field.ENDED):
            return (self.begun if fault.field is Field.BEGUN else self.ended).hasFocus()
        table = self.cones if fault.field is Field.CONES else self.points
        return fault.is_gap or table.cell_in_hand() == (fault.row, fault.column)

    def _shelf_words(self, log: FiringLog) -> str:
        read = [local_cone(log, shelf) for shelf in log.shelves()]
        unnamed = self.tr("unnamed shelf")
        return "\n".join(shelf_reading(one, unnamed) for one in read if one is not None)

    def _point_words(self, log: FiringLog) -> str:
        hottest = [p.read_c for p in log.set_points if p.read_c is not None]
        if not hottest:
            return ""
        shown = draft_of(log, self._draft.in_fahrenheit).points
        top = max(range(len(shown)), key=lambda i: log.set_points[i].read_c or 0.0)
        unit = "°F" if self._draft.in_fahrenheit else "°C"
        return self.tr("hottest reading {} {}, {} h in").format(
            shown[top].texts[2], unit, shown[top].texts[0]
        )

    def _on_edited(self) -> None:
        if not self._filling:
            self.edited.emit()

    def _on_photo_edited(self) -> None:
        self._photo_refusal = ""
        self._on_edited()

    def _on_photo_refused(self, words: str) -> None:
        self.tell_photo(words)


def _words(faults: Sequence[LogFault], field: Field) -> str:
    """Return the first fault of a field, with its line, and how many more there are."""
    found = [fault for fault in faults if fault.field is field]
    if not found:
        return ""
    first = found[0]
    words = f"line {first.row + 1}: {first.words}" if first.row >= 0 else first.words
    return f"{words} (and {len(found) - 1} more)" if len(found) > 1 else words


def _title(text: str, buddy: QWidget) -> QLabel:
    label = QLabel(text)
    label.setBuddy(buddy)
    return label


def _row(buttons: Sequence[QPushButton]) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(8)
    for button in buttons:
        row.addWidget(button)
    row.addStretch(1)
    return row


def _stack(lines: Sequence[MessageLabel]) -> QVBoxLayout:
    stack = QVBoxLayout()
    stack.setSpacing(4)
    for line in lines:
        stack.addWidget(line)
    stack.addStretch(1)
    return stack
