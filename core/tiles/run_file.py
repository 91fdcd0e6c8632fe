"""Reading and writing one run of test tiles."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import msgspec

from core.blend.slop import USUAL_SOLID_DENSITY, Slop
from core.blend.volumes import LARGEST_CUP_ML
from core.errors import InputError
from core.files.content import Stamp
from core.files.formats import in_present_format
from core.files.records import save_record
from core.numbers import LARGEST_AMOUNT, number_text
from core.plain_yaml import Place, PlainYaml, Tree, read_file, write
from core.recipe_file import pin_from, pin_tree, row_trees, rows_from
from core.schema import (
    FORMAT,
    Amount,
    Flag,
    Number,
    check_line,
    convert,
    expect_kind,
    unknown_keys,
)
from core.tiles.codes import is_code, tidy
from core.tiles.result import Defect, Result, Surface, check_result
from core.tiles.run import MOST_TILES, Run, RunCorner, Tile, share_of
from core.tiles.soundness import SoundnessTest, Subject, check_day, check_test


class _DefectRecord(msgspec.Struct):
    name: str
    place: str = ""
    share_percent: Number | None = None


class _ResultRecord(msgspec.Struct):
    surface: str = ""
    touch: str = ""
    gloss_units: Number | None = None
    gloss_angle: Number | None = None
    defects: list[_DefectRecord] = []
    marks: Number | None = None
    cleans: Number | None = None
    thickness_mm: Number | None = None
    body: str = ""
    shelf: str = ""
    local_cone: str = ""
    cooling: str = ""
    photo: str = ""
    notes: str = ""
    read: str = ""
    version: str = ""


class _TestRecord(msgspec.Struct):
    kind: str
    day: str
    passed: Flag
    recipe: str = ""
    version: str = ""
    body: str = ""
    firing: str = ""
    firing_version: str = ""
    fired: str = ""
    note: str = ""


class _SlopRecord(msgspec.Struct):
    dry_g: Number | None = None
    water_g: Number | None = None
    volume_ml: Number | None = None
    specific_gravity: Number | None = None
    solid_density: Number = Number(USUAL_SOLID_DENSITY)


class _CornerRecord(msgspec.Struct):
    letter: str
    name: str = ""
    recipe: str = ""
    base: list[dict[str, Any]] = []
    additions: list[dict[str, Any]] = []
    measured: _SlopRecord | None = None


class _TileRecord(msgspec.Struct):
    code: str
    label: str = ""
    row: Amount = Amount(0.0)
    column: Amount = Amount(0.0)
    shares: list[str] = []
    recipe: str = ""
    variant: str = ""
    base: list[dict[str, Any]] = []
    additions: list[dict[str, Any]] = []
    result: _ResultRecord | None = None
    tests: list[_TestRecord] = []


class _RunRecord(msgspec.Struct):
    glost: str
    kind: str
    name: str
    blend: str = ""
    planned: str = ""
    fired: str = ""
    firing: str = ""
    firing_version: str = ""
    shelf: str = ""
    body: str = ""
    method: str = ""
    cup_ml: Amount | None = None
    batch_g: Amount | None = None
    specific_gravity: Amount | None = None
    reserve_percent: Amount | None = None
    corners: list[_CornerRecord] = []
    tiles: list[_TileRecord] = []
    pinned: dict[str, Any] = {}
    notes: str = ""


METHODS = ("wet", "dry")
_MIXING = (
    ("cup_ml", 0.0, LARGEST_CUP_ML, " ml"),
    ("batch_g", 0.0, LARGEST_AMOUNT, " g"),
    ("specific_gravity", 1.0, 4.0, ""),  # water; the heaviest lead glazes, dry
)
_RUN_LINES = ("blend", "firing", "firing_version", "shelf", "body", "method")
_TILE_LINES = ("label", "recipe", "variant")
_RESULT_LINES = ("touch", "body", "shelf", "local_cone", "cooling", "photo", "version")
_RESULT_FIGURES = ("gloss_units", "gloss_angle", "marks", "cleans", "thickness_mm")
_SLOP = ("dry_g", "water_g", "volume_ml", "specific_gravity", "solid_density")
_TEST_LINES = ("recipe", "version", "body", "firing", "firing_version")


def read_run(path: Path) -> Run:
    """Read a run file.

    Raises
    ------
    InputError
        With file, line and path of the first fault; nothing is half loaded.
    """
    return run_from(read_file(path))


def save_run(path: Path, run: Run, known: Stamp | None) -> Stamp:
    """Save a run in its file and return what stands there now.

    Raises
    ------
    InputError
        If the text would not read back to the same run.
    ChangedOutside
        If something else stands in the file than `known`; None replaces whatever it is.
    NotSettled, OSError
        If the disk refuses; see `core.files.saving.save`.
    """
    return save_record(path, run, run_text, run_from, "run", known)


def run_from(document: PlainYaml) -> Run:
    """Build a run from a parsed file.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    document = in_present_format(document)
    expect_kind(document, "run")
    record = convert(document, _RunRecord)
    tree: Any = document.tree
    check_line(document, ("name",), record.name)
    _check_lines(document, (), record, _RUN_LINES)
    _check_days(document, (), record, ("planned", "fired"))
    _check_mixing(document, record)
    if len(record.tiles) > MOST_TILES:
        raise document.fault(
            ("tiles",), f"has {len(record.tiles)} tiles", f"a run holds at most {MOST_TILES}"
        )
    tiles = tuple(
        _tile(document, ("tiles", number), tile, tree["tiles"][number])
        for number, tile in enumerate(record.tiles)
    )
    seen: set[str] = set()
    for number, tile in enumerate(tiles):
        if tile.code in seen:
            raise document.fault(
                ("tiles", number, "code"), f"repeats the code {tile.code}", "correct one of them"
            )
        if tile.shares and record.corners and len(tile.shares) != len(record.corners):
            raise document.fault(
                ("tiles", number, "shares"),
                f"shares out {len(tile.shares)} corners where the run names {len(record.corners)}",
                "give one share for each corner",
            )
        seen.add(tile.code)
    return Run(
        name=record.name,
        blend=record.blend,
        planned=record.planned,
        fired=record.fired,
        firing=record.firing,
        firing_version=record.firing_version,
        shelf=record.shelf,
        body=record.body,
        method=record.method,
        cup_ml=_plain(record.cup_ml),
        batch_g=_plain(record.batch_g),
        specific_gravity=_plain(record.specific_gravity),
        reserve_percent=_plain(record.reserve_percent),
        corners=tuple(
            _corner(document, ("corners", number), corner, tree["corners"][number])
            for number, corner in enumerate(record.corners)
        ),
        tiles=tiles,
        pinned={name: pin_from(document, name, pin) for name, pin in record.pinned.items()},
        notes=record.notes,
        extra=unknown_keys(tree, _RunRecord),
    )


