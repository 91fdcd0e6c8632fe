"""The earlier versions of a recipe: what was changed since, and each brought back by one click."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from enum import IntEnum
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Qt, QUrl, Signal
from PySide6.QtGui import QDesktopServices, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.formatting import day_text, in_a_sentence, parts, size_text
from app.message_label import MessageLabel
from app.problems import words_of
from app.theme import Palette, Role, apply_tabular_figures
from app.work_words import differences
from app.worker import run_in_background
from core.errors import InputError
from core.files.backups import CAP_BYTES, Room, Version, read_version, room_of
from core.files.content import stamp_of_file
from core.files.journal import Work
from core.plain_yaml import parse
from core.recipe import Recipe, Rows
from core.recipe_file import recipe_from

_ROW, _TARGET, _NARROWEST = 32, 28, 72
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class _Column(IntEnum):
    DAY = 0
    NUMBER = 1
    SIZE = 2
    RESTORE = 3


class VersionsDialog(QDialog):
    """Lists the versions that are kept of a recipe; the caller brings back what was chosen.

    Parameters
    ----------
    path : Path or None
        The recipe's file; None before the first save.
    versions : sequence of Version
        The newest first.
    present : Recipe
        As it stands on the bench, with the analyses it is computed with.
    name_of : callable
        Gives the name of a material by its id.
    palette : Palette
    """

    restore_asked = Signal(object, object)  # core.files.backups.Version, core.recipe.Recipe
    copy_asked = Signal(object)  # core.files.backups.Version

    def __init__(
        self,
        path: Path | None,
        versions: Sequence[Version],
        present: Recipe,
        name_of: Callable[[str], str],
        palette: Palette,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._versions = tuple(versions)
        self._present = present
        self._name_of = name_of
        self._read: dict[Path, Recipe | Exception] = {}
        self._folder: Path | None = None
        self.setWindowTitle(self.tr("Earlier versions of {}").format(present.name))
        self.restore_buttons: list[QPushButton] = []
        self._make_list()
        self._make_preview(palette)
        self._make_foot(palette)
        self._place(palette)
        self._path = path
        self._fill()
        self._say_room(path)
        self.resize(*((860, 560) if self._versions else (620, 240)))

    def _make_list(self) -> None:
        self.list = QTableWidget(0, len(_Column))
        self.list.setHorizontalHeaderLabels(
            [self.tr("Kept on"), self.tr("No."), self.tr("Size"), ""]
        )
        self.list.setFont(apply_tabular_figures(self.font()))
        self.list.setAccessibleName(self.tr("Kept versions, the newest first"))
        self.list.setToolTip(self.tr("Enter restores the version"))
        _look_of(self.list)
        self.list.verticalHeader().setDefaultSectionSize(_ROW)
        self.list.installEventFilter(self)
        self.list.currentCellChanged.connect(self._show_current)
        self.list.cellDoubleClicked.connect(lambda row, _column: self.restore(row))

    def _make_preview(self, palette: Palette) -> None:
        self.since = MessageLabel(self.tr("What was changed since"))
        self.since.set_palette(palette)
        self.since.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.rows = QTableWidget(0, 2)
        self.rows.setHorizontalHeaderLabels([self.tr("Material"), self.tr("Parts")])
        self.rows.setFont(apply_tabular_figures(self.font()))
        self.rows.setAccessibleName(self.tr("Rows of the version"))
        _look_of(self.rows)
        self.rows.verticalHeader().setDefaultSectionSize(24)
        header = self.rows.horizontalHeader()
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)

    def _make_foot(self, palette: Palette) -> None:
        self.room = QLabel()
        self.room.setWordWrap(True)
        self.room.setStyleSheet(f"color: {palette.hex(Role.MUTED)}")
        self.folder_line = QLineEdit()
        self.folder_line.setReadOnly(True)
        self.folder_line.setAccessibleName(self.tr("Folder of the versions"))
        self.folder_button = QPushButton(self.tr("Show the &folder"))
        self.folder_button.clicked.connect(self._show_folder)
        self.copy_button = QPushButton(self.tr("Open as a &copy"))
        self.copy_button.setToolTip(self.tr("As a new recipe without a file; the version stays"))
        self.copy_button.clicked.connect(self._ask_for_copy)
        self.close_button = QPushButton(self.tr("Close"))
        self.close_button.clicked.connect(self.reject)
        for button in (self.folder_button, self.copy_button, self.close_button):
            button.setMinimumHeight(_TARGET)
            button.setAutoDefault(False)

    def _place(self, palette: Palette) -> None:
        self.how = QLabel(
            self.tr(
                "Restore puts a version on the bench as one step. Undo takes it back; Save writes"
                " it to the file, and what stands there now is kept as a version as well."
            )
            if self._versions
            else self.tr("No earlier version is kept yet.")
        )
        self.how.setWordWrap(True)
        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(self.since)
        right.addWidget(self.rows, 1)
        middle = QHBoxLayout()
        middle.setSpacing(12)
        middle.addWidget(self.list, 1)
        middle.addLayout(right, 1)
        folder = QHBoxLayout()
        folder.setSpacing(8)
        folder.addWidget(self.folder_line, 1)
        folder.addWidget(self.folder_button)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addStretch(1)
        foot.addWidget(self.copy_button)
        foot.addWidget(self.close_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addWidget(self.how)
        layout.addLayout(middle, 1)
        layout.addWidget(self.room)
        layout.addLayout(folder)
        layout.addLayout(foot)

    def _fill(self) -> None:
        self.list.setRowCount(len(self._versions))
        for row, version in enumerate(self._versions):
            day = day_text(version.day)
            kept = day + _time_of(version)
            if row == 0 and self._stands_in_file(version):
                kept = self.tr("{}, as saved last").format(kept)
            self._set(self.list, row, _Column.DAY, kept)
            self._set(self.list, row, _Column.NUMBER, str(version.number), right=True)
            self._set(self.list, row, _Column.SIZE, size_text(version.size), right=True)
            button = QPushButton(self.tr("Restore"))
            button.setMinimumHeight(_TARGET)
            button.setAutoDefault(False)
            # A hundred stops on the way of Tab help nobody: Enter in the list does the same.
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.setAccessibleName(
                self.tr("Restore version {} of {}").format(version.number, day)
            )
            button.clicked.connect(lambda _checked=False, row=row: self.restore(row))
            self.restore_buttons.append(button)
            self.list.setCellWidget(row, _Column.RESTORE, button)
        header = self.list.horizontalHeader()
        header.setMinimumSectionSize(_NARROWEST)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(_Column.DAY, QHeaderView.ResizeMode.Stretch)
        some = bool(self._versions)
        for widget in (self.list, self.rows, self.copy_button):
            widget.setVisible(some)
        if some:
            self.list.setCurrentCell(0, _Column.DAY)
            self.list.setFocus()
        else:
            self.close_button.setFocus()

    def _stands_in_file(self, version: Version) -> bool:
        try:
            return self._path is not None and version.is_of(stamp_of_file(self._path))
        except OSError:
            return False

    def restore(self, row: int) -> None:
        """Ask for the version in a row; one that cannot be read is told instead."""
        version = self._versions[row]
        recipe = self._recipe(version)
        if isinstance(recipe, Recipe):
            self.accept()
            self.restore_asked.emit(version, recipe)
        else:
            self.list.setCurrentCell(row, _Column.DAY)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            row = self.list.currentRow()
            if watched is self.list and event.key() in _ENTER and row >= 0:
                self.restore(row)
                return True
        return super().eventFilter(watched, event)

    def _recipe(self, version: Version) -> Recipe | Exception:
        """Read a version when it is first looked at."""
        if version.path not in self._read:
            try:
                document = parse(read_version(version), str(version.path))
                self._read[version.path] = recipe_from(document)
            except (InputError, OSError) as fault:
                self._read[version.path] = fault
        return self._read[version.path]

    def _show_current(self, row: int, *_: int) -> None:
        self.rows.setRowCount(0)
        if row < 0:
            return
        found = self._recipe(self._versions[row])
        self.copy_button.setEnabled(isinstance(found, Recipe))
        if not isinstance(found, Recipe):
            self.since.say(in_a_sentence(words_of(found)), Role.STOP)
            return
        changed = differences(Work(found), Work(self._present), self._name_of)
        self.since.say(
            self.tr("Changed since then: {}.").format("; ".join(changed))
            if changed
            else self.tr("Nothing was changed since then."),
            Role.INK,
        )
        self._add_rows(found.base)
        if found.additions:
            row = self.rows.rowCount()
            self.rows.setRowCount(row + 1)
            self._set(self.rows, row, 0, self.tr("Additions, % of the base"), bold=True)
            self._add_rows(found.additions)

    def _add_rows(self, rows: Rows) -> None:
        for ingredient in rows:
            row = self.rows.rowCount()
            self.rows.setRowCount(row + 1)
            self._set(self.rows, row, 0, self._name_of(ingredient.material))
            self._set(self.rows, row, 1, parts(ingredient.amount), right=True)

    def _set(
        self,
        table: QTableWidget,
        row: int,
        column: int,
        text: str,
        *,
        right: bool = False,
        bold: bool = False,
    ) -> None:
        item = QTableWidgetItem(text)
        side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
        item.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
        if bold:
            font = table.font()
            font.setBold(True)
            item.setFont(font)
        table.setItem(row, column, item)

    def _say_room(self, path: Path | None) -> None:
        self.folder_line.setVisible(path is not None)
        self.folder_button.setVisible(False)
        if path is None:
            self.since.say(
                self.tr(
                    "This recipe has no file yet. Save it first; from then on each save keeps"
                    " what the file held before."
                )
            )
            return
        if not self._versions:
            self.since.say(
                self.tr(
                    "Each save keeps what the file held before: change something and save, and"
                    " the first version stands here."
                )
            )
        self.room.setText(self.tr("Counting what is kept…"))
        run_in_background(
            self,
            lambda: room_of(path),
            self._on_room,
            lambda fault: self.room.setText(in_a_sentence(words_of(fault))),
        )

    def _on_room(self, room: Room) -> None:
        total = self.tr("{}, {} of at most {}").format(
            room.versions, size_text(room.size), size_text(CAP_BYTES)
        )
        if self._versions:
            own = size_text(sum(version.size for version in self._versions))
            says = self.tr("Versions of this recipe: {}, {}. With those of other files: {}.")
            text = says.format(len(self._versions), own, total)
        else:
            text = self.tr("Versions of other files: {}.").format(total)
        self.room.setText(
            text
            + self.tr(
                " Over that the oldest go, never the last three of a file. They are read-only"
                " files in this folder:"
            )
        )
        self._folder = self._versions[0].path.parent if self._versions else room.folder
        self.folder_line.setText(str(self._folder))
        self.folder_line.setCursorPosition(0)
        self.folder_button.setVisible(self._folder.is_dir())

    def _show_folder(self) -> None:
        if self._folder is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._folder)))

    def _ask_for_copy(self) -> None:
        row = self.list.currentRow()
        if row >= 0:
            self.accept()
            self.copy_asked.emit(self._versions[row])


def _look_of(table: QTableWidget) -> None:
    table.setShowGrid(False)
    table.verticalHeader().hide()
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setTabKeyNavigation(False)
    table.horizontalHeader().setHighlightSections(False)
    for column in range(table.columnCount()):
        item = table.horizontalHeaderItem(column)
        # A heading stands over its column: words at the left, figures at the right.
        figures = column in (_Column.NUMBER, _Column.SIZE)
        side = Qt.AlignmentFlag.AlignRight if figures else Qt.AlignmentFlag.AlignLeft
        if item is not None:
            item.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)


def _time_of(version: Version) -> str:
    """Return the time at which a version was kept, where its file still tells it."""
    try:
        kept = datetime.fromtimestamp(version.path.stat().st_mtime)
    except (OSError, ValueError, OverflowError):
        return ""
    # A copied studio has the day in the name alone.
    return f", {kept:%H:%M}" if kept.date() == version.day else ""
