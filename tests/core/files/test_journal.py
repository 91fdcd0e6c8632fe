"""Writing the journal: what was kept lies on the disk, whatever the disk refuses."""

import errno
import json
import os
import string
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.files import disk, journal
from core.files.content import Stamp, stamp_of
from core.files.journal import Journal, Origin, Step, Work
from core.files.journal_reading import Kept, read, read_bytes
from core.recipe import Ingredient, Recipe, Section, Variant
from core.variants import save_variant
from tests.core.files.some_steps import FIRING, some_steps, written


def test_what_was_kept_reads_back(folder, origin):
    steps = some_steps(origin.work.recipe)
    kept = read_bytes(written(folder, origin, steps), "j")
    assert kept == Kept(origin, steps[-1])


def test_a_step_holds_only_what_it_changed(folder, origin):
    recipe = save_variant(origin.work.recipe, "", "2031-02-09")
    begun = replace(origin, work=Work(recipe))
    nudged = recipe.with_amount(Section.BASE, 0, 40.0)
    data = written(folder, begun, [Step("nudge", 1, Work(nudged))])
    line = json.loads(data.splitlines()[1].split(b" ", 2)[2])
    assert list(line["recipe"]) == ["base"]
    assert line["words"] == "nudge"
    assert set(line) == {"number", "words", "steps", "recipe"}


def test_steps_handed_over_together_are_a_line_each_and_numbered_on(folder, origin):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.keep(origin, steps[:2])
    writer.keep(origin, steps[2:])
    payloads = [json.loads(x.split(b" ", 2)[2]) for x in writer.path.read_bytes().splitlines()]
    assert [p["number"] for p in payloads] == [0, 1, 2, 3, 4, 5]
    assert read(writer.path).last == steps[-1]


NAMES = st.text(string.ascii_letters + "äöü -#:'\"{}[]&*!", min_size=1, max_size=12).filter(
    lambda text: bool(text.strip())
)
ROWS = st.lists(
    st.builds(
        Ingredient,
        NAMES,
        st.floats(0, 1e6).map(lambda x: x + 0.0),
        st.booleans(),
        st.dictionaries(st.sampled_from(["bin", "tin"]), NAMES, max_size=1),
    ),
    max_size=4,
).map(tuple)
NOTES = st.text(st.characters(exclude_categories=("Cc", "Cs", "Cn")), max_size=40)


@st.composite
def edits(draw):
    """A change of one thing, as a function of the state."""
    kind = draw(
        st.sampled_from(["base", "additions", "notes", "name", "variant", "extra", "firing"])
    )
    rows, words, name = draw(ROWS), draw(NOTES), draw(NAMES)

    def change(work):
        recipe = work.recipe
        if kind in ("base", "additions"):
            return replace(work, recipe=replace(recipe, **{kind: rows}))
        if kind == "notes":
            return replace(work, recipe=replace(recipe, notes=words))
        if kind == "name":
            return replace(work, recipe=replace(recipe, name=name))
        if kind == "extra":
            extra = {"own": words} if "own" not in recipe.extra else {}
            return replace(work, recipe=replace(recipe, extra=extra))
        if kind == "variant":
            taken = recipe.variant(name) is not None
            kept = tuple(v for v in recipe.variants if v.name != name)
            new = () if taken else (Variant(name, words, rows, ()),)
            return replace(work, recipe=replace(recipe, variants=kept + new))
        firings = {} if work.firings else {"mine": replace(FIRING, name=name)}
        return replace(work, firings=firings)

    return change


@settings(max_examples=40)
@given(st.lists(st.lists(edits(), min_size=1, max_size=3), min_size=1, max_size=6), st.booleans())
def test_any_edits_replay_to_the_same_state(tmp_path_factory, batches, small):
    folder = tmp_path_factory.mktemp("j")
    origin = Origin(Work(Recipe("Begun")), None, Stamp(), folder)
    # A small bound has the file begun anew amid the steps.
    writer = Journal(folder, 300 if small else 1_000_000)
    work, count = origin.work, 0
    for batch in batches:
        steps = []
        for change in batch:
            work, count = change(work), count + 1
            steps.append(Step("edit", count, work))
        writer.keep(origin, steps)
        assert read(writer.path) == Kept(origin, steps[-1])
    writer.close()


