"""The panel of the saved variants: a tree with what each changed, row by row."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTreeView,
    QVBoxLayout,
    QWidget,
)

from app import formatting
from app.cell_copy import copy_as_cell
from app.document import Document
from core.recipe import Recipe, Section, Variant
from core.variants import (
    RowChange,
    changes,
    delete_variant,
    open_variant,
    rows_of,
    with_reason,
)

NAME_ROLE = Qt.ItemDataRole.UserRole + 1


class VariantsPanel(QWidget):
    """Lists, opens, compares and deletes variants."""

    selection_changed = Signal(bool)
    """Whether any variant is selected."""
    reason_edited = Signal()
    """The editor of a reason was closed."""
    compare_asked = Signal(list)  # of two names; an empty name is the open recipe
    save_asked = Signal()

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._variants: tuple[Variant, ...] | None = None
        self._based_on = ""
        self._shown: object = None
        self.model = QStandardItemModel(0, 2, self)
        self.model.setHorizontalHeaderLabels([self.tr("Variant"), self.tr("Reason, and change")])
        self.model.itemChanged.connect(self._on_item_changed)
        self.tree = _VariantTree()
        copy_as_cell(self.tree)
        self.tree.setModel(self.model)
        self.tree.setAccessibleName(self.tr("Saved variants"))
        self.tree.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.tree.setEditTriggers(QAbstractItemView.EditTrigger.EditKeyPressed)
        self.tree.setUniformRowHeights(True)
        self.tree.setMinimumHeight(80)
        self.tree.setIndentation(12)
        self.tree.header().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.tree.header().setStretchLastSection(True)
        self.tree.itemDelegate().closeEditor.connect(self.reason_edited)
        self.tree.doubleClicked.connect(self._open_index)
        self.tree.delete_pressed.connect(self.delete_selected)
        self.tree.open_pressed.connect(self.open_selected)
        self.empty = QLabel(
            self.tr("No variants yet. Ctrl+D keeps the rows as they stand, with a reason.")
        )
        self.empty.setWordWrap(True)
        buttons = QHBoxLayout()
        buttons.setSpacing(4)
        self.buttons: dict[str, QPushButton] = {}
        for name, text, tip, slot in (
            ("save", self.tr("Save"), self.tr("Save a variant (Ctrl+D)"), self.save_asked.emit),
            ("open", self.tr("Open"), self.tr("Open the variant (Enter)"), self.open_selected),
            (
                "compare",
                self.tr("Compare"),
                self.tr("Compare two variants, or one with the rows as they stand"),
                self.compare_selected,
            ),
            (
                "delete",
                self.tr("Delete"),
                self.tr("Delete the variant (Del)"),
                self.delete_selected,
            ),
        ):
            button = QPushButton(text)
            button.setToolTip(tip)
            button.setMinimumWidth(20)
            button.clicked.connect(slot)
            buttons.addWidget(button)
            self.buttons[name] = button
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.setSpacing(4)
        layout.addWidget(self.empty)
        layout.addWidget(self.tree, 1)
        layout.addLayout(buttons)
        self.tree.selectionModel().selectionChanged.connect(self._enable_buttons)
        document.recipe_changed.connect(self._on_recipe_changed)
        self._on_recipe_changed(document.recipe)

    def selected_names(self) -> list[str]:
        """Return the names of the selected variants, in the order of the tree."""
        indexes = sorted(self.tree.selectionModel().selectedRows(0), key=lambda i: i.row())
        names = [index.data(NAME_ROLE) for index in indexes]
        return list(dict.fromkeys(name for name in names if name))

    def open_selected(self) -> None:
        """Bring the rows of the selected variant to the bench."""
        names = self.selected_names()
        if names:
            self._document.edit(
                self.tr("Open variant {}").format(names[0]),
                open_variant(self._document.recipe, names[0]),
            )

    def compare_selected(self) -> None:
        """Ask for a comparison of two variants, or of one with the rows as they stand."""
        names = self.selected_names()[:2]
        if names:
            self.compare_asked.emit(names if len(names) == 2 else [names[0], ""])

    def delete_selected(self) -> None:
        """Delete the selected variants as one step."""
        names = self.selected_names()
        recipe = self._document.recipe
        for name in names:
            recipe = delete_variant(recipe, name)
        if names:
            self._document.edit(self.tr("Delete variant {}").format(", ".join(names)), recipe)

    def edit_reason(self, name: str) -> None:
        """Open the reason of a variant for typing."""
        for item in self._items():
            if item.data(NAME_ROLE) == name:
                index = self.model.indexFromItem(item).siblingAtColumn(1)
                self.tree.setFocus()
                self.tree.setCurrentIndex(index)
                self.tree.scrollTo(index)
                self.tree.edit(index)

    def _items(self) -> list[QStandardItem]:
        found: list[QStandardItem] = []
        waiting = [self.model.item(row) for row in range(self.model.rowCount())]
        while waiting:
            item = waiting.pop(0)
            found.append(item)
            waiting += [item.child(row) for row in range(item.rowCount())]
        return found

    def _on_recipe_changed(self, recipe: Recipe) -> None:
        if recipe.variants is self._variants and recipe.based_on == self._based_on:
            return
        self._variants, self._based_on = recipe.variants, recipe.based_on
        # A changed reason alone is set in place: its editor may still be open.
        shown = (tuple(replace(v, reason="") for v in recipe.variants), recipe.based_on)
        if shown == self._shown:
            self._show_reasons(recipe)
            return
        self._shown = shown
        self.model.removeRows(0, self.model.rowCount())
        placed: dict[str, QStandardItem] = {}
        waiting = list(recipe.variants)
        names = {variant.name for variant in waiting}
        children = Counter(variant.based_on for variant in waiting)
        root = self.model.invisibleRootItem()
        while waiting:
            # Parents before children; a circle in a file made by hand is cut.
            ready = [v for v in waiting if v.based_on not in names or v.based_on in placed]
            for variant in ready or waiting[:1]:
                before = placed.get(variant.based_on)
                # An only child stands beside its parent: a long line of nudges
                # would run out of the panel. Only a fork makes a branch.
                if before is not None and children[variant.based_on] == 1:
                    before = before.parent()
                placed[variant.name] = self._append(before or root, recipe, variant)
                waiting.remove(variant)
        self.tree.expandAll()
        self.empty.setVisible(not recipe.variants)
        self.tree.setVisible(bool(recipe.variants))
        self._enable_buttons()

    def _show_reasons(self, recipe: Recipe) -> None:
        for item in self._items():
            variant = recipe.variant(item.data(NAME_ROLE) or "")
            if variant is not None:
                place = self.model.indexFromItem(item).siblingAtColumn(1)
                reason = self.model.itemFromIndex(place)
                if reason.text() != variant.reason:
                    reason.setText(variant.reason)

    def _append(self, parent: QStandardItem, recipe: Recipe, variant: Variant) -> QStandardItem:
        here = variant.name == recipe.based_on
        name = QStandardItem(f"{variant.name}  ●" if here else variant.name)
        name.setEditable(False)
        name.setData(variant.name, NAME_ROLE)
        if here:
            name.setToolTip(self.tr("The rows on the bench came from this variant"))
        reason = QStandardItem(variant.reason)
        reason.setData(variant.name, NAME_ROLE)
        reason.setToolTip(self.tr("Saved {}. F2 changes the reason").format(variant.saved))
        parent.appendRow([name, reason])
        before = recipe.variant(variant.based_on)
        if before is not None:
            for change in changes(rows_of(before), rows_of(variant)):
                name.appendRow(self._change_row(change))
        return name

    def _change_row(self, change: RowChange) -> list[QStandardItem]:
        material = self._document.evaluation.studio.materials.get(change.material)
        text = material.name if material is not None else change.material
        unit = "" if change.section is Section.BASE else " %"
        amounts = " → ".join(
            "–" if value is None else formatting.parts(value) + unit
            for value in (change.before, change.after)
        )
        row = [
            QStandardItem(formatting.signed(change.difference) + unit),
            QStandardItem(f"{text} {amounts}"),
        ]
        for item in row:
            item.setEditable(False)
            item.setSelectable(False)
        return row

    def _on_item_changed(self, item: QStandardItem) -> None:
        name = item.data(NAME_ROLE)
        if item.column() == 1 and name:
            recipe = self._document.recipe
            variant = recipe.variant(name)
            reason = " ".join(item.text().split())
            if variant is not None and reason != variant.reason:
                self._document.edit(
                    self.tr("Reason of variant {}").format(name),
                    with_reason(recipe, name, reason),
                )

    def _open_index(self, index: QModelIndex) -> None:
        if index.data(NAME_ROLE):
            self.open_selected()

    def _enable_buttons(self, *_: object) -> None:
        some = bool(self.selected_names())
        for name in ("open", "compare", "delete"):
            self.buttons[name].setEnabled(some)
        self.selection_changed.emit(some)


class _VariantTree(QTreeView):
    """A tree in which Enter opens and Delete deletes."""

    open_pressed = Signal()
    delete_pressed = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == QTreeView.State.EditingState:
            # The editor passes on its own Enter; it means the reason, not the variant.
            super().keyPressEvent(event)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.open_pressed.emit()
        elif event.key() == Qt.Key.Key_Delete:
            self.delete_pressed.emit()
        else:
            super().keyPressEvent(event)
