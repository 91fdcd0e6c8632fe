"""The journal of edits: what is kept reads back, whatever a crash did to its end."""

import errno
import json
import os
import string
import subprocess
import sys
import zlib
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.errors import InputError
from core.files import disk, journal
from core.files.content import Stamp, stamp_of
from core.files.journal import (
    KEPT,
    Journal,
    Kept,
    Origin,
    Step,
    Work,
    is_saved,
    orphans,
    read,
    read_bytes,
)
from core.files.process_lock import take
from core.firing import shipped_firings
from core.plain_yaml import LONGEST_VALUE
from core.recipe import Ingredient, Recipe, Section, Variant
from core.recipe_file import save_recipe
from core.variants import save_variant

FIRING = replace(shipped_firings()["cone-10-medium"], id="mine", name="Mine", source="")


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "journals"


@pytest.fixture
def origin(fixture_recipe, tmp_path):
    return Origin(Work(fixture_recipe), tmp_path / "fixture.yaml", stamp_of(b"was there"), tmp_path)


def some_steps(recipe):
    """Five edits of different kinds, each from the state before it."""
    states = [Work(recipe.with_amount(Section.BASE, 1, 12.5))]
    states.append(Work(save_variant(states[-1].recipe, "why", "2031-02-09")))
    states.append(Work(replace(states[-1].recipe, notes="two lines\nof 'Häfen' \u2028 é")))
    states.append(replace(states[-1], firings={"mine": FIRING}))
    states.append(Work(replace(states[-1].recipe, shelf="top", based_on="")))
    return [Step(f"step {i}", i, work) for i, work in enumerate(states, 1)]


def written(folder, origin, steps):
    """The bytes of a journal that got each step by itself."""
    writer = Journal(folder)
    for step in steps:
        writer.keep(origin, [step])
    data = writer.path.read_bytes()
    writer.close()
    return data


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


def test_every_prefix_is_a_state_that_was_true(folder, origin):
    steps = some_steps(origin.work.recipe)
    data = written(folder, origin, steps)
    true = [None, *steps]
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    for length in range(len(data) + 1):
        if length < ends[0]:
            with pytest.raises(InputError):
                read_bytes(data[:length], "j")
            continue
        kept = read_bytes(data[:length], "j")
        whole = sum(end <= length for end in ends) - 1
        assert kept.last == true[whole]
        assert kept.origin == origin
        assert not kept.damaged


def test_every_changed_byte_is_noticed(folder, origin):
    """What is read ends before the line that was touched."""
    steps = some_steps(origin.work.recipe)[:3]
    data = written(folder, origin, steps)
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    true = [None, *steps]
    for place in range(len(data)):
        changed = bytearray(data)
        changed[place] ^= (0x01, 0x20, 0x80)[place % 3]
        line = sum(end <= place for end in ends)
        if line == 0:
            with pytest.raises(InputError):
                read_bytes(bytes(changed), "j")
            continue
        kept = read_bytes(bytes(changed), "j")
        assert kept.last == true[line - 1], place
        # Without its line end a line and the next look like one torn at the end.
        if line < len(ends) - 1 and data[place] != 10:
            assert kept.damaged, place


def test_a_line_left_out_or_twice_ends_the_reading(folder, origin):
    steps = some_steps(origin.work.recipe)
    lines = written(folder, origin, steps).splitlines(keepends=True)
    gap = read_bytes(b"".join([*lines[:2], *lines[3:]]), "j")
    assert (gap.last, gap.damaged) == (steps[0], True)
    twice = read_bytes(b"".join([*lines[:3], lines[2], *lines[3:]]), "j")
    assert (twice.last, twice.damaged) == (steps[1], True)


def line_of(tree):
    payload = json.dumps(tree).encode()
    return b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)


HEAD = {
    "journal": "1",
    "number": 0,
    "path": None,
    "stamp": {"digest": "", "size": 0},
    "studio": None,
    "recipe": {"glost": "1", "kind": "recipe", "name": "X"},
    "firings": {},
}


