"""What is asked for a grid: its four corners, chosen or spanned from one flux set, and its size."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QLabel

from app.plan_fields import ChoiceBox, CountBox, MaterialBox, RangeField, beside
from app.plan_kinds import KindForm, same_corners
from app.plan_sources import Sources
from core.blend.corners import CornerSet, Range, parts_corners, unity_corners
from core.blend.grid import COLUMNS, MOST_ALONG, ROWS
from core.blend.plan import Plan, grid_blend
from core.errors import InputError
from core.evaluate import formula_alone, material_of
from core.recipe import Recipe

CHOSEN, UNITY, PARTS = "chosen", "unity", "parts"
_RECTANGLES = (
    (0.8, 1.3, 0.75, 1.5),
    (0.95, 1.3, 0.95, 1.5),
    (1.0, 1.25, 1.0, 1.3),
    (1.0, 1.1, 1.0, 1.1),
)
"""Shares of the base's silica and alumina that are tried as the first rectangle, widest first."""
_NEAR_DRIFT = 1e-3
"""A drift of the fluxes worth a word [mol]."""


class GridForm(KindForm):
    """Four corners by volume over a rectangle of tiles."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        self._drift = 0.0
        self._suggested: set[str] = set()
        self._typed: set[str] = set()
        studio = sources.studio
        self.way = ChoiceBox(
            self.tr("Corners"),
            [
                (self.tr("span silica and alumina"), UNITY),
                (self.tr("span clay and silica parts"), PARTS),
                (self.tr("four recipes"), CHOSEN),
            ],
        )
        self.base = self._source_box(self.tr("Base recipe"), 0)
        self.silica = RangeField(self.tr("SiO₂, moles to one of fluxes"), 3.0, 4.5)
        self.alumina = RangeField(self.tr("Al₂O₃, moles to one of fluxes"), 0.35, 0.75)
        table = sorted(studio.materials, key=lambda m: m.name)
        none = (self.tr("nothing else"), "")
        self.also = MaterialBox(self.tr("Also allow"), [none, *((m.name, m.id) for m in table)])
        names = [(m.name, m.id) for m in table]
        self.clay = MaterialBox(self.tr("Clay"), names)
        self.flint = MaterialBox(self.tr("Silica"), names)
        self.clay_parts = RangeField(self.tr("Clay, parts in 100"), 5, 35)
        self.flint_parts = RangeField(self.tr("Silica, parts in 100"), 5, 35)
        places = sources.unlike(4)
        corners = zip("ABCD", self._places(), places, strict=True)
        self.corners = [
            self._source_box(self.tr("Corner {}, {}").format(letter, where), place)
            for letter, where, place in corners
        ]
        self.columns = CountBox(self.tr("Tiles from left to right"), 2, MOST_ALONG, COLUMNS)
        self.rows = CountBox(self.tr("Tiles from top to bottom"), 2, MOST_ALONG, ROWS)
        self._lay_out()
        self._connect()
        self._show_way()

    def plan(self) -> Plan:
        recipes = self._recipes()
        return grid_blend(recipes, self.sources.studio, self.columns.value(), self.rows.value())

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        said = list(same_corners(self, plan))
        if self.way.currentData() == UNITY and self._drift > _NEAR_DRIFT:
            said.append(
                self.tr("The fluxes drift by up to {:.3f} mol between the corners.").format(
                    self._drift
                )
            )
        return tuple(said)

    def suggest(self) -> None:
        """Begin each way of spanning with a rectangle around the base recipe."""
        way = self.way.currentData()
        if way in self._suggested or way == CHOSEN:
            return
        self._suggested.add(way)
        try:
            base = self._load(self.base)
        except InputError:
            return
        if way == UNITY:
            self._suggest_unity(base)
        else:
            self._suggest_parts(base)

    def _recipes(self) -> Sequence[Recipe]:
        way = self.way.currentData()
        self._drift = 0.0
        if way == CHOSEN:
            return [self._load(box) for box in self.corners]
        self.suggest()
        base = self._load(self.base)
        found: CornerSet
        if way == UNITY:
            also = self.also.material_id()
            ids = [row.material for row in base.base] + ([also] if also else [])
            found = unity_corners(
                base, self.silica.range(), self.alumina.range(), self.sources.studio, ids
            )
        else:
            found = parts_corners(
                base,
                (self.clay.material_id(), self.clay_parts.range()),
                (self.flint.material_id(), self.flint_parts.range()),
                self.sources.studio,
            )
        self._drift = found.flux_drift
        return found.recipes

    def _suggest_unity(self, base: Recipe) -> None:
        point = formula_alone(base, self.sources.studio, base_alone=True).point
        if point is None:
            return
        silica, alumina = point
        for low_s, high_s, low_a, high_a in _RECTANGLES:
            # Inward, so that rounding does not step out of reach.
            across = Range(_up(silica * low_s), _down(silica * high_s))
            up = Range(_up(alumina * low_a), _down(alumina * high_a))
            self.silica.show_range(across)
            self.alumina.show_range(up)
            try:
                unity_corners(base, across, up, self.sources.studio)
            except InputError:
                continue
            return

    def _suggest_parts(self, base: Recipe) -> None:
        whole = sum(row.amount for row in base.base) or 1.0
        picked = (
            ("clay", self.clay, self.clay_parts, "kaolin"),
            ("silica", self.flint, self.flint_parts, "silica"),
        )
        for group, box, field, usual in picked:
            own: dict[str, float] = {}
            for row in base.base:
                material = material_of(base, self.sources.studio, row.material)
                if material is not None and material.group == group:
                    own[row.material] = own.get(row.material, 0.0) + 100.0 * row.amount / whole
            most = max(own, key=lambda name: own[name], default=usual)
            box.choose(most)
            parts = own.get(most, 15.0)
            field.show_range(Range(max(parts - 15.0, 0.0), min(parts + 15.0, 45.0)), 0)

    def _places(self) -> tuple[str, str, str, str]:
        return (
            self.tr("top left"),
            self.tr("top right"),
            self.tr("bottom left"),
            self.tr("bottom right"),
        )

    def _lay_out(self) -> None:
        form = self.form
        form.addRow(self.tr("Corners"), self.way)
        form.addRow(self.tr("Base"), self.base)
        form.addRow(self.tr("SiO₂"), self.silica)
        form.addRow(self.tr("Al₂O₃"), self.alumina)
        form.addRow(self.tr("Also allow"), self.also)
        form.addRow(self.tr("Clay"), self.clay)
        form.addRow(self.tr("Clay, parts"), self.clay_parts)
        form.addRow(self.tr("Silica"), self.flint)
        form.addRow(self.tr("Silica, parts"), self.flint_parts)
        for letter, where, box in zip("ABCD", self._places(), self.corners, strict=True):
            form.addRow(f"{letter}, {where}", box)
        form.addRow(
            self.tr("Tiles"),
            beside(
                self.columns,
                QLabel(self.tr("across")),
                self.rows,
                QLabel(self.tr("down")),
            ),
        )

    def _connect(self) -> None:
        self.way.currentIndexChanged.connect(self._on_way)
        for box in (self.also, self.clay, self.flint):
            box.picked.connect(self._tell)
        for field in (self.silica, self.alumina, self.clay_parts, self.flint_parts):
            for edit in (field.low, field.high):
                edit.textEdited.connect(self._on_typed)
        self.base.currentIndexChanged.connect(self._on_base)
        for box in (self.columns, self.rows):
            box.valueChanged.connect(self._tell)

    def _on_typed(self) -> None:
        self._typed.add(self.way.currentData())
        self._tell()

    def _on_base(self) -> None:
        # A rectangle that was typed stays; one that was only offered fits the old base.
        self._suggested &= self._typed
        self._tell()

    def _on_way(self) -> None:
        self._show_way()
        self._tell()

    def _show_way(self) -> None:
        way = self.way.currentData()
        shown = {
            UNITY: (self.base, self.silica, self.alumina, self.also),
            PARTS: (self.base, self.clay, self.clay_parts, self.flint, self.flint_parts),
            CHOSEN: tuple(self.corners),
        }
        every = {widget for widgets in shown.values() for widget in widgets}
        for widget in every:
            self.form.setRowVisible(widget, widget in shown[way])


def _up(value: float) -> float:
    return round(value + 0.00499, 2)


def _down(value: float) -> float:
    return round(value - 0.00499, 2)
