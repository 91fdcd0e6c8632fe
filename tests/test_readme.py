"""The reader that the README prints: twenty lines, a stock YAML reader, and the same recipe."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from core.recipe import Rows, total
from core.recipe_file import read_recipe

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "tests" / "samples" / "format-1"
MOST_LINES = 20


def _script() -> str:
    section = (ROOT / "README.md").read_text(encoding="utf-8").split("## Without this program")[1]
    found = re.search(r"```python\n(.*?)```", section.split("\n## ")[0], re.DOTALL)
    assert found is not None
    return found[1]


def _printed(path: Path, folder: Path) -> list[str]:
    script = folder / "recipe.py"
    script.write_text(_script(), encoding="utf-8")
    # -I: neither this checkout nor anybody's settings; -X utf8: the terminal is no part of this.
    done = subprocess.run(
        [sys.executable, "-I", "-X", "utf8", str(script), str(path)],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=True,
    )
    return done.stdout.splitlines()


def _lines(base: Rows, additions: Rows) -> list[list[str]]:
    whole = total(base) or 1.0
    return [
        ["base", row.material, f"{row.amount:g}", f"{100 * row.amount / whole:.2f}", "%"]
        for row in base
    ] + [
        ["addition", row.material, f"{row.amount:g}", f"{row.amount:.2f}", "%"] for row in additions
    ]


def test_it_has_at_most_twenty_lines_and_needs_a_yaml_reader_alone():
    lines = _script().splitlines()
    assert len(lines) <= MOST_LINES
    assert all(len(line) < 100 for line in lines)
    assert [line for line in lines if "import" in line] == ["import sys, yaml"]


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("recipe-*.yaml")), ids=lambda p: p.name)
def test_it_prints_every_sample_as_the_program_reads_it(path, tmp_path):
    recipe = read_recipe(path)
    printed = _printed(path, tmp_path)
    expected = _lines(recipe.base, recipe.additions)
    for variant in recipe.variants:
        expected += _lines(variant.base, variant.additions)
    assert [line.split() for line in printed if line.startswith("  ")] == expected
    assert printed[0].startswith(recipe.name)
    assert recipe.firing in printed[0]
    assert recipe.body in printed[0]
    text = "\n".join(printed)
    for variant in recipe.variants:
        assert f"Variant {variant.name}: {variant.reason}" in text
    assert "\n".join(recipe.notes.splitlines()) in text


def test_the_promises_are_printed():
    section = (ROOT / "README.md").read_text(encoding="utf-8").split("## What is promised")[1]
    numbers = re.findall(r"^(\d+)\. ", section.split("\n## ")[0], re.MULTILINE)
    assert numbers == [str(number) for number in range(1, 11)]
