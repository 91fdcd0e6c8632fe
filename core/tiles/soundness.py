"""Whether a glaze is proven sound: tests with their dates, for one recipe, body and firing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from functools import cache

import msgspec

from core.errors import InputError
from core.plain_yaml import Tree
from core.recipe import Recipe
from core.schema import Amount
from core.studio import Studio
from core.tables import read_records, shipped
from core.tiles.version import firing_version, recipe_version


class SoundnessKind(msgspec.Struct, frozen=True):
    """One of the tests that a glaze has to pass."""

    id: str
    name: str
    says: str
    """How it is done."""
    shows: str
    after_days: Amount = Amount(0.0)
    """Least time from the kiln's opening [days]."""


@cache
def soundness_kinds() -> Mapping[str, SoundnessKind]:
    """Return the tests by id, in their order; read once."""
    rows = read_records(shipped("soundness_tests.yaml"), "soundness-tests", SoundnessKind, True)
    return {kind.id: kind for _, kind in rows}


@dataclass(frozen=True, slots=True)
class Subject:
    """What a test speaks for."""

    recipe: str
    """Name of the recipe."""
    version: str
    """Of its rows and analyses."""
    body: str
    firing: str
    firing_version: str = ""

    @property
    def _key(self) -> tuple[str, str, str, str]:
        return self.version, self.body, self.firing, self.firing_version

    def same(self, other: Subject) -> bool:
        """Tell whether recipe version, body and firing agree; a new name changes nothing."""
        return self._key == other._key

    def changes(self, other: Subject) -> tuple[str, ...]:
        """Name what differs from another subject."""
        pairs = (
            ("recipe", self.version, other.version),
            ("body", self.body, other.body),
            ("firing", self.firing, other.firing),
            ("schedule", self.firing_version, other.firing_version),
        )
        found = [what for what, a, b in pairs if a != b]
        # Another firing has another schedule; that is not news.
        return tuple(what for what in found if what != "schedule" or "firing" not in found)


def subject_of(recipe: Recipe, studio: Studio) -> Subject:
    """Return what a test of a recipe as it stands now would speak for."""
    firing = studio.firings.get(recipe.firing)
    return Subject(
        recipe.name,
        recipe_version(recipe, studio),
        recipe.body,
        recipe.firing,
        firing_version(firing) if firing is not None else "",
    )


@dataclass(frozen=True, slots=True)
class SoundnessTest:
    """A test that was done, and what came of it."""

    kind: str
    subject: Subject
    day: str
    """On which it was read, as ISO 8601 text."""
    passed: bool
    fired: str = ""
    """The day on which the kiln was opened; the re-checks count from it."""
    note: str = ""
    extra: Mapping[str, Tree] = field(default_factory=dict, hash=False)


