"""What others do to the open files: the recipe's own, and the tables of its studio.

The system's word that something moved, and the window's coming to the front,
only lead to a look. What counts is what stands in the files, by its hash.
"""

from __future__ import annotations

import stat
from collections.abc import Mapping, Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QFileSystemWatcher, QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from app import problems
from app.document import Document
from app.notice_bar import NoticeBar
from core.errors import InputError
from core.files import backups
from core.files.content import ABSENT, Stamp, stamp_of_file
from core.files.sync_copies import without_copies
from core.files.whole import read_whole
from core.plain_yaml import LARGEST_FILE
from core.recipe import Recipe
from core.recipe_file import recipe_from, recipe_text
from core.studio import STUDIO_FILE, Studio, open_studio

RECIPE, TABLES = "outside", "tables"
_SETTLE_MS = 150
"""Most programs write a file in several steps."""
_FOLDERS = ("recipes", "runs", "firings", "machines")
_UNREADABLE = Stamp("unreadable")
_MOST_NAMES = 3


class StudioWatch(QObject):
    """Looks at the files when there is reason to, and tells what changed, with a way on."""

    stirred = Signal()
    """Something may have come, gone or changed in the folders of the studio."""

    def __init__(self, document: Document, notices: NoticeBar, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._notices = notices
        self._told: Stamp | None = None
        self._gone: Stamp | None = None
        self._clean_recipe: Recipe | None = None
        self._own_step = self._undo_offered = False
        self._read_with: object = None
        self._tables: dict[Path, Stamp] = {}
        self._tables_told: dict[Path, Stamp] | None = None
        self._watcher = QFileSystemWatcher(self)
        self._watcher.fileChanged.connect(self._on_stirred)
        self._watcher.directoryChanged.connect(self._on_stirred)
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(_SETTLE_MS)
        self._soon.timeout.connect(self.look)
        window.installEventFilter(self)
        document.opened.connect(self._begin)
        document.path_changed.connect(self._begin)
        document.undo_stack.indexChanged.connect(self._on_step)
        document.studio_changed.connect(self._on_studio_changed)
        self._on_studio_changed(document.studio)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.WindowActivate:
            self._on_stirred()
        return super().eventFilter(watched, event)

    def look(self) -> None:
        """Compare what stands in the files with what is known of them."""
        self._soon.stop()
        self._look_at_recipe()
        self._look_at_tables()
        # A file that was renamed into place is another one to the system.
        self._watch()
        self.stirred.emit()

    def _look_at_recipe(self) -> None:
        document = self._document
        path, known = document.path, document.stamp
        if path is None:
            return
        now = _stamp(path)
        if now == known and (now or self._gone is None):
            if self._told is not None:
                self._told = self._gone = None
                self._notices.drop(RECIPE)
        elif self._gone is not None and now == self._gone:
            self._gone = self._told = None
            document.note_stamp(now)
            if document.recipe == self._clean_recipe and not document.edited_firings:
                document.undo_stack.setClean()
            self._notices.drop(RECIPE)
        elif now != self._told and now != known:
            self._told = now
            if now:
                self._changed(path, now)
            else:
                self._gone = known
                self._clean_recipe = None if document.modified else document.recipe
                document.note_stamp(ABSENT)
                words = self.tr("{} is gone from its folder. Saving writes it anew.")
                self._notices.tell(RECIPE, words.format(path.name), dismiss=self.tr("Close"))

    def _changed(self, path: Path, now: Stamp) -> None:
        """Tell that the recipe's file was written by another program."""
        document, name = self._document, path.name
        try:
            theirs = recipe_from(read_whole(path))
        except InputError as fault:
            self._notices.tell(
                RECIPE,
                self.tr(
                    "{} was changed outside and cannot be read as it is now ({}). The bench "
                    "shows what was there before."
                ).format(name, problems.words_of(fault)),
                [(self.tr("Read it again"), self._look_afresh)],
            )
            return
        if theirs == document.as_saved():
            self._read_again(path, "")
        elif document.modified:
            self._notices.tell(
                RECIPE,
                self.tr(
                    "{} was changed outside too. What you have not saved here is as it was; "
                    "neither is lost."
                ).format(name),
                [
                    (self.tr("See theirs"), self._see_theirs),
                    (self.tr("Keep mine"), lambda: self._go_on_with_mine(now)),
                ],
            )
        else:
            self._keep_mine(path)
            words = self.tr("{} was changed outside and is read again.").format(name)
            self._read_again(path, words)

    def _go_on_with_mine(self, theirs: Stamp) -> None:
        """Let the next save replace what was told of; it goes among the earlier versions then."""
        self._document.note_stamp(theirs)
        self._notices.drop(RECIPE)

    def _see_theirs(self) -> None:
        path = self._document.path
        if path is None:
            return
        kept = self._keep_mine(path)
        words = self.tr("The bench shows {} as it stands in its file. Yours is one step back.")
        if kept:
            words = self.tr(
                "The bench shows {} as it stands in its file. Yours is one step back, and among "
                "the earlier versions."
            )
        self._read_again(path, words.format(path.name))
        if not kept:
            # Closing must ask about what is in the undo alone.
            self._document.undo_stack.resetClean()

    def _keep_mine(self, path: Path) -> bool:
        """Put what is on the bench among the earlier versions; False where nothing can be."""
        document = self._document
        try:
            document.may_write(path)
            backups.keep(path, recipe_text(document.as_saved()).encode("utf-8"))
        except (InputError, OSError):
            return False
        return True

    def _look_afresh(self) -> None:
        self._told = None
        self.look()

    def _read_again(self, path: Path, words: str) -> None:
        """Take what stands in the file as one step; say `words` if that changed anything."""
        stack = self._document.undo_stack
        before = stack.index()
        self._own_step, self._undo_offered = True, False
        try:
            self._document.take_outside(self.tr("Read {} again").format(path.name), path)
        except InputError:
            self._told = None  # written once more since; the next look tells
            self._soon.start()
            return
        finally:
            self._own_step = False
        self._told = self._gone = None
        if stack.index() == before or not words:
            self._notices.drop(RECIPE)
            return
        self._notices.tell(RECIPE, words, [(self.tr("Undo"), stack.undo)], dismiss=self.tr("Close"))
        self._undo_offered = True

    def _look_at_tables(self) -> None:
        studio = self._document.studio
        now = _tables_of(studio)
        changed = self._changed_tables(now)
        if not changed:
            if self._tables_told is not None:
                self._tables_told = None
                self._notices.drop(TABLES)
        elif now != self._tables_told:
            self._tables_told = now
            self._tell_tables(changed)

    def _changed_tables(self, now: Mapping[Path, Stamp]) -> list[Path]:
        studio = self._document.studio
        # Of a firing counts what was read last or saved here.
        own = {path: studio.firing_stamps.get(i, ABSENT) for i, path in studio.firing_paths.items()}
        known = {**self._tables, **own}
        return sorted(p for p in {**known, **now} if now.get(p, ABSENT) != known.get(p, ABSENT))

    def _tell_tables(self, changed: Sequence[Path], fault: InputError | None = None) -> None:
        names = ", ".join(path.name for path in changed[:_MOST_NAMES])
        if len(changed) > _MOST_NAMES:
            names = self.tr("{} files of the studio's tables").format(len(changed))
        if fault is not None:
            words = self.tr("{} cannot be used as it is now: {}").format(
                names, problems.words_of(fault)
            )
        elif len(changed) == 1:
            words = self.tr(
                "{} was changed outside. The bench goes by what was there before."
            ).format(names)
        else:
            words = self.tr(
                "{} were changed outside. The bench goes by what was there before."
            ).format(names)
        answer = self.tr("Use it") if len(changed) == 1 else self.tr("Use them")
        self._notices.tell(
            TABLES,
            words,
            [(answer if fault is None else self.tr("Try again"), self._use_tables)],
            dismiss=self.tr("Not now"),
        )

    def _use_tables(self) -> None:
        studio = self._document.studio
        now = _tables_of(studio)
        try:
            fresh = open_studio(studio.folder)
        except InputError as fault:
            self._tables_told = now
            self._tell_tables(self._changed_tables(now), fault)
            return
        self._document.use_studio(fresh)
        self._tables, self._tables_told = now, None
        self._notices.drop(TABLES)

    def _begin(self, *_: object) -> None:
        """Another file lies on the bench."""
        self._told = self._gone = None
        self._undo_offered = False
        self._notices.drop(RECIPE)
        self._watch()

    def _on_step(self, _index: int) -> None:
        # The button would take back another step now.
        if self._undo_offered and not self._own_step:
            self._undo_offered = False
            self._notices.drop(RECIPE)

    def _on_studio_changed(self, studio: Studio) -> None:
        # Only a studio that was read from its folder brings a new mapping of these.
        if studio.defaults is not self._read_with:
            self._read_with = studio.defaults
            self._tables, self._tables_told = _tables_of(studio), None
            self._notices.drop(TABLES)
        self._watch()

    def _on_stirred(self, *_: object) -> None:
        if not self._soon.isActive():
            self._soon.start()

    def _watch(self) -> None:
        """Have the system tell of the files and folders that are open now."""
        wanted: set[Path] = set()
        path, folder = self._document.path, self._document.studio.folder
        if path is not None:
            wanted |= {path, path.parent}
        if folder is not None:
            wanted |= {folder, *(folder / inner for inner in _FOLDERS), *self._tables}
            wanted |= set(self._document.studio.firing_paths.values())
        names = {str(place) for place in wanted if place.exists()}
        watched = {*self._watcher.files(), *self._watcher.directories()}
        if watched - names:
            self._watcher.removePaths(sorted(watched - names))
        if names - watched:
            self._watcher.addPaths(sorted(names - watched))


def _tables_of(studio: Studio) -> dict[Path, Stamp]:
    """Return what stands in the files that a studio is computed with."""
    folder = studio.folder
    if folder is None:
        return {}
    paths = [folder / name for name in (STUDIO_FILE, "materials.yaml", "bodies.yaml")]
    paths += without_copies(sorted((folder / "firings").glob("*.yaml")))
    stamps = {path: _stamp(path) for path in paths}
    return {path: stamp for path, stamp in stamps.items() if stamp}


def _stamp(path: Path) -> Stamp:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode) or status.st_size > LARGEST_FILE:
            return _UNREADABLE
        return stamp_of_file(path)
    except FileNotFoundError:
        return ABSENT
    except OSError:
        return _UNREADABLE
