"""What a save does in which order, and what it does to links, modes and strangers' files."""

from __future__ import annotations

import os
import stat
from dataclasses import replace

import pytest

from core.errors import InputError
from core.files import backups, disk, new_file, saving
from core.files.computer import birth_of, computer, is_running
from core.files.content import ABSENT, stamp_of, stamp_of_file
from core.files.saving import ChangedOutside, save, write_in_place
from core.recipe import Recipe
from core.recipe_file import read_recipe, save_recipe
from tests.core.files.watching import CALLS, WatchedDisk

OLD, NEW = 'glost: "1"\nname: "old"\n', 'glost: "1"\nname: "new"\n'


ELSEWHERE = "0123456789abcdef"


def fine(_text):
    """Find nothing wrong."""


@pytest.fixture
def path(tmp_path):
    folder = tmp_path / "clay"
    folder.mkdir()
    path = folder / "a.yaml"
    path.write_text(OLD, encoding="utf-8")
    return path


def test_the_stamp_is_of_what_stands_there(path):
    stamp = save(path, NEW, fine, stamp_of(OLD.encode()))
    assert stamp == stamp_of(NEW.encode()) == stamp_of_file(path)


def test_what_is_flushed_is_whole_and_what_is_renamed_is_flushed(path, watched):
    """The order that a power cut asks for, on a disk that tells the truth."""
    with watched.meddling(None):
        save(path, NEW, fine, stamp_of_file(path))
    part = next(
        asked[0]
        for name, asked in zip(watched.calls, watched.asked, strict=True)
        if name == "create" and asked[0].parent == path.parent
    )
    steps = []
    handle_calls = {"write", "flush", "close"}
    mine = False
    for name, asked in zip(watched.calls, watched.asked, strict=True):
        if name == "create":
            mine = asked[0] == part
        if (
            (name in handle_calls and mine)
            or (name in ("create", "replace") and asked[0] == part)
            or (name == "replace" and asked[0] != part)
            or (name == "flush_folder" and asked[0] == path.parent)
            or (name == "read" and asked[0] == path)
        ):
            steps.append("keep" if name == "replace" and asked[0] != part else name)
    assert steps == [
        "read",  # what stands there
        "create",
        "write",
        "flush",
        "close",
        "keep",  # the old version among the backups, itself renamed into place
        "read",  # whether it still stands there
        "replace",
        "flush_folder",
        "read",  # whether it arrived
    ]


def test_a_save_of_the_same_text_is_flushed_all_the_same(path, watched):
    with watched.meddling(None):
        save(path, OLD, fine, stamp_of_file(path))
    assert watched.calls.count("flush") == 1
    assert "flush_folder" in watched.calls
    assert backups.versions(path) == []


def test_what_would_not_read_back_touches_nothing(path, watched):
    def refuse(_text):
        raise InputError("is torn", "mend it")

    with watched.meddling(None), pytest.raises(InputError, match="is torn"):
        save(path, NEW, refuse, None)
    assert watched.calls == []


@pytest.mark.parametrize("known", [ABSENT, stamp_of(b"other")])
def test_what_somebody_else_wrote_is_carried_by_the_refusal(path, known):
    with pytest.raises(ChangedOutside, match=r"a\.yaml.*changed by another") as fault:
        save(path, NEW, fine, known)
    assert fault.value.data == OLD.encode()
    assert fault.value.stamp == stamp_of_file(path)
    assert os.listdir(path.parent) == ["a.yaml"]


def test_a_file_that_was_taken_away_is_no_place_to_write_unasked(path):
    known = stamp_of_file(path)
    path.unlink()
    with pytest.raises(ChangedOutside, match="taken away") as fault:
        save(path, NEW, fine, known)
    assert (fault.value.data, fault.value.stamp) == (None, ABSENT)
    assert save(path, NEW, fine, ABSENT)


