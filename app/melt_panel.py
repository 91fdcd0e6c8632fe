"""The panel of the melt: its figures with their errors, and the expansion by every set."""

from __future__ import annotations

from functools import cache, partial
from typing import Final

import msgspec
import numpy as np
from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QPaintEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.document import Document
from app.figure_columns import FigureColumns, Note, Row
from app.figure_line import FigureLine
from app.formatting import decimals, oxide_text
from app.melt_curve import OUTSIDE_SIGN, no_melt_words
from app.quiet_combo import QuietComboBox
from app.theme import Palette, Role, Theme
from core.evaluate import Evaluation
from core.melt import expansion_sets
from core.melt.expansion import FITTED, LINEAR, published_sets
from core.melt.sheet import Figure, MeltSheet, expansion_by_set
from core.melt.surface_tension import USUAL_SET, tension_sets
from core.oxides import OXIDES
from core.schema import convert
from core.tables import shipped
from core.telling import domain_words

MOST_SHARES: Final = 5
PAUSE_MS: Final = 80
"""How long the comparison of the sets waits for the next key press."""

_GAP: Final = 8
_LONGEST_NOTE: Final = "; 100.0 mol% of its oxides have no melt data."

LAYERS_MM: Final = (0.2, 0.3, 0.4, 0.5, 0.8, 1.2)
"""Thicknesses of a fired layer to choose from."""


