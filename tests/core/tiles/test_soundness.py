"""Proven sound, and when it no longer is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.materials import Analysis
from core.recipe import Pin, Section
from core.tiles.soundness import (
    Proof,
    SoundnessTest,
    check_test,
    due_days,
    soundness_kinds,
    standing,
    subject_of,
)

FIRED = "2031-02-09"


def _passed(subject, **changes) -> list[SoundnessTest]:
    """The whole set, each on the first day on which it counts."""
    days = due_days(FIRED)
    tests = [
        SoundnessTest(kind, subject, days.get(kind, "2031-02-12"), True, FIRED)
        for kind in soundness_kinds()
    ]
    return [replace(test, **changes.get(test.kind, {})) for test in tests]


@pytest.fixture
def subject(fixture_recipe, studio):
    return subject_of(fixture_recipe, studio)


def test_the_set_is_the_one_that_was_asked_for():
    assert list(soundness_kinds()) == [
        *("one-cone-hotter", "cooled-pair", "dye-and-wipe", "mark-and-clean"),
        *("acid", "alkali", "ice-and-boil"),
        *("again-after-1-day", "again-after-3-weeks", "again-after-3-months", "again-after-1-year"),
    ]
    text = " ".join(f"{k.says} {k.shows}" for k in soundness_kinds().values()).lower()
    assert "food safe" not in text


def test_the_whole_set_proves_it_with_dates(subject):
    found = standing(subject, _passed(subject))
    assert found.proof is Proof.PROVEN
    assert found.words() == "proven sound (2031-02-10 to 2032-02-09)"


@pytest.mark.parametrize("left_out", list(soundness_kinds()))
def test_every_test_of_the_set_is_needed(subject, left_out):
    tests = [test for test in _passed(subject) if test.kind != left_out]
    found = standing(subject, tests)
    assert found.proof is Proof.PARTLY
    assert found.missing == (left_out,)


@pytest.mark.parametrize("kind", list(soundness_kinds()))
def test_one_failed_test_undoes_it_until_it_is_passed_later(subject, kind):
    tests = _passed(subject)
    failed = SoundnessTest(kind, subject, "2040-01-01", False, FIRED)
    assert standing(subject, [*tests, failed]).proof is Proof.FAILED
    assert standing(subject, [failed, *tests]).failed == (failed,)
    again = replace(failed, day="2040-01-02", passed=True)
    assert standing(subject, [again, failed, *tests]).proof is Proof.PROVEN
    same_day = replace(again, day="2040-01-01")
    assert standing(subject, [failed, same_day, *tests]).proof is Proof.FAILED
    assert standing(subject, [same_day, failed, *tests]).proof is Proof.FAILED


def test_a_change_of_recipe_body_firing_schedule_or_analysis_falls_back(fixture_recipe, studio):
    was = subject_of(fixture_recipe, studio)
    tests = _passed(was)

    def now(recipe, where=studio):
        return standing(subject_of(recipe, where), tests)

    assert now(replace(fixture_recipe, notes="other notes")).proof is Proof.PROVEN
    more_talc = fixture_recipe.with_amount(Section.BASE, 1, 16.5)
    assert now(more_talc).words() == "changed since test (recipe)"
    assert now(replace(fixture_recipe, body="porcelain")).words() == "changed since test (body)"
    other = now(replace(fixture_recipe, firing="cone-6-medium"))
    assert other.words() == "changed since test (firing)"
    pin = Pin("Talc", Analysis.from_percent({"MgO": 31.0, "SiO2": 62.0}, 6.0))
    lot = replace(fixture_recipe, pinned={"talc": pin})
    assert now(lot).words() == "changed since test (recipe)"
    firing = studio.firings[fixture_recipe.firing]
    first = replace(firing.segments[0], hold_min=30.0)
    longer = replace(firing, segments=(first, *firing.segments[1:]))
    refired = replace(studio, firings={**studio.firings, firing.id: longer})
    assert now(fixture_recipe, refired).words() == "changed since test (schedule)"
    # And back: what was proven is proven again when all is as it was.
    assert now(fixture_recipe).proof is Proof.PROVEN


def test_the_total_and_the_order_of_the_rows_change_nothing(fixture_recipe, studio, subject):
    doubled = tuple(replace(row, amount=2 * row.amount) for row in reversed(fixture_recipe.base))
    assert subject_of(replace(fixture_recipe, base=doubled), studio).same(subject)


def test_one_more_change_needs_the_whole_set_again(fixture_recipe, studio, subject):
    changed = subject_of(fixture_recipe.with_amount(Section.BASE, 1, 17.0), studio)
    new = _passed(changed)
    old = _passed(subject)
    assert standing(changed, [*old, *new[:3]]).proof is Proof.CHANGED
    assert standing(changed, [*old, *new]).proof is Proof.PROVEN
    # Where nothing was proven before, the new tests simply count up.
    assert standing(changed, [*old[:2], *new[:3]]).proof is Proof.PARTLY


def test_a_re_check_before_its_time_does_not_count(subject):
    for kind, days in (("again-after-3-weeks", 21), ("again-after-1-year", 365)):
        first = date.fromisoformat(FIRED) + timedelta(days=days)
        early = (first - timedelta(days=1)).isoformat()
        found = standing(subject, _passed(subject, **{kind: {"day": early}}))
        assert found.proof is Proof.PARTLY
        assert [test.kind for test in found.too_early] == [kind]
        on_time = _passed(subject, **{kind: {"day": first.isoformat()}})
        assert standing(subject, on_time).proof is Proof.PROVEN
    without = _passed(subject, **{"again-after-1-day": {"fired": ""}})
    assert standing(subject, without).proof is Proof.PARTLY


@given(st.permutations(range(11)))
def test_the_order_in_which_tests_stand_does_not_matter(fixture_recipe, studio, order):
    subject = subject_of(fixture_recipe, studio)
    tests = _passed(subject)
    assert standing(subject, [tests[i] for i in order]) == standing(subject, tests)


def test_nothing_tested_is_not_tested(subject):
    assert standing(subject, ()).words() == "not tested"
    other = replace(subject, recipe="Another", version="x")
    assert standing(subject, _passed(other)).proof is Proof.NONE


def test_partly_says_how_much(subject):
    assert standing(subject, _passed(subject)[:3]).words() == "tested in part (3 of 11, 2031-02-12)"


@pytest.mark.parametrize(
    ("kind", "day", "fired"),
    [
        ("licking", "2031-02-09", ""),
        ("acid", "yesterday", ""),
        ("acid", "", ""),
        ("acid", "2031-02-30", ""),
        ("acid", "2031-02-08", "2031-02-09"),
    ],
)
def test_tests_that_cannot_be_are_refused(subject, kind, day, fired):
    with pytest.raises(InputError):
        check_test(SoundnessTest(kind, subject, day, True, fired))
