"""Machines: each has its letter in a studio and its count, and they never clash."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

import core
from core.errors import InputError
from core.files import backups
from core.files.saving import ChangedOutside
from core.studio import begin_studio
from core.tiles import machine
from core.tiles.codes import LETTERS, NUMBERS, number_of
from core.tiles.machine import HeldLetter, begin_of, clashes, held_letters, take_codes


@pytest.fixture
def folder(tmp_path) -> Path:
    target = tmp_path / "studio"
    target.mkdir()
    begin_studio(target, "Invented")
    return target


def test_two_machines_offline_never_clash(tmp_path, folder):
    first = list(take_codes(tmp_path / "one", folder, 20))
    second = list(take_codes(tmp_path / "two", folder, 20))
    # From here on each works on a copy of its own and sees nothing of the other.
    copies = [tmp_path / "copy one", tmp_path / "copy two"]
    for copy in copies:
        shutil.copytree(folder, copy)
    for _ in range(25):
        first += take_codes(tmp_path / "one", copies[0], 40)
        second += take_codes(tmp_path / "two", copies[1], 40)
    assert len(set(first + second)) == 2 * (20 + 25 * 40)
    assert {code[0] for code in first}.isdisjoint({code[0] for code in second})


def test_a_machine_counts_on_over_runs_and_studios(tmp_path, folder):
    other = tmp_path / "other"
    other.mkdir()
    begin_studio(other, "Another")
    codes = [
        *take_codes(tmp_path / "m", folder, 3),
        *take_codes(tmp_path / "m", other, 3),
        *take_codes(tmp_path / "m", folder, 3),
    ]
    first = number_of(codes[0])[1]
    assert [number_of(code)[1] for code in codes] == [(first + n) % NUMBERS for n in range(9)]


def test_machines_that_claim_in_copies_that_never_met_give_different_codes(tmp_path, folder):
    # Whatever letters they take: with 21 letters for 60 machines many of them share one.
    given = []
    for n in range(60):
        copy, state = tmp_path / f"copy {n}", tmp_path / f"machine {n}"
        shutil.copytree(folder, copy)
        state.mkdir()
        # Ids as fixed as the outcome; a real machine draws its own.
        text = f'glost: "1"\nkind: machine-state\nid: "{n:016x}"\nnext: "0"\n'
        (state / "machine.yaml").write_text(text, encoding="utf-8")
        given.append(take_codes(state, copy, 60))
    letters = [codes[0][0] for codes in given]
    assert len(set(letters)) < len(letters)
    everything = [code for codes in given for code in codes]
    # 60 machines are 1,770 pairs; 1 in 94,000 pairs with 60 codes each is expected to meet.
    assert len(set(everything)) == len(everything)


def test_the_places_to_begin_are_spread_evenly():
    # Pearson's chi-square over 20 cells, 19 degrees of freedom: 43.8 is its 0.1 % point
    # (published table, from memory). The ids are fixed, so that the figure is too.
    cells = Counter(begin_of(f"{n:016x}") * 20 // NUMBERS for n in range(10_000))
    assert sum((count - 500) ** 2 / 500 for count in cells.values()) < 43.8


def test_a_copied_studio_on_one_machine_repeats_nothing(tmp_path, folder):
    first = take_codes(tmp_path / "m", folder, 5)
    shutil.copytree(folder, tmp_path / "copy")
    again = take_codes(tmp_path / "m", tmp_path / "copy", 5)
    third = take_codes(tmp_path / "m", folder, 5)
    assert len({*first, *again, *third}) == 15


def test_a_machine_that_lost_its_count_goes_on_behind_what_the_studio_knows(tmp_path, folder):
    state = tmp_path / "m"
    codes = take_codes(state, folder, 5)
    kept = (state / "machine.yaml").read_text(encoding="utf-8")
    (state / "machine.yaml").write_text(kept.replace('next: "5"', 'next: "0"'), encoding="utf-8")
    again = take_codes(state, folder, 5)
    assert not set(again) & set(codes)
    # Even if the letter's file is older than the runs.
    (state / "machine.yaml").write_text(kept.replace('next: "5"', 'next: "0"'), encoding="utf-8")
    letter = codes[0][0]
    claim = folder / "machines" / f"{letter}.yaml"
    claim.write_text(claim.read_text("utf-8").replace('next: "10"', 'next: "0"'), "utf-8")
    new = take_codes(state, folder, 12, known=["no code", *codes, *again])
    assert not {*codes, *again} & set(new)


def test_a_machine_that_lost_everything_becomes_another(tmp_path, folder):
    codes = take_codes(tmp_path / "m", folder, 5)
    shutil.rmtree(tmp_path / "m")
    new = take_codes(tmp_path / "m", folder, 5)
    assert codes[0][0] != new[0][0]


def test_a_contested_letter_is_left(tmp_path, folder):
    codes = take_codes(tmp_path / "m", folder, 1)
    claim = folder / "machines" / f"{codes[0][0]}.yaml"
    text = claim.read_text("utf-8").replace('machine: "', 'machine: "f')
    (folder / "machines" / "from another copy.yaml").write_text(text, "utf-8")
    assert clashes(held_letters(folder), [])
    new = take_codes(tmp_path / "m", folder, 3)
    more = take_codes(tmp_path / "m", folder, 3)
    assert codes[0][0] not in {code[0] for code in new + more}
    assert len({code[0] for code in new + more}) == 1
    assert len({*codes, *new, *more}) == 7


def test_clashes_are_named():
    letters = [HeldLetter("K", "one"), HeldLetter("K", "two"), HeldLetter("L", "three")]
    said = clashes(letters, ["KHJLQ", "LHJLQ", "KHJLQ", "KHJLQ"])
    assert len(said) == 2
    assert "letter K" in said[0]
    assert "KHJLQ" in said[1]
    assert clashes(letters[1:], ["KHJLQ", "LHJLQ"]) == []


def test_letters_run_out_in_words(tmp_path, folder):
    seen = {take_codes(tmp_path / str(n), folder, 1)[0][0] for n in range(len(LETTERS))}
    assert seen == set(LETTERS)
    with pytest.raises(InputError, match="all 21 letters"):
        take_codes(tmp_path / "late", folder, 1)


def test_codes_run_out_in_words(tmp_path, folder):
    take_codes(tmp_path / "m", folder, 1)
    path = tmp_path / "m" / "machine.yaml"
    path.write_text(path.read_text("utf-8").replace('next: "1"', f'next: "{NUMBERS - 1}"'), "utf-8")
    assert len(take_codes(tmp_path / "m", folder, 1)) == 1
    with pytest.raises(InputError, match="has given its"):
        take_codes(tmp_path / "m", folder, 1)
    with pytest.raises(InputError):
        take_codes(tmp_path / "m", folder, 0)


def test_two_windows_of_one_machine_never_give_the_same(tmp_path, folder):
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from core.tiles.machine import take_codes\n"
        "for _ in range(12):\n"
        "    print(*take_codes(Path(sys.argv[1]), Path(sys.argv[2]), 5))\n"
    )
    windows = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path / "m"), str(folder)],
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(core.__file__).parent.parent,
        )
        for _ in range(2)
    ]
    given = [code for window in windows for code in window.communicate(timeout=60)[0].split()]
    assert [window.returncode for window in windows] == [0, 0]
    assert len(given) == len(set(given)) == 120
    assert len({code[0] for code in given}) == 1


def test_a_full_disk_gives_no_codes_and_takes_none_back(tmp_path, folder, monkeypatch):
    before = take_codes(tmp_path / "m", folder, 2)

    def refuse(*_):
        raise OSError("no space left on the disk")

    with monkeypatch.context() as broken:
        broken.setattr("core.tiles.machine.write_in_place", refuse)
        with pytest.raises(OSError, match="no space"):
            take_codes(tmp_path / "m", folder, 2)
    assert not set(take_codes(tmp_path / "m", folder, 2)) & set(before)


def test_what_a_person_wrote_into_the_file_of_a_letter_stays_and_earlier_versions_are_kept(
    tmp_path, folder
):
    letter = take_codes(tmp_path / "m", folder, 2)[0][0]
    path = folder / "machines" / f"{letter}.yaml"
    by_hand = f'# the laptop by the kiln\n{path.read_text("utf-8")}shelf: "7"  # upper\n'
    path.write_text(by_hand, "utf-8")
    take_codes(tmp_path / "m", folder, 3)
    assert path.read_text("utf-8") == by_hand.replace('next: "2"', 'next: "5"')
    assert held_letters(folder)[0].extra == {"shelf": "7"}
    assert backups.versions(path)[1].path.read_text("utf-8") == by_hand


def test_a_letter_that_another_wrote_meanwhile_is_not_written_over(tmp_path, folder, monkeypatch):
    letter = take_codes(tmp_path / "m", folder, 2)[0][0]
    path = folder / "machines" / f"{letter}.yaml"
    write_state = machine._write_state

    def meddle(*arguments):
        path.write_text(path.read_text("utf-8") + 'shelf: "7"\n', "utf-8")
        write_state(*arguments)

    monkeypatch.setattr(machine, "_write_state", meddle)
    with pytest.raises(ChangedOutside):
        take_codes(tmp_path / "m", folder, 2)
    assert held_letters(folder)[0].next == 2
    monkeypatch.undo()
    assert take_codes(tmp_path / "m", folder, 2)
    assert held_letters(folder)[0].extra == {"shelf": "7"}
