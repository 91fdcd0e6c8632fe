import lzma
from pathlib import Path

import numpy as np
import pytest

from core.errors import InputError
from core.melt.composition import COLUMN, MODELLED
from core.melt.rows import read_rows
from core.tables import data_folder

SAMPLE = Path(__file__).parents[2] / "data" / "melts"

HEADER = "ID,publication,year,split,core,twin,suspect," + ",".join(MODELLED)
LINE = "7_9,9,1936,val,1,0,1," + ",".join(["0.75", "0", "0", "0", "0.25", *["0"] * 13])


def test_a_plain_file_and_a_compressed_one_read_alike(tmp_path):
    text = f"{HEADER},T_C,log10_eta_Pa_s\n{LINE},1200,2.5\n"
    (tmp_path / "a.csv").write_text(text)
    (tmp_path / "a.csv.xz").write_bytes(lzma.compress(text.encode()))
    for name in ("a.csv", "a.csv.xz"):
        rows = read_rows(tmp_path / name)
        assert (rows.prop, len(rows)) == ("viscosity", 1)
        assert (rows.value[0], rows.temperature_c[0]) == (2.5, 1200.0)
        assert rows.fractions[0, COLUMN["Na2O"]] == pytest.approx(0.25)
        assert (rows.core[0], rows.twin[0], rows.suspect[0]) == (True, False, True)


def test_marks_may_be_missing(tmp_path):
    (tmp_path / "a.csv").write_text(
        "ID," + ",".join(MODELLED) + ",T_liquidus_C\n1_1," + ",".join(["1"] * 18) + ",900\n"
    )
    rows = read_rows(tmp_path / "a.csv")
    assert rows.core[0]
    assert not rows.twin[0]
    assert rows.fractions.sum() == pytest.approx(1.0)


def test_a_header_alone_holds_no_rows(tmp_path):
    (tmp_path / "a.csv").write_text(f"{HEADER},T_liquidus_C\n")
    assert read_rows(tmp_path / "a.csv").fractions.shape == (0, 18)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing"),
        (f"{HEADER}\n{LINE}\n", "log10_eta_Pa_s or"),
        (f"{HEADER},log10_eta_Pa_s\n{LINE},2\n", "T_C"),
        (f"{HEADER},T_liquidus_C\n{LINE},warm\n", "T_liquidus_C"),
        (f"{HEADER},T_liquidus_C\n{LINE},900\n{LINE}\n", "line 3.*fields"),
        (f"{HEADER},T_liquidus_C\n{LINE},nan\n", "not finite"),
        (f"{HEADER},T_liquidus_C\n{LINE.replace('0.25', '-0.25')},900\n", "negative"),
        (f"{HEADER.replace('MgO', 'Mg')},T_liquidus_C\n{LINE},900\n", "MgO"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path, text, says):
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(InputError, match=says) as fault:
        read_rows(tmp_path / "a.csv")
    assert "\n" not in str(fault.value)


def test_a_missing_or_broken_file_is_said(tmp_path):
    (tmp_path / "a.csv.xz").write_bytes(b"no archive")
    for name in ("a.csv.xz", "none.csv"):
        with pytest.raises(InputError, match="cannot be read"):
            read_rows(tmp_path / name)


def test_the_sample_holds_validation_rows_of_the_shipped_data():
    whole = read_rows(data_folder() / "melts" / "liquidus.csv.xz")
    # Row count of the data's own description.
    assert len(whole) == 13991
    sample = read_rows(SAMPLE / "liquidus.csv")
    assert set(sample.split) == {"val"}
    assert not np.isin(sample.publication, whole.publication[whole.split == "train"]).any()
    assert np.isin(sample.glass, whole.glass).all()
