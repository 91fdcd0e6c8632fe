"""Scores of the melt models on files of the data's format."""

from __future__ import annotations

import csv
import io
import json
import lzma
import subprocess
import sys

import numpy as np
import pytest

from core.melt.composition import COLUMN, MODELLED
from core.melt.expansion import fitted_expansion
from core.melt.liquidus import liquidus_c
from core.melt.score import main
from core.melt.viscosity import log10_viscosity

VALUES = {"viscosity": "log10_eta_Pa_s", "liquidus": "T_liquidus_C", "expansion": "cte_1e-6_per_K"}
# Invented compositions, one of each family.
GLASSES = {
    "magnesia": {"K2O": 0.05, "MgO": 0.09, "CaO": 0.08, "Al2O3": 0.11, "SiO2": 0.67},
    "boron": {"Na2O": 0.08, "CaO": 0.12, "B2O3": 0.08, "Al2O3": 0.08, "SiO2": 0.64},
    "lime": {"K2O": 0.06, "CaO": 0.15, "Al2O3": 0.11, "SiO2": 0.68},
}
FLAGS = {"split": "val", "core": "1", "twin": "0", "suspect": "0"}


def fractions(glass: dict[str, float]) -> np.ndarray:
    found = np.zeros(len(MODELLED))
    for oxide, amount in glass.items():
        found[COLUMN[oxide]] = amount
    return found


def predicted(prop: str, glass: dict[str, float], temperature: float = 1200.0) -> float:
    if prop == "viscosity":
        return float(log10_viscosity(fractions(glass), temperature))
    return float((liquidus_c if prop == "liquidus" else fitted_expansion)(fractions(glass)))


def row_of(prop, glass, publication, off, temperature=1200.0, **flags):
    """A row whose value lies `off` below the prediction."""
    row = {"ID": f"{publication}1_{publication}", "publication": publication, "year": "2000"}
    row |= FLAGS | flags
    row |= {oxide: str(glass.get(oxide, 0)) for oxide in MODELLED}
    if prop == "viscosity":
        row["T_C"] = str(temperature)
    row[VALUES[prop]] = repr(predicted(prop, glass, temperature) - off)
    return row


