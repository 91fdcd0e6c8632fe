"""Aim: a unity formula is asked for, and recipes of chosen materials come close to it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

from PySide6.QtCore import QTimer
from PySide6.QtGui import QHideEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.document import Document
from app.finding_dialog import FindingDialog
from app.formatting import decimals, in_a_sentence, oxide_text, oxides_in, signed
from app.goal_model import GoalModel
from app.goal_table import GoalTable
from app.limit_fields import LimitFields
from app.message_label import MessageLabel
from app.problems import words_of
from app.proposals_table import ProposalsModel, ProposalsTable, now_of
from app.quiet_combo import QuietComboBox
from app.shelf_list import ShelfList, ShelfModel
from app.theme import Palette, Role, Theme, show_tick_box
from app.worker import Task, run_in_background
from core.cautions import cautions_for
from core.errors import InputError
from core.evaluate import material_of
from core.materials import Material
from core.oxides import INDEX, OXIDES
from core.recipe import Recipe
from core.solve import Aimed, Limits, Others, Proposal, Shelf, Wish, aim, shelf_of
from core.solve.goals import REACHED
from core.studio import Studio

PAUSE_MS = 250
"""From the last edit to the search."""
SECONDS = 2.0
"""What the search for the fewest materials may take."""
_TRACE = 5e-4


class AimDialog(FindingDialog):
    """Asks for a formula and shows up to five recipes; it changes nothing by itself.

    Parameters
    ----------
    document : Document
        The recipe as it stands now; what happens to it later is not followed.
    theme : Theme
        Its colours are followed live.
    """

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Aim at a formula"))
        self.proposal: Proposal | None = None
        """What was taken; None before, and after Cancel."""
        self.wish: Wish | None = None
        """What was asked for, once a proposal is taken."""
        self._recipe, self._studio = document.recipe, document.studio
        self._with_additions = not document.base_alone
        unity = document.evaluation.formula.unity
        self._near = None if unity is None else tuple(float(value) for value in unity)
        self._looked_for: Wish | None = None
        self._shown: tuple[Wish, Aimed] | None = None
        self._task: Task | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(PAUSE_MS)
        self._make_shelf()
        self._make_goals()
        self._make_limits()
        self._make_results()
        self._make_foot()
        self._lay_out()
        self._connect()
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed(theme.palette)
        self._show_oxides()
        self._show_ratios()
        self._show_answer(None)
        self._say_what_to_do()
        self.goals.setFocus()
        self.resize(1100, 640)

    @property
    def looking(self) -> bool:
        """Whether an answer is on its way."""
        return self._timer.isActive() or self._task is not None

    @property
    def aimed(self) -> Aimed | None:
        """The answer on show; None while there is none for what is asked."""
        return None if self._shown is None else self._shown[1]

    def look(self) -> None:
        """Look for recipes now, for what is asked at this moment."""
        self._let_go()
        self._show_answer(None, keep_table=True)
        try:
            wish = self._read()
            if wish is None:
                self._show_answer(None)
                self._say_what_to_do()
                return
            shelf = self._shelf()
        except InputError as fault:
            self._show_fault(in_a_sentence(oxides_in(words_of(fault))))
            return
        step = self.step.currentData()
        self._looked_for = wish
        self._task = run_in_background(
            self,
            lambda: aim(shelf, wish, round_to=step, seconds=SECONDS),
            self._on_done,
            self._on_failed,
        )
        self._show_state(self.tr("looking…"))

    def stop(self) -> None:
        """Wait for no answer; what was typed stays."""
        self._let_go()
        self._show_answer(None)
        self._show_state(self.tr("stopped"))
        self.words.say(self.tr("“Look again” begins anew, and so does any change."))

    def tick_what_helps(self) -> None:
        """Tick the materials that would make the wish possible."""
        self.shelf.tick(self._helpful())

    def done(self, result: int) -> None:
        self._let_go()
        super().done(result)

    def hideEvent(self, event: QHideEvent) -> None:
        # A window that is only made small goes on looking.
        if not event.spontaneous():
            self._let_go()
        super().hideEvent(event)

    def _make_shelf(self) -> None:
        own = _known(self._recipe, self._studio)
        ticked = {m.id for m in own}
        for material in self._studio.materials:
            if material.origin == "studio" and material.id not in ticked:
                own.append(material)
                ticked.add(material.id)
        self.shelf = ShelfModel(own, self._studio.materials, ticked, self)
        self._ticked_at_first = self.shelf.ticked
        self.materials = ShelfList(self.shelf)
        self.search = QLineEdit()
        self.search.setPlaceholderText(self.tr("find in the whole table"))
        self.search.setAccessibleName(self.tr("Find a material; Enter ticks the first one found"))
        self.search.setClearButtonEnabled(True)
        self.search.setMaxLength(80)
        self.search.setMinimumHeight(28)
        self.everything = QCheckBox(self.tr("Show &all materials"))
        self.everything.setMinimumHeight(24)
        self.ticked_words = QLabel()

    def _make_goals(self) -> None:
        self.goal_model = GoalModel(self._near, self)
        self.goals = GoalTable(self.goal_model)
        self.as_now = QPushButton(self.tr("As it is &now"))
        self.as_now.setToolTip(self.tr("Copy the formula of the recipe into what is wanted"))
        self.as_now.setEnabled(self._near is not None)
        self.clear = QPushButton(self.tr("C&lear"))
        self.clear.setAccessibleName(self.tr("Clear everything that is wanted"))
        self.every_oxide = QCheckBox(self.tr("Every o&xide"))
        self.every_oxide.setToolTip(self.tr("List also what none of the ticked materials brings"))
        self.every_oxide.setMinimumHeight(24)
        self.ratio = QLabel()
        self.ratio.setAccessibleName(self.tr("Silica to alumina"))
        self.others = QuietComboBox()
        self.others.setMinimumHeight(28)
        self.others.setAccessibleName(self.tr("What becomes of the oxides left empty"))
        if self._near is not None:
            self.others.addItem(self.tr("are kept near the recipe"), Others.NEAR)
        self.others.addItem(self.tr("are free"), Others.FREE)
        self.others.addItem(self.tr("are left out"), Others.NONE)

    def _make_limits(self) -> None:
        self.limits = LimitFields()
        self.fault = MessageLabel(self.tr("What cannot be read"))
        self.fault.hide()

    def _make_results(self) -> None:
        names = {m.id: m.name for m in _known(self._recipe, self._studio)}

        def name_of(material_id: str) -> str:
            material = self._studio.materials.get(material_id)
            return names.get(material_id) or (material.name if material else material_id)

        now = now_of(self._recipe, self._studio, self._with_additions)
        self.proposal_model = ProposalsModel(now, name_of, self)
        self.proposals = ProposalsTable(self.proposal_model)
        self.state = QLabel()
        self.state.setAccessibleName(self.tr("Progress"))
        self.stop_button = QPushButton(self.tr("&Stop"))
        self.step = QuietComboBox()
        self.step.setMinimumHeight(28)
        self.step.setAccessibleName(self.tr("Round the parts to"))
        self.step.addItem(self.tr("not rounded"), None)
        self.step.addItem(self.tr("halves"), 0.5)
        self.step.addItem(self.tr("whole parts"), 1.0)
        self.words = MessageLabel(self.tr("What was found"))
        self.words.setMinimumHeight(3 * self.fontMetrics().lineSpacing())
        self.help_button = QPushButton(self.tr("Tic&k what would help"))
        self.help_button.hide()
        self.cautions = MessageLabel(self.tr("Cautions"))
        self.caution_area = QScrollArea()
        self.caution_area.setWidget(self.cautions)
        self.caution_area.setWidgetResizable(True)
        self.caution_area.setFrameShape(QFrame.Shape.NoFrame)
        self.caution_area.setAccessibleName(self.tr("Cautions for materials new to the recipe"))
        self.caution_area.setFixedHeight(3 * self.fontMetrics().lineSpacing() + 4)
        self.caution_area.hide()

    def _make_foot(self) -> None:
        self.note = MessageLabel(self.tr("Note"))
        if any(row.locked for row in self._recipe.base):
            self.note.say(
                self.tr("Locked rows may change too: aiming takes the whole base."), Role.LOOK
            )
        for button in (
            self.as_now,
            self.clear,
            self.stop_button,
            self.help_button,
        ):
            button.setAutoDefault(False)
            button.setMinimumHeight(28)

    def _lay_out(self) -> None:
        columns = QHBoxLayout()
        columns.setSpacing(16)
        columns.addLayout(self._left(), 36)
        columns.addLayout(self._middle(), 22)
        columns.addLayout(self._right(), 48)
        self._lay_foot(columns, self.note)
        order = (
            self.goals,
            self.as_now,
            self.clear,
            self.every_oxide,
            self.others,
            *self.limits.fields,
            self.search,
            self.materials,
            self.everything,
            self.step,
            self.stop_button,
            self.help_button,
            self.proposals,
            self.caution_area,
            self.take_button,
            self.keep_button,
            self.cancel_button,
        )
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _left(self) -> QVBoxLayout:
        buttons = QHBoxLayout()
        buttons.setSpacing(8)
        for button in (self.as_now, self.clear):
            buttons.addWidget(button)
        buttons.addStretch(1)
        buttons.addWidget(self.every_oxide)
        others = QHBoxLayout()
        others.setSpacing(8)
        title = QLabel(self.tr("The &others"))
        title.setBuddy(self.others)
        others.addWidget(title)
        others.addWidget(self.others, 1)
        return self._column(
            self._title(self.tr("Wanted unity formula, mol")),
            self.goals,
            self.ratio,
            buttons,
            others,
            self._title(self.tr("Limits, where you want them")),
            self.limits,
            self.fault,
        )

    def _middle(self) -> QVBoxLayout:
        return self._column(
            self._title(self.tr("Made from")),
            self.search,
            self.materials,
            self.ticked_words,
            self.everything,
        )

    def _right(self) -> QVBoxLayout:
        head = QHBoxLayout()
        head.setSpacing(8)
        head.addWidget(self._title(self.tr("Proposals")))
        head.addStretch(1)
        rounded = QLabel(self.tr("&Parts"))
        rounded.setBuddy(self.step)
        head.addWidget(rounded)
        head.addWidget(self.step)
        progress = QHBoxLayout()
        progress.setSpacing(8)
        progress.addWidget(self.state, 1)
        progress.addWidget(self.help_button)
        progress.addWidget(self.stop_button)
        return self._column(head, progress, self.words, self.proposals, self.caution_area)

    def _column(self, *parts: QWidget | QHBoxLayout) -> QVBoxLayout:
        layout = QVBoxLayout()
        layout.setSpacing(8)
        for part in parts:
            stretch = int(part in (self.goals, self.materials, self.proposals))
            if isinstance(part, QWidget):
                layout.addWidget(part, stretch)
            else:
                layout.addLayout(part)
        return layout

    def _title(self, text: str) -> QLabel:
        title = QLabel(text)
        font = title.font()
        font.setPointSizeF(font.pointSizeF() + 1)
        font.setBold(True)
        title.setFont(font)
        return title

    def _connect(self) -> None:
        self._timer.timeout.connect(self.look)
        self.goals.edited.connect(self._on_edited)
        self.as_now.clicked.connect(self.goal_model.want_as_now)
        self.clear.clicked.connect(self.goal_model.want_nothing)
        self.every_oxide.toggled.connect(self._show_oxides)
        self.others.currentIndexChanged.connect(self._on_edited)
        self.step.currentIndexChanged.connect(self._on_edited)
        self.limits.edited.connect(self._on_edited)
        self.search.textChanged.connect(self.shelf.find)
        self.search.returnPressed.connect(self._tick_first)
        self.everything.toggled.connect(self.shelf.show_all)
        self.shelf.ticked_changed.connect(self._on_ticked)
        self.proposals.chosen.connect(self._on_chosen)
        self.stop_button.clicked.connect(self._stop_or_look)
        self.help_button.clicked.connect(self.tick_what_helps)

    def _read(self) -> Wish | None:
        """Return what is asked; None while nothing is.

        Raises
        ------
        InputError
            If something cannot be read, or does not make a wish.
        """
        if self.goal_model.faults:
            raise next(iter(self.goal_model.faults.values()))
        goals, limits = self.goal_model.goals, self.limits.read()
        # Qt hands back the word, not the member.
        others = Others(self.others.currentData())
        if all(goal.free for goal in goals):
            if limits == Limits() and self.shelf.ticked == self._ticked_at_first:
                return None
            if others is not Others.NEAR:
                raise InputError(
                    self.tr("no oxide is asked for"),
                    self.tr("type one, or keep the others near the recipe"),
                )
        near = self._near if others is Others.NEAR and self._near is not None else ()
        return Wish(goals, others, near, limits)

    def _shelf(self) -> Shelf:
        if not self.shelf.ticked:
            raise InputError(self.tr("no material is ticked"), self.tr("tick at least one"))
        return shelf_of(self._recipe, self._studio, self.shelf.ticked, self._with_additions)

    def _let_go(self) -> None:
        self._timer.stop()
        if self._task is not None:
            self._task.drop()
            self._task = None

    def _on_edited(self, *_: object) -> None:
        self._let_go()
        self._show_ratios()
        self._show_answer(None, keep_table=True)
        self._show_state(self.tr("looking…"))
        self._timer.start()

    def _on_ticked(self) -> None:
        self._show_oxides()
        self._on_edited()

    def _tick_first(self) -> None:
        if self.search.text().strip() and self.shelf.shown:
            self.shelf.turn(0)
            self.search.selectAll()

    def _stop_or_look(self) -> None:
        if self.looking:
            self.stop()
        else:
            self.look()

    def _on_done(self, aimed: Aimed) -> None:
        self._task = None
        assert self._looked_for is not None
        self._show_answer((self._looked_for, aimed))
        self._show_state("")

    def _on_failed(self, fault: Exception) -> None:
        self._task = None
        if not isinstance(fault, InputError):
            self._show_answer(None)
            self._show_state("")
            raise fault
        self._show_fault(in_a_sentence(oxides_in(words_of(fault))))

    def _close_with(self, *, as_variant: bool) -> None:
        chosen = self.proposals.proposal
        if self._shown is None or chosen is None:
            return
        self.wish, self.proposal, self.as_variant = self._shown[0], chosen, as_variant
        self.accept()

    def _show_answer(self, answer: tuple[Wish, Aimed] | None, *, keep_table: bool = False) -> None:
        """Show an answer, or none; a table that is kept can be read, but not taken."""
        self._shown = answer
        self.fault.hide()
        self.words.say("")
        if answer is not None:
            self.proposal_model.show_proposals(answer[1].proposals)
        elif not keep_table:
            self.proposal_model.show_proposals(())
        self._show_chosen()

    def _on_chosen(self, proposal: Proposal | None) -> None:
        self.goal_model.show_proposal(proposal)
        self._show_ratios()
        self._show_chosen()

    def _show_chosen(self) -> None:
        proposal = self.proposals.proposal
        ready = self._shown is not None and proposal is not None
        self.take_button.setEnabled(ready)
        self.keep_button.setEnabled(ready)
        self.help_button.setVisible(bool(self._helpful()))
        self._show_cautions(proposal)
        if self._shown is not None:
            self._say_found(self._shown[1], proposal)

    def _say_found(self, aimed: Aimed, proposal: Proposal | None) -> None:
        lines = [in_a_sentence(oxides_in(shortfall.says)) for shortfall in aimed.shortfalls]
        if proposal is None:
            lines = lines or [self.tr("No mixture of these materials comes near.")]
            self.words.say("\n".join(lines), Role.LOOK)
            return
        number = self.proposal_model.proposals.index(proposal) + 1
        which = self.tr("{} of {}").format(number, len(self.proposal_model.proposals))
        off, drift = _furthest(proposal.off), _furthest(proposal.drift)
        if off:
            lines.append(self.tr("Proposal {}: furthest off is {}.").format(which, off))
        else:
            lines.append(self.tr("✓ Proposal {} is on target.").format(which))
        if drift:
            lines.append(self.tr("Of the others, {} moves furthest.").format(drift))
        if not aimed.fewest_proved:
            lines.append(
                self.tr("There was no time to make sure that no fewer materials would do.")
            )
        self.words.say("\n".join(lines), Role.GOOD if not off and aimed.reached else Role.LOOK)

    def _show_cautions(self, proposal: Proposal | None) -> None:
        known = {row.material for row in self._recipe.base}
        new = [m for m in (proposal.materials if proposal else ()) if m not in known]
        found = [m for i in new if (m := self._studio.materials.get(i)) is not None]
        lines = [f"{', '.join(names)}: {text}" for text, names in cautions_for(found)]
        self.cautions.say("\n".join(lines), Role.LOOK)
        self.caution_area.setVisible(bool(lines))

    def _show_fault(self, words: str) -> None:
        self._show_answer(None)
        self._show_state("")
        self.words.say(self.tr("Waiting until everything that is asked can be read."))
        self.fault.say(words, Role.STOP)
        self.fault.show()

    def _say_what_to_do(self) -> None:
        self._show_state("")
        self.stop_button.setEnabled(False)
        self.words.say(
            self.tr(
                "Type what you want into the “wanted” column, or a limit; tick what it may be "
                "made from. Recipes appear here as you type."
            )
        )

    def _show_state(self, words: str) -> None:
        self.state.setText(words)
        self.stop_button.setEnabled(True)
        self.stop_button.setText(self.tr("&Stop") if self.looking else self.tr("Look a&gain"))
        chosen = self.tr("{} ticked").format(len(self.shelf.ticked))
        self.ticked_words.setText(chosen)

    def _helpful(self) -> list[str]:
        """Ids that would help and are not ticked yet."""
        if self._shown is None:
            return []
        found = dict.fromkeys(i for s in self._shown[1].shortfalls for i in s.help)
        ticked = set(self.shelf.ticked)
        return [i for i in found if i in self._studio.materials and i not in ticked]

    def _show_oxides(self, *_: object) -> None:
        if self.every_oxide.isChecked():
            self.goal_model.show_oxides(OXIDES)
            return
        shown = [o for o in OXIDES if self._near is not None and self._near[INDEX[o]] > _TRACE]
        for material_id in self.shelf.ticked:
            material = material_of(self._recipe, self._studio, material_id)
            if material is not None:
                shown += [o for o in OXIDES if material.moles_per_gram[INDEX[o]] > 0]
        self.goal_model.show_oxides(shown)

    def _show_ratios(self) -> None:
        now, wanted, got = self.goal_model.ratios()
        texts = [self.tr("now {}").format(decimals(now))]
        if wanted is not None:
            texts.append(self.tr("wanted {}").format(_span(*wanted)))
        if got is not None:
            texts.append(self.tr("got {}").format(decimals(got)))
        self.ratio.setText(self.tr("SiO₂:Al₂O₃  {}").format(", ".join(texts)))

    def _on_theme_changed(self, palette: Palette) -> None:
        for part in (
            self.goal_model,
            self.proposal_model,
            self.materials,
            self.fault,
            self.words,
            self.cautions,
            self.note,
        ):
            part.set_palette(palette)
        for box in (self.everything, self.every_oxide):
            show_tick_box(box, palette)


def _known(recipe: Recipe, studio: Studio) -> list[Material]:
    """Return the materials of the base that can be found, each once."""
    ids = dict.fromkeys(row.material for row in recipe.base)
    found = (material_of(recipe, studio, i) for i in ids)
    return [material for material in found if material is not None]


def _furthest(values: Mapping[str, float]) -> str:
    """Write the oxide that lies furthest off; nothing where all are as good as there."""
    oxide = max(values, key=lambda name: abs(values[name]), default="")
    if not oxide or abs(values[oxide]) <= REACHED:
        return ""
    return f"{oxide_text(oxide)} {signed(values[oxide])}"


def _span(low: float, high: float) -> str:
    if math.isclose(low, high):
        return decimals(low)
    if math.isinf(high):
        return f"{decimals(low)}.."
    return f"{decimals(low)}..{decimals(high)}"
