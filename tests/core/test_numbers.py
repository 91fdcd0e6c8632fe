"""Figures as people write them."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.numbers import LARGEST_AMOUNT, is_unfinished, number_text, read_amount, read_number


@pytest.mark.parametrize(
    "text", ["0.5", "0,5", ".5", ",5", " 0.5 ", "+0.5", "00.5", "5e-1", "5E-1"]
)
def test_a_half_is_a_half_however_it_is_written(text):
    assert read_number(text) == 0.5


def test_a_typeset_minus_is_a_minus():
    assert read_number("−3,25") == -3.25


@pytest.mark.parametrize(
    "text", ["1.234,5", "1,234.5", "1.234.567", "1,234,567", "0,,5", "1e5,5.0"]
)
def test_a_figure_that_could_mean_two_things_is_refused(text):
    with pytest.raises(InputError, match="more than one number"):
        read_number(text)


@pytest.mark.parametrize(
    "text",
    ["", " ", "nan", "NaN", "-nan", "inf", "-inf", "Infinity", ".inf", ".nan", "1e", "e5", "--1",
     "0x10", "1_000", "1 000", "1/2", "½", "1e5.", "12 g", "1e1000000", "True", "\x00", "1\n2",
     "1" * 41, "9" * 1_000_000, "," , "."],
)  # fmt: skip
def test_what_is_no_number_is_refused_in_one_line(text):
    with pytest.raises(InputError) as fault:
        read_number(text)
    assert "\n" not in str(fault.value)
    assert len(str(fault.value)) < 700


@pytest.mark.parametrize("text", ["١٢", "１２", "१२", "1٢", "²"])
def test_digits_of_another_script_are_refused(text):
    # Python's float() would take them; a file must not hold figures its reader cannot see.
    with pytest.raises(InputError):
        read_number(text)


@pytest.mark.parametrize("text", ["1e999", "-1e999", "1e309"])
def test_a_figure_past_the_largest_is_called_too_large(text):
    with pytest.raises(InputError, match="too large"):
        read_number(text)


@pytest.mark.parametrize("text", ["-1", "-0,001", "1000001", "1e7", "1e300"])
def test_an_amount_is_neither_negative_nor_absurd(text):
    assert math.isfinite(read_number(text))
    with pytest.raises(InputError):
        read_amount(text)


def test_the_limits_of_an_amount_are_amounts():
    assert read_amount("0") == 0.0
    assert read_amount(number_text(LARGEST_AMOUNT)) == LARGEST_AMOUNT
    assert math.copysign(1.0, read_amount("-0")) == 1.0


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_read_back_as_it_was(value):
    text = number_text(value)
    assert read_number(text) == value
    assert read_number(text.replace(".", ",")) == value


@given(st.text(max_size=60))
def test_any_text_gives_a_finite_number_or_words(text):
    try:
        value, said = read_number(text), ""
    except InputError as fault:
        value, said = None, str(fault)
    if value is None:
        assert said.isprintable()
    else:
        assert math.isfinite(value)
        assert re.search("[0-9]", text)


@pytest.mark.parametrize("text", ["", "-", "12.", "12,", ".", "-.", " 3. "])
def test_a_figure_half_typed_is_unfinished(text):
    assert is_unfinished(text)


@pytest.mark.parametrize("text", ["12", "12.5", "x", "1..", "1,2,", "٣."])
def test_a_whole_figure_or_a_slip_is_not_unfinished(text):
    assert not is_unfinished(text)


def test_a_long_decimal_that_python_wrote_is_short_enough_to_read():
    assert read_number(number_text(-5e-324)) == -5e-324
    assert read_number(number_text(1.7976931348623157e308)) == 1.7976931348623157e308
