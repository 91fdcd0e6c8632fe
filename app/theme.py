"""Colours, patterns and figures: the one place where a colour is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from PySide6.QtCore import QObject, QPointF, Qt, Signal
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QGuiApplication,
    QPainter,
    QPalette,
    QPen,
    QPixmap,
    QTransform,
)
from PySide6.QtWidgets import QApplication, QCheckBox


class Role(StrEnum):
    """What a colour is for. Widgets ask for a role, never for a colour."""

    PAPER = "paper"
    PANEL = "panel"
    INK = "ink"
    MUTED = "muted"
    EDGE = "edge"
    ACCENT = "accent"
    HALO = "halo"
    SELECTION = "selection"
    GLOSSY = "glossy"
    SATIN = "satin"
    MATTE = "matte"
    UNDERFIRED = "underfired"
    GOOD = "good"
    LOOK = "look"
    STOP = "stop"
    ALKALI = "alkali"
    LIME = "lime"
    MAGNESIA = "magnesia"
    ZINC = "zinc"
    BORON = "boron"
    ALUMINA = "alumina"
    SILICA = "silica"
    OPACIFIER = "opacifier"
    OTHERS = "others"


ZONES: Final = (Role.GLOSSY, Role.SATIN, Role.MATTE, Role.UNDERFIRED)
"""The zones of the map, the melted ones from shiny to dull."""

CHART_FAMILIES: Final = (
    Role.ALKALI,
    Role.LIME,
    Role.MAGNESIA,
    Role.ZINC,
    Role.BORON,
    Role.ALUMINA,
    Role.SILICA,
    Role.OPACIFIER,
    Role.OTHERS,
)
"""The oxide families in the order in which every chart stacks them."""

OXIDE_FAMILY: Final[Mapping[str, Role]] = MappingProxyType(
    {
        "Li2O": Role.ALKALI,
        "Na2O": Role.ALKALI,
        "K2O": Role.ALKALI,
        "MgO": Role.MAGNESIA,
        "CaO": Role.LIME,
        "SrO": Role.LIME,
        "BaO": Role.LIME,
        "ZnO": Role.ZINC,
        "PbO": Role.OTHERS,
        "B2O3": Role.BORON,
        "Al2O3": Role.ALUMINA,
        "Fe2O3": Role.OTHERS,
        "Cr2O3": Role.OTHERS,
        "SiO2": Role.SILICA,
        "TiO2": Role.OPACIFIER,
        "ZrO2": Role.OPACIFIER,
        "SnO2": Role.OPACIFIER,
        "P2O5": Role.OTHERS,
        "V2O5": Role.OTHERS,
        "CeO2": Role.OTHERS,
        "MnO": Role.OTHERS,
        "CoO": Role.OTHERS,
        "NiO": Role.OTHERS,
        "CuO": Role.OTHERS,
        "F": Role.OTHERS,
    }
)
"""The chart family of each oxide of the basis."""


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one theme, by role."""

    name: str
    _hexes: Mapping[Role, str]

    def hex(self, role: Role) -> str:
        """Return the colour of `role` as "#RRGGBB"."""
        return self._hexes[role]

    def color(self, role: Role, alpha: float = 1.0) -> QColor:
        """Return the colour of `role`; `alpha` runs from 0 (clear) to 1 (opaque)."""
        color = QColor(self._hexes[role])
        color.setAlphaF(alpha)
        return color

    def family_color(self, oxide: str) -> QColor:
        """Return the chart colour of `oxide`, a formula such as "CaO"."""
        return self.color(OXIDE_FAMILY[oxide])


