"""A session of the window in which every call out of the process is written down.

``python tests/app/quiet_session.py STUDIO FOLDER`` works in a copy of the demo studio as a potter
does, and prints as JSON what was done, which events Python's own audit saw, and the Qt libraries
that were mapped into the process.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

OUTSIDE = (
    *("socket.", "subprocess.", "os.exec", "os.posix_spawn", "os.spawn", "os.system", "os.fork"),
    *("os.startfile", "pty.spawn", "urllib.", "http.client.", "ftplib.", "smtplib.", "imaplib."),
    *("poplib.", "nntplib.", "telnetlib.", "webbrowser.", "winreg.Connect", "pdb."),
)
"""Beginnings of audit events by which a process is left."""
seen: list[str] = []


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if event.startswith(OUTSIDE):
        seen.append(f"{event} {arguments!r}"[:200])


sys.addaudithook(_hook)


def _session(studio: Path, folder: Path) -> list[str]:
    """Do what a potter does in a day; return what was done."""
    from PySide6.QtCore import QEventLoop, QSettings, Qt, QTimer
    from PySide6.QtTest import QTest

    from app.card import CardRequest
    from app.card_pdf import write_pdf
    from app.main_window import MainWindow
    from app.run_pdf import write_run_pdf
    from app.settings import Settings
    from app.start import bring_up, warm_up
    from core.files.content import stamp_of_file
    from core.firing import Segment
    from core.recipe import Section
    from core.tiles.run_file import read_run, save_run

    done = []
    store = QSettings(str(folder / "settings.ini"), QSettings.Format.IniFormat)
    application, window = bring_up(studio, "light", Settings(store))
    assert isinstance(window, MainWindow)
    sys.excepthook = sys.__excepthook__  # nobody would answer a box
    document = window.document

    def settle() -> None:
        for _ in range(20):
            application.processEvents()

    settle()
    done.append("studio")
    for path in document.studio.recipe_paths():
        assert window.files.open(path)
        settle()
        done.append(f"recipe {path.stem}")
    warm_up(application)
    table = window.recipe_view.base
    table.setCurrentIndex(table.rows_model.index(0, 1))
    table.setFocus()
    before = document.recipe
    QTest.keyClicks(table, "+")
    settle()
    assert document.recipe != before
    done.append("typed")
    firing = document.studio.firings["slow-satin"]
    last = len(firing.segments) - 1
    document.edit_firing("cool", firing.with_segment(last, Segment(natural_cooling=140.0)))
    settle()
    path = document.path
    assert path is not None
    assert "slow-satin" in document.studio.firing_paths
    old = path.read_bytes()
    assert window.files.save()
    assert path.read_bytes() != old
    assert 'natural_cooling: "140"' in document.studio.firing_paths["slow-satin"].read_text("utf-8")
    done.append("saved recipe and firing")
    window.tile_actions.show_tiles()
    tiles = window.tile_actions.tiles_window
    assert tiles is not None
    reading = QEventLoop()
    tiles.tiles_shown.connect(reading.quit)
    QTimer.singleShot(60_000, reading.quit)
    reading.exec()
    assert tiles.wall.model().rowCount() > 0
    done.append("tiles")
    (run_path,) = document.studio.run_paths()
    run = read_run(run_path)
    save_run(run_path, run, stamp_of_file(run_path))
    write_run_pdf(run, document.studio, folder / "run.pdf", "A4")
    done.append("run printed")
    request = CardRequest(
        evaluation=document.evaluation,
        variant="",
        batch_grams=1000.0,
        readout_g=0.1,
        day="2031-02-09",
    )
    write_pdf(folder / "card.pdf", request, "A5")
    assert (folder / "card.pdf").read_bytes().startswith(b"%PDF")
    done.append("card printed")
    table.selectAll()
    window.row_actions.copy()
    window.row_actions.paste()
    assert len(document.recipe.rows(Section.BASE)) > 5
    done.append("copied and pasted")
    document.undo_stack.setClean()
    QTest.keyClick(window, Qt.Key.Key_Escape)
    window.close()
    settle()
    return done


def _qt_libraries() -> list[str]:
    """Names of the Qt libraries in this process; none where the system does not tell."""
    maps = Path("/proc/self/maps")
    lines = maps.read_text(encoding="utf-8").splitlines() if maps.exists() else []
    paths = {line.split(maxsplit=5)[5] for line in lines if len(line.split(maxsplit=5)) == 6}
    return sorted(Path(path).name for path in paths if "Qt6" in path or "/Qt" in path)


if __name__ == "__main__":
    done = _session(Path(sys.argv[1]), Path(sys.argv[2]))
    print(json.dumps({"done": done, "seen": seen, "libraries": _qt_libraries()}))
