"""Every call that a save makes to the disk fails in turn, in every way that disks have."""

from __future__ import annotations

import errno
import os
import shutil
from dataclasses import replace

import pytest

from core.files.content import stamp_of_file
from core.files.saving import NotSettled
from core.recipe import Recipe
from core.recipe_file import read_recipe, recipe_text, save_recipe

FAULTS = ("ENOSPC", "EIO", "EACCES", "EROFS", "EDQUOT")
REMARK = "# from the blue notebook\n"
OLD = Recipe("Fixture", firing="cone-10-medium", body="stoneware")
NEW = replace(OLD, notes="Thinner.")


@pytest.fixture
def path(tmp_path):
    """A recipe in a studio, with a comment and one earlier version."""
    tmp_path = tmp_path / "studio"
    tmp_path.mkdir()
    (tmp_path / "studio.yaml").write_text('glost: "1"\nkind: studio\n', encoding="utf-8")
    path = tmp_path / "recipes" / "a.yaml"
    path.parent.mkdir()
    save_recipe(path, replace(OLD, notes="First."), None)
    save_recipe(path, OLD, None)
    path.write_text(REMARK + recipe_text(OLD), encoding="utf-8")
    path.chmod(0o640)
    shutil.copytree(tmp_path, kept_of(path))
    return path


def kept_of(path):
    return path.parent.parent.with_name("as-it-was")


def begin_anew(path):
    shutil.rmtree(path.parent.parent)
    shutil.copytree(kept_of(path), path.parent.parent)
    return stamp_of_file(path)


def may_fail(name, asked):
    """Tell whether a save goes on without a call.

    Looking for what dead programs left behind, and comparing with the newest
    earlier version, are done for the sake of room alone.
    """
    return (
        (name == "names" and asked[0].name == "recipes")
        or (name == "read" and "backups" in asked[0].parts)
        or name == "remove"
    )


def litter(path):
    return [p.name for p in path.parent.iterdir() if p != path]


def fault_of(word):
    number = getattr(errno, word)
    return OSError(number, os.strerror(number))


def refuse(word, at, how, moment):
    """Return what makes the call `at` fail, before or after it did its work, and those after it."""
    first = []

    def meddle(number, name, do):
        if number == at:
            first.append(name)
        hit = number == at or (
            number > at and (how == "everything" or (how == "that call" and name in first))
        )
        if not hit:
            return do()
        # A handle whose closing failed is closed all the same.
        if moment == "after" or name == "close":
            do()
        raise fault_of(word)

    return meddle


@pytest.mark.parametrize("how", ["once", "that call", "everything"])
@pytest.mark.parametrize("word", FAULTS)
def test_whatever_call_fails_old_or_new_stands_and_the_next_save_works(path, watched, word, how):
    old = path.read_bytes()
    with watched.meddling(None):
        save_recipe(path, NEW, stamp_of_file(path))
    calls, asked = watched.calls, watched.asked
    new = (REMARK + recipe_text(NEW)).encode()
    put = max(i for i, name in enumerate(calls) if name == "replace")
    assert {"read", "create", "write", "flush", "close", "replace", "flush_folder"} <= set(calls)
    for at in range(len(calls)):
        for moment in ("before", "after"):
            step = f"{moment} call {at}, {calls[at]}"
            known = begin_anew(path)
            fault = None
            with watched.meddling(refuse(word, at, how, moment)):
                try:
                    known = save_recipe(path, NEW, known)
                except OSError as raised:
                    fault = raised
            stands = path.read_bytes()
            if fault is None:
                assert may_fail(calls[at], asked[at]), step
                assert stands == new, step
            elif at > put:
                assert isinstance(fault, NotSettled), step
                assert stands == new, step
                known = fault.stamp
            elif (at, moment) == (put, "after"):
                assert stands == new, step
            else:
                assert not isinstance(fault, NotSettled), step
                assert stands == old, step
            if fault is not None:
                assert fault.errno == getattr(errno, word), step
            if how == "once" or (how == "that call" and calls[at] != "remove"):
                assert litter(path) == [], step
            save_recipe(path, NEW, known)
            assert path.read_bytes() == new, step
            assert path.stat().st_mode & 0o777 == 0o640, step
            assert litter(path) == [], step


