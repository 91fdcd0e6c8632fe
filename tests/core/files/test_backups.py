"""Earlier versions of files: kept whole, in order of their numbers, and never too many.

The calendar of these tests is simulated: the day is handed to `keep`.
"""

from __future__ import annotations

import errno
import os
import random
import stat
from collections import Counter
from contextlib import nullcontext
from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml

from core.check import yaml_files
from core.errors import InputError
from core.files import backups, disk, restoring, state
from core.files.content import stamp_of, stamp_of_file
from core.files.saving import ChangedOutside
from core.studio import open_studio

DAY = date(2026, 11, 28)
FAULTS = (errno.ENOSPC, errno.EIO, errno.EACCES, errno.EROFS, errno.EDQUOT)
WRITING = (
    "names",
    "make_folder",
    "create",
    "write",
    "flush",
    "close",
    "status",
    "replace",
    "flush_folder",
)


@pytest.fixture
def recipe(tmp_path) -> Path:
    """A recipe in a studio of its own."""
    studio = tmp_path / "studio"
    (studio / "recipes").mkdir(parents=True)
    (studio / "studio.yaml").write_text('glost: "1"\nkind: studio\nname: "Tern"\n', "utf-8")
    path = studio / "recipes" / "eider.yaml"
    path.write_text("one", "utf-8")
    return path


def keep_many(path, days):
    for number, day in enumerate(days):
        backups.keep(path, f"text {number}".encode(), day)


def thinned(days):
    """Thin after each of many saves; the numbers and days left, the newest first."""
    found = []
    for number, day in enumerate(days, 1):
        found.append((number, day))
        dropped = backups.to_drop([day for _, day in found])
        found = [version for place, version in enumerate(found) if place not in dropped]
    return found[::-1]


def kept(path):
    return [backups.read_version(version) for version in backups.versions(path)]


def litter(path):
    folder = backups.folder_of(path)
    return [n for n in os.listdir(folder) if n.startswith(".")] if folder.exists() else []


def test_a_version_lies_under_the_kind_and_name_of_its_file(recipe):
    backups.keep(recipe, b"one", DAY)
    (version,) = backups.versions(recipe)
    studio = recipe.parent.parent
    assert version.path.parent == studio / "backups" / "recipes" / "eider"
    assert version.path.name.startswith("000001-2026-11-28-")
    assert version.path.suffix == ".yaml"
    assert (version.number, version.day, version.size) == (1, DAY, 3)
    assert version.path.read_bytes() == b"one"


def test_the_files_of_the_studio_itself_and_endings_stay_apart(recipe):
    studio = recipe.parent.parent
    other = recipe.with_suffix(".yml")
    for path in (recipe, other, studio / "studio.yaml", studio / "studio" / "recipe.yaml"):
        backups.keep(path, path.name.encode(), DAY)
    for path in (recipe, other, studio / "studio.yaml", studio / "studio" / "recipe.yaml"):
        assert kept(path) == [path.name.encode()]


def test_a_file_outside_any_studio_goes_to_the_state_folder(tmp_path):
    for folder in ("a", "b"):
        backups.keep(tmp_path / folder / "eider.yaml", folder.encode(), DAY)
    assert kept(tmp_path / "a" / "eider.yaml") == [b"a"]
    assert kept(tmp_path / "b" / "eider.yaml") == [b"b"]
    assert state.state_folder() in backups.versions(tmp_path / "a" / "eider.yaml")[0].path.parents


def test_a_link_and_its_target_share_their_versions(recipe, tmp_path):
    link = tmp_path / "link.yaml"
    link.symlink_to(recipe)
    backups.keep(link, b"one", DAY)
    assert kept(recipe) == kept(link) == [b"one"]


def test_a_version_is_read_only_and_never_read_as_a_recipe(recipe):
    backups.keep(recipe, b"not: a recipe", DAY)
    (version,) = backups.versions(recipe)
    assert not stat.S_IMODE(version.path.stat().st_mode) & 0o222
    studio = recipe.parent.parent
    assert open_studio(studio).recipe_paths() == [recipe]
    assert version.path not in yaml_files(studio)


def test_a_version_is_never_kept_or_written_over_itself(recipe):
    backups.keep(recipe, b"one", DAY)
    (version,) = backups.versions(recipe)
    assert backups.is_backup(version.path)
    assert not backups.is_backup(recipe)
    with pytest.raises(PermissionError, match="never written over"):
        backups.keep(version.path, b"two", DAY)


