"""The one way from a recipe, a run or a firing to its file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from core.errors import InputError
from core.files.content import Stamp
from core.files.saving import save
from core.plain_yaml import PlainYaml, parse

Value = TypeVar("Value")


def save_record(
    path: Path,
    value: Value,
    text_of: Callable[[Value], str],
    read: Callable[[PlainYaml], Value],
    kind: str,
    known: Stamp | None,
) -> Stamp:
    """Save a value in its file and return the file's stamp; see `core.files.saving.save`.

    Parameters
    ----------
    path : Path
    value : object
    text_of : callable
        Writes the value as the text of its file.
    read : callable
        Builds the value from a parsed file.
    kind : str
        What to call it in messages.
    known : Stamp or None
        What stands in the file as far as the caller knows; None replaces whatever it is.

    Raises
    ------
    InputError
        If the text would not read back to the same value.
    ChangedOutside, NotSettled, OSError
        As `save` does.
    """

    def reads_back(text: str) -> None:
        if read(parse(text, str(path))) != value:
            raise InputError(
                f"the {kind} would not read back as it is",
                "look for odd characters in its names and notes",
            )

    return save(path, text_of(value), reads_back, known)
