"""From a wish back to the rows: aim, swap, the steadiest neighbour, rounding."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QWidget

from app.document import Document
from app.formatting import in_a_sentence, parts, signed
from app.problems import words_of
from app.theme import Theme
from core.errors import InputError
from core.recipe import Recipe
from core.variants import next_name

if TYPE_CHECKING:
    from app.aim_dialog import AimDialog
    from app.steady_dialog import SteadyDialog
    from app.swap_dialog import SwapDialog


class SolveActions(QObject):
    """Opens the dialogs and takes what they found to the rows or to a variant."""

    told = Signal(str)
    """What was done, or why nothing was, in words."""

    def __init__(self, document: Document, theme: Theme, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._theme = theme
        self._window = window

    def aim(self) -> None:
        """Find recipes for a wanted formula."""
        dialog = self.aim_dialog()
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.proposal is not None:
            from core.solve import with_proposal

            recipe = with_proposal(self._document.recipe, dialog.proposal)
            self._take(self.tr("Aim at a formula"), recipe, dialog.as_variant)
        dialog.deleteLater()

    def aim_dialog(self) -> AimDialog:
        """Return the dialog that aims."""
        from app.aim_dialog import AimDialog

        return AimDialog(self._document, self._theme, self._window)

    def swap(self, out: str = "") -> None:
        """Put other materials in the place of one, that of the selected row to begin with."""
        dialog = self.swap_dialog(out)
        if dialog is None:
            return
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.swapped is not None:
            self._take(self.tr("Swap a material"), dialog.swapped.recipe, dialog.as_variant)
        dialog.deleteLater()

    def swap_dialog(self, out: str = "") -> SwapDialog | None:
        """Return the dialog that swaps, or None without rows."""
        from app.swap_dialog import SwapDialog

        evaluation = self._document.evaluation
        if not evaluation.recipe.base:
            self.told.emit(self.tr("There are no rows to swap yet."))
            return None
        return SwapDialog(evaluation, self._theme, out, self._window)

    def steady(self) -> None:
        """Find the neighbour that is least likely to go wrong."""
        dialog = self.steady_dialog()
        if dialog is None:
            return
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.recipe is not None:
            self._take(self.tr("Steadiest recipe"), dialog.recipe, dialog.as_variant)
        dialog.deleteLater()

    def steady_dialog(self) -> SteadyDialog | None:
        """Return the dialog of the steadiest recipe, or None without a reading."""
        from app.steady_dialog import SteadyDialog

        evaluation = self._document.evaluation
        if evaluation.reading.surface is None or evaluation.missing:
            self.told.emit(self.tr("There is no reading yet that could be steadied."))
            return None
        return SteadyDialog(evaluation, self._theme, self._window)

    def round(self, step: float) -> None:
        """Round the parts, total 100, so that the formula moves least."""
        from core.solve import round_recipe

        try:
            found = round_recipe(self._document.recipe, self._document.studio, step)
        except InputError as fault:
            self.told.emit(in_a_sentence(words_of(fault)))
            return
        self._document.edit(self.tr("Round to {} parts").format(parts(step)), found.recipe)
        oxide, shift = max(found.shifts.items(), key=lambda item: abs(item[1]), default=("", 0.0))
        text = self.tr("Rounded to {} parts.").format(parts(step))
        if oxide:
            text += " " + self.tr("The formula moved most in {}: {}").format(oxide, signed(shift))
        self.told.emit(text)

    def _take(self, text: str, recipe: Recipe, as_variant: bool) -> None:
        if not as_variant:
            self._document.edit(text, recipe)
            return
        # The rows on the bench stay as they are; the variant waits in its list.
        from core.solve import with_named_variant

        here = self._document.recipe
        name = next_name(here)
        changed = with_named_variant(here, recipe, name, text, date.today().isoformat())
        self._document.edit(self.tr("{}, kept as variant {}").format(text, name), changed)
        self.told.emit(self.tr("Kept as variant {}.").format(name))
