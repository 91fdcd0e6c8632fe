"""Small pictures of photos: made in the background, kept in the user's cache."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from contextlib import suppress
from pathlib import Path
from typing import Final

from PySide6.QtCore import QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader, QPixmap

from app.photo_files import is_plain_name
from app.worker import run_in_background

SIDE: Final = 256
"""Longest side of a small picture as it is kept [px]."""
_MOST_WAITING: Final = 200
_MOST_KEPT: Final = 400
_LARGEST_PIXELS: Final = 400_000_000


class Thumbnails(QObject):
    """Gives the small picture of a photo, or nothing yet; `ready` says when it is there."""

    ready = Signal(str)
    """Name of the photo whose picture was made, or turned out not to be one."""

    def __init__(self, photos: Path, cache: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._photos, self._cache = photos, cache
        self._made: OrderedDict[str, QPixmap] = OrderedDict()
        self._waiting: list[str] = []
        self._busy = ""

    def picture(self, name: str) -> QPixmap | None:
        """Return the picture of a photo; None while it is being made; a null one if it fails."""
        found = self._made.get(name)
        if found is not None:
            self._made.move_to_end(name)
            return found
        if not is_plain_name(name):
            return QPixmap()
        if name != self._busy:
            # What was asked for last is what is being looked at.
            if name in self._waiting:
                self._waiting.remove(name)
            self._waiting.append(name)
            del self._waiting[:-_MOST_WAITING]
        self._begin()
        return None

    def forget(self) -> None:
        """Make pictures anew where the photos have changed."""
        self._made.clear()

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being made."""
        return not self._busy and not self._waiting

    def _begin(self) -> None:
        if self._busy or not self._waiting:
            return
        name = self._busy = self._waiting.pop()
        path, cache = self._photos / name, self._cache
        run_in_background(self, lambda: make_thumbnail(path, cache), self._on_made, self._on_failed)

    def _on_made(self, image: QImage) -> None:
        name, self._busy = self._busy, ""
        self._made[name] = QPixmap.fromImage(image)
        while len(self._made) > _MOST_KEPT:
            self._made.popitem(last=False)
        self.ready.emit(name)
        self._begin()

    def _on_failed(self, _fault: Exception) -> None:
        self._on_made(QImage())


def make_thumbnail(photo: Path, cache: Path) -> QImage:
    """Return the small picture of a photo, from the cache where it is there; null if it is none.

    Works in any thread. The photo is only read.
    """
    try:
        stat = photo.stat()
    except OSError:
        return QImage()
    mark = f"{photo.resolve()}\n{stat.st_size}\n{stat.st_mtime_ns}\n{SIDE}"
    kept = cache / f"{hashlib.sha256(mark.encode()).hexdigest()[:32]}.jpg"
    if kept.is_file():
        image = QImage(str(kept))
        if not image.isNull():
            return image
    image = read_small(photo, SIDE)
    if not image.isNull():
        # Without its cache the wall shows as well, only later.
        with suppress(OSError):
            cache.mkdir(parents=True, exist_ok=True)
            image.save(str(kept), "JPG", 85)  # type: ignore[call-overload]
    return image


def read_small(photo: Path, side: int) -> QImage:
    """Read a photo so that its longest side has at most `side` pixels; null if it is none."""
    reader = QImageReader(str(photo))
    reader.setAutoTransform(True)
    reader.setDecideFormatFromContent(True)
    size = reader.size()
    if size.width() * size.height() > _LARGEST_PIXELS:
        return QImage()
    if size.isValid() and max(size.width(), size.height()) > side:
        # Read small: a photo of a camera takes dozens of megabytes otherwise.
        reader.setScaledSize(size.scaled(QSize(side, side), Qt.AspectRatioMode.KeepAspectRatio))
    image = reader.read()
    if max(image.width(), image.height()) > side:
        image = image.scaled(
            QSize(side, side),
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
    return image
