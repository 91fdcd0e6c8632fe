"""Old formats are brought to the present one step by step; newer ones are refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

import core.files.formats
from core.bodies import read_bodies
from core.check import check_file
from core.errors import InputError
from core.files.formats import PRESENT, STEPS, Step, in_present_format
from core.firing import read_firing
from core.material_table import read_materials
from core.plain_yaml import Tree, parse, read_file
from core.recipe_file import read_recipe
from core.studio import open_studio
from core.tiles.machine import letter_from, take_codes
from core.tiles.run_file import read_run

OLDEST = """\
glost: "-1"
kind: "recipe"
title: "Skerry"
rows:
  - {what: "talc", parts: "16"}
"""


def _named(kind: str, tree: dict[str, Tree]) -> dict[str, Tree]:
    """An invented step: names were titles once."""
    return {("name" if key == "title" else key): value for key, value in tree.items()}


def _rowed(kind: str, tree: dict[str, Tree]) -> dict[str, Tree]:
    """An invented step: the base of a recipe was called rows once, a material what."""
    rows = tree.pop("rows", [])
    assert isinstance(rows, list)
    base = [{("material" if k == "what" else k): v for k, v in dict(row).items()} for row in rows]
    return {**tree, "base": base} if kind == "recipe" else tree


INVENTED = {"-1": Step("0", _named), "0": Step(PRESENT, _rowed)}


@pytest.fixture
def old_steps(monkeypatch):
    monkeypatch.setattr(core.files.formats, "STEPS", INVENTED)


def _written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_one_format_was_released():
    assert PRESENT == "1"
    assert not STEPS


def test_every_step_leads_to_the_present_format():
    for start in STEPS:
        form = start
        for _ in range(len(STEPS)):
            form = STEPS[form].to if form in STEPS else form
        assert form == PRESENT


def test_an_old_file_goes_through_every_step(tmp_path, old_steps):
    recipe = read_recipe(_written(tmp_path, "old.yaml", OLDEST))
    assert recipe.name == "Skerry"
    assert [(row.material, row.amount) for row in recipe.base] == [("talc", 16.0)]
    half = OLDEST.replace('"-1"', '"0"').replace("title", "name")
    assert read_recipe(_written(tmp_path, "half.yaml", half)) == recipe


def test_a_present_file_goes_through_none():
    document = parse('glost: "1"\nkind: recipe\ntitle: kept\n', "t")
    assert in_present_format(document, INVENTED) is document


def test_what_was_read_is_not_changed_under_anybody():
    document = parse(OLDEST, "t")
    before = repr(document.tree)
    assert in_present_format(document, INVENTED).tree != document.tree
    assert repr(document.tree) == before


def test_a_fault_in_an_old_file_keeps_its_line(tmp_path, old_steps):
    spoilt = OLDEST.replace('"16"', '"many"')
    with pytest.raises(InputError, match="many") as fault:
        read_recipe(_written(tmp_path, "old.yaml", spoilt))
    assert fault.value.source == str(tmp_path / "old.yaml")
    assert fault.value.line is not None


@pytest.mark.parametrize(
    ("kind", "rest", "read"),
    [
        ("recipe", 'title: "x"', read_recipe),
        ("run", 'title: "x"', read_run),
        ("firing", "id: x", read_firing),
        ("materials", "materials: []", read_materials),
        ("bodies", "bodies: []", read_bodies),
        ("machine", "letter: K\nmachine: a", lambda path: letter_from(read_file(path))),
        ("studio", 'title: "x"', lambda path: open_studio(path.parent)),
        ("studio", 'title: "x"', lambda path: list(check_file(path))),
    ],
)
def test_every_kind_of_file_is_brought_forward(tmp_path, old_steps, kind, rest, read):
    path = _written(tmp_path, "studio.yaml", f'glost: "-1"\nkind: {kind}\n{rest}\n')
    read(path)


def test_a_machine_s_own_count_is_brought_forward(tmp_path, old_steps):
    _written(tmp_path, "machine.yaml", 'glost: "-1"\nkind: machine-state\nid: a\nnext: "7"\n')
    assert take_codes(tmp_path, tmp_path / "studio", 1)
    assert 'next: "8"' in (tmp_path / "machine.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("form", ["2", "1.1", "10", "", "one"])
def test_a_file_of_a_newer_glost_is_refused_in_words(tmp_path, form):
    path = _written(tmp_path, "new.yaml", f'glost: "{form}"\nkind: recipe\nname: x\n')
    before = path.read_bytes()
    with pytest.raises(InputError, match="open it with the Glost that wrote it") as fault:
        read_recipe(path)
    assert (fault.value.line, fault.value.source) == (1, str(path))
    assert path.read_bytes() == before


def test_steps_that_go_in_a_circle_end():
    circle = {"a": Step("b", lambda kind, tree: tree), "b": Step("a", lambda kind, tree: tree)}
    assert in_present_format(parse('glost: "a"\n', "t"), circle).tree == {"glost": "a"}