LIGHT: Final = Palette(
    "light",
    MappingProxyType(
        {
            Role.PAPER: "#FAF8F4",
            Role.PANEL: "#F1EDE6",
            Role.INK: "#24282B",
            Role.MUTED: "#5C6468",
            Role.EDGE: "#3F5360",
            Role.ACCENT: "#A23B1E",
            Role.HALO: "#FAF8F4",
            Role.SELECTION: "#F2DED2",
            Role.GLOSSY: "#E3EFF6",
            Role.SATIN: "#BFD4E0",
            Role.MATTE: "#9AB3C2",
            Role.UNDERFIRED: "#E8DCCB",
            Role.GOOD: "#2E6B3F",
            Role.LOOK: "#8A5A00",
            Role.STOP: "#9E1B32",
            Role.ALKALI: "#AC895E",
            Role.LIME: "#8C9608",
            Role.MAGNESIA: "#01807D",
            Role.ZINC: "#6C579D",
            Role.BORON: "#C4609C",
            Role.ALUMINA: "#9E5430",
            Role.SILICA: "#608BCB",
            Role.OPACIFIER: "#809489",
            Role.OTHERS: "#5A5651",
        }
    ),
)
DARK: Final = Palette(
    "dark",
    MappingProxyType(
        {
            Role.PAPER: "#1C1F21",
            Role.PANEL: "#262A2D",
            Role.INK: "#ECE9E3",
            Role.MUTED: "#A9B0B3",
            Role.EDGE: "#B9CBD6",
            Role.ACCENT: "#F08A63",
            Role.HALO: "#1C1F21",
            Role.SELECTION: "#573626",
            Role.GLOSSY: "#22333D",
            Role.SATIN: "#344C58",
            Role.MATTE: "#486573",
            Role.UNDERFIRED: "#4A4032",
            Role.GOOD: "#86C79A",
            Role.LOOK: "#E0B252",
            Role.STOP: "#F2889B",
            Role.ALKALI: "#D7A64F",
            Role.LIME: "#D0D876",
            Role.MAGNESIA: "#37BAB1",
            Role.ZINC: "#9985DA",
            Role.BORON: "#EF80A8",
            Role.ALUMINA: "#C2714B",
            Role.SILICA: "#8DB0E1",
            Role.OPACIFIER: "#D5DEE3",
            Role.OTHERS: "#8C8983",
        }
    ),
)
PALETTES: Final[Mapping[str, Palette]] = MappingProxyType({"light": LIGHT, "dark": DARK})
CHOICES: Final = ("light", "dark", "system")


def qt_palette(palette: Palette) -> QPalette:
    """Return the widget palette that `palette` gives to Qt's Fusion style."""
    role, group = QPalette.ColorRole, QPalette.ColorGroup
    everywhere = {
        role.Window: Role.PANEL,
        role.WindowText: Role.INK,
        role.Base: Role.PAPER,
        role.AlternateBase: Role.PANEL,
        role.Text: Role.INK,
        role.Button: Role.PANEL,
        role.ButtonText: Role.INK,
        role.BrightText: Role.STOP,
        role.ToolTipBase: Role.PAPER,
        role.ToolTipText: Role.INK,
        role.PlaceholderText: Role.MUTED,
        role.Highlight: Role.SELECTION,
        role.HighlightedText: Role.INK,
        role.Accent: Role.ACCENT,
        role.Link: Role.ACCENT,
        role.LinkVisited: Role.MUTED,
        # Fusion draws bevels and grooves from these five.
        role.Light: Role.PAPER,
        role.Midlight: Role.PANEL,
        role.Mid: Role.MUTED,
        role.Dark: Role.MUTED,
        role.Shadow: Role.EDGE,
    }
    disabled = {
        role.WindowText: Role.MUTED,
        role.Text: Role.MUTED,
        role.ButtonText: Role.MUTED,
        role.HighlightedText: Role.MUTED,
        role.Base: Role.PANEL,
        role.Highlight: Role.PANEL,
        role.Accent: Role.MUTED,
        role.Link: Role.MUTED,
    }
    made = QPalette()
    for qt_role, ours in everywhere.items():
        for qt_group in (group.Active, group.Inactive, group.Disabled):
            made.setColor(qt_group, qt_role, palette.color(ours))
    for qt_role, ours in disabled.items():
        made.setColor(group.Disabled, qt_role, palette.color(ours))
    return made


def show_tick_box(box: QCheckBox, palette: Palette) -> None:
    """Give a tick box an outline that is seen on a dark panel.

    Fusion draws the outline in a darker shade of the window's colour, which
    on a dark panel is next to nothing. A tick box paints no window.
    """
    own = QPalette(box.palette())
    own.setColor(QPalette.ColorRole.Window, palette.color(Role.MUTED))
    box.setPalette(own)