def write(path, rows, without=()):
    text = io.StringIO()
    names = [name for name in rows[0] if name not in without]
    table = csv.DictWriter(text, names, extrasaction="ignore", lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    data = text.getvalue().encode()
    path.write_bytes(lzma.compress(data) if path.suffix == ".xz" else data)
    return str(path)


def scored(capsys, *arguments):
    assert main([*arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_rows_publications_and_errors_are_counted(tmp_path, capsys):
    rows = [
        row_of("expansion", GLASSES["lime"], "1", 0.3),
        row_of("expansion", GLASSES["boron"], "1", -0.4),
        row_of("expansion", GLASSES["magnesia"], "2", 0.0),
    ]
    groups = scored(capsys, write(tmp_path / "a.csv", rows))["expansion"]["groups"]
    assert groups["core"]["rows"] == 3
    assert groups["core"]["publications"] == 2
    assert groups["core"]["rmse"] == pytest.approx((0.25 / 3) ** 0.5, abs=1e-5)
    assert groups["core"]["mae"] == pytest.approx(0.7 / 3, abs=1e-5)
    assert set(groups) == {"core", "clean"}


def test_suspects_twins_and_the_belt_count_where_they_should(tmp_path, capsys):
    lime = GLASSES["lime"]
    rows = [
        row_of("liquidus", lime, "1", 10.0),
        row_of("liquidus", lime, "2", 100.0, suspect="1"),
        row_of("liquidus", lime, "3", 100.0, twin="1"),
        row_of("liquidus", lime, "4", 100.0, core="0"),
    ]
    groups = scored(capsys, write(tmp_path / "a.csv.xz", rows))["liquidus"]["groups"]
    assert groups["core"]["rows"] == 3
    assert groups["clean"] == {
        "rows": 1,
        "publications": 1,
        "rmse": pytest.approx(10.0, abs=1e-3),
        "mae": pytest.approx(10.0, abs=1e-3),
    }


@pytest.mark.parametrize("prop", ["viscosity", "liquidus"])
def test_families_are_told_apart(tmp_path, capsys, prop):
    rows = [
        row_of(prop, glass, str(number), float(number))
        for number, glass in enumerate(GLASSES.values(), 1)
    ]
    groups = scored(capsys, write(tmp_path / "a.csv", rows))[prop]["groups"]
    found = [groups[f"clean_{name}"]["rmse"] for name in FAMILY_NAMES]
    assert found == pytest.approx([1.0, 2.0, 3.0], abs=1e-3)


FAMILY_NAMES = ("magnesia_rich", "boron_bearing", "alkali_lime")


def test_viscosity_is_scored_alone_in_the_range_of_firing(tmp_path, capsys):
    at = [(999.0, 5.0), (1000.0, 0.1), (1350.0, 0.1), (1351.0, 5.0)]
    rows = [row_of("viscosity", GLASSES["lime"], "1", off, degrees) for degrees, off in at]
    groups = scored(capsys, write(tmp_path / "a.csv", rows))["viscosity"]["groups"]
    assert groups["core_1000_1350_c"]["rows"] == groups["clean_1000_1350_c"]["rows"] == 2
    assert groups["clean_1000_1350_c"]["rmse"] == pytest.approx(0.1, abs=1e-4)
    assert groups["core"]["rows"] == 4


def test_files_of_one_property_are_joined_and_of_several_told_apart(tmp_path, capsys):
    one = write(tmp_path / "a.csv", [row_of("expansion", GLASSES["lime"], "1", 0.1)])
    two = write(tmp_path / "b.csv", [row_of("expansion", GLASSES["boron"], "2", 0.1)])
    three = write(tmp_path / "c.csv", [row_of("liquidus", GLASSES["lime"], "1", 1.0)])
    found = scored(capsys, one, two, three)
    assert found["expansion"]["groups"]["core"]["publications"] == 2
    assert found["liquidus"]["groups"]["core"]["rows"] == 1


def test_flags_split_and_publication_may_be_missing(tmp_path, capsys):
    rows = [row_of("expansion", GLASSES["lime"], str(number), 0.2) for number in (1, 2, 3)]
    path = write(tmp_path / "a.csv", rows, ["publication", "year", *FLAGS])
    for more in ([], ["--split", "val"]):
        groups = scored(capsys, path, *more)["expansion"]["groups"]
        assert groups["clean"]["rows"] == groups["clean"]["publications"] == 3


def test_a_split_may_be_picked(tmp_path, capsys):
    lime = GLASSES["lime"]
    rows = [
        row_of("expansion", lime, "1", 0.2, split="train"),
        row_of("expansion", lime, "2", 0.6),
    ]
    path = write(tmp_path / "a.csv", rows)
    for split, count, rmse in (("all", 2, 0.2**0.5), ("train", 1, 0.2), ("val", 1, 0.6)):
        core = scored(capsys, path, "--split", split)["expansion"]["groups"]["core"]
        assert core["rows"] == count
        assert core["rmse"] == pytest.approx(rmse, abs=1e-4)


def test_an_empty_group_has_no_error_rather_than_nan(tmp_path, capsys):
    path = write(tmp_path / "a.csv", [row_of("expansion", GLASSES["lime"], "1", 0.2, core="0")])
    empty = {"rows": 0, "publications": 0, "rmse": None, "mae": None}
    assert scored(capsys, path)["expansion"]["groups"]["core"] == empty
    assert main([path]) == 0
    assert "nan" not in capsys.readouterr().out


def test_the_table_for_people_names_every_group_and_unit(tmp_path, capsys):
    path = write(tmp_path / "a.csv", [row_of("viscosity", GLASSES["lime"], "1", 0.25)])
    assert main([path]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == [
        "viscosity",
        "[log10",
        "Pa·s]",
        "rows",
        "publications",
        "RMSE",
        "MAE",
    ]
    assert lines[1].split() == ["core", "1", "1", "0.250", "0.250"]
    assert len(lines) == 8


def spoilt(rows, **changes):
    return [{**rows[0], **changes}]


SPOILT = {
    "no number": {"SiO2": "much"},
    "not finite": {"cte_1e-6_per_K": "nan"},
    "negative": {"CaO": "-0.2"},
    "nothing": dict.fromkeys(MODELLED, "0"),
    "empty": {"cte_1e-6_per_K": ""},
}


@pytest.mark.parametrize("changes", SPOILT.values(), ids=SPOILT.keys())
def test_bad_rows_end_in_one_line(tmp_path, capsys, changes):
    rows = spoilt([row_of("expansion", GLASSES["lime"], "1", 0.2)], **changes)
    path = write(tmp_path / "a.csv", rows)
    assert main([path, "--json"]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 1
    assert path in captured.err


BAD_FILES = {
    "absent.csv": None,
    "empty.csv": b"",
    "header.csv": b"ID,T_C\n",
    "binary.csv": b"\xff\xfe\x00\x81",
    "truncated.csv.xz": lzma.compress(b"ID,SiO2\n" * 100)[:-20],
    "plain.csv.xz": b"ID,SiO2\n",
    "nul.csv": b"ID,SiO2\n1,\x00\n",
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_files_end_in_one_line(tmp_path, capsys, name):
    path = tmp_path / name
    if BAD_FILES[name] is not None:
        path.write_bytes(BAD_FILES[name])
    assert main([str(path)]) == 1
    error = capsys.readouterr().err.strip()
    assert len(error.splitlines()) == 1
    assert name in error


def test_a_folder_and_a_file_without_rows_end_in_one_line(tmp_path, capsys):
    rows = [row_of("expansion", GLASSES["lime"], "1", 0.2)]
    bare = tmp_path / "bare.csv"
    write(bare, rows)
    bare.write_bytes(bare.read_bytes().split(b"\n")[0] + b"\n")
    for path in (tmp_path, bare):
        assert main([str(path)]) == 1
        assert len(capsys.readouterr().err.strip().splitlines()) == 1


CUTS = {
    "cut short": lambda data: data.rstrip().rpartition(b",")[0] + b"\n",
    "one cell more": lambda data: data.rstrip() + b",7\n",
}


@pytest.mark.parametrize("suffix", [".csv", ".csv.xz"])
@pytest.mark.parametrize("cut", CUTS.values(), ids=CUTS.keys())
def test_an_uneven_row_is_refused_by_its_line(tmp_path, capsys, cut, suffix):
    path = tmp_path / f"a{suffix}"
    plain = tmp_path / "plain.csv"
    write(plain, [row_of("expansion", GLASSES["lime"], "1", 0.2)] * 2)
    data = cut(plain.read_bytes())
    path.write_bytes(lzma.compress(data) if suffix == ".csv.xz" else data)
    assert main([str(path)]) == 1
    error = capsys.readouterr().err.strip()
    assert len(error.splitlines()) == 1
    assert f"line {len(data.splitlines())}" in error


def test_blank_lines_count_for_nothing(tmp_path, capsys):
    path = tmp_path / "a.csv"
    write(path, [row_of("expansion", GLASSES["lime"], "1", 0.2)] * 2)
    path.write_bytes(path.read_bytes() + b"\n\r\n")
    assert scored(capsys, str(path))["expansion"]["groups"]["core"]["rows"] == 2


def test_it_runs_as_a_program_without_warnings(tmp_path):
    path = write(tmp_path / "a.csv", [row_of("expansion", GLASSES["lime"], "1", 0.2)])
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "core.melt.score", path, "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["expansion"]["unit"] == "1e-6/K"
