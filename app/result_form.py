"""The result of one tile: its fields, entered by keyboard, each with its fault below it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QCompleter,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QPlainTextEdit,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.message_label import MessageLabel
from app.quiet_combo import QuietComboBox
from app.result_draft import Field, Texts, texts_of
from app.theme import Palette, Role, apply_tabular_figures
from core.firing.cones import cones
from core.numbers import number_text
from core.tiles.result import DEFECTS, GLOSS_ANGLES, MOST_LEVEL, Result, Surface

_HEIGHT: Final = 28
_PICTURE: Final = QSize(64, 44)
_LONGEST: Final = 400
_COMMANDS: Final = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
_STEPS: Final = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class ResultForm(QWidget):
    """Shows the texts of a result; `left` says that a field was finished."""

    left = Signal()
    """A field was left or chosen: what is typed counts now."""
    typed = Signal()
    """Something was typed, or chosen by its letters; more may follow."""
    next_asked = Signal()
    photos_chosen = Signal(list)  # of Path
    photo_removed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: dict[Field, str] = texts_of(None)
        self._photo = ""
        self._showing = False
        self._fault_lines: dict[Field, MessageLabel] = {}
        self._last: Field = Field.SURFACE
        self._make_fields()
        self._make_photo()
        self._lay_out()
        for field, widget in self.fields.items():
            widget.installEventFilter(self)
            widget.setProperty("glost-field", field.value)
            if isinstance(widget, QLineEdit):
                widget.editingFinished.connect(self.left)
                widget.textEdited.connect(self._on_typed)
            elif isinstance(widget, QuietComboBox):
                widget.activated.connect(self.left)
                widget.currentIndexChanged.connect(self._on_typed)
            else:
                widget.textChanged.connect(self._on_typed)

    @property
    def texts(self) -> dict[Field, str]:
        """What the fields say."""
        said = {}
        for field, widget in self.fields.items():
            if isinstance(widget, QuietComboBox):
                said[field] = str(widget.currentData() or "")
            elif isinstance(widget, QPlainTextEdit):
                text = widget.toPlainText()
                # The field writes some characters anew; untouched notes stay as they were.
                said[field] = self._shown[field] if text == self._notes_shown else text
            else:
                said[field] = widget.text()
        return said

    @property
    def photo(self) -> str:
        """Name of the photo that is shown."""
        return self._photo

    @property
    def is_changed(self) -> bool:
        """Whether something is typed that the tile does not have."""
        return self.texts != self._shown

    @property
    def changed_texts(self) -> dict[Field, str]:
        """What is typed that the tile does not have."""
        return {f: text for f, text in self.texts.items() if text != self._shown[f]}

    def show_result(
        self, result: Result | None, typed: Texts | None = None, in_hand: Field | None = None
    ) -> None:
        """Show a result.

        Parameters
        ----------
        result : Result or None
        typed : mapping of Field to str, optional
            What was typed for some of its fields and not taken yet.
        in_hand : Field, optional
            This field keeps its letters and its cursor: somebody is typing in it.
        """
        self._showing = True
        letters = self.texts.get(in_hand) if in_hand is not None else None
        self._shown = texts_of(result)
        wanted = {**self._shown, **(typed or {})}
        if in_hand is not None and letters is not None:
            wanted[in_hand] = letters
        for field, widget in self.fields.items():
            if field is in_hand:
                continue
            text = wanted[field]
            if isinstance(widget, QuietComboBox):
                widget.setCurrentIndex(max(0, widget.findData(text)))
            elif isinstance(widget, QPlainTextEdit):
                if widget.toPlainText() != text:
                    widget.setPlainText(text)
            else:
                if widget.text() != text:
                    widget.setText(text)
                # From here on Ctrl+Z takes back the step, no longer the letters.
                widget.setModified(False)
        notes = self.fields[Field.NOTES]
        assert isinstance(notes, QPlainTextEdit)
        if in_hand is not Field.NOTES:
            notes.document().setModified(False)
        untouched = wanted[Field.NOTES] == self._shown[Field.NOTES]
        self._notes_shown = notes.toPlainText() if untouched else None
        self._letters = ""
        self._showing = False
        self.show_faults({})

    def show_faults(self, faults: Mapping[Field, str]) -> None:
        """Say what is wrong, each fault below its field."""
        lines: dict[MessageLabel, list[str]] = {line: [] for line in self._fault_lines.values()}
        for field, line in self._fault_lines.items():
            words = faults.get(field, "")
            self.fields[field].setAccessibleDescription(words)
            if words:
                lines[line].append(words)
        for line, words_of_line in lines.items():
            line.say("; ".join(words_of_line), Role.STOP)
            line.setVisible(bool(words_of_line))

    def show_defaults(self, body: str, shelf: str, bodies: Iterable[str]) -> None:
        """Say what counts for body and shelf while they are empty, and offer bodies."""
        for field, value in ((Field.BODY, body), (Field.SHELF, shelf)):
            edit = self.fields[field]
            assert isinstance(edit, QLineEdit)
            edit.setPlaceholderText(self.tr("as the run: {}").format(value) if value else "")
        offered = list(bodies)
        if offered != self._bodies:
            self._bodies = offered
            self._complete(Field.BODY, offered)

    def show_photo(self, name: str, picture: QPixmap | None) -> None:
        """Show the name and small picture of the tile's photo."""
        self._photo = name
        self.photo_name.setToolTip(name)
        self.remove_button.setEnabled(bool(name))
        if picture is None or picture.isNull():
            self.picture.clear()
        else:
            ratio = self.devicePixelRatioF()
            small = picture.scaled(
                _PICTURE * ratio,
                Qt.AspectRatioMode.KeepAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
            small.setDevicePixelRatio(ratio)
            self.picture.setPixmap(small)
        self.picture.setVisible(bool(name))
        self._elide_name()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._elide_name()

    def _elide_name(self) -> None:
        words = self._photo or self.tr("no photo yet")
        self.photo_name.setAccessibleDescription(words)
        self.layout().activate()
        room = max(self.photo_name.width(), 32)
        metrics = self.photo_name.fontMetrics()
        self.photo_name.setText(metrics.elidedText(words, Qt.TextElideMode.ElideMiddle, room))

    def focus_field(self, field: Field | None = None) -> None:
        """Go to a field, or to the one that was used last; its text is ready to be replaced."""
        widget = self.fields[field or self._last]
        widget.setFocus(Qt.FocusReason.OtherFocusReason)
        if isinstance(widget, QLineEdit):
            widget.selectAll()

    @property
    def field_in_hand(self) -> Field | None:
        """The field that has the focus."""
        focus = self.window().focusWidget()
        return next((f for f, widget in self.fields.items() if widget is focus), None)

    def choose_photos(self) -> None:
        """Ask for photos."""
        names, _ = QFileDialog.getOpenFileNames(
            self, self.tr("Choose photos of the tiles"), str(Path.home())
        )
        if names:
            self.photos_chosen.emit([Path(name) for name in names])

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        for line in {*self._fault_lines.values(), self.hint}:
            line.set_palette(palette)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        kind = event.type()
        if kind == QEvent.Type.FocusIn:
            self._last = Field(watched.property("glost-field"))
            self._letters = ""
        elif kind == QEvent.Type.FocusOut and not isinstance(watched, QLineEdit):
            self.left.emit()
        elif kind == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            # A field takes undo for its letters; where none are new it is the window's.
            if _is_undo(event) and not _has_new_letters(watched):
                event.ignore()
                return True
        elif kind == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            return self._press(watched, event)
        return super().eventFilter(watched, event)

    def _press(self, watched: QObject, event: QKeyEvent) -> bool:
        if _is_undo(event) and not _has_new_letters(watched):
            event.ignore()
            return True
        if event.key() in _STEPS:
            in_notes = isinstance(watched, QPlainTextEdit)
            if in_notes and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                return False
            self.next_asked.emit()
            return True
        if event.key() == Qt.Key.Key_Escape:
            return self._restore(Field(watched.property("glost-field")))
        if isinstance(watched, QuietComboBox):
            return self._type_choice(watched, event)
        return False

    def _type_choice(self, combo: QuietComboBox, event: QKeyEvent) -> bool:
        """Choose by first letters; the next letter of one choice never begins that of another.

        Qt's own search runs on from tile to tile while somebody types fast.
        """
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._letters = ""
            combo.setCurrentIndex(0)
            return True
        letter = event.text().casefold()
        if not letter.strip() or not letter.isprintable() or event.modifiers() & _COMMANDS:
            return False
        places = range(combo.count())
        here = combo.currentIndex()
        # The same letter again goes on to the next choice that begins with it.
        for letters, order in (
            (self._letters + letter, places),
            (letter, [*places[here + 1 :], *places[: here + 1]]),
        ):
            found = [i for i in order if combo.itemText(i).casefold().startswith(letters)]
            if found:
                self._letters = letters
                combo.setCurrentIndex(found[0])
                break
        return True

    def _restore(self, field: Field) -> bool:
        if self.texts[field] == self._shown[field]:
            return False
        widget = self.fields[field]
        if isinstance(widget, QLineEdit):
            widget.setText(self._shown[field])
            widget.selectAll()
        elif isinstance(widget, QPlainTextEdit):
            widget.setPlainText(self._shown[field])
        elif isinstance(widget, QuietComboBox):
            widget.setCurrentIndex(max(0, widget.findData(self._shown[field])))
        self.left.emit()
        return True

    def _on_typed(self, *_: object) -> None:
        if not self._showing:
            self.typed.emit()

    def _make_fields(self) -> None:
        surface = _combo([("–", ""), *((str(s), str(s)) for s in Surface)])
        surface.setToolTip(self.tr("Its first letters choose: g, sa, si, d, u"))
        ends = {
            Field.MARKS: (self.tr("none"), self.tr("heavy")),
            Field.CLEANS: (self.tr("at a wipe"), self.tr("not at all")),
        }
        levels = {}
        for field, (least, most) in ends.items():
            words = {0: f"0 {least}", MOST_LEVEL: f"{MOST_LEVEL} {most}"}
            levels[field] = _combo(
                [("–", ""), *((words.get(n, str(n)), str(n)) for n in range(MOST_LEVEL + 1))]
            )
        levels[Field.MARKS].setToolTip(self.tr("Cutlery marks: 0 none to 3 heavy"))
        levels[Field.CLEANS].setToolTip(
            self.tr("How marks and dye come off: 0 at a wipe to 3 not at all")
        )
        angle = _combo([("–", ""), *((f"{number_text(a)}°", number_text(a)) for a in GLOSS_ANGLES)])
        notes = QPlainTextEdit()
        notes.setTabChangesFocus(True)
        notes.setMinimumHeight(44)
        notes.setPlaceholderText(self.tr("anything else; Ctrl+Enter goes on"))
        self.fields: dict[Field, QLineEdit | QuietComboBox | QPlainTextEdit] = {
            Field.SURFACE: surface,
            Field.TOUCH: _line(self.tr("glass, silk, stone…")),
            Field.GLOSS_UNITS: _line(self.tr("units"), is_figure=True),
            Field.GLOSS_ANGLE: angle,
            Field.DEFECTS: _line(self.tr("running, foot, 10 %; crazing")),
            Field.MARKS: levels[Field.MARKS],
            Field.CLEANS: levels[Field.CLEANS],
            Field.THICKNESS: _line("", is_figure=True),
            Field.LOCAL_CONE: _line(""),
            Field.BODY: _line(""),
            Field.SHELF: _line(""),
            Field.COOLING: _line(self.tr("how fast, held where")),
            Field.NOTES: notes,
        }
        self._notes_shown: str | None = ""
        self._letters = ""
        self._bodies: list[str] = []
        self._complete(Field.LOCAL_CONE, [cone.cone for cone in cones()])
        self.titles = {
            Field.SURFACE: self.tr("Surface"),
            Field.TOUCH: self.tr("Touch"),
            Field.GLOSS_UNITS: self.tr("Gloss"),
            Field.GLOSS_ANGLE: self.tr("at"),
            Field.DEFECTS: self.tr("Defects"),
            Field.MARKS: self.tr("Marks"),
            Field.CLEANS: self.tr("Cleans"),
            Field.THICKNESS: self.tr("Thick, mm"),
            Field.LOCAL_CONE: self.tr("Cone there"),
            Field.BODY: self.tr("Body"),
            Field.SHELF: self.tr("Shelf"),
            Field.COOLING: self.tr("Cooling"),
            Field.NOTES: self.tr("Notes"),
        }
        names = {
            Field.GLOSS_UNITS: self.tr("Gloss units"),
            Field.GLOSS_ANGLE: self.tr("Angle of the gloss meter"),
            Field.DEFECTS: self.tr("Defects: name, place, share; parted by semicolons"),
            Field.MARKS: self.tr("Cutlery marks, 0 to 3"),
            Field.CLEANS: self.tr("How marks come off, 0 to 3"),
            Field.THICKNESS: self.tr("Thickness of the fired layer in millimetres"),
            Field.LOCAL_CONE: self.tr("Cone that the witness beside the tile showed"),
        }
        for field, widget in self.fields.items():
            widget.setAccessibleName(names.get(field, self.titles[field]))
        self.fields[Field.DEFECTS].setToolTip(
            self.tr("Name, place, share of the tile: “running, foot, 10 %; crazing”")
        )
        self.defect_button = _tool(self.tr("Add"))
        self.defect_button.setAccessibleName(self.tr("Add a usual defect"))
        self.defect_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.defect_button)
        for name in DEFECTS:
            menu.addAction(name, lambda name=name: self.add_defect(name))
        self.defect_button.setMenu(menu)

    def add_defect(self, name: str) -> None:
        """Put a defect behind those that are there."""
        edit = self.fields[Field.DEFECTS]
        assert isinstance(edit, QLineEdit)
        before = edit.text().strip().rstrip(";")
        edit.setText(f"{before}; {name}" if before else name)
        edit.setFocus()
        self.left.emit()

    def _make_photo(self) -> None:
        self.picture = QLabel()
        self.picture.setFixedSize(_PICTURE)
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setAccessibleName(self.tr("Small picture of the photo"))
        self.photo_name = QLabel()
        self.photo_name.setTextFormat(Qt.TextFormat.PlainText)
        self.photo_name.setAccessibleName(self.tr("Photo"))
        self.photo_name.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.photo_button = _tool(self.tr("P&hotos…"))
        self.photo_button.setToolTip(
            self.tr(
                "One photo goes to this tile. Several go to the tiles whose codes are in their "
                "names, the others to this tile and those after it. Files are copied into the "
                "studio's photos; the originals stay as they are"
            )
        )
        self.remove_button = _tool(self.tr("None"))
        self.remove_button.setAccessibleName(self.tr("Take the photo off this tile"))
        self.remove_button.setToolTip(
            self.tr("Take the photo off this tile; the file stays in the studio's photos")
        )
        for button, slot in (
            (self.photo_button, self.choose_photos),
            (self.remove_button, self.photo_removed.emit),
        ):
            button.clicked.connect(slot)

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        row = 0
        for fields in (
            (Field.SURFACE,),
            (Field.TOUCH,),
            (Field.GLOSS_UNITS, Field.GLOSS_ANGLE),
            (Field.DEFECTS,),
            (Field.MARKS, Field.CLEANS),
            (Field.THICKNESS, Field.LOCAL_CONE),
            (Field.BODY, Field.SHELF),
            (Field.COOLING,),
        ):
            grid.addWidget(self._label(fields[0]), row, 0)
            line = QHBoxLayout()
            line.setSpacing(8)
            line.addWidget(self.fields[fields[0]], 1)
            for field in fields[1:]:
                line.addWidget(self._label(field))
                line.addWidget(self.fields[field], 1)
            if fields[0] is Field.DEFECTS:
                line.addWidget(self.defect_button)
            grid.addLayout(line, row, 1)
            row = self._add_fault_line(grid, row, fields)
        grid.addWidget(QLabel(self.tr("Photo")), row, 0)
        line = QHBoxLayout()
        line.setSpacing(8)
        line.addWidget(self.picture)
        line.addWidget(self.photo_name, 1)
        line.addWidget(self.photo_button)
        line.addWidget(self.remove_button)
        grid.addLayout(line, row, 1)
        row += 1
        grid.addWidget(self._label(Field.NOTES), row, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.fields[Field.NOTES], row, 1)
        grid.setRowStretch(row, 1)
        self._add_fault_line(grid, row, (Field.NOTES,))
        self.hint = MessageLabel(self.tr("How to go on"))
        self.hint.say(
            self.tr("Enter or Ctrl+Down: next tile, same field. Ctrl+Up: the one before.")
        )
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addLayout(grid, 1)
        layout.addWidget(self.hint)

    def _add_fault_line(self, grid: QGridLayout, row: int, fields: tuple[Field, ...]) -> int:
        """Put the line for faults below a row; returns the row after both."""
        line = MessageLabel(self.tr("What is wrong with {}").format(self.titles[fields[0]]))
        line.hide()
        grid.addWidget(line, row + 1, 1)
        for field in fields:
            self._fault_lines[field] = line
        return row + 2

    def _label(self, field: Field) -> QLabel:
        label = QLabel(self.titles[field])
        label.setBuddy(self.fields[field])
        return label

    def _complete(self, field: Field, words: list[str]) -> None:
        edit = self.fields[field]
        assert isinstance(edit, QLineEdit)
        # A list that opens over the field would take Enter for itself.
        completer = QCompleter(words, edit)
        completer.setCompletionMode(QCompleter.CompletionMode.InlineCompletion)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        edit.setCompleter(completer)


def _is_undo(event: QKeyEvent) -> bool:
    return event.matches(QKeySequence.StandardKey.Undo) or event.matches(
        QKeySequence.StandardKey.Redo
    )


def _has_new_letters(field: QObject) -> bool:
    if isinstance(field, QLineEdit):
        return field.isModified()
    return isinstance(field, QPlainTextEdit) and field.document().isModified()


def _line(placeholder: str, *, is_figure: bool = False) -> QLineEdit:
    edit = QLineEdit()
    edit.setMinimumHeight(_HEIGHT)
    edit.setMinimumWidth(56)
    edit.setMaxLength(_LONGEST)
    edit.setPlaceholderText(placeholder)
    if is_figure:
        edit.setFont(apply_tabular_figures(edit.font()))
    return edit


def _tool(text: str) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setMinimumSize(_HEIGHT, _HEIGHT)
    # Tab finds it as it does a push button.
    button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    return button


def _combo(items: list[tuple[str, str]]) -> QuietComboBox:
    combo = QuietComboBox()
    combo.setMinimumHeight(_HEIGHT)
    combo.setMinimumContentsLength(6)
    combo.setSizeAdjustPolicy(QuietComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    for text, data in items:
        combo.addItem(text, data)
    return combo
