"""The wall between the rooms: core never imports Qt or app, and scipy only where it is used."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import core

CORE = Path(core.__file__).parent
MODULES = [
    "firing",
    "melt",
    *sorted(
        ".".join(path.relative_to(CORE).with_suffix("").parts)
        for path in CORE.rglob("*.py")
        if path.stem != "__init__"
    ),
]
FORBIDDEN = {"app", "PySide6", "shiboken6", "pyqtgraph", "PyQt5", "PyQt6", "PySide2", "qtpy"}
SLOW = {"scipy", "matplotlib", "pandas"}


def _imports(tree: ast.AST) -> set[str]:
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide what is imported"
            names.add(str(node.module))
    return names


def _tree(module: str) -> ast.Module:
    path = CORE.joinpath(*module.split("."))
    file = path.with_suffix(".py") if path.with_suffix(".py").is_file() else path / "__init__.py"
    return ast.parse(file.read_text(encoding="utf-8"))


def test_there_are_modules_to_walk():
    assert {"oxides", "formula", "evaluate", "report"} <= set(MODULES)
    assert {"melt", "melt.viscosity", "melt.sheet"} <= set(MODULES)
    assert {"firing.schedule", "firing.heat_work"} <= set(MODULES)


@pytest.mark.parametrize("module", MODULES)
def test_a_module_of_core_imports_neither_qt_nor_app(module):
    found = _imports(_tree(module))
    assert not {name.partition(".")[0] for name in found} & FORBIDDEN
    # Nor by its name as text.
    called = {
        node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        for node in ast.walk(_tree(module))
        if isinstance(node, ast.Call)
    }
    assert not called & {"__import__", "import_module", "eval", "exec"}


def test_modules_of_core_do_not_import_in_a_circle():
    graph = {
        module: {n.removeprefix("core.") for n in _imports(_tree(module)) if n.startswith("core.")}
        for module in MODULES
    }
    order = list(TopologicalSorter(graph).static_order())
    assert set(order) == set(MODULES)
    # Source: style page, house plan: evaluate knows the models, none of them knows evaluate.
    for model in ("formula", "regions", "uncertainty", "firing.cones", "materials", "oxides"):
        assert "evaluate" not in graph[model]


def test_importing_all_of_core_loads_neither_qt_nor_app_nor_scipy():
    code = (
        "import importlib, sys\n"
        f"for name in {MODULES!r}:\n"
        "    importlib.import_module('core.' + name)\n"
        f"unwanted = {sorted(FORBIDDEN | SLOW)!r}\n"
        "print([name for name in unwanted if name in sys.modules])\n"
    )
    found = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=CORE.parent,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert found.returncode == 0, found.stderr
    assert found.stdout.strip() == "[]"


@pytest.mark.parametrize("module", MODULES)
def test_tables_are_loaded_when_asked_for_and_not_at_import(module):
    # Source: style page: tables load when asked for, not at import.
    for node in _tree(module).body:
        if isinstance(node, ast.Assign | ast.AnnAssign | ast.Expr) and node.value is not None:
            calls = {
                getattr(call.func, "id", getattr(call.func, "attr", ""))
                for call in ast.walk(node.value)
                if isinstance(call, ast.Call)
            }
            assert not calls & {"open", "read_file", "shipped", "read_text", "cones", "hazards"}