class Proof(StrEnum):
    """What the tests come to."""

    NONE = "not tested"
    PARTLY = "tested in part"
    PROVEN = "proven sound"
    FAILED = "failed a test"
    CHANGED = "changed since test"


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a glaze stands, and what is still to do."""

    proof: Proof
    done: tuple[SoundnessTest, ...] = ()
    """What counts, one of each kind, in the order of the set."""
    missing: tuple[str, ...] = ()
    failed: tuple[SoundnessTest, ...] = ()
    too_early: tuple[SoundnessTest, ...] = ()
    """Re-checks that were read before their time had passed, or lack the day of firing."""
    changed: tuple[str, ...] = ()
    """Of recipe, body, firing and schedule, what is no longer as it was tested."""

    def words(self) -> str:
        """Say it in a line, with the dates."""
        if self.proof is Proof.CHANGED:
            return f"{self.proof} ({', '.join(self.changed)})"
        days = sorted(test.day for test in (self.failed or self.done))
        if not days:
            return str(self.proof)
        span = days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"
        if self.proof is Proof.PARTLY:
            whole = len(self.done) + len(self.missing)
            return f"{self.proof} ({len(self.done)} of {whole}, {span})"
        return f"{self.proof} ({span})"


def check_test(test: SoundnessTest) -> None:
    """Check a test's kind and dates.

    Raises
    ------
    InputError
        If there is no such test, or a day cannot be.
    """
    if test.kind not in soundness_kinds():
        raise InputError(
            f"there is no test {test.kind!r}",
            f"use one of {', '.join(soundness_kinds())}",
            path="kind",
        )
    read = check_day(test.day, "day")
    if test.fired and check_day(test.fired, "fired") > read:
        raise InputError(
            f"the test was read on {test.day}, before the firing of {test.fired}",
            "correct one of the days",
            path="day",
        )


def standing(subject: Subject, tests: Iterable[SoundnessTest]) -> Standing:
    """Tell where a glaze stands by the tests written down.

    Of two tests of one kind the later day counts; on the same day the failed
    one does. "Proven sound" needs every test of the set passed for exactly
    this recipe version, body and firing. Nothing but the written days is
    looked at: no clock.

    Parameters
    ----------
    subject : Subject
        The glaze as it is now.
    tests : iterable of SoundnessTest
        Any; those of other recipes are left aside.
    """
    ours: dict[str, SoundnessTest] = {}
    early: list[SoundnessTest] = []
    others: list[SoundnessTest] = []
    for test in tests:
        if not test.subject.same(subject):
            if test.subject.recipe == subject.recipe:
                others.append(test)
            continue
        if test.passed and not _late_enough(test):
            early.append(test)
            continue
        known = ours.get(test.kind)
        if known is None or (test.day, not test.passed) > (known.day, not known.passed):
            ours[test.kind] = test
    kinds = soundness_kinds()
    done = tuple(ours[kind] for kind in kinds if kind in ours and ours[kind].passed)
    failed = tuple(test for test in ours.values() if not test.passed)
    missing = tuple(kind for kind in kinds if kind not in ours)
    early_left = tuple(test for test in early if test.kind not in ours)
    if failed:
        return Standing(Proof.FAILED, done, missing, failed, early_left)
    if not missing:
        return Standing(Proof.PROVEN, done)
    proven_before = [past for past in _subjects(others) if _proven(past, others)]
    if proven_before or (others and not ours and not early):
        past = (proven_before or [max(others, key=lambda test: test.day).subject])[-1]
        changed = subject.changes(past)
        return Standing(Proof.CHANGED, done, missing, (), early_left, changed)
    if done or early_left:
        return Standing(Proof.PARTLY, done, missing, (), early_left)
    return Standing(Proof.NONE, (), missing)


def due_days(fired: str) -> dict[str, str]:
    """Return the first day on which each re-check counts, by kind.

    Raises
    ------
    InputError
        If the day of firing cannot be read.

    Examples
    --------
    >>> due_days("2031-02-09")["again-after-3-weeks"]
    '2031-03-02'
    """
    opened = check_day(fired, "fired")
    return {
        kind.id: (opened + timedelta(days=float(kind.after_days))).isoformat()
        for kind in soundness_kinds().values()
        if kind.after_days
    }


def _late_enough(test: SoundnessTest) -> bool:
    kind = soundness_kinds().get(test.kind)
    if kind is None or not kind.after_days:
        return kind is not None
    if not test.fired:
        return False
    return check_day(test.day, "day") >= check_day(test.fired, "fired") + timedelta(
        days=float(kind.after_days)
    )


def _subjects(tests: Iterable[SoundnessTest]) -> list[Subject]:
    """Subjects in the order of their last tests."""
    found: dict[Subject, str] = {}
    for test in tests:
        found[test.subject] = max(test.day, found.get(test.subject, ""))
    return sorted(found, key=lambda subject: found[subject])


def _proven(subject: Subject, tests: Iterable[SoundnessTest]) -> bool:
    own = [test for test in tests if test.subject == subject]
    return standing(subject, own).proof is Proof.PROVEN


def check_day(text: str, path: str = "") -> date:
    """Read a day in ISO 8601 text.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    # Other ways of ISO 8601 would not sort as text.
    if day is None or day.isoformat() != text:
        raise InputError(f"{text!r} is no day", "write it like 2031-02-09", path=path)
    return day
