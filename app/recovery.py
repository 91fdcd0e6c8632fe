"""After a crash: what the last session left unsaved is offered, brought back or put away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject
from shiboken6 import isValid

from app import problems
from app.document import Document
from app.file_actions import FileActions
from app.journal_writer import JournalWriter
from app.notice_bar import NoticeBar
from app.work_words import differences, listed
from app.worker import run_in_background
from core.errors import InputError
from core.files.content import ABSENT, Stamp, stamp_of_file
from core.files.journal import Step, Work
from core.files.journal_reading import Kept
from core.files.journals import Orphan, is_saved, orphans
from core.studio import STUDIO_FILE, find_studio

_MOST_LINES = 3
"""Offers at a time; the next comes when one is answered."""
_SAID, _UNREAD = "brought back", "unread journals"


@dataclass(frozen=True, slots=True)
class _Brought:
    """Work that was brought back, and the place of that step on the undo stack."""

    orphan: Orphan
    place: int
    read: Mapping[str, Stamp]
    """What stood in the files of its firings when it was brought back, by id."""
    stays: bool = False
    """Whether it is offered at the next start all the same: not all of it can be saved here."""


class Recovery(QObject):
    """Keeps a journal of the document and offers what earlier sessions left.

    Parameters
    ----------
    document : Document
    files : FileActions
        Asks before unsaved work is left, and opens the recipe that comes back.
    notices : NoticeBar
    folder : Path
        Where the journals lie.
    """

    def __init__(
        self,
        document: Document,
        files: FileActions,
        notices: NoticeBar,
        folder: Path,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document = document
        self._files = files
        self._notices = notices
        self._folder = folder
        self._offered: list[Orphan] = []
        self._brought: list[_Brought] = []
        """On the bench and unsaved; undo may take it off again."""
        self._undone: list[_Brought] = []
        """Taken off by undo and offered anew; redo may bring it back."""
        self.writer = JournalWriter(document, notices, folder, self)
        self.writer.kept.connect(self._put_away_brought)
        self.writer.cleaned.connect(self._on_cleaned)
        document.undo_stack.indexChanged.connect(self._on_step)

    def offer(self) -> None:
        """Look for what earlier sessions left, and say so above the bench."""
        run_in_background(self, partial(_unsaved, self._folder), self._on_found, self._on_failed)

    def flush_now(self) -> None:
        """Write what was not written yet; something went wrong."""
        self.writer.flush_now()

    def put_away(self) -> None:
        """Before the end of the program; what was not answered is offered again."""
        self.writer.put_away()
        for orphan in [*self._offered, *(brought.orphan for brought in self._brought)]:
            orphan.let_go()
        self._offered, self._brought, self._undone = [], [], []

    def _on_found(self, found: list[Orphan]) -> None:
        self._offered = [o for o in found if o.kept is not None and o.kept.last is not None]
        unread = [orphan for orphan in found if orphan not in self._offered]
        if unread:
            self._set_aside(unread)
        self._show()

    def _on_failed(self, fault: Exception) -> None:
        self._notices.tell(
            _UNREAD,
            self.tr("Whether unsaved work was left could not be seen: {}").format(
                problems.words_of(fault)
            ),
            dismiss=self.tr("Good"),
        )

    def _set_aside(self, unread: list[Orphan]) -> None:
        why = next((str(orphan.fault) for orphan in unread if orphan.fault is not None), "")
        for orphan in unread:
            self._put_away(orphan)
        self._notices.tell(
            _UNREAD,
            self.tr(
                "Glost ended without saving, and what it kept cannot be read{}. It lies in {}."
            ).format(f" ({why})" if why else "", unread[0].path.parent),
            dismiss=self.tr("Good"),
        )

    def _show(self) -> None:
        for orphan in self._offered[:_MOST_LINES]:
            if _subject(orphan) in self._notices.subjects():
                continue
            several = _step_of(orphan).steps > 1
            self._notices.tell(
                _subject(orphan),
                self._question(orphan),
                [
                    (
                        self.tr("Bring them back") if several else self.tr("Bring it back"),
                        partial(self._bring_back, orphan),
                    ),
                    (
                        self.tr("Throw them away") if several else self.tr("Throw it away"),
                        partial(self._throw_away, orphan),
                    ),
                ],
            )

    def _question(self, orphan: Orphan) -> str:
        kept, step = _kept_of(orphan), _step_of(orphan)
        name = step.work.recipe.name
        if kept.origin.path is None:
            text = self.tr("Glost ended before {} was ever saved: {}.")
        else:
            text = self.tr("Glost ended without saving {}: {} since it was last saved.")
        said = [text.format(name, self._steps(step.steps))]
        if step.words:
            said.append(self.tr("The last was “{}”.").format(step.words))
        if kept.damaged:
            said.append(self.tr("What came after it is damaged and cannot be read."))
        return " ".join(said)

    def _steps(self, many: int) -> str:
        return self.tr("one step") if many == 1 else self.tr("{} steps").format(many)

    def _bring_back(self, orphan: Orphan) -> None:
        kept, step, document = _kept_of(orphan), _step_of(orphan), self._document
        try:
            opened, remarks = self._open_for(kept)
        except (InputError, OSError) as fault:
            problems.tell(
                self._files.window,
                self.tr("{} could not be brought back").format(step.work.recipe.name),
                problems.words_of(fault) + self.tr("\n\nIt is kept, and offered again."),
            )
            return
        if not opened:
            return
        laid_out = bool(remarks) or document.path is None
        away = document.studio.folder is None and kept.origin.studio is not None
        if away:
            remarks.append(self._studio_is_away(kept))
        studio = document.studio
        differing = [i for i, f in step.work.firings.items() if studio.firings.get(i) != f]
        read = document.stamps_of(differing)
        remarks += self._expect_firings(kept, read)
        before = Work(document.recipe, {i: studio.firings[i] for i in _both(step, document)})
        self._offered.remove(orphan)
        self._undone = [undone for undone in self._undone if undone.orphan is not orphan]
        self._notices.drop(_subject(orphan))
        document.edit_all(self.tr("Bring back unsaved work"), step.work.recipe, step.work.firings)
        if not document.modified and laid_out:
            document.undo_stack.resetClean()  # no file holds what was laid out
        place, stays = document.undo_stack.index(), away and bool(step.work.firings)
        self._brought.append(_Brought(orphan, place, read, stays))
        if document.modified:
            self.writer.count_on(step)
            self.writer.flush()
            said = " ".join(
                [
                    self.tr("Brought back {} of {}: {}.").format(
                        self._steps(step.steps),
                        step.work.recipe.name,
                        listed(differences(before, step.work, self._name_of)),
                    ),
                    *remarks,
                    self.tr("Not saved yet; undo takes it back."),
                ]
            )
        else:
            self._settle()
            said = self.tr("The file of {} holds all of it already.").format(step.work.recipe.name)
        self._notices.tell(_SAID, said, dismiss=self.tr("Good"))
        self._show()

    def _studio_is_away(self, kept: Kept) -> str:
        assert kept.origin.studio is not None
        name = kept.origin.studio.name
        if kept.last is not None and kept.last.work.firings:
            return self.tr(
                "Its studio {} is not there now, and the schedules cannot be saved without it; "
                "they are offered again at the next start."
            ).format(name)
        return self.tr("Its studio {} is not there now.").format(name)

    def _expect_firings(self, kept: Kept, read: Mapping[str, Stamp]) -> list[str]:
        """Have the save expect in the files of firings what the work began from.

        Parameters
        ----------
        kept : Kept
        read : mapping of str to Stamp
            What stood in the files when they were read this time, by id.

        Returns
        -------
        list of str
            What was changed by something else since, in words.
        """
        document, began = self._document, kept.origin.firing_stamps
        others = [i for i, stamp in read.items() if began.get(i, ABSENT) != stamp]
        document.expect({i: began.get(i, ABSENT) for i in others})
        said = self.tr("The schedule {} was changed by something else since.")
        return [said.format(document.studio.firings[i].name or i) for i in others]

    def _open_for(self, kept: Kept) -> tuple[bool, list[str]]:
        """Open what the work began from, or lay it out as it was.

        Returns
        -------
        (opened, remarks) : (bool, list of str)
            Whether it lies there, and what to know of its file.
        """
        document, origin = self._document, kept.origin
        path = origin.path
        now = _stamp_at(path) if path is not None else ABSENT
        if path is not None and now is not None and now and now == origin.stamp:
            if document.path == path and document.stamp == now and not document.modified:
                return True, []
            return self._files.open(path), []
        if not self._files.may_leave():
            return False, []
        folder = find_studio(path.parent) if path is not None else None
        if folder is None and origin.studio is not None and (origin.studio / STUDIO_FILE).is_file():
            folder = origin.studio
        # A file that is gone is written anew; one that reads otherwise now is not
        # overwritten unasked, because the save still expects what once stood there.
        stamp = origin.stamp if now is None or now else ABSENT
        document.lay_out(origin.work.recipe, folder, path, stamp)
        if path is None:
            return True, []
        if now == ABSENT:
            remark = self.tr("Its file {} is gone; saving writes it anew.")
        else:
            remark = self.tr(
                "Its file {} was changed by something else since; this is how it stood before."
            )
        return True, [remark.format(path.name)]

    def _throw_away(self, orphan: Orphan) -> None:
        step = _step_of(orphan)
        if not self._put_away(orphan):
            return
        self._offered.remove(orphan)
        self._undone = [undone for undone in self._undone if undone.orphan is not orphan]
        self._notices.tell(
            _subject(orphan),
            self.tr("Thrown away: {} of {}.").format(
                self._steps(step.steps), step.work.recipe.name
            ),
            [(self.tr("Take that back"), partial(self._take_back, orphan))],
            self.tr("Good"),
        )
        self._show()

    def _take_back(self, orphan: Orphan) -> None:
        if not self._returns(orphan):
            return
        self._notices.drop(_subject(orphan))
        self._offered.insert(0, orphan)
        self._show()

    def _returns(self, orphan: Orphan) -> bool:
        try:
            orphan.take_back()
        except OSError as fault:
            self._tell_moved(fault)
            return False
        return True

    def _put_away(self, orphan: Orphan) -> bool:
        try:
            orphan.put_away()
        except OSError as fault:
            self._tell_moved(fault)
            return False
        return True

    def _tell_moved(self, fault: OSError) -> None:
        problems.tell(
            self._files.window,
            self.tr("The unsaved work could not be moved"),
            problems.words_of(fault),
        )

    def _put_away_brought(self) -> None:
        """The journal of this session holds it now; undo still finds the old one."""
        for brought in self._brought:
            if not brought.stays and not brought.orphan.is_put_away:
                self._put_away(brought.orphan)

    def _settle(self) -> None:
        """What was brought back is saved, or not wanted any more."""
        self._put_away_brought()
        for brought in self._brought:
            brought.orphan.let_go()
        self._brought.clear()

    def _on_step(self, index: int) -> None:
        """Offer anew what undo takes off the bench, and no more what redo brings back."""
        stack = self._document.undo_stack
        # One that is cleared, or taken down, leads nowhere.
        if not isValid(stack) or not stack.count():
            return
        off = [brought for brought in self._brought if index < brought.place]
        back = [
            undone
            for undone in self._undone
            if index >= undone.place and self._lies_here(_step_of(undone.orphan).work)
        ]
        if not off and not back:
            return
        for brought in off:
            if brought.orphan.is_put_away and not self._returns(brought.orphan):
                continue
            self._brought.remove(brought)
            self._undone.append(brought)
            self._offered.insert(0, brought.orphan)
            self._document.expect(brought.read)
            self._notices.drop(_SAID)
        for undone in back:
            self._undone.remove(undone)
            self._brought.append(undone)
            self._offered.remove(undone.orphan)
            self._expect_firings(_kept_of(undone.orphan), undone.read)
            self._notices.drop(_subject(undone.orphan))
        self._show()

    def _lies_here(self, work: Work) -> bool:
        firings = self._document.studio.firings
        return self._document.recipe == work.recipe and all(
            firings.get(i) == firing for i, firing in work.firings.items()
        )

    def _on_cleaned(self) -> None:
        self._settle()
        if not self._document.undo_stack.count():
            self._undone.clear()
        self._notices.drop(_SAID)

    def _name_of(self, material_id: str) -> str:
        material = self._document.studio.materials.get(material_id)
        return material.name if material is not None else material_id


def _unsaved(folder: Path) -> list[Orphan]:
    """Return the orphans whose work no file holds; runs beside the window."""
    found = []
    for orphan in orphans(folder):
        if orphan.kept is not None and is_saved(orphan.kept):
            orphan.put_away()
            orphan.let_go()
        else:
            found.append(orphan)
    return found


def _both(step: Step, document: Document) -> list[str]:
    return [i for i in step.work.firings if i in document.studio.firings]


def _stamp_at(path: Path) -> Stamp | None:
    """Return what stands in a file now; None if it cannot be read."""
    try:
        return stamp_of_file(path)
    except OSError:
        return None


def _kept_of(orphan: Orphan) -> Kept:
    assert orphan.kept is not None
    return orphan.kept


def _step_of(orphan: Orphan) -> Step:
    step = _kept_of(orphan).last
    assert step is not None
    return step


def _subject(orphan: Orphan) -> str:
    return f"left behind {orphan.name}"