def run_text(run: Run) -> str:
    """Write a run as the text of its file; the same run gives the same bytes.

    Examples
    --------
    >>> from core.plain_yaml import parse
    >>> run_from(parse(run_text(Run("Line of talc")), "text")).name
    'Line of talc'
    """
    tree: dict[str, Tree] = {"glost": FORMAT, "kind": "run", "name": run.name}
    tree |= _texts(
        run,
        *("blend", "planned", "fired", "firing", "firing_version", "shelf", "body", "method"),
    )
    tree |= _figures(run, "cup_ml", "batch_g", "specific_gravity", "reserve_percent")
    if run.corners:
        tree["corners"] = [
            {
                "letter": corner.letter,
                **_texts(corner, "name", "recipe"),
                "base": row_trees(corner.base),
                "additions": row_trees(corner.additions),
                **({"measured": _slop_tree(corner.measured)} if corner.measured else {}),
                **corner.extra,
            }
            for corner in run.corners
        ]
    tree["tiles"] = [_tile_tree(tile) for tile in run.tiles]
    if run.pinned:
        tree["pinned"] = {name: pin_tree(pin) for name, pin in sorted(run.pinned.items())}
    tree |= _texts(run, "notes")
    return write({**tree, **run.extra})


def _check_mixing(document: PlainYaml, record: _RunRecord) -> None:
    """Refuse what no run was ever mixed with."""
    if record.method and record.method not in METHODS:
        raise document.fault(
            ("method",), f"is {record.method!r}", f"write {' or '.join(METHODS)}, or leave it out"
        )
    for key, low, high, unit in _MIXING:
        value = getattr(record, key)
        if value is not None and not low < value <= high:
            raise document.fault(
                (key,),
                f"cannot be {value:g}{unit}",
                f"give more than {low:g} and at most {high:g}, or leave it out",
            )
    letters: set[str] = set()
    for number, corner in enumerate(record.corners):
        if corner.letter in letters:
            raise document.fault(
                ("corners", number, "letter"),
                f"repeats the letter {corner.letter!r}",
                "give each corner its own",
            )
        letters.add(corner.letter)


