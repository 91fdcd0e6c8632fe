"""Swap: a material goes out, others come in, and the formula is kept as nearly as can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.before_after import ROW_HEIGHT, BeforeAfterTable, Line
from app.delegates import MaterialEdit
from app.finding_dialog import FindingDialog
from app.formatting import NOTHING, decimals, in_a_sentence, oxide_text, oxides_in
from app.message_label import MessageLabel
from app.problems import words_of
from app.quiet_combo import QuietComboBox
from app.swap_map import SwapMap
from app.theme import Palette, Role, Theme
from core.cautions import cautions_for
from core.errors import InputError
from core.evaluate import Evaluation, evaluate, material_of
from core.materials import Material
from core.oxides import INDEX, OXIDES
from core.reading.words import margin_words, verdict
from core.recipe import Ingredient, Recipe, Section, total
from core.solve import Swapped, swap
from core.solve.swap import KEPT
from core.studio import Studio

_MOST_SUGGESTED: Final = 6
_TRACE: Final = 5e-5
_BEYOND: Final = KEPT + 1e-6
"""The solver puts an oxide on the very limit, give or take its own tolerance."""
_BUTTON_PX: Final = 230
# Common practice, no source: what stands for what.
_PAIRS: Final = {"kaolin": ("calcined-kaolin",), "calcined-kaolin": ("kaolin",)}


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A usual swap of several materials at once."""

    out: tuple[str, ...]
    into: tuple[str, ...]
    moving: tuple[str, ...] = ()
    """Rows that have to move along."""


