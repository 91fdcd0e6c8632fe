"""The open recipe and its firing: every change goes through `edit` or `edit_firing`."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

import core.files.disk as disk
from app.formatting import day_text
from core.errors import InputError
from core.evaluate import Evaluation, evaluate, formula_alone, pins_of
from core.files.backups import day_of, is_backup
from core.files.content import ABSENT, Stamp
from core.files.saving import NotSettled
from core.files.whole import read_whole
from core.firing import Firing, firing_from, write_firing
from core.formula import Formula
from core.melt import expansion_sets
from core.melt.expansion import FITTED
from core.plain_yaml import read_file
from core.reading.running import running_rule
from core.recipe import Recipe
from core.recipe_file import recipe_from, save_recipe, with_analysis_pins
from core.studio import Studio, find_studio, open_studio, studio_of
from core.variants import as_recipe

if TYPE_CHECKING:
    from core.learn.fit import LearntRules

UNDO_STEPS = 500
UNNAMED = "Untitled glaze"


@dataclass(frozen=True, slots=True)
class _State:
    """What an undoable step changes: the recipe, and the firings as they are being edited."""

    recipe: Recipe
    firings: Mapping[str, Firing]


class _Replace(QUndoCommand):
    """One step: the state before and after."""

    def __init__(
        self, document: Document, text: str, after: _State, merge_key: Hashable | None
    ) -> None:
        super().__init__(text)
        self._document = document
        self._before = _State(document.recipe, document.studio.firings)
        self._after = after
        self.merge_key = merge_key
        self.cancelled = False

    def redo(self) -> None:
        self._document._restore(self._after, Change.EDIT, self.merge_key)

    def undo(self) -> None:
        self._document._restore(self._before, Change.UNDO)
        # The stack drops an obsolete step only after undoing it.
        self.setObsolete(self.cancelled)

    def carry(self, carried: Callable[[_State], _State]) -> None:
        """Put both states on other tables than the step was made with."""
        self._before, self._after = carried(self._before), carried(self._after)

    def id(self) -> int:
        return -1 if self.merge_key is None else 1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _Replace) or other.merge_key != self.merge_key:
            return False
        self._after = other._after
        # The step is called by what it came to, not by its first key press.
        self.setText(other.text())
        # A drag that comes back to where it began leaves no step behind.
        self.setObsolete(self._after == self._before)
        return True


class Change(Enum):
    """How the recipe came to be what it is now."""

    EDIT = auto()
    GOING_ON = auto()
    """More of the same drag, or of the same field being typed into."""
    UNDO = auto()
    OPEN = auto()


class Document(QObject):
    """The open recipe with its studio, file and undo stack."""

    recipe_changed = Signal(object)  # core.recipe.Recipe
    evaluation_changed = Signal(object)  # core.evaluate.Evaluation
    variants_changed = Signal(object)  # dict of name to core.formula.Formula
    path_changed = Signal(object)  # Path or None
    studio_changed = Signal(object)  # core.studio.Studio
    firings_changed = Signal(object)  # core.studio.Studio, with a firing edited, new or gone
    drafted = Signal(str, object)
    """What a dialog holds and has not handed over (a name, recipe and firings); None for nothing"""
    opened = Signal()
    """Another recipe lies on the bench, new or from a file."""

    def __init__(self, studio: Studio | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.undo_stack = QUndoStack(self)
        self.undo_stack.setUndoLimit(UNDO_STEPS)
        self._studio = studio or Studio()
        self._saved_firings = self._studio.firings
        self._recipe = self._blank(self._studio)
        self._path: Path | None = None
        self._stamp = ABSENT
        self.may_write: Callable[[Path], None] = lambda _path: None
        """Raises InputError for a file that this window may not write."""
        self._base_alone = False
        self._expansion_set = FITTED
        self._layer_mm = float(running_rule().thickness_mm)
        self._learnt: LearntRules | None = None
        self._announcing = False
        self._change = Change.OPEN
        self._merge_key: Hashable | None = None
        self._evaluation = evaluate(self._recipe, self._studio)
        self._variant_formulas: dict[str, Formula] = {}
        self._variants_of: tuple[object, ...] = ()

    @property
    def recipe(self) -> Recipe:
        """The recipe as it stands."""
        return self._recipe

    @property
    def studio(self) -> Studio:
        """The tables it is computed with."""
        return self._studio

    @property
    def evaluation(self) -> Evaluation:
        """All figures of the recipe as it stands."""
        return self._evaluation

    @property
    def change(self) -> Change:
        """How the recipe came to be what it is now."""
        return self._change

    @property
    def variant_formulas(self) -> dict[str, Formula]:
        """The formula of each saved variant, by name."""
        return self._variant_formulas

    @property
    def path(self) -> Path | None:
        """Its file, or None before the first save."""
        return self._path

    @property
    def stamp(self) -> Stamp:
        """What stood in its file when it was last read or saved here."""
        return self._stamp

    @property
    def base_alone(self) -> bool:
        """Whether the figures leave the additions out."""
        return self._base_alone

    @property
    def modified(self) -> bool:
        """Whether there is anything to save."""
        return not self.undo_stack.isClean()

    def edit(self, text: str, recipe: Recipe, merge_key: Hashable | None = None) -> None:
        """Replace the recipe as one undoable step called `text`.

        Steps with the same `merge_key` in a row (a drag, one field being
        typed into) become one step. While a change is being announced nothing
        else is taken: an editor that closes because its row went away has
        nothing left to say.
        """
        self._push(text, _State(recipe, self._studio.firings), merge_key)

    def edit_firing(self, text: str, firing: Firing, merge_key: Hashable | None = None) -> None:
        """Replace the firing of the recipe as one undoable step called `text`.

        A shipped firing stays as it is: the studio gets a copy of its own,
        and the recipe takes that.
        """
        if firing != self._studio.firings.get(firing.id):
            recipe, firing = self._with_own(firing)
            firings = {**self._studio.firings, firing.id: firing}
            self._push(text, _State(recipe, firings), merge_key)

    def note_draft(self, text: str, firing: Firing | None) -> None:
        """Have a firing kept over a crash while a dialog still holds it; None once it is closed."""
        if firing is None or firing == self._studio.firings.get(firing.id):
            self.drafted.emit(text, None)
            return
        recipe, firing = self._with_own(firing)
        self.drafted.emit(text, (recipe, {**self.edited_firings, firing.id: firing}))

    def _with_own(self, firing: Firing) -> tuple[Recipe, Firing]:
        """Return a firing as one of the studio's own, and the recipe that takes it."""
        if self._studio.owns_firing(firing.id):
            return self._recipe, firing
        own = self._studio.own_copy(firing)
        return replace(self._recipe, firing=own.id), own

    @property
    def edited_firings(self) -> dict[str, Firing]:
        """The firings that were edited and not saved, by id."""
        saved = self._saved_firings
        firings = self._studio.firings
        return (
            {}
            if firings is saved
            else {i: firing for i, firing in firings.items() if firing != saved.get(i)}
        )

    def edit_all(self, text: str, recipe: Recipe, firings: Mapping[str, Firing]) -> None:
        """Replace the recipe and some firings as one undoable step called `text`."""
        self._push(text, _State(recipe, {**self._studio.firings, **firings}), None)

    def _push(self, text: str, after: _State, merge_key: Hashable | None) -> None:
        if not self._announcing and after != _State(self._recipe, self._studio.firings):
            self.undo_stack.push(_Replace(self, text, after, merge_key))

    def cancel(self, merge_key: Hashable) -> None:
        """Take the running merged step back as if it had never been."""
        stack = self.undo_stack
        if self._announcing or not stack.canUndo():
            return
        last = stack.command(stack.index() - 1)
        if isinstance(last, _Replace) and last.merge_key == merge_key:
            last.cancelled = True
            stack.undo()

    @property
    def announcing(self) -> bool:
        """Whether a change is being told: the views are between two recipes then."""
        return self._announcing

    def runs(self, merge_key: Hashable) -> bool:
        """Tell whether the last change was a step of this drag or field."""
        return merge_key is not None and merge_key == self._merge_key

    def abandon(self) -> None:
        """Let go of everything that could be undone, before the window is taken down."""
        self._forget_steps()

    def _forget_steps(self) -> None:
        self.undo_stack.clear()
        # An empty stack is not cleared, and one that lost its clean state stays without.
        self.undo_stack.setClean()

    def set_base_alone(self, base_alone: bool) -> None:
        """Show the base alone, or the whole recipe."""
        if base_alone != self._base_alone:
            self._base_alone = base_alone
            self._show(self._recipe, Change.OPEN)

    @property
    def expansion_set(self) -> str:
        """Name of the set that the expansion is computed with."""
        return self._expansion_set

    def set_expansion_set(self, name: str) -> None:
        """Compute the expansion by another set of factors."""
        if name != self._expansion_set and name in expansion_sets():
            self._expansion_set = name
            self._show(self._recipe, Change.OPEN)

    @property
    def layer_mm(self) -> float:
        """Thickness of the fired layer for which running is read [mm]."""
        return self._layer_mm

    def set_layer(self, layer_mm: float) -> None:
        """Read the running of a thinner or thicker layer [mm]."""
        if layer_mm != self._layer_mm and layer_mm > 0:
            self._layer_mm = layer_mm
            self._show(self._recipe, Change.OPEN)

    @property
    def learnt(self) -> LearntRules | None:
        """What the studio's tiles taught, while the reading goes by it; None as shipped."""
        return self._learnt

    def set_learnt(self, learnt: LearntRules | None) -> None:
        """Read by what the tiles taught, or as shipped."""
        if learnt is not self._learnt:
            self._learnt = learnt
            self._show(self._recipe, Change.OPEN)

    def new(self) -> None:
        """Begin an empty recipe in the same studio."""
        self._start(self._studio, self._blank(self._studio), None)

    def open(self, path: Path) -> None:
        """Open a recipe file with the studio around it.

        Raises
        ------
        InputError
            If the recipe or its studio cannot be read; nothing changes then.
        """
        document = read_whole(path)
        recipe = recipe_from(document)
        folder = studio_of(path)
        studio = self._studio if folder == self._studio.folder else open_studio(folder)
        if is_backup(path):
            # A kept version stays as it is: it opens as a copy that has no file yet.
            day = day_of(path)
            of = day_text(day) if day is not None else self.tr("copy")
            recipe = replace(recipe, name=f"{recipe.name[:50]}, {of}")
            self._start(studio, recipe, None)
            return
        self._start(studio, recipe, path, document.stamp)

    def lay_out(self, recipe: Recipe, folder: Path | None, path: Path | None, stamp: Stamp) -> None:
        """Put a recipe on the bench as it once stood in `path`, which may read otherwise now.

        Raises
        ------
        InputError
            If the studio around it cannot be read; nothing changes then.
        """
        studio = self._studio if folder == self._studio.folder else open_studio(folder)
        self._start(studio, recipe, path, stamp)

    def open_studio(self, folder: Path) -> None:
        """Open a studio and begin an empty recipe in it.

        Raises
        ------
        InputError
            If its tables cannot be read; nothing changes then.
        """
        studio = open_studio(folder)
        self._start(studio, self._blank(studio), None)

    def save(self, path: Path, seen: Mapping[Path, Stamp] | None = None) -> None:
        """Save the recipe, with the analyses that it was computed with, and the edited firings.

        A file is replaced only if it holds what was read from it or saved to
        it here; another file than the recipe's own, only if it is not there.

        Parameters
        ----------
        path : Path
        seen : mapping of Path to Stamp, optional
            Files that may be replaced all the same while they hold this: the
            potter was asked.

        Raises
        ------
        ChangedOutside
            If a file holds something else; the recipe stays modified.
        OSError
            If the disk refuses; the recipe stays modified.
        InputError
            If the file would lie among the kept versions, or this window may not write
            it; of a recipe that is saved elsewhere only the firings stay unsaved then,
            and it stays modified.
        """
        if is_backup(path):
            what = "lies among the kept versions, which stay as they are"
            raise InputError(what, "choose another folder", str(path))
        self.may_write(path)
        seen = seen or {}
        firings_before = self._saved_firings
        try:
            whole = self._save_firings(seen)
            self._stamp = self._save_recipe(path, seen)
        except (InputError, OSError) as fault:
            # A file holds more than it did when all was saved: undo does not lead back to that.
            if isinstance(fault, NotSettled) or self._saved_firings is not firings_before:
                self.undo_stack.resetClean()
            raise
        if whole:
            self.undo_stack.setClean()
        if path != self._path:
            self._path = path
            self.path_changed.emit(path)

    def _save_recipe(self, path: Path, seen: Mapping[Path, Stamp]) -> Stamp:
        known = seen.get(path, self._stamp if path == self._path else ABSENT)
        try:
            return save_recipe(path, self.as_saved(), known)
        except NotSettled as fault:
            # It stands there: the next save must not take it for somebody else's.
            if path == self._path:
                self._stamp = fault.stamp
            raise

    def as_saved(self) -> Recipe:
        """Return the recipe as its file would hold it, with the analyses it was computed with."""
        return with_analysis_pins(self._recipe, pins_of(self._recipe, self._studio))

    def firing_of(self, path: Path) -> Firing | None:
        """Return the studio's firing that is kept in a file, as it stands here."""
        return next(
            (
                firing
                for firing_id, firing in self._studio.firings.items()
                if self._studio.firing_paths.get(firing_id) == path
            ),
            None,
        )

    def take_outside(self, text: str, path: Path) -> None:
        """Take what stands in a file of this recipe by now, as one undoable step called `text`.

        Raises
        ------
        InputError
            If it cannot be read; nothing changes then.
        """
        document = read_whole(path)
        mine = self.firing_of(path)
        if mine is None:
            recipe = recipe_from(document)
            if recipe != self.as_saved():
                self.edit(text, recipe)
            self._stamp = document.stamp
            if self._studio.firings == self._saved_firings:
                self.undo_stack.setClean()
            return
        theirs = replace(firing_from(document), id=mine.id)
        self._note_file(mine.id, path, document.stamp)
        self._saved_firings = {**self._saved_firings, mine.id: theirs}
        self._push(text, _State(self._recipe, {**self._studio.firings, mine.id: theirs}), None)

    def note_stamp(self, stamp: Stamp) -> None:
        """Take note of what stands in the recipe's file; without it the recipe is unsaved."""
        self._stamp = stamp
        if not stamp:
            self.undo_stack.resetClean()

    def open_copy(self, path: Path, mark: str) -> None:
        """Lay a copy of a recipe file on the bench, unsaved and with `mark` behind its name.

        Raises
        ------
        InputError
            If it cannot be read; nothing changes then.
        """
        recipe = recipe_from(read_file(path))
        folder = find_studio(path.parent)
        studio = self._studio if folder == self._studio.folder else open_studio(folder)
        self._start(studio, replace(recipe, name=f"{recipe.name[:50]} ({mark})"), None)
        self.undo_stack.resetClean()

    def use_studio(self, studio: Studio) -> None:
        """Compute with the tables of the studio as they stand in its folder by now.

        The recipe and every step that can be undone stay. A firing that is being
        edited here stays too, and its file is asked about when it is saved.
        """
        before, now = self._saved_firings, studio.firings

        def carried(state: _State) -> _State:
            mine = {i: f for i, f in state.firings.items() if f != before.get(i)}
            return _State(state.recipe, {**now, **mine})

        stack = self.undo_stack
        for step in (stack.command(place) for place in range(stack.count())):
            if isinstance(step, _Replace):
                step.carry(carried)
        firings = carried(_State(self._recipe, self._studio.firings)).firings
        stamps, paths = dict(studio.firing_stamps), dict(studio.firing_paths)
        for firing_id, firing in firings.items():
            if firing != now.get(firing_id) and firing_id in self._studio.firing_paths:
                paths[firing_id] = self._studio.firing_paths[firing_id]
                stamps[firing_id] = self._studio.firing_stamps.get(firing_id, ABSENT)
        self._studio = replace(studio, firings=firings, firing_paths=paths, firing_stamps=stamps)
        self._saved_firings = now
        self.studio_changed.emit(self._studio)
        self._show(self._recipe, Change.OPEN, firings=True)

    def keep_firing_apart(self, text: str, path: Path, name: str) -> None:
        """Give the firing here an id and a `name` of its own, and take what stands in its file.

        Raises
        ------
        InputError
            If it cannot be read; nothing changes then.
        """
        document = read_file(path)
        mine = self.firing_of(path)
        if mine is None:
            raise ValueError(f"no firing is kept in {path}")
        theirs = replace(firing_from(document), id=mine.id)
        own = replace(mine, id=self._studio.free_firing_id(mine.id), name=name)
        recipe = self._recipe
        if recipe.firing == mine.id:
            recipe = replace(recipe, firing=own.id)
        self._note_file(mine.id, path, document.stamp)
        self._saved_firings = {**self._saved_firings, mine.id: theirs}
        firings = {**self._studio.firings, mine.id: theirs, own.id: own}
        self._push(text, _State(recipe, firings), None)

    def stamps_of(self, firing_ids: Iterable[str]) -> dict[str, Stamp]:
        """Return what stood in the files of some firings when they were last read or saved here.

        A firing without a file has none.
        """
        stamps = self._studio.firing_stamps
        return {i: stamps[i] for i in firing_ids if i in stamps}

    def expect(self, stamps: Mapping[str, Stamp]) -> None:
        """Take it that these stood in the files of some firings when they were read.

        A file that holds something else by now is asked about when its firing is saved.
        """
        for firing_id, stamp in stamps.items():
            path = self._studio.firing_paths.get(firing_id)
            if path is not None:
                self._note_file(firing_id, path, stamp)

    def _note_file(self, firing_id: str, path: Path, stamp: Stamp) -> None:
        """Take note of which file a firing is kept in, and of what stands there."""
        paths = {**self._studio.firing_paths, firing_id: path}
        stamps = {**self._studio.firing_stamps, firing_id: stamp}
        self._studio = replace(self._studio, firing_paths=paths, firing_stamps=stamps)

    def _save_firings(self, seen: Mapping[Path, Stamp]) -> bool:
        """Write the firings that were edited; one at a time, each whole or not at all.

        False if one could not go along: its studio is not open, or not this window's to write.
        """
        whole = True
        for firing_id, firing in self._studio.firings.items():
            if firing == self._saved_firings.get(firing_id):
                continue
            path = self._studio.firing_path(firing_id)
            if path is None:  # it was brought back while its studio is away
                whole = False
                continue
            try:
                self.may_write(path)
            except InputError:
                return False
            known = seen.get(path, self._studio.firing_stamps.get(firing_id, ABSENT))
            disk.make_folder(path.parent)
            try:
                stamp = write_firing(path, firing, known)
            except NotSettled as fault:
                self._note_file(firing_id, path, fault.stamp)
                raise
            self._note_file(firing_id, path, stamp)
            self._saved_firings = {**self._saved_firings, firing_id: firing}
        return whole

    @staticmethod
    def _blank(studio: Studio) -> Recipe:
        defaults = studio.defaults
        return replace(
            Recipe(UNNAMED),
            firing=defaults.get("firing", "cone-10-medium"),
            body=defaults.get("body", "stoneware"),
        )

    def _start(
        self, studio: Studio, recipe: Recipe, path: Path | None, stamp: Stamp = ABSENT
    ) -> None:
        self._forget_steps()
        if studio.folder != self._studio.folder:
            self._learnt = None
        if studio is self._studio:
            # What was edited and not saved is left behind with the recipe.
            studio = replace(studio, firings=self._saved_firings)
        self._studio = studio
        self._saved_firings = studio.firings
        self._path = path
        self._stamp = stamp
        self.studio_changed.emit(studio)
        self.path_changed.emit(path)
        self._show(recipe, Change.OPEN)
        self.opened.emit()

    def _restore(self, state: _State, change: Change, merge_key: Hashable | None = None) -> None:
        before = self._studio.firings
        # A firing that has its file by now stays in the studio, whatever is undone.
        late = {i: f for i, f in self._saved_firings.items() if i not in state.firings}
        firings = {**state.firings, **late} if late else state.firings
        if firings is not before:
            self._studio = replace(self._studio, firings=firings)
        self._show(state.recipe, change, merge_key, firings is not before)

    def _show(
        self,
        recipe: Recipe,
        change: Change,
        merge_key: Hashable | None = None,
        firings: bool = False,
    ) -> None:
        going_on = merge_key is not None and merge_key == self._merge_key
        self._change = Change.GOING_ON if going_on and change is Change.EDIT else change
        self._merge_key = merge_key
        self._recipe = recipe
        self._evaluation = evaluate(
            recipe,
            self._studio,
            self._base_alone,
            self._expansion_set,
            self._layer_mm,
            self._learnt.rules if self._learnt is not None else None,
        )
        self._evaluate_variants()
        self._announcing = True
        try:
            if firings:
                self.firings_changed.emit(self._studio)
            self.recipe_changed.emit(recipe)
            self.evaluation_changed.emit(self._evaluation)
        finally:
            self._announcing = False

    def _evaluate_variants(self) -> None:
        """Compute the variants' formulas when they change; an edit of the rows leaves them."""
        recipe, studio = self._recipe, self._studio
        now = (
            recipe.variants,
            recipe.pinned,
            studio.materials,
            studio.convention,
            self._base_alone,
        )
        if len(now) == len(self._variants_of) and all(
            a is b for a, b in zip(now, self._variants_of, strict=True)
        ):
            return
        self._variants_of = now
        self._variant_formulas = {
            variant.name: formula_alone(as_recipe(recipe, variant), studio, self._base_alone)
            for variant in recipe.variants
        }
        self.variants_changed.emit(self._variant_formulas)
