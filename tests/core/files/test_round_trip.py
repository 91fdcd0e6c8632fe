"""Rich files of each kind: loaded, saved and loaded again they are the same.

``GLOST_TORTURE=full`` tries a thousand of each, which takes a quarter of an hour.
"""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.blend.slop import Slop
from core.files import backups
from core.files.content import ABSENT, stamp_of_file
from core.firing import (
    Firing,
    FiringLog,
    Segment,
    SetPoint,
    WitnessCone,
    firing_from,
    firing_text,
    read_firing,
    write_firing,
)
from core.materials import Analysis
from core.oxides import OXIDES
from core.plain_yaml import parse
from core.recipe import Ingredient, Pin, Recipe, Variant
from core.recipe_file import read_recipe, recipe_from, recipe_text, save_recipe
from core.tiles.codes import LETTERS, NUMBERS, code_of
from core.tiles.result import GLOSS_ANGLES, Defect, Result, Surface
from core.tiles.run import Run, RunCorner, Tile
from core.tiles.run_file import read_run, run_from, run_text, save_run
from core.tiles.soundness import SoundnessTest, Subject, soundness_kinds

MANY = settings(
    max_examples=1000 if os.environ.get("GLOST_TORTURE") == "full" else 60,
    suppress_health_check=list(HealthCheck),
)
FILES = settings(
    max_examples=1000 if os.environ.get("GLOST_TORTURE") == "full" else 30,
    # The folder is shared by the examples; each takes a name of its own in it.
    suppress_health_check=list(HealthCheck),
)

ODD = (
    *("NO", "06", "~", "1e3", "=cmd", "a: b", "# x", "- y", "'", '"', "\\", "{[", "%", "@", "&a"),
    *(
        "*a",
        "\u00a0",
        "\u202e",
        "\u200b",
        "e\u0301",
        "\U0001f3fa",
        "\ufeff",
        "\u3000",
        "ﬀ",
        "<<",
        "yes",
    ),
)
WORDS = st.lists(st.sampled_from(ODD) | st.text("abzß é", max_size=5), max_size=4).map(" ".join)
LINE = WORDS | st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Cn")), max_size=9
)
NAME = LINE.filter(str.strip)
NOTES = st.text(st.sampled_from("aß\"# :-\n\t\r{}[]'&*!|>%é\u2028\x85"), max_size=30) | WORDS
AMOUNT = st.floats(0.0, 1e6) | st.integers(0, 100).map(float)
MAYBE = st.none() | AMOUNT
DAY = st.just("") | st.dates().map(str)
KEY = st.sampled_from(("jar", "NO", "06", "bin 7", "<<", "", " ", "späne", "x.y[0]", "k" * 130))
EXTRA = st.just({}) | st.dictionaries(
    KEY,
    st.recursive(
        NOTES,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEY, inner, max_size=3),
        max_leaves=6,
    ),
    max_size=2,
)


def _rows(most: int = 4) -> st.SearchStrategy[tuple[Ingredient, ...]]:
    row = st.builds(Ingredient, NAME, AMOUNT, st.booleans(), EXTRA)
    return st.lists(row, max_size=most).map(tuple)


FORMULA = st.sampled_from(("SiO2", "CaCO3", "Al2O3.2SiO2.2H2O", "3MgO.4SiO2.H2O"))
ANALYSIS = FORMULA.map(Analysis.from_formula) | st.builds(
    Analysis.from_percent,
    st.dictionaries(st.sampled_from(OXIDES), st.floats(0.0, 100.0), min_size=1, max_size=5),
    st.floats(-20.0, 100.0),
)
PIN = st.builds(Pin, NAME, ANALYSIS, LINE, st.lists(LINE, max_size=2).map(tuple), EXTRA)
PINNED = st.dictionaries(NAME, PIN, max_size=2)
VARIANT = st.builds(Variant, NAME, NOTES, _rows(3), _rows(2), DAY, LINE, EXTRA)
RECIPE = st.builds(
    Recipe,
    name=NAME,
    firing=LINE,
    body=LINE,
    shelf=LINE,
    base=_rows(),
    additions=_rows(2),
    variants=st.lists(VARIANT, max_size=3, unique_by=lambda v: v.name).map(tuple),
    based_on=LINE,
    notes=NOTES,
    pinned=PINNED,
    extra=EXTRA,
)

