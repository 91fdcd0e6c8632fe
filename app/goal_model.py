"""The unity formula that is asked for: each oxide now, wanted and got."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from app.formatting import decimals, oxide_text
from app.theme import LIGHT, Palette, Role
from core.errors import InputError
from core.oxides import INDEX, OXIDES
from core.solve import Goal, Proposal, read_range
from core.solve.goals import REACHED

Index = QModelIndex | QPersistentModelIndex
FAULT_SIGN = "✕"
_NOWHERE = QModelIndex()
_PLACES = 3
_BETWEEN = re.compile(r"\s*(?:\bto\b|…|–)\s*", re.IGNORECASE)


class Column(IntEnum):
    """Columns from left to right."""

    OXIDE = 0
    NOW = 1
    WANTED = 2
    GOT = 3
    OFF = 4


def wanted_range(text: str, what: str) -> tuple[float, float]:
    """Read "0.35", "0.3..0.4", "0.3 to 0.4", "0.3.." or "free" as (least, most).

    Raises
    ------
    InputError
        If it is none of these.

    Examples
    --------
    >>> wanted_range("0,3 to 0,4", "MgO")
    (0.3, 0.4)
    """
    try:
        return read_range(_BETWEEN.sub("..", text), what)
    except InputError as fault:
        raise InputError(
            f"{what} cannot be “{text.strip()}”", "write 0.35, or a range as 0.3..0.4 or 0.3 to 0.4"
        ) from fault


class GoalModel(QAbstractTableModel):
    """Holds what is wanted as it was typed, by oxide; one row for each oxide on show."""

    def __init__(self, now: Sequence[float] | None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._now = None if now is None else [float(value) for value in now]
        self._oxides: list[str] = []
        self._texts: dict[str, str] = {}
        self._goals: dict[str, Goal] = {}
        self._faults: dict[str, InputError] = {}
        self._proposal: Proposal | None = None
        self._colors: Palette = LIGHT

    @property
    def oxides(self) -> tuple[str, ...]:
        """The oxides on show."""
        return tuple(self._oxides)

    @property
    def goals(self) -> tuple[Goal, ...]:
        """What is asked, in the order of the table."""
        return tuple(self._goals[oxide] for oxide in OXIDES if oxide in self._goals)

    @property
    def faults(self) -> Mapping[str, InputError]:
        """What cannot be read, by oxide."""
        return {oxide: self._faults[oxide] for oxide in OXIDES if oxide in self._faults}

    def show_oxides(self, oxides: Iterable[str]) -> None:
        """Show these oxides, and those for which something is typed."""
        wanted = set(oxides) | set(self._texts)
        for row in reversed(range(len(self._oxides))):
            if self._oxides[row] not in wanted:
                self.beginRemoveRows(QModelIndex(), row, row)
                del self._oxides[row]
                self.endRemoveRows()
        for oxide in OXIDES:
            if oxide in wanted and oxide not in self._oxides:
                row = sum(INDEX[other] < INDEX[oxide] for other in self._oxides)
                self.beginInsertRows(QModelIndex(), row, row)
                self._oxides.insert(row, oxide)
                self.endInsertRows()

    def show_proposal(self, proposal: Proposal | None) -> None:
        """Show what a proposal gives, or nothing."""
        if proposal is not self._proposal:
            self._proposal = proposal
            self._announce(Column.GOT, Column.OFF)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self._announce(Column.OXIDE, Column.OFF)

    def want_as_now(self) -> None:
        """Ask for the formula as it is."""
        if self._now is None:
            return
        for oxide in self._oxides:
            # With three decimals the fluxes may miss one by more than counts as reached.
            text = decimals(self._now[INDEX[oxide]], 4).rstrip("0").rstrip(".")
            self._take(oxide, text)
        self._announce(Column.WANTED, Column.WANTED, edited=True)

    def want_nothing(self) -> None:
        """Clear the whole column."""
        for oxide in self._oxides:
            self._take(oxide, "")
        self._announce(Column.WANTED, Column.WANTED, edited=True)

    def ratios(self) -> tuple[float | None, tuple[float, float] | None, float | None]:
        """Return SiO2:Al2O3 now, wanted (least, most) and got; None where there is none."""
        now = None if self._now is None else _ratio(self._now)
        got = None if self._proposal is None else _ratio(self._proposal.unity)
        silica, alumina = self._goals.get("SiO2"), self._goals.get("Al2O3")
        if silica is None or alumina is None or silica.free or alumina.low <= 0:
            return now, None, got
        return now, (silica.low / alumina.high, silica.high / alumina.low), got

    def rowCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._oxides)

    def columnCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() else len(Column)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if index.column() == Column.WANTED:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return {
                Column.OXIDE: self.tr("oxide"),
                Column.NOW: self.tr("now"),
                Column.WANTED: self.tr("wanted"),
                Column.GOT: self.tr("got"),
                Column.OFF: self.tr("off by"),
            }[Column(section)]
        if role == Qt.ItemDataRole.ToolTipRole:
            return {
                Column.OXIDE: self.tr("Moles to one mole of fluxes"),
                Column.NOW: self.tr("What the recipe on the bench has"),
                Column.WANTED: self.tr(
                    "0.35, a range as 0.3..0.4 or 0.3 to 0.4, at least as 0.3.., or free; left "
                    "empty, the oxide goes by the choice for the others below"
                ),
                Column.GOT: self.tr("What the chosen proposal gives"),
                Column.OFF: self.tr("How far that lies from what was asked, or from the recipe"),
            }[Column(section)]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(Column(section))
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not index.isValid():
            return None
        oxide, column = self._oxides[index.row()], Column(index.column())
        fault = str(self._faults.get(oxide, "")) if column is Column.WANTED else ""
        if role == Qt.ItemDataRole.EditRole:
            return self._texts.get(oxide, "") if column is Column.WANTED else None
        if role == Qt.ItemDataRole.DisplayRole:
            return f"{FAULT_SIGN} {self._texts[oxide]}" if fault else self._text(oxide, column)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(column)
        if role == Qt.ItemDataRole.ForegroundRole:
            return self._foreground(oxide, column, fault)
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole):
            return fault or None
        if role == Qt.ItemDataRole.AccessibleTextRole:
            title = str(self.headerData(column, Qt.Orientation.Horizontal))
            return self.tr("{} {}: {}").format(
                oxide, title, self._text(oxide, column) or self.tr("empty")
            )
        return None

    def setData(self, index: Index, value: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or index.column() != Column.WANTED:
            return False
        oxide = self._oxides[index.row()]
        if self._texts.get(oxide, "") != str(value).strip():
            self._take(oxide, str(value))
            self.dataChanged.emit(index, index, [role, Qt.ItemDataRole.DisplayRole])
        return True

    def _take(self, oxide: str, text: str) -> None:
        for kept in (self._texts, self._goals, self._faults):
            kept.pop(oxide, None)
        if not text.strip():
            return
        self._texts[oxide] = text.strip()
        try:
            self._goals[oxide] = Goal(oxide, *wanted_range(text, oxide))
        except InputError as fault:
            self._faults[oxide] = fault

    def _text(self, oxide: str, column: Column) -> str:
        place = INDEX[oxide]
        if column is Column.OXIDE:
            return oxide_text(oxide)
        if column is Column.NOW:
            return decimals(None if self._now is None else self._now[place], _PLACES)
        if column is Column.WANTED:
            return self._texts.get(oxide, "")
        if self._proposal is None:
            return ""
        if column is Column.GOT:
            return decimals(float(self._proposal.unity[place]), _PLACES)
        off = self._off(oxide)
        shown = decimals(off, _PLACES)
        if off is None or float(shown) == 0:
            return "" if off is None else shown
        return f"+{shown}" if off > 0 else shown.replace("-", "−")

    def _off(self, oxide: str) -> float | None:
        """How far the proposal lies from what was asked, or where the oxide was to stay."""
        if self._proposal is None:
            return None
        return self._proposal.off.get(oxide, self._proposal.drift.get(oxide))

    def _foreground(self, oxide: str, column: Column, fault: str) -> object:
        if fault:
            return self._colors.color(Role.STOP)
        if column is Column.NOW:
            return self._colors.color(Role.MUTED)
        if column is Column.OFF:
            off = self._off(oxide)
            seen = off is not None and abs(off) > REACHED
            return self._colors.color(Role.LOOK if seen else Role.MUTED)
        return None

    def _announce(self, first: Column, last: Column, *, edited: bool = False) -> None:
        if self._oxides:
            roles = [Qt.ItemDataRole.DisplayRole]
            if edited:
                roles.append(Qt.ItemDataRole.EditRole)
            bottom = len(self._oxides) - 1
            self.dataChanged.emit(self.index(0, first), self.index(bottom, last), roles)


def _ratio(unity: Sequence[float] | NDArray[np.float64]) -> float | None:
    alumina = float(unity[INDEX["Al2O3"]])
    return float(unity[INDEX["SiO2"]]) / alumina if alumina > 0 else None


def _alignment(column: Column) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignLeft if column is Column.OXIDE else Qt.AlignmentFlag.AlignRight
    return side | Qt.AlignmentFlag.AlignVCenter
