"""Learning from the studio's tiles, asked for and never silent."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QWidget

from app.document import Document
from app.formatting import in_a_sentence
from app.learning_dialog import LearningDialog
from app.problems import words_of
from app.theme import Theme
from app.worker import run_in_background
from core.errors import InputError

if TYPE_CHECKING:
    from core.learn.fit import LearntRules


class LearningActions(QObject):
    """Collects the tiles in the background, then says what they teach."""

    told = Signal(str)

    def __init__(self, document: Document, theme: Theme, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._theme = theme
        self._window = window

    def learn(self) -> None:
        """Read the studio's runs and show what they teach."""
        studio = self._document.studio
        if studio.folder is None:
            self.told.emit(self.tr("Tiles are kept in a studio: begin or open one first."))
            return
        self.told.emit(self.tr("Reading the tiles…"))
        body = self._document.recipe.body

        def work() -> Any:
            from core.learn.fit import learn
            from core.learn.observations import observations
            from core.tiles.run_file import read_run

            runs = [read_run(path) for path in studio.run_paths()]
            found = observations(runs, studio, body)
            whose = studio.kiln.name or studio.kiln.id
            named = studio.bodies.get(body)
            if named is not None:
                whose += f", {named.name}"
            return learn(found.features, found.seen, whose), found.left_out

        run_in_background(self, work, self._show, self._fail)

    def _show(self, found: tuple[LearntRules, int]) -> None:
        self.told.emit("")
        dialog = self.dialog(*found)
        if dialog.exec() == QDialog.DialogCode.Accepted:
            self.take(found[0], dialog.wanted)
        dialog.deleteLater()

    def dialog(self, learnt: LearntRules, left_out: int) -> LearningDialog:
        """Return the dialog that says what was learnt."""
        taken = self._document.learnt is not None
        return LearningDialog(learnt, left_out, self._theme.palette, taken, self._window)

    def take(self, learnt: LearntRules, wanted: bool) -> None:
        """Read by what was learnt, or as shipped again."""
        self._document.set_learnt(learnt if wanted else None)
        if wanted:
            self.told.emit(self.tr("The reading goes by {} tiles now.").format(learnt.tiles))
        else:
            self.told.emit(self.tr("The reading goes by the shipped rules."))

    def _fail(self, fault: Exception) -> None:
        if not isinstance(fault, (InputError, OSError)):
            raise fault
        self.told.emit(in_a_sentence(words_of(fault)))