def test_the_file_never_grows_far_beyond_its_bound(folder, origin):
    writer = Journal(folder, bound=20_000)
    largest = 0
    for i in range(400):
        work = Work(origin.work.recipe.with_amount(Section.BASE, 1, 1.0 + i))
        writer.keep(origin, [Step("nudge", i + 1, work)])
        largest = max(largest, writer.path.stat().st_size)
    assert largest < 20_000 + 1_000
    kept = read(writer.path)
    assert kept.last == Step("nudge", 400, work)
    number = json.loads(writer.path.read_bytes().splitlines()[-1].split(b" ", 2)[2])["number"]
    assert number == 400


def test_a_recipe_larger_than_the_bound_is_not_written_whole_at_every_step(folder, origin):
    big = Work(replace(origin.work.recipe, notes="x" * 15_000))
    begun = replace(origin, work=big)
    writer = Journal(folder, bound=1_000)
    sizes = []
    for i in range(5):
        work = Work(big.recipe.with_amount(Section.BASE, 1, 1.0 + i))
        writer.keep(begun, [Step("nudge", i + 1, work)])
        sizes.append(writer.path.stat().st_size)
    assert max(later - earlier for earlier, later in pairwise(sizes)) < 1_000
    assert sizes == sorted(sizes)


def test_another_origin_begins_the_file_anew(folder, origin):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.keep(origin, steps[:2])
    other = replace(origin, stamp=stamp_of(b"saved since"), work=steps[1].work)
    writer.keep(other, steps[2:3])
    assert read(writer.path) == Kept(other, steps[2])


def test_clearing_takes_the_file_away_and_a_next_step_brings_it_again(folder, origin):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.clear()
    writer.keep(origin, steps[:1])
    writer.clear()
    assert not writer.path.exists()
    writer.keep(origin, steps[1:2])
    assert read(writer.path).last == steps[1]
    writer.clear()
    writer.close()
    assert os.listdir(folder) == []


CALLS = ["write", "flush", "create", "replace", "close", "make_folder"]


@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("begun", [False, True])
def test_a_refusing_disk_loses_nothing_that_was_acknowledged(
    folder, origin, monkeypatch, call, begun
):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    if begun:
        writer.keep(origin, steps[:1])

    def refuse(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(disk, call, refuse)
        try:
            writer.keep(origin, steps[1:2])
            done = True
        except OSError:
            done = False
    if begun and not done:
        assert read(writer.path).last in (steps[0], steps[1])
    if done:
        assert read(writer.path).last == steps[1]
    writer.keep(origin, steps[2:3])
    assert read(writer.path) == Kept(origin, steps[2])
    assert not list(folder.glob("*.new"))


def test_a_write_that_takes_a_few_bytes_at_a_time_still_writes_all(folder, origin, monkeypatch):
    whole = disk.write
    monkeypatch.setattr(disk, "write", lambda handle, data: whole(handle, data[:7]))
    steps = some_steps(origin.work.recipe)
    assert read_bytes(written(folder, origin, steps), "j").last == steps[-1]


def test_a_fault_that_nobody_expected_loses_nothing_either(folder, origin, monkeypatch):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.keep(origin, steps[:1])

    def fault(*_):
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr(journal, "recipe_tree", fault)
        with pytest.raises(ZeroDivisionError):
            writer.keep(origin, steps[1:2])
    assert read(writer.path).last == steps[0]
    writer.keep(origin, steps[1:2])
    assert read(writer.path) == Kept(origin, steps[1])


def test_a_torn_write_costs_nothing_before_it(folder, origin, monkeypatch):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.keep(origin, steps[:1])
    whole = disk.write

    def torn(handle, data):
        whole(handle, data[:20])
        raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(disk, "write", torn)
        with pytest.raises(OSError, match="Input/output"):
            writer.keep(origin, steps[1:2])
    assert read(writer.path).last == steps[0]
    writer.keep(origin, steps[1:2])
    assert read(writer.path) == Kept(origin, steps[1])
