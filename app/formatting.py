"""Numbers to text for the screen and the card; a value that does not exist is a dash."""

from __future__ import annotations

import re
from datetime import date

NOTHING = "–"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SUBSCRIPTS = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")


def decimals(value: float | None, places: int = 2) -> str:
    """Write a number with fixed decimals; None is a dash.

    Examples
    --------
    >>> decimals(2.929), decimals(None), decimals(-0.001)
    ('2.93', '–', '0.00')
    """
    if value is None:
        return NOTHING
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def figure(value: float | None, places: int = 3) -> str:
    """Write a number with fewer decimals the larger it is, so that it fits its column.

    Examples
    --------
    >>> figure(2.9289), figure(21.4712), figure(2147.1218)
    ('2.929', '21.47', '2147')
    """
    if value is None:
        return NOTHING
    digits = len(str(int(abs(value))))
    return decimals(value, max(0, places + 1 - digits))


def parts(value: float) -> str:
    """Write an amount as short as it is, with at most three decimals.

    Examples
    --------
    >>> parts(42.0), parts(17.21), parts(33.333333)
    ('42', '17.21', '33.333')
    """
    return f"{value:.3f}".rstrip("0").rstrip(".")


def signed(value: float) -> str:
    """Write a change with its sign.

    Examples
    --------
    >>> signed(2.0), signed(-0.5)
    ('+2', '−0.5')
    """
    return f"+{parts(value)}" if value >= 0 else f"−{parts(-value)}"


def oxide_text(oxide: str) -> str:
    """Write an oxide with its numbers set low.

    Examples
    --------
    >>> oxide_text("Al2O3")
    'Al₂O₃'
    """
    return oxide.translate(_SUBSCRIPTS)


def oxides_in(text: str) -> str:
    """Set the numbers of every oxide in a sentence low, and no other number.

    Examples
    --------
    >>> oxides_in("Na2O and K2O sum to 1")
    'Na₂O and K₂O sum to 1'
    """
    return re.sub(r"(?<=[A-Za-z])\d+", lambda found: found[0].translate(_SUBSCRIPTS), text)


def day_text(day: date, *, year: bool = True) -> str:
    """Write a day as in a diary.

    Examples
    --------
    >>> day_text(date(2026, 11, 28)), day_text(date(2026, 11, 28), year=False)
    ('28 Nov 2026', '28 Nov')
    """
    text = f"{day.day} {_MONTHS[day.month - 1]}"
    return f"{text} {day.year}" if year else text


def size_text(size: int) -> str:
    """Write a number of bytes.

    Examples
    --------
    >>> size_text(90), size_text(2140), size_text(200_000_000)
    ('90 B', '2.1 kB', '200 MB')
    """
    value, unit = float(size), "B"
    for larger in ("kB", "MB", "GB"):
        if value < 1000:
            break
        value, unit = value / 1000, larger
    text = f"{value:.1f}".removesuffix(".0") if value < 100 else f"{value:.0f}"
    return f"{text} {unit}"


def in_a_sentence(text: str) -> str:
    """Begin with a capital and end with a full stop.

    Examples
    --------
    >>> in_a_sentence("segment 2 goes nowhere; give to_c")
    'Segment 2 goes nowhere; give to_c.'
    """
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?", "!")) else ".")
