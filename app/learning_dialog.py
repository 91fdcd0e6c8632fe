"""What this kiln's own tiles teach the reading: said plainly, and taken up only when told to."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QDialog, QDialogButtonBox, QLabel, QVBoxLayout, QWidget

from app.dialog_buttons import without_pictures
from app.theme import Palette, Role, show_tick_box
from core.learn.fit import LearntRules

FEW_TILES = 12
"""Fewer than this nudge the rules; the words say so."""


class LearningDialog(QDialog):
    """Tells what was learnt from how many tiles; the tick is the switch."""

    def __init__(
        self,
        learnt: LearntRules,
        left_out: int,
        palette: Palette,
        taken: bool,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Learn from this kiln's tiles"))
        self.setMinimumWidth(520)
        self.switch = QCheckBox(self.tr("&Read by what these tiles taught"))
        self.switch.setChecked(taken and learnt.tiles > 0)
        self.switch.setEnabled(learnt.tiles > 0)
        show_tick_box(self.switch, palette)
        head = QLabel(self._head(learnt, left_out))
        head.setWordWrap(True)
        says = QLabel("\n".join(f"– {line}" for line in learnt.says))
        says.setWordWrap(True)
        says.setTextFormat(Qt.TextFormat.PlainText)
        says.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        how = QLabel(
            self.tr(
                "The shipped weights stand behind: a few tiles nudge them, thirty decide. One tile"
                " in twelve is taken for a mistake. The map says whose zones it draws; untick to"
                " read as shipped again."
            )
        )
        how.setWordWrap(True)
        how.setStyleSheet(f"color: {palette.hex(Role.MUTED)}")
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        without_pictures(buttons)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(8)
        for widget in (head, says, how, self.switch):
            layout.addWidget(widget)
        layout.addStretch(1)
        layout.addWidget(buttons)

    @property
    def wanted(self) -> bool:
        """Whether the reading shall go by what was learnt."""
        return self.switch.isChecked()

    def _head(self, learnt: LearntRules, left_out: int) -> str:
        if not learnt.tiles:
            return self.tr(
                "No tile with a surface is read yet. Plan a run, fire it, read the tiles; then"
                " come back."
            )
        text = self.tr("{} tiles of {}.").format(learnt.tiles, learnt.whose)
        if learnt.right is not None and learnt.right_as_shipped is not None:
            text += self.tr(
                " Each left out in turn, the rules learnt from the others foretold {:.0f} % of"
                " them; the shipped rules {:.0f} %."
            ).format(100 * learnt.right, 100 * learnt.right_as_shipped)
        if learnt.tiles < FEW_TILES:
            text += self.tr(" That is few: the figures can turn with the next tile.")
        if left_out:
            text += self.tr(" {} could not count: a material or the firing is missing.").format(
                left_out
            )
        return text
