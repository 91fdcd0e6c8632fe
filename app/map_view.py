"""The silica-alumina map: the recipe's point among the zones, its trail, variants and doubt."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QElapsedTimer, QEvent, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QVBoxLayout, QWidget

from app import formatting
from app.bench_state import BenchState, SelectedRow
from app.document import Change, Document
from app.figure_line import FigureLine
from app.icons import icon
from app.map_backdrop import BackdropItem
from app.map_marks import CloudItem, NudgeItem, PointItem, ReachItem, TrailItem
from app.map_steer import PICK, MapSteer
from app.theme import Palette, Role, Theme
from core.evaluate import Evaluation, nudged_point
from core.formula import Formula
from core.reading.basis import Basis
from core.reading.field import zone_field
from core.reading.surface import SurfaceReading, read_point
from core.reading.words import margin_words

if TYPE_CHECKING:
    from core.solve.reach import Region
    from core.tiles.on_map import MapTile

TRAIL_LENGTH = 30
HOME = ((0.0, 6.0), (0.0, 1.0))
"""What the whole map shows: SiO2 and Al2O3 in the unity formula."""
FARTHEST = (60.0, 12.0)
_PICK_PX = 10
_SPEAK_MS = 150
_BREATH_MS = 80
"""Between two drawings of the zones while edits keep coming."""
_DRAG_BREATH_MS = 200
"""The same during a drag, which moves the basis little by little."""
GRID = (48, 36)
"""Places across and up at which the zones are computed."""
_LEAST = 1e-3
"""Silica and alumina at the rim of the field: at none there is no glaze to read."""


class MapView(QWidget):
    """The map with its readout and its words."""

    described = Signal(str)
    """The chart in words, after every change."""

    def __init__(
        self, document: Document, state: BenchState, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._state = state
        self._theme = theme
        self._trail: deque[tuple[float, float]] = deque(maxlen=TRAIL_LENGTH)
        self._variants: dict[str, tuple[float, float]] = {}
        self._zone_key: object = None
        # After the repaint of the edit itself: the zones come one frame later. While a key
        # repeats they come less often, so that they never hold it up.
        self._draw = QTimer(self)
        self._draw.setSingleShot(True)
        self._draw.timeout.connect(self.settle)
        self._drawn = QElapsedTimer()
        # Words follow when the hand rests: nobody can listen as fast as it types.
        self._speak = QTimer(self)
        self._speak.setSingleShot(True)
        self._speak.setInterval(_SPEAK_MS)
        self._speak.timeout.connect(self._describe)
        self.steer = MapSteer(document, state, self)
        self._stopped = ""
        self._reach_kept = False
        self.plot = pg.PlotWidget(self, background=None)
        self.basis_label = FigureLine(Role.MUTED)
        self.readout = FigureLine(Role.MUTED)
        self.state_label = QLabel(self.plot)
        self._build()
        document.variants_changed.connect(self._on_variants_changed)
        document.evaluation_changed.connect(self._on_evaluation_changed)
        document.opened.connect(self._begin_anew)
        self.steer.reach_changed.connect(self._show_reach)
        self.steer.said.connect(self._on_steered)
        for signal in (state.selection_changed, state.step_changed, state.hold_total_changed):
            signal.connect(self._show_nudge)
        theme.changed.connect(self._set_palette)
        self._set_palette(theme.palette)
        self._on_variants_changed(document.variant_formulas)
        self._on_evaluation_changed(document.evaluation)

    def _build(self) -> None:
        plot = self.plot
        plot.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        plot.setMenuEnabled(False)
        plot.hideButtons()
        plot.setMinimumSize(260, 180)
        plot.setLabel("bottom", self.tr("SiO₂, moles to one of fluxes"))
        plot.setLabel("left", self.tr("Al₂O₃, moles to one of fluxes"))
        # Room for the outermost figures of both axes.
        plot.getPlotItem().layout.setContentsMargins(2, 8, 12, 2)
        box = plot.getViewBox()
        box.setLimits(
            xMin=0, yMin=0, xMax=FARTHEST[0], yMax=FARTHEST[1], minXRange=0.05, minYRange=0.01
        )
        box.setDefaultPadding(0.0)
        box.sigRangeChanged.connect(self._await_zones)
        self.backdrop = BackdropItem()
        self.cloud = CloudItem()
        self.reach = ReachItem()
        self.trail = TrailItem()
        self.nudge = NudgeItem()
        self.point = PointItem()
        # The outline of a small doubt would hide under the point.
        self.items = (self.backdrop, self.reach, self.trail, self.nudge, self.point, self.cloud)
        for depth, item in enumerate(self.items):
            item.setZValue(depth)
            plot.addItem(item, ignoreBounds=True)
        for item in (self.backdrop, self.nudge, self.point):
            item.set_font(self.font())
        plot.scene().sigMouseMoved.connect(self._on_hover)
        plot.viewport().installEventFilter(self)
        plot.installEventFilter(self)
        self.state_label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.state_label.setWordWrap(True)
        self.state_label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.home_button = QToolButton()
        self.home_button.setAutoRaise(True)
        self.home_button.setMinimumSize(28, 28)
        self.home_button.setToolTip(self.tr("Show the whole map (H)"))
        self.home_button.setAccessibleName(self.tr("Show the whole map"))
        self.home_button.clicked.connect(self.go_home)
        top = QHBoxLayout()
        top.addWidget(self.basis_label, 1)
        top.addWidget(self.home_button, 0, Qt.AlignmentFlag.AlignTop)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 4)
        layout.setSpacing(4)
        layout.addLayout(top)
        layout.addWidget(plot, 1)
        layout.addWidget(self.readout)
        self.go_home()

    def go_home(self) -> None:
        """Show the whole map; a point beyond it widens the view."""
        (x0, x1), (y0, y1) = HOME
        point = self._document.evaluation.point
        if point is not None:
            # In steps, so that editing near the rim does not make the view crawl.
            x1 = max(x1, min(float(np.ceil(point[0] * 1.1)), FARTHEST[0]))
            y1 = max(y1, min(float(np.ceil(point[1] * 5.5) / 5), FARTHEST[1]))
        self.plot.setRange(xRange=(x0, x1), yRange=(y0, y1), padding=0)

    def zoom(self, factor: float) -> None:
        """Zoom around the point, or the middle; below one comes nearer."""
        box = self.plot.getViewBox()
        point = self._document.evaluation.point
        centre = QPointF(*point) if point is not None else box.viewRect().center()
        box.scaleBy((factor, factor), center=centre)

    def eventFilter(self, watched: object, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            return self._take_key(event)
        if event.type() == QEvent.Type.KeyRelease and isinstance(event, QKeyEvent):
            self.steer.key_released(event)
        if isinstance(event, QMouseEvent) and self._take_mouse(event):
            return True
        if watched is self.plot and event.type() == QEvent.Type.FocusOut:
            self.steer.finish()
        if watched is self.plot and event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.point.set_focused(event.type() == QEvent.Type.FocusIn)
        if event.type() == QEvent.Type.Leave:
            self.readout.setText(self._resting_readout())
        if event.type() == QEvent.Type.MouseButtonDblClick and isinstance(event, QMouseEvent):
            self.go_home()
            return True
        return super().eventFilter(watched, event)  # type: ignore[arg-type]

    def _take_mouse(self, event: QMouseEvent) -> bool:
        """Steer with the left button on the point; tell whether the event was for that."""
        kind, spot = event.type(), event.position()
        box = self.plot.getViewBox()
        if kind == QEvent.Type.MouseButtonPress and event.button() == Qt.MouseButton.LeftButton:
            point = self.point.point
            if point is None or not box.sceneBoundingRect().contains(spot):
                return False
            self.plot.setFocus(Qt.FocusReason.MouseFocusReason)
            return self.steer.press(spot, box.mapViewToScene(QPointF(*point)))
        if kind == QEvent.Type.MouseMove:
            place = box.mapSceneToView(spot)
            if self.steer.move(spot, (max(place.x(), 0.0), max(place.y(), 0.0))):
                return True
            self._show_grip(spot)
        if kind == QEvent.Type.MouseButtonRelease:
            return self.steer.release()
        return False

    def _show_grip(self, spot: QPointF) -> None:
        point = self.point.point
        near = False
        if point is not None:
            away = self.plot.getViewBox().mapViewToScene(QPointF(*point)) - spot
            near = max(abs(away.x()), abs(away.y())) <= PICK
        shape = Qt.CursorShape.OpenHandCursor if near else Qt.CursorShape.ArrowCursor
        if self.plot.viewport().cursor().shape() != shape:
            self.plot.viewport().setCursor(shape)

    def set_reach_kept(self, kept: bool) -> None:
        """Show what the rows can reach all the time, or only while the point is dragged."""
        self._reach_kept = kept
        self._show_reach(self.steer.region() if kept else None)

    def _show_reach(self, region: Region | None) -> None:
        if region is None and self._reach_kept:
            region = self.steer.region()
        if region is None:
            self.reach.set_corners(None)
            return
        (x0, x1), (y0, y1) = self.plot.getViewBox().viewRange()
        self.reach.set_corners(region.polygon((x0, y0, x1, y1)))

    def _on_steered(self, stopped: str) -> None:
        self._stopped = stopped
        self.readout.setText(self._resting_readout())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_state_label()

    def _take_key(self, event: QKeyEvent) -> bool:
        key, text = event.key(), event.text()
        box = self.plot.getViewBox()
        (x0, x1), (y0, y1) = box.viewRange()
        pans = {
            Qt.Key.Key_Left: (-0.1, 0),
            Qt.Key.Key_Right: (0.1, 0),
            Qt.Key.Key_Up: (0, 0.1),
            Qt.Key.Key_Down: (0, -0.1),
        }
        if self.steer.key(event, (x1 - x0, y1 - y0)):
            return True
        if event.modifiers() & (
            Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.ControlModifier
        ):
            return False
        if text == "+":
            self.zoom(0.8)
        elif text in ("-", "−"):
            self.zoom(1.25)
        elif key in (Qt.Key.Key_H, Qt.Key.Key_Home):
            self.go_home()
        elif key in pans:
            dx, dy = pans[key]
            box.translateBy(x=dx * (x1 - x0), y=dy * (y1 - y0))
        else:
            return False
        return True

    def _set_palette(self, palette: Palette) -> None:
        for item in self.items:
            item.set_palette(palette)
        for name in ("bottom", "left"):
            axis = self.plot.getAxis(name)
            axis.enableAutoSIPrefix(False)
            axis.setPen(palette.color(Role.EDGE))
            axis.setTextPen(palette.color(Role.INK))
            axis.setStyle(tickFont=self.font())
            axis.label.setDefaultTextColor(palette.color(Role.INK))
        self.plot.setBackground(palette.color(Role.PANEL))
        self.home_button.setIcon(icon("home", palette))
        self.readout.set_palette(palette)
        self.basis_label.set_palette(palette)
        self.state_label.setStyleSheet(
            f"color: {palette.hex(Role.INK)}; background: {palette.hex(Role.PAPER)};"
            "border-radius: 6px; padding: 8px"
        )

    def _on_variants_changed(self, formulas: dict[str, Formula]) -> None:
        points = {name: formula.point for name, formula in formulas.items()}
        self._variants = {name: point for name, point in points.items() if point is not None}
        self.backdrop.set_variants(self._variants)

    def _on_evaluation_changed(self, evaluation: Evaluation) -> None:
        point = evaluation.point
        self._extend_trail(point)
        self.trail.set_points(np.array(self._trail).reshape(-1, 2))
        other = evaluation.table_formula.point if evaluation.table_formula else None
        self.point.set_point(point, other)
        self.backdrop.keep_clear(point)
        cloud = evaluation.cloud
        self.cloud.set_outline(cloud.outline() if cloud else np.empty((0, 2)))
        self._show_state(evaluation)
        self._show_basis()
        self._await_zones()
        if self._reach_kept and not self.steer.steering:
            self._show_reach(None)
        self._show_nudge()
        self._speak.start()

    def _extend_trail(self, point: tuple[float, float] | None) -> None:
        """Follow the point in steps of undo: half a number or half a drag is no step."""
        change, trail = self._document.change, self._trail
        if change in (Change.GOING_ON, Change.UNDO) and len(trail) > 1:
            trail.pop()
        if point is not None and (not trail or trail[-1] != point):
            trail.append(point)

    def _begin_anew(self) -> None:
        """Forget where another recipe's point has been."""
        self._trail.clear()
        self._on_evaluation_changed(self._document.evaluation)
        self.go_home()

    @property
    def basis(self) -> Basis | None:
        """What the zones are drawn for; None without a firing, a flux or silica."""
        surface = self._document.evaluation.reading.surface
        return surface.basis if surface is not None else None

    def _await_zones(self, *_: object) -> None:
        """Draw the zones anew, if they changed, once the window has repainted."""
        (x0, x1), (y0, y1) = self.plot.getViewBox().viewRange()
        rules = id(self._document.evaluation.rules)
        key = (self.basis, rules, *(round(end, 6) for end in (x0, x1, y0, y1)))
        if key != self._zone_key:
            self._zone_key = key
            if not self._draw.isActive():
                breath = _BREATH_MS
                if self._document.change is Change.GOING_ON:
                    breath = _DRAG_BREATH_MS
                rested = not self._drawn.isValid() or self._drawn.hasExpired(breath)
                self._draw.start(0 if rested else breath)

    def settle(self) -> None:
        """Draw the zones of the present basis over what is visible."""
        self._draw.stop()
        self._drawn.start()
        basis = self.basis
        if basis is None:
            self.backdrop.set_field(None)
            return
        (x0, x1), (y0, y1) = self.plot.getViewBox().viewRange()
        across, up = GRID
        silica = np.linspace(max(x0, _LEAST), x1, across)
        alumina = np.linspace(max(y0, _LEAST), y1, up)
        self.backdrop.set_field(zone_field(basis, silica, alumina, self._document.evaluation.rules))

    def show_tiles(self, tiles: Sequence[MapTile]) -> None:
        """Show the tiles of the recipe: planned ones hollow, read ones by the surface seen."""
        self.backdrop.set_tiles(tiles)

    def _show_basis(self) -> None:
        words = self._basis_words(self.basis)
        if words != self.basis_label.text():
            self.basis_label.setText(words)
            self.basis_label.setToolTip(words)

    def _basis_words(self, basis: Basis | None) -> str:
        evaluation = self._document.evaluation
        if basis is not None:
            learnt = self._document.learnt
            said = self.tr("Zones for {}")
            if learnt is not None:
                said = self.tr("Zones learnt from {} tiles, for ").format(learnt.tiles) + "{}"
            text = said.format(formatting.oxides_in(basis.words()))
            shelf = evaluation.recipe.shelf
            return text + (self.tr(", shelf {}").format(shelf) if shelf else "")
        if evaluation.heat is None:
            return self.tr("No zones yet: choose a firing that has a schedule.")
        return self.tr("No zones yet: they need a flux and silica.")

    def _show_nudge(self, *_: object) -> None:
        self._speak.start()
        evaluation, selected = self._document.evaluation, self._state.selected
        if selected is None or evaluation.point is None or not self._has(selected):
            self.nudge.set_nudge(None, None)
            self.readout.setText(self._resting_readout())
            return
        end = nudged_point(
            evaluation, selected.section, selected.row, self._state.step, self._state.hold_total
        )
        row = evaluation.recipe.rows(selected.section)[selected.row]
        name = evaluation.material_name(row.material)
        change = formatting.signed(self._state.step)
        self.nudge.set_nudge(evaluation.point, end, name, change, self.backdrop.names)
        self.readout.setText(self._resting_readout())

    def _has(self, selected: SelectedRow) -> bool:
        return selected.row < len(self._document.recipe.rows(selected.section))

    def _show_state(self, evaluation: Evaluation) -> None:
        self.state_label.setVisible(evaluation.point is None)
        if evaluation.point is None:
            lines = [str(state) for state in evaluation.formula.states]
            if not evaluation.recipe.base:
                lines.append(self.tr("Choose a first material in the rows at the left."))
            text = "\n".join(f"{line.rstrip('.')}." for line in lines)
            self.state_label.setText(text[:1].upper() + text[1:])
            self._place_state_label()

    def _place_state_label(self) -> None:
        width = min(320, max(self.plot.width() - 80, 160))
        self.state_label.setFixedWidth(width)
        self.state_label.adjustSize()
        self.state_label.move(
            (self.plot.width() - width) // 2, (self.plot.height() - self.state_label.height()) // 2
        )

    def _on_hover(self, position: QPointF) -> None:
        box = self.plot.getViewBox()
        if not box.sceneBoundingRect().contains(position):
            self.readout.setText(self._resting_readout())
            return
        spot = box.mapSceneToView(position)
        text = self._spot_text(spot.x(), spot.y())
        near, tile = self._variant_at(position), self._tile_at(position)
        if near:
            text = self.tr("Variant {}: ").format(near) + text
        elif tile is not None:
            seen = tile.zone.value if tile.zone is not None else self.tr("not read yet")
            text = self.tr("Tile {}, {}: ").format(tile.code, seen) + text
        self.readout.setText(text)

    def _tile_at(self, position: QPointF) -> MapTile | None:
        box = self.plot.getViewBox()
        for tile in self.backdrop.tiles:
            offset = box.mapViewToScene(QPointF(tile.silica, tile.alumina)) - position
            if max(abs(offset.x()), abs(offset.y())) <= _PICK_PX:
                return tile
        return None

    def _variant_at(self, position: QPointF) -> str | None:
        box = self.plot.getViewBox()
        for name, point in self._variants.items():
            offset = box.mapViewToScene(QPointF(*point)) - position
            if np.hypot(offset.x(), offset.y()) <= _PICK_PX:
                return name
        return None

    def _spot_text(self, silica: float, alumina: float) -> str:
        if silica < 0 or alumina < 0:
            return self._resting_readout()
        ratio = f"{silica / alumina:.2f}" if alumina > 1e-6 else formatting.NOTHING
        text = self.tr("SiO₂ {:.2f}  Al₂O₃ {:.3f}  ratio {}").format(silica, alumina, ratio)
        surface = self._read(silica, alumina)
        if surface is not None:
            chance = 100 * surface.probabilities[surface.zone.value]
            text += self.tr("  {} {:.0f} %  {}").format(
                surface.zone, chance, margin_words(surface).removeprefix("melt ")
            )
        return text

    def _read(self, silica: float, alumina: float) -> SurfaceReading | None:
        """Read what a point of the map would be; the recipe's own is read already."""
        surface = self._document.evaluation.reading.surface
        if surface is None or silica <= 0:
            return None
        if (silica, alumina) == self._document.evaluation.point:
            return surface
        return read_point(surface.basis, silica, alumina, surface.rules)

    def _resting_readout(self) -> str:
        point = self._document.evaluation.point
        if point is None:
            return " "
        evaluation = self._document.evaluation
        if self._stopped:
            return formatting.oxides_in(f"{self._stopped[:1].upper()}{self._stopped[1:]}.")
        text = self._spot_text(*point)
        if evaluation.missing:
            text = self.tr("Incomplete. ") + text
        if self.nudge.end is not None:
            text += self.tr("  nudge to {:.2f}, {:.3f}").format(*self.nudge.end)
        return text

    def text(self) -> str:
        """Return the chart in words."""
        evaluation = self._document.evaluation
        if evaluation.point is None:
            text = self.tr("The map has no point: {}").format(
                "; ".join(str(state) for state in evaluation.formula.states)
            )
        else:
            silica, alumina = evaluation.point
            parts = [
                self.tr("The recipe's point lies at {:.2f} silica and {:.3f} alumina").format(
                    silica, alumina
                )
            ]
            ratio = evaluation.formula.silica_alumina
            if ratio is not None:
                parts.append(self.tr("silica-alumina ratio {:.2f}").format(ratio))
            if evaluation.cloud is not None:
                error = evaluation.cloud.points.std(axis=0, ddof=1)
                parts.append(self.tr("uncertain by ±{:.2f} and ±{:.3f}").format(error[0], error[1]))
            surface = evaluation.reading.surface
            if surface is not None:
                parts += [
                    self.tr("{} {:.0f} %").format(zone, 100 * chance)
                    for zone, chance in surface.probabilities.items()
                ]
                parts.append(margin_words(surface))
            text = ", ".join(parts) + "."
            if evaluation.missing:
                text += self.tr(" Incomplete: missing {}.").format(", ".join(evaluation.missing))
            if self.nudge.end is not None:
                text += self.tr(" The next nudge, {}, would go to {:.2f} and {:.3f}.").format(
                    self.nudge.text, *self.nudge.end
                )
            text += f" {self._basis_words(self.basis)}."
            for name, (x, y) in self._variants.items():
                text += self.tr(" Variant {} lies at {:.2f} and {:.3f}.").format(name, x, y)
        return text

    def _describe(self) -> None:
        """Tell the words to whoever listens: a screen reader, the panel of words."""
        text = self.text()
        if text != self.plot.accessibleDescription():
            self.plot.setAccessibleName(self.tr("Silica-alumina map"))
            self.plot.setAccessibleDescription(text)
            self.described.emit(text)
