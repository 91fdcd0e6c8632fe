"""The kept index never says anything else than the files do, whatever becomes of it."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import sys
import threading
from contextlib import closing
from dataclasses import replace

import pytest

from core.blend.plan import line_blend
from core.files import studio_index
from core.files.studio_index import database_of
from core.recipe import Ingredient, Recipe, Variant
from core.recipe_file import save_recipe
from core.recipe_library import open_recipes
from core.studio import begin_studio, open_studio
from core.tiles.codes import code_of
from core.tiles.library import open_library
from core.tiles.run import run_of
from core.tiles.run_file import save_run

MATERIALS = ("potash-feldspar", "talc", "whiting", "kaolin", "silica", "not-on-any-shelf")
WORDS = ("satin", "rim", "Émail", "thick", "kiln", "=cmd", "2,5", "漢字", '"', "*", "NEAR(")
TEXTS = ("", "talc", "satin ri", "glaze kiln", "zzz", "email")


def a_recipe(chance: random.Random, name: str) -> Recipe:
    base = tuple(
        Ingredient(m, float(chance.randint(1, 60)))
        for m in chance.sample(MATERIALS, chance.randint(0, 5))
    )
    variants = tuple(
        Variant(chr(65 + i), " ".join(chance.sample(WORDS, 2)), base, ())
        for i in range(chance.randint(0, 3))
    )
    notes = " ".join(chance.choices(WORDS, k=chance.randint(0, 30)))
    return Recipe(name, "cone-10-medium", "stoneware", base, variants=variants, notes=notes)


def save(folder, chance, number):
    path = folder / "recipes" / f"file-{number}.yaml"
    save_recipe(path, a_recipe(chance, f"Glaze {chance.randint(1, 99)} of {number}"), None)


def make_studio(folder, fixture_recipe, many=8, seed=1):
    folder.mkdir()
    begin_studio(folder, "Invented")
    chance = random.Random(seed)
    for number in range(many):
        save(folder, chance, number)
    (folder / "recipes" / "spoilt.yaml").write_text("kind: nonsense", encoding="utf-8")
    studio = open_studio(folder)
    other = replace(fixture_recipe, base=(*fixture_recipe.base[:4], Ingredient("silica", 40.0)))
    plan = line_blend(fixture_recipe, other, 3, studio)
    for number in range(2):
        codes = [code_of("K", 3 * number + tile) for tile in range(3)]
        run = run_of(plan, codes, f"Run {number}", "2031-02-01", studio)
        save_run(folder / "runs" / f"run-{number}.yaml", run, None)
    return folder


@pytest.fixture
def folder(tmp_path, fixture_recipe):
    return make_studio(tmp_path / "studio", fixture_recipe)


@pytest.fixture
def cache(tmp_path):
    return tmp_path / "caches"


@pytest.fixture
def settled(monkeypatch):
    """Files that were just written count as long there."""
    monkeypatch.setattr(studio_index, "_SETTLED_NS", 0)


def answers(folder, cache):
    """All that the index is asked, and how many files had to be read for it."""
    studio = open_studio(folder)
    recipes, tiles = open_recipes(studio, cache), open_library(studio, cache)
    said = (
        [(r.path, r.name, r.entry, str(r.fault)) for r in recipes.search.recipes],
        [[r.path.name for r in recipes.search.find(text)] for text in TEXTS],
        tiles.index.entries,
        [str(fault) for fault in tiles.faults],
    )
    return said, recipes.read_anew + tiles.read_anew


def test_a_kept_index_says_what_the_files_say_and_reads_none_of_them(folder, cache):
    fresh, _ = answers(folder, None)
    assert len(fresh[0]) == 9
    assert len(fresh[2]) == 6
    assert answers(folder, cache) == (fresh, 11)
    assert answers(folder, cache) == (fresh, 0)
    assert [fault for *_, fault in fresh[0] if fault != "None"] == [
        f"{folder / 'recipes' / 'spoilt.yaml'}, line 1: is not a Glost file; "
        'the first line should be: glost: "1"'
    ]


@pytest.mark.parametrize("seed", range(6))
def test_after_any_changes_it_says_what_a_fresh_reading_says(folder, cache, seed):
    chance = random.Random(seed)
    recipes = folder / "recipes"
    for _ in range(12):
        paths = sorted(recipes.glob("*.yaml"))
        one, two = chance.choice(paths), chance.choice(paths)
        match chance.randrange(7):
            case 0:
                save(folder, chance, chance.randint(0, 20))
            case 1 if len(paths) > 2:
                one.unlink()
            case 2:
                one.write_bytes(one.read_bytes()[: chance.randint(0, 200)])
            case 3:
                os.utime(one, ns=(0, chance.randint(-(10**15), 10**18)))
            case 4 if one != two:
                kept = one.read_bytes()
                os.replace(two, one)
                two.write_bytes(kept)
            case 5:
                shutil.copy2(one, two.with_name("copied.yaml"))
            case _:
                data = bytearray(one.read_bytes() or b"x")
                data[chance.randrange(len(data))] = chance.randrange(256)
                one.write_bytes(data)
        assert answers(folder, cache)[0] == answers(folder, None)[0]


def test_a_file_that_looks_as_before_is_not_read(folder, cache, settled, monkeypatch):
    fresh, _ = answers(folder, cache)

    monkeypatch.setattr(studio_index, "_bytes", lambda path: pytest.fail(f"{path} was read"))
    assert answers(folder, cache)[0] == fresh


def test_new_bytes_under_the_old_size_and_time_are_noticed(folder, cache, settled):
    path = folder / "recipes" / "file-1.yaml"
    answers(folder, cache)
    before = path.stat()
    beside = path.with_name("beside")
    beside.write_bytes(path.read_bytes().replace(b"Glaze", b"Gloss"))
    os.utime(beside, ns=(before.st_atime_ns, before.st_mtime_ns))
    os.replace(beside, path)
    now = path.stat()
    assert (now.st_size, now.st_mtime_ns) == (before.st_size, before.st_mtime_ns)
    assert answers(folder, cache)[0] == answers(folder, None)[0]


def test_a_file_just_written_is_compared_by_its_bytes(folder, cache, monkeypatch):
    path = folder / "recipes" / "file-1.yaml"
    answers(folder, cache)
    path.write_bytes(path.read_bytes().replace(b"Glaze", b"Gloss"))
    # As if the disk's clock had not moved on between the two: the file looks as it did.
    assert answers(folder, cache)[0] == answers(folder, None)[0]
    assert studio_index._looks(path) == ""


@pytest.mark.parametrize("now", [0, 10**9, 4 * 10**18])
def test_a_wrong_clock_changes_no_answer(folder, cache, monkeypatch, now):
    monkeypatch.setattr(studio_index.time, "time_ns", lambda: now)
    for number in range(3):
        path = folder / "recipes" / f"file-{number}.yaml"
        path.write_bytes(path.read_bytes().replace(b"Glaze", b"Gloss"))
        assert answers(folder, cache)[0] == answers(folder, None)[0]


def test_a_touched_file_is_compared_and_not_read_again(folder, cache, settled):
    answers(folder, cache)
    os.utime(folder / "recipes" / "file-1.yaml", ns=(5, 5))
    assert answers(folder, cache)[1] == 0


def test_another_table_of_materials_makes_other_records(folder, cache):
    answers(folder, cache)
    (folder / "materials.yaml").write_text(
        'glost: "1"\nkind: materials\nmaterials:\n'
        '- {id: "talc", name: "Hill talc", formula: "3MgO.4SiO2.H2O"}\n',
        encoding="utf-8",
    )
    assert answers(folder, cache)[0] == answers(folder, None)[0]
    found = open_recipes(open_studio(folder), cache).search.find("hill")
    assert found == open_recipes(open_studio(folder), cache).search.find("talc")


@pytest.mark.parametrize("kept", [True, False])
def test_files_left_waiting_are_listed_and_follow(folder, cache, kept):
    for number in range(4):  # those that cannot be read hold nobody up
        (folder / "recipes" / f"a{number}.yaml").write_text("kind: nonsense", encoding="utf-8")
        (folder / "recipes" / f"b{number}.yaml").mkdir()
    studio = open_studio(folder)
    waiting, names, known = [], [], None
    while not waiting or waiting[-1]:
        library = open_recipes(studio, cache if kept else None, 3, known)
        known = library.known
        waiting.append(library.waiting)
        names.append([r.name for r in library.search.recipes])
        assert len(waiting) < 9
    assert waiting[0] > waiting[1] > waiting[2] > 0 == waiting[-1]
    assert {len(n) for n in names} == {17}
    assert "file 7" in names[0]
    assert "file 7" not in names[-1]
    assert names[-1] == [r.name for r in open_recipes(studio).search.recipes]


def spoilings(data):
    """Truncated at random, and random bytes at random places."""
    chance = random.Random(7)
    for _ in range(30):
        yield data[: chance.randrange(len(data))]
    for _ in range(30):
        spoilt = bytearray(data)
        for _ in range(chance.choice((1, 3, 50, 2000))):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
        yield bytes(spoilt)
    for _ in range(15):
        start = chance.randrange(len(data))
        many = chance.randint(1, 5000)
        yield data[:start] + chance.randbytes(many) + data[start + many :]
    yield b"a text that somebody wrote\n" * 100
    yield chance.randbytes(len(data))
    yield b"SQLite format 3\0" + bytes(200)


def test_a_damaged_database_changes_no_answer_and_is_made_anew(tmp_path, fixture_recipe, cache):
    folder = make_studio(tmp_path / "small", fixture_recipe, many=3)
    fresh, _ = answers(folder, cache)
    database = database_of(cache, folder)
    sound = database.read_bytes()
    for spoilt in spoilings(sound):
        database.write_bytes(spoilt)
        assert answers(folder, cache)[0] == fresh
        # Damage that only a write meets takes with it what was found sound before.
        assert answers(folder, cache)[0] == fresh
        assert answers(folder, cache) == (fresh, 0)


def test_a_journal_left_by_a_crash_changes_no_answer(folder, cache):
    fresh, _ = answers(folder, cache)
    database = database_of(cache, folder)
    chance = random.Random(3)
    for head in (b"", bytes.fromhex("d9d505f920a163d7")):
        database.with_name(f"{database.name}-journal").write_bytes(head + chance.randbytes(3000))
        assert answers(folder, cache)[0] == fresh
        assert answers(folder, cache) == (fresh, 0)


@pytest.mark.parametrize(
    "sql",
    [
        "PRAGMA user_version = 99",
        "PRAGMA application_id = 1",
        "DROP TABLE files",
        "ALTER TABLE files DROP COLUMN seal",
        "UPDATE files SET said = x'00'",
        "UPDATE files SET name = 'file-2.yaml' WHERE name = CAST('file-1.yaml' AS BLOB)",
        "UPDATE files SET digest = NULL WHERE 0; CREATE VIEW more AS SELECT 1",
        "UPDATE files SET looks = 7, mark = 1.5, size = 'many'",
    ],
)
def test_a_database_of_another_format_or_hand_is_made_anew(folder, cache, sql):
    fresh, _ = answers(folder, cache)
    with closing(sqlite3.connect(database_of(cache, folder))) as connection:
        connection.executescript(sql)
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 0)


def test_somebody_elses_database_in_its_place_is_made_anew(folder, cache):
    cache.mkdir()
    with closing(sqlite3.connect(database_of(cache, folder))) as connection:
        connection.executescript(
            "CREATE TABLE addresses (name TEXT); INSERT INTO addresses VALUES (1)"
        )
    fresh, _ = answers(folder, None)
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 0)


def test_a_folder_in_its_place_changes_no_answer(folder, cache):
    fresh, _ = answers(folder, None)
    database = database_of(cache, folder)
    database.mkdir(parents=True)
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 0)
    # What lies in a folder may be somebody's; the index then does without.
    database.unlink()
    database.mkdir()
    (database / "mine").write_text("kept", encoding="utf-8")
    assert answers(folder, cache) == (fresh, 11)
    assert (database / "mine").read_text(encoding="utf-8") == "kept"


def test_a_locked_database_is_done_without_and_left_alone(folder, cache, monkeypatch):
    monkeypatch.setattr(studio_index, "_PATIENCE_S", 0.02)
    fresh, _ = answers(folder, cache)
    database = database_of(cache, folder)
    with closing(sqlite3.connect(database, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert answers(folder, cache) == (fresh, 11)
        other.execute("ROLLBACK")
    # One who only writes is met when the index wants to write.
    save(folder, random.Random(5), 30)
    fresh, _ = answers(folder, None)
    with closing(sqlite3.connect(database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert answers(folder, cache) == (fresh, 1)
        other.execute("ROLLBACK")
    assert answers(folder, cache) == (fresh, 1)
    assert answers(folder, cache) == (fresh, 0)


def test_a_database_that_goes_while_it_is_in_use_is_made_anew(folder, cache, monkeypatch):
    fresh, _ = answers(folder, cache)
    database_of(cache, folder).unlink()
    assert answers(folder, cache)[0] == fresh
    shutil.rmtree(cache)
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 0)
    # It is spoilt, or goes, between being read and being written.
    look = studio_index._kept
    for spoil in (
        lambda path: path.write_bytes(b"spoilt" * 99),
        lambda path: shutil.rmtree(path.parent),
    ):
        save(folder, random.Random(6), 31)
        with monkeypatch.context() as patch:

            def spoiling(path, room, spoil=spoil):
                kept = look(path, room)
                spoil(path)
                return kept

            patch.setattr(studio_index, "_kept", spoiling)
            fresh, _ = answers(folder, None)
            assert answers(folder, cache)[0] == fresh
        assert answers(folder, cache)[0] == fresh
        assert answers(folder, cache) == (fresh, 0)


def test_a_cache_folder_that_cannot_be_had_only_costs_time(folder, tmp_path):
    fresh, _ = answers(folder, None)
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert answers(folder, tmp_path / "file") == (fresh, 11)
    assert answers(folder, tmp_path / "file" / "below") == (fresh, 11)


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_a_full_disk_only_costs_time(folder, cache):
    import resource

    fresh, _ = answers(folder, None)
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, usual[1]))
    try:
        assert answers(folder, cache) == (fresh, 11)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 0)


def test_a_cache_folder_that_may_not_be_written_still_gives_what_it_holds(
    folder, cache, monkeypatch
):
    fresh, _ = answers(folder, cache)
    real = studio_index._connection

    def reading_only(database):
        connection = real(database)
        connection.execute("PRAGMA query_only = ON")
        return connection

    monkeypatch.setattr(studio_index, "_connection", reading_only)
    monkeypatch.setattr(studio_index, "_throw_away", lambda database: False)
    assert answers(folder, cache) == (fresh, 0)
    save(folder, random.Random(8), 30)
    fresh, _ = answers(folder, None)
    assert answers(folder, cache) == (fresh, 1)
    assert answers(folder, cache) == (fresh, 1)


def test_many_at_once_all_get_the_same_answers(folder, cache):
    fresh, _ = answers(folder, None)
    got = []
    threads = [
        threading.Thread(target=lambda: got.append(answers(folder, cache)[0])) for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [fresh] * 6
    assert answers(folder, cache)[0] == fresh


def test_each_studio_has_its_own_database(folder, cache, tmp_path):
    other = tmp_path / "other" / "studio"
    shutil.copytree(folder, other)
    assert database_of(cache, folder) != database_of(cache, other)
    assert database_of(cache, folder) == database_of(cache, folder / "recipes" / "..")
    (other / "recipes" / "file-1.yaml").unlink()
    assert answers(folder, cache)[0] != answers(other, cache)[0]
    assert answers(other, cache)[0] == answers(other, None)[0]
    assert len(list(cache.glob("*.sqlite3"))) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and raw names of POSIX")
def test_odd_things_among_the_recipes_are_told_and_stop_nothing(folder, cache):
    recipes = folder / "recipes"
    (recipes / "folder.yaml").mkdir()
    os.mkfifo(recipes / "pipe.yaml")
    (recipes / "nowhere.yaml").symlink_to(folder / "gone.yaml")
    (recipes / "long.yaml").write_bytes(b"#" * 8_000_001)
    shutil.copy(recipes / "file-1.yaml", os.fsencode(recipes) + b"/raw-\xff.yaml")
    fresh, _ = answers(folder, None)
    faults = {path.name for path, _, entry, _ in fresh[0] if entry is None}
    assert faults == {"spoilt.yaml", "folder.yaml", "pipe.yaml", "nowhere.yaml", "long.yaml"}
    assert len(fresh[0]) == 14
    assert answers(folder, cache)[0] == fresh
    assert answers(folder, cache) == (fresh, 4)
