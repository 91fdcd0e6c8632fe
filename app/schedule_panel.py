"""The panel of the firing: its segments, its cone, the shelf, and the ways to its logs."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.document import Document
from app.quiet_combo import QuietComboBox
from app.segment_table import SegmentTable
from app.theme import Palette, Role
from core.evaluate import Evaluation
from core.firing.cones import cones
from core.schema import LONGEST_NAME

_ROOM_FOR_WORDS = 250


class SchedulePanel(QWidget):
    """Edits the firing of the open recipe; a shipped one is copied by the first edit."""

    fahrenheit_changed = Signal(bool)
    log_asked = Signal()
    peak_asked = Signal()

    def __init__(
        self, document: Document, fahrenheit: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._palette: Palette | None = None
        self._about = True
        self.name_edit = QLineEdit()
        self.name_edit.setMaxLength(LONGEST_NAME)
        self.name_edit.setAccessibleName(self.tr("Name of the firing"))
        self.cone = QuietComboBox()
        self.cone.setAccessibleName(self.tr("Cone that the schedule is meant for"))
        self.cone.addItem(self.tr("not said"), "")
        for cone in reversed(cones()):
            self.cone.addItem(self.tr("cone {}").format(cone.cone), cone.cone)
        self.shelf = QuietComboBox()
        self.shelf.setEditable(True)
        self.shelf.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.shelf.lineEdit().setPlaceholderText(self.tr("not said"))
        self.shelf.lineEdit().setMaxLength(LONGEST_NAME)
        self.shelf.setAccessibleName(self.tr("Shelf that the recipe is fired on"))
        self.shelf.setToolTip(
            self.tr(
                "Where this recipe stands in the kiln. When a log has witness cones of that shelf,"
                " the reading uses the cone that they saw."
            )
        )
        self.unit = QuietComboBox()
        self.unit.addItem("°C", False)
        self.unit.addItem("°F", True)
        self.unit.setCurrentIndex(1 if fahrenheit else 0)
        self.unit.setAccessibleName(self.tr("Unit of temperature"))
        self.table = SegmentTable(document)
        self.table.segments.set_fahrenheit(fahrenheit)
        self.said = QLabel()
        self.said.setWordWrap(True)
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        self._place()
        self._connect()
        self._on_evaluation_changed(document.evaluation)

    def _place(self) -> None:
        head = QGridLayout()
        head.setHorizontalSpacing(8)
        head.setVerticalSpacing(4)
        head.addWidget(self.name_edit, 0, 0, 1, 4)
        head.addWidget(self.unit, 0, 4)
        for column, (text, box) in enumerate(
            ((self.tr("Meant for"), self.cone), (self.tr("Shelf"), self.shelf))
        ):
            label = QLabel(text)
            label.setBuddy(box)
            box.setMinimumContentsLength(6)
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            head.addWidget(label, 1, 2 * column)
            head.addWidget(box, 1, 2 * column + 1, 1, 1 + column)
        head.setColumnStretch(1, 1)
        head.setColumnStretch(3, 1)
        buttons = QHBoxLayout()
        buttons.setSpacing(4)
        self.buttons: dict[str, QPushButton] = {}
        for name, text, tip in (
            ("add", self.tr("Add"), self.tr("Add a segment behind this one (Ins)")),
            ("remove", self.tr("Take out"), self.tr("Take out this segment (Del)")),
            ("peak", self.tr("Peak…"), self.tr("Find the peak that reaches a cone")),
            (
                "log",
                self.tr("Log…"),
                self.tr("What happened in the kiln: witness cones, readings, notes, drift"),
            ),
        ):
            button = QPushButton(text)
            button.setToolTip(tip)
            button.setMinimumWidth(20)
            buttons.addWidget(button)
            self.buttons[name] = button
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.said)
        layout.addLayout(buttons)

    def _connect(self) -> None:
        document, segments = self._document, self.table.segments
        self.name_edit.editingFinished.connect(self._on_name_edited)
        self.cone.activated.connect(self._on_cone_chosen)
        self.shelf.activated.connect(self._on_shelf_entered)
        self.shelf.lineEdit().editingFinished.connect(self._on_shelf_entered)
        self.unit.activated.connect(self._on_unit_chosen)
        self.buttons["add"].clicked.connect(self.table.add)
        self.buttons["remove"].clicked.connect(self.table.remove)
        self.buttons["peak"].clicked.connect(self.peak_asked)
        self.buttons["log"].clicked.connect(self.log_asked)
        segments.refused.connect(self.say)
        segments.accepted.connect(self._say_what_is_meant)
        document.evaluation_changed.connect(self._on_evaluation_changed)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._palette = palette
        self._say_what_is_meant()

    def say(self, fault: str) -> None:
        """Say why an edit was not made."""
        self._write(self.tr("Not taken. {}").format(fault), Role.STOP)

    def _write(self, text: str, role: Role) -> None:
        if self._palette is not None:
            style = f"color: {self._palette.hex(role)}"
            if style != self.said.styleSheet():
                self.said.setStyleSheet(style)
        if text != self.said.text():
            self.said.setText(text)
        self._about = role is Role.MUTED
        self._make_room()

    def _make_room(self) -> None:
        """In a low panel the segments come before words that nobody has to read now."""
        low = self.height() < _ROOM_FOR_WORDS
        self.said.setVisible(bool(self.said.text()) and not (low and self._about))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._make_room()

    def _say_what_is_meant(self) -> None:
        evaluation, studio = self._document.evaluation, self._document.studio
        firing = evaluation.firing
        text = ""
        if firing is None:
            text = self.tr("Choose a firing at the head of the bench.")
        elif studio.folder is None:
            text = self.tr(
                "A firing is kept in a studio. Begin or open one (File menu) to change this one."
            )
        elif not studio.owns_firing(firing.id):
            text = self.tr("A shipped firing: the first change makes a copy of your own.")
        self._write(text, Role.MUTED)

    def _on_evaluation_changed(self, evaluation: Evaluation) -> None:
        firing, studio = evaluation.firing, self._document.studio
        may = firing is not None and studio.folder is not None
        for widget in (self.name_edit, self.cone, *self.buttons.values()):
            if widget.isEnabled() != may:
                widget.setEnabled(may)
        tip = self.tr("Name of the firing")
        if firing is not None and may and not studio.owns_firing(firing.id):
            tip = self.tr("A shipped firing: the first change makes a copy of your own.")
        if tip != self.name_edit.toolTip():
            self.name_edit.setToolTip(tip)
        name = (firing.name or firing.id) if firing is not None else ""
        if name != self.name_edit.text() and not self.name_edit.isModified():
            self.name_edit.setText(name)
            self.name_edit.setCursorPosition(0)
        place = self.cone.findData(firing.cone if firing is not None else "")
        if place != self.cone.currentIndex():
            self.cone.setCurrentIndex(place)
        shelves = sorted({s for log in firing.log for s in log.shelves() if s}) if firing else []
        if shelves != [self.shelf.itemText(i) for i in range(self.shelf.count())]:
            self.shelf.clear()
            self.shelf.addItems(shelves)
        line = self.shelf.lineEdit()
        if not line.isModified() and line.text() != evaluation.recipe.shelf:
            self.shelf.setEditText(evaluation.recipe.shelf)
        if not self.said.text().startswith(self.tr("Not taken.")) or not may:
            self._say_what_is_meant()

    def _on_name_edited(self) -> None:
        if not self.name_edit.isModified():
            return
        self.name_edit.setModified(False)
        firing = self._document.evaluation.firing
        name = " ".join(self.name_edit.text().split())
        if firing is not None and name and name != firing.name:
            self._document.edit_firing(
                self.tr("Name the firing {}").format(name), replace(firing, name=name)
            )
        self._on_evaluation_changed(self._document.evaluation)

    def _on_cone_chosen(self, _index: int) -> None:
        firing = self._document.evaluation.firing
        if firing is not None:
            cone = self.cone.currentData()
            text = self.tr("Firing meant for cone {}").format(cone or "–")
            self._document.edit_firing(text, replace(firing, cone=cone))

    def _on_shelf_entered(self, *_: object) -> None:
        self.shelf.lineEdit().setModified(False)
        shelf = " ".join(self.shelf.currentText().split())
        recipe = self._document.recipe
        if shelf != recipe.shelf:
            self._document.edit(
                self.tr("Shelf {}").format(shelf or "–"), replace(recipe, shelf=shelf)
            )

    def _on_unit_chosen(self, _index: int) -> None:
        fahrenheit = bool(self.unit.currentData())
        self.table.segments.set_fahrenheit(fahrenheit)
        self.fahrenheit_changed.emit(fahrenheit)