def test_who_writes_while_a_save_is_under_way_is_not_written_over(path, watched):
    known = stamp_of_file(path)

    def meddle(_number, name, do):
        if name == "flush":
            path.write_text("theirs", encoding="utf-8")
        return do()

    with watched.meddling(meddle), pytest.raises(ChangedOutside) as fault:
        save(path, NEW, fine, known)
    assert fault.value.data == b"theirs" == path.read_bytes()
    assert os.listdir(path.parent) == ["a.yaml"]


def test_the_same_text_written_by_both_is_no_conflict(path):
    known = stamp_of_file(path)
    path.write_text(NEW, encoding="utf-8")
    assert save(path, NEW, fine, known) == stamp_of_file(path)


def test_the_present_version_goes_among_the_backups(path):
    save(path, NEW, fine, None)
    assert [version.path.read_text("utf-8") for version in backups.versions(path)] == [OLD]


def test_a_comment_survives_unless_the_text_would_not_read_back_with_it(path):
    path.write_text(f"# wet\n{OLD}", encoding="utf-8")
    save(path, NEW, fine, None)
    assert path.read_text("utf-8") == f"# wet\n{NEW}"

    def no_comments(text):
        if "#" in text:
            raise InputError("has a comment", "")

    save(path, OLD, no_comments, None)
    assert path.read_text("utf-8") == OLD


def test_bytes_that_are_no_text_are_replaced_when_asked_and_kept(path):
    path.write_bytes(b"\xff\xfe# no yaml")
    save(path, NEW, fine, None)
    assert path.read_text("utf-8") == NEW
    assert [version.path.read_bytes() for version in backups.versions(path)] == [
        b"\xff\xfe# no yaml"
    ]


@pytest.mark.skipif(os.name == "nt", reason="links want rights on this system")
def test_a_link_stays_a_link_and_its_file_gets_the_text(path, tmp_path):
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    save(link, NEW, fine, stamp_of_file(link))
    assert link.is_symlink()
    assert path.read_text("utf-8") == NEW
    assert not path.is_symlink()
    assert sorted(p.name for p in tmp_path.iterdir() if p.suffix != "") == ["link.yaml"]


@pytest.mark.skipif(os.name == "nt", reason="links want rights on this system")
def test_a_link_to_nothing_makes_the_file_that_it_names(tmp_path):
    link, target = tmp_path / "link.yaml", tmp_path / "b.yaml"
    link.symlink_to(target)
    save(link, NEW, fine, ABSENT)
    assert target.read_text("utf-8") == NEW
    link.unlink()
    link.symlink_to(link)
    with pytest.raises(OSError, match="symbolic links"):
        save(link, NEW, fine, None)


@pytest.mark.skipif(os.name == "nt", reason="links want rights on this system")
def test_a_second_name_of_the_file_keeps_the_old_version(path):
    snapshot = path.with_name("snapshot.yaml")
    os.link(path, snapshot)
    save(path, NEW, fine, None)
    assert (path.read_text("utf-8"), snapshot.read_text("utf-8")) == (NEW, OLD)


@pytest.mark.skipif(os.name == "nt", reason="no modes on this system")
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_the_mode_is_kept_and_never_wider_on_the_way(path, watched, mode):
    path.chmod(mode)
    seen = []

    def meddle(_number, name, do):
        seen.extend(
            stat.S_IMODE(p.stat().st_mode) for p in path.parent.iterdir() if p.suffix == ".part"
        )
        return do()

    with watched.meddling(meddle):
        save(path, NEW, fine, None)
    assert stat.S_IMODE(path.stat().st_mode) == mode
    assert seen
    assert all(one & ~mode == 0 for one in seen)


def test_a_folder_or_a_pipe_of_the_name_is_left_alone(tmp_path):
    with pytest.raises(InputError, match="no ordinary file"):
        save(tmp_path, NEW, fine, None)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.yaml")
        with pytest.raises(InputError, match="no ordinary file"):
            save(tmp_path / "pipe.yaml", NEW, fine, None)


