"""Tile codes that survive a brush and never repeat.

A code is the letter of the machine that gave it and four characters for the
number that the machine had counted to. The count is scrambled by a bijection,
so that tiles that lie side by side in a kiln do not have codes that one
smudged stroke turns into each other.
"""

from __future__ import annotations

from core.errors import InputError

ALPHABET = "ACDEFGHJKLMNPQRTUVWXY234679"
"""27 characters; 0 O 1 I 5 S 8 B look alike under a brush, and so do 2 and Z."""
LETTERS = tuple(ALPHABET[:21])
"""What a machine is called: letters, so that a code never reads as a number."""
LENGTH = 5
_BASE = len(ALPHABET)
NUMBERS = _BASE ** (LENGTH - 1)
"""Codes of one machine: 531,441."""
# Coprime to 27, so that n -> n × _STRIDE + _OFFSET permutes the numbers. Chosen
# by search: any two numbers less than 18,277 apart give codes that differ in two
# places or more (the differences that one character can make are k × 27^i).
_STRIDE = 255_907
_OFFSET = 123_457
_BACK = pow(_STRIDE, -1, NUMBERS)
_VALUE = {character: value for value, character in enumerate(ALPHABET)}


def code_of(letter: str, number: int) -> str:
    """Return the code of the `number`-th tile of a machine.

    Parameters
    ----------
    letter : str
        One of `LETTERS`.
    number : int
        From 0 to `NUMBERS` - 1.

    Raises
    ------
    InputError
        If there is no such letter or number.

    Examples
    --------
    >>> number_of(code_of("K", 1234))
    ('K', 1234)
    """
    if letter not in LETTERS:
        raise InputError(f"{letter!r} is no letter of a machine", f"use one of {''.join(LETTERS)}")
    if not 0 <= number < NUMBERS:
        raise InputError(
            f"the machine {letter} has no code number {number}",
            f"it has {NUMBERS}; give this machine a new letter",
        )
    value = (number * _STRIDE + _OFFSET) % NUMBERS
    characters = []
    for _ in range(LENGTH - 1):
        value, digit = divmod(value, _BASE)
        characters.append(ALPHABET[digit])
    return letter + "".join(reversed(characters))


def number_of(code: str) -> tuple[str, int]:
    """Return the machine's letter and the number of a code.

    Raises
    ------
    InputError
        If the text is no code of ours.
    """
    text = tidy(code)
    if len(text) != LENGTH or text[0] not in LETTERS or any(c not in _VALUE for c in text):
        raise InputError(
            f"{code!r} is no tile code",
            f"a code has {LENGTH} characters of {ALPHABET}, the first a letter",
        )
    value = 0
    for character in text[1:]:
        value = value * _BASE + _VALUE[character]
    return text[0], (value - _OFFSET) * _BACK % NUMBERS


def tidy(code: str) -> str:
    """Return a code as it is stored, from how it was typed.

    Examples
    --------
    >>> tidy(" k4 x-9p")
    'K4X9P'
    """
    return "".join(c for c in code.upper() if not c.isspace() and c != "-")


def is_code(text: str) -> bool:
    """Tell whether a text is a code of ours."""
    try:
        number_of(text)
    except InputError:
        return False
    return True