class MeltPanel(QWidget):
    """Shows what the melt models say of the recipe, and chooses the set of the expansion."""

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._stale = True
        self.state = Note(Role.INK, "No silica: nothing here makes a glass. Choose a material.")
        self.outside = Note(
            Role.LOOK,
            f"{OUTSIDE_SIGN} Outside the melts that the models were fitted on: a guess, "
            f"not a prediction{_LONGEST_NOTE}",
        )
        self.figures = FigureColumns(self.tr("Figures of the melt"), 6)
        self.sets = FigureColumns(self.tr("Expansion by every set"), len(expansion_sets()))
        self.shares = FigureColumns(
            self.tr("What each oxide brings to the linear sum of the expansion"), MOST_SHARES
        )
        self.sets_title = FigureLine(Role.MUTED)
        self.shares_title = FigureLine(Role.MUTED)
        self.set_box = QuietComboBox()
        self.layer_box = QuietComboBox()
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._compare)
        self._build()
        document.evaluation_changed.connect(self._on_evaluation_changed)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)

    def texts(self) -> list[str]:
        """Return every line of words that the panel shows."""
        self._settle()
        lines = [row.text for part in self._lists() for row in part.rows]
        notes = (self.state, self.outside, self.sets_title, self.shares_title)
        return [text for note in notes if (text := note.text())] + lines

    def minimumSizeHint(self) -> QSize:
        return QSize(220, 120)

    def paintEvent(self, event: QPaintEvent) -> None:
        # Behind a tab nothing is painted, and nothing was worked out.
        self._settle()
        super().paintEvent(event)

    def _build(self) -> None:
        for name in expansion_sets():
            self.set_box.addItem(set_words(name), name)
        for layer in LAYERS_MM:
            self.layer_box.addItem(self.tr("{:g} mm").format(layer), layer)
        self.layer_box.setMinimumHeight(26)
        self.layer_box.setAccessibleName(self.tr("Thickness of the fired layer"))
        self.layer_box.setToolTip(
            self.tr("Running is read for a fired layer of this thickness; usual is 0.2 to 0.5 mm")
        )
        self.layer_box.activated.connect(self._on_layer_chosen)
        self.set_box.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.set_box.setMinimumContentsLength(10)
        self.set_box.setMinimumHeight(26)
        self.set_box.setAccessibleName(self.tr("Expansion by"))
        self.set_box.activated.connect(self._on_set_chosen)
        label = QLabel(self.tr("E&xpansion by"))
        label.setBuddy(self.set_box)
        choice = QHBoxLayout()
        choice.setSpacing(_GAP)
        choice.addWidget(label)
        choice.addWidget(self.set_box, 1)
        layer_label = QLabel(self.tr("&Layer"))
        layer_label.setBuddy(self.layer_box)
        choice.addWidget(layer_label)
        choice.addWidget(self.layer_box)
        self.sets_title.setText(self.tr("Expansion by every set, 10⁻⁶/K"))
        self.shares_title.setText(self.tr("Most of the linear sum, 10⁻⁶/K"))
        self.figures.set_tips(self._figure_tip)
        self.sets.set_tips(self._set_tip)
        self.shares.set_tips(self._share_tip)
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(4)
        above: tuple[QWidget, ...] = (self.state, self.outside, self.figures)
        below: tuple[QWidget, ...] = (self.sets_title, self.sets, self.shares_title, self.shares)
        for widget in above:
            column.addWidget(widget)
        column.addLayout(choice)
        for widget in below:
            column.addWidget(widget)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 8)
        layout.addWidget(area)

    def _lists(self) -> tuple[FigureColumns, ...]:
        return self.figures, self.sets, self.shares

    def _set_palette(self, palette: Palette) -> None:
        for part in self._lists():
            part.set_palette(palette)
        for note in (self.state, self.outside):
            note.set_palette(palette)
        for title in (self.sets_title, self.shares_title):
            title.set_palette(palette)

    def _on_set_chosen(self, _index: int) -> None:
        self._document.set_expansion_set(self.set_box.currentData())

    def _on_layer_chosen(self, _index: int) -> None:
        self._document.set_layer(self.layer_box.currentData())

    def _on_evaluation_changed(self, _evaluation: Evaluation) -> None:
        self._stale = True
        if self.visibleRegion().isEmpty():
            self.update()
        else:
            self._settle()

    def _settle(self) -> None:
        """Show the figures of the recipe as it stands."""
        if not self._stale:
            return
        self._stale = False
        evaluation = self._document.evaluation
        sheet = evaluation.melt
        self.state.setText(_states(evaluation))
        words = domain_words(sheet) if sheet is not None else ""
        self.outside.setText(f"{OUTSIDE_SIGN} {words}" if words else "")
        self.figures.show_rows(figure_rows(sheet))
        self.shares.show_rows(share_rows(sheet))
        layer = self.layer_box.findData(self._document.layer_mm)
        if layer != self.layer_box.currentIndex():
            self.layer_box.setCurrentIndex(layer)
        place = self.set_box.findData(self._document.expansion_set)
        if place != self.set_box.currentIndex():
            self.set_box.setCurrentIndex(place)
        if not self.sets.rows:
            self._compare()
        self._pause.start()

    def _compare(self) -> None:
        if self.sets.rows and self.visibleRegion().isEmpty():
            return
        evaluation, chosen = self._document.evaluation, self._document.expansion_set
        none: dict[str, Figure | None] = dict.fromkeys(expansion_sets())
        found = expansion_by_set(evaluation.formula.moles) if evaluation.melt else none
        self.sets.show_rows(
            [
                _row(set_words(name, short=True), figure, 2, "", name == chosen)
                for name, figure in found.items()
            ]
        )

    def _figure_tip(self, line: int) -> str:
        sheet = self._document.evaluation.melt
        tips = (
            partial(_network_words, "viscosity"),
            partial(_network_words, "liquidus"),
            _transition_words,
            partial(_set_source, self._document.expansion_set),
            _stiffness_words,
            _tension_words,
        )
        text = tips[line]()
        words = domain_words(sheet) if sheet is not None else ""
        return f"{text} {words}".rstrip()

    def _set_tip(self, line: int) -> str:
        return _set_source(expansion_sets()[line])

    def _share_tip(self, _line: int) -> str:
        return self.tr(
            "What this oxide brings to the linear sum; the fitted figure differs from the sum "
            "a little. {}"
        ).format(_set_source(LINEAR))


def set_words(name: str, short: bool = False) -> str:
    """Name a way to the expansion for people."""
    if name == FITTED:
        return "fitted" if short else f"fitted on {_thousands(_expansion_card().rows)} glasses"
    if name == LINEAR:
        return "linear sum"
    return published_sets()[name].name


def figure_rows(sheet: MeltSheet | None) -> list[Row]:
    """Return the figures of a melt with their one-sigma errors."""
    viscosity = "viscosity"
    if sheet is not None and sheet.peak_c is not None:
        viscosity += f", {sheet.peak_c:.0f} °C"
    figures: tuple[tuple[str, str, int, str], ...] = (
        (viscosity, "log10_viscosity", 1, "log₁₀ Pa·s"),
        ("liquidus", "liquidus_c", 0, "°C"),
        ("glass transition", "glass_transition_c", 0, "°C"),
        ("expansion", "expansion", 2, "10⁻⁶/K"),
        ("Young's modulus", "youngs_modulus_gpa", 0, "GPa"),
        ("surface tension", "surface_tension_n_m", 2, "N/m"),
    )
    return [
        _row(name, getattr(sheet, of, None), places, unit) for name, of, places, unit in figures
    ]