class Theme(QObject):
    """The palette in force: the user's choice, or the system's scheme followed live."""

    changed = Signal(object)  # Palette

    def __init__(self, choice: str = "system", parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._choice = ""
        self._palette = LIGHT
        QApplication.setStyle("Fusion")
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._on_scheme_changed)
        self.set_choice(choice)

    @property
    def palette(self) -> Palette:
        """The palette in force."""
        return self._palette

    @property
    def choice(self) -> str:
        """What was asked for: "light", "dark" or "system"."""
        return self._choice

    def set_choice(self, choice: str) -> None:
        """Take "light", "dark" or "system"; anything else is a ValueError."""
        if choice not in CHOICES:
            raise ValueError(f"theme must be light, dark or system: {choice!r}")
        first = not self._choice
        self._choice = choice
        self._apply(self._wanted(), force=first)

    def _wanted(self) -> Palette:
        if self._choice in PALETTES:
            return PALETTES[self._choice]
        return self._of_scheme(QGuiApplication.styleHints().colorScheme())

    @staticmethod
    def _of_scheme(scheme: Qt.ColorScheme) -> Palette:
        # A system that names no scheme counts as light.
        return DARK if scheme == Qt.ColorScheme.Dark else LIGHT

    def _on_scheme_changed(self, scheme: Qt.ColorScheme) -> None:
        # Also for a fixed choice: a new system scheme may have replaced the
        # application's palette, so ours is set again.
        wanted = self._of_scheme(scheme) if self._choice == "system" else self._wanted()
        self._apply(wanted, force=True)

    def _apply(self, palette: Palette, *, force: bool) -> None:
        differs = palette is not self._palette
        if not (differs or force):
            return
        self._palette = palette
        made = qt_palette(palette)
        if QGuiApplication.palette() != made:
            QApplication.setPalette(made)
        if differs:
            self.changed.emit(palette)


TILE: Final = 12
"""Side of a pattern tile [device-independent px]."""


def pattern_color(zone: Role, palette: Palette) -> QColor:
    """Return the colour of the pattern's marks on the fill of `zone`.

    The marks are darker than the fill in both themes, by as much as leaves the
    zone's name readable on them.
    """
    # On a dark fill, marks towards the light ink would take the contrast away
    # from the name; towards the paper they add to it.
    towards, share = (Role.EDGE, 0.24) if palette.name == "light" else (Role.PAPER, 0.5)
    fill, end = palette.color(zone), palette.color(towards)
    return QColor.fromRgbF(
        (1 - share) * fill.redF() + share * end.redF(),
        (1 - share) * fill.greenF() + share * end.greenF(),
        (1 - share) * fill.blueF() + share * end.blueF(),
    )


def zone_pixmap(zone: Role, palette: Palette, scale: float = 1.0, *, fill: bool = True) -> QPixmap:
    """Return one tile of the pattern of `zone`, with its fill or on a clear ground.

    `scale` is the device pixel ratio of the surface that it is drawn on.
    """
    if zone not in ZONES:
        raise ValueError(f"not a zone of the map: {zone}")
    pixels = max(1, round(TILE * scale))
    pixmap = QPixmap(pixels, pixels)
    pixmap.fill(palette.color(zone) if fill else Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    # Not the pixmap's own ratio: it need not divide the tile into whole pixels.
    painter.scale(pixels / TILE, pixels / TILE)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    mark = pattern_color(zone, palette)
    if zone is Role.UNDERFIRED:
        painter.setPen(QPen(mark, 1.5))
        # Three lines, so that the corners of the tile join their neighbours.
        for start in (-TILE, 0, TILE):
            painter.drawLine(QPointF(start - 2, TILE + 2), QPointF(start + TILE + 2, -2))
    elif zone in (Role.SATIN, Role.MATTE):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(mark)
        near, far = TILE / 4, 3 * TILE / 4
        centres = [(near, near), (far, far)]
        if zone is Role.MATTE:
            centres += [(near, far), (far, near)]
        else:
            centres = centres[:1]
        for x, y in centres:
            painter.drawEllipse(QPointF(x, y), 1.25, 1.25)
    painter.end()
    return pixmap


def zone_brush_pattern(
    zone: Role, palette: Palette, scale: float = 1.0, *, fill: bool = True
) -> QBrush:
    """Return the fill of `zone` with its pattern: none, sparse dots, dense dots, hatch.

    Without the fill the pattern alone stands on what is there.

    The tile holds `scale` times as many pixels as it has points, and the brush
    shrinks it back, so that the pattern keeps its size on a dense screen. A
    painter whose units are not points stretches the pattern; it then needs the
    inverse of its own transform appended to the brush's.
    """
    if zone is Role.GLOSSY:
        return QBrush(palette.color(zone)) if fill else QBrush(Qt.BrushStyle.NoBrush)
    pixmap = zone_pixmap(zone, palette, scale, fill=fill)
    brush = QBrush(pixmap)
    shrink = TILE / pixmap.width()
    brush.setTransform(QTransform.fromScale(shrink, shrink))
    return brush


def apply_tabular_figures(font: QFont) -> QFont:
    """Return a copy of `font` whose digits all have one width, where the font has such."""
    tabular = QFont(font)
    tabular.setFeature(QFont.Tag("tnum"), 1)
    return tabular
