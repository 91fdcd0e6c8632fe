"""The project's own icons, drawn in the ink of the palette in force."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from app.theme import Palette, Role

RATIOS = (1, 2)
"""Device pixel ratios for which an icon is drawn."""


@lru_cache(maxsize=1)
def icon_folder() -> Path:
    """Return the folder of the SVG files, installed or in a checkout."""
    here = Path(__file__).resolve().parent
    packed = here / "_icons"
    return packed if packed.is_dir() else here.parent / "icons"


@lru_cache(maxsize=1)
def icon_names() -> frozenset[str]:
    """Return the names that `icon` knows."""
    return frozenset(path.stem for path in icon_folder().glob("*.svg"))


@lru_cache(maxsize=128)
def _drawing(name: str) -> str:
    if name not in icon_names():
        raise KeyError(name)
    return (icon_folder() / f"{name}.svg").read_text(encoding="utf-8")


def icon(name: str, palette: Palette, size: int = 20, role: Role = Role.INK) -> QIcon:
    """Return the icon `name` in the colour of `role`, muted where it is disabled.

    `size` is the side [device-independent px]. An unknown name is a KeyError.
    """
    drawing = _drawing(name)
    made = QIcon()
    # Active and selected fall back on normal.
    for mode, ours in ((QIcon.Mode.Normal, role), (QIcon.Mode.Disabled, Role.MUTED)):
        for ratio in RATIOS:
            made.addPixmap(_render(drawing, palette.hex(ours), size, ratio), mode)
    return made


def icon_pixmap(
    name: str, palette: Palette, size: int = 16, role: Role = Role.INK, ratio: float = 1.0
) -> QPixmap:
    """Return the icon `name` as a picture, for a sign beside words or a delegate."""
    return _kept_picture(name, palette.hex(role), size, ratio)


@lru_cache(maxsize=64)
def _kept_picture(name: str, color: str, size: int, ratio: float) -> QPixmap:
    return _render(_drawing(name), color, size, ratio)


def _render(drawing: str, color: str, size: int, ratio: float) -> QPixmap:
    renderer = QSvgRenderer(QByteArray(drawing.replace("currentColor", color).encode()))
    pixels = max(1, round(size * ratio))
    pixmap = QPixmap(pixels, pixels)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    renderer.render(painter, QRectF(0, 0, pixels, pixels))
    painter.end()
    pixmap.setDevicePixelRatio(ratio)
    return pixmap
