"""The card of the recipe as it stands on the bench."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from app.document import Document
from app.settings import Settings
from core.evaluate import evaluate
from core.variants import matching

if TYPE_CHECKING:
    from app.card import CardRequest
    from app.card_dialog import CardDialog


class CardActions(QObject):
    """Opens the dialog that shows, prints and saves the card."""

    def __init__(self, document: Document, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._settings = settings
        self._window = window

    def show(self) -> None:
        """Show the card."""
        self.dialog().exec()

    def dialog(self) -> CardDialog:
        """Return the dialog of the card, of the whole recipe whatever the panels show."""
        # Printing is loaded with the first card, not at every start.
        from app.card import CardRequest
        from app.card_dialog import CardDialog

        document = self._document
        learnt = document.evaluation.rules if document.learnt is not None else None
        evaluation = evaluate(document.recipe, document.studio, rules=learnt)
        variant = matching(self._document.recipe)

        def request(batch_grams: float, readout_g: float) -> CardRequest:
            return CardRequest(
                evaluation=evaluation,
                variant=variant.name if variant is not None else "",
                batch_grams=batch_grams,
                readout_g=readout_g,
                day=date.today().isoformat(),
            )

        return CardDialog(request, self._document.studio.scales, self._settings, self._window)
