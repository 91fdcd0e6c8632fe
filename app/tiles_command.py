"""The command tiles: a run of test tiles on paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from core.studio import open_studio, studio_of
from core.tiles.run_file import read_run

_PAPERS = ("A4", "Letter")
_HELP = (
    "One PDF: weighing sheets, the blending chart, the tile codes in writing order, kiln "
    "placement, the result form, and labels (21 to a sheet of A4, 30 to one of Letter). Print it "
    "at 100 %; the ruler on the first page shows whether it is."
)


def add_tiles_command(commands: Any) -> None:
    """Add tiles to the commands."""
    tiles = commands.add_parser("tiles", help="write a run of tiles as PDF", description=_HELP)
    tiles.add_argument("file", type=Path, metavar="RUN")
    tiles.add_argument("--paper", default="A4", choices=_PAPERS)
    tiles.add_argument(
        "--labels-from",
        type=int,
        default=1,
        metavar="N",
        help="first label that is left on the sheet, row by row from 1",
    )
    tiles.add_argument("--studio", type=Path, metavar="DIR", help="studio that the run belongs to")
    tiles.add_argument("-o", "--output", required=True, type=Path, metavar="OUT.pdf")
    tiles.set_defaults(run=_tiles)


def _tiles(options: argparse.Namespace) -> int:
    run = read_run(options.file)
    studio = open_studio(options.studio or studio_of(options.file))
    from app.start import gui_application

    with gui_application():
        from app.run_pdf import write_run_pdf

        write_run_pdf(run, studio, options.output, options.paper, options.labels_from)
    return 0
