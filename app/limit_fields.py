"""Limits on a batch, typed into small fields; an empty field asks for nothing."""

from __future__ import annotations

import math

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QWidget

from core.errors import InputError
from core.numbers import read_number
from core.solve import Limits
from core.solve.goals import Range


class LimitFields(QWidget):
    """Loss on ignition and price at most, raw clay and expansion from and to."""

    edited = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.loi_most = _figure(self.tr("Loss on ignition at most, percent"))
        self.clay_least = _figure(self.tr("Raw clay from, percent of the base"))
        self.clay_most = _figure(self.tr("Raw clay to, percent of the base"))
        self.expansion_least = _figure(self.tr("Expansion from, millionths per kelvin"))
        self.expansion_most = _figure(self.tr("Expansion to, millionths per kelvin"))
        self.price_most = _figure(self.tr("Price of a kilogram of the dry base at most"))
        self.price_most.setToolTip(
            self.tr("Takes only materials whose price_per_kg stands in the studio's materials")
        )
        self.fields = (
            self.loi_most,
            self.clay_least,
            self.clay_most,
            self.expansion_least,
            self.expansion_most,
            self.price_most,
        )
        for field in self.fields:
            field.textEdited.connect(self.edited)
        lines = (
            (self.tr("loss on ignition"), None, self.loi_most, self.tr("%")),
            (self.tr("raw clay"), self.clay_least, self.clay_most, self.tr("%")),
            (
                self.tr("expansion"),
                self.expansion_least,
                self.expansion_most,
                self.tr("10⁻⁶/K"),
            ),
            (self.tr("price"), None, self.price_most, self.tr("per kg")),
        )
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 1)
        for row, (name, least, most, unit) in enumerate(lines):
            grid.addWidget(QLabel(name), row, 0)
            if least is not None:
                grid.addWidget(least, row, 1)
                grid.addWidget(QLabel(self.tr("to")), row, 2)
            else:
                at_most = QLabel(self.tr("at most"))
                at_most.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                grid.addWidget(at_most, row, 1, 1, 2)
            grid.addWidget(most, row, 3)
            grid.addWidget(QLabel(unit), row, 4)

    def read(self) -> Limits:
        """Return what is typed.

        Raises
        ------
        InputError
            If a field is no number, or the larger stands before the smaller.
        """
        return Limits(
            _pair(None, self.loi_most, 100.0),
            _pair(self.expansion_least, self.expansion_most, math.inf),
            _pair(self.clay_least, self.clay_most, 100.0),
            _pair(None, self.price_most, math.inf),
        )


def _pair(least: QLineEdit | None, most: QLineEdit, top: float) -> Range | None:
    low = None if least is None else _read(least)
    high = _read(most)
    if low is None and high is None:
        return None
    return 0.0 if low is None else low, top if high is None else high


def _read(field: QLineEdit) -> float | None:
    if not field.text().strip():
        return None
    try:
        return read_number(field.text())
    except InputError as fault:
        raise InputError(f"{field.accessibleName()}: {fault.what}", fault.mend) from fault


def _figure(name: str) -> QLineEdit:
    field = QLineEdit()
    field.setAccessibleName(name)
    field.setAlignment(Qt.AlignmentFlag.AlignRight)
    field.setMaxLength(12)
    field.setFixedWidth(64)
    field.setMinimumHeight(26)
    return field
