"""Robust choice: the neighbouring recipe that is least likely to go wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from threading import Event
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QTimer
from PySide6.QtGui import QHideEvent
from PySide6.QtWidgets import (
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.before_after import ROW_HEIGHT, BeforeAfterTable, Line
from app.finding_dialog import FindingDialog
from app.formatting import NOTHING, in_a_sentence, oxides_in, parts
from app.message_label import MessageLabel
from app.problems import words_of
from app.quiet_combo import QuietComboBox
from app.swap_map import SwapMap
from app.theme import Palette, Role, Theme
from app.worker import Task, run_in_background
from core.errors import InputError
from core.evaluate import Evaluation, evaluate
from core.firing import FiringSheet
from core.oxides import Convention
from core.reading.many import judge_of
from core.reading.surface import ZONES
from core.reading.words import margin_words, verdict
from core.recipe import Recipe, total
from core.regions import Zone
from core.solve import Robustness, Steadiest, robustness, steadiest

Floats = NDArray[np.float64]

DISTANCES: Final = (2.0, 5.0, 10.0)
"""Parts of 100 that may change places."""
_USUAL: Final = 5.0
_WANTED: Final = (Zone.GLOSSY, Zone.SATIN, Zone.MATTE)
_BREATH_MS: Final = 100
_WORTH: Final = 0.005
"""Shares that differ by less are the same to a potter."""


class _StoppedError(Exception):
    """Nobody waits for the answer any more."""


@dataclass(eq=False)
class _Progress:
    """What a thread tells the window, and the window the thread."""

    stop: Event
    judged: int = 0
    """Draws so far."""

    def watched(
        self, judge: Callable[[Floats], tuple[Floats, Floats]], at_a_time: int = 1000
    ) -> Callable[[Floats], tuple[Floats, Floats]]:
        """Return the same judge, which counts, and gives up when it is told to."""

        def judged(moles: Floats) -> tuple[Floats, Floats]:
            found = []
            for start in range(0, len(moles), at_a_time):
                if self.stop.is_set():
                    raise _StoppedError
                found.append(judge(moles[start : start + at_a_time]))
                self.judged += len(found[-1][1])
            return (
                np.concatenate([chances for chances, _ in found]),
                np.concatenate([margin for _, margin in found]),
            )

        return judged


class SteadyDialog(FindingDialog):
    """Looks for the steadiest neighbour of a recipe; it changes nothing by itself.

    Parameters
    ----------
    evaluation : Evaluation
        Of the recipe as it stands; what happens to it later is not followed.
    theme : Theme
        Its colours are followed live.
    """

    def __init__(self, evaluation: Evaluation, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("The one least likely to go wrong"))
        self.recipe: Recipe | None = None
        """What was taken; None before, and after Cancel."""
        self._recipe, self._studio = evaluation.recipe, evaluation.studio
        # The draws count the additions; the reading beside them has to count them too.
        self._before = (
            evaluate(self._recipe, self._studio, rules=evaluation.rules)
            if evaluation.base_alone
            else evaluation
        )
        self._now: Robustness | None = None
        self._found: Steadiest | None = None
        self._after: Evaluation | None = None
        self._held = {row.material for row in self._recipe.base if row.locked}
        self._task: Task | None = None
        self._progress = _Progress(Event())
        self._searching = False
        self._clock = QTimer(self)
        self._clock.setInterval(_BREATH_MS)
        self._make()
        self._lay_out()
        self._connect()
        theme.changed.connect(self._on_theme_changed)
        self._on_theme_changed(theme.palette)
        self._show_found()
        self._judge_now()
        self.wanted.setFocus()
        self.resize(860, 600)

    @property
    def looking(self) -> bool:
        """Whether an answer is on its way."""
        return self._task is not None

    @property
    def now(self) -> Robustness | None:
        """What the recipe as it stands keeps; None while that is not known."""
        return self._now

    @property
    def found(self) -> Steadiest | None:
        """What the search found; None while it found nothing for what is chosen."""
        return self._found

    def look(self) -> None:
        """Begin the search."""
        heat = self._heat()
        if heat is None:
            return
        self._let_go()
        self._found = None
        self._show_found()
        recipe, studio, wanted = self._recipe, self._studio, self._columns()
        distance, held = float(self.distance.currentData()), sorted(self._held)
        judge = self._judge(heat, studio.convention)
        self._begin(
            lambda: steadiest(recipe, studio, judge, wanted, distance, held),
            self._on_steadiest,
            searching=True,
        )

    def stop(self) -> None:
        """Wait for no answer."""
        self._let_go()
        self._show_state(self.tr("stopped"))
        self._say_found()
        if self._now is None:
            self._judge_now()

    def let_move(self, material_id: str, on: bool = True) -> None:
        """Let a row move in the search, or hold it."""
        (self._held.discard if on else self._held.add)(material_id)
        self._forget()

    def done(self, result: int) -> None:
        self._let_go()
        super().done(result)

    def hideEvent(self, event: QHideEvent) -> None:
        self._let_go()
        super().hideEvent(event)

    def _make(self) -> None:
        self.wanted = QuietComboBox()
        self.wanted.setAccessibleName(self.tr("Wanted surface"))
        for zone in _WANTED:
            self.wanted.addItem(self.tr(zone.value), zone)
        self.wanted.setCurrentIndex(_WANTED.index(self._likeliest()))
        self.distance = QuietComboBox()
        self.distance.setAccessibleName(self.tr("How far the rows may move"))
        for distance in DISTANCES:
            text = self.tr("{} parts of 100 change places").format(parts(distance))
            self.distance.addItem(text, distance)
        self.distance.setCurrentIndex(DISTANCES.index(_USUAL))
        for box in (self.wanted, self.distance):
            box.setMinimumHeight(ROW_HEIGHT)
        self.look_button = QPushButton(self.tr("&Look for a steadier neighbour"))
        self.stop_button = QPushButton(self.tr("&Stop"))
        self.state = QLabel()
        self.state.setAccessibleName(self.tr("Progress"))
        header = [self.tr("before"), self.tr("after"), self.tr("±")]
        self.shares = BeforeAfterTable(
            self.tr("Share of the doubt, percent"), [self.tr("of the doubt, %"), *header], 1
        )
        self.rows = BeforeAfterTable(
            self.tr("Rows before and after, parts of 100; Space lets a row move"),
            [self.tr("may move, parts of 100"), *header],
            2,
        )
        self.map = SwapMap()
        self.readings = [QLabel(), QLabel()]
        self.words = MessageLabel(self.tr("What was found"))
        self.method = MessageLabel(self.tr("How it is found"))
        self.method.say(
            self.tr(
                "The doubt is 500 draws within the tolerances of the analyses and the step of "
                "your scale; the errors of the melt models count in the likelihood. It is a "
                "search, not a proof: it keeps the best of the recipes that it tried, and your "
                "kiln, layer and ware can still go another way. Fire a tile."
            )
        )
        for button in (
            self.look_button,
            self.stop_button,
        ):
            button.setAutoDefault(False)
            button.setMinimumHeight(ROW_HEIGHT)

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setHorizontalSpacing(8)
        form.setVerticalSpacing(8)
        form.addRow(self.tr("Wanted &surface"), self.wanted)
        form.addRow(self.tr("&Up to"), self.distance)
        progress = QHBoxLayout()
        progress.setSpacing(8)
        progress.addWidget(self.look_button, 1)
        progress.addWidget(self.stop_button)
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addLayout(form)
        left.addLayout(progress)
        left.addWidget(self.state)
        left.addWidget(self.map, 1)
        left.addWidget(self.method)
        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(self.shares)
        right.addWidget(self.rows, 1)
        for label in self.readings:
            right.addWidget(label)
        right.addWidget(self.words)
        columns = QHBoxLayout()
        columns.setSpacing(16)
        columns.addLayout(left, 42)
        columns.addLayout(right, 58)
        self._lay_foot(columns)
        height = 3 * ROW_HEIGHT + self.shares.horizontalHeader().sizeHint().height() + 4
        self.shares.setFixedHeight(height)
        order = (
            self.wanted,
            self.distance,
            self.look_button,
            self.stop_button,
            self.shares,
            self.rows,
            self.take_button,
            self.keep_button,
            self.cancel_button,
        )
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _connect(self) -> None:
        self.wanted.currentIndexChanged.connect(self._on_wanted_changed)
        self.distance.currentIndexChanged.connect(self._forget)
        self.rows.turned.connect(self.let_move)
        self.look_button.clicked.connect(self.look)
        self.stop_button.clicked.connect(self.stop)
        self._clock.timeout.connect(self._show_progress)

    def _likeliest(self) -> Zone:
        surface = self._before.reading.surface
        if surface is None:
            return Zone.SATIN
        return max(_WANTED, key=lambda zone: surface.probabilities[zone.value])

    def _columns(self) -> tuple[int, ...]:
        return (ZONES.index(self.wanted.currentData()),)

    def _heat(self) -> FiringSheet | None:
        """The firing to be read; None where there is nothing to read."""
        return self._before.heat if self._before.reading.surface is not None else None

    def _judge(
        self, heat: FiringSheet, convention: Convention
    ) -> Callable[[Floats], tuple[Floats, Floats]]:
        self._progress = _Progress(Event())
        return self._progress.watched(judge_of(heat, convention, self._before.rules))

    def _judge_now(self) -> None:
        """Find out what the recipe as it stands keeps."""
        self._let_go()
        heat = self._heat()
        if heat is None:
            self._show_state("")
            self._say_why_not()
            return
        recipe, studio, wanted = self._recipe, self._studio, self._columns()
        judge = self._judge(heat, studio.convention)
        self._begin(
            lambda: robustness(recipe, studio, judge, wanted), self._on_now, searching=False
        )

    def _begin(
        self, work: Callable[[], object], done: Callable[[object], None], *, searching: bool
    ) -> None:
        self._searching = searching
        self._task = run_in_background(self, work, done, self._on_failed)
        self._clock.start()
        self._show_progress()
        self._say_found()

    def _let_go(self) -> None:
        self._clock.stop()
        self._progress.stop.set()
        if self._task is not None:
            self._task.drop()
            self._task = None

    def _forget(self, *_: object) -> None:
        """Something else is asked: what was found is no answer to it."""
        was_searching = self.looking and self._searching
        if was_searching:
            self.stop()
        self._found = None
        self._show_found()

    def _on_wanted_changed(self, *_: object) -> None:
        self._now = None
        self._forget()
        self._judge_now()

    def _on_now(self, now: object) -> None:
        assert isinstance(now, Robustness)
        self._now = now
        self._ended()

    def _on_steadiest(self, found: object) -> None:
        assert isinstance(found, Steadiest)
        self._now, self._found = found.start, found
        self._ended()

    def _on_failed(self, fault: Exception) -> None:
        self._clock.stop()
        self._task = None
        self._show_state("")
        if not isinstance(fault, InputError):
            raise fault
        self.words.say(in_a_sentence(oxides_in(words_of(fault))), Role.STOP)

    def _ended(self) -> None:
        self._clock.stop()
        self._task = None
        self._show_state("")
        self._show_found()

    def _close_with(self, *, as_variant: bool) -> None:
        if self._found is None or self._found.distance <= 0:
            return
        self.recipe, self.as_variant = self._found.recipe, as_variant
        self.accept()

    def _show_progress(self) -> None:
        if self._searching:
            text = self.tr("looking… {:,} draws judged").format(self._progress.judged)
        else:
            text = self.tr("judging the recipe as it stands…")
        self._show_state(text)

    def _show_state(self, words: str) -> None:
        self.state.setText(words or " ")
        busy = self.looking
        self.stop_button.setEnabled(busy and self._searching)
        self.look_button.setEnabled(self._heat() is not None and not (busy and self._searching))

    def _show_found(self) -> None:
        found = self._found
        moved = found is not None and found.distance > 0
        self._after = (
            evaluate(found.recipe, self._studio, rules=self._before.rules)
            if found is not None and moved
            else None
        )
        self._show_shares(found.robustness if found is not None else None)
        self._show_rows()
        for label, name, evaluation in zip(
            self.readings,
            (self.tr("before ○"), self.tr("after ●")),
            (self._before, self._after),
            strict=True,
        ):
            label.setText(f"{name}  {_reading(evaluation)}")
        surface = (self._after or self._before).reading.surface
        self.map.show_points(
            self._before.point,
            self._after.point if self._after is not None else None,
            surface.basis if surface is not None else None,
        )
        for button in (self.take_button, self.keep_button):
            button.setEnabled(moved)
        self._say_found()

    def _show_shares(self, after: Robustness | None) -> None:
        now = self._now
        zone = self.wanted.currentText()
        figures = (
            (self.tr("{}, and melted").format(zone), "kept"),
            (self.tr("melted (margin above zero)"), "melted"),
            (self.tr("mean likelihood of {}").format(zone), "likely"),
        )
        self.shares.show_lines(
            [
                Line(
                    key,
                    name,
                    None if now is None else 100.0 * getattr(now, key),
                    None if after is None else 100.0 * getattr(after, key),
                    bold=key == "kept",
                    compared=now is not None and after is not None,
                )
                for name, key in figures
            ]
        )

    def _show_rows(self) -> None:
        base = total(self._recipe.base)
        scale = 100.0 / base if base > 0 else 0.0
        found = self._found
        locked = {row.material for row in self._recipe.base if row.locked}
        before, after = _amounts(self._recipe), _amounts(found.recipe) if found else {}
        lines = []
        for i, amount in before.items():
            was, now = scale * amount, scale * after[i] if i in after else None
            why = self.tr("is locked") if i in locked else ""
            differs = now is not None and abs(now - was) > 5e-7
            name = self._before.material_name(i)
            lines.append(
                Line(i, name, was, now, i not in self._held, why, differs, found is not None)
            )
        self.rows.show_lines(lines)

    def _say_found(self) -> None:
        found = self._found
        if self._heat() is None:
            self._say_why_not()
        elif self.looking and self._searching:
            self.words.say(self.tr("Trying what happens as parts change places between rows."))
        elif found is None:
            self.words.say(self.tr("Nothing was looked for yet; nothing changes by looking."))
        elif found.distance <= 0:
            self._say_none_better(found)
        else:
            worth = max(
                found.robustness.kept - found.start.kept,
                (found.robustness.likely - found.start.likely) / 2.0,
            )
            self.words.say(self._gain(found), Role.GOOD if worth >= _WORTH else Role.MUTED)

    def _say_none_better(self, found: Steadiest) -> None:
        if found.start.kept < _WORTH:
            self.words.say(
                self.tr(
                    "None of the {} recipes that were tried is likely to be {} and to melt. "
                    "Let the rows move further, or want another surface."
                ).format(found.tried, self.wanted.currentText()),
                Role.LOOK,
            )
        else:
            self.words.say(
                self.tr(
                    "Of {} recipes that were tried none keeps more than this one: it is as "
                    "steady as its neighbours."
                ).format(found.tried),
                Role.GOOD,
            )

    def _gain(self, found: Steadiest) -> str:
        zone, best, start = self.wanted.currentText(), found.robustness, found.start
        if best.kept - start.kept >= _WORTH:
            text = self.tr(
                "Of {} recipes that were tried this one keeps the most: {:.0f} % of the doubt "
                "stays {} and melted, before {:.0f} %."
            ).format(found.tried, 100 * best.kept, zone, 100 * start.kept)
        else:
            text = self.tr(
                "As much of the doubt stays {} and melted as before, {:.0f} %; of {} recipes that "
                "were tried this one makes {} likeliest, {:.1f} % in the mean, before {:.1f} %."
            ).format(
                zone, 100 * best.kept, found.tried, zone, 100 * best.likely, 100 * start.likely
            )
            if best.likely - start.likely < 2 * _WORTH:
                text += self.tr(" That is hardly worth the change.")
        moved = parts(round(found.distance, 2))
        text += self.tr(" {} parts of 100 changed places.").format(moved)
        return text.replace(" %", "\u00a0%")

    def _say_why_not(self) -> None:
        if self._before.heat is None:
            text = self.tr("There is nothing to judge yet: choose a firing that has a schedule.")
        else:
            text = self.tr("There is nothing to judge yet: the base needs a flux and silica.")
        self.words.say(text, Role.LOOK)

    def _on_theme_changed(self, palette: Palette) -> None:
        for part in (self.shares, self.rows, self.map, self.words, self.method):
            part.set_palette(palette)


def _amounts(recipe: Recipe) -> dict[str, float]:
    amounts: dict[str, float] = {}
    for row in recipe.base:
        amounts[row.material] = amounts.get(row.material, 0.0) + row.amount
    return amounts


def _reading(evaluation: Evaluation | None) -> str:
    if evaluation is None or evaluation.reading.surface is None:
        return NOTHING
    return f"{verdict(evaluation.reading)}, {margin_words(evaluation.reading.surface)}"
