"""Reading and writing one recipe with its variants."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec

from core.files.content import Stamp
from core.files.formats import in_present_format
from core.files.records import save_record
from core.material_table import analysis_of
from core.numbers import number_text
from core.plain_yaml import Place, PlainYaml, Tree, read_file, write
from core.recipe import MOST_ROWS, Ingredient, Pin, Recipe, Rows, Variant
from core.schema import FORMAT, Amount, Flag, Number, check_line, convert, expect_kind, unknown_keys


class _RowRecord(msgspec.Struct):
    material: str
    parts: Amount
    locked: Flag = Flag(False)


class _VariantRecord(msgspec.Struct):
    name: str
    reason: str = ""
    saved: str = ""
    based_on: str = ""
    base: list[_RowRecord] = []
    additions: list[_RowRecord] = []


class _PinRecord(msgspec.Struct):
    name: str = ""
    formula: str = ""
    analysis: dict[str, Number] = {}
    loi: Number = Number(0.0)
    tolerance_percent: dict[str, Number] = {}
    hazards: list[str] = []
    source: str = ""


class _RecipeRecord(msgspec.Struct):
    glost: str
    kind: str
    name: str
    firing: str = ""
    shelf: str = ""
    body: str = ""
    base: list[_RowRecord] = []
    additions: list[_RowRecord] = []
    variants: list[_VariantRecord] = []
    based_on: str = ""
    notes: str = ""
    pinned: dict[str, Any] = {}


def read_recipe(path: Path) -> Recipe:
    """Read a recipe file.

    Raises
    ------
    InputError
        With file, line and path of the first fault; nothing is half loaded.
    """
    return recipe_from(read_file(path))


def recipe_text(recipe: Recipe) -> str:
    """Write a recipe as the text of its file; the same recipe gives the same bytes.

    Examples
    --------
    >>> from core.plain_yaml import parse
    >>> recipe_from(parse(recipe_text(Recipe("Fixture")), "text")).name
    'Fixture'
    """
    return write(recipe_tree(recipe))


def recipe_tree(recipe: Recipe) -> dict[str, Tree]:
    """Return what the file of a recipe holds, as text by key."""
    tree: dict[str, Tree] = {
        "glost": FORMAT,
        "kind": "recipe",
        "name": recipe.name,
        "firing": recipe.firing,
    }
    if recipe.shelf:
        tree["shelf"] = recipe.shelf
    tree |= {
        "body": recipe.body,
        "base": row_trees(recipe.base),
        "additions": row_trees(recipe.additions),
        "variants": [_variant_tree(variant) for variant in recipe.variants],
    }
    if recipe.based_on:
        tree["based_on"] = recipe.based_on
    tree["notes"] = recipe.notes
    if recipe.pinned:
        tree["pinned"] = {name: pin_tree(pin) for name, pin in sorted(recipe.pinned.items())}
    return {**tree, **recipe.extra}


def save_recipe(path: Path, recipe: Recipe, known: Stamp | None) -> Stamp:
    """Save a recipe in its file and return what stands there now.

    Raises
    ------
    InputError
        If the text would not read back to the same recipe.
    ChangedOutside
        If something else stands in the file than `known`; None replaces whatever it is.
    NotSettled, OSError
        If the disk refuses; see `core.files.saving.save`.
    """
    return save_record(path, recipe, recipe_text, recipe_from, "recipe", known)


def recipe_from(document: PlainYaml) -> Recipe:
    """Build a recipe from a parsed file.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    document = in_present_format(document)
    expect_kind(document, "recipe")
    record = convert(document, _RecipeRecord)
    tree: Any = document.tree
    check_line(document, ("name",), record.name)
    check_line(document, ("firing",), record.firing, needed=False)
    check_line(document, ("shelf",), record.shelf, needed=False)
    check_line(document, ("body",), record.body, needed=False)
    seen: set[str] = set()
    for number, variant in enumerate(record.variants):
        place: Place = ("variants", number, "name")
        check_line(document, place, variant.name)
        if variant.name in seen:
            raise document.fault(place, f"repeats the name {variant.name!r}", "rename one")
        seen.add(variant.name)
    return Recipe(
        name=record.name,
        firing=record.firing,
        shelf=record.shelf,
        body=record.body,
        base=_rows(document, ("base",), record.base, tree.get("base")),
        additions=_rows(document, ("additions",), record.additions, tree.get("additions")),
        variants=tuple(
            _variant(document, number, variant, tree["variants"][number])
            for number, variant in enumerate(record.variants)
        ),
        based_on=record.based_on,
        notes=record.notes,
        pinned={name: pin_from(document, name, pin) for name, pin in record.pinned.items()},
        extra=unknown_keys(tree, _RecipeRecord),
    )


