"""The formats that files were ever written in, and the steps from each to the next.

A file says its format in its first line (``glost: "1"``). Format 1 is the only one that was
released. A later one brings a step here for every kind of file that it changes, and sample
files of the format that it leaves stay in the tests for good.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from core.plain_yaml import PlainYaml, Tree

PRESENT = "1"
"""The format that files are written in."""

Change = Callable[[str, dict[str, Tree]], dict[str, Tree]]
"""From the kind of a file and its tree to the tree in the next format."""


@dataclass(frozen=True, slots=True)
class Step:
    """How a file goes on from one format to the next."""

    to: str
    change: Change


STEPS: Mapping[str, Step] = MappingProxyType({})
"""By the format that they start from."""


def in_present_format(document: PlainYaml, steps: Mapping[str, Step] | None = None) -> PlainYaml:
    """Return a file as the present format would write it.

    What is no Glost file, or of a format without a step, is returned as it
    is: the schema refuses it in words. Lines stay those of the file; a value
    that a step moved is told by the line of what held it.

    Parameters
    ----------
    document : PlainYaml
    steps : mapping of str to Step, optional
        `STEPS` when left out.
    """
    steps = STEPS if steps is None else steps
    tree = document.tree
    if not isinstance(tree, dict):
        return document
    passed: set[str] = set()
    while isinstance(form := tree.get("glost"), str) and form in steps and form not in passed:
        passed.add(form)
        step = steps[form]
        kind = tree.get("kind")
        changed = step.change(kind if isinstance(kind, str) else "", dict(tree))
        tree = {**changed, "glost": step.to}
    return document if tree is document.tree else replace(document, tree=tree)
