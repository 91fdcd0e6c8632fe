"""What is asked for each kind of blend; each form makes the plan of what it was told."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import (
    QFormLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.cell_copy import copy_as_cell
from app.plan_fields import ChoiceBox, CountBox, MaterialBox, NumberField, beside
from app.plan_sources import Source, Sources
from app.theme import Palette, Role
from core.blend.additions import MOST_TILES, doubling
from core.blend.line import FEWEST, MOST
from core.blend.mix import check_same_materials
from core.blend.plan import (
    Plan,
    additions_plan,
    line_blend,
    recipes_plan,
    triaxial_blend,
    variants_plan,
)
from core.blend.triaxial import STEPS
from core.errors import InputError
from core.numbers import number_text, read_amount
from core.recipe import Recipe
from core.variants import rows_of

_SOURCE = Qt.ItemDataRole.UserRole
_ROW_HEIGHT = 26


class KindForm(QWidget):
    """The fields of one kind of blend."""

    edited = Signal()

    def __init__(self, sources: Sources) -> None:
        super().__init__()
        self.sources = sources
        self.form = QFormLayout(self)
        self.form.setContentsMargins(0, 0, 0, 0)
        self.form.setHorizontalSpacing(8)
        self.form.setVerticalSpacing(6)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)

    def plan(self) -> Plan:
        """Return the plan.

        Raises
        ------
        InputError
            If what was asked cannot be planned; the message says why.
        """
        raise NotImplementedError

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        """Say what is odd about a plan, or what it keeps to."""
        return ()

    def _source_box(self, name: str, place: int) -> ChoiceBox:
        box = ChoiceBox(name, [(source.title, source) for source in self.sources.all])
        box.setCurrentIndex(place)
        box.currentIndexChanged.connect(self._tell)
        return box

    def _load(self, box: ChoiceBox) -> Recipe:
        return self.sources.load(box.currentData())

    def _tell(self, *_: object) -> None:
        self.edited.emit()


class LineForm(KindForm):
    """Two ends and a number of tiles."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        first, last = sources.unlike(2)
        self.ends = [
            self._source_box(self.tr("End A"), first),
            self._source_box(self.tr("End B"), last),
        ]
        self.tiles = CountBox(self.tr("Tiles of the line"), FEWEST, MOST, 11)
        self.tiles.valueChanged.connect(self._tell)
        self.form.addRow(self.tr("End A"), self.ends[0])
        self.form.addRow(self.tr("End B"), self.ends[1])
        self.form.addRow(self.tr("Tiles"), beside(self.tiles, QLabel(f"{FEWEST} … {MOST}")))

    def plan(self) -> Plan:
        first, last = (self._load(box) for box in self.ends)
        if rows_of(first) == rows_of(last):
            raise InputError(
                self.tr("both ends hold the same rows"),
                self.tr("choose another end, or save a variant first"),
            )
        return line_blend(first, last, self.tiles.value(), self.sources.studio)