def _rows(document: PlainYaml, place: Place, records: Sequence[_RowRecord], trees: Any) -> Rows:
    if len(records) > MOST_ROWS:
        raise document.fault(
            place, f"has {len(records)} rows", f"a recipe holds at most {MOST_ROWS}"
        )
    rows = []
    for number, record in enumerate(records):
        check_line(document, (*place, number, "material"), record.material)
        rows.append(
            Ingredient(
                record.material,
                float(record.parts),
                bool(record.locked),
                unknown_keys(trees[number], _RowRecord),
            )
        )
    return tuple(rows)


def _variant(document: PlainYaml, number: int, record: _VariantRecord, tree: Any) -> Variant:
    place: Place = ("variants", number)
    return Variant(
        name=record.name,
        reason=record.reason,
        base=_rows(document, (*place, "base"), record.base, tree.get("base")),
        additions=_rows(document, (*place, "additions"), record.additions, tree.get("additions")),
        saved=record.saved,
        based_on=record.based_on,
        extra=unknown_keys(tree, _VariantRecord),
    )


def pin_from(document: PlainYaml, material: str, tree: Any) -> Pin:
    """Read the analysis that a recipe or a run pins under `pinned`.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    record = convert(document, _PinRecord, ("pinned", material))
    check_line(document, ("pinned", material, "name"), record.name, needed=False)
    analysis = analysis_of(
        document,
        ("pinned", material),
        record.name or material,
        record.formula,
        record.analysis,
        record.loi,
        record.tolerance_percent,
    )
    return Pin(
        record.name or material,
        analysis,
        record.source,
        tuple(record.hazards),
        unknown_keys(tree, _PinRecord),
    )


def rows_from(document: PlainYaml, place: Place) -> Rows:
    """Read the rows that stand as a list at a place; none where nothing stands.

    Raises
    ------
    InputError
        With line and path of the first fault.
    """
    tree: Any = document.tree
    for step in place:
        tree = tree.get(step, []) if isinstance(tree, Mapping) else tree[step]
    records = [convert(document, _RowRecord, (*place, number)) for number in range(len(tree))]
    return _rows(document, place, records, tree)


def row_trees(rows: Rows) -> Tree:
    """Write rows as the list that their file holds."""
    return [
        {
            "material": row.material,
            "parts": number_text(row.amount),
            **({"locked": "yes"} if row.locked else {}),
            **row.extra,
        }
        for row in rows
    ]


def _variant_tree(variant: Variant) -> Tree:
    return {
        "name": variant.name,
        "reason": variant.reason,
        "saved": variant.saved,
        "based_on": variant.based_on,
        "base": row_trees(variant.base),
        "additions": row_trees(variant.additions),
        **variant.extra,
    }


def pin_tree(pin: Pin) -> Tree:
    """Write a pinned analysis as its file holds it."""
    tree: dict[str, Tree] = {"name": pin.name}
    analysis = pin.analysis
    if analysis.formula:
        tree["formula"] = analysis.formula
    else:
        tree["analysis"] = _figures(dict(analysis.percent))
        tree["loi"] = number_text(analysis.loi)
        if analysis.tolerance:
            tree["tolerance_percent"] = _figures(dict(analysis.tolerance))
    if pin.hazards:
        tree["hazards"] = list(pin.hazards)
    if pin.source:
        tree["source"] = pin.source
    return {**tree, **pin.extra}


def _figures(values: Mapping[str, float]) -> Tree:
    return {oxide: number_text(value) for oxide, value in values.items()}


def with_analysis_pins(recipe: Recipe, analyses: Mapping[str, Pin]) -> Recipe:
    """Return a copy that pins the analysis of every material it uses and no other."""
    return replace(
        recipe,
        pinned={name: analyses[name] for name in recipe.material_ids() if name in analyses},
    )
