"""Two to six tiles beside each other: large pictures and what was read from each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.formatting import NOTHING
from app.result_draft import Field, texts_of
from app.soundness_form import standing_words
from app.theme import LIGHT, Palette
from app.thumbnails import Thumbnails
from app.tile_wall import TilePainter
from core.tiles.index import UNREAD
from core.tiles.run import Run, Tile

MOST: Final = 6
LEAST: Final = 2

Pair = tuple[Run, Tile]


class SideBySide(QWidget):
    """Shows tiles in columns; Esc goes back to the wall."""

    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors: Palette = LIGHT
        self._thumbnails: Thumbnails | None = None
        self.pictures: list[_Picture] = []
        self.back_button = QPushButton(self.tr("&Back to the wall"))
        self.back_button.setToolTip(self.tr("Back to the wall (Esc)"))
        self.back_button.setMinimumHeight(28)
        self.back_button.clicked.connect(self.left)
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setAccessibleName(self.tr("Tiles side by side"))
        top = QHBoxLayout()
        top.addWidget(self.back_button)
        top.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addLayout(top)
        layout.addWidget(self._area, 1)

    def show_thumbnails(self, thumbnails: Thumbnails | None) -> None:
        """Take the small pictures of a studio's photos."""
        self._thumbnails = thumbnails
        if thumbnails is not None:
            thumbnails.ready.connect(self._on_ready)

    def show_tiles(self, pairs: Sequence[Pair]) -> None:
        """Show up to six tiles."""
        page = QWidget()
        grid = QGridLayout(page)
        grid.setContentsMargins(8, 8, 8, 8)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(4)
        self.pictures = []
        rows: tuple[tuple[str, Callable[[Run, Tile], str]], ...] = (
            ("", lambda run, tile: tile.label),
            (self.tr("Run"), lambda run, tile: run.name),
            (self.tr("Surface"), self._reader(Field.SURFACE)),
            (self.tr("Touch"), self._reader(Field.TOUCH)),
            (self.tr("Gloss"), self._gloss),
            (self.tr("Defects"), self._reader(Field.DEFECTS)),
            (self.tr("Marks"), self._reader(Field.MARKS)),
            (self.tr("Cleans"), self._reader(Field.CLEANS)),
            (self.tr("Thick, mm"), self._reader(Field.THICKNESS)),
            (self.tr("Cone there"), self._reader(Field.LOCAL_CONE)),
            (self.tr("Cooling"), self._reader(Field.COOLING)),
            (self.tr("Soundness"), standing_words),
            (self.tr("Notes"), self._reader(Field.NOTES)),
        )
        for row, (title, _) in enumerate(rows, 2):
            grid.addWidget(_text(title), row, 0, Qt.AlignmentFlag.AlignTop)
        for column, (run, tile) in enumerate(pairs[:MOST], 1):
            picture = _Picture(tile, self._thumbnails, self._colors)
            self.pictures.append(picture)
            grid.addWidget(picture, 0, column)
            code = _text(tile.code)
            font = code.font()
            font.setBold(True)
            code.setFont(font)
            grid.addWidget(code, 1, column)
            for row, (_, words) in enumerate(rows, 2):
                text = _text(words(run, tile) or NOTHING)
                grid.addWidget(text, row, column, Qt.AlignmentFlag.AlignTop)
            grid.setColumnStretch(column, 1)
        grid.setRowStretch(len(rows) + 2, 1)
        self._area.setWidget(page)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        for picture in self.pictures:
            picture.set_palette(palette)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def _on_ready(self, name: str) -> None:
        for picture in self.pictures:
            if picture.photo == name:
                picture.update()

    def _reader(self, field: Field) -> Callable[[Run, Tile], str]:
        return lambda run, tile: texts_of(tile.result)[field]

    def _gloss(self, _run: Run, tile: Tile) -> str:
        texts = texts_of(tile.result)
        units, angle = texts[Field.GLOSS_UNITS], texts[Field.GLOSS_ANGLE]
        return self.tr("{} at {}°").format(units, angle) if units and angle else units


class _Picture(QWidget):
    """The photo of a tile, or the pattern of its surface."""

    def __init__(self, tile: Tile, thumbnails: Thumbnails | None, colors: Palette) -> None:
        super().__init__()
        result = tile.result
        self.photo = result.photo if result is not None else ""
        self._surface = result.surface.value if result and result.surface else UNREAD
        self._thumbnails = thumbnails
        self._painter = TilePainter()
        self._painter.set_palette(colors)
        self.setMinimumSize(64, 96)
        self.setMaximumHeight(200)
        self.setAccessibleName(self.tr("Picture of the tile {}").format(tile.code))

    def sizeHint(self) -> QSize:
        return QSize(120, 140)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._painter.set_palette(palette)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        photo = None
        if self.photo and self._thumbnails is not None:
            photo = self._thumbnails.picture(self.photo)
        self._painter.paint(painter, self.rect(), self._surface, photo, self.devicePixelRatioF())
        painter.end()


def _text(words: str) -> QLabel:
    label = QLabel(words)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    return label