def test_the_same_bytes_are_kept_once_until_others_come_between(recipe):
    for data in (b"one", b"one", b"two", b"one", b"one"):
        backups.keep(recipe, data, DAY)
    assert kept(recipe) == [b"one", b"two", b"one"]


def test_the_order_is_that_of_keeping_whatever_the_clock_says(recipe):
    days = [DAY, date(1970, 1, 1), date(2099, 12, 31), DAY - timedelta(400), DAY]
    keep_many(recipe, days)
    found = backups.versions(recipe)
    assert [v.number for v in found] == [5, 4, 3, 2, 1]
    assert [v.day for v in found] == days[::-1]
    assert kept(recipe)[0] == b"text 4"


def test_years_of_saves_leave_the_last_ones_the_days_and_the_months():
    # Three saves on each day of 400 days: the last 30 are ten days, then 30 days, then months.
    days = [DAY - timedelta(back) for back in range(399, -1, -1) for _ in range(3)]
    found = thinned(days)
    assert [number for number, _ in found[:30]] == list(range(1200, 1170, -1))
    daily = found[30:60]
    assert [day for _, day in daily] == [DAY - timedelta(back) for back in range(10, 40)]
    assert all(number % 3 == 0 for number, _ in daily)  # the last of its day
    months = [(day.year, day.month) for _, day in found[60:]]
    assert len(months) == len(set(months))
    assert months == sorted(months, reverse=True)
    assert months[-1] == (days[0].year, days[0].month)
    assert 12 <= len(months) <= 14


def test_a_clock_that_jumps_costs_no_day_and_no_month():
    days = [DAY - timedelta(back) for back in range(399, -1, -1)]
    true_months = {(d.year, d.month) for d in days[:-60]}
    wrong = {120: date(2099, 1, 1), 250: date(1970, 1, 1), 300: date(2099, 1, 1)}
    found = thinned([wrong.get(place, day) for place, day in enumerate(days)])
    assert [number for number, _ in found[:30]] == list(range(400, 370, -1))
    assert true_months <= {(day.year, day.month) for _, day in found}
    # After the jump to 2099 the days of now go on as if it had not been.
    assert {DAY - timedelta(back) for back in range(60)} <= {day for _, day in found}


def test_on_the_disk_the_same_ones_go(recipe, monkeypatch):
    monkeypatch.setattr(backups, "LATEST", 3)
    monkeypatch.setattr(backups, "DAYS", 4)
    days = [DAY - timedelta(back) for back in range(79, -1, -2) for _ in range(2)]
    days[50] = date(2099, 1, 1)
    keep_many(recipe, days)
    found = backups.versions(recipe)
    assert [(v.number, v.day) for v in found] == thinned(days)
    assert len(found) == 3 + 4 + 3 + 1  # September to November, and 2099


def test_thinning_step_by_step_never_loses_a_month_for_any_order_of_labels():
    chance = random.Random(8)
    for _ in range(20):
        days: list[date] = []
        ever: set[tuple[int, int]] = set()
        day = DAY
        for _save in range(300):
            jump = chance.choice([0, 0, 0, 1, 1, 2, 40, -3, -500, 900])
            day = max(date(1980, 1, 1), min(date(2090, 1, 1), day + timedelta(jump)))
            days.append(day)
            ever.add((day.year, day.month))
            dropped = backups.to_drop(days)
            assert all(place < len(days) - backups.LATEST for place in dropped)
            days = [d for place, d in enumerate(days) if place not in dropped]
        assert {(d.year, d.month) for d in days} == ever
        older = Counter((d.year, d.month) for d in days[: -backups.LATEST - backups.DAYS])
        assert max(older.values()) == 1


def test_over_the_cap_the_largest_file_loses_its_oldest_and_three_stay(recipe, monkeypatch):
    monkeypatch.setattr(backups, "CAP_BYTES", 10_000)
    small = recipe.with_name("small.yaml")
    for number in range(5):
        backups.keep(small, b"s" * (100 + number), DAY)
    for number in range(20):
        backups.keep(recipe, bytes([number]) * 1000, DAY)
        assert backups.room_of(recipe).size <= 10_000
    assert len(backups.versions(small)) == 5
    found = backups.versions(recipe)
    assert [v.number for v in found] == list(range(20, 20 - len(found), -1))
    assert len(found) == 9
    monkeypatch.setattr(backups, "CAP_BYTES", 10)
    backups.keep(small, b"more", DAY)
    assert [len(backups.versions(p)) for p in (small, recipe)] == [3, 3]
    assert backups.room_of(small).versions == 6


