"""Saving and comparing variants."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QAbstractItemView, QWidget

from app import formatting
from app.compare_dialog import CompareDialog
from app.document import Document
from app.variants_panel import VariantsPanel
from core.evaluate import Evaluation, evaluate
from core.variants import as_recipe, changes, matching, rows_of, save_variant


class VariantActions(QObject):
    """Keeps the rows as a variant, and sets two states side by side."""

    refused = Signal(str)
    """Why nothing was saved, in words."""

    def __init__(self, document: Document, panel: VariantsPanel, window: QWidget) -> None:
        super().__init__(window)
        self._document = document
        self._panel = panel
        self._window = window
        panel.save_asked.connect(self.save)
        panel.compare_asked.connect(self.compare)
        panel.reason_edited.connect(self._give_focus_back)
        self._focus_before: QWidget | None = None

    def save(self) -> None:
        """Keep the rows as they stand; the reason is proposed and open for typing."""
        recipe = self._document.recipe
        same = matching(recipe)
        if same is not None:
            text = self.tr("these rows are kept already, as variant {}")
            self.refused.emit(text.format(same.name))
            return
        self._focus_before = _lasting(self._window.focusWidget())
        changed = save_variant(recipe, self.proposed_reason(), date.today().isoformat())
        name = changed.variants[-1].name
        self._document.edit(self.tr("Save variant {}").format(name), changed)
        self._panel.edit_reason(name)

    def _give_focus_back(self) -> None:
        """Go back to where the save began, so that the next nudge needs no mouse."""
        if self._focus_before is not None:
            self._focus_before.setFocus()
            self._focus_before = None

    def proposed_reason(self) -> str:
        """Return what changed since the variant that the rows came from."""
        recipe = self._document.recipe
        before = recipe.variant(recipe.based_on)
        if before is None:
            return self.tr("base") if not recipe.variants else ""
        texts = [
            f"{self._name(change.material)} {formatting.signed(change.difference)}"
            for change in changes(rows_of(before), rows_of(recipe))
        ]
        return ", ".join(texts[:4]) + ("…" if len(texts) > 4 else "")

    def compare(self, names: list[str]) -> None:
        """Show two states side by side; an empty name is the open recipe."""
        states = [(self._title(name), self._evaluation(name)) for name in names]
        dialog = CompareDialog(states[0], states[1], self._window)
        dialog.show()

    def _title(self, name: str) -> str:
        return self.tr("Variant {}").format(name) if name else self.tr("On the bench")

    def _evaluation(self, name: str) -> Evaluation:
        recipe = self._document.recipe
        variant = recipe.variant(name) if name else None
        if variant is None:
            return self._document.evaluation
        document = self._document
        return evaluate(
            as_recipe(recipe, variant),
            document.studio,
            document.base_alone,
            rules=document.evaluation.rules,
        )

    def _name(self, material_id: str) -> str:
        material = self._document.studio.materials.get(material_id)
        return material.name if material is not None else material_id


def _lasting(widget: QWidget | None) -> QWidget | None:
    """Return the table whose cell editor has the focus, which closes when it loses it."""
    ancestor = widget
    while ancestor is not None:
        if isinstance(ancestor, QAbstractItemView):
            return ancestor
        ancestor = ancestor.parentWidget()
    return widget