def _corner(document: PlainYaml, place: Place, record: _CornerRecord, tree: Any) -> RunCorner:
    _check_lines(document, place, record, ("letter", "name", "recipe"))
    return RunCorner(
        letter=record.letter,
        name=record.name,
        recipe=record.recipe,
        base=rows_from(document, (*place, "base")),
        additions=rows_from(document, (*place, "additions")),
        measured=_slop(document, (*place, "measured"), record.measured, tree.get("measured")),
        extra=unknown_keys(tree, _CornerRecord),
    )


def _slop(document: PlainYaml, place: Place, record: _SlopRecord | None, tree: Any) -> Slop | None:
    if record is None:
        return None
    slop = Slop(
        dry_g=_plain(record.dry_g),
        water_g=_plain(record.water_g),
        volume_ml=_plain(record.volume_ml),
        specific_gravity=_plain(record.specific_gravity),
        solid_density=float(record.solid_density),
        extra=unknown_keys(tree, _SlopRecord),
    )
    try:
        slop.measures()
    except InputError as fault:
        raise document.fault(place, fault.what, fault.mend) from fault
    return slop


def _tile(document: PlainYaml, place: Place, record: _TileRecord, tree: Any) -> Tile:
    _check_lines(document, place, record, _TILE_LINES)
    if not is_code(record.code) or tidy(record.code) != record.code:
        raise document.fault(
            (*place, "code"), f"{record.code!r} is no tile code", "copy it from the tile"
        )
    shares = []
    for number, text in enumerate(record.shares):
        try:
            shares.append(share_of(text))
        except InputError as fault:
            raise document.fault((*place, "shares", number), fault.what, fault.mend) from fault
    row, column = int(record.row), int(record.column)
    if (float(row), float(column)) != (float(record.row), float(record.column)) or max(
        row, column
    ) >= MOST_TILES:
        raise document.fault(
            (*place, "row"), "row and column are no places", "give whole numbers from 0"
        )
    result = None
    if record.result is not None:
        result = _result(document, (*place, "result"), record.result, tree["result"])
    return Tile(
        code=record.code,
        label=record.label,
        row=row,
        column=column,
        shares=tuple(shares),
        recipe=record.recipe,
        variant=record.variant,
        base=rows_from(document, (*place, "base")),
        additions=rows_from(document, (*place, "additions")),
        result=result,
        tests=tuple(
            _test(document, (*place, "tests", number), test, tree["tests"][number])
            for number, test in enumerate(record.tests)
        ),
        extra=unknown_keys(tree, _TileRecord),
    )


def _result(document: PlainYaml, place: Place, record: _ResultRecord, tree: Any) -> Result:
    _check_lines(document, place, record, _RESULT_LINES)
    _check_days(document, place, record, ("read",))
    if record.surface and record.surface not in set(Surface):
        raise document.fault(
            (*place, "surface"),
            f"there is no surface {record.surface!r}",
            f"use one of {', '.join(Surface)}",
        )
    for number, defect in enumerate(record.defects):
        _check_lines(document, (*place, "defects", number), defect, ("name", "place"))
    result = Result(
        surface=Surface(record.surface) if record.surface else None,
        touch=record.touch,
        gloss_units=_plain(record.gloss_units),
        gloss_angle=_plain(record.gloss_angle),
        defects=tuple(
            Defect(
                defect.name,
                defect.place,
                _plain(defect.share_percent),
                unknown_keys(tree["defects"][number], _DefectRecord),
            )
            for number, defect in enumerate(record.defects)
        ),
        marks=_whole(document, (*place, "marks"), record.marks),
        cleans=_whole(document, (*place, "cleans"), record.cleans),
        thickness_mm=_plain(record.thickness_mm),
        body=record.body,
        shelf=record.shelf,
        local_cone=record.local_cone,
        cooling=record.cooling,
        photo=record.photo,
        notes=record.notes,
        read=record.read,
        version=record.version,
        extra=unknown_keys(tree, _ResultRecord),
    )
    try:
        check_result(result)
    except InputError as fault:
        raise document.fault((*place, *_steps(fault.path)), fault.what, fault.mend) from fault
    return result


