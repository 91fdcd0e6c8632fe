"""What the program remembers between sessions: typed keys over QSettings."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

MOST_RECENT = 8
_LAYOUT_VERSION = 4


class Settings:
    """Remembers layout, theme, recent files and the last card."""

    def __init__(self, store: QSettings | None = None) -> None:
        self._store = store or QSettings("Glost", "Glost")

    @property
    def theme(self) -> str:
        """light, dark or system."""
        value = str(self._store.value("theme", "system"))
        return value if value in ("light", "dark", "system") else "system"

    @theme.setter
    def theme(self, choice: str) -> None:
        self._store.setValue("theme", choice)

    @property
    def recent(self) -> list[Path]:
        """Recipe files, the newest first."""
        value = self._store.value("recent", [])
        names = [value] if isinstance(value, str) else list(value or [])
        return [Path(name) for name in names if name]

    def add_recent(self, path: Path) -> None:
        """Put a file at the head of the recent ones."""
        kept = [known for known in self.recent if known != path]
        self._store.setValue("recent", [str(p) for p in (path, *kept)][:MOST_RECENT])

    def forget_recent(self, path: Path) -> None:
        """Take a file that is gone off the list."""
        self._store.setValue("recent", [str(p) for p in self.recent if p != path])

    @property
    def layout(self) -> tuple[QByteArray, QByteArray] | None:
        """Geometry and docks of the window, or None before the first close."""
        if self._store.value("layout/version", 0, int) != _LAYOUT_VERSION:
            return None
        geometry, state = self._store.value("layout/geometry"), self._store.value("layout/state")
        if isinstance(geometry, QByteArray) and isinstance(state, QByteArray):
            return geometry, state
        return None

    def keep_layout(self, geometry: QByteArray, state: QByteArray) -> None:
        """Remember geometry and docks of the window."""
        self._store.setValue("layout/version", _LAYOUT_VERSION)
        self._store.setValue("layout/geometry", geometry)
        self._store.setValue("layout/state", state)

    def text(self, key: str, default: str) -> str:
        """Return a remembered word."""
        return str(self._store.value(f"words/{key}", default))

    def keep_text(self, key: str, value: str) -> None:
        """Remember a word."""
        self._store.setValue(f"words/{key}", value)
