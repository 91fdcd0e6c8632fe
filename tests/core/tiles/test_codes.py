"""Tile codes: what they are written with, and that none comes twice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.tiles.codes import (
    ALPHABET,
    LENGTH,
    LETTERS,
    NUMBERS,
    code_of,
    is_code,
    number_of,
    tidy,
)


def test_the_alphabet_has_no_look_alikes():
    # Source: what a brush confuses: common practice, no source.
    assert not set(ALPHABET) & set("0O1I5S8B")
    assert len(set(ALPHABET)) == len(ALPHABET)
    assert set(LETTERS) <= set(ALPHABET)
    assert all(letter.isalpha() for letter in LETTERS)


def test_half_a_million_codes_come_without_a_repeat():
    codes = [code_of("K", number) for number in range(500_000)]
    assert len(set(codes)) == 500_000
    assert all(len(code) <= 5 for code in codes)
    assert set("".join(codes)) <= set(ALPHABET)


def test_two_letters_never_give_the_same_code():
    numbers = range(0, NUMBERS, 997)
    seen = {code_of(letter, number) for letter in LETTERS for number in numbers}
    assert len(seen) == len(LETTERS) * len(numbers)


@given(st.sampled_from(LETTERS), st.integers(0, NUMBERS - 1))
def test_a_code_tells_its_machine_and_number(letter, number):
    assert number_of(code_of(letter, number)) == (letter, number)


@given(st.integers(0, NUMBERS - 1), st.integers(1, 18_276))
def test_one_smudged_character_never_makes_a_code_of_the_same_year(number, apart):
    other = (number + apart) % NUMBERS
    pairs = zip(code_of("K", number), code_of("K", other), strict=True)
    assert sum(a != b for a, b in pairs) >= 2


def test_every_single_smudge_lies_far_away():
    # All of them at once: a changed character changes the scrambled number by k × 27^i.
    for number in (0, 12_345, NUMBERS - 1):
        code = code_of("K", number)
        for place in range(1, LENGTH):
            for character in ALPHABET.replace(code[place], ""):
                _, other = number_of(code[:place] + character + code[place + 1 :])
                distance = abs(other - number)
                assert min(distance, NUMBERS - distance) > 18_276


def test_typing_is_forgiven_but_look_alikes_are_not():
    code = code_of("K", 7)
    assert tidy(f" {code[:2].lower()}-{code[2:].lower()} ") == code
    assert is_code(code.lower())
    for wrong in ("", "K", code + "A", "K0AAA", "KÄAAA", "7AAAA"):
        assert not is_code(wrong)
        with pytest.raises(InputError, match="is no tile code"):
            number_of(wrong)


@pytest.mark.parametrize(("letter", "number"), [("O", 0), ("7", 0), ("", 0), ("K", -1)])
def test_what_no_machine_gives_is_refused(letter, number):
    with pytest.raises(InputError):
        code_of(letter, number)
    with pytest.raises(InputError, match="new letter"):
        code_of("K", NUMBERS)
