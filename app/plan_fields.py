"""Fields of the plan: figures read as they are typed, counts that the wheel leaves alone."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSpinBox,
    QWidget,
)

from app.quiet_combo import QuietComboBox
from core.blend.corners import Range
from core.errors import InputError
from core.numbers import number_text, read_amount

_NARROW = 64
_TARGET = 26


class NumberField(QLineEdit):
    """A figure with a decimal point or comma; a fault is told with the field's name."""

    def __init__(self, name: str, value: float | None = None, width: int = _NARROW) -> None:
        super().__init__("" if value is None else number_text(value))
        self._name = name
        self.setAccessibleName(name)
        self.setMaxLength(20)
        self.setMinimumHeight(_TARGET)
        self.setFixedWidth(width)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)

    @property
    def name(self) -> str:
        """What it holds, as it is told in a fault."""
        return self._name

    def rename(self, name: str) -> None:
        """Let it hold something else."""
        self._name = name
        self.setAccessibleName(name)

    def value(self) -> float:
        """Return the figure.

        Raises
        ------
        InputError
            If it is none of zero or more; with the name of the field.
        """
        text = self.text().strip()
        if not text:
            raise InputError(self.tr("{}: is empty").format(self._name), self.tr("give a figure"))
        try:
            return read_amount(text)
        except InputError as fault:
            raise InputError(f"{self._name}: {fault.what}", fault.mend) from fault

    def positive(self) -> float:
        """Return the figure.

        Raises
        ------
        InputError
            If it is none above zero; with the name of the field.
        """
        value = self.value()
        if value <= 0:
            raise InputError(
                self.tr("{}: must be above zero").format(self._name), self.tr("give more")
            )
        return value


class RangeField(QWidget):
    """From a low to a high figure."""

    def __init__(self, what: str, low: float, high: float) -> None:
        super().__init__()
        self.low = NumberField(self.tr("{}, from").format(what), low)
        self.high = NumberField(self.tr("{}, to").format(what), high)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self.low)
        layout.addWidget(QLabel(self.tr("to")))
        layout.addWidget(self.high)
        layout.addStretch(1)
        self.setFocusProxy(self.low)

    def range(self) -> Range:
        """Return both figures; `core.blend.corners` looks whether they are a range.

        Raises
        ------
        InputError
            If one of them is no figure.
        """
        return Range(self.low.value(), self.high.value())

    def show_range(self, span: Range, places: int = 2) -> None:
        """Write both figures."""
        self.low.setText(number_text(round(span.low, places)))
        self.high.setText(number_text(round(span.high, places)))


class CountBox(QSpinBox):
    """A whole number that the wheel changes only after it was chosen itself."""

    def __init__(self, name: str, least: int, most: int, value: int) -> None:
        super().__init__()
        self.setRange(least, most)
        self.setValue(value)
        self.setAccessibleName(name)
        self.setMinimumHeight(_TARGET)
        self.setFixedWidth(_NARROW)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class ChoiceBox(QuietComboBox):
    """A quiet choice with a name, that does not ask for the width of its longest line."""

    def __init__(self, name: str, choices: Iterable[tuple[str, object]] = ()) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setMinimumHeight(_TARGET)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(8)
        for text, data in choices:
            self.addItem(text, data)

    def choose(self, data: object) -> None:
        """Choose by what stands behind a line."""
        index = self.findData(data)
        if index >= 0:
            self.setCurrentIndex(index)


class MaterialBox(ChoiceBox):
    """A choice among materials in which one may type part of a name."""

    picked = Signal()
    """A material's name stands there, or what is typed was left as it is."""

    def __init__(self, name: str, choices: Iterable[tuple[str, str]]) -> None:
        super().__init__(name, choices)
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        completer = QCompleter(self.model(), self)
        completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.setCompleter(completer)
        self.lineEdit().setAccessibleName(name)
        self.currentTextChanged.connect(self._on_text)
        self.lineEdit().editingFinished.connect(self.picked)

    def material_id(self) -> str:
        """Return the material whose name stands there.

        Raises
        ------
        InputError
            If no material is called that.
        """
        text = self.currentText().strip()
        index = self.findText(text, Qt.MatchFlag.MatchFixedString)
        if index < 0:
            raise InputError(
                self.tr("{}: no material is called “{}”").format(self.accessibleName(), text),
                self.tr("choose one from the list"),
            )
        return str(self.itemData(index))

    def _on_text(self, text: str) -> None:
        if self.findText(text.strip(), Qt.MatchFlag.MatchFixedString) >= 0:
            self.picked.emit()


def beside(*widgets: QWidget) -> QWidget:
    """Put fields and words side by side, the rest of the line empty."""
    line = QWidget()
    layout = QHBoxLayout(line)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(4)
    for widget in widgets:
        layout.addWidget(widget)
    layout.addStretch(1)
    line.setFocusProxy(widgets[0])
    return line