@pytest.mark.parametrize("word", FAULTS)
def test_a_first_save_that_fails_leaves_no_file_or_a_whole_one(tmp_path, watched, word):
    path = tmp_path / "a.yaml"
    with watched.meddling(None):
        save_recipe(path, NEW, None)
    calls = watched.calls
    whole = path.read_bytes()
    for at in range(len(calls)):
        path.unlink()
        with watched.meddling(refuse(word, at, "that call", "before")):
            try:
                save_recipe(path, NEW, None)
            except OSError:
                pass
            else:
                assert calls[at] == "names"
        assert [p.read_bytes() for p in tmp_path.iterdir()] in ([], [whole])
        save_recipe(path, NEW, None)
        assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]


def test_bytes_that_go_one_at_a_time_all_arrive(path, watched, monkeypatch):
    from core.files import disk

    write = disk.write
    monkeypatch.setattr(disk, "write", lambda handle, data: write(handle, data[:1]))
    with watched.meddling(None):
        save_recipe(path, NEW, stamp_of_file(path))
    assert watched.calls.count("write") > len(recipe_text(NEW).encode())
    assert read_recipe(path) == NEW


@pytest.mark.parametrize("went", [0, -1])
def test_a_write_that_takes_nothing_ends_in_words_and_not_in_a_loop(path, watched, went):
    old = path.read_bytes()

    def meddle(_number, name, do):
        return went if name == "write" else do()

    with watched.meddling(meddle), pytest.raises(OSError) as fault:  # noqa: PT011
        save_recipe(path, NEW, stamp_of_file(path))
    assert fault.value.errno == errno.EIO
    assert path.read_bytes() == old
    assert litter(path) == []


def test_a_disk_that_says_more_than_it_did_is_found_out(path, watched):
    """The write claims all bytes and takes but some: the count of the file tells."""
    old = path.read_bytes()
    lengths = []

    def meddle(number, name, do):
        if name != "status" or watched.calls[number - 1] != "write":
            return do()
        os.truncate(next(p for p in path.parent.iterdir() if p.name.endswith(".part")), 9)
        lengths.append(number)
        return do()

    with watched.meddling(meddle), pytest.raises(OSError, match="Input/output"):
        save_recipe(path, NEW, stamp_of_file(path))
    assert lengths
    assert path.read_bytes() == old
    assert litter(path) == []


def test_bytes_that_read_back_otherwise_are_not_called_saved(path, watched):
    def meddle(number, name, do):
        found = do()
        return (
            found[:-1] + b"?" if name == "read" and watched.calls.count("replace") == 2 else found
        )

    known = stamp_of_file(path)
    with watched.meddling(meddle), pytest.raises(NotSettled, match="other bytes"):
        save_recipe(path, NEW, known)
    # It stands there whole all the same, and is known to.
    assert read_recipe(path) == NEW


@pytest.mark.parametrize("word", ["EINVAL", "ENOTSUP", "EBADF"])
def test_a_folder_that_no_flush_is_known_for_is_no_fault(path, watched, word):
    def meddle(_number, name, do):
        if name == "flush_folder":
            raise fault_of(word)
        return do()

    with watched.meddling(meddle):
        save_recipe(path, NEW, stamp_of_file(path))
    assert read_recipe(path) == NEW


def test_what_failed_to_reach_the_disk_is_never_flushed_again(path, watched):
    flushed = []

    def meddle(_number, name, do):
        if name == "create":
            handle = do()
            flushed.append(0)
            return handle
        if name == "flush":
            flushed[-1] += 1
            raise fault_of("EIO")
        return do()

    known = stamp_of_file(path)
    for _ in range(3):
        with watched.meddling(meddle), pytest.raises(OSError, match="Input/output"):
            save_recipe(path, NEW, known)
    # A new file each time, flushed once each.
    assert flushed == [1, 1, 1]