RATE = st.sampled_from(("60", "60,5", "full", "1e2", " 90"))
RAMP = st.builds(
    lambda rate, to, hold, extra: Segment(rate, to, hold, extra=extra),
    RATE,
    st.floats(400.0, 1400.0),
    st.floats(1.0, 600.0),
    EXTRA,
) | st.builds(
    lambda to, extra: Segment(rate_f_per_h="108", to_f=to, hold_min=5.0, extra=extra),
    st.floats(800.0, 2500.0),
    EXTRA,
)
OFF = st.lists(
    st.builds(lambda rate, extra: Segment(natural_cooling=rate, extra=extra),
              st.floats(20.0, 300.0), EXTRA),
    max_size=1,
)  # fmt: skip
SEGMENTS = st.lists(RAMP, min_size=1, max_size=4).flatmap(
    lambda ramps: OFF.map(lambda off: (*ramps, *off))
)
POINTS = st.lists(st.tuples(AMOUNT, MAYBE, MAYBE, EXTRA), max_size=3).map(
    lambda found: tuple(SetPoint(*one) for one in sorted(found, key=lambda one: one[0]))
)
WITNESS = st.builds(
    WitnessCone,
    LINE,
    st.sampled_from(("022", "010", "10", "06", "6", "05.5", "5.5")),
    st.just(12.0) | st.floats(1.0, 7.0),
    EXTRA,
)
LOG = st.builds(
    FiringLog,
    st.just("") | st.datetimes().map(lambda d: d.isoformat(" ", "minutes")),
    DAY,
    POINTS,
    st.lists(WITNESS, max_size=3).map(tuple),
    NOTES,
    LINE,
    EXTRA,
)
FIRING = st.builds(
    Firing,
    id=NAME,
    name=LINE,
    cone=st.sampled_from(("", "06", "6", "010", "10")),
    atmosphere=LINE,
    segments=SEGMENTS,
    note=NOTES,
    source=LINE,
    confidence=LINE,
    log=st.lists(LOG, max_size=3).map(tuple),
    extra=EXTRA,
)

DEFECT = st.builds(Defect, NAME, LINE, st.none() | st.floats(0.0, 100.0), EXTRA)
LEVEL = st.none() | st.integers(0, 3)
RESULT = st.builds(
    Result,
    surface=st.none() | st.sampled_from(Surface),
    touch=LINE,
    gloss_units=st.floats(0.0, 200.0),
    gloss_angle=st.none() | st.sampled_from(GLOSS_ANGLES),
    defects=st.lists(DEFECT, max_size=2).map(tuple),
    marks=LEVEL,
    cleans=LEVEL,
    thickness_mm=st.none() | st.floats(0.0, 20.0),
    body=LINE,
    shelf=LINE,
    local_cone=st.sampled_from(("", "06", "6", "010", "10")),
    cooling=LINE,
    photo=st.sampled_from(("", "IMG 1.JPG", "näh.png", "=x.png")),
    notes=NOTES,
    read=DAY,
    version=LINE,
    extra=EXTRA,
)
TEST = st.builds(
    SoundnessTest,
    st.sampled_from(list(soundness_kinds())),
    st.builds(Subject, LINE, LINE, LINE, LINE, LINE),
    st.dates().map(str),
    st.booleans(),
    note=NOTES,
    extra=EXTRA,
)
SLOP = st.none() | st.builds(
    Slop, st.none() | st.floats(1.0, 999.0), st.none() | st.floats(0.0, 999.0), extra=EXTRA
)
CORNERS = st.lists(
    st.builds(RunCorner, st.sampled_from("ABCD"), LINE, LINE, _rows(2), _rows(1), SLOP, EXTRA),
    max_size=3,
    unique_by=lambda corner: corner.letter,
).map(tuple)
TILE = st.builds(
    Tile,
    code=st.builds(code_of, st.sampled_from(LETTERS), st.integers(0, NUMBERS - 1)),
    label=LINE,
    row=st.integers(0, 20),
    column=st.integers(0, 20),
    recipe=LINE,
    variant=LINE,
    base=_rows(3),
    additions=_rows(2),
    result=st.none() | RESULT,
    tests=st.lists(TEST, max_size=2).map(tuple),
    extra=EXTRA,
)


