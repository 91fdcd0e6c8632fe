"""The tests for soundness of one tile: what was done when, and where the glaze stands."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.formatting import in_a_sentence
from app.message_label import MessageLabel
from app.theme import LIGHT, Palette, Role
from core.schema import LONGEST_NAME
from core.tiles.run import Run, Tile
from core.tiles.soundness import (
    Proof,
    SoundnessTest,
    Standing,
    Subject,
    due_days,
    soundness_kinds,
    standing,
)

_KIND_ROLE: Final = Qt.ItemDataRole.UserRole
_SIGNS: Final = {True: "✓", False: "✕"}
_STANDING_ROLE: Final = {
    Proof.NONE: Role.INK,
    Proof.PARTLY: Role.INK,
    Proof.PROVEN: Role.GOOD,
    Proof.FAILED: Role.STOP,
    Proof.CHANGED: Role.LOOK,
}


class SoundnessForm(QWidget):
    """Lists the tests of the set and takes a new one; it never says more than they do."""

    test_done = Signal(str, str, bool, str)
    """Kind, day, passed, note."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors: Palette = LIGHT
        self._states: dict[str, tuple[str, Role]] = {}
        self.standing = MessageLabel(self.tr("Where the glaze stands"))
        font = self.standing.font()
        font.setBold(True)
        self.standing.setFont(font)
        self.list = _TestList()
        copy_as_cell(self.list)
        self.list.setAccessibleName(self.tr("Tests for soundness"))
        self.list.setHeaderLabels([self.tr("Test"), self.tr("So far")])
        self.list.setRootIsDecorated(False)
        self.list.setUniformRowHeights(True)
        self.list.header().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.list.header().setStretchLastSection(True)
        for kind in soundness_kinds().values():
            item = QTreeWidgetItem([kind.name, ""])
            item.setData(0, _KIND_ROLE, kind.id)
            item.setToolTip(0, kind.says)
            item.setSizeHint(1, QSize(0, 24))
            self.list.addTopLevelItem(item)
        self.says = MessageLabel(self.tr("How the test is done"))
        self.day = QLineEdit()
        self.day.setPlaceholderText(self.tr("year-month-day"))
        self.day.setMaxLength(20)
        self.day.setAccessibleName(self.tr("Day on which the test was read"))
        self.note = QLineEdit()
        self.note.setMaxLength(LONGEST_NAME)
        self.note.setAccessibleName(self.tr("Note on the test"))
        self.passed_button = QPushButton(self.tr("&Passed"))
        self.failed_button = QPushButton(self.tr("&Failed"))
        for button, passed in ((self.passed_button, True), (self.failed_button, False)):
            button.setMinimumHeight(28)
            button.clicked.connect(lambda _=False, passed=passed: self._finish(passed))
        for edit in (self.day, self.note):
            edit.setMinimumHeight(28)
        self.message = MessageLabel(self.tr("What is wrong with the test"))
        self.message.hide()
        self.scope = MessageLabel(self.tr("What the tests do not say"))
        self.scope.say(
            self.tr(
                "This says how a glaze holds in use as far as a workshop can see; what it gives up "
                "to food, local rules and an accredited laboratory decide."
            )
        )
        self._lay_out()
        self.list.currentItemChanged.connect(self._on_kind_chosen)
        self.list.enter_pressed.connect(self.day.setFocus)
        self.list.setCurrentItem(self.list.topLevelItem(0))

    def show_tile(self, run: Run, tile: Tile, today: str) -> None:
        """Show the tests of a tile as they stand."""
        subject = run.subject_of(tile)
        ours = known_tests(run, tile, subject)
        found = standing(subject, ours)
        sign = _SIGNS[True] + " " if found.proof is Proof.PROVEN else ""
        self.standing.say(sign + in_a_sentence(found.words()), _STANDING_ROLE[found.proof])
        due = due_days(run.fired) if run.fired else {}
        for number in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(number)
            kind = item.data(0, _KIND_ROLE)
            words, role = self._state(kind, subject, ours, found, due, run.fired)
            item.setText(1, words)
            item.setToolTip(1, words)
            self._states[kind] = (words, role)
        self._color()
        self.message.hide()
        self.note.clear()
        self.day.setText(today)

    def tell(self, words: str) -> None:
        """Say why a test was not taken."""
        self.message.say(words, Role.STOP)
        self.message.show()
        self.day.setAccessibleDescription(words)
        self.day.setFocus()

    def states(self) -> dict[str, str]:
        """Return what is said of each test, by kind."""
        return {kind: words for kind, (words, _) in self._states.items()}

    def choose(self, kind: str) -> None:
        """Go to a test."""
        for number in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(number)
            if item.data(0, _KIND_ROLE) == kind:
                self.list.setCurrentItem(item)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        for label in (self.standing, self.says, self.message, self.scope):
            label.set_palette(palette)
        self._color()

    def _state(
        self,
        kind: str,
        subject: Subject,
        tests: list[SoundnessTest],
        found: Standing,
        due: dict[str, str],
        fired: str,
    ) -> tuple[str, Role]:
        for test in (*found.failed, *found.done):
            if test.kind == kind:
                word = self.tr("passed {}") if test.passed else self.tr("failed {}")
                words = f"{_SIGNS[test.passed]} {word.format(test.day)}"
                role = Role.GOOD if test.passed else Role.STOP
                return (f"{words}: {test.note}" if test.note else words), role
        for test in found.too_early:
            if test.kind == kind:
                if not test.fired:
                    return self.tr("the day of firing is missing"), Role.LOOK
                words = self.tr("{} was too early, from {}").format(test.day, due.get(kind, "?"))
                return words, Role.LOOK
        before = [t for t in tests if t.kind == kind and not t.subject.same(subject)]
        if before:
            return self.tr("before a change: {}").format(before[-1].day), Role.LOOK
        if soundness_kinds()[kind].after_days:
            if not fired:
                return self.tr("counts from the firing"), Role.MUTED
            return self.tr("from {}").format(due.get(kind, "?")), Role.MUTED
        return self.tr("to do"), Role.MUTED

    def _finish(self, passed: bool) -> None:
        item = self.list.currentItem()
        if item is not None:
            self.test_done.emit(
                item.data(0, _KIND_ROLE),
                self.day.text().strip(),
                passed,
                " ".join(self.note.text().split()),
            )

    def _on_kind_chosen(self, item: QTreeWidgetItem | None) -> None:
        if item is not None:
            self.says.say(soundness_kinds()[item.data(0, _KIND_ROLE)].says)

    def _color(self) -> None:
        for number in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(number)
            _, role = self._states.get(item.data(0, _KIND_ROLE), ("", Role.MUTED))
            item.setForeground(1, self._colors.color(role))

    def _lay_out(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        for row, (title, edit) in enumerate(
            ((self.tr("Read on"), self.day), (self.tr("Note"), self.note))
        ):
            label = QLabel(title)
            label.setBuddy(edit)
            grid.addWidget(label, row, 0)
            grid.addWidget(edit, row, 1)
        buttons = QHBoxLayout()
        buttons.setSpacing(8)
        buttons.addWidget(self.passed_button)
        buttons.addWidget(self.failed_button)
        buttons.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.standing)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.says)
        layout.addLayout(grid)
        layout.addLayout(buttons)
        layout.addWidget(self.message)
        layout.addWidget(self.scope)


class _TestList(QTreeWidget):
    """A list in which Enter goes on to the day."""

    enter_pressed = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.enter_pressed.emit()
        else:
            super().keyPressEvent(event)


def known_tests(run: Run, tile: Tile, subject: Subject) -> list[SoundnessTest]:
    """Return the tile's own tests, and those of its run that speak for the very same glaze.

    Tests of other tiles under the same recipe's name are other glazes, not earlier ones.
    """
    others = [
        test
        for other in run.tiles
        if other.code != tile.code
        for test in other.tests
        if test.subject.same(subject)
    ]
    return [*tile.tests, *others]


def standing_words(run: Run, tile: Tile) -> str:
    """Say where the glaze of a tile stands."""
    subject = run.subject_of(tile)
    return standing(subject, known_tests(run, tile, subject)).words()
