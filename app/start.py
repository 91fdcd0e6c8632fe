"""Starting Qt: the demo studio, the window, and one sentence when Qt cannot start."""

from __future__ import annotations

import ctypes
import gc
import importlib
import importlib.util
import os
import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from core.errors import InputError
from core.tables import data_folder

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from app.main_window import MainWindow
    from app.settings import Settings

_WARM_UP_MS = 1500
"""The window is up and has been looked at for a moment."""
# Shared libraries that a bare Debian lacks, and the package that brings each.
_PACKAGES = {
    "libEGL": "libegl1",
    "libGL": "libgl1",
    "libxkbcommon-x11": "libxkbcommon-x11-0",
    "libxkbcommon": "libxkbcommon0",
    "libxcb-cursor": "libxcb-cursor0",
    "libxcb-icccm": "libxcb-icccm4",
    "libxcb-keysyms": "libxcb-keysyms1",
    "libxcb-image": "libxcb-image0",
    "libxcb-render-util": "libxcb-render-util0",
    "libxcb-shape": "libxcb-shape0",
    "libxcb-xkb": "libxcb-xkb1",
    "libdbus-1": "libdbus-1-3",
    "libfontconfig": "libfontconfig1",
    "libglib-2.0": "libglib2.0-0",
}
_WINDOW_PLUGINS = ("xcb", "")


def qt_fault(load_fault: str) -> InputError:
    """Turn a loader's message into a sentence that names the package.

    Examples
    --------
    >>> print(qt_fault("libEGL.so.1: cannot open shared object file"))
    the window system cannot start, libEGL is missing; on Debian: apt-get install libegl1
    """
    # "A: B: cannot open ..." names B as what is missing, and A as what wanted it.
    missing = re.search(r"(lib[\w.+-]+?)\.so[\w.]*: cannot open", load_fault)
    name = missing[1] if missing else ""
    package = _PACKAGES.get(name)
    if package is None:
        return InputError(
            f"the window system cannot start ({load_fault})",
            "see the README for the system libraries that Qt needs",
        )
    return InputError(
        f"the window system cannot start, {name} is missing",
        f"on Debian: apt-get install {package}",
    )


def require_qt(window: bool) -> None:
    """Make sure that Qt can start; it would end the process without a word.

    Raises
    ------
    InputError
        With the package to install, or that there is no screen.
    """
    try:
        from PySide6 import QtWidgets  # noqa: F401
    except ImportError as fault:
        raise qt_fault(str(fault)) from fault
    if not (window and sys.platform.startswith("linux")):
        return
    platform = os.environ.get("QT_QPA_PLATFORM", "").split(";")[0].split(":")[0]
    if platform not in _WINDOW_PLUGINS:
        return
    wayland = platform == "" and bool(os.environ.get("WAYLAND_DISPLAY"))
    if not wayland and not os.environ.get("DISPLAY"):
        raise InputError("there is no screen to open a window on", "start it on a desktop")
    if not wayland:
        _try_plugin("libqxcb.so")


def _try_plugin(name: str) -> None:
    found = importlib.util.find_spec("PySide6")
    if found is None or found.submodule_search_locations is None:
        return
    for folder in found.submodule_search_locations:
        plugin = Path(folder) / "Qt" / "plugins" / "platforms" / name
        if plugin.is_file():
            try:
                ctypes.CDLL(str(plugin))
            except OSError as fault:
                raise qt_fault(str(fault)) from fault


@contextmanager
def gui_application() -> Iterator[None]:
    """Give fonts and painting to a command that needs no screen."""
    require_qt(window=False)
    from PySide6.QtGui import QGuiApplication

    if QGuiApplication.instance() is not None:
        yield
        return
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    application = QGuiApplication(["glost"])
    try:
        yield
    finally:
        application.shutdown()


def demo_studio() -> Path:
    """Return the user's copy of the demo studio, making it at first use.

    What lies there already is never written over, even where the rest is missing.

    Raises
    ------
    OSError
        If the copy cannot be written.
    """
    from core.studio import STUDIO_FILE

    target = Path(platformdirs.user_data_dir("glost", appauthor=False)) / "demo-studio"
    if not (target / STUDIO_FILE).exists():
        _copy_what_lacks(data_folder() / "demo-studio", target, last=STUDIO_FILE)
    return target


def _copy_what_lacks(source: Path, target: Path, last: str) -> None:
    # With the studio's own file last, a copy that was broken off goes on at the next start.
    files = (path for path in source.rglob("*") if path.is_file())
    for path in sorted(files, key=lambda path: (path == source / last, path)):
        copy = target / path.relative_to(source)
        if not copy.exists():
            copy.parent.mkdir(parents=True, exist_ok=True)
            part = copy.with_name(f".{copy.name}.part")
            shutil.copyfile(path, part)
            os.replace(part, copy)


def open_window(path: Path | None, theme: str | None) -> int:
    """Open the bench on a recipe, a studio, or nothing; returns when it is closed.

    Raises
    ------
    InputError
        If Qt cannot start, or `path` does not exist.
    """
    if path is not None and not path.exists():
        raise InputError("does not exist", "name a recipe file or a studio folder", str(path))
    require_qt(window=True)
    from PySide6.QtCore import QTimer

    application, _window = bring_up(path, theme)
    QTimer.singleShot(_WARM_UP_MS, lambda: warm_up(application))
    return int(application.exec())


def bring_up(
    path: Path | None, theme: str | None, settings: Settings | None = None
) -> tuple[QApplication, MainWindow]:
    """Start Qt and show the window; Qt is known to be there."""
    # Nothing made while starting is garbage; looking for it takes a tenth of the time.
    gc.disable()
    from PySide6.QtWidgets import QApplication

    from app.icons import icon
    from app.main_window import MainWindow
    from app.problems import install_excepthook, tell
    from app.recovery import Recovery
    from app.settings import Settings
    from app.theme import Theme
    from core.files.journal import journal_folder

    application = QApplication(["glost"])
    application.setApplicationName("Glost")
    application.setDesktopFileName("glost")
    settings = settings or Settings()
    looks = Theme(theme or settings.theme)
    application.setWindowIcon(icon("glost", looks.palette, 64))
    window = MainWindow(settings, looks)
    recovery = Recovery(window.document, window.files, window.notices, journal_folder(), window)
    application.aboutToQuit.connect(recovery.put_away)

    def tell_unexpected(text: str) -> None:
        recovery.flush_now()
        tell(
            window,
            "Something went wrong",
            f"{text}\n\nYour recipe is still open: save it under a new name, then start again.",
        )

    install_excepthook(tell_unexpected)
    window.show()
    if path is not None:
        window.files.open(path)
    recovery.offer()
    spare_collector()
    return application, window


def warm_up(application: QApplication) -> None:
    """Load the solvers behind the bench, so that a first drag of the point does not wait."""
    from app.worker import run_in_background

    run_in_background(
        application,
        lambda: importlib.import_module("scipy.optimize"),
        lambda _module: None,
        lambda _fault: None,  # it comes again, and is told, where a solver is asked for
    )


def spare_collector() -> None:
    """Keep what lives as long as the window out of the garbage collector's rounds.

    A full round over it would take longer than a frame may.
    """
    from app.worker import collect_from_now_on

    gc.collect()
    gc.freeze()
    collect_from_now_on()