@pytest.mark.parametrize(
    "change",
    [
        {"journal": "2"},
        {"recipe": {"glost": "1", "kind": "run", "name": "X"}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": 7}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": "X", "notes": None}},
        {"recipe": {"glost": "1", "kind": "recipe", "name": "X", "base": [{"parts": "1"}]}},
        {"firings": {"a": {"glost": "1", "kind": "firing", "id": "b"}}},
        {"firings": {"a": []}},
        {"stamp": "none"},
        {"number": "0"},
        {"path": 3},
    ],
)
def test_a_sound_line_still_goes_through_the_checks_of_a_file(change):
    assert read_bytes(line_of(HEAD), "j").last is None
    with pytest.raises(InputError):
        read_bytes(line_of(HEAD | change), "j")


@pytest.mark.parametrize("opening", [b"[", b'{"a":'])
def test_deeply_nested_text_is_refused(opening):
    payload = opening * 100_000
    data = b"%d %08x %b\n" % (len(payload), zlib.crc32(payload), payload)
    with pytest.raises(InputError):
        read_bytes(data, "j")
    deep = "x"
    for _ in range(200):
        deep = [deep]
    with pytest.raises(InputError):
        read_bytes(line_of(HEAD | {"recipe": HEAD["recipe"] | {"x": deep}}), "j")


def test_a_last_state_that_no_file_could_hold_gives_the_one_before_and_says_so(folder, origin):
    steps = some_steps(origin.work.recipe)
    long = replace(steps[-1].work.recipe, notes="x" * (LONGEST_VALUE + 1))
    data = written(folder, origin, [*steps, Step("too much", 6, Work(long))])
    kept = read_bytes(data, "j")
    assert kept.last == steps[-1]
    assert kept.damaged


def test_text_that_is_no_text_never_raises(folder, origin):
    odd = replace(origin.work.recipe, notes="a\x07b\ud800c")
    kept = read_bytes(written(folder, origin, [Step("\ud800", 1, Work(odd))]), "j")
    assert kept.last.work.recipe.notes == "a\ufffdb\ufffdc"


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


def test_a_journal_in_use_is_not_offered_and_a_left_one_is(folder, origin):
    steps = some_steps(origin.work.recipe)
    writer = Journal(folder)
    writer.keep(origin, steps)
    assert orphans(folder) == []
    writer.close()
    (orphan,) = orphans(folder)
    assert orphan.kept == Kept(origin, steps[-1])
    # While it is looked at here, another window does not get it.
    assert orphans(folder) == []
    orphan.let_go()
    assert len(orphans(folder)) == 1


CHILD = """
import os, signal, sys
from pathlib import Path
from core.files.journal import Journal, Origin, Step, Work
from core.recipe import Recipe
writer = Journal(Path(sys.argv[1]))
writer.keep(Origin(Work(Recipe("Left"))), [Step("name", 1, Work(Recipe("Left behind")))])
print("kept", flush=True)
sys.stdin.readline()
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_the_system_lets_go_of_the_lock_of_a_killed_process(folder, request):
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=request.config.rootpath,
    )
    with child:
        assert child.stdout.readline() == "kept\n"
        assert orphans(folder) == []
        child.communicate("now\n", timeout=60)
    (orphan,) = orphans(folder)
    assert orphan.kept.last.work.recipe.name == "Left behind"


def test_two_windows_have_a_journal_each_and_the_newer_is_given_first(folder, origin):
    steps = some_steps(origin.work.recipe)
    one, two = Journal(folder), Journal(folder)
    two_origin = replace(origin, path=None)
    one.keep(origin, steps[:1])
    two.keep(two_origin, steps[:2])
    assert one.path != two.path
    os.utime(two.path, (0, 0))  # the clock says otherwise
    one.close()
    two.close()
    assert [o.kept.origin for o in orphans(folder)] == [two_origin, origin]


def test_of_two_that_hold_the_same_the_newer_is_offered(folder, origin):
    """A second crash just after the first one's work was brought back."""
    steps = some_steps(origin.work.recipe)
    old, new = Journal(folder), Journal(folder)
    old.keep(origin, steps)
    new.keep(origin, [replace(steps[-1], words="Bring back unsaved work")])
    old.close()
    new.close()
    (orphan,) = orphans(folder)
    assert orphan.kept.last.words == "Bring back unsaved work"
    assert len(list((folder / "put-away").iterdir())) == 1