def test_a_version_that_rotted_is_told_and_kept_anew(recipe):
    backups.keep(recipe, b"one", DAY)
    (version,) = backups.versions(recipe)
    os.chmod(version.path, 0o600)
    version.path.write_bytes(b"onf")
    with pytest.raises(InputError, match="not what was kept"):
        backups.read_version(version)
    backups.keep(recipe, b"one", DAY)
    assert backups.read_version(backups.versions(recipe)[0]) == b"one"


@pytest.mark.parametrize("code", FAULTS)
@pytest.mark.parametrize("call", WRITING)
@pytest.mark.parametrize("first", [True, False])
def test_a_keep_that_fails_leaves_nothing_half_done(recipe, monkeypatch, call, code, first):
    if not first:
        backups.keep(recipe, b"before", DAY)
    # The folder is made only once.
    refused = pytest.raises(OSError, match="on purpose")
    with monkeypatch.context() as patch:
        patch.setattr(disk, call, _failing(getattr(disk, call), code, call))
        with refused if first or call != "make_folder" else nullcontext():
            backups.keep(recipe, b"one", DAY)
    assert litter(recipe) == []
    assert set(kept(recipe)) <= {b"one", b"before"}
    backups.keep(recipe, b"one", DAY)
    assert kept(recipe) == ([b"one"] if first else [b"one", b"before"])


def test_short_writes_are_gone_on_with_and_none_at_all_is_a_fault(recipe, monkeypatch):
    write = disk.write
    monkeypatch.setattr(disk, "write", lambda handle, data: write(handle, data[:3]))
    backups.keep(recipe, b"ten or more bytes", DAY)
    assert kept(recipe) == [b"ten or more bytes"]
    monkeypatch.setattr(disk, "write", lambda *_: 0)
    with pytest.raises(OSError, match="Input/output"):
        backups.keep(recipe, b"two", DAY)
    assert litter(recipe) == []
    assert kept(recipe) == [b"ten or more bytes"]


@pytest.mark.parametrize("call", [c for c in WRITING if c != "make_folder"])
def test_a_keep_stopped_dead_is_complete_or_not_there_and_its_rest_goes_later(
    recipe, monkeypatch, call
):
    class Dead(BaseException):
        pass

    def stop(*_):
        raise Dead

    backups.keep(recipe, b"zero", DAY)
    with monkeypatch.context() as patch:
        patch.setattr(disk, call, stop)
        patch.setattr(disk, "remove", stop)
        with pytest.raises(Dead):
            backups.keep(recipe, b"one", DAY)
    assert kept(recipe) in ([b"zero"], [b"one", b"zero"])
    keep_many(recipe, [DAY] * 4)
    assert litter(recipe) == []
    assert kept(recipe)[:4] == [f"text {number}".encode() for number in (3, 2, 1, 0)]


def test_a_folder_that_cannot_be_flushed_at_all_is_no_fault(recipe, monkeypatch):
    monkeypatch.setattr(disk, "flush_folder", _failing(None, errno.EINVAL, "flush_folder"))
    backups.keep(recipe, b"one", DAY)
    assert kept(recipe) == [b"one"]


def test_an_old_version_that_cannot_be_taken_away_does_not_hinder_a_keep(recipe, monkeypatch):
    keep_many(recipe, [DAY] * 31)

    def refuse(*_):
        raise PermissionError(errno.EACCES, "on purpose")

    monkeypatch.setattr(disk, "remove", refuse)
    monkeypatch.setattr(disk, "set_mode", refuse)
    backups.keep(recipe, b"one more", DAY)
    assert kept(recipe)[0] == b"one more"
    assert len(backups.versions(recipe)) == 32


