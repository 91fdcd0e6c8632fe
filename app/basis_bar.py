"""The head of the bench: where the recipe stands, its firing and its body."""

from __future__ import annotations

from dataclasses import replace
from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QWidget

from app.document import Document
from app.figure_line import FigureLine
from app.quiet_combo import QuietComboBox
from app.theme import Palette
from core.firing import Firing
from core.recipe import Recipe
from core.studio import Studio

_MISSING_ROLE = Qt.ItemDataRole.UserRole + 1


class BasisBar(QWidget):
    """Shows studio, recipe and variant; chooses firing and body."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        # A long name gives way in its middle; variant and "unsaved" stay in sight.
        self.place = FigureLine(elide=Qt.TextElideMode.ElideMiddle)
        self.firing = QuietComboBox()
        self.body = QuietComboBox()
        layout = QHBoxLayout(self)
        layout.setContentsMargins(8, 0, 8, 0)
        layout.setSpacing(8)
        layout.addWidget(self.place, 1)
        for text, box in ((self.tr("&Firing"), self.firing), (self.tr("&Body"), self.body)):
            label = QLabel(text)
            label.setBuddy(box)
            box.setMinimumHeight(26)
            box.setMaximumWidth(220)
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
            box.setAccessibleName(text.replace("&", ""))
            layout.addWidget(label)
            layout.addWidget(box)
        self.firing.activated.connect(self._on_firing_chosen)
        self.body.activated.connect(self._on_body_chosen)
        document.studio_changed.connect(self._on_studio_changed)
        document.firings_changed.connect(self._on_firings_changed)
        document.recipe_changed.connect(self._on_recipe_changed)
        document.undo_stack.cleanChanged.connect(self._on_clean_changed)
        self._on_studio_changed(document.studio)
        self._on_recipe_changed(document.recipe)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self.place.set_palette(palette)

    def _on_studio_changed(self, studio: Studio) -> None:
        self.firing.clear()
        self._on_firings_changed(studio)
        self.body.clear()
        for body in studio.bodies.values():
            self.body.addItem(body.name, body.id)

    def _on_firings_changed(self, studio: Studio) -> None:
        """Bring the list of firings up to date; a drag changes one text and nothing else."""
        box = self.firing
        for place in range(box.count() - 1, -1, -1):
            if box.itemData(place) not in studio.firings:
                box.removeItem(place)
        for place, firing in enumerate(studio.firings.values()):
            text = _firing_text(firing)
            if box.itemData(place) != firing.id:
                stale = box.findData(firing.id)
                if stale >= 0:
                    box.removeItem(stale)
                box.insertItem(place, text, firing.id)
            elif box.itemText(place) != text:
                box.setItemText(place, text)

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        studio = self._document.studio
        steps = [studio.name or self.tr("no studio"), recipe.name]
        if recipe.based_on:
            steps.append(self.tr("from variant {}").format(recipe.based_on))
        text = " ▸ ".join(steps) + (self.tr("  (unsaved)") if self._document.modified else "")
        if text != self.place.text():
            self.place.setText(text)
            self.place.setToolTip(escape(text))
        _show(self.firing, recipe.firing)
        _show(self.body, recipe.body)

    def _on_clean_changed(self, _clean: bool) -> None:
        self._on_recipe_changed(self._document.recipe)

    def _on_firing_chosen(self, _index: int) -> None:
        recipe, chosen = self._document.recipe, self.firing.currentData()
        text = self.tr("Firing {}").format(self.firing.currentText())
        self._document.edit(text, replace(recipe, firing=chosen))

    def _on_body_chosen(self, _index: int) -> None:
        recipe, chosen = self._document.recipe, self.body.currentData()
        text = self.tr("Body {}").format(self.body.currentText())
        self._document.edit(text, replace(recipe, body=chosen))


def _firing_text(firing: Firing) -> str:
    name = firing.name or firing.id
    return name + (f"  {firing.peak_c:.0f} °C" if firing.peak_c is not None else "")


def _show(box: QComboBox, wanted: str) -> None:
    """Show an id in a box; one that the tables lack is shown as it stands."""
    if box.currentData() == wanted:
        return
    for stale in range(box.count() - 1, -1, -1):
        if box.itemData(stale, _MISSING_ROLE) and box.itemData(stale) != wanted:
            box.removeItem(stale)
    place = box.findData(wanted)
    if place < 0:
        box.addItem(f"{wanted} (missing)" if wanted else "–", wanted)
        place = box.count() - 1
        box.setItemData(place, True, _MISSING_ROLE)
    box.setCurrentIndex(place)
