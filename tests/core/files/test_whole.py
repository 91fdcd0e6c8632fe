"""A file that ends in the middle of what was saved is no other recipe."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.damage import damaged_file, newest_undamaged
from core.errors import InputError
from core.files.restoring import restore_damaged
from core.files.whole import read_whole
from core.recipe_file import read_recipe, save_recipe
from core.studio import begin_studio, open_studio


@pytest.fixture
def path(tmp_path, fixture_recipe):
    begin_studio(tmp_path / "studio", "Invented")
    path = tmp_path / "studio" / "recipes" / "fixture.yaml"
    save_recipe(path, replace(fixture_recipe, notes="First."), None)
    save_recipe(path, replace(fixture_recipe, notes="Sieve twice.\nThin."), None)
    return path


def test_no_beginning_of_a_saved_recipe_reads_as_a_recipe(path):
    whole = path.read_bytes()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        with pytest.raises(InputError) as fault:
            read_whole(path)
        assert fault.value.source == str(path)
    path.write_bytes(whole)
    assert read_whole(path).stamp.size == len(whole)


def test_what_was_cut_is_damaged_and_what_was_saved_comes_back(path):
    whole = path.read_bytes()
    cut = whole[: whole.index(b"additions:")]
    path.write_bytes(cut)
    assert read_recipe(path).notes == ""  # sound by itself, which is the trap
    with pytest.raises(InputError, match="ends in the middle") as fault:
        read_whole(path)
    found = damaged_file(fault.value, path)
    assert found is not None
    assert found.kind == "recipe"
    version = newest_undamaged(path, "recipe")
    aside = restore_damaged(path, version, found.stamp)
    assert path.read_bytes() == whole
    assert aside.read_bytes() == cut
    assert read_whole(path)


def test_an_edit_by_hand_is_no_damage(path):
    whole = path.read_bytes()
    for edited in (
        whole[: whole.index(b"additions:")] + b"\n",
        whole.replace(b"Sieve", b"Mix"),
        whole + b"# more\n",
    ):
        path.write_bytes(edited)
        assert read_whole(path).stamp.size == len(edited)


def test_a_file_without_versions_is_taken_as_it_is(tmp_path, fixture_text):
    path = tmp_path / "loose.yaml"
    path.write_text(fixture_text, encoding="utf-8")
    assert read_whole(path)


def test_a_schedule_that_was_cut_is_left_out_and_told(path, fixture_recipe):
    from core.firing import shipped_firings, write_firing

    studio = path.parents[1]
    firing = replace(shipped_firings()["cone-6-slow-cool"], id="slow", name="Slow")
    file = studio / "firings" / "slow.yaml"
    write_firing(file, firing, None)
    whole = file.read_bytes()
    file.write_bytes(whole[: whole.rindex(b"- {")])
    read = open_studio(studio)
    assert "slow" not in read.firings
    assert any("ends in the middle" in str(fault) for fault in read.faults)
