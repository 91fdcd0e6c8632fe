"""The next tiles: those that would tell most of where this kiln's zones lie."""

from __future__ import annotations

from typing import Any

from app.plan_fields import NumberField
from app.plan_kinds import KindForm
from app.plan_sources import Sources
from app.worker import run_in_background
from core.blend.plan import Plan, recipes_plan
from core.errors import InputError
from core.evaluate import evaluate
from core.learn.fit import LearntRules
from core.learn.proposals import MOST, Proposed, known_tiles, proposed_tiles

USUAL = 5


class NextForm(KindForm):
    """So many tiles, placed where the results so far leave most doubt."""

    def __init__(self, sources: Sources) -> None:
        super().__init__(sources)
        self._learnt: LearntRules | None = None
        self._found: tuple[Proposed, ...] = ()
        self._count = 0
        self._fault: InputError | None = None
        self.count = NumberField(self.tr("Number of tiles"), USUAL)
        self.form.addRow(self.tr("&Tiles"), self.count)
        self.count.textEdited.connect(self._tell)

    def plan(self) -> Plan:
        count = int(self.count.value())
        if count != self.count.value() or not 1 <= count <= MOST:
            raise InputError(
                self.tr("so many tiles cannot be proposed"), self.tr("give 1 to {}").format(MOST)
            )
        if self._fault is not None:
            raise self._fault
        if count != self._count:
            self._look(count)
            raise InputError(
                self.tr("the tiles read so far are being weighed"), self.tr("wait a moment")
            )
        return recipes_plan([one.recipe for one in self._found], self.sources.studio)

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        tiles = self._learnt.tiles if self._learnt is not None else 0
        told = sum(one.information for one in self._found)
        return (
            self.tr(
                "Chosen for what they would tell, after {} tiles read: {:.2f} bit about the zones"
                " of this map in all. They are made of the rows on the bench."
            ).format(tiles, told),
        )

    def _look(self, count: int) -> None:
        """Weigh the places of the map; years of tiles take their time."""
        recipe, studio, learnt = self.sources.recipe, self.sources.studio, self._learnt

        def work() -> Any:
            known = learnt or known_tiles(studio, recipe.body)
            evaluation = evaluate(recipe, studio, rules=known.rules)
            return known, proposed_tiles(evaluation, known, count), count

        run_in_background(self, work, self._show, self._fail)

    def _show(self, found: tuple[LearntRules, tuple[Proposed, ...], int]) -> None:
        self._learnt, self._found, self._count = found
        self.edited.emit()

    def _fail(self, fault: Exception) -> None:
        if not isinstance(fault, (InputError, OSError)):
            raise fault
        self._fault = (
            fault if isinstance(fault, InputError) else InputError(str(fault), "look at the disk")
        )
        self.edited.emit()