def share_rows(sheet: MeltSheet | None) -> list[Row]:
    """Return the oxides that count most in the linear sum of the expansion, the largest first."""
    if sheet is None:
        return []
    shares = np.nan_to_num(sheet.expansion_shares)
    order = np.argsort(-np.abs(shares), kind="stable")[:MOST_SHARES]
    return [
        Row(oxide_text(OXIDES[i]), decimals(float(shares[i]), 2)) for i in order if shares[i] != 0
    ]


def _row(name: str, figure: Figure | None, places: int, unit: str, marked: bool = False) -> Row:
    if figure is None:
        return Row(name, unit=unit, marked=marked)
    value, error = decimals(figure.value, places), decimals(figure.error, places)
    return Row(name, value, f"± {error}", unit, marked)


def _states(evaluation: Evaluation) -> str:
    if evaluation.melt is None:
        return no_melt_words(evaluation)
    return "Incomplete: a material is missing from the tables." if evaluation.missing else ""


class _Fitted(msgspec.Struct):
    property: str
    rows: str
    glasses: str
    publications: str


class _HeldOut(msgspec.Struct):
    property: str
    held_out: str
    rows_of: str
    rows: str
    publications: str
    rmse: str


class _MeltCard(msgspec.Struct):
    source: str
    fitted_on: list[_Fitted]
    held_out: list[_HeldOut]


class _SetError(msgspec.Struct):
    id: str
    rmse: str


class _ExpansionCard(msgspec.Struct):
    source: str
    rows: str
    publications: str
    held_out_rows: str
    held_out_publications: str
    errors: list[_SetError]


class _Stiffness(msgspec.Struct):
    source: str
    error_source: str


@cache
def _melt_card() -> _MeltCard:
    return convert(shipped("melt/card.yaml"), _MeltCard)


@cache
def _expansion_card() -> _ExpansionCard:
    return convert(shipped("melt/card-expansion.yaml"), _ExpansionCard)


@cache
def _network_words(of: str) -> str:
    """Say what a fitted property rests on; the first held-out row is of publications never used."""
    card = _melt_card()
    fitted = next(row for row in card.fitted_on if row.property == of)
    held = next(row for row in card.held_out if row.property == of and row.rows_of == "all")
    unit = "log₁₀" if of == "viscosity" else "K"
    return (
        f"Fitted on {_thousands(fitted.rows)} measurements of {_thousands(fitted.glasses)} melts; "
        f"from {_thousands(held.rows)} measurements of {_thousands(held.publications)} "
        f"publications never used in the fit, ± {held.rmse} {unit} over all. The error shown is "
        f"that of this family of melts. Data: {card.source.partition(',')[0]}, ODbL 1.0."
    )


def _transition_words() -> str:
    return f"Where the viscosity reaches 10¹² Pa·s. {_network_words('viscosity')}"


@cache
def _set_source(name: str) -> str:
    card = _expansion_card()
    rmse = next((row.rmse for row in card.errors if row.id == name), "")
    error = (
        f"± {rmse} 10⁻⁶/K over all {_thousands(card.held_out_rows)} glasses of "
        f"{_thousands(card.held_out_publications)} publications held out for the error; the error "
        "shown is that of this family of glasses."
        if rmse
        else ""
    )
    if name in (FITTED, LINEAR):
        way = "Linear sum" if name == LINEAR else "Linear sum and small networks"
        return (
            f"{way} fitted on {_thousands(card.rows)} measured glasses of "
            f"{_thousands(card.publications)} publications (SciGlass, ODbL 1.0). {error}"
        )
    table = published_sets()[name]
    return f"{table.name}, {table.range}, for {table.validity}. Source: {table.source}. {error}"


@cache
def _stiffness_words() -> str:
    table = convert(shipped("stiffness.yaml"), _Stiffness)
    return (
        f"From how tightly the ions pack and how strongly they bind. Source: {table.source}. "
        f"Error: {table.error_source}."
    )


def _tension_words() -> str:
    return (
        f"Additive factors. Source: {tension_sets()[USUAL_SET].source}. "
        "Error: how far the published sets lie apart."
    )


def _thousands(count: str) -> str:
    return f"{int(count):,}"
