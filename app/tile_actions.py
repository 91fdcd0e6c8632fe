"""The Tiles window, and the ways to it: plan a run, print it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs
from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QInputDialog, QWidget

import core.files.state as state
from app import problems
from app.document import Document
from app.file_names import file_stem, free_file
from app.settings import Settings
from app.theme import Theme
from app.worker import run_in_background
from core.errors import InputError

if TYPE_CHECKING:
    from app.plan_dialog import PlanDialog
    from app.tiles_window import TilesWindow
    from core.studio import Studio


class TileActions(QObject):
    """Opens the Tiles window of the studio, plans runs and prints them."""

    told = Signal(str)
    tiles_found = Signal(object)  # tuple of core.tiles.on_map.MapTile, of the open recipe

    def __init__(
        self, document: Document, settings: Settings, theme: Theme, window: QWidget
    ) -> None:
        super().__init__(window)
        self._document = document
        self._settings = settings
        self._theme = theme
        self._window = window
        self._tiles: TilesWindow | None = None
        document.opened.connect(self.find_tiles)
        document.studio_changed.connect(self._on_studio_changed)
        self._folder = document.studio.folder
        self._leaving = False
        self._read_only = False
        self.cache_folder = Path(platformdirs.user_cache_dir("glost", appauthor=False))
        self.state_folder = state.state_folder()

    @property
    def tiles_window(self) -> TilesWindow | None:
        """The window while it is open."""
        return self._tiles

    def show_tiles(self) -> None:
        """Open the Tiles window, or bring it to the front."""
        studio = self._document.studio
        if studio.folder is None:
            self.told.emit(self.tr("Tiles are kept in a studio: begin or open one first."))
            return
        if self._is_elsewhere(studio) and not self.may_leave():
            return
        if self._tiles is None:
            from app.tiles_window import TilesWindow

            self._tiles = TilesWindow(
                studio, self._theme, self._settings, self.cache_folder, self.state_folder
            )
            self._tiles.edits.may_write = self._may_write
            self._tiles.run_saved.connect(self.find_tiles)
            self._tiles.plan_asked.connect(self.plan)
            self._tiles.print_asked.connect(self.print_run)
        self._tiles.tell_read_only(self._read_only)
        self._tiles.show()
        self._tiles.raise_()
        self._tiles.activateWindow()

    def set_read_only(self, read_only: bool) -> None:
        """Take whether this window only reads the studio."""
        self._read_only = read_only
        if self._tiles is not None:
            self._tiles.tell_read_only(read_only)

    def find_tiles(self) -> None:
        """Look for the tiles of the open recipe, behind the bench; `tiles_found` follows."""
        studio, name, cache = (
            self._document.studio,
            self._document.recipe.name,
            self.cache_folder,
        )
        if not studio.run_paths():
            self.tiles_found.emit(())
            return

        def work() -> object:
            from core.tiles.library import open_library
            from core.tiles.on_map import tiles_of

            # A run that cannot be read is told in the Tiles window.
            return tiles_of(name, open_library(studio, cache).index)

        run_in_background(self, work, self.tiles_found.emit, self._fail)

    def _fail(self, fault: Exception) -> None:
        raise fault

    def may_leave(self) -> bool:
        """Close the Tiles window; False keeps it, in front, with what it could not save."""
        tiles = self._tiles
        if tiles is None:
            return True
        if not tiles.close():
            tiles.show()
            tiles.raise_()
            tiles.activateWindow()
            return False
        self._tiles = None
        tiles.deleteLater()
        return True

    def _is_elsewhere(self, studio: Studio) -> bool:
        """Tell whether the Tiles window is of another studio than this."""
        return self._tiles is not None and self._tiles.studio.folder != studio.folder

    def _on_studio_changed(self, studio: Studio) -> None:
        before, self._folder = self._folder, studio.folder
        if self._tiles is None or not self._tiles.studio.folder == before != studio.folder:
            return
        # The lock of the studio is let go after this; what is typed can still be written.
        self._leaving = True
        try:
            self.may_leave()
        finally:
            self._leaving = False

    def _may_write(self, path: Path) -> None:
        """Raise InputError for a file of a run that this window may not write."""
        if not self._leaving and self._is_elsewhere(self._document.studio):
            raise InputError(
                "its studio is not open on the bench any more", "open that studio again", path.name
            )
        self._document.may_write(path)

    def plan(self) -> None:
        """Plan a run from the recipe on the bench; it is saved as soon as it has its codes."""
        if self._document.studio.folder is None:
            self.told.emit(self.tr("A run is kept in a studio: begin or open one first."))
            return
        try:
            # Before anything is planned, and before codes are given.
            self._document.may_write(self._document.studio.folder / "runs" / "new.yaml")
        except InputError as fault:
            self.told.emit(str(fault))
            return
        dialog = self.plan_dialog()
        while dialog.exec() == QDialog.DialogCode.Accepted and dialog.run is not None:
            # A plan that could not be saved stays in the dialog.
            if self.keep(dialog):
                break
        dialog.deleteLater()

    def plan_dialog(self) -> PlanDialog:
        """Return the dialog that plans."""
        from app.plan_dialog import PlanDialog

        parent = self._tiles if self._tiles is not None else self._window
        return PlanDialog(self._document, self._theme, self.state_folder, parent)

    def keep(self, dialog: PlanDialog) -> bool:
        """Save a planned run in the studio and show it; say why not."""
        from core.files import disk
        from core.files.content import ABSENT
        from core.tiles.run_file import save_run

        run, folder = dialog.run, self._document.studio.folder
        assert run is not None
        assert folder is not None
        path = free_file(folder / "runs", file_stem(run.name))
        try:
            self._document.may_write(path)
            disk.make_folder(path.parent)
            save_run(path, run, ABSENT)
        except (InputError, OSError) as fault:
            problems.tell(
                self._window,
                self.tr("{} was not saved").format(run.name),
                problems.words_of(fault),
            )
            return False
        self.told.emit(self.tr("Planned {}: {} tiles").format(run.name, len(run.tiles)))
        self.find_tiles()
        self.show_tiles()
        if self._tiles is not None:
            self._tiles.show_run(path)
        return True

    def print_run(self, path: Path) -> None:
        """Write the PDF of a run where the potter wants it."""
        from app.run_pdf import write_run_pdf
        from core.tiles.run_file import read_run

        parent = self._tiles if self._tiles is not None else self._window
        start = path.with_suffix(".pdf")
        name, _ = QFileDialog.getSaveFileName(
            parent, self.tr("Write the sheets of the run"), str(start), "PDF (*.pdf)"
        )
        if not name:
            return
        first, sure = QInputDialog.getInt(
            parent,
            self.tr("Labels"),
            self.tr("First free label of the sheet, counted from the top left:"),
            1,
            1,
            30,
        )
        if not sure:
            return
        paper = "Letter" if self._settings.text("card/paper", "A4") == "Letter" else "A4"
        try:
            write_run_pdf(read_run(path), self._document.studio, Path(name), paper, first)
        except (InputError, OSError) as fault:
            problems.tell(
                parent, self.tr("{} was not written").format(name), problems.words_of(fault)
            )
            return
        self.told.emit(self.tr("Written: {}").format(name))
