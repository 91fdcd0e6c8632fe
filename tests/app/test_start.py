import subprocess
import sys

import pytest

from app.start import _PACKAGES, demo_studio, qt_fault
from core.errors import InputError


@pytest.mark.parametrize(
    ("loader", "package"),
    [
        ("libEGL.so.1: cannot open shared object file: No such file or directory", "libegl1"),
        (
            "/x/libQt6XcbQpa.so.6: libxcb-cursor.so.0: cannot open shared object file",
            "libxcb-cursor0",
        ),
        ("libxkbcommon-x11.so.0: cannot open shared object file", "libxkbcommon-x11-0"),
    ],
)
def test_a_missing_library_is_named_with_its_package(loader, package):
    fault = qt_fault(loader)
    assert isinstance(fault, InputError)
    assert f"apt-get install {package}" in str(fault)
    assert "\n" not in str(fault)


def test_an_unknown_library_still_ends_in_one_sentence():
    assert "README" in str(qt_fault("libwhatever.so.9: cannot open"))


def test_the_packages_are_those_that_the_readme_names(request):
    readme = (request.config.rootpath / "README.md").read_text(encoding="utf-8")
    for package in set(_PACKAGES.values()) - {"libglib2.0-0", "libxkbcommon0"}:
        assert package in readme, package


def test_the_demo_is_a_copy_that_is_made_once(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *_, **__: str(tmp_path / "glost"))
    studio = demo_studio()
    assert (studio / "studio.yaml").is_file()
    mine = studio / "recipes" / "eider.yaml"
    mine.write_text("mine", encoding="utf-8")
    assert demo_studio() == studio
    assert mine.read_text(encoding="utf-8") == "mine"


def test_the_window_opens_without_the_tiles_and_what_reads_every_kind_of_file():
    late = ("core.tiles", "core.blend", "core.damage", "scipy")
    script = (
        f"import sys, app.main_window; print([m for m in sys.modules if m.startswith({late!r})])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_a_demo_without_its_studio_file_keeps_what_was_saved_in_it(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *_, **__: str(tmp_path / "glost"))
    studio = demo_studio()
    files = {path.relative_to(studio) for path in studio.rglob("*") if path.is_file()}
    mine = studio / "recipes" / "eider.yaml"
    mine.write_text("saved with care", encoding="utf-8")
    (studio / "studio.yaml").unlink()
    (studio / "recipes" / "lamplight.yaml").unlink()
    demo_studio()
    assert mine.read_text(encoding="utf-8") == "saved with care"
    assert {path.relative_to(studio) for path in studio.rglob("*") if path.is_file()} == files
