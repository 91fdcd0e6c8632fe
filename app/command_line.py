"""The commands of a terminal. Only what needs Qt imports it."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, NoReturn

from app.solve_commands import add_solve_commands
from app.tiles_command import add_tiles_command
from core.batch import batch_of
from core.errors import InputError
from core.evaluate import Evaluation, evaluate
from core.firing import Firing, read_firing
from core.material_table import shipped_materials
from core.melt import expansion_sets
from core.melt.expansion import FITTED
from core.numbers import read_amount
from core.recipe import Recipe
from core.recipe_file import read_recipe
from core.studio import Studio, open_studio, studio_of
from core.variants import open_variant

DONE, WRONG_INPUT, WRONG_USE = 0, 1, 2
COMMANDS = ("read", "card", "aim", "swap", "tiles", "materials", "cone", "check", "demo")
_CONE_HELP = (
    "The cone comes from adding up heat work over the whole schedule, with constants from the "
    "published cone chart; holds and slow cooling count. By the rule of thumb an hour at the end "
    "is worth roughly a cone; by this sum, after 60 °C/h, an hour is worth what firing 23 to 29 °C "
    "hotter is: about one step of the series at cone 04, about two at cones 6 and 10. The figure "
    "leaves out the error of the pyrometer and the differences between shelves: witness cones "
    "tell those."
)
PAPERS = ("A4", "A5", "A6", "Letter", "4x6")


def run(arguments: Sequence[str]) -> int:
    """Run one command.

    Returns
    -------
    int
        0 done; 1 the input is wrong, one line on stderr says what; 2 wrong usage.
    """
    try:
        options = _parse(arguments)
        code = int(options.run(options))
        # What the disk or a closed pipe refuses shows only here.
        sys.stdout.flush()
        return code
    except InputError as fault:
        return _fail(str(fault))
    except BrokenPipeError:
        # The reader of a pipe has gone; so has the need to write.
        _drop_output()
        return DONE
    except OSError as fault:
        _drop_output()
        from core.files.fault_words import words_of_fault

        return _fail(words_of_fault(fault))


def _drop_output() -> None:
    """Let the end of the process not try again what could not be written."""
    with suppress(OSError, ValueError):  # no real stream, as in a test
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _fail(text: str) -> int:
    print(f"glost: {text}", file=sys.stderr)
    return WRONG_INPUT


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        print(f"glost: {message}; see glost --help", file=sys.stderr)
        sys.exit(WRONG_USE)


def _parse(arguments: Sequence[str]) -> argparse.Namespace:
    if not arguments or arguments[0] not in COMMANDS:
        return _window_parser().parse_args(arguments)
    parser = _Parser(prog="glost", description="A workbench for glaze chemistry.")
    commands = parser.add_subparsers(dest="command", required=True)

    read = commands.add_parser("read", help="print formula and reading of a recipe")
    _add_recipe(read)
    read.add_argument("--expansion", metavar="SET", help="fitted, or a published set of factors")
    read.add_argument("--json", action="store_true", help="print one JSON object")
    read.set_defaults(run=_read)

    card = commands.add_parser("card", help="write the card for the bucket as PDF")
    _add_recipe(card)
    card.add_argument("--batch", default="1000", metavar="GRAMS", help="dry base [g]")
    card.add_argument("--paper", default="A5", choices=PAPERS)
    card.add_argument("-o", "--output", required=True, type=Path, metavar="OUT.pdf")
    card.set_defaults(run=_card)

    add_solve_commands(commands, _add_recipe, _load)
    add_tiles_command(commands)

    materials = commands.add_parser("materials", help="list the materials")
    materials.add_argument("--studio", type=Path, help="studio folder to list from")
    materials.add_argument("--json", action="store_true", help="print a JSON list")
    materials.set_defaults(run=_materials)

    cone = commands.add_parser(
        "cone", help="print the cone that a schedule reaches", description=_CONE_HELP
    )
    cone.add_argument("schedule", metavar="SCHEDULE", help="id of a firing, or its file")
    cone.add_argument("--studio", type=Path, metavar="DIR", help="studio to look in")
    cone.add_argument("--json", action="store_true", help="print one JSON object")
    cone.set_defaults(run=_cone)

    check = commands.add_parser("check", help="check files; exit 0 when all are sound")
    check.add_argument("paths", nargs="+", type=Path, metavar="PATH")
    check.set_defaults(run=_check)

    demo = commands.add_parser("demo", help="open a copy of the demo studio")
    demo.add_argument("--theme", choices=("light", "dark", "system"))
    demo.set_defaults(run=_demo)
    return parser.parse_args(arguments)


def _window_parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="glost",
        description="A workbench for glaze chemistry. Without a command it opens the window.",
        epilog="commands: "
        + ", ".join(COMMANDS)
        + "; each has its own --help, such as glost read --help",
    )
    parser.add_argument("path", nargs="?", type=Path, metavar="STUDIO or RECIPE")
    parser.add_argument("--theme", choices=("light", "dark", "system"))
    parser.set_defaults(run=_window)
    return parser


def _add_recipe(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("recipe", type=Path, metavar="RECIPE")
    parser.add_argument("--variant", metavar="NAME")
    parser.add_argument("--firing", metavar="ID", help="read it in another firing")
    parser.add_argument("--body", metavar="ID", help="read it on another body")
    parser.add_argument("--studio", type=Path, metavar="DIR", help="studio to compute with")


def _load(options: argparse.Namespace) -> tuple[Recipe, Studio]:
    """Read the recipe named on the command line with its studio, firing and body."""
    recipe = read_recipe(options.recipe)
    folder = options.studio or studio_of(options.recipe)
    studio = open_studio(folder)
    if options.variant is not None:
        recipe = open_variant(recipe, options.variant)
    if options.firing is not None:
        if options.firing not in studio.firings:
            broken = "".join(f"; {fault}" for fault in studio.faults)
            raise InputError(
                f"there is no firing {options.firing!r}{broken}",
                f"use {', '.join(studio.firings)}",
            )
        recipe = replace(recipe, firing=options.firing)
    if options.body is not None:
        if options.body not in studio.bodies:
            raise InputError(
                f"there is no body {options.body!r}", f"use {', '.join(studio.bodies)}"
            )
        recipe = replace(recipe, body=options.body)
    return recipe, studio


def _evaluation(options: argparse.Namespace) -> Evaluation:
    return evaluate(*_load(options))


def _read(options: argparse.Namespace) -> int:
    from core.report import report
    from core.telling import report_text

    chosen = options.expansion or FITTED
    if chosen not in expansion_sets():
        raise InputError(
            f"there is no expansion set {chosen!r}", f"use {', '.join(expansion_sets())}"
        )
    evaluation = evaluate(*_load(options), expansion_set=chosen)
    if options.json:
        values = report(evaluation, options.variant)
        print(json.dumps(values, ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(report_text(evaluation, options.variant))
    return DONE


def _card(options: argparse.Namespace) -> int:
    evaluation = _evaluation(options)
    grams = read_amount(options.batch)
    readout = float(evaluation.studio.scale.readout_g)
    batch_of(evaluation.recipe, grams, readout)  # refuses what cannot be weighed
    from app.start import gui_application

    with gui_application():
        from app.card import CardRequest
        from app.card_pdf import write_pdf

        request = CardRequest(
            evaluation=evaluation,
            variant=options.variant or "",
            batch_grams=grams,
            readout_g=readout,
            day=date.today().isoformat(),
        )
        write_pdf(options.output, request, options.paper)
    return DONE


def _materials(options: argparse.Namespace) -> int:
    table = open_studio(options.studio).materials if options.studio else shipped_materials()
    if options.json:
        listed: list[dict[str, Any]] = [
            {
                "id": m.id,
                "name": m.name,
                "synonyms": list(m.synonyms),
                "group": m.group,
                "formula": m.analysis.formula or None,
                "analysis": dict(m.analysis.percent),
                "loss_on_ignition_percent": m.analysis.loi,
                "total_percent": m.analysis.total,
                "form": m.form,
                "density_g_cm3": m.density,
                "hazards": list(m.hazards),
                "dust": m.dust,
                "source": m.source,
                "confidence": m.confidence,
                "origin": m.origin,
            }
            for m in table
        ]
        print(json.dumps(listed, ensure_ascii=False, indent=1, allow_nan=False))
        return DONE
    for m in table:
        oxides = " ".join(f"{oxide} {value:.2f}" for oxide, value in m.analysis.percent)
        print(f"{m.id:28} {m.name:44} {oxides} LOI {m.analysis.loi:.2f}")
    return DONE


def _cone(options: argparse.Namespace) -> int:
    from core.firing.report import firing_report, firing_report_text

    studio = _studio_around(options)
    values = firing_report(_firing_named(options.schedule, studio), studio.kiln)
    if options.json:
        print(json.dumps(values, ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(firing_report_text(values))
    return DONE


def _studio_around(options: argparse.Namespace) -> Studio:
    """Return the studio that was named, or the one around a firing's file."""
    folder = options.studio
    if folder is None and Path(options.schedule).exists():
        folder = studio_of(Path(options.schedule))
    return open_studio(folder)


def _firing_named(name: str, studio: Studio) -> Firing:
    """Return the firing of this id, or the one in this file."""
    if name in studio.firings:
        return studio.firings[name]
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or path.exists():
        return read_firing(path)
    broken = "".join(f"; {fault}" for fault in studio.faults)
    raise InputError(
        f"there is no firing {name!r}{broken}",
        f"name a file, or use {', '.join(studio.firings)}",
    )


def _check(options: argparse.Namespace) -> int:
    from core.check import check_file, yaml_files

    code = DONE
    studios: dict[Path | None, Studio] = {}
    for path in options.paths:
        try:
            files = yaml_files(path)
        except InputError as fault:
            code = _fail(str(fault))
            continue
        for file in files:
            try:
                for oddity in check_file(file, studios):
                    print(f"{file}: look: {oddity}")
            except InputError as fault:
                code = _fail(str(fault))
            else:
                print(f"{file}: sound")
    return code


def _demo(options: argparse.Namespace) -> int:
    from app.start import demo_studio, open_window

    return open_window(demo_studio(), options.theme)


def _window(options: argparse.Namespace) -> int:
    from app.start import open_window

    return open_window(options.path, options.theme)
