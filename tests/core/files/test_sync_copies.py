import shutil

import pytest

from core.check import check_file, yaml_files
from core.files.sync_copies import conflict_copies, original_name, original_of, without_copies
from core.studio import open_studio
from core.tables import data_folder
from core.tiles.machine import held_letters, take_codes


@pytest.fixture
def folder(tmp_path):
    target = tmp_path / "studio"
    shutil.copytree(data_folder() / "demo-studio", target)
    return target


# The forms are common practice of sync programs; written from memory, no source.
@pytest.mark.parametrize(
    "name",
    [
        "eider (conflicted copy 2026-11-28).yaml",
        "eider (conflicted copy 2026-11-28 101112).yaml",
        "eider (wheelhouse's conflicted copy 2026-11-28).yaml",
        "eider (Ana Pott's conflicted copy).yaml",
        "eider (wheelhouse's conflicted copy 2026-11-28 (1)).yaml",
        "eider (wheelhouse's conflicted copy 2026-11-28) (1).yaml",
        "eider (Case Conflict).yaml",
        "eider (Case Conflict 1).yaml",
        "eider (in Konflikt stehende Kopie von werkstatt 2026-11-28).yaml",
        "eider (Copie en conflit de atelier 2026-11-28).yaml",
        "eider (Copia en conflicto de taller 2026-11-28).yaml",
        "eider.sync-conflict-20261128-101112-ABCDEFG.yaml",
        "eider.sync-conflict-20261128-101112.yaml",
        "eider_conflict-20261128-101112.yaml",
        "eider.sync-conflict-20261128-101112-AB.sync-conflict-20261129-101112-AB.yaml",
    ],
)
def test_the_names_that_sync_programs_give_are_known(name):
    assert original_name(name) == "eider.yaml"


@pytest.mark.parametrize(
    "name",
    [
        "eider.yaml",
        "eider 2.yaml",
        "eider-2.yaml",
        "eider (1).yaml",
        "eider (2026-11-28).yaml",
        "eider copy.yaml",
        "eider (copy).yaml",
        "eider-wheelhouse.yaml",
        "eider (conflict).yaml",
        "conflict.yaml",
        "conflict of colours (2026-11-28).yaml",
        "eider (a conflict of iron and rutile).yaml",
        "conflict-blue.yaml",
        "sync-conflict.yaml",
        "eider-conflict-2026.yaml",
        "eider (conflicted copy 2026-11-28) thinner.yaml",
        "(conflicted copy 2026-11-28).yaml",
        "eider (conflicted copy 2026-11-28).txt",
    ],
)
def test_a_name_that_a_potter_might_choose_is_never_taken_for_one(name):
    assert original_name(name) is None


def test_a_number_in_brackets_counts_only_beside_its_twin_of_the_same_name(folder):
    recipes = folder / "recipes"
    twin = recipes / "eider (1).yaml"
    shutil.copy(recipes / "eider.yaml", twin)
    assert original_of(twin) == recipes / "eider.yaml"
    # Another name inside: the potter went on from a copy.
    text = twin.read_text(encoding="utf-8").replace('name: "Eider"', 'name: "Eider, thinner"')
    twin.write_text(text, encoding="utf-8")
    assert original_of(twin) is None
    assert twin in open_studio(folder).recipe_paths()
    alone = recipes / "puffin (1).yaml"
    shutil.copy(recipes / "eider.yaml", alone)
    assert original_of(alone) is None
    broken = recipes / "eider (2).yaml"
    broken.write_text("glost: [", encoding="utf-8")
    assert original_of(broken) is None


def test_a_studio_never_loads_them_and_finds_them_all(folder):
    before = open_studio(folder)
    recipes, runs = before.recipe_paths(), before.run_paths()
    firing = next((folder / "firings").glob("*.yaml"))
    copies = []
    for path in (recipes[0], runs[0], firing, folder / "materials.yaml"):
        if not path.exists():
            shutil.copy(data_folder() / path.name, path)
        copy = path.with_name(f"{path.stem} (conflicted copy 2026-11-28).yaml")
        shutil.copy(path, copy)
        copies.append(copy)
    after = open_studio(folder)
    assert after.recipe_paths() == recipes
    assert after.run_paths() == runs
    assert after.faults == ()
    assert after.firings == before.firings
    assert sorted(conflict_copies(folder)) == sorted(copies)
    assert without_copies(copies) == []


def test_a_copy_of_a_machines_letter_does_not_make_the_machine_take_another(folder, tmp_path):
    state = tmp_path / "state"
    first = take_codes(state, folder, 2)
    (mine,) = [held for held in held_letters(folder) if held.letter == first[0][0]]
    path = folder / "machines" / f"{mine.letter}.yaml"
    shutil.copy(path, path.with_name(f"{path.stem}.sync-conflict-20261128-101112-ABCDEFG.yaml"))
    after = take_codes(state, folder, 2)
    assert after[0][0] == first[0][0]
    assert not set(after) & set(first)


def test_check_names_them_as_something_to_look_at(folder):
    path = folder / "recipes" / "eider (conflicted copy 2026-11-28).yaml"
    shutil.copy(folder / "recipes" / "eider.yaml", path)
    assert path in yaml_files(folder)
    assert any("conflict copy of eider.yaml" in odd for odd in check_file(path))
    assert not any("conflict copy" in o for o in check_file(folder / "recipes" / "eider.yaml"))
