"""A damaged file is told from one that is merely of another kind, elsewhere or forbidden."""

import errno
import shutil
from datetime import date
from pathlib import Path

import pytest

from core.damage import Damaged, damaged_file, newest_undamaged, read_alone
from core.errors import InputError
from core.files import backups
from core.files.content import stamp_of_file
from core.tables import data_folder

KINDS = {
    "studio.yaml": "studio",
    "materials.yaml": "materials",
    "recipes/eider.yaml": "recipe",
    "firings/*.yaml": "firing",
    "runs/*.yaml": "run",
}


@pytest.fixture
def studio_folder(tmp_path):
    target = tmp_path / "studio"
    shutil.copytree(data_folder() / "demo-studio", target)
    return target


def fault_of(path, kind):
    with pytest.raises(InputError) as caught:
        read_alone(path, kind)
    return caught.value


@pytest.mark.parametrize(("place", "kind"), KINDS.items())
def test_a_cut_file_of_each_kind_is_damaged_and_its_sound_version_found(studio_folder, place, kind):
    path = next(iter(sorted(studio_folder.glob(place))))
    sound = path.read_bytes()
    backups.keep(path, sound, date(2026, 11, 1))
    backups.keep(path, b"kind: [", date(2026, 11, 2))
    path.write_bytes(sound[: len(sound) * 2 // 3] + b'\n"')
    found = damaged_file(fault_of(path, kind), studio_folder / "recipes" / "eider.yaml")
    assert found == Damaged(path, kind, stamp_of_file(path))
    version = newest_undamaged(path, kind)
    assert version is not None
    assert version.number == 1


def test_sound_absent_and_foreign_files_are_not_damaged(studio_folder):
    eider = studio_folder / "recipes" / "eider.yaml"
    firing = next(iter(sorted((studio_folder / "firings").glob("*.yaml"))))
    odd = studio_folder / "recipes" / "odd.yaml"
    assert damaged_file(InputError("odd", "mend", str(eider)), eider) is None
    assert damaged_file(OSError("gone"), eider) is None
    for data in (firing.read_bytes(), b'glost: "9"\nkind: recipe\n', b"some: list\n"):
        odd.write_bytes(data)
        found = damaged_file(fault_of(odd, "recipe"), odd)
        assert (found is None) == (data != b"some: list\n")
    odd.unlink()
    assert damaged_file(fault_of(odd, "recipe"), odd) is None


@pytest.mark.parametrize(("code", "damaged"), [(errno.EACCES, False), (errno.EIO, True)])
def test_a_file_that_may_not_be_read_is_not_damaged_but_one_on_a_broken_disk_is(
    studio_folder, monkeypatch, code, damaged
):
    eider = studio_folder / "recipes" / "eider.yaml"

    def refuse(*_, **_more):
        raise OSError(code, "on purpose")

    monkeypatch.setattr(Path, "open", refuse)
    assert (damaged_file(fault_of(eider, "recipe"), eider) is not None) == damaged
