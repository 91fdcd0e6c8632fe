"""Run files: what is read, what is refused and where, and how they are saved."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import core.files.saving
from core.blend.slop import Slop
from core.errors import InputError
from core.plain_yaml import parse
from core.recipe import Ingredient
from core.studio import open_studio
from core.tables import data_folder
from core.tiles.codes import LETTERS, NUMBERS, code_of
from core.tiles.result import GLOSS_ANGLES, Defect, Result, Surface
from core.tiles.run import Run, RunCorner, Tile
from core.tiles.run_file import read_run, run_from, run_text, save_run
from core.tiles.soundness import SoundnessTest, Subject, soundness_kinds

FULL = """\
glost: "1"
kind: run
name: "Häfen, Talk"
blend: "line blend"
planned: "2031-02-01"
fired: "2031-02-09"
firing: "cone-10-medium"
shelf: "top"
body: "stoneware"
method: "wet"
cup_ml: "50"
corners:
  [{letter: "A", name: "most talc", base: [{material: talc, parts: "60"}], jar: "7",
    measured: {dry_g: "300", water_g: "250,5", by: "cylinder"}}, {letter: "B"}]
tiles:
  - code: "KHJLQ"
    label: "A 100"
    row: "0"
    column: "2"
    shares: ["5/24", "19/24"]
    base:
      - {material: "talc", parts: "60,5", bin: "3"}
      - {material: "silica", parts: "39.5"}
    result:
      surface: "silky matte"
      gloss_units: "18,5"
      gloss_angle: "60"
      defects:
        - {name: "pinholes", place: "rim", share_percent: "5", seen_by: "lens"}
      marks: "1"
      cleans: "0"
      local_cone: "06"
      notes: |
        Two lines,
        of notes: with # signs.
      mood: "hopeful"
    tests:
      - {kind: "acid", day: "2031-02-12", passed: yes, recipe: "Heron", jar: "blue"}
    saggar: {lid: "no"}
pinned:
  silica: {formula: "SiO2"}
