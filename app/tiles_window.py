"""The Tiles window: the runs of a studio, the wall of their tiles, and the result of one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QElapsedTimer, QEvent, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAction,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QPixmap,
)
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from app import problems
from app.damaged import offer
from app.formatting import in_a_sentence, parts
from app.measured_dialog import MeasuredDialog
from app.message_label import MessageLabel
from app.photo_batch import PhotoBatch, match_photos
from app.result_draft import Field, read_texts
from app.result_form import ResultForm
from app.run_edits import RunEdits
from app.runs_list import ALL, RunsList
from app.settings import Settings
from app.side_by_side import LEAST, MOST, SideBySide
from app.soundness_form import SoundnessForm
from app.theme import Palette, Role, Theme
from app.thumbnails import Thumbnails
from app.tile_filter import TileFilter
from app.tile_model import Key, TileModel, key_of
from app.tile_search import TileSearch
from app.tile_wall import TileWall
from app.worker import run_in_background
from core.errors import InputError
from core.studio import Studio
from core.tiles.index import UNREAD, TileEntry, TileIndex, entries_of
from core.tiles.library import TileLibrary, open_library
from core.tiles.machine import clashes, held_letters
from core.tiles.result import Result
from core.tiles.run import Run, Tile

_RUN_KEY: Final = "tiles-run"
_REST_MS: Final = 3000
"""What is typed is taken after so long at rest,"""
_MOST_MS: Final = 5000
"""and after so long without any: a crash costs no more than this."""
_Fault = (InputError, OSError)


class TilesWindow(QMainWindow):
    """Reads the tiles of a studio; every entry is saved at once and can be undone.

    Parameters
    ----------
    studio : Studio
    theme : Theme
        Its palette is followed live.
    settings : Settings
        Remembers the run that was chosen last.
    cache_folder : Path
        For the index and the small pictures; may be deleted at any time.
    state_folder : Path
        This machine's own, from which new codes are taken when a run is planned.
    """

    plan_asked = Signal()
    print_asked = Signal(Path)
    """Path of the run that is to be printed."""
    tiles_shown = Signal()
    """The tiles of the studio were read and are on the wall."""
    run_saved = Signal(Path)
    """A run was changed here, and its file written."""

    def __init__(
        self,
        studio: Studio,
        theme: Theme,
        settings: Settings,
        cache_folder: Path,
        state_folder: Path,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.studio = studio
        self.tell_read_only(False)
        self.state_folder = state_folder
        self._settings = settings
        self._theme = theme
        self._cache = cache_folder
        folder = studio.folder
        self.photos_folder = folder / "photos" if folder is not None else None
        self.edits = RunEdits((folder or cache_folder) / "runs", self)
        self.thumbnails = Thumbnails(
            self.photos_folder or cache_folder, cache_folder / "tiles", self
        )
        self.photo_batch = PhotoBatch(self.photos_folder or cache_folder, self)
        self._names = {m.id: m.name for m in studio.materials}
        self._search = TileSearch(TileIndex((), studio.convention), self._names, studio.convention)
        self._offers_stale = False
        self._key: Key | None = None
        self._shown_key: Key | None = None
        self._batch_file = ""
        self._beside_keys: list[Key] = []
        self._drafts: dict[Key, dict[Field, str]] = {}
        self._warned_of: dict[Key, dict[Field, str]] = {}
        self._faulty: Field | None = None
        self._restoring = False
        self._at_rest = False
        self._going_on: Key | None = None
        self._loaded = False
        self._unread: tuple[InputError, ...] = ()
        self._wanted: str | None = None
        self._make_left()
        self._make_middle()
        self._make_right()
        self._place()
        self._make_actions()
        self._make_rest()
        self._connect()
        self.setAcceptDrops(folder is not None)
        self.setMinimumSize(900, 560)
        self.resize(1100, 680)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self._show_tile()
        self.reload()

    def tell_read_only(self, read_only: bool) -> None:
        """Say in the title whether this studio is only read here."""
        title = self.tr("Tiles – {}").format(self.studio.name or self.tr("no studio"))
        self.setWindowTitle(self.tr("{} (read only)").format(title) if read_only else title)

    @property
    def run_path(self) -> Path | None:
        """The run that is chosen, or that of the current tile."""
        file = self._file
        return self.edits.path(file) if file else None

    @property
    def current_code(self) -> str:
        """Code of the tile that is being read; empty without one."""
        return self._key[1] if self._key is not None else ""

    def reload(self) -> None:
        """Read the studio's runs anew, in the background; `tiles_shown` follows."""
        if self.studio.folder is None:
            self.wall.say_empty(
                self.tr("Tiles are kept in a studio. Open or make a studio on the bench first.")
            )
            self.runs.plan_button.setEnabled(False)
            return
        self.commit()
        self.wall.say_empty(self.tr("Reading the tiles…"))
        studio, cache = self.studio, self._cache
        run_in_background(
            self, lambda: open_library(studio, cache), self._on_library, self._on_library_failed
        )

    def show_run(self, path: Path) -> None:
        """Show a run, such as one that was just planned; the files are read anew."""
        self._wanted = path.name
        self.reload()

    def commit(self) -> bool:
        """Take what is typed; False, with the reason under its field, if it cannot be."""
        self._rest.stop()
        pair = self._pair()
        if pair is None or self._key is None:
            return True
        key, (run, tile) = self._key, pair
        going_on, self._going_on = self._going_on == key, None
        self._drafts.pop(key, None)
        self._faulty = None
        typed = self.form.changed_texts
        if not typed:
            self.form.show_faults({})
            return True
        result, faults = read_texts(self.form.texts, tile.result, _today())
        if not self._at_rest:
            self.form.show_faults(faults)
        self._faulty = next(iter(faults), None)
        if faults or not self._edit(
            self.tr("Read {}").format(tile.code),
            lambda: run.with_result(tile.code, result),
            going_on=going_on,
        ):
            self._drafts[key] = typed
            return False
        if tile.result == result and not self._at_rest:
            self.form.show_result(result)
        return True

    def step(self, by: int) -> bool:
        """Take what is typed and go to the next tile or the one before, in the same field."""
        field = self.form.field_in_hand
        if not self.commit():
            if self._faulty is not None:
                self.form.focus_field(self._faulty)
            return False
        if not self.wall.step(by):
            self._say(self.tr("That was the last tile on the wall.") if by > 0 else "", Role.MUTED)
            return False
        if field is not None:
            self.form.focus_field(field)
        return True

    def undo(self) -> None:
        """Take back what was saved last."""
        if self.commit():
            self._try(self.edits.undo)

    def redo(self) -> None:
        """Do again what was taken back."""
        if self.commit():
            self._try(self.edits.redo)

    def attach_photos(self, photos: Sequence[Path]) -> bool:
        """Copy photos into the studio and attach them, all as one step; False if they cannot be."""
        if self._key is None or self.photo_batch.is_busy or not self.commit():
            return False
        file, code = self._key
        try:
            run = self.edits.run(file)
            pairs = match_photos(photos, self._order_in(run, file), code)
            self.edits.may_write(self.edits.path(file))
        except _Fault as fault:
            self._say(problems.words_of(fault), Role.STOP)
            return False
        self._batch_file = file
        self._say("")
        self.photo_batch.begin(pairs)
        return True

    def show_side_by_side(self) -> None:
        """Show the selected tiles beside each other, two to six of them."""
        entries = self.wall.selected_entries()
        if not LEAST <= len(entries) <= MOST or not self.commit():
            return
        self._beside_keys = [key_of(entry) for entry in entries]
        if self._fill_beside():
            self._show_page(self.beside)
            self.beside.back_button.setFocus()

    def show_wall(self) -> None:
        """Go back from the tiles side by side to the wall."""
        self._show_page(self.wall)
        self.wall.setFocus()

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._may_leave():
            event.ignore()
            return
        # What was left behind is not there when the window is opened again.
        self._show_tile()
        self.photo_batch.cancel()
        self._settings.keep_text(_RUN_KEY, self.runs.file)
        super().closeEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls() and self._key is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        files = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if files and self.attach_photos(files):
            event.acceptProposedAction()

    def changeEvent(self, event: QEvent) -> None:
        # Another window may be used between two entries; what is typed counts by then.
        if event.type() == QEvent.Type.ActivationChange and not self.isActiveWindow():
            self.commit()
        super().changeEvent(event)

    @property
    def _file(self) -> str:
        return self.runs.file or (self._key[0] if self._key is not None else "")

    def _pair(self) -> tuple[Run, Tile] | None:
        if self._key is None:
            return None
        try:
            run = self.edits.run(self._key[0])
            return run, run.tile(self._key[1])
        except _Fault:
            return None

    def _order_in(self, run: Run, file: str) -> list[str]:
        """Codes of a run: those on the wall in its order, then the others."""
        shown = [entry.code for entry in self.model.entries if entry.file == file]
        known = {tile.code for tile in run.tiles}
        first = [code for code in shown if code in known]
        return [*first, *(t.code for t in run.tiles if t.code not in set(first))]

    def _show_page(self, page: QWidget) -> None:
        self.pages.setCurrentWidget(page)
        # Six tiles need the room of the form, which speaks of one of them alone.
        self.right.setVisible(page is self.wall)

    def _fill_beside(self) -> bool:
        pairs = []
        for file, code in self._beside_keys:
            try:
                run = self.edits.run(file)
                pairs.append((run, run.tile(code)))
            except _Fault as fault:
                self._say(problems.words_of(fault), Role.STOP)
                return False
        self.beside.show_tiles(pairs)
        return True

    def _may_leave(self) -> bool:
        """Take what is typed; warn once where something cannot be taken."""
        refused = "" if self.commit() or self._faulty is not None else self.message.words
        if self._drafts == self._warned_of or not self._drafts:
            self._drafts.clear()
            self._warned_of = {}
            return True
        codes = ", ".join(code for _, code in self._drafts)
        words = self.tr("What was typed for {} cannot be kept as it is. Again to leave it.")
        self._say(f"{words.format(codes)} {refused}".strip(), Role.LOOK)
        self._warned_of = dict(self._drafts)
        return False

    def _edit(self, text: str, make: Callable[[], Run], *, going_on: bool = False) -> bool:
        """Make a run anew and save it; say why not."""
        if self._key is None:
            return False
        file = self._key[0]
        try:
            self.edits.edit(text, file, make(), self._key[1], going_on=going_on)
        except _Fault as fault:
            self._say(
                self.tr("Not saved: {}").format(problems.words_of(fault)),
                Role.STOP,
            )
            return False
        self._say("")
        return True

    def _try(self, step: Callable[[], None]) -> None:
        try:
            step()
            self._say("")
        except _Fault as fault:
            self._say(self.tr("Not saved: {}").format(problems.words_of(fault)), Role.STOP)

    def _say(self, words: str, role: Role = Role.MUTED) -> None:
        self.message.say(words, role)
        self.message.setVisible(bool(words))

    def _on_typed(self) -> None:
        if not self.form.is_changed:
            return
        if not self._rest.isActive():
            self._typing.start()
        self._rest.start(max(0, min(_REST_MS, _MOST_MS - self._typing.elapsed())))

    def _on_rest(self) -> None:
        """Take what is typed so far, and leave the field to who types in it."""
        self._at_rest = True
        try:
            taken = self.commit()
        finally:
            self._at_rest = False
        # The letters that follow belong to the same step.
        self._going_on = self._key if taken else None

    def _on_library(self, library: TileLibrary) -> None:
        self._read_anew()
        self._search = TileSearch(library.index, self._names, self.studio.convention)
        wanted = self._wanted
        if wanted is None and not self._loaded:
            wanted = self._settings.text(_RUN_KEY, ALL)
        self._loaded, self._wanted = True, None
        kept = self._key
        self.runs.show_runs(library.index.entries)
        self._unread = library.faults
        self.runs.tell_faults([str(fault) for fault in library.faults])
        self._tell_clashes(library)
        if wanted is not None:
            self.runs.choose(wanted)
        self.filter.offer(self._search)
        self._find(kept)
        self._tell_drafts()
        self.tiles_shown.emit()

    def _read_anew(self) -> None:
        """Forget the runs as they were read; what is typed stays, over what stands there now."""
        self._rest.stop()
        self._going_on = None
        typed = self.form.changed_texts
        if self._key is not None and typed:
            self._drafts[self._key] = typed
        self.edits.forget()
        if self._key is not None:
            self._show_tile()
            self._shown_key = None

    def _tell_drafts(self) -> None:
        """Say what is typed and not saved; what was for a tile that is gone, for the last time."""
        if not self._drafts:
            return
        lost = []
        for file, code in list(self._drafts):
            try:
                self.edits.run(file).tile(code)
            except _Fault:
                typed = self._drafts.pop((file, code)).values()
                lost.append(f"{code} ({'; '.join(text for text in typed if text)})")
        said = []
        if self._drafts:
            codes = ", ".join(code for _, code in self._drafts)
            said.append(self.tr("Typed and not saved yet: {}.").format(codes))
        if lost:
            words = self.tr("No longer in its run, and what was typed for it: {}.")
            said.append(words.format(", ".join(lost)))
        self._say(" ".join(said), Role.LOOK)

    def _mend(self) -> None:
        """Offer earlier versions of the runs that could not be read."""
        done = [
            offer(self, fault, Path(fault.source), self.edits.may_write) for fault in self._unread
        ]
        if any(done):
            self.reload()

    def _tell_clashes(self, library: TileLibrary) -> None:
        """Say where two copies of the studio that grew apart gave the same."""
        if self.studio.folder is None:
            return
        try:
            letters = held_letters(self.studio.folder)
        except _Fault as fault:
            said = [problems.words_of(fault)]
        else:
            said = clashes(letters, (entry.code for entry in library.index.entries))
        if said:
            more = self.tr(" And {} more.").format(len(said) - 1) if len(said) > 1 else ""
            self._say(in_a_sentence(said[0]) + more, Role.LOOK)

    def _on_library_failed(self, fault: Exception) -> None:
        self.wall.say_empty(self.tr("The tiles could not be read; F5 tries again."))
        self._say(problems.words_of(fault), Role.STOP)

    def _on_filter_changed(self) -> None:
        self.commit()
        self._find(self._key)

    def _on_run_chosen(self, _file: str) -> None:
        self.commit()
        self._show_page(self.wall)
        self._find(self._key)

    def _find(self, kept: Key | None) -> None:
        """Show what the filter and the chosen run ask for; `kept` stays the current tile."""
        if self._offers_stale:
            self._offers_stale = False
            self.filter.offer(self._search)
        found = self._search.find(self.filter.query, self.filter.text)
        file = self.runs.file
        if file != ALL:
            found = [entry for entry in found if entry.file == file]
        self._restoring = True
        self.model.show_entries(found)
        self._restoring = False
        if not (kept is not None and self.wall.go_to(kept)):
            first = next((e for e in found if e.surface == UNREAD), found[0] if found else None)
            if first is None or not self.wall.go_to(key_of(first)):
                self._on_tile_chosen(None)
        else:
            self._on_tile_chosen(kept)
        self._say_count(len(found))

    def _say_count(self, many: int) -> None:
        whole = len(self._search)
        if not whole:
            words = self.tr(
                "No tiles yet. “Plan a run…” lays out a blend, gives each tile its code and "
                "prints the sheets; fired tiles are read here."
            )
        elif self.filter.is_empty:
            words = ""
        else:
            words = self.tr("No tile is like that. Esc in the line shows all of them again.")
        self.wall.say_empty(words)
        self.count.setText(self.tr("{} tile" if many == 1 else "{} tiles").format(many))

    def _on_tile_chosen(self, key: Key | None) -> None:
        if self._restoring:
            return
        if key == self._key and key is not None and self._shown_key == key:
            return
        if key != self._key and not self.commit():
            self._say(
                self.tr("{} keeps what was typed until it can be read.").format(self.current_code),
                Role.LOOK,
            )
        self._key = key
        self._show_tile()

    def _show_tile(self) -> None:
        """Show the current tile in the form."""
        pair, words = None, ""
        if self._key is not None:
            try:
                run = self.edits.run(self._key[0])
                pair = run, run.tile(self._key[1])
            except _Fault as fault:
                words = problems.words_of(fault)
                self._say(words, Role.STOP)
        self._shown_key = self._key
        self.sides.setEnabled(pair is not None)
        self.runs.show_fired(pair[0].fired if pair is not None else None)
        if pair is None:
            self.code.setText(self.tr("No tile chosen"))
            self.about.say(words or self.tr("Choose a tile on the wall; Enter begins to read it."))
            self.form.show_result(None)
            self.form.show_photo("", None)
            return
        run, tile = pair
        result = tile.result
        row, many = self.wall.currentIndex().row(), self.model.rowCount()
        place = self.tr("{} of {}").format(row + 1, many) if row >= 0 else ""
        self.code.setText(tile.code)
        self.about.say(
            " · ".join(
                words
                for words in (
                    tile.label,
                    place,
                    self.tr("read {}").format(result.read) if result and result.read else "",
                )
                if words
            )
        )
        self.about.setToolTip(self._recipe_words(tile))
        self.form.show_defaults(run.body, run.shelf, self.studio.bodies)
        self.form.show_result(
            result,
            self._drafts.get(self._key) if self._key else None,
            self.form.field_in_hand if self._at_rest else None,
        )
        if self._key in self._drafts:
            self.form.show_faults(read_texts(self.form.texts, result, _today())[1])
        self._show_photo(result)
        self.soundness.show_tile(run, tile, _today())

    def _recipe_words(self, tile: Tile) -> str:
        rows = [("", row) for row in tile.base] + [("+ ", row) for row in tile.additions]
        return "\n".join(
            f"{sign}{self._names.get(row.material, row.material)} {parts(row.amount)}"
            for sign, row in rows
        )

    def _show_photo(self, result: Result | None) -> None:
        name = result.photo if result is not None else ""
        picture: QPixmap | None = self.thumbnails.picture(name) if name else None
        self.form.show_photo(name, picture)

    def _on_thumbnail(self, name: str) -> None:
        if self.form.photo == name:
            self.form.show_photo(name, self.thumbnails.picture(name))

    def _on_run_changed(self, file: str, code: str) -> None:
        run = self.edits.run(file)
        entries: list[TileEntry] = entries_of(run, self.studio, file)
        self._search.take_run(file, entries)
        self._offers_stale = True
        self.model.update_entries({key_of(entry): entry for entry in entries})
        self.runs.update_run(file, entries)
        if self.pages.currentWidget() is self.beside:
            self._fill_beside()
        key = (file, code) if code else self._key
        if key is not None and key != self._key and self.wall.go_to(key):
            self.form.show_faults({})
        else:
            self._show_tile()
        self.run_saved.emit(self.edits.path(file))

    def _on_fired_edited(self, day: str) -> None:
        pair = self._pair()
        if pair is None or self._key is None or not self.commit():
            return
        run = self.edits.run(self._key[0])
        try:
            fired = (
                run.fired_on(day, self.studio) if day else replace(run, fired="", firing_version="")
            )
            self.edits.edit(self.tr("Kiln opened"), self._key[0], fired)
        except _Fault as fault:
            words = fault.what if isinstance(fault, InputError) else problems.words_of(fault)
            mend = fault.mend if isinstance(fault, InputError) else ""
            self.runs.tell_fired(f"{words}; {mend}" if mend else words)

    def _on_test_done(self, kind: str, day: str, passed: bool, note: str) -> None:
        pair = self._pair()
        if pair is None or not self.commit():
            return
        run, tile = self._pair() or pair
        try:
            after = run.with_test(tile.code, kind, day, passed, note)
        except InputError as fault:
            self.soundness.tell(f"{fault.what}; {fault.mend}")
            return
        self._edit(self.tr("Test of {}").format(tile.code), lambda: after)

    def _on_photo_removed(self) -> None:
        if not self.commit():
            return
        pair = self._pair()
        if pair is None or pair[1].result is None:
            return
        run, tile = pair
        bare = replace(pair[1].result, photo="")
        result = None if replace(bare, version="") == Result() else bare
        self._edit(
            self.tr("Take the photo off {}").format(tile.code),
            lambda: run.with_result(tile.code, result),
        )

    def _on_photos_progressed(self, done: int, many: int) -> None:
        self.progress.setRange(0, many)
        self.progress.setValue(done)
        self.progress_row.show()
        self.form.photo_button.setEnabled(False)

    def _on_photos_finished(self, names: dict[str, str]) -> None:
        self._end_progress()
        self.commit()
        try:
            run = self.edits.run(self._batch_file)
            for code, name in names.items():
                kept = run.tile(code).result or Result()
                run = run.with_result(code, replace(kept, photo=name))
            text = self.tr("Attach {} photos").format(len(names))
            self.edits.edit(text, self._batch_file, run)
        except _Fault as fault:
            self._say(
                self.tr("The photos are in the studio, but were not attached: {}").format(
                    problems.words_of(fault)
                ),
                Role.STOP,
            )
            return
        last = self.tr("Photos attached: {}.").format(len(names))
        self._say(last)

    def _on_photos_stopped(self, reason: str) -> None:
        self._end_progress()
        if reason:
            self._say(self.tr("No photo was attached: {}").format(reason), Role.STOP)
        else:
            self._say(self.tr("Stopped; no photo was attached."), Role.MUTED)

    def _end_progress(self) -> None:
        self.progress_row.hide()
        self.form.photo_button.setEnabled(self.photos_folder is not None)

    def _on_selection(self, many: int) -> None:
        self.beside_action.setEnabled(LEAST <= many <= MOST)
        self.beside_button.setEnabled(LEAST <= many <= MOST)
        self.beside_button.setText(
            self.tr("&Side by side: {} at most").format(MOST)
            if many > MOST
            else self.tr("&Side by side")
        )

    def _read_current(self) -> None:
        """Enter on the wall: begin to type."""
        self.sides.setCurrentIndex(0)
        self.form.focus_field()

    def _on_print(self) -> None:
        path = self.run_path
        if path is not None and self.commit():
            self.print_asked.emit(path)

    def _on_measured(self) -> None:
        file = self._file
        dialog = self.measured_dialog()
        if dialog is None:
            return
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.run is not None:
            self.take_measured(file, dialog.run)
        dialog.deleteLater()

    def measured_dialog(self) -> MeasuredDialog | None:
        """Return the dialog of what was measured, or None where nothing is blended by volume."""
        if not self._file or not self.commit():
            return None
        try:
            run = self.edits.run(self._file)
        except _Fault as fault:
            self._say(problems.words_of(fault), Role.STOP)
            return None
        if not run.corners or run.method == "dry":
            self._say(
                self.tr("Nothing of {} is blended by volume: each tile is weighed.").format(
                    run.name
                )
            )
            return None
        return MeasuredDialog(run, self.studio, self._theme, self)

    def take_measured(self, file: str, run: Run) -> None:
        """Keep what was measured with the run, as one step."""
        try:
            self.edits.edit(self.tr("Measured corners"), file, run)
        except _Fault as fault:
            self._say(self.tr("Not saved: {}").format(problems.words_of(fault)), Role.STOP)
        else:
            self._say(self.tr("Measured. Print the sheets again for the corrected chart."))

    def _focus_filter(self) -> None:
        self.filter.words.setFocus()
        self.filter.words.selectAll()

    def _make_left(self) -> None:
        self.runs = RunsList()

    def _make_middle(self) -> None:
        self.filter = TileFilter()
        self.model = TileModel(self)
        self.wall = TileWall(self.model)
        self.wall.show_thumbnails(self.thumbnails)
        self.beside = SideBySide()
        self.beside.show_thumbnails(self.thumbnails)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.wall)
        self.pages.addWidget(self.beside)
        self.count = QLabel()
        self.count.setAccessibleName(self.tr("How many tiles are on the wall"))
        self.beside_button = QPushButton(self.tr("&Side by side"))
        self.beside_button.setMinimumHeight(28)
        self.beside_button.setEnabled(False)
        self.beside_button.setToolTip(
            self.tr("Select two to six tiles (Ctrl or Shift with click or arrows), then Ctrl+B")
        )
        self.message = MessageLabel(self.tr("What happened"))
        self.message.hide()
        self.progress = QProgressBar()
        self.progress.setAccessibleName(self.tr("Photos copied"))
        self.progress.setFormat(self.tr("photo %v of %m"))
        self.stop_button = QPushButton(self.tr("S&top"))
        self.stop_button.setAccessibleName(self.tr("Stop copying photos"))
        self.stop_button.setMinimumHeight(28)
        self.progress_row = QWidget()
        line = QHBoxLayout(self.progress_row)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.progress, 1)
        line.addWidget(self.stop_button)
        self.progress_row.hide()

    def _make_right(self) -> None:
        self.code = QLabel()
        self.code.setTextFormat(Qt.TextFormat.PlainText)
        self.code.setAccessibleName(self.tr("Code of the tile"))
        font = self.code.font()
        font.setPointSizeF(font.pointSizeF() + 4)
        font.setBold(True)
        self.code.setFont(font)
        self.about = MessageLabel(self.tr("About the tile"))
        self.form = ResultForm()
        self.form.photo_button.setEnabled(self.photos_folder is not None)
        self.soundness = SoundnessForm()
        self.sides = QTabWidget()
        self.sides.setDocumentMode(True)
        for widget, title in (
            (self.form, self.tr("&Result")),
            (self.soundness, self.tr("Soun&dness")),
        ):
            area = QScrollArea()
            area.setWidgetResizable(True)
            area.setFrameShape(QScrollArea.Shape.NoFrame)
            area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
            area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            area.setWidget(widget)
            self.sides.addTab(area, title)

    def _place(self) -> None:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.filter)
        column.addWidget(self.pages, 1)
        foot = QHBoxLayout()
        foot.addWidget(self.count)
        foot.addStretch(1)
        foot.addWidget(self.beside_button)
        column.addWidget(self.message)
        column.addWidget(self.progress_row)
        column.addLayout(foot)
        right = self.right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.code)
        head.addWidget(self.about, 1, Qt.AlignmentFlag.AlignVCenter)
        column.addLayout(head)
        column.addWidget(self.sides, 1)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setHandleWidth(12)
        for widget, least, stretch in ((self.runs, 150, 0), (middle, 300, 1), (right, 340, 0)):
            widget.setMinimumWidth(least)
            self.splitter.addWidget(widget)
            self.splitter.setStretchFactor(self.splitter.count() - 1, stretch)
        self.splitter.setSizes([180, 510, 370])
        page = QWidget()
        whole = QVBoxLayout(page)
        whole.setContentsMargins(12, 8, 12, 8)
        whole.addWidget(self.splitter)
        self.setCentralWidget(page)

    def _make_actions(self) -> None:
        stack = self.edits.undo_stack
        self.undo_action = QAction(self.tr("&Undo"), self)
        self.redo_action = QAction(self.tr("&Redo"), self)
        self.beside_action = QAction(self.tr("&Side by side"), self)
        edit = self.menuBar().addMenu(self.tr("&Edit"))
        tiles = self.menuBar().addMenu(self.tr("Ti&les"))
        for menu, action, keys, slot in (
            (edit, self.undo_action, QKeySequence.StandardKey.Undo, self.undo),
            (edit, self.redo_action, QKeySequence.StandardKey.Redo, self.redo),
            (tiles, QAction(self.tr("&Next tile"), self), "Ctrl+Down", lambda: self.step(1)),
            (tiles, QAction(self.tr("Tile &before"), self), "Ctrl+Up", lambda: self.step(-1)),
            (tiles, QAction(self.tr("&Find…"), self), "Ctrl+F", self._focus_filter),
            (tiles, self.beside_action, "Ctrl+B", self.show_side_by_side),
            (tiles, QAction(self.tr("&Photos…"), self), "Ctrl+Shift+P", self.form.choose_photos),
            (tiles, QAction(self.tr("Read the files &again"), self), "F5", self.reload),
            (tiles, QAction(self.tr("&Close"), self), "Ctrl+W", self.close),
        ):
            action.setShortcut(QKeySequence(keys))
            action.triggered.connect(slot)
            menu.addAction(action)
        self.beside_action.setEnabled(False)
        stack.canUndoChanged.connect(self.undo_action.setEnabled)
        stack.canRedoChanged.connect(self.redo_action.setEnabled)
        stack.undoTextChanged.connect(self._name_undo)
        stack.redoTextChanged.connect(self._name_redo)
        self.undo_action.setEnabled(False)
        self.redo_action.setEnabled(False)

    def _name_undo(self, text: str) -> None:
        self.undo_action.setText(self.tr("&Undo: {}").format(text) if text else self.tr("&Undo"))

    def _name_redo(self, text: str) -> None:
        self.redo_action.setText(self.tr("&Redo: {}").format(text) if text else self.tr("&Redo"))

    def _make_rest(self) -> None:
        self._typing = QElapsedTimer()
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(self._on_rest)

    def _connect(self) -> None:
        self.runs.chosen.connect(self._on_run_chosen)
        self.runs.plan_asked.connect(self.plan_asked)
        self.runs.print_asked.connect(self._on_print)
        self.runs.mend_asked.connect(self._mend)
        self.runs.measured_asked.connect(self._on_measured)
        self.runs.fired_edited.connect(self._on_fired_edited)
        self.filter.changed.connect(self._on_filter_changed)
        self.wall.tile_chosen.connect(self._on_tile_chosen)
        self.wall.chosen_changed.connect(self._on_selection)
        self.wall.entry_asked.connect(self._read_current)
        self.beside.left.connect(self.show_wall)
        self.beside_button.clicked.connect(self.show_side_by_side)
        self.form.left.connect(self.commit)
        self.form.typed.connect(self._on_typed)
        self.form.next_asked.connect(lambda: self.step(1))
        self.form.photos_chosen.connect(self.attach_photos)
        self.form.photo_removed.connect(self._on_photo_removed)
        self.soundness.test_done.connect(self._on_test_done)
        self.edits.changed.connect(self._on_run_changed)
        self.thumbnails.ready.connect(self._on_thumbnail)
        self.photo_batch.progressed.connect(self._on_photos_progressed)
        self.photo_batch.finished.connect(self._on_photos_finished)
        self.photo_batch.stopped.connect(self._on_photos_stopped)
        self.stop_button.clicked.connect(self.photo_batch.cancel)

    def _set_palette(self, palette: Palette) -> None:
        for part in (self.runs, self.wall, self.beside, self.form, self.soundness):
            part.set_palette(palette)
        self.message.set_palette(palette)
        self.about.set_palette(palette)


def _today() -> str:
    return date.today().isoformat()