def test_a_file_too_large_to_be_ours_is_left_alone(path):
    os.truncate(path, saving.LARGEST_REPLACED + 1)
    with pytest.raises(InputError, match="too large"):
        save(path, NEW, fine, None)


def part(name="a.yaml", where=None, pid=None, birth=None):
    pid = pid or os.getpid()
    birth = birth_of(pid) if birth is None else birth
    return f".{name}.glost-{where or computer()}-{pid}-{birth}-5d41402a.part"


def dead_pid():
    pid = 2**22 - 1
    while is_running(pid):
        pid -= 1
    return pid


@pytest.mark.skipif(os.name == "nt", reason="process numbers are handed out otherwise")
def test_leavings_of_dead_processes_of_this_computer_go_and_others_stay(path):
    gone = {
        part(pid=dead_pid()),
        part("b.yaml", pid=dead_pid(), birth="ab12cd34-7"),
        part(),
        part("c.yaml", birth="ab12cd34-7"),  # one of an earlier life had this number
    }
    stay = {
        part(pid=os.getppid()),
        part(where=ELSEWHERE, pid=dead_pid()),
        part(where=ELSEWHERE),
        part().replace(computer(), "wheelhouse"),
        ".a.yaml.swp",
        "x.part",
    }
    for name in gone | stay:
        (path.parent / name).write_text("half", encoding="utf-8")
    save(path, NEW, fine, None)
    assert set(os.listdir(path.parent)) == stay | {"a.yaml"}


def test_two_programs_of_one_computer_name_and_process_number_do_not_meet(path, monkeypatch):
    """As in two containers, or on two computers that share a name and a folder."""
    known = stamp_of_file(path)
    theirs = []

    def twin(_number, name, do):
        done = do()
        if name == "create" and not theirs:
            theirs.append("begun")
            # The other is at the same point of its life: same number, nothing in memory.
            with monkeypatch.context() as other:
                other.setattr(new_file, "computer", lambda: ELSEWHERE)
                other.setattr(new_file, "_in_use", set())
                save(path, OLD + "# theirs\n", fine, known)
            theirs.append("done")
        return done

    watching = WatchedDisk()
    for name in CALLS:
        monkeypatch.setattr(disk, name, watching.wrap(name, getattr(disk, name)))
    with watching.meddling(twin), pytest.raises(ChangedOutside):
        save(path, NEW, fine, known)
    assert theirs == ["begun", "done"]
    assert path.read_text("utf-8") == OLD + "# theirs\n"
    assert os.listdir(path.parent) == ["a.yaml"]


def test_the_name_of_what_is_written_is_never_given_twice(path):
    with new_file.beside(path) as one, new_file.beside(path) as other:
        assert one != other
        assert one.parent == path.parent
        assert computer() in one.name
        assert birth_of(os.getpid()) in one.name


def test_what_is_left_behind_is_hidden_and_no_reader_takes_it_for_a_recipe(path):
    (path.parent / part(where=ELSEWHERE)).write_text(NEW, encoding="utf-8")
    assert [p.name for p in path.parent.glob("*.yaml")] == ["a.yaml"]


@pytest.mark.parametrize("name", ["x" * 250 + ".yaml", "ä" * 120 + ".yaml", "漢" * 80 + ".yaml"])
def test_the_longest_names_still_have_room_for_whose_it_is(tmp_path, name):
    path = tmp_path / name
    save(path, OLD, fine, ABSENT)
    save(path, NEW, fine, stamp_of(OLD.encode()))
    assert path.read_text("utf-8") == NEW


