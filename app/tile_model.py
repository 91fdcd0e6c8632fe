"""The tiles that the wall shows: entries of the index, as Qt reads them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from core.tiles.index import UNREAD, TileEntry

ENTRY_ROLE: Final = Qt.ItemDataRole.UserRole
_NOWHERE = QModelIndex()

Key = tuple[str, str]
"""File of the run and code of the tile."""


def key_of(entry: TileEntry) -> Key:
    """Return what names a tile in a studio."""
    return entry.file, entry.code


class TileModel(QAbstractListModel):
    """Holds entries in the order of the wall; an edited tile changes in its place."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._entries: list[TileEntry] = []
        self._rows: dict[Key, int] = {}

    @property
    def entries(self) -> tuple[TileEntry, ...]:
        """What the wall shows."""
        return tuple(self._entries)

    def show_entries(self, entries: Iterable[TileEntry]) -> None:
        """Show other tiles."""
        self.beginResetModel()
        self._entries = list(entries)
        self._rows = {key_of(entry): row for row, entry in enumerate(self._entries)}
        self.endResetModel()

    def update_entries(self, entries: Mapping[Key, TileEntry]) -> None:
        """Take what is known of some tiles now; those that are not shown are left aside."""
        for key, entry in entries.items():
            row = self._rows.get(key)
            if row is not None and self._entries[row] != entry:
                self._entries[row] = entry
                index = self.index(row)
                self.dataChanged.emit(index, index)

    def announce_photo(self, name: str) -> None:
        """Have the tiles with a photo painted anew."""
        for row, entry in enumerate(self._entries):
            if entry.photo == name:
                index = self.index(row)
                self.dataChanged.emit(index, index, [Qt.ItemDataRole.DecorationRole])

    def row_of(self, key: Key) -> int:
        """Return the place of a tile on the wall, or -1."""
        return self._rows.get(key, -1)

    def rowCount(self, parent: QModelIndex | QPersistentModelIndex = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._entries)

    def data(
        self,
        index: QModelIndex | QPersistentModelIndex,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        if not index.isValid():
            return None
        entry = self._entries[index.row()]
        if role == ENTRY_ROLE:
            return entry
        if role == Qt.ItemDataRole.DisplayRole:
            return entry.code
        if role == Qt.ItemDataRole.ToolTipRole:
            return "\n".join(part for part in (self.words(entry), entry.run) if part)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self.words(entry)
        return None

    def words(self, entry: TileEntry) -> str:
        """Say what is known of a tile in a line."""
        surface = self.tr("not read yet") if entry.surface == UNREAD else entry.surface
        parts = (entry.code, entry.label, surface, *entry.defects)
        return ", ".join(part for part in parts if part)
