"""The conflict copies that sync programs left in the studio: told, compared, put away."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, QSize, Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QLabel,
    QPushButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import problems
from app.document import Document
from app.file_actions import FileActions
from app.notice_bar import NoticeBar
from app.studio_watch import StudioWatch
from app.worker import run_in_background
from core.errors import InputError
from core.files import backups, disk
from core.files.sync_copies import conflict_copies, original_of

SUBJECT = "copies"
_PATH_ROLE = Qt.ItemDataRole.UserRole + 1
_ROW_HEIGHT = 28


class ConflictCopies(QObject):
    """Looks for them in the background whenever the studio's folders stir."""

    def __init__(
        self,
        document: Document,
        notices: NoticeBar,
        files: FileActions,
        watch: StudioWatch,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._document = document
        self._notices = notices
        self._files = files
        self._window = window
        self._left: set[Path] = set()
        self.paths: list[Path] = []
        watch.stirred.connect(self.look)
        document.studio_changed.connect(self.look)
        self.look()

    def look(self, *_: object) -> None:
        """Find the copies anew; a notice follows where there are any."""
        folder = self._document.studio.folder
        if folder is None:
            self._found(None, [])
            return
        run_in_background(
            self,
            lambda: conflict_copies(folder),
            lambda paths: self._found(folder, paths),
            self._not_found,
        )

    def show(self) -> None:
        """Show the copies and what can be done with each."""
        dialog = self.dialog()
        dialog.exec()
        dialog.deleteLater()
        self.look()

    def dialog(self) -> CopiesDialog:
        """Return the dialog that lists them."""
        return CopiesDialog(self._document, self._files, self.paths, self._window)

    def leave(self) -> None:
        """Say no more of the copies that are known; they stay where they are."""
        self._left |= set(self.paths)
        self._notices.drop(SUBJECT)

    def _found(self, folder: Path | None, paths: list[Path]) -> None:
        if folder != self._document.studio.folder:
            return
        was, self.paths = self.paths, paths
        if not paths or self._left.issuperset(paths):
            self._notices.drop(SUBJECT)
            return
        if was == paths and SUBJECT in self._notices.subjects():
            return
        places = sorted({f"{path.parent.name}/" for path in paths if path.parent != folder})
        where = self.tr(" and ").join(places) or self.tr("the studio's folder")
        if len(paths) == 1:
            words = self.tr(
                "A conflict copy of a sync program lies in {}. It is not read as one of the studio."
            ).format(where)
        else:
            words = self.tr(
                "{} conflict copies of a sync program lie in {}. They are not read as the studio's."
            ).format(len(paths), where)
        self._notices.tell(
            SUBJECT,
            words,
            [(self.tr("Show"), self.show), (self.tr("Leave"), self.leave)],
        )

    def _not_found(self, fault: Exception) -> None:
        if not isinstance(fault, OSError):
            raise fault


class CopiesDialog(QDialog):
    """Lists conflict copies; one is opened beside its original, or put among its versions."""

    def __init__(
        self,
        document: Document,
        files: FileActions,
        paths: list[Path],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._files = files
        self.setWindowTitle(self.tr("Conflict copies"))
        self.resize(720, 360)
        head = QLabel(
            self.tr(
                "Two computers wrote one file before they met, and the sync program kept both. "
                "The studio reads the file; the copy waits here. Open it to compare, save what "
                "you want to keep, then put the copy away: it joins the earlier versions of the "
                "file."
            )
        )
        head.setWordWrap(True)
        self.list = QTreeWidget()
        self.list.setRootIsDecorated(False)
        self.list.setUniformRowHeights(True)
        self.list.setHeaderLabels([self.tr("Copy"), self.tr("of the file"), self.tr("in")])
        self.list.header().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.list.header().setStretchLastSection(False)
        self.list.setAccessibleName(self.tr("Conflict copies"))
        for path in paths:
            self._add(path)
        for column in (1, 2):
            self.list.resizeColumnToContents(column)
        self.message = QLabel()
        self.message.setWordWrap(True)
        self.message.setTextFormat(Qt.TextFormat.PlainText)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.open_button = QPushButton(self.tr("&Open as a copy"))
        self.open_button.setToolTip(self.tr("On the bench, under another name and unsaved"))
        self.away_button = QPushButton(self.tr("&Put among the earlier versions"))
        for button in (self.open_button, self.away_button):
            button.setAutoDefault(False)
            buttons.addButton(button, QDialogButtonBox.ButtonRole.ActionRole)
        self.open_button.clicked.connect(self.open_selected)
        self.away_button.clicked.connect(self.put_away_selected)
        buttons.rejected.connect(self.reject)
        self.list.currentItemChanged.connect(self._on_chosen)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        layout.addWidget(head)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.message)
        layout.addWidget(buttons)
        self.message.hide()
        self.list.setCurrentItem(self.list.topLevelItem(0))
        self._on_chosen()
        self.list.setFocus()

    @property
    def selected(self) -> Path | None:
        """The copy that is chosen."""
        item = self.list.currentItem()
        return item.data(0, _PATH_ROLE) if item is not None else None

    def open_selected(self) -> None:
        """Lay the chosen copy on the bench, unsaved and under a name of its own, and close."""
        path = self.selected
        if path is None or not self._files.may_leave():
            return
        try:
            self._document.open_copy(path, self.tr("conflict copy"))
        except (InputError, OSError) as fault:
            self._say(problems.words_of(fault))
            return
        self.accept()

    def put_away_selected(self) -> None:
        """Put the chosen copy among the earlier versions of its file."""
        path = self.selected
        original = original_of(path) if path is not None else None
        if path is None or original is None:
            return
        try:
            self._document.may_write(path)
            backups.keep(original, disk.read(path))
            disk.remove(path)
        except (InputError, OSError) as fault:
            self._say(problems.words_of(fault))
            return
        self.list.takeTopLevelItem(self.list.indexOfTopLevelItem(self.list.currentItem()))
        self._say(
            self.tr("{} is among the earlier versions of {} now.").format(path.name, original.name)
        )
        self._on_chosen()

    def _add(self, path: Path) -> None:
        original = original_of(path)
        name = original.name if original is not None else ""
        if original is not None and not original.exists():
            name = self.tr("{} (not there)").format(name)
        item = QTreeWidgetItem([path.name, name, path.parent.name])
        item.setToolTip(0, str(path))
        item.setSizeHint(0, QSize(0, _ROW_HEIGHT))
        item.setData(0, _PATH_ROLE, path)
        self.list.addTopLevelItem(item)

    def _on_chosen(self, *_: object) -> None:
        path = self.selected
        self.away_button.setEnabled(path is not None)
        self.open_button.setEnabled(path is not None and path.parent.name == "recipes")

    def _say(self, words: str) -> None:
        self.message.setText(words)
        self.message.show()
