"""The commands that solve: aim and swap."""

from __future__ import annotations

import argparse
import ctypes
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any

from core.evaluate import formula_alone, pins_of
from core.files.studio_lock import studio_held
from core.numbers import read_amount
from core.plain_yaml import read_file
from core.recipe import Recipe
from core.recipe_file import recipe_from, save_recipe, with_analysis_pins
from core.studio import Studio, studio_of

Load = Callable[[argparse.Namespace], tuple[Recipe, Studio]]

_AIM_HELP = (
    "Oxides that no --set names stay as near to the recipe as they can; --others free lets them "
    "go, --others none keeps them out. Locked rows are not looked at: --using says what may be "
    "taken."
)


def add_solve_commands(
    commands: Any, add_recipe: Callable[[argparse.ArgumentParser], None], load: Load
) -> None:
    """Add aim and swap to the commands; `load` reads the recipe that they name."""
    aim = commands.add_parser("aim", help="find recipes for a formula", description=_AIM_HELP)
    add_recipe(aim)
    aim.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="OXIDE=AMOUNT",
        help="SiO2=3.2, a range as MgO=0.3..0.4, at least as CaO=0.3.., or K2O=free; may repeat",
    )
    aim.add_argument("--using", metavar="ID,ID", help="take from these materials only")
    aim.add_argument("--others", choices=("near", "free", "none"), default="near")
    aim.add_argument("--loi", metavar="RANGE", help="loss on ignition [%%], such as ..12")
    aim.add_argument("--price", metavar="RANGE", help="of a kg of the dry base, such as ..1.20")
    aim.add_argument("--clay", metavar="RANGE", help="raw clay in the base [%%], such as 10..25")
    aim.add_argument("--expansion", metavar="RANGE", help="linear sum [1e-6/K], such as 6.0..6.8")
    aim.add_argument("--round", metavar="STEP", help="parts in steps of, such as 0.5 or 1")
    _add_output(aim)
    aim.set_defaults(run=lambda options: _aim(options, load))

    swap = commands.add_parser("swap", help="change a material and keep the formula")
    add_recipe(swap)
    swap.add_argument("--out", required=True, metavar="ID[,ID]", help="rows that go")
    swap.add_argument("--in", required=True, dest="into", metavar="ID[,ID]", help="what comes")
    swap.add_argument("--keep", metavar="OXIDE,OXIDE", help="keep these above all")
    swap.add_argument("--move", metavar="ID,ID", help="other rows that may change")
    _add_output(swap)
    swap.set_defaults(run=lambda options: _swap(options, load))


def _add_output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--save", metavar="NAME", help="keep the first result as a variant")


def _aim(options: argparse.Namespace, load: Load) -> int:
    from core.solve import Limits, Others, Wish, aim, read_goal, read_range, shelf_of, with_proposal
    from core.solve.report import aim_report, aim_text, asked

    recipe, studio = load(options)
    goals = tuple(read_goal(text) for text in options.set)
    others = Others(options.others)
    unity = formula_alone(recipe, studio).unity
    near = tuple(float(v) for v in unity) if unity is not None and others is Others.NEAR else ()
    limits = Limits(
        read_range(options.loi, "--loi") if options.loi else None,
        read_range(options.expansion, "--expansion") if options.expansion else None,
        read_range(options.clay, "--clay") if options.clay else None,
        read_range(options.price, "--price") if options.price else None,
    )
    wish = Wish(goals, others, near, limits)
    shelf = shelf_of(recipe, studio, _names(options.using))
    step = read_amount(options.round) if options.round else None
    with _quiet_solver():
        aimed = aim(shelf, wish, round_to=step)
    saved = None
    if options.save is not None and aimed.proposals:
        solved = with_proposal(recipe, aimed.proposals[0])
        saved = _save(options, studio, solved, f"aimed at {asked(wish)}")
    if options.json:
        _print_json({**aim_report(recipe, wish, aimed), "saved": saved})
    else:
        print(aim_text(recipe, studio, wish, aimed))
        _print_saved(options, saved)
    return 0


def _swap(options: argparse.Namespace, load: Load) -> int:
    from core.solve import swap
    from core.solve.report import swap_report, swap_text

    recipe, studio = load(options)
    out, into = _names(options.out) or [], _names(options.into) or []
    with _quiet_solver():
        swapped = swap(recipe, studio, out, into, _names(options.keep), _names(options.move) or [])
    saved = None
    if options.save is not None:
        reason = f"{', '.join(out)} swapped for {', '.join(into)}"
        saved = _save(options, studio, swapped.recipe, reason)
    if options.json:
        _print_json({**swap_report(recipe, swapped), "saved": saved})
    else:
        print(swap_text(recipe, studio, swapped))
        _print_saved(options, saved)
    return 0


def _names(text: str | None) -> list[str] | None:
    if text is None:
        return None
    return [name.strip() for name in text.split(",") if name.strip()]


def _save(options: argparse.Namespace, studio: Studio, solved: Recipe, reason: str) -> str:
    """Write the result as a variant into the recipe's file; the file's own rows stay."""
    from core.solve import with_named_variant

    with studio_held(studio_of(options.recipe)):
        document = read_file(options.recipe)
        original = recipe_from(document)
        kept = with_named_variant(original, solved, options.save, reason, date.today().isoformat())
        pinned = with_analysis_pins(kept, pins_of(kept, studio))
        save_recipe(options.recipe, pinned, document.stamp)
    return kept.variants[-1].name


def _print_json(values: dict[str, Any]) -> None:
    print(json.dumps(values, ensure_ascii=False, indent=1, allow_nan=False))


def _print_saved(options: argparse.Namespace, saved: str | None) -> None:
    if saved is not None:
        print(f"\nKept as variant {saved} in {options.recipe}")


@contextmanager
def _quiet_solver() -> Iterator[None]:
    """Keep what the solver's C++ prints of itself out of the output.

    HiGHS in scipy 1.17 writes a line to standard output whenever it mends an
    integer solution, whatever its options say; in JSON it would be a fault.
    """
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        # No standard output at all: nothing to keep clean.
        yield
        return
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.close(silent)
    try:
        yield
    finally:
        # The C library holds the line back when it writes to a pipe.
        ctypes.CDLL(None if os.name == "posix" else "msvcrt").fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
