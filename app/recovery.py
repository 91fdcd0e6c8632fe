"""After a crash: what the last session left unsaved is offered, brought back or put away."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject

from app import problems
from app.document import Document
from app.file_actions import FileActions
from app.journal_writer import JournalWriter
from app.notice_bar import NoticeBar
from app.work_words import differences, listed
from app.worker import run_in_background
from core.errors import InputError
from core.files.content import ABSENT, Stamp, stamp_of_file
from core.files.journal import Kept, Orphan, Step, Work, is_saved, orphans
from core.studio import STUDIO_FILE, find_studio

_MOST_LINES = 3
"""Offers at a time; the next comes when one is answered."""
_SAID, _UNREAD = "brought back", "unread journals"


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
        self._coming: list[Orphan] = []
        """Brought back, and not yet in the journal of this session."""
        self.writer = JournalWriter(document, notices, folder, self)
        self.writer.kept.connect(self._put_away_coming)
        self.writer.cleaned.connect(self._on_cleaned)

    def offer(self) -> None:
        """Look for what earlier sessions left, and say so above the bench."""
        run_in_background(self, partial(_unsaved, self._folder), self._on_found, self._on_failed)

    def flush_now(self) -> None:
        """Write what was not written yet; something went wrong."""
        self.writer.flush_now()

    def put_away(self) -> None:
        """Before the end of the program; what was not answered is offered again."""
        self.writer.put_away()
        for orphan in [*self._offered, *self._coming]:
            orphan.let_go()

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
        step, document = _step_of(orphan), self._document
        try:
            opened, remark = self._open_for(_kept_of(orphan))
        except (InputError, OSError) as fault:
            problems.tell(
                self._files.window,
                self.tr("{} could not be brought back").format(step.work.recipe.name),
                problems.words_of(fault) + self.tr("\n\nIt is kept, and offered again."),
            )
            return
        if not opened:
            return
        studio = document.studio
        before = Work(document.recipe, {i: studio.firings[i] for i in _both(step, document)})
        document.edit_all(self.tr("Bring back unsaved work"), step.work.recipe, step.work.firings)
        if not document.modified and (remark or document.path is None):
            document.undo_stack.resetClean()  # no file holds what was laid out
        self._offered.remove(orphan)
        self._notices.drop(_subject(orphan))
        self._coming.append(orphan)
        if document.modified:
            self.writer.count_on(step)
            self.writer.flush()
            said = self.tr(
                "Brought back {} of {}: {}. {}Not saved yet; undo takes it back."
            ).format(
                self._steps(step.steps),
                step.work.recipe.name,
                listed(differences(before, step.work, self._name_of)),
                f"{remark} " if remark else "",
            )
        else:
            self._put_away_coming()
            said = self.tr("The file of {} holds all of it already.").format(step.work.recipe.name)
        self._notices.tell(_SAID, said, dismiss=self.tr("Good"))
        self._show()

    def _open_for(self, kept: Kept) -> tuple[bool, str]:
        """Open what the work began from; return whether it lies there, and what to know of it."""
        document, origin = self._document, kept.origin
        path = origin.path
        now = _stamp_at(path) if path is not None else ABSENT
        if path is not None and now is not None and now and now == origin.stamp:
            if document.path == path and document.stamp == now and not document.modified:
                return True, ""
            return self._files.open(path), ""
        if not self._files.may_leave():
            return False, ""
        folder = find_studio(path.parent) if path is not None else None
        if folder is None and origin.studio is not None and (origin.studio / STUDIO_FILE).is_file():
            folder = origin.studio
        # A file that is gone is written anew; one that reads otherwise now is not
        # overwritten unasked, because the save still expects what once stood there.
        stamp = origin.stamp if now is None or now else ABSENT
        document.lay_out(origin.work.recipe, folder, path, stamp)
        remark = ""
        if path is not None and now == ABSENT:
            remark = self.tr("Its file {} is gone; saving writes it anew.").format(path.name)
        elif path is not None:
            remark = self.tr(
                "Its file {} was changed by something else since; this is how it stood before."
            ).format(path.name)
        elif origin.studio is not None and folder is None:
            remark = self.tr("Its studio {} is not there now.").format(origin.studio.name)
        return True, remark

    def _throw_away(self, orphan: Orphan) -> None:
        step = _step_of(orphan)
        if not self._put_away(orphan):
            return
        self._offered.remove(orphan)
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
        try:
            orphan.take_back()
        except OSError as fault:
            self._tell_moved(fault)
            return
        self._notices.drop(_subject(orphan))
        self._offered.insert(0, orphan)
        self._show()

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

    def _put_away_coming(self) -> None:
        """The journal of this session holds it now, or it is not wanted any more."""
        coming, self._coming = self._coming, []
        for orphan in coming:
            if self._put_away(orphan):
                orphan.let_go()

    def _on_cleaned(self) -> None:
        self._put_away_coming()
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
