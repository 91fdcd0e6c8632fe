"""Rows as cells of a spreadsheet, both ways."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.material_table import shipped_materials
from core.recipe import MOST_ROWS
from core.spreadsheet import cells_of, rows_from

TABLE = shipped_materials()


@pytest.mark.parametrize(
    "text",
    ["Talc\t16\n", "talc\t16", "Talc;16\r\n", "material\tparts\nTalc\t16\n\n", "TALC\tx\t16",
     "Talc\t16%", " Talc \t 16,0 ", "'Talc\t16"],
)  # fmt: skip
def test_a_name_and_an_amount_are_read_from_usual_cells(text):
    (row,) = rows_from(text, TABLE)
    name = TABLE.get("talc").name
    assert row.amount == 16.0
    assert row.material in ("talc", "Talc", "TALC")
    assert rows_from(f"{name}\t16", TABLE)[0].material == "talc"


def test_a_synonym_leads_to_its_material():
    assert rows_from("CHINA CLAY\t20", TABLE)[0].material == "kaolin"


def test_an_unknown_name_is_kept_as_it_stands():
    assert rows_from("Nowhere spar\t12,5", TABLE)[0].material == "Nowhere spar"
    assert len(rows_from("n" * 500 + "\t1", TABLE)[0].material) <= 80


@pytest.mark.parametrize("text", ["", "hello", "a\tb", "talc\tnan", "\t\t\n", "16"])
def test_what_holds_no_rows_is_refused_in_words(text):
    with pytest.raises(InputError, match="no rows"):
        rows_from(text, TABLE)


@pytest.mark.parametrize(
    "bad", ["1.234,5", "-5", "20 g", "1 000", "1e7", "#DIV/0!", "\uff11\uff16x", ""]
)
def test_no_row_is_lost_without_a_word(bad):
    with pytest.raises(InputError, match="line 3"):
        rows_from(f"material\tparts\nTalc\t16\nKaolin\t{bad}\nSilica\t3\n", TABLE)


def test_a_total_is_no_material_and_cells_may_be_quoted_or_parted_by_commas():
    rows = rows_from('Material,Parts\n"Talc",16\nKaolin,"4,5"\nTotal,20.5\n', TABLE)
    assert [(row.material, row.amount) for row in rows] == [("talc", 16.0), ("kaolin", 4.5)]


def test_a_blank_that_does_not_break_is_a_blank():
    assert rows_from("\ufeffPotash\u00a0feldspar\t42", TABLE)[0].material == "potash-feldspar"


def test_too_much_is_refused_in_words():
    assert len(rows_from("talc\t1\n" * MOST_ROWS, TABLE)) == MOST_ROWS
    with pytest.raises(InputError, match=f"{MOST_ROWS + 1} rows"):
        rows_from("talc\t1\n" * (MOST_ROWS + 1), TABLE)
    with pytest.raises(InputError, match="too much"):
        rows_from("x" * 1_000_000, TABLE)


@given(
    st.lists(
        st.tuples(st.sampled_from([m.name for m in TABLE]), st.floats(0, 1e6)),
        min_size=1,
        max_size=20,
    )
)
def test_rows_that_are_copied_and_pasted_are_the_same_rows(rows):
    found = rows_from(cells_of(rows), TABLE)
    assert [(TABLE.get(r.material).name, r.amount) for r in found] == rows


ODD_NAMES = (
    *(
        "=cmd",
        "+cmd",
        "-1+cmd",
        "@sum",
        "\uff1dcmd",
        "\uff0bcmd",
        "\uff0d1",
        "\uff20sum",
        "\u22121",
    ),
    *("'=cmd", "''", "'", '"quoted', '"', "total", "Total:", "sum", "\ufe661"),
)
"""Source of the first: OWASP, "CSV Injection"; wide and small forms: Unicode, FF00 and FE50."""


@pytest.mark.parametrize("name", ODD_NAMES)
def test_an_odd_name_is_only_ever_a_name_and_pasted_back_the_same(name):
    text = cells_of([(name, 5.0)])
    assert text.startswith("'")
    (row,) = rows_from(text, TABLE)
    assert (row.material, row.amount) == (name, 5.0)
    assert cells_of([(row.material, row.amount)]) == text


@pytest.mark.parametrize("hidden", ["\ufeff", "\u200b", "\u202e", "\u00ad"])
def test_what_is_not_seen_does_not_hide_a_formula(hidden):
    assert cells_of([(f"{hidden}=cmd", 1.0)]).startswith("'")


@pytest.mark.parametrize("name", ["Talc", "a=b", "2 mm grog", "T\u00f6pferspat", "(a)"])
def test_a_plain_name_is_copied_as_it_is(name):
    assert cells_of([(name, 1.0)]) == f"{name}\t1\n"


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@x", "\t=1", "\n=1"])
def test_a_name_never_runs_as_a_formula(name):
    # Source: OWASP, "CSV Injection": cells that begin with = + - @ are run.
    cell = cells_of([(name, 1.0)]).split("\t")[0]
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cells_of([(name, 1.0)]).count("\n") == 1