def test_a_file_that_another_program_holds_is_tried_again_for_under_two_seconds(path, monkeypatch):
    waited = []
    monkeypatch.setattr(saving.time, "sleep", waited.append)
    real = disk.replace

    def held(tries):
        left = list(range(tries))

        def replace_held(source, target):
            if target == path and left:
                left.pop()
                fault = PermissionError(13, "in use")
                fault.winerror = 32
                raise fault
            real(source, target)

        return replace_held

    monkeypatch.setattr(disk, "replace", held(3))
    save(path, NEW, fine, None)
    assert path.read_text("utf-8") == NEW
    assert len(waited) == 3
    waited.clear()
    monkeypatch.setattr(disk, "replace", held(1000))
    with pytest.raises(PermissionError, match="in use"):
        save(path, OLD, fine, None)
    assert 0 < sum(waited) < 2
    assert path.read_text("utf-8") == NEW
    assert os.listdir(path.parent) == ["a.yaml"]


def test_a_refusal_that_is_none_of_sharing_is_not_waited_for(path, monkeypatch):
    monkeypatch.setattr(saving.time, "sleep", lambda _s: pytest.fail("waited"))

    def refuse(source, target):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(disk, "replace", refuse)
    with pytest.raises(PermissionError):
        write_in_place(path, NEW)


def test_what_the_program_keeps_for_itself_has_no_backups(path):
    assert write_in_place(path, NEW) == stamp_of_file(path)
    assert path.read_text("utf-8") == NEW
    assert backups.versions(path) == []


def test_no_module_that_saves_goes_round_the_calls_that_tests_can_refuse():
    """`os`, `open` and the like in the protocol itself would be calls that nothing tries."""
    import ast
    import inspect

    found = set()
    source = inspect.getsource(saving) + inspect.getsource(new_file)
    for node in ast.walk(ast.parse(source.replace("from __future__ import annotations", ""))):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found.add(f"{node.value.id}.{node.attr}")
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id != "open"
    used = {name for name in found if name.split(".")[0] in ("os", "shutil", "tempfile")}
    assert used == {"os.strerror", "os.getpid", "os.stat_result"}
    methods = {name.split(".")[1] for name in found}
    assert not methods & {"read_bytes", "write_bytes", "write_text", "unlink", "rename", "exists"}


def test_a_studio_is_never_begun_over_another(tmp_path):
    from core.studio import begin_studio, open_studio

    begin_studio(tmp_path / "new", "Tern Hollow")
    assert open_studio(tmp_path / "new").name == "Tern Hollow"
    with pytest.raises(InputError, match="already"):
        begin_studio(tmp_path / "new", "Other")


def test_a_saved_recipe_with_unknown_keys_and_comments_keeps_both(tmp_path):
    path = tmp_path / "a.yaml"
    save_recipe(path, Recipe("Fixture", extra={"jar": "7"}), None)
    path.write_text(
        path.read_text("utf-8").replace('jar: "7"', 'jar: "7"  # top shelf'), encoding="utf-8"
    )
    stamp = stamp_of_file(path)
    save_recipe(path, replace(read_recipe(path), notes="Thinner."), stamp)
    assert "# top shelf" in path.read_text("utf-8")
    assert read_recipe(path).extra == {"jar": "7"}


@pytest.mark.skipif(os.name == "nt", reason="no such call on this system")
def test_where_the_drive_itself_can_be_flushed_it_is_and_a_failed_write_stays_failed(
    path, monkeypatch
):
    """As on macOS, where fsync leaves the bytes in the drive's own memory."""
    import errno
    import fcntl

    done, answer = [], 0

    def full_flush(_handle, command):
        done.append(command)
        if answer:
            raise OSError(answer, os.strerror(answer))

    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", full_flush)
    monkeypatch.setattr(os, "fsync", lambda _handle: done.append("fsync"))
    disk.flush(7)
    assert done == [51]
    answer = errno.ENOTSUP
    disk.flush(7)
    assert done == [51, 51, "fsync"]
    answer = errno.EIO
    with pytest.raises(OSError, match="Input/output"):
        disk.flush(7)
    assert done == [51, 51, "fsync", 51]