def test_one_that_does_not_read_says_why_and_can_be_put_away(folder, origin):
    written(folder, origin, some_steps(origin.work.recipe))
    (path,) = folder.glob("*.journal")
    path.write_bytes(b"scrambled\n" + path.read_bytes())
    (orphan,) = orphans(folder)
    assert orphan.kept is None
    assert isinstance(orphan.fault, InputError)
    orphan.put_away()
    assert orphan.path.read_bytes().startswith(b"scrambled")
    orphan.let_go()
    assert orphans(folder) == []
    assert sorted(os.listdir(folder)) == ["put-away"]


def test_what_is_put_away_can_be_taken_back(folder, origin):
    steps = some_steps(origin.work.recipe)
    written(folder, origin, steps)
    (orphan,) = orphans(folder)
    orphan.put_away()
    orphan.take_back()
    orphan.let_go()
    (again,) = orphans(folder)
    assert again.kept.last == steps[-1]


def test_the_last_thirty_that_were_put_away_are_kept(folder, origin):
    steps = some_steps(origin.work.recipe)
    for i in range(KEPT + 3):
        written(folder, origin, [replace(steps[0], words=f"crash {i}")])
        (orphan,) = orphans(folder)
        orphan.put_away()
        orphan.let_go()
    kept = sorted((folder / "put-away").iterdir())
    words = [read(path).last.words for path in kept]
    assert words == [f"crash {i}" for i in range(3, KEPT + 3)]


def test_a_crash_while_a_file_was_begun_leaves_no_litter_for_long(folder, origin):
    written(folder, origin, some_steps(origin.work.recipe))
    (path,) = folder.glob("*.journal")
    path.with_suffix(".new").write_bytes(b"half")
    (folder / "000009-00000000.lock").touch()
    (orphan,) = orphans(folder)
    orphan.let_go()
    assert os.listdir(folder) == [path.name]


def test_other_files_in_the_folder_are_left_alone(folder):
    folder.mkdir()
    for name in ("notes.journal", "x.lock", ".journal", "000001-zz.journal"):
        (folder / name).write_text("mine", encoding="utf-8")
    assert orphans(folder) == []
    assert len(os.listdir(folder)) == 4


def test_a_folder_that_is_not_there_holds_none(folder):
    assert orphans(folder) == []


def test_work_that_was_saved_before_the_crash_is_known(tmp_path, fixture_recipe):
    path = tmp_path / "a.yaml"
    save_recipe(path, fixture_recipe, None)
    origin = Origin(Work(fixture_recipe), path, stamp_of(path.read_bytes()), None)
    changed = fixture_recipe.with_amount(Section.BASE, 1, 3.0)
    kept = Kept(origin, Step("nudge", 1, Work(changed)))
    assert not is_saved(kept)
    save_recipe(path, changed, None)
    assert is_saved(kept)
    assert not is_saved(replace(kept, last=Step("more", 2, Work(fixture_recipe, {"m": FIRING}))))
    path.unlink()
    assert not is_saved(kept)
    assert not is_saved(replace(kept, origin=replace(origin, path=None)))


def test_analyses_given_up_are_not_taken_for_saved(tmp_path, fixture_recipe):
    """A save pins the analyses again, so that they are compared only once it has been."""
    path = tmp_path / "a.yaml"
    save_recipe(path, fixture_recipe, None)
    pinned = replace(fixture_recipe, pinned={"x": None})
    origin = Origin(Work(pinned), path, stamp_of(path.read_bytes()), None)
    assert not is_saved(Kept(origin, Step("give up", 1, Work(fixture_recipe))))


def test_a_lock_is_held_once_and_free_again(tmp_path):
    path = tmp_path / "x.lock"
    held = take(path)
    assert held is not None
    assert take(path) is None
    held.release()
    held.release()
    assert not path.exists()
    again = take(path)
    assert again is not None
    again.release()


def test_the_folder_is_the_users_state_folder(monkeypatch):
    monkeypatch.setattr("platformdirs.user_state_dir", lambda *_, **__: "/somewhere")
    assert journal.journal_folder().parts[-2:] == ("somewhere", "journals")
