"""The runs of a studio by name, with how many of their tiles were read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.message_label import MessageLabel
from app.theme import Palette, Role
from core.tiles.index import UNREAD, TileEntry

_FILE_ROLE: Final = Qt.ItemDataRole.UserRole
ALL: Final = ""


class RunsList(QWidget):
    """Chooses a run, or all of them; takes the day on which its kiln was opened."""

    chosen = Signal(str)
    """Name of the run's file; empty for all tiles."""
    plan_asked = Signal()
    print_asked = Signal()
    mend_asked = Signal()
    measured_asked = Signal()
    fired_edited = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._filling = False
        self._fired = ""
        title = QLabel(self.tr("Runs"))
        font = title.font()
        font.setPointSizeF(font.pointSizeF() + 1)
        font.setBold(True)
        title.setFont(font)
        self.list = QListWidget()
        copy_as_cell(self.list)
        self.list.setAccessibleName(self.tr("Runs of test tiles"))
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        title.setBuddy(self.list)
        self.fired = QLineEdit()
        self.fired.setMinimumHeight(28)
        self.fired.setMaxLength(20)
        self.fired.setPlaceholderText(self.tr("year-month-day"))
        self.fired.setAccessibleName(self.tr("Day on which the kiln of this run was opened"))
        self.fired.setToolTip(self.tr("Re-checks for soundness count from this day"))
        self.fired_label = QLabel(self.tr("Kiln opened"))
        self.fired_label.setBuddy(self.fired)
        self.fired_says = MessageLabel(self.tr("What is wrong with the day"))
        self.fired_says.hide()
        self.plan_button = QPushButton(self.tr("&Plan a run…"))
        self.print_button = QPushButton(self.tr("Pri&nt…"))
        self.measured_button = QPushButton(self.tr("&Measured…"))
        self.measured_button.setToolTip(
            self.tr("What was measured of the mixed corners; it corrects the syringe")
        )
        self.print_button.setToolTip(self.tr("Sheets, labels and result form of the chosen run"))
        for button, signal in (
            (self.plan_button, self.plan_asked),
            (self.measured_button, self.measured_asked),
            (self.print_button, self.print_asked),
        ):
            button.setMinimumHeight(28)
            button.clicked.connect(signal)
        self.faults = MessageLabel(self.tr("Runs that could not be read"))
        self.faults.hide()
        self.mend_button = QPushButton(self.tr("&What can be done…"))
        self.mend_button.setMinimumHeight(28)
        self.mend_button.clicked.connect(self.mend_asked)
        self.mend_button.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(title)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.faults)
        layout.addWidget(self.mend_button)
        for widget in (self.fired_label, self.fired, self.fired_says):
            layout.addWidget(widget)
        layout.addSpacing(4)
        layout.addWidget(self.plan_button)
        layout.addWidget(self.measured_button)
        layout.addWidget(self.print_button)
        self.list.currentItemChanged.connect(self._on_current_changed)
        self.fired.editingFinished.connect(self._on_fired_left)

    @property
    def file(self) -> str:
        """File of the chosen run; empty where all tiles are shown."""
        item = self.list.currentItem()
        return str(item.data(_FILE_ROLE)) if item is not None else ALL

    def show_runs(self, entries: Iterable[TileEntry]) -> None:
        """List the runs of these tiles; the chosen one stays chosen where it is still there."""
        names: dict[str, str] = {}
        counts: dict[str, list[int]] = {}
        for entry in entries:
            names.setdefault(entry.file, entry.run)
            count = counts.setdefault(entry.file, [0, 0])
            count[0] += 1
            count[1] += entry.surface != UNREAD
        kept = self.file
        self._filling = True
        self.list.clear()
        whole = sum(many for many, _ in counts.values())
        if counts:
            self._add(self.tr("All tiles"), ALL, whole, sum(read for _, read in counts.values()))
        for file in sorted(names, key=lambda file: (names[file].casefold(), file)):
            self._add(names[file], file, *counts[file])
        self.choose(kept)
        self._filling = False

    def update_run(self, file: str, entries: Iterable[TileEntry]) -> None:
        """Show the counts of one run as they are now."""
        ours = list(entries)
        read = sum(entry.surface != UNREAD for entry in ours)
        change = 0
        for item in self._items():
            if item.data(_FILE_ROLE) == file and file != ALL:
                change = read - item.data(_FILE_ROLE + 2)
                self._say(item, ours[0].run if ours else "", len(ours), read)
        for item in self._items():
            if item.data(_FILE_ROLE) == ALL and change:
                many, before = item.data(_FILE_ROLE + 1), item.data(_FILE_ROLE + 2)
                self._say(item, self.tr("All tiles"), many, before + change)

    def choose(self, file: str) -> bool:
        """Choose a run by its file; False, and all tiles, if it is not there."""
        for item in self._items():
            if item.data(_FILE_ROLE) == file:
                self.list.setCurrentItem(item)
                return True
        if self.list.count():
            self.list.setCurrentRow(0)
        return False

    def show_fired(self, fired: str | None) -> None:
        """Show the day of firing of the run that is being read; None without one."""
        self._fired = fired or ""
        if self.fired.text() != self._fired:
            self.fired.setText(self._fired)
        self.fired.setEnabled(fired is not None)
        self.print_button.setEnabled(fired is not None)
        self.measured_button.setEnabled(fired is not None)
        self.tell_fired("")

    def tell_fired(self, words: str) -> None:
        """Say what is wrong with the day; nothing clears it."""
        self.fired_says.say(words, Role.STOP)
        self.fired_says.setVisible(bool(words))
        self.fired.setAccessibleDescription(words)

    def tell_faults(self, faults: Iterable[str]) -> None:
        """Say which runs could not be read."""
        said = list(faults)
        words = ""
        if said:
            words = self.tr("Runs that could not be read: {}. {}").format(len(said), said[0])
        self.faults.say(words, Role.STOP)
        self.faults.setToolTip("\n".join(said))
        self.faults.setVisible(bool(said))
        self.mend_button.setVisible(bool(said))

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        for label in (self.faults, self.fired_says):
            label.set_palette(palette)

    def _items(self) -> list[QListWidgetItem]:
        return [self.list.item(row) for row in range(self.list.count())]

    def _add(self, name: str, file: str, many: int, read: int) -> None:
        item = QListWidgetItem()
        item.setData(_FILE_ROLE, file)
        item.setSizeHint(QSize(0, 2 * self.fontMetrics().height() + 8))
        self._say(item, name, many, read)
        self.list.addItem(item)

    def _say(self, item: QListWidgetItem, name: str, many: int, read: int) -> None:
        item.setText(self.tr("{}\n{} of {} read").format(name, read, many))
        item.setToolTip(name)
        item.setData(_FILE_ROLE + 1, many)
        item.setData(_FILE_ROLE + 2, read)

    def _on_current_changed(self, item: QListWidgetItem | None) -> None:
        if item is not None and not self._filling:
            self.chosen.emit(item.data(_FILE_ROLE))

    def _on_fired_left(self) -> None:
        day = self.fired.text().strip()
        if day != self._fired:
            self.fired_edited.emit(day)
        else:
            self.tell_fired("")