def _shared(run: Run, share: Fraction) -> Run:
    shares = (share, *[Fraction(1) - share] * len(run.corners))[: len(run.corners)]
    return replace(run, tiles=tuple(replace(tile, shares=shares) for tile in run.tiles))


RUN = st.builds(
    _shared,
    st.builds(
        Run,
        name=NAME,
        blend=LINE,
        planned=DAY,
        fired=DAY,
        firing=LINE,
        firing_version=LINE,
        shelf=LINE,
        body=LINE,
        method=st.sampled_from(("", "wet", "dry")),
        cup_ml=st.none() | st.floats(0.1, 5000.0),
        batch_g=st.none() | st.floats(0.1, 1e6),
        specific_gravity=st.none() | st.floats(1.01, 4.0),
        reserve_percent=st.none() | st.floats(0.0, 100.0),
        corners=CORNERS,
        tiles=st.lists(TILE, max_size=3, unique_by=lambda tile: tile.code).map(tuple),
        pinned=PINNED,
        notes=NOTES,
        extra=EXTRA,
    ),
    st.fractions(0, 1, max_denominator=240),
)


@MANY
@given(RECIPE)
def test_rich_recipes_come_back_as_they_were(recipe):
    text = recipe_text(recipe)
    again = recipe_from(parse(text.encode("utf-8"), "t"))
    assert again == recipe
    assert recipe_text(again) == text


@MANY
@given(FIRING)
def test_rich_firings_come_back_as_they_were(firing):
    text = firing_text(firing)
    again = firing_from(parse(text.encode("utf-8"), "t"))
    assert again == firing
    assert firing_text(again) == text


@MANY
@given(RUN)
def test_rich_runs_come_back_as_they_were(run):
    text = run_text(run)
    again = run_from(parse(text.encode("utf-8"), "t"))
    assert again == run
    assert run_text(again) == text


def _through_a_file(folder, value, save, read, text_of):
    """Save, read and save again, as a bench does; nothing but the file is left."""
    path = folder / f"{len(os.listdir(folder))}.yaml"
    stamp = save(path, value, ABSENT)
    assert path.read_bytes() == text_of(value).encode("utf-8")
    assert read(path) == value
    assert save(path, value, stamp) == stamp == stamp_of_file(path)
    assert read(path) == value
    assert not [name for name in os.listdir(folder) if not name.endswith(".yaml")]


@FILES
@given(RECIPE)
def test_rich_recipes_come_back_from_their_files(tmp_path, recipe):
    _through_a_file(tmp_path, recipe, save_recipe, read_recipe, recipe_text)


@FILES
@given(FIRING)
def test_rich_firings_come_back_from_their_files(tmp_path, firing):
    _through_a_file(tmp_path, firing, write_firing, read_firing, firing_text)


@FILES
@given(RUN)
def test_rich_runs_come_back_from_their_files(tmp_path, run):
    _through_a_file(tmp_path, run, save_run, read_run, run_text)


@FILES
@given(RECIPE, RECIPE)
def test_a_recipe_saved_over_another_comes_back_and_the_other_is_kept(tmp_path, first, second):
    path = tmp_path / "a.yaml"
    save_recipe(path, first, None)
    stamp = save_recipe(path, second, stamp_of_file(path))
    assert read_recipe(path) == second
    assert stamp == stamp_of_file(path)
    if first != second:
        kept = [backups.read_version(version) for version in backups.versions(path)[:2]]
        assert kept == [recipe_text(second).encode(), recipe_text(first).encode()]