class TriaxialForm(KindForm):
    """Three corners and a step."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        places = sources.unlike(3)
        self.corners = []
        for letter, place in zip("ABC", places, strict=True):
            name = self.tr("Corner {}").format(letter)
            self.corners.append(self._source_box(name, place))
            self.form.addRow(name, self.corners[-1])
        self.step = ChoiceBox(
            self.tr("Step of the triangle"),
            [
                (
                    self.tr("{} % steps, {} tiles").format(percent, (n + 1) * (n + 2) // 2),
                    n,
                )
                for percent, n in STEPS.items()
            ],
        )
        self.step.currentIndexChanged.connect(self._tell)
        self.form.addRow(self.tr("Step"), self.step)

    def plan(self) -> Plan:
        recipes = [self._load(box) for box in self.corners]
        return triaxial_blend(recipes, self.step.currentData(), self.sources.studio)

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        return same_corners(self, plan)


class AdditionsForm(KindForm):
    """One material in a series of amounts over one base."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        self.base = self._source_box(self.tr("Base of the series"), 0)
        colours = ("colourant", "opacifier")
        table = sorted(sources.studio.materials, key=lambda m: (m.group not in colours, m.name))
        self.material = MaterialBox(self.tr("Addition"), [(m.name, m.id) for m in table])
        held = [row.material for row in sources.recipe.additions]
        self.material.choose(next(iter(held), "tin-oxide"))
        self.way = ChoiceBox(
            self.tr("Amounts"),
            [(self.tr("doubling"), "doubling"), (self.tr("a list of my own"), "list")],
        )
        self.first = NumberField(self.tr("First amount, %"), 0.25)
        self.tiles = CountBox(self.tr("Tiles of the series"), 1, MOST_TILES, 4)
        self.list = QLineEdit("  ".join(number_text(percent) for percent in doubling()))
        self.list.setAccessibleName(self.tr("Amounts in percent, spaces between"))
        self.list.setMaxLength(200)
        self.form.addRow(self.tr("Base"), self.base)
        self.form.addRow(self.tr("Addition"), self.material)
        self.form.addRow(self.tr("Amounts"), self.way)
        self._doubling = beside(
            self.first, QLabel(self.tr("in")), self.tiles, QLabel(self.tr("tiles"))
        )
        self.form.addRow(self.tr("From, %"), self._doubling)
        self.form.addRow(self.tr("Percent"), self.list)
        self._show_way()
        self.material.picked.connect(self._tell)
        self.way.currentIndexChanged.connect(self._show_way)
        self.way.currentIndexChanged.connect(self._tell)
        self.first.textEdited.connect(self._tell)
        self.tiles.valueChanged.connect(self._tell)
        self.list.textEdited.connect(self._tell)

    def plan(self) -> Plan:
        if self.way.currentData() == "doubling":
            percents = doubling(self.first.positive(), self.tiles.value())
        else:
            words = self.list.text().replace(";", " ").replace("%", " ").split()
            if not words:
                raise InputError(
                    self.tr("the list of amounts is empty"), self.tr("write it like 0.5 1 2 4")
                )
            percents = tuple(read_amount(word) for word in words)
        base = self._load(self.base)
        return additions_plan(base, self.material.material_id(), percents, self.sources.studio)

    def _show_way(self) -> None:
        doubles = self.way.currentData() == "doubling"
        self.form.setRowVisible(self._doubling, doubles)
        self.form.setRowVisible(self.list, not doubles)


class SetForm(KindForm):
    """A free set: one tile for each that is ticked."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        self.list = QListWidget()
        copy_as_cell(self.list)
        self.list.setAccessibleName(self.tr("One tile of each that is ticked"))
        for source in sources.all:
            item = QListWidgetItem(source.title)
            item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            ticked = bool(source.variant)
            item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
            item.setData(_SOURCE, source)
            item.setSizeHint(QSize(0, _ROW_HEIGHT))
            self.list.addItem(item)
        self.list.setCurrentRow(0)
        self.list.setMinimumHeight(120)
        box = QWidget()
        layout = QVBoxLayout(box)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        label = QLabel(self.tr("&One tile of each that is ticked (Space ticks)"))
        label.setBuddy(self.list)
        layout.addWidget(label)
        layout.addWidget(self.list, 1)
        self.form.addRow(box)
        self.list.itemChanged.connect(self._tell)

    def set_palette(self, palette: Palette) -> None:
        """Take the colours of a theme."""
        # Fusion draws the outline of a tick box in a shade of the window's colour, which on a
        # dark ground is next to nothing; the list itself paints no window.
        own = QPalette(self.list.palette())
        own.setColor(QPalette.ColorRole.Window, palette.color(Role.MUTED))
        self.list.setPalette(own)

    def ticked(self) -> list[Source]:
        """Return what is ticked, in the order of the list."""
        items = [self.list.item(row) for row in range(self.list.count())]
        return [item.data(_SOURCE) for item in items if item.checkState() is Qt.CheckState.Checked]

    def plan(self) -> Plan:
        ticked = self.ticked()
        if not ticked:
            raise InputError(self.tr("nothing is ticked"), self.tr("tick a variant or recipe"))
        studio = self.sources.studio
        if all(source.variant for source in ticked):
            return variants_plan(self.sources.recipe, [one.variant for one in ticked], studio)
        recipes = [self.sources.load(source) for source in ticked]
        # A run keeps one analysis of each material for all of its tiles.
        check_same_materials(recipes, studio)
        plan = recipes_plan(recipes, studio)
        # Each tile belongs to a recipe of its own, not to the first of them.
        cells = (replace(cell, recipe=replace(cell.recipe, name=cell.label)) for cell in plan.cells)
        return replace(plan, cells=tuple(cells))


def same_corners(form: QWidget, plan: Plan) -> tuple[str, ...]:
    """Say which corners of a plan hold the same."""
    said = []
    for place, corner in enumerate(plan.corners):
        for other in plan.corners[:place]:
            if rows_of(corner.recipe) == rows_of(other.recipe):
                text = form.tr("Corners {} and {} hold the same.")
                said.append(text.format(other.letter, corner.letter))
                break
    return tuple(said)
