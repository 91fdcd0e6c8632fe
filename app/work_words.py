"""What differs between two states of the work on a recipe, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from PySide6.QtCore import QCoreApplication

from app.formatting import parts
from core.files.journal import Work
from core.recipe import Recipe, Section
from core.variants import changes, rows_of

_MOST = 4
"""Things named one by one; the rest are counted."""


def differences(before: Work, after: Work, name_of: Callable[[str], str]) -> list[str]:
    """Say what changed, a few words for each thing; nothing if the two are equal.

    Parameters
    ----------
    before, after : Work
    name_of : callable
        Gives the name of a material by its id.
    """
    old, new = before.recipe, after.recipe
    said = []
    if old.name != new.name:
        said.append(_tr("the name, {}").format(new.name))
    said += _rows(old, new, name_of)
    said += _variants(old, new)
    for what, differs in (
        (_tr("the firing"), old.firing != new.firing),
        (_tr("the shelf"), old.shelf != new.shelf),
        (_tr("the body"), old.body != new.body),
        (_tr("the notes"), old.notes != new.notes),
        (_tr("the analyses of its materials"), old.pinned != new.pinned),
    ):
        if differs:
            said.append(what)
    for firing_id, firing in after.firings.items():
        if before.firings.get(firing_id) != firing:
            said.append(_tr("the schedule {}").format(firing.name or firing_id))
    if not said and before != after:
        said.append(_tr("entries of its file that are not shown here"))
    return said


def listed(things: list[str]) -> str:
    """Join a few things to one line and count the rest."""
    if not things:
        return _tr("as it was")
    shown = things[:_MOST]
    more = len(things) - len(shown)
    if more:
        shown.append(_tr("and {} more").format(more))
    return "; ".join(shown)


def _rows(old: Recipe, new: Recipe, name_of: Callable[[str], str]) -> Iterable[str]:
    found = changes(rows_of(old), rows_of(new))
    for change in found:
        name, unit = name_of(change.material), "" if change.section is Section.BASE else " %"
        if change.after is None:
            yield _tr("{} taken out").format(name)
        elif change.before is None:
            yield _tr("{} {} added").format(name, parts(change.after) + unit)
        else:
            yield _tr("{} from {} to {}").format(
                name, parts(change.before), parts(change.after) + unit
            )
    if not found and rows_of(old) != rows_of(new):
        yield _tr("the order or the locks of rows")


def _variants(old: Recipe, new: Recipe) -> Iterable[str]:
    was = {variant.name: variant for variant in old.variants}
    now = {variant.name: variant for variant in new.variants}
    for name in [n for n in now if n not in was]:
        yield _tr("variant {} saved").format(name)
    for name in [n for n in was if n not in now]:
        yield _tr("variant {} deleted").format(name)
    for name in [n for n in now if n in was and now[n] != was[n]]:
        yield _tr("variant {}").format(name)


def _tr(text: str) -> str:
    return QCoreApplication.translate("WorkWords", text)