def test_what_cannot_be_read_among_the_versions_does_not_hinder_the_cap(recipe, monkeypatch):
    keep_many(recipe, [DAY] * 9)
    root = backups.root_of(recipe)
    (root / "gone").symlink_to(root / "nowhere")
    (root / "round").symlink_to(root / "round")
    monkeypatch.setattr(backups, "CAP_BYTES", 0)
    backups.keep(recipe, b"the tenth", DAY)
    assert len(backups.versions(recipe)) == backups.ALWAYS
    assert backups.room_of(recipe).versions == backups.ALWAYS


def test_a_file_that_was_made_though_the_disk_said_no_is_taken_away(recipe, monkeypatch):
    backups.keep(recipe, b"one", DAY)
    folder = backups.folder_of(recipe)
    create = disk.create

    def made_and_refused(path, mode=0o600):
        os.close(create(path, mode))
        raise OSError(errno.EIO, "on purpose")

    monkeypatch.setattr(disk, "create", made_and_refused)
    before = os.listdir(folder)
    with pytest.raises(OSError, match="on purpose"):
        backups.keep(recipe, b"two", DAY)
    assert os.listdir(folder) == before


def test_keeping_with_a_hundred_versions_asks_little_of_the_disk(recipe, monkeypatch):
    keep_many(recipe, [DAY - timedelta(31 * back) for back in range(105, 0, -1)])
    assert len(backups.versions(recipe)) >= 100
    asked: Counter[str] = Counter()
    for call in ("read", *WRITING, "remove"):
        monkeypatch.setattr(disk, call, _counted(getattr(disk, call), call, asked))
    backups.keep(recipe, b"one more", DAY)
    assert asked["flush"] == 1
    assert asked.total() <= 12


def test_setting_aside_never_writes_over_anything(recipe):
    for number in (1, 2, 3):
        recipe.write_text(f"broken {number}", "utf-8")
        aside = restoring.set_aside(recipe)
        assert aside.name == f"eider.yaml.damaged-{number}"
        assert not recipe.exists()
    folder = recipe.parent
    texts = [(folder / f"eider.yaml.damaged-{n}").read_text("utf-8") for n in (1, 2, 3)]
    assert texts == ["broken 1", "broken 2", "broken 3"]
    assert open_studio(folder.parent).recipe_paths() == []
    assert not any("damaged" in path.name for path in yaml_files(folder.parent))


@pytest.mark.parametrize("call", ["create", "replace"])
def test_setting_aside_that_fails_leaves_the_file_where_it_is(recipe, monkeypatch, call):
    monkeypatch.setattr(disk, call, _failing(getattr(disk, call), errno.EACCES, call))
    with pytest.raises(OSError, match="on purpose"):
        restoring.set_aside(recipe)
    assert os.listdir(recipe.parent) == ["eider.yaml"]
    assert recipe.read_text("utf-8") == "one"


def test_a_restore_keeps_what_stood_there_first(recipe):
    backups.keep(recipe, b"\xef\xbb\xbfold: 'bytes'\r\n", DAY)
    (version,) = backups.versions(recipe)
    restoring.restore(recipe, version)
    assert recipe.read_bytes() == b"\xef\xbb\xbfold: 'bytes'\r\n"
    old = b"\xef\xbb\xbfold: 'bytes'\r\n"
    assert kept(recipe) == [old, b"one", old]


def test_a_damaged_file_is_set_aside_and_the_newest_sound_version_takes_its_place(recipe):
    for data in (b"old: 1", b"sound: 2", b"broken: ["):
        backups.keep(recipe, data, DAY)
    recipe.write_bytes(b"broken: {")
    version = restoring.newest_sound(recipe, _read)
    assert version is not None
    assert version.number == 2
    aside = restoring.restore_damaged(recipe, version, stamp_of(b"broken: {"))
    assert recipe.read_bytes() == b"sound: 2"
    assert aside.read_bytes() == b"broken: {"


def test_a_version_takes_the_place_of_a_damaged_file_byte_for_byte(recipe):
    odd = b"\xef\xbb\xbfold: 'bytes'\r\n# so\r\n"
    backups.keep(recipe, odd, DAY)
    recipe.write_bytes(b"\xff\xfe")
    restoring.restore_damaged(recipe, backups.versions(recipe)[0], stamp_of(b"\xff\xfe"))
    assert recipe.read_bytes() == odd
    assert kept(recipe) == [odd]