def _test(document: PlainYaml, place: Place, record: _TestRecord, tree: Any) -> SoundnessTest:
    _check_lines(document, place, record, _TEST_LINES)
    test = SoundnessTest(
        kind=record.kind,
        subject=Subject(
            record.recipe, record.version, record.body, record.firing, record.firing_version
        ),
        day=record.day,
        passed=bool(record.passed),
        fired=record.fired,
        note=record.note,
        extra=unknown_keys(tree, _TestRecord),
    )
    try:
        check_test(test)
    except InputError as fault:
        raise document.fault((*place, *_steps(fault.path)), fault.what, fault.mend) from fault
    return test


def _slop_tree(slop: Slop) -> Tree:
    return {**_figures(slop, *_SLOP), **slop.extra}


def _tile_tree(tile: Tile) -> Tree:
    tree: dict[str, Tree] = {"code": tile.code, **_texts(tile, "label")}
    tree |= {"row": str(tile.row), "column": str(tile.column)}
    if tile.shares:
        tree["shares"] = [str(share) for share in tile.shares]
    tree |= _texts(tile, "recipe", "variant")
    tree |= {"base": row_trees(tile.base), "additions": row_trees(tile.additions)}
    if tile.result is not None:
        tree["result"] = _result_tree(tile.result)
    if tile.tests:
        tree["tests"] = [_test_tree(test) for test in tile.tests]
    return {**tree, **tile.extra}


def _result_tree(result: Result) -> Tree:
    tree: dict[str, Tree] = {}
    if result.surface is not None:
        tree["surface"] = result.surface.value
    tree |= _texts(result, "touch")
    tree |= _figures(result, *_RESULT_FIGURES)
    if result.defects:
        tree["defects"] = [
            {
                "name": defect.name,
                **_texts(defect, "place"),
                **_figures(defect, "share_percent"),
                **defect.extra,
            }
            for defect in result.defects
        ]
    tree |= _texts(
        result,
        *("body", "shelf", "local_cone", "cooling", "photo", "notes", "read", "version"),
    )
    return {**tree, **result.extra}


def _test_tree(test: SoundnessTest) -> Tree:
    return {
        "kind": test.kind,
        "day": test.day,
        "passed": "yes" if test.passed else "no",
        **_texts(test.subject, *_TEST_LINES),
        **_texts(test, "fired", "note"),
        **test.extra,
    }


def _texts(record: object, *keys: str) -> dict[str, Tree]:
    return {key: text for key in keys if (text := getattr(record, key))}


def _figures(record: object, *keys: str) -> dict[str, Tree]:
    values = ((key, getattr(record, key)) for key in keys)
    return {key: number_text(value) for key, value in values if value is not None}


def _check_lines(document: PlainYaml, place: Place, record: object, keys: tuple[str, ...]) -> None:
    for key in keys:
        check_line(document, (*place, key), getattr(record, key), needed=False)


def _check_days(document: PlainYaml, place: Place, record: object, keys: tuple[str, ...]) -> None:
    for key in keys:
        text = getattr(record, key)
        try:
            if text:
                check_day(text)
        except InputError as fault:
            raise document.fault((*place, key), fault.what, fault.mend) from fault


def _steps(path: str) -> Place:
    """Part a path such as "defects[0].name" into its steps."""
    found = re.findall(r"\[(\d+)\]|(\w+)", path)
    return tuple(int(number) if number else name for number, name in found)


def _whole(document: PlainYaml, place: Place, value: Number | None) -> int | None:
    if value is None:
        return None
    if not float(value).is_integer():
        raise document.fault(place, f"is {value:g}, no whole number", "give 0, 1, 2 or 3")
    return int(value)


def _plain(value: Number | Amount | None) -> float | None:
    return None if value is None else float(value)
