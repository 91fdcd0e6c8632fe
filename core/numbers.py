"""Figures as people write them: one half is "0.5" and "0,5" everywhere."""

from __future__ import annotations

import math
import re

from core.errors import InputError

_PLAIN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_UNFINISHED = re.compile(r"[+-]?(\d+[.,]|[.,])?", re.ASCII)
LARGEST_AMOUNT = 1e6
"""Parts or grams above this are taken for a slip of the key."""


def read_number(text: str) -> float:
    """Read a figure with a decimal point or a decimal comma.

    Raises
    ------
    InputError
        If the text is no finite number, or mixes points and commas.

    Examples
    --------
    >>> read_number("0,5"), read_number(" 12.25 ")
    (0.5, 12.25)
    """
    stripped = text.strip().replace("−", "-")
    if sum(stripped.count(mark) for mark in ",.") > 1:
        raise InputError(
            f"{text!r} could mean more than one number",
            "write it with one point or comma for the decimals and nothing between thousands",
        )
    if len(stripped) > 40 or not _PLAIN.fullmatch(stripped):
        raise InputError(f"{text!r} is not a number", "write it like 12.5")
    value = float(stripped.replace(",", "."))
    if not math.isfinite(value):
        raise InputError(f"{text!r} is too large", "write a smaller number")
    return value


def read_amount(text: str) -> float:
    """Read parts, percent or grams: a finite number from zero to `LARGEST_AMOUNT`.

    Raises
    ------
    InputError
        If the text is no such number.
    """
    value = read_number(text)
    if value < 0:
        raise InputError(f"{text!r} is negative", "give zero or more")
    if value > LARGEST_AMOUNT:
        raise InputError(f"{text!r} is absurdly large", f"give at most {LARGEST_AMOUNT:.0f}")
    return value + 0.0


def is_unfinished(text: str) -> bool:
    """Tell whether the text may still become a number ("", "12.", "-").

    Examples
    --------
    >>> is_unfinished("12,"), is_unfinished("12,5"), is_unfinished("x")
    (True, False, False)
    """
    return _UNFINISHED.fullmatch(text.strip()) is not None


def number_text(value: float) -> str:
    """Write a number so that reading it gives the very same number.

    Examples
    --------
    >>> number_text(42.0), number_text(0.1)
    ('42', '0.1')
    """
    text = repr(float(value))
    return text.removesuffix(".0")