@pytest.mark.parametrize("now", [b"mended: 3", None])
def test_a_damaged_file_that_was_mended_meanwhile_is_left_alone(recipe, now):
    backups.keep(recipe, b"sound: 2", DAY)
    if now is None:
        recipe.unlink()
    else:
        recipe.write_bytes(now)
    with pytest.raises(ChangedOutside) as fault:
        restoring.restore_damaged(recipe, backups.versions(recipe)[0], stamp_of(b"broken: {"))
    assert fault.value.data == now
    assert os.listdir(recipe.parent) == ([] if now is None else ["eider.yaml"])


def test_a_file_that_a_broken_disk_keeps_is_set_aside_unread(recipe, monkeypatch):
    backups.keep(recipe, b"sound: 2", DAY)
    read = disk.read

    def broken(path):
        if path == recipe and path.stat().st_ino == bad:
            raise OSError(errno.EIO, "on purpose")
        return read(path)

    bad = recipe.stat().st_ino
    monkeypatch.setattr(disk, "read", broken)
    aside = restoring.restore_damaged(recipe, backups.versions(recipe)[0], None)
    assert recipe.read_bytes() == b"sound: 2"
    assert aside.stat().st_ino == bad


def test_who_puts_a_file_there_while_a_damaged_one_is_moved_is_not_written_over(
    recipe, monkeypatch
):
    backups.keep(recipe, b"sound: 2", DAY)
    recipe.write_bytes(b"broken: {")
    move = restoring.set_aside

    def quick(path):
        aside = move(path)
        path.write_bytes(b"theirs: 3")
        return aside

    monkeypatch.setattr(restoring, "set_aside", quick)
    with pytest.raises(ChangedOutside):
        restoring.restore_damaged(recipe, backups.versions(recipe)[0], stamp_of(b"broken: {"))
    assert recipe.read_bytes() == b"theirs: 3"
    assert (recipe.parent / "eider.yaml.damaged-1").read_bytes() == b"broken: {"


def test_a_restore_that_fails_puts_the_damaged_file_back(recipe, monkeypatch):
    backups.keep(recipe, b"sound: 2", DAY)
    recipe.write_bytes(b"broken: {")

    def refuse(*_):
        raise OSError(errno.ENOSPC, "on purpose")

    monkeypatch.setattr(restoring, "save", refuse)
    with pytest.raises(OSError, match="on purpose"):
        restoring.restore_damaged(recipe, backups.versions(recipe)[0], stamp_of_file(recipe))
    assert recipe.read_bytes() == b"broken: {"
    assert os.listdir(recipe.parent) == ["eider.yaml"]


def test_without_a_sound_version_there_is_none_to_offer(recipe):
    assert restoring.newest_sound(recipe, _read) is None
    backups.keep(recipe, b"broken: [", DAY)
    assert restoring.newest_sound(recipe, _read) is None


def _read(path):
    try:
        return yaml.safe_load(path.read_bytes())
    except yaml.YAMLError as fault:
        raise InputError("is not sound", "mend it") from fault


def _failing(call, code, name):
    def fail(*arguments):
        if name == "close":
            call(*arguments)
        raise OSError(code, "on purpose")

    return fail


def _counted(call, name, asked):
    def count(*arguments):
        asked[name] += 1
        return call(*arguments)

    return count


def test_versions_are_found_while_the_file_of_their_studio_is_gone(recipe):
    studio = recipe.parent.parent
    backups.keep(recipe, b"zero", DAY)
    backups.keep(studio / "studio.yaml", b"studio", DAY)
    (studio / "studio.yaml").unlink()
    (kept,) = backups.versions(recipe)
    assert backups.read_version(kept) == b"zero"
    assert backups.is_backup(kept.path)
    assert backups.root_of(recipe) == backups.root_of(kept.path) == studio / "backups"
    (own,) = backups.versions(studio / "studio.yaml")
    assert backups.read_version(own) == b"studio"
    backups.keep(recipe, b"one", DAY)
    assert [v.number for v in backups.versions(recipe)] == [2, 1]


def test_a_folder_that_is_called_backups_makes_no_studio(tmp_path):
    path = tmp_path / "backups" / "recipes" / "eider.yaml"
    path.parent.mkdir(parents=True)
    (tmp_path / "backups" / "eider").mkdir()
    assert not backups.is_backup(path)
    assert backups.root_of(path) == Path(os.path.realpath(backups.state.state_folder())) / "backups"
    assert backups.root_of(tmp_path / "eider.yaml") == backups.root_of(path)
