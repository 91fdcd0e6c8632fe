"""The logs of a firing: what happened each time, what the witness cones say, and the drift."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app import problems
from app.cell_copy import copy_as_cell
from app.drift_chart import DriftChart
from app.entry_model import FAULT_SIGN
from app.log_draft import Field, LogDraft, LogFault, draft_of, read_draft, shelves_of
from app.log_editor import LogEditor
from app.message_label import MessageLabel
from app.photo_files import copy_photo
from app.quiet_combo import QuietComboBox
from app.theme import Palette, Role, Theme
from core.errors import InputError
from core.firing.files import firing_from, firing_text
from core.firing.log import FiringLog
from core.firing.schedule import Firing
from core.plain_yaml import parse

_KEY_ROLE = Qt.ItemDataRole.UserRole
_ROW_HEIGHT = 28


class FiringLogDialog(QDialog):
    """Edits a copy of the logs; OK gives a new firing, Cancel gives nothing.

    Parameters
    ----------
    firing : Firing
    photos : Path or None
        The studio's folder of photos, made when the first one comes; None
        without a studio.
    theme : Theme or Palette
        The colours; those of a theme are followed live.
    shelf : str
        The shelf whose drift is shown first.
    fahrenheit : bool
        Show and take temperatures in °F.
    """

    drafted = Signal(object)
    """The firing with the sound part of what stands here by now, which is not taken yet."""

    def __init__(
        self,
        firing: Firing,
        photos: Path | None,
        theme: Theme | Palette,
        shelf: str = "",
        *,
        fahrenheit: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Firing log: {}").format(firing.name or firing.id))
        self._given = firing
        self._photos = photos
        self._in_fahrenheit = fahrenheit
        self._result: Firing | None = None
        self._drafts = {key: draft_of(log, fahrenheit) for key, log in enumerate(firing.log)}
        self._begun_with = dict(self._drafts)
        self._gone: list[int] = []
        self._strict = False
        self._warned = False
        self._make_list()
        self._make_editor()
        self._make_chart()
        self._make_foot()
        self._lay_out()
        self._fill_list()
        self._show_shelves(shelf)
        self._on_chosen()
        self.list.currentItemChanged.connect(self._on_chosen)
        self.editor.edited.connect(self._on_edited)
        self.shelf.currentIndexChanged.connect(self._show_chart)
        if isinstance(theme, Theme):
            theme.changed.connect(self._on_theme_changed)
            theme = theme.palette
        self._on_theme_changed(theme)
        (self.list if self._drafts else self.new_button).setFocus()
        self.resize(1100, 640)

    @property
    def firing(self) -> Firing | None:
        """The firing with its logs as they were left with OK; None otherwise."""
        return self._result

    def add_log(self) -> None:
        """Begin a log now."""
        now = datetime.now().strftime("%Y-%m-%d %H:%M")
        key = max(self._drafts, default=-1) + 1
        # Typed for the potter, who may change it: the record behind it is an empty one.
        self._drafts[key] = replace(draft_of(FiringLog(), self._in_fahrenheit), begun=now)
        self._fill_list(key)
        self._on_chosen()
        self.editor.begun.setFocus()
        self.editor.begun.selectAll()

    def delete_log(self) -> None:
        """Take the chosen log out; it can be brought back."""
        key = self._chosen()
        if key is None:
            return
        row = self.list.currentRow()
        self._gone.append(key)
        self._fill_list()
        if self.list.count():
            self.list.setCurrentRow(min(row, self.list.count() - 1))
        self._on_chosen()
        self._tell_draft()
        (self.list if self.list.count() else self.new_button).setFocus()

    def bring_back(self) -> None:
        """Bring the log back that was taken out last."""
        if self._gone:
            self._fill_list(self._gone.pop())
            self._on_chosen()
            self._tell_draft()
            self.list.setFocus()

    def accept(self) -> None:
        """Take everything, or refuse all of it and go to the first fault."""
        self._strict = True
        logs: dict[int, FiringLog] = {}
        for key, draft in self._kept().items():
            logs[key], faults = read_draft(draft)
            if faults:
                self._refuse(key, faults[0])
                return
        copies: list[Path] = []
        for key, draft in self._kept().items():
            if draft.new_photo is None:
                continue
            try:
                logs[key] = replace(logs[key], photo=self._copied(draft.new_photo, copies))
            except OSError as fault:
                _take_back(copies)
                words = self.tr("was not copied: {}").format(problems.words_of(fault))
                self._refuse(key, LogFault(Field.PHOTO, words))
                self.editor.tell_photo(words)
                return
        firing = replace(self._given, log=tuple(logs.values()))
        words = _fault_of_file(firing)
        if words:
            _take_back(copies)
            self.message.say(words, Role.STOP)
            self.message.show()
            return
        self._result = firing
        super().accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        escaped = event.key() == Qt.Key.Key_Escape
        if escaped and not self._warned and self._is_changed():
            self._warned = True
            self.message.say(
                self.tr("Press Esc once more to leave without what was changed here."), Role.LOOK
            )
            self.message.show()
            return
        super().keyPressEvent(event)

    def _make_list(self) -> None:
        self.list = QListWidget()
        copy_as_cell(self.list)
        self.list.setAccessibleName(self.tr("Logs of this firing, the newest first"))
        self.list.setUniformItemSizes(True)
        self.new_button = QPushButton(self.tr("New &log"))
        self.delete_button = QPushButton(self.tr("&Delete"))
        self.delete_button.setAccessibleName(self.tr("Delete the chosen log"))
        self.back_button = QPushButton(self.tr("Bring bac&k"))
        self.back_button.setToolTip(self.tr("Bring the log back that was deleted last"))
        for button, slot in (
            (self.new_button, self.add_log),
            (self.delete_button, self.delete_log),
            (self.back_button, self.bring_back),
        ):
            button.setAutoDefault(False)
            button.setMinimumHeight(28)
            button.clicked.connect(slot)

    def _make_editor(self) -> None:
        self.editor = LogEditor(self._photos, self._in_fahrenheit)
        self.empty = QLabel(
            self.tr(
                "No firing is logged yet.\n\nBegin with “New log” when the kiln is switched on, "
                "then add the witness cones once they are cold."
            )
        )
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty.setWordWrap(True)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.editor)
        self.pages.addWidget(self.empty)

    def _make_chart(self) -> None:
        self.shelf = QuietComboBox()
        self.shelf.setAccessibleName(self.tr("Shelf whose drift is charted"))
        self.shelf.setMinimumHeight(28)
        self.shelf.setMinimumWidth(160)
        self.chart = DriftChart()

    def _make_foot(self) -> None:
        self.message = MessageLabel(self.tr("Message"))
        self.message.hide()
        self.caution = MessageLabel(self.tr("Caution"))
        self.caution.say(
            self.tr(
                "Read witness cones cold: leave the kiln shut until it is below about 100 °C. "
                "The kiln's manual and local rules come first."
            )
        )
        # Not a QDialogButtonBox, which makes OK what Enter in any field presses.
        self.ok_button = QPushButton(self.tr("&OK"))
        self.cancel_button = QPushButton(self.tr("Cancel"))
        for button, slot in ((self.ok_button, self.accept), (self.cancel_button, self.reject)):
            button.setAutoDefault(False)
            button.setMinimumHeight(28)
            button.setMinimumWidth(80)
            button.clicked.connect(slot)

    def _lay_out(self) -> None:
        side = QVBoxLayout()
        side.setSpacing(4)
        title = QLabel(self.tr("Lo&gs"))
        title.setBuddy(self.list)
        side.addWidget(title)
        side.addWidget(self.list, 1)
        for button in (self.new_button, self.delete_button, self.back_button):
            side.addWidget(button)
        holder = QWidget()
        holder.setLayout(side)
        side.setContentsMargins(0, 0, 0, 0)
        holder.setFixedWidth(168)
        upper = QHBoxLayout()
        upper.setSpacing(12)
        upper.addWidget(holder)
        upper.addWidget(self.pages, 1)
        head = QHBoxLayout()
        head.setSpacing(8)
        shelf_title = QLabel(self.tr("D&rift of the cone on"))
        shelf_title.setBuddy(self.shelf)
        head.addWidget(shelf_title)
        head.addWidget(self.shelf)
        head.addStretch(1)
        words = QVBoxLayout()
        words.setSpacing(2)
        words.addWidget(self.message)
        words.addWidget(self.caution)
        foot = QHBoxLayout()
        foot.setSpacing(12)
        foot.addLayout(words, 1)
        foot.addWidget(self.ok_button)
        foot.addWidget(self.cancel_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addLayout(upper, 5)
        layout.addLayout(head)
        layout.addWidget(self.chart, 3)
        layout.addLayout(foot)
        order = (
            self.list,
            self.new_button,
            self.delete_button,
            self.back_button,
            *self.editor.tab_order(),
            self.shelf,
            self.ok_button,
            self.cancel_button,
        )
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _kept(self) -> dict[int, LogDraft]:
        """Return the drafts that are not deleted, in the order of the file."""
        return {key: draft for key, draft in self._drafts.items() if key not in self._gone}

    def _is_changed(self) -> bool:
        return self._kept() != self._begun_with

    def _chosen(self) -> int | None:
        item = self.list.currentItem()
        return None if item is None else int(item.data(_KEY_ROLE))

    def _fill_list(self, chosen: int | None = None) -> None:
        """List the logs anew, by date."""
        drafts = self._kept()
        newest = sorted(drafts, key=lambda key: (drafts[key].begun, key), reverse=True)
        self._filling = True
        self.list.clear()
        for key in newest:
            item = QListWidgetItem(self._title_of(drafts[key]))
            item.setData(_KEY_ROLE, key)
            item.setSizeHint(QSize(0, _ROW_HEIGHT))
            self.list.addItem(item)
        self._filling = False
        if newest:
            self.list.setCurrentRow(newest.index(chosen) if chosen in newest else 0)

    def _title_of(self, draft: LogDraft) -> str:
        title = draft.begun.strip() or self.tr("no date")
        faults = read_draft(draft)[1] if self._strict else []
        return f"{FAULT_SIGN} {title}" if faults else title

    def _on_chosen(self, *_items: object) -> None:
        if self._filling:
            return
        key = self._chosen()
        if key is not None:
            self.editor.show_draft(self._drafts[key])
            self.editor.show_reading(strict=self._strict)
        self.pages.setCurrentWidget(self.empty if key is None else self.editor)
        self.delete_button.setEnabled(key is not None)
        self.back_button.setEnabled(bool(self._gone))
        self._show_shelves()
        self._show_chart()

    def _on_edited(self) -> None:
        key = self._chosen()
        if key is None:
            return
        self._drafts[key] = self.editor.draft
        self._warned = False
        self.message.hide()
        self.editor.show_reading(strict=self._strict)
        title = self._title_of(self._drafts[key])
        item = self.list.currentItem()
        if item.text() != title:
            item.setText(title)
        self._show_shelves()
        self._show_chart()
        self._tell_draft()

    def _tell_draft(self) -> None:
        self.drafted.emit(replace(self._given, log=tuple(self._sound_logs())))

    def _sound_logs(self) -> list[FiringLog]:
        return [read_draft(draft)[0] for draft in self._kept().values()]

    def _show_shelves(self, wanted: str | None = None) -> None:
        shelves = shelves_of(self._sound_logs())
        usual = [self.tr("top shelf"), self.tr("middle shelf"), self.tr("lower shelf")]
        self.editor.offer_shelves([shelf for shelf in shelves if shelf] or usual)
        choices: list[str | None] = [None, *shelves]
        if choices == [self.shelf.itemData(i) for i in range(self.shelf.count())]:
            return
        if wanted is None:
            wanted = self.shelf.currentData()
        self.shelf.clear()
        for shelf in choices:
            text = self.tr("all shelves") if shelf is None else shelf
            self.shelf.addItem(text or self.tr("unnamed shelf"), shelf)
        if wanted in shelves:
            self.shelf.setCurrentIndex(choices.index(wanted))

    def _show_chart(self) -> None:
        self.chart.show_logs(self._sound_logs(), self.shelf.currentData())

    def _refuse(self, key: int, fault: LogFault) -> None:
        """Show the log with the fault, say it and go there; nothing has been taken."""
        self._fill_list(key)
        self._on_chosen()
        self.message.say(
            self.tr("Nothing is taken yet: the log of {} needs a look.").format(
                self._drafts[key].begun.strip() or self.tr("no date")
            ),
            Role.STOP,
        )
        self.message.show()
        self.editor.go_to(fault)

    def _copied(self, source: Path, copies: list[Path]) -> str:
        """Copy a photo, note the copy in `copies` and return its name."""
        if self._photos is None:
            raise OSError(self.tr("a studio keeps photos, and none is open"))
        there_before = source.resolve().parent == self._photos.resolve()
        name = copy_photo(source, self._photos)
        if not there_before:
            copies.append(self._photos / name)
        return name

    def _on_theme_changed(self, palette: Palette) -> None:
        for part in (self.editor, self.chart, self.message, self.caution):
            part.set_palette(palette)


def _take_back(copies: list[Path]) -> None:
    """Remove the copies of photos that were made for nothing."""
    for path in copies:
        with suppress(OSError):
            path.unlink()


def _fault_of_file(firing: Firing) -> str:
    """Return why the firing would not read back from its file as it is, or nothing."""
    try:
        if firing_from(parse(firing_text(firing), "")) == firing:
            return ""
    except InputError as fault:
        return str(fault)
    return "the log would not read back as it is; look for odd characters in it"
