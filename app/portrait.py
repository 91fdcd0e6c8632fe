"""Makes the README's picture of the bench: the demo studio, painted without a screen."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path


def main(out: Path) -> int:
    """Write the picture; returns the exit code."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import QSettings
    from PySide6.QtWidgets import QApplication

    from app.main_window import MainWindow
    from app.settings import Settings
    from app.theme import Theme
    from core.tables import data_folder

    application = QApplication(["glost"])
    with tempfile.TemporaryDirectory() as folder:
        store = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = MainWindow(Settings(store), Theme("light"))
        window.resize(1440, 860)
        window.show()
        # The docks and their tabs find their places in events of their own.
        for _ in range(5):
            application.processEvents()
        window.document.open(data_folder() / "demo-studio" / "recipes" / "eider.yaml")
        window.recipe_view.base.go_to(1)
        # A short walk, so that the picture has a trail.
        for steps in (1, 1, 1):
            window.recipe_view.nudge_selected(steps)
        application.processEvents()
        window.map_view.settle()
        window.reading_panel.settle()
        done = window.grab().save(str(out))
        window.document.undo_stack.setClean()
        window.close()
    return 0 if done else 1


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("icons/bench.png")))
