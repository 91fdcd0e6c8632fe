import shutil
from pathlib import Path

import platformdirs
import pytest
from PySide6.QtCore import QSettings

from app.bench_state import BenchState
from app.document import Document
from app.main_window import MainWindow
from app.settings import Settings
from app.theme import Theme
from core.tables import data_folder


@pytest.fixture(autouse=True)
def caches(tmp_path, monkeypatch) -> Path:
    """Nothing is kept in the cache folder of whoever runs the tests."""
    folder = tmp_path / "caches"
    monkeypatch.setattr(platformdirs, "user_cache_dir", lambda *_, **__: str(folder))
    return folder


@pytest.fixture
def document(qapp, fixture_recipe):
    document = Document()
    document.edit("begin", fixture_recipe)
    document.undo_stack.clear()
    return document


@pytest.fixture
def state(qapp):
    return BenchState()


@pytest.fixture
def theme(qapp):
    return Theme("light")


@pytest.fixture
def settings(tmp_path):
    return Settings(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))


@pytest.fixture
def studio_folder(tmp_path) -> Path:
    target = tmp_path / "studio"
    shutil.copytree(data_folder() / "demo-studio", target)
    return target


def _put_away(window):
    """Finish what is being typed and call it saved, so that closing asks nothing."""
    focus = window.focusWidget()
    if focus is not None:
        focus.clearFocus()
    window.document.undo_stack.setClean()


@pytest.fixture
def window(qtbot, settings, theme, fixture_recipe):
    window = MainWindow(settings, theme)
    qtbot.addWidget(window, before_close_func=_put_away)
    window.document.edit("begin", fixture_recipe)
    window.document.undo_stack.clear()
    window.show()
    qtbot.waitExposed(window)
    return window
