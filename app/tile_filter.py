"""The filter line over the wall: free text, and surface, body and cone to choose from."""

from __future__ import annotations

from collections import Counter

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QToolButton, QVBoxLayout, QWidget

from app.quiet_combo import QuietComboBox
from app.tile_search import TileSearch
from core.firing.cones import rank
from core.tiles.index import UNREAD, Query
from core.tiles.result import Surface


class TileFilter(QWidget):
    """Says what to look for; every key counts at once."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._filling = False
        self.words = _FilterEdit()
        self.words.setPlaceholderText(
            self.tr("code, label, recipe, material, cone 10, defect, MgO > 0.3…")
        )
        self.words.setAccessibleName(self.tr("Find tiles by words"))
        self.words.setToolTip(
            self.tr(
                "Words that all stand in a tile's code, label, run, recipe, materials or defects; "
                "also “cone 10”, “MgO 0.2-0.4”, “SiO2 > 3” (unity formula). Ctrl+F"
            )
        )
        self.words.setMaxLength(200)
        self.surface = self._combo(self.tr("Surface"))
        self.body = self._combo(self.tr("Body"))
        self.cone = self._combo(self.tr("Cone"))
        self.clear_button = QToolButton()
        self.clear_button.setText(self.tr("All"))
        self.clear_button.setAccessibleName(self.tr("Show all tiles again"))
        self.clear_button.setToolTip(self.tr("Show all tiles again (Esc in the line)"))
        self.clear_button.setMinimumSize(28, 28)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self.words)
        choices = QHBoxLayout()
        choices.setSpacing(4)
        for combo in (self.surface, self.body, self.cone):
            choices.addWidget(combo, 1)
        choices.addWidget(self.clear_button)
        layout.addLayout(choices)
        self.offer(None)
        self.words.textChanged.connect(self._on_changed)
        self.words.cleared.connect(self.clear)
        self.clear_button.clicked.connect(self.clear)
        for combo in (self.surface, self.body, self.cone):
            combo.currentIndexChanged.connect(self._on_changed)

    @property
    def query(self) -> Query:
        """What the choices ask for; the words stand beside it in `text`."""
        return Query(
            surfaces=_chosen(self.surface),
            bodies=_chosen(self.body),
            cones=_chosen(self.cone),
        )

    @property
    def text(self) -> str:
        """The words."""
        return self.words.text()

    @property
    def is_empty(self) -> bool:
        """Whether every tile is asked for."""
        return self.query == Query() and not self.text.strip()

    def offer(self, search: TileSearch | None) -> None:
        """Offer what there is among the tiles, with counts; what was chosen stays chosen."""
        self._filling = True
        names = ("surface", "body", "cone")
        found = search.counts(*names) if search is not None else [Counter[str]() for _ in names]
        surfaces, bodies, cones = found
        for combo, title, values, counts in (
            (self.surface, self.tr("any surface"), [UNREAD, *Surface], surfaces),
            (self.body, self.tr("any body"), sorted(bodies), bodies),
            (self.cone, self.tr("any cone"), sorted(cones, key=_place), cones),
        ):
            chosen = combo.currentData()
            combo.clear()
            combo.addItem(title, "")
            for value in values:
                if value and (counts.get(value) or value == chosen):
                    words = self.tr("cone {}").format(value) if combo is self.cone else str(value)
                    combo.addItem(f"{words} ({counts.get(value, 0)})", str(value))
            combo.setCurrentIndex(max(0, combo.findData(chosen) if chosen else 0))
        self._filling = False

    def clear(self) -> None:
        """Ask for every tile."""
        self._filling = True
        self.words.clear()
        for combo in (self.surface, self.body, self.cone):
            combo.setCurrentIndex(0)
        self._filling = False
        self.changed.emit()

    def _combo(self, name: str) -> QuietComboBox:
        combo = QuietComboBox()
        combo.setAccessibleName(self.tr("{} to look for").format(name))
        combo.setMinimumHeight(28)
        combo.setMinimumContentsLength(8)
        combo.setSizeAdjustPolicy(
            QuietComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        return combo

    def _on_changed(self, *_: object) -> None:
        if not self._filling:
            self.changed.emit()


class _FilterEdit(QLineEdit):
    """A line that Esc empties."""

    cleared = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setMinimumHeight(28)
        self.setClearButtonEnabled(True)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.cleared.emit()
        else:
            super().keyPressEvent(event)


def _chosen(combo: QuietComboBox) -> frozenset[str]:
    value = combo.currentData()
    return frozenset({value}) if value else frozenset()


def _place(cone: str) -> tuple[int, str]:
    found = rank(cone)
    return (-1 if found is None else found, cone)