weather: ["rain", "wind"]
"""


def _read(text: str) -> Run:
    return run_from(parse(text, "sample.yaml"))


def test_everything_in_a_run_is_read():
    run = _read(FULL)
    (tile,) = run.tiles
    assert tile.shares == (Fraction(5, 24), Fraction(19, 24))
    assert tile.base[0] == Ingredient("talc", 60.5, extra={"bin": "3"})
    result = tile.result
    assert result is not None
    assert result.surface is Surface.SILKY_MATTE
    assert (result.gloss_units, result.gloss_angle) == (18.5, 60.0)
    assert (result.marks, result.cleans) == (1, 0)
    assert result.local_cone == "06"  # text: never 6
    assert result.notes == "Two lines,\nof notes: with # signs.\n"
    assert tile.tests[0].passed
    assert run.pinned["silica"].analysis.formula == "SiO2"


def test_unknown_keys_are_kept_and_written_back():
    run = _read(FULL)
    again = _read(run_text(run))
    assert again == run
    (tile,) = again.tiles
    assert again.extra == {"weather": ["rain", "wind"]}
    assert again.corners[0].extra == {"jar": "7"}
    assert again.corners[0].measured == Slop(300.0, 250.5, extra={"by": "cylinder"})
    assert tile.extra == {"saggar": {"lid": "no"}}
    assert tile.result is not None
    assert tile.result.extra == {"mood": "hopeful"}
    assert tile.result.defects[0].extra == {"seen_by": "lens"}
    assert tile.tests[0].extra == {"jar": "blue"}
    assert run_text(again) == run_text(run)


@pytest.mark.parametrize(
    ("old", "new", "line", "path"),
    [
        ('name: "Häfen, Talk"', 'name: ""', 3, "name"),
        ('fired: "2031-02-09"', 'fired: "9 Feb"', 6, "fired"),
        ('fired: "2031-02-09"', 'fired: "20310209"', 6, "fired"),
        ('cup_ml: "50"', 'cup_ml: "-50"', 11, "cup_ml"),
        ('cup_ml: "50"', 'cup_ml: "0"', 11, "cup_ml"),
        ('cup_ml: "50"', 'cup_ml: "5001"', 11, "cup_ml"),
        ('cup_ml: "50"', 'batch_g: "0"', 11, "batch_g"),
        ('cup_ml: "50"', 'specific_gravity: "1"', 11, "specific_gravity"),
        ('cup_ml: "50"', 'specific_gravity: "145"', 11, "specific_gravity"),
        ('method: "wet"', 'method: "magic"', 10, "method"),
        ('fired: "2031-02-09"', 'fired: "2031-02-29"', 6, "fired"),
        ('{letter: "B"}', '{letter: "A"}', 14, "corners[1].letter"),
        ('"5/24", "19/24"', '"1"', 20, "tiles[0].shares"),
        ('"5/24", "19/24"', '"5/24", "9/24", "10/24"', 20, "tiles[0].shares"),
        ('water_g: "250,5"', 'water_g: "-1"', 14, "corners[0].measured"),
        ('code: "KHJLQ"', 'code: "KHJL0"', 16, "tiles[0].code"),
        ('code: "KHJLQ"', 'code: "khjlq"', 16, "tiles[0].code"),
        ('row: "0"', 'row: "0.5"', 18, "tiles[0].row"),
        ('"5/24"', '"5/0"', 20, "tiles[0].shares[0]"),
        ('parts: "60,5"', 'parts: "x"', 22, "tiles[0].base[0].parts"),
        ('"silky matte"', '"eggshell"', 25, "tiles[0].result.surface"),
        ('gloss_angle: "60"', 'gloss_angle: "45"', 27, "tiles[0].result.gloss_angle"),
        ('share_percent: "5"', 'share_percent: "500"', 29, "defects[0].share_percent"),
        ('marks: "1"', 'marks: "1.5"', 30, "tiles[0].result.marks"),
        ('marks: "1"', 'marks: "4"', 30, "tiles[0].result.marks"),
        ('local_cone: "06"', 'local_cone: "0006"', 32, "tiles[0].result.local_cone"),
        ('kind: "acid"', 'kind: "lick"', 38, "tiles[0].tests[0].kind"),
        ("passed: yes", "passed: perhaps", 38, "tiles[0].tests[0].passed"),
        ('formula: "SiO2"', 'formula: "Xx"', 41, "pinned.silica"),
        ("weather:", "name:", 42, ""),
    ],
)
def test_faults_are_named_with_line_and_place(old, new, line, path):
    assert FULL.count(old) == 1
    with pytest.raises(InputError) as caught:
        _read(FULL.replace(old, new))
    assert caught.value.line == line
    assert path in caught.value.path
    assert str(caught.value).startswith("sample.yaml")
    assert str(caught.value).isprintable()


def test_a_code_may_stand_once():
    tile = '  - {code: "KHJLQ"}\n'
    with pytest.raises(InputError, match="repeats the code KHJLQ") as fault:
        _read(f'glost: "1"\nkind: run\nname: "R"\ntiles:\n{tile}{tile}')
    assert fault.value.line == 6


@pytest.mark.parametrize("key", ["tiles", "corners", "pinned"])
def test_a_key_without_a_value_is_an_empty_list(key):
    assert _read(f'glost: "1"\nkind: run\nname: "R"\n{key}:\n') == Run("R")


_LINE = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), max_size=9
)
_NOTES = st.text(st.sampled_from("aß\"# :-\n{}[]'&*!|>%é"), max_size=30)
_FIGURE = st.floats(0.0, 100.0)
_ROWS = st.lists(
    st.builds(Ingredient, st.sampled_from(["talc", "silica", "whiting"]), _FIGURE), max_size=3
).map(tuple)
_DAY = st.dates().map(str)
_DEFECT = st.builds(Defect, st.sampled_from(["pinholes", "crazing"]), _LINE, st.none() | _FIGURE)
_LEVEL = st.none() | st.integers(0, 3)
_RESULT = st.builds(
    Result,
    surface=st.none() | st.sampled_from(Surface),
    touch=_LINE,
    gloss_units=_FIGURE,
    gloss_angle=st.none() | st.sampled_from(GLOSS_ANGLES),
    defects=st.lists(_DEFECT, max_size=2).map(tuple),
    marks=_LEVEL,
    cleans=_LEVEL,
    thickness_mm=st.none() | st.floats(0.0, 20.0),
    body=_LINE,
    local_cone=st.sampled_from(["", "06", "6", "10"]),
    photo=st.sampled_from(["", "IMG 1.JPG", "näh.png"]),
    notes=_NOTES,
    read=st.just("") | _DAY,
    version=_LINE,
)
_TEST = st.builds(
    SoundnessTest,
    st.sampled_from(list(soundness_kinds())),
    st.builds(Subject, _LINE, _LINE, _LINE, _LINE, _LINE),
    _DAY,
    st.booleans(),
    note=_NOTES,
)
_TILE = st.builds(
    Tile,
    code=st.builds(code_of, st.sampled_from(LETTERS), st.integers(0, NUMBERS - 1)),
    label=_LINE,
    row=st.integers(0, 20),
    column=st.integers(0, 20),
    shares=st.lists(st.fractions(0, 1, max_denominator=240), max_size=4).map(tuple),
    base=_ROWS,
    additions=_ROWS,
    result=st.none() | _RESULT,
    tests=st.lists(_TEST, max_size=2).map(tuple),
)
_SLOP = st.none() | st.builds(Slop, st.none() | st.floats(1.0, 999.0), st.none() | _FIGURE)


def _fitting(run: Run) -> Run:
    """Give each tile as many shares as there are corners, where there are any."""
    many = len(run.corners)
    if not many:
        return run
    tiles = (replace(t, shares=(*t.shares, *[Fraction(0)] * many)[:many]) for t in run.tiles)
    return replace(run, tiles=tuple(tiles))


_RUN = st.builds(
    Run,
    name=_LINE.filter(str.strip),
    planned=st.just("") | _DAY,
    body=_LINE,
    method=st.sampled_from(["", "wet", "dry"]),
    cup_ml=st.none() | st.floats(0.0, 5000.0, exclude_min=True),
    corners=st.lists(
        st.builds(RunCorner, st.sampled_from("ABCD"), _LINE, _LINE, _ROWS, _ROWS, _SLOP),
        max_size=2,
        unique_by=lambda corner: corner.letter,
    ).map(tuple),
    tiles=st.lists(_TILE, max_size=3, unique_by=lambda tile: tile.code).map(tuple),
    notes=_NOTES,
).map(_fitting)


@given(_RUN)
def test_any_run_comes_back_as_it_was(run):
    text = run_text(run)
    again = _read(text)
    assert again == run
    assert run_text(again) == text


def test_a_planned_and_read_run_comes_back_as_it_was(run, tmp_path):
    read = run.with_result(run.tiles[0].code, Result(Surface.GLOSSY, notes="one\ntwo"))
    read = read.with_test(run.tiles[0].code, "acid", "2031-02-12", False, "grey")
    save_run(tmp_path / "r.yaml", read, None)
    assert read_run(tmp_path / "r.yaml") == read


def test_a_failed_save_leaves_the_old_file_and_no_litter(run, tmp_path, monkeypatch):
    path = tmp_path / "r.yaml"
    save_run(path, run, None)
    before = path.read_bytes()

    def refuse(*_):
        raise OSError("no space left")

    monkeypatch.setattr(core.files.saving.os, "replace", refuse)
    with pytest.raises(OSError, match="no space"):
        save_run(path, replace(run, notes="new"), None)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["r.yaml"]


def test_what_would_not_read_back_is_not_saved(run, tmp_path):
    with pytest.raises(InputError):
        save_run(tmp_path / "r.yaml", replace(run, name=""), None)
    assert not list(tmp_path.iterdir())


def test_the_demo_s_run_is_sound_and_says_that_it_is_invented():
    folder = data_folder() / "demo-studio"
    studio = open_studio(folder)
    (path,) = studio.run_paths()
    run = read_run(path)
    assert len(run.tiles) == 11
    assert "nvented" in run.notes
    assert "Not for food" in run.notes
    assert all(tile.result is not None and "nvented" in tile.result.notes for tile in run.tiles)
    assert run.oddities() == ()
    assert run.firing in studio.firings
