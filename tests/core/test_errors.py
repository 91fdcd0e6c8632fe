"""Faults are said in one line with their place."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from core.errors import GlostError, InputError


def test_a_fault_names_file_line_and_path_in_this_order():
    fault = InputError("is negative", "give zero or more", "a.yaml", 8, "base[2].parts")
    assert str(fault) == "a.yaml, line 8, base[2].parts: is negative; give zero or more"
    assert isinstance(fault, GlostError)


def test_a_fault_without_a_place_is_what_and_how_to_mend_it():
    assert str(InputError("is odd", "mend it")) == "is odd; mend it"
    assert str(InputError("is odd", "", path="base")) == "base: is odd"
    assert str(InputError("is odd", "", line=0)) == "line 0: is odd"


@given(st.text(), st.text(), st.text(), st.text())
def test_a_fault_stays_on_one_line_whatever_it_quotes(what, mend, source, path):
    text = str(InputError(what, mend, source, 1, path))
    assert len(text.splitlines()) <= 1
    assert text.isprintable()


def test_a_fault_is_of_readable_length_whatever_it_quotes():
    assert len(str(InputError("x" * 1_000_000, "y" * 1_000_000, "z" * 1_000_000))) < 1000
