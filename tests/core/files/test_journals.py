"""Journals that were left behind: found, held by one window, and put away."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from core.errors import InputError
from core.files import journals, state
from core.files.content import stamp_of
from core.files.journal import Journal, Origin, Step, Work
from core.files.journal_reading import Kept, read
from core.files.journals import KEPT, is_saved, orphans
from core.files.process_lock import take
from core.recipe import Section
from core.recipe_file import save_recipe
from tests.core.files.some_steps import FIRING, some_steps, written


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


def test_the_same_state_with_another_studio_is_offered_too(folder, origin):
    """Without its studio the newer one could not save the firings."""
    steps = some_steps(origin.work.recipe)
    old, new = Journal(folder), Journal(folder)
    old.keep(origin, steps)
    new.keep(replace(origin, studio=None), steps)
    old.close()
    new.close()
    assert [o.kept.origin.studio for o in orphans(folder)] == [None, origin.studio]


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
    assert orphan.is_put_away
    orphan.take_back()
    assert not orphan.is_put_away
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
    monkeypatch.setattr(state, "state_folder", lambda: Path("/somewhere"))
    assert journals.journal_folder().parts[-2:] == ("somewhere", "journals")
