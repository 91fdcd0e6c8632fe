"""Lines above the bench that say what happened to the files, each with its way out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPalette, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

_BAR = 4
"""Width of the bar at the left of a line [px]."""
_PASSING_MS = 20_000
"""Long enough to read two sentences while doing something else."""
Answer = tuple[str, Callable[[], object]]


class NoticeBar(QWidget):
    """Holds one line for each subject; a new one of the same subject takes the old one's place."""

    emptied = Signal(bool)
    """Whether the last line went (True) or a first one came (False)."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lines: dict[str, _Line] = {}
        self.stands_after: QWidget | None = None
        """What Tab reaches right before the buttons of the lines."""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(1)

    def subjects(self) -> list[str]:
        """Return the subjects that have a line, the oldest first."""
        return list(self._lines)

    def text(self, subject: str) -> str:
        """Return what the line of a subject says; nothing where there is none."""
        line = self._lines.get(subject)
        return line.label.text() if line is not None else ""

    def buttons(self, subject: str) -> list[QPushButton]:
        """Return the buttons of a subject's line, from the left."""
        line = self._lines.get(subject)
        return list(line.buttons) if line is not None else []

    def tell(
        self,
        subject: str,
        text: str,
        answers: Sequence[Answer] = (),
        dismiss: str = "",
        *,
        passing: bool = False,
    ) -> None:
        """Say one thing until it is answered or dropped.

        Parameters
        ----------
        subject : str
            What it is about; never shown.
        text : str
        answers : sequence of (str, callable)
            What can be done: a button each. The line stays until `drop`.
        dismiss : str
            Name of a further button that only takes the line away; none if empty.
        passing : bool
            Whether it goes by itself after a while, as nothing is to be done about it.
        """
        self.drop(subject)
        line = _Line(text, answers, self)
        if dismiss:
            line.add_button(dismiss, lambda: self.drop(subject))
        first = not self._lines
        self._lines[subject] = line
        self._layout.addWidget(line)
        if passing:
            QTimer.singleShot(_PASSING_MS, line, lambda: self._let_pass(subject, line))
        self._fit()
        self._order_tab_stops()
        if first:
            self.emptied.emit(False)

    def drop(self, subject: str) -> None:
        """Take the line of a subject away."""
        line = self._lines.pop(subject, None)
        if line is None:
            return
        self._layout.removeWidget(line)
        line.hide()
        line.deleteLater()
        self._fit()
        if not self._lines:
            self.emptied.emit(True)

    def _let_pass(self, subject: str, line: _Line) -> None:
        if self._lines.get(subject) is line:
            self.drop(subject)

    def go_there(self) -> bool:
        """Give the keys to the first button of the newest line; False where there is none."""
        for line in reversed(self._lines.values()):
            if line.buttons:
                line.buttons[0].setFocus(Qt.FocusReason.ShortcutFocusReason)
                return True
        return False

    def _order_tab_stops(self) -> None:
        # A new button would come last in the window, though it stands at the top.
        before = self.stands_after
        for line in self._lines.values():
            for button in line.buttons:
                if before is not None:
                    QWidget.setTabOrder(before, button)
                before = button

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Be as high as the lines need; a toolbar asks for no height that goes with a width."""
        heights = [line.height_at(self.width()) for line in self._lines.values()]
        self.setFixedHeight(sum(heights) + self._layout.spacing() * max(0, len(heights) - 1))

    def sizeHint(self) -> QSize:
        return QSize(400, super().sizeHint().height())


class _Line(QWidget):
    """One thing said, with its buttons at the right and a bar of the accent at its left."""

    def __init__(self, text: str, answers: Sequence[Answer], parent: QWidget) -> None:
        super().__init__(parent)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(QPalette.ColorRole.Base)
        self.buttons: list[QPushButton] = []
        self.label = QLabel(text)
        self.label.setWordWrap(True)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setAccessibleName(text)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(_BAR + 8, 4, 8, 4)
        self._row.setSpacing(8)
        self._row.addWidget(self.label, 1)
        for name, answer in answers:
            self.add_button(name, answer)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(0, 0, _BAR, self.height(), self.palette().brush(QPalette.ColorRole.Accent))

    def height_at(self, width: int) -> int:
        """Return the height that the words need in a width [px]."""
        return max(self._row.totalHeightForWidth(width), self._row.totalMinimumSize().height())

    def add_button(self, name: str, answer: Callable[[], object]) -> None:
        button = _Answer(name)
        button.clicked.connect(lambda _checked=False: answer())
        self.buttons.append(button)
        self._row.addWidget(button)


class _Answer(QPushButton):
    """A button that shows plainly when it has the keys: what it does may be hard to take back."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFocus():
            painter = QPainter(self)
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Accent), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
