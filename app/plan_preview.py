"""The planned tiles on a small map, with what the reading expects of each in marks and names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.map_backdrop import BackdropItem, Flags
from app.plan_cells import CellReading
from app.plan_marks import SIDE, TilesItem, paint_tile
from app.theme import LIGHT, Palette, Role
from core.blend.corners import LARGEST_DRIFT
from core.blend.plan import BlendKind, Plan
from core.evaluate import Evaluation
from core.oxides import INDEX
from core.reading.basis import Basis
from core.reading.field import zone_field
from core.reading.surface import ZONES
from core.regions import Zone
from core.studio import Studio

_GRID = (36, 28)
_LEAST_SPAN = (0.6, 0.12)
"""Of silica and alumina, so that a series of additions does not fill the map with nothing [mol]."""
_MARGIN = np.array([0.24, 0.27])
"""Around the tiles, of their span; letters and the names of zones stand in it."""
_WHOLE = (0.0, 6.0, 0.0, 1.0)
_LEAST = 1e-3
"""Silica and alumina at the rim of the zones: at none there is no glaze to read."""
_BOXED = (BlendKind.LINE, BlendKind.TRIAXIAL, BlendKind.GRID)


class PlanPreview(QWidget):
    """All tiles of a plan at once; the zones behind them where they share one flux set."""

    tile_picked = Signal(int)
    """Place in the plan of a tile that was clicked."""

    def __init__(self, studio: Studio, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._studio = studio
        self._plan: Plan | None = None
        self._basis: Basis | None = None
        self._middle = 0
        self._shared = False
        self.plot = pg.PlotWidget(self, background=None)
        self.legend = PlanLegend()
        self.backdrop = PlanBackdrop()
        self.tiles = TilesItem()
        # The zones follow the layout: they are computed for what is in view.
        self._zones_due = QTimer(self)
        self._zones_due.setSingleShot(True)
        self._zones_due.setInterval(0)
        self._zones_due.timeout.connect(self._draw_zones)
        self._build()

    def set_plan(self, plan: Plan | None) -> None:
        """Show the tiles of another plan, none of them read yet."""
        self._plan, self._basis = plan, None
        self._zones_due.stop()
        self.backdrop.set_field(None)
        points, letters = {}, {}
        if plan is not None:
            for place, cell in enumerate(plan.cells):
                if cell.formula.point is not None:
                    points[place] = cell.formula.point
                if plan.kind in _BOXED and max(cell.shares) == 1:
                    letters[place] = plan.corners[cell.shares.index(1)].letter
            self._middle = _middle_place(plan, points)
            self._shared = one_flux_set(plan)
        self.tiles.set_tiles(points, letters)
        self.backdrop.leave_free(list(points.values()))
        self._frame(list(points.values()))
        self.legend.note = self._zones_words() if plan is not None else ""
        self.legend.show_counts({}, len(plan.cells) if plan is not None else 0)

    def show_reading(self, place: int, reading: CellReading, evaluation: Evaluation) -> None:
        """Take what was read of a tile."""
        self.tiles.set_zone(place, reading.zone)
        surface = evaluation.reading.surface
        if place == self._middle and self._shared and surface is not None:
            self._basis = surface.basis
            self._zones_due.start()

    def choose(self, place: int) -> None:
        """Frame a tile."""
        self.tiles.choose(place)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        for item in (self.backdrop, self.tiles):
            item.set_palette(palette)
        for name in ("bottom", "left"):
            axis = self.plot.getAxis(name)
            axis.setPen(palette.color(Role.EDGE))
            axis.setTextPen(palette.color(Role.INK))
            axis.label.setDefaultTextColor(palette.color(Role.INK))
        self.plot.setBackground(palette.color(Role.PANEL))
        self.legend.set_palette(palette)

    def in_words(self, readings: Mapping[int, CellReading]) -> str:
        """Say how many tiles of each surface are expected."""
        tiles = len(self._plan.cells) if self._plan is not None else 0
        return ", ".join(text for _, text in self.legend.entries_of(_counts(readings), tiles))

    def tell(self, readings: Mapping[int, CellReading]) -> None:
        """Count what has been read, in the legend and for those who do not see the map."""
        tiles = len(self._plan.cells) if self._plan is not None else 0
        self.legend.show_counts(_counts(readings), tiles)
        self.plot.setAccessibleDescription(self.in_words(readings))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.MouseButtonPress and isinstance(event, QMouseEvent):
            place = self.tiles.at(QPointF(event.position()))
            if place >= 0:
                self.tile_picked.emit(place)
                return True
        return super().eventFilter(watched, event)

    def _build(self) -> None:
        plot = self.plot
        plot.setMenuEnabled(False)
        plot.hideButtons()
        plot.setMouseEnabled(False, False)
        plot.setMinimumSize(260, 180)
        # The table beside it is what the keys go through.
        plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        plot.setAccessibleName(self.tr("Map of the planned tiles"))
        plot.setLabel("bottom", self.tr("SiO₂, moles to one of fluxes"))
        plot.setLabel("left", self.tr("Al₂O₃"))
        plot.getPlotItem().layout.setContentsMargins(2, 8, 12, 2)
        for name in ("bottom", "left"):
            axis = plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setStyle(tickFont=self.font())
        box = plot.getViewBox()
        box.setDefaultPadding(0.0)
        box.sigResized.connect(self._await_zones)
        for depth, item in enumerate((self.backdrop, self.tiles)):
            item.setZValue(depth)
            item.set_font(self.font())
            plot.addItem(item, ignoreBounds=True)
        plot.viewport().installEventFilter(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(plot, 1)
        layout.addWidget(self.legend)

    def _frame(self, points: list[tuple[float, float]]) -> None:
        """Fit the view to the tiles."""
        if not points:
            x0, x1, y0, y1 = _WHOLE
        else:
            spots = np.array(points)
            low, high = spots.min(axis=0), spots.max(axis=0)
            middle = (low + high) / 2.0
            half = np.maximum((high - low) * (0.5 + _MARGIN), np.array(_LEAST_SPAN) / 2.0)
            (x0, y0), (x1, y1) = np.maximum(middle - half, 0.0), middle + half
        self.plot.setRange(xRange=(x0, x1), yRange=(y0, y1), padding=0)

    def _zones_words(self) -> str:
        if self._shared:
            return self.tr("zones for the fluxes of tile {}").format(self._middle + 1)
        return self.tr("the fluxes differ, so no common zones")

    def _await_zones(self, *_: object) -> None:
        if self._basis is not None:
            self._zones_due.start()

    def _draw_zones(self) -> None:
        if self._basis is None:
            return
        (x0, x1), (y0, y1) = self.plot.getViewBox().viewRange()
        silica = np.linspace(max(x0, _LEAST), x1, _GRID[0])
        alumina = np.linspace(max(y0, _LEAST), y1, _GRID[1])
        self.backdrop.set_field(zone_field(self._basis, silica, alumina))


class PlanBackdrop(BackdropItem):
    """Zones whose names stand beside the planned tiles."""

    def __init__(self) -> None:
        super().__init__()
        self._planned: list[tuple[float, float]] = []

    def leave_free(self, points: list[tuple[float, float]]) -> None:
        """Take the points of the tiles, which no name shall cover."""
        self._planned = points
        self._repaint()

    def _on_screen(self, cells: Flags) -> Flags:
        free = super()._on_screen(cells).copy()
        if not self._planned:
            return free
        box = self.screen_box()
        rows, columns = free.shape
        reach = SIDE / 2.0 + 3.0
        for spot in self.to_screen(np.array(self._planned)):
            x, y = spot.x() - box.left(), spot.y() - box.top()
            left, right = (int((x + side) / box.width() * columns) for side in (-reach, reach))
            top, bottom = (int((y + side) / box.height() * rows) for side in (-reach, reach))
            free[max(top, 0) : max(bottom + 1, 0), max(left, 0) : max(right + 1, 0)] = False
        return free


class PlanLegend(QWidget):
    """The marks with their names, and how many tiles of each are expected."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors: Palette = LIGHT
        self._entries: list[tuple[Zone | None, str]] = []
        self.note = ""
        self.setAccessibleName(self.tr("Surfaces that are expected"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def entries_of(self, counts: Mapping[Zone, int], tiles: int) -> list[tuple[Zone | None, str]]:
        """Return marks and words for a count; what is left of the tiles was not read."""
        entries: list[tuple[Zone | None, str]] = [
            (zone, self.tr("{} {}").format(zone.value, counts.get(zone, 0))) for zone in ZONES
        ]
        left = tiles - sum(counts.values())
        if left:
            entries.append((None, self.tr("not read {}").format(left)))
        return entries

    def show_counts(self, counts: Mapping[Zone, int], tiles: int) -> None:
        """Show how many tiles of each surface are expected."""
        self._entries = self.entries_of(counts, tiles)
        self.setAccessibleDescription(self.text())
        self.update()

    def text(self) -> str:
        """Return what it says."""
        said = [text for _, text in self._entries]
        return ", ".join([*said, self.note] if self.note else said)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        self._colors = palette
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(260, 2 * self._line())

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        font = QFont(self.font())
        metrics = QFontMetricsF(font)
        line = self._line()
        x, y = 4.0, 0.0
        for zone, text in self._entries:
            width = SIDE + 6 + metrics.horizontalAdvance(text)
            if x + width > self.width() and x > 4.0:
                x, y = 4.0, y + line
            paint_tile(painter, self._colors, QPointF(x + SIDE / 2, y + line / 2), zone)
            painter.setFont(font)
            painter.setPen(self._colors.color(Role.INK))
            spot = QRectF(x + SIDE + 6, y, width, line)
            painter.drawText(spot, Qt.AlignmentFlag.AlignVCenter, text)
            x += width + 14
        painter.setPen(self._colors.color(Role.MUTED))
        if x + metrics.horizontalAdvance(self.note) > self.width():
            x, y = 4.0, y + line
        rest = QRectF(x, y, self.width() - x, line)
        painter.drawText(rest, Qt.AlignmentFlag.AlignVCenter, self.note)
        painter.end()

    def _line(self) -> int:
        return max(20, self.fontMetrics().height() + 4)


def one_flux_set(plan: Plan) -> bool:
    """Tell whether all tiles share one mixture of fluxes, so that one map of zones is theirs."""
    shares = [
        np.append(
            cell.formula.unity * cell.formula.convention.mask, cell.formula.unity[INDEX["B2O3"]]
        )
        for cell in plan.cells
        if cell.formula.unity is not None
    ]
    return bool(shares) and float(np.ptp(np.array(shares), axis=0).max()) <= LARGEST_DRIFT


def _middle_place(plan: Plan, points: Mapping[int, tuple[float, float]]) -> int:
    """Return the tile that lies nearest to the middle of them all."""
    if not points:
        return 0
    spots = np.array(list(points.values()))
    span = np.maximum(np.ptp(spots, axis=0), 1e-9)
    far = np.hypot(*((spots - spots.mean(axis=0)) / span).T)
    return list(points)[int(far.argmin())]


def _counts(readings: Mapping[int, CellReading]) -> Counter[Zone]:
    return Counter(reading.zone for reading in readings.values() if reading.zone is not None)
