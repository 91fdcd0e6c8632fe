"""The photo of a firing: choose a file, see a small picture, take it away again."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QImageReader, QPixmap, QResizeEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QWidget

from app.photo_files import is_photo, is_plain_name
from app.theme import Palette, Role

_PICTURE = QSize(40, 28)


class PhotoField(QWidget):
    """Shows the name of a photo in `folder`, or of a file that is going to be copied there."""

    edited = Signal()
    refused = Signal(str)
    """A file was chosen that cannot be used; with the reason."""

    def __init__(self, folder: Path | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._folder = folder
        self._name = ""
        self._new: Path | None = None
        self.picture = QLabel()
        self.picture.setFixedSize(_PICTURE)
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.name = QLabel()
        self.name.setTextFormat(Qt.TextFormat.PlainText)
        self.name.setAccessibleName(self.tr("Photo"))
        self.name.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.choose_button = QPushButton(self.tr("Choose &photo…"))
        self.choose_button.setToolTip(
            self.tr("The file is copied into the studio's photos; the original stays as it is")
        )
        self.remove_button = QPushButton(self.tr("No photo"))
        self.remove_button.setToolTip(
            self.tr("Take the photo off this log; the file stays in the studio's photos")
        )
        for button, slot in (
            (self.choose_button, self.choose),
            (self.remove_button, self.take_off),
        ):
            button.setAutoDefault(False)
            button.setMinimumHeight(28)
            button.clicked.connect(slot)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(self.picture)
        layout.addWidget(self.name, 1)
        layout.addWidget(self.choose_button)
        layout.addWidget(self.remove_button)
        self.show_photo("", None)

    @property
    def photo(self) -> tuple[str, Path | None]:
        """The stored name, and the file that is to be copied, if any."""
        return self._name, self._new

    def show_photo(self, name: str, new: Path | None) -> None:
        """Show a stored photo, or a file that was chosen."""
        self._name, self._new = name, new
        text = self.tr("{} (copied with OK)").format(new.name) if new is not None else name
        self._text = text or self.tr("No photo yet")
        self.choose_button.setEnabled(self._folder is not None)
        self.remove_button.setEnabled(bool(name or new))
        self._show_picture()
        self._elide()

    def reason(self) -> str:
        """Say why no photo can be chosen; empty where one can."""
        if self._folder is not None:
            return ""
        return self.tr("a studio keeps photos; open or make one first")

    def choose(self) -> None:
        """Ask for a file."""
        name, _ = QFileDialog.getOpenFileName(
            self, self.tr("Choose a photo of the firing"), str(Path.home())
        )
        if name:
            self.take(Path(name))

    def take(self, path: Path) -> bool:
        """Take a file as the photo, or say why it cannot be one."""
        if self._folder is None:
            self.refused.emit(self.reason())
            return False
        if not is_photo(path):
            self.refused.emit(self.tr("{} is no picture; choose a photo").format(path.name))
            return False
        self.show_photo("", path)
        self.edited.emit()
        return True

    def take_off(self) -> None:
        """Take the photo off the log."""
        self.show_photo("", None)
        self.edited.emit()

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        own = self.name.palette()
        own.setColor(own.ColorRole.WindowText, palette.color(Role.MUTED))
        self.name.setPalette(own)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._elide()

    def _elide(self) -> None:
        metrics = QFontMetricsF(self.name.font())
        room = max(self.name.width(), 40)
        self.name.setText(metrics.elidedText(self._text, Qt.TextElideMode.ElideMiddle, room))
        self.name.setToolTip(self._text)
        self.name.setAccessibleDescription(self._text)

    def _show_picture(self) -> None:
        path = self._new
        if path is None and self._folder is not None and is_plain_name(self._name):
            path = self._folder / self._name
        self.picture.setPixmap(QPixmap())
        self.picture.setVisible(path is not None)
        if path is None or not path.is_file():
            return
        reader = QImageReader(str(path))
        reader.setAutoTransform(True)
        ratio = self.devicePixelRatioF()
        size = reader.size()
        if size.isValid():
            # Read small: a photo of a camera takes a hundred megabytes otherwise.
            reader.setScaledSize(size.scaled(_PICTURE * ratio, Qt.AspectRatioMode.KeepAspectRatio))
        image = reader.read()
        if not image.isNull():
            pixmap = QPixmap.fromImage(image)
            pixmap.setDevicePixelRatio(ratio)
            self.picture.setPixmap(pixmap)