class SwapDialog(FindingDialog):
    """Swaps materials of the base and shows at once what that does; it changes no recipe itself.

    Parameters
    ----------
    evaluation : Evaluation
        Of the recipe as it stands; what happens to it later is not followed.
    theme : Theme
        Its colours are followed live.
    out : str
        Id of the row to begin with; the first that is free when left out.
    """

    def __init__(
        self,
        evaluation: Evaluation,
        theme: Theme,
        out: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Swap a material"))
        self.swapped: Swapped | None = None
        """What was taken; None before, and after Cancel."""
        self._recipe, self._studio = evaluation.recipe, evaluation.studio
        # A swap counts the additions; the reading beside it has to count them too.
        self._before = (
            evaluate(self._recipe, self._studio, rules=evaluation.rules)
            if evaluation.base_alone
            else evaluation
        )
        self._shown: Swapped | None = None
        self._after: Evaluation | None = None
        self._offered: list[str] = []
        self._into: list[str] = []
        self._moving: set[str] = set()
        self._keep = set(self._oxides())
        self._typed = ""
        # The list of names writes into its line once more after it has told what was picked.
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(0)
        self._make_choices(evaluation, out)
        self._make_results()
        self._make_foot()
        self._lay_out()
        self._connect()
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed(theme.palette)
        self._begin_anew()
        self.out.setFocus()
        self.resize(1000, 640)

    @property
    def found(self) -> Swapped | None:
        """The swap on show; None while there is none for what is chosen."""
        return self._shown

    @property
    def going(self) -> tuple[str, ...]:
        """Ids of what goes out."""
        chosen = (self.out.currentData(), self.also_out.currentData())
        return tuple(dict.fromkeys(i for i in chosen if i))

    @property
    def coming(self) -> tuple[str, ...]:
        """Ids of what comes in."""
        return tuple(self._into)

    def put_in(self, material_id: str) -> None:
        """Add a material to what comes in."""
        if material_id in self.going or material_id in self._into:
            return
        if material_id not in self._offered:
            self._offered.append(material_id)
        self._into.append(material_id)
        self._solve()

    def leave_out(self, material_id: str) -> None:
        """Take a material from what comes in."""
        if material_id in self._into:
            self._into.remove(material_id)
            self._solve()

    def let_move(self, material_id: str, on: bool = True) -> None:
        """Let another row move, or hold it."""
        (self._moving.add if on else self._moving.discard)(material_id)
        self._solve()

    def keep_oxide(self, oxide: str, on: bool = True) -> None:
        """Ask for an oxide to be kept, or let it go first."""
        (self._keep.add if on else self._keep.discard)(oxide)
        self._solve()

    def take_suggestion(self) -> None:
        """Choose what the suggestion on the button says."""
        suggestion = self._suggestion()
        if suggestion is None:
            return
        self._set_out(self.out, suggestion.out[0])
        self._set_out(self.also_out, suggestion.out[1] if len(suggestion.out) > 1 else "")
        self._into = list(suggestion.into)
        self._offered += [i for i in suggestion.into if i not in self._offered]
        self._moving |= set(suggestion.moving)
        self._solve()

    def _make_choices(self, evaluation: Evaluation, out: str) -> None:
        self.out, self.also_out = QuietComboBox(), QuietComboBox()
        self.also_out.addItem(self.tr("nothing else"), "")
        for row in _merged(self._recipe):
            name = self._name(row.material)
            locked = row.material in self._locked
            for box in (self.out, self.also_out):
                box.addItem(self.tr("{} (locked)").format(name) if locked else name, row.material)
                box.model().item(box.count() - 1).setEnabled(not locked)
        for box in (self.out, self.also_out):
            box.setMinimumHeight(ROW_HEIGHT)
            box.setSizeAdjustPolicy(
                QuietComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            box.setMinimumContentsLength(14)
        free = [row.material for row in _merged(self._recipe) if row.material not in self._locked]
        self._set_out(self.out, out if out in free else free[0] if free else "")
        self.out.setAccessibleName(self.tr("Takes out"))
        self.also_out.setAccessibleName(self.tr("Takes out as well"))
        # The picker asks what it is given for the studio's materials alone.
        self.picker = MaterialEdit(evaluation, self)  # type: ignore[arg-type]
        self.picker.setFrame(True)
        self.picker.setMinimumHeight(ROW_HEIGHT)
        self.picker.setPlaceholderText(self.tr("another: type its name"))
        self.picker.setAccessibleName(self.tr("Put in another material"))
        self.into_table = BeforeAfterTable(
            self.tr("What may come in; Space ticks one"), ["", "", "", ""], 2
        )
        self.into_table.show_names_alone()
        self.suggest = QPushButton()

    def _make_results(self) -> None:
        self.rows = BeforeAfterTable(
            self.tr("Rows before and after; Space lets a row move"),
            [self.tr("may move, parts"), self.tr("before"), self.tr("after"), self.tr("±")],
            2,
        )
        self.oxides = BeforeAfterTable(
            self.tr("Unity formula before and after; Space keeps an oxide"),
            [self.tr("keep, mol"), self.tr("before"), self.tr("after"), self.tr("±")],
            3,
        )
        self.map = SwapMap()
        self.readings = [QLabel() for _ in range(6)]
        self.words = MessageLabel(self.tr("What became of the formula"))
        self.notes = MessageLabel(self.tr("Notes and cautions"))
        self.note_area = QScrollArea()
        self.note_area.setWidget(self.notes)
        self.note_area.setWidgetResizable(True)
        self.note_area.setFrameShape(QFrame.Shape.NoFrame)
        self.note_area.setAccessibleName(self.tr("Notes and cautions"))

    def _make_foot(self) -> None:
        self.suggest.setAutoDefault(False)
        self.suggest.setMinimumHeight(ROW_HEIGHT)

    def _lay_out(self) -> None:
        columns = QHBoxLayout()
        columns.setSpacing(16)
        columns.addLayout(self._left(), 27)
        columns.addLayout(self._right(), 73)
        self._lay_foot(columns)
        order = (
            self.out,
            self.also_out,
            self.picker,
            self.into_table,
            self.suggest,
            self.rows,
            self.oxides,
            self.note_area,
            self.take_button,
            self.keep_button,
            self.cancel_button,
        )
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _left(self) -> QVBoxLayout:
        layout = QVBoxLayout()
        layout.setSpacing(4)
        for title, *parts in (
            (self.tr("Takes &out"), self.out),
            (self.tr("and as &well"), self.also_out),
            (self.tr("Puts &in"), self.picker, self.into_table, self.suggest),
        ):
            label = QLabel(title)
            label.setBuddy(parts[0])
            layout.addWidget(label)
            for part in parts:
                layout.addWidget(part, 1 if part is self.into_table else 0)
            layout.addSpacing(4)
        layout.addWidget(self.map, 1)
        return layout

    def _right(self) -> QVBoxLayout:
        tables = QHBoxLayout()
        tables.setSpacing(16)
        tables.addWidget(self.rows, 56)
        tables.addWidget(self.oxides, 44)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(2, 1)
        for place, label in enumerate(self.readings):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setMinimumWidth(1)
            grid.addWidget(label, *divmod(place, 3))
        layout = QVBoxLayout()
        layout.setSpacing(8)
        layout.addLayout(tables, 3)
        layout.addLayout(grid)
        layout.addWidget(self.words)
        layout.addWidget(self.note_area, 1)
        return layout

    def _connect(self) -> None:
        self.out.currentIndexChanged.connect(self._begin_anew)
        self.also_out.currentIndexChanged.connect(self._begin_anew)
        self.picker.picked.connect(self._on_picked)
        self.picker.returnPressed.connect(self._on_entered)
        self._settle.timeout.connect(self._put_in_what_was_typed)
        self.into_table.turned.connect(self._on_into_turned)
        self.rows.turned.connect(self.let_move)
        self.oxides.turned.connect(self.keep_oxide)
        self.suggest.clicked.connect(self.take_suggestion)

    @property
    def _locked(self) -> set[str]:
        return {row.material for row in self._recipe.base if row.locked}

    def _name(self, material_id: str) -> str:
        material = material_of(self._recipe, self._studio, material_id)
        return material.name if material is not None else material_id

    def _oxides(self) -> list[str]:
        """Oxides of the formula before."""
        unity = self._before.formula.unity
        if unity is None:
            return []
        return [o for o, value in zip(OXIDES, unity, strict=True) if value > 0]

    @staticmethod
    def _set_out(box: QuietComboBox, material_id: str) -> None:
        box.blockSignals(True)
        box.setCurrentIndex(box.findData(material_id))
        box.blockSignals(False)

    def _begin_anew(self, *_: object) -> None:
        """Another material goes out: offer what usually takes its place."""
        if self.also_out.currentData() == self.out.currentData():
            self._set_out(self.also_out, "")
        going = self.going
        self._into = [i for i in self._into if i not in going]
        found = usual_swaps(self._recipe, self._studio, going)
        self._offered = [*self._into, *(i for i in found if i not in self._into)]
        self._moving -= set(going)
        self._solve()

    def _on_picked(self) -> None:
        self._typed = self.picker.material_id()
        self._settle.start()

    def _on_entered(self) -> None:
        # Enter on a name in the list is told twice, as typed and as picked.
        if not self._settle.isActive() and self.picker.text().strip():
            self._typed = self.picker.material_id()
            self._settle.start()

    def _put_in_what_was_typed(self) -> None:
        chosen, self._typed = self._typed, ""
        self.picker.clear()
        if not chosen:
            return
        if self._studio.materials.get(chosen) is None:
            self._show_fault(self.tr("No material of the table is called “{}”.").format(chosen))
        elif chosen in self.going:
            self._show_fault(self.tr("{} goes out already.").format(self._name(chosen)))
        else:
            self.put_in(chosen)

    def _on_into_turned(self, material_id: str, on: bool) -> None:
        (self.put_in if on else self.leave_out)(material_id)

    def _suggestion(self) -> Suggestion | None:
        """A usual swap of several materials that is not chosen yet."""
        for suggestion in swaps_of_several(self._recipe, self.going):
            known = all(self._studio.materials.get(i) is not None for i in suggestion.into)
            chosen = set(suggestion.into) <= set(self._into) and self.going == suggestion.out
            if known and not chosen:
                return suggestion
        return None

    def _solve(self) -> None:
        self._shown = self._after = None
        try:
            if self._before.formula.unity is None:
                raise InputError(
                    self.tr("there is no unity formula to keep yet"),
                    self.tr("give the base a flux first"),
                )
            if not self.going:
                raise InputError(self.tr("every row is locked"), self.tr("unlock one first"))
            if self._into:
                self._shown = swap(
                    self._recipe,
                    self._studio,
                    self.going,
                    self._into,
                    [oxide for oxide in OXIDES if oxide in self._keep],
                    sorted(self._moving),
                )
                self._after = evaluate(self._shown.recipe, self._studio, rules=self._before.rules)
        except InputError as fault:
            self._show_all()
            self._show_fault(in_a_sentence(oxides_in(words_of(fault))))
        else:
            self._show_all()
            self._say_what_happened()

    def _show_all(self) -> None:
        self._show_into()
        self._show_rows()
        self._show_oxides()
        self._show_readings()
        self._show_notes()
        suggestion = self._suggestion()
        self.suggest.setVisible(suggestion is not None)
        if suggestion is not None:
            text = self.tr("{} for {}").format(
                self._joined(suggestion.into), self._joined(suggestion.out)
            )
            metrics = self.suggest.fontMetrics()
            self.suggest.setText(metrics.elidedText(text, Qt.TextElideMode.ElideRight, _BUTTON_PX))
            if suggestion.moving:
                text += self.tr("; {} may move").format(self._joined(suggestion.moving))
            self.suggest.setToolTip(text)
            self.suggest.setAccessibleName(text)
        for button in (self.take_button, self.keep_button):
            button.setEnabled(self._shown is not None)

    def _joined(self, ids: tuple[str, ...]) -> str:
        return self.tr(" and ").join(self._name(i) for i in ids)

    def _show_into(self) -> None:
        self.into_table.show_lines(
            [
                Line(i, self._name(i), None, None, ticked=i in self._into)
                for i in self._offered
                if i not in self.going
            ]
        )

    def _show_rows(self) -> None:
        lines = []
        before = {row.material: row.amount for row in _merged(self._recipe)}
        after = (
            {row.material: row.amount for row in _merged(self._shown.recipe)}
            if self._shown is not None
            else {}
        )
        for i in dict.fromkeys([*before, *after]):
            why = self.tr("is locked") if i in self._locked else ""
            stays = i in before and i not in self._into and i not in self.going
            tick = i in self._moving if stays else None
            was, now = before.get(i), after.get(i) if self._shown is not None else None
            differs = self._shown is not None and abs((was or 0) - (now or 0)) > 5e-7
            lines.append(
                Line(i, self._name(i), was, now, tick, why, differs, self._shown is not None)
            )
        if self._shown is not None:
            for change in self._shown.rows:
                if change.section is Section.ADDITIONS:
                    name = self.tr("+ {}, %").format(self._name(change.material))
                    key = f"+{change.material}"
                    lines.append(Line(key, name, change.before, change.after, bold=True))
        base = total(self._recipe.base)
        now = total(self._shown.recipe.base) if self._shown is not None else None
        lines.append(Line("", self.tr("total of the base"), base, now, compared=now is not None))
        self.rows.show_lines(lines)

    def _show_oxides(self) -> None:
        unity, shown = self._before.formula.unity, self._shown
        if unity is None:
            self.oxides.show_lines([])
            return
        lines = []
        for oxide in OXIDES:
            place = INDEX[oxide]
            was = float(unity[place])
            now = float(shown.after[place]) if shown is not None else None
            if max(was, now or 0.0) < _TRACE:
                continue
            moved = shown is not None and abs(shown.shifts.get(oxide, 0.0)) > _BEYOND
            lines.append(
                Line(
                    oxide,
                    oxide_text(oxide),
                    was,
                    now,
                    ticked=oxide in self._keep,
                    bold=moved,
                    compared=shown is not None,
                )
            )
        self.oxides.show_lines(lines)

    def _show_readings(self) -> None:
        shown, after = self._shown, self._after
        before_point = self._before.point
        after_point = shown.point_after if shown is not None else None
        lines = (
            (self.tr("before ○"), before_point, self._before),
            (self.tr("after ●"), after_point, after),
        )
        for row, (name, point, evaluation) in enumerate(lines):
            texts = (name, _figures(point), _reading(evaluation))
            for label, text in zip(self.readings[3 * row :], texts, strict=False):
                label.setText(text)
                label.setToolTip(text)
        surface = (after or self._before).reading.surface
        self.map.show_points(
            before_point,
            after_point,
            surface.basis if surface else None,
            surface.rules if surface else None,
        )

    def _show_notes(self) -> None:
        lines = []
        if self._shown is not None:
            lines += [in_a_sentence(oxides_in(note)) for note in self._shown.notes]
            known = {row.material for row in (*self._recipe.base, *self._recipe.additions)}
            new = [
                m
                for row in self._shown.recipe.base
                if row.material not in known
                and (m := material_of(self._recipe, self._studio, row.material)) is not None
            ]
            lines += [f"{', '.join(names)}: {text}" for text, names in cautions_for(new)]
        self.notes.say("\n".join(lines))

    def _say_what_happened(self) -> None:
        if self._shown is None:
            self.words.say(
                self.tr("Tick what comes in instead, or type its name. Nothing changes yet.")
            )
            return
        if self._shown.exact:
            self.words.say(self.tr("The whole formula stays as it was."), Role.GOOD)
            return
        missed = self._moved(lambda oxide: oxide in self._keep)
        let_go = self._moved(lambda oxide: oxide not in self._keep)
        if missed:
            moved = ", ".join(part for part in (missed, let_go) if part)
            self.words.say(
                self.tr(
                    "With these materials the formula cannot be kept. Moved by more than {}: {}. "
                    "It is the nearest; letting other rows move may help."
                ).format(KEPT, moved),
                Role.LOOK,
            )
        elif let_go:
            self.words.say(
                self.tr("What was to be kept is kept within {}. Let go: {}.").format(KEPT, let_go),
                Role.LOOK,
            )
        else:
            self.words.say(
                self.tr("The formula is kept: no oxide shifts by more than {}.").format(KEPT),
                Role.GOOD,
            )

    def _moved(self, which: Callable[[str], bool]) -> str:
        assert self._shown is not None
        moved = {o: s for o, s in self._shown.shifts.items() if abs(s) > _BEYOND and which(o)}
        return ", ".join(
            f"{oxide_text(o)} {'+' if s > 0 else '−'}{abs(s):.3f}" for o, s in moved.items()
        )

    def _show_fault(self, words: str) -> None:
        self.words.say(words, Role.STOP)

    def _close_with(self, *, as_variant: bool) -> None:
        if self._shown is None:
            return
        self.swapped, self.as_variant = self._shown, as_variant
        self.accept()

    def _on_theme_changed(self, palette: Palette) -> None:
        parts: tuple[Any, ...] = (
            self.into_table,
            self.rows,
            self.oxides,
            self.map,
            self.words,
            self.notes,
        )
        for part in parts:
            part.set_palette(palette)


def usual_swaps(recipe: Recipe, studio: Studio, going: tuple[str, ...]) -> list[str]:
    """Return ids of materials that usually take the place of others, the nearest first.

    Common practice, no source: raw for calcined kaolin, spar for spar, what
    else stands in the same group of the table.
    """
    found: list[str] = []
    for material_id in going:
        found += _PAIRS.get(material_id, ())
        material = material_of(recipe, studio, material_id)
        if material is None or material.group == "other":
            continue
        alike = [m for m in studio.materials if m.group == material.group and _offered(m)]
        # The studio's own first; the sort keeps the order of the table.
        alike.sort(key=lambda m: (m.origin != "studio", m.form != material.form))
        found += [m.id for m in alike]
    known = [
        i for i in dict.fromkeys(found) if i not in going and studio.materials.get(i) is not None
    ]
    return known[:_MOST_SUGGESTED]


def swaps_of_several(recipe: Recipe, going: tuple[str, ...]) -> list[Suggestion]:
    """Return usual swaps of several materials that begin with what goes out."""
    rows = {row.material for row in recipe.base if not row.locked}
    found = []
    if set(going) & {"talc", "whiting"} and rows >= {"talc", "whiting"}:
        # As much whiting goes as dolomite brings lime for the magnesia of the talc.
        found.append(Suggestion(("talc",), ("dolomite", "silica"), ("whiting",)))
    if "dolomite" in going and "dolomite" in rows:
        moving = ("silica",) if "silica" in rows else ()
        found.append(Suggestion(("dolomite",), ("talc", "whiting"), moving))
    locked = {row.material for row in recipe.base if row.locked}
    return [s for s in found if not locked & {*s.into, *s.out}]


def _offered(material: Material) -> bool:
    return (
        material.form != "soluble"
        and "-reference" not in material.id
        and not material.id.endswith("-1886")
        and "lead" not in material.hazards
    )


def _merged(recipe: Recipe) -> list[Ingredient]:
    """Base rows with those of one material added up, each where it first stands."""
    merged: dict[str, Ingredient] = {}
    for row in recipe.base:
        held = merged.get(row.material)
        merged[row.material] = (
            row if held is None else replace(held, amount=held.amount + row.amount)
        )
    return list(merged.values())


def _figures(point: tuple[float, float] | None) -> str:
    if point is None:
        return NOTHING
    silica, alumina = point
    ratio = decimals(silica / alumina) if alumina > 0 else NOTHING
    return f"SiO₂ {silica:.3f}  Al₂O₃ {alumina:.3f}  SiO₂:Al₂O₃ {ratio}"


def _reading(evaluation: Evaluation | None) -> str:
    if evaluation is None or evaluation.reading.surface is None:
        return NOTHING
    return f"{verdict(evaluation.reading)}, {margin_words(evaluation.reading.surface)}"
