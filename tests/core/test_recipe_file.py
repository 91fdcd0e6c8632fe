"""Recipe files: what is read, what is refused and where, and how they are saved."""

from __future__ import annotations

import os
import stat
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import InputError
from core.evaluate import evaluate, pins_of
from core.files import disk
from core.formula import State
from core.materials import Analysis
from core.oxides import OXIDES
from core.plain_yaml import parse, read_file
from core.recipe import Ingredient, Pin, Recipe, Section, Variant
from core.recipe_file import (
    read_recipe,
    recipe_from,
    recipe_text,
    save_recipe,
    with_analysis_pins,
)
from core.variants import save_variant

DAY = "2026-11-25"

FULL = """\
glost: "1"
kind: recipe
name: "Häfen, grün"
firing: "cone-10-medium"
body: "stoneware"
base:
  - {material: "potash-feldspar", parts: "42", locked: yes, bin: "7"}
  - {material: "whiting", parts: "12,5"}
additions:
  - {material: "tin-oxide", parts: "5"}
variants:
  - name: "A"
    reason: "the start"
    saved: "2026-11-25"
    based_on: ""
    base:
      - {material: "potash-feldspar", parts: "40", shelf: ["left", "top"]}
    additions: []
    mood: "hopeful"
based_on: "A"
notes: |
  Two lines,
  of notes: with # signs.
pinned:
  whiting:
    name: "Whiting"
    analysis: {CaO: "55.2"}
    loi: "43.9"
    tolerance_percent: {CaO: "1"}
    source: "a sheet"
  potash-feldspar: {formula: "K2O.Al2O3.6SiO2"}
photo: "a.jpg"
kiln: {shelves: ["1", "2"], lid: {open: "no"}}
"""


def _read(text: str | bytes) -> Recipe:
    return recipe_from(parse(text, "sample.yaml"))


def _fault(text: str | bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        _read(text)
    message = str(caught.value)
    assert message.isprintable()
    assert message.startswith("sample.yaml")
    return caught.value


def _with(text: str, old: str, new: str) -> str:
    assert text.count(old) == 1
    return text.replace(old, new)


def test_the_fixture_reads_as_it_stands(fixture_recipe):
    assert fixture_recipe.name == "Fixture"
    assert fixture_recipe.firing == "cone-10-medium"
    assert fixture_recipe.body == "stoneware"
    assert [(r.material, r.amount) for r in fixture_recipe.base] == [
        ("potash-feldspar", 42.0),
        ("talc", 16.0),
        ("whiting", 12.0),
        ("kaolin", 20.0),
        ("silica", 10.0),
    ]
    assert fixture_recipe.additions == fixture_recipe.variants == ()


def test_a_file_with_everything_reads_as_it_stands():
    recipe = _read(FULL)
    assert recipe.name == "Häfen, grün"
    assert recipe.base[0].locked
    assert not recipe.base[1].locked
    assert recipe.base[1].amount == 12.5
    assert recipe.notes == "Two lines,\nof notes: with # signs.\n"
    assert recipe.based_on == "A"
    assert recipe.pinned["whiting"].analysis == Analysis.from_percent(
        {"CaO": 55.2}, 43.9, tolerance={"CaO": 1}
    )
    assert recipe.pinned["potash-feldspar"].analysis.formula == "K2O.Al2O3.6SiO2"


def test_unknown_keys_are_kept_and_written_back():
    # Source: design, section 6.
    recipe = _read(FULL)
    assert recipe.extra == {
        "photo": "a.jpg",
        "kiln": {"shelves": ["1", "2"], "lid": {"open": "no"}},
    }
    assert recipe.base[0].extra == {"bin": "7"}
    assert recipe.variants[0].extra == {"mood": "hopeful"}
    assert recipe.variants[0].base[0].extra == {"shelf": ["left", "top"]}
    text = recipe_text(recipe)
    assert _read(text) == recipe
    for word in ('bin: "7"', "mood", "left", "photo", "lid"):
        assert word in text


def test_unknown_keys_of_rows_survive_an_edit():
    recipe = _read(FULL).with_amount(Section.BASE, 0, 43.0)
    recipe = save_variant(recipe.with_lock(Section.BASE, 0, False), "more", DAY)
    again = _read(recipe_text(recipe))
    assert again.base[0].extra == {"bin": "7"}
    assert again.variants[1].base[0].extra == {"bin": "7"}
    assert again.variants[0].extra == {"mood": "hopeful"}


def test_unknown_keys_of_a_pinned_analysis_are_kept_and_written_back():
    # Source: design, section 6: unknown keys are kept and written back.
    text = _with(FULL, '    source: "a sheet"\n', '    source: "a sheet"\n    delivered: "May"\n')
    assert "delivered" in recipe_text(_read(text))


def test_unknown_materials_are_kept_and_computed_as_incomplete(studio):
    # Source: design, section 6: never read as zero in silence.
    recipe = _read(_with(FULL, '"whiting", parts', '"moon-dust", parts'))
    evaluation = evaluate(recipe, studio)
    assert evaluation.missing == ("moon-dust",)
    assert State.INCOMPLETE in evaluation.formula.states
    assert 'material: "moon-dust", parts: "12.5"' in recipe_text(recipe)


def test_every_beginning_of_a_file_is_read_or_refused_in_one_line():
    data = FULL.encode("utf-8")
    faults = []
    for end in range(len(data)):
        try:
            recipe_from(parse(data[:end], "sample.yaml"))
        except InputError as fault:
            faults.append(fault)
    assert 0 < len(faults) < len(data)
    for fault in faults:
        assert str(fault).isprintable()
        assert str(fault).startswith("sample.yaml")
        assert fault.line is not None or "is empty" in str(fault)
    assert recipe_from(parse(data, "sample.yaml")).name == "Häfen, grün"


@pytest.mark.parametrize(
    ("old", "new", "line", "path", "word"),
    [
        ('glost: "1"', 'glost: "2"', 1, "glost", "format '2'"),
        ('glost: "1"\n', "", 1, "", "not a Glost file"),
        ("kind: recipe", "kind: runs", 2, "kind", "'runs'"),
        ("kind: recipe", "kind: [recipe]", 2, "kind", "kind"),
        ("kind: recipe\n", "", 1, "kind", "None"),
        ('name: "Häfen, grün"\n', "", 1, "", "'name'"),
        ('name: "Häfen, grün"', 'name: ""', 3, "name", "empty"),
        ('name: "Häfen, grün"', 'name: "  "', 3, "name", "empty"),
        ('name: "Häfen, grün"', 'name: "a\\nb"', 3, "name", "line break"),
        ('name: "Häfen, grün"', "name: {a: b}", 3, "name", "mapping"),
        ('name: "Häfen, grün"', f'name: "{"x" * 81}"', 3, "name", "81 characters"),
        ('parts: "12,5"', 'parts: "-1"', 8, "base[1].parts", "negative"),
        ('parts: "12,5"', "parts: nan", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: .nan", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: inf", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: -.inf", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: 1e999", 8, "base[1].parts", "too large"),
        ('parts: "12,5"', "parts: 1e9", 8, "base[1].parts", "absurdly large"),
        ('parts: "12,5"', 'parts: "1.234,5"', 8, "base[1].parts", "more than one number"),
        ('parts: "12,5"', "parts: 0x10", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: ٣", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: ", 8, "base[1].parts", "not a number"),
        ('parts: "12,5"', "parts: [1]", 8, "base[1].parts", "plain value"),
        (', parts: "12,5"', "", 8, "base[1]", "'parts'"),
        ('  - {material: "whiting", parts: "12,5"}', "  - 5", 8, "base[1]", "mapping"),
        ('{material: "tin-oxide", ', "{", 10, "additions[0]", "'material'"),
        ('material: "tin-oxide"', 'material: " "', 10, "additions[0].material", "empty"),
        ('material: "tin-oxide"', 'material: "a\\tb"', 10, "additions[0].material", "control"),
        ('material: "tin-oxide"', "material: [a]", 10, "additions[0].material", "a list"),
        ("locked: yes", "locked: maybe", 7, "base[0].locked", "neither yes nor no"),
        ('parts: "40"', 'parts: "-4"', 17, "variants[0].base[0].parts", "negative"),
        ('  - name: "A"', '  - name: ""', 12, "variants[0].name", "empty"),
        ('{CaO: "55.2"}', '{UO2: "55.2"}', 27, "pinned.whiting.analysis", "UO2"),
        ('{CaO: "55.2"}', '{CaO: "-5"}', 27, "pinned.whiting.analysis", "negative"),
        ('"K2O.Al2O3.6SiO2"', '"stone"', 31, "pinned.potash-feldspar.formula", "stone"),
        ('{formula: "K2O.Al2O3.6SiO2"}', "{}", 31, "pinned.potash-feldspar", "neither"),
        ('    loi: "43.9"', '    formula: "CaCO3"', 26, "pinned.whiting", "both"),
    ],
)
def test_what_is_wrong_in_a_file_is_named_with_its_line_and_path(old, new, line, path, word):
    fault = _fault(_with(FULL, old, new))
    assert word in str(fault)
    assert fault.path == path
    assert fault.line == line
    assert fault.mend


def test_a_wrong_figure_in_a_pin_is_named_with_its_line_and_path():
    fault = _fault(_with(FULL, '{CaO: "55.2"}', '{CaO: "much"}'))
    assert "much" in str(fault)
    assert fault.line == 27
    assert fault.path.startswith("pinned.whiting.analysis")


def test_two_variants_of_one_name_are_refused(fixture_recipe):
    recipe = save_variant(save_variant(fixture_recipe, "", DAY), "", DAY)
    fault = _fault(_with(recipe_text(recipe), 'name: "B"', 'name: "A"'))
    assert "repeats the name 'A'" in str(fault)
    assert fault.path == "variants[1].name"


@pytest.mark.parametrize("section", ["base", "additions"])
def test_a_file_holds_two_hundred_rows_and_no_more(section):
    head = f'glost: "1"\nkind: recipe\nname: "Long"\n{section}:\n'
    row = '  - {material: "talc", parts: "1"}\n'
    assert len(_read(head + row * 200).rows(Section(section))) == 200
    fault = _fault(head + row * 201)
    assert "201 rows" in str(fault)
    assert fault.path == section


def test_a_name_may_have_eighty_characters():
    assert _read(_with(FULL, "Häfen, grün", "ä" * 80)).name == "ä" * 80


@pytest.mark.parametrize(
    "section", ["", "base:\n", "base: []\nadditions:\nvariants:\n", "base: ''\n"]
)
def test_a_recipe_without_rows_is_a_recipe(section, studio):
    recipe = _read(f'glost: "1"\nkind: recipe\nname: "Empty"\n{section}')
    assert recipe.base == ()
    assert State.NO_ROWS in evaluate(recipe, studio).formula.states


@pytest.mark.parametrize(
    ("materials", "state"),
    [(["kaolin", "silica"], State.NO_FLUX), (["whiting", "alumina"], State.NO_SILICA)],
)
def test_a_recipe_without_flux_or_silica_opens_and_says_so(materials, state, studio):
    rows = "".join(f'  - {{material: "{m}", parts: "5"}}\n' for m in materials)
    recipe = _read(f'glost: "1"\nkind: recipe\nname: "Odd"\nbase:\n{rows}')
    assert state in evaluate(recipe, studio).formula.states


@pytest.mark.parametrize("text", ["- a\n- b\n", "just words", "[]", "{}", "42", "glost: [1]\n"])
def test_a_file_of_another_shape_is_no_recipe(text):
    assert _fault(text).line == 1


def test_the_largest_and_smallest_amounts_are_read():
    for text, value in (("1000000", 1e6), ("0", 0.0), ("1e-9", 1e-9)):
        assert _read(_with(FULL, "12,5", text)).base[1].amount == value


PRINTABLE = st.characters(codec="utf-8", categories=["L", "M", "N", "P", "S", "Zs"])
WORDS = st.text(PRINTABLE, max_size=20)
NAMES = st.text(PRINTABLE, min_size=1, max_size=80).filter(lambda n: n.strip() and n.isprintable())
NOTES = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]) | st.sampled_from("\n\t\r"))
EXTRAS = st.dictionaries(
    st.text(PRINTABLE, max_size=8).map(lambda word: "x-" + word),
    st.recursive(
        WORDS,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
        max_leaves=5,
    ),
    max_size=2,
)
ROWS = st.lists(
    st.builds(Ingredient, NAMES, st.floats(0, 1e6), st.booleans(), EXTRAS), max_size=4
).map(tuple)
VARIANTS = st.lists(
    st.builds(Variant, NAMES, NOTES, ROWS, ROWS, WORDS, WORDS, EXTRAS),
    max_size=3,
    unique_by=lambda variant: variant.name,
).map(tuple)
FIGURES = st.dictionaries(st.sampled_from(OXIDES), st.floats(0, 100), min_size=1, max_size=5)
ANALYSES = st.sampled_from(["K2O.Al2O3.6SiO2", "CaCO3"]).map(Analysis.from_formula) | st.builds(
    lambda figures, loi, off: Analysis.from_percent(
        figures, loi, tolerance=dict.fromkeys(list(figures)[:off], 3.0)
    ),
    FIGURES,
    st.floats(-10, 90),
    st.integers(0, 3),
)
PINS = st.builds(Pin, NAMES, ANALYSES, WORDS, st.lists(WORDS, max_size=2).map(tuple))
RECIPES = st.builds(
    Recipe, NAMES, WORDS, WORDS, ROWS, ROWS, VARIANTS, WORDS, NOTES,
    st.dictionaries(NAMES, PINS, max_size=2), WORDS, EXTRAS,
)  # fmt: skip


@given(RECIPES)
def test_any_recipe_reads_back_as_it_was_and_gives_the_same_bytes_again(recipe):
    text = recipe_text(recipe)
    again = recipe_from(parse(text.encode("utf-8"), "t"))
    assert again == recipe
    assert recipe_text(again) == text


def test_a_saved_recipe_is_read_back_from_the_disk(tmp_path, fixture_recipe, studio):
    path = tmp_path / "Fixture.yaml"
    pinned = with_analysis_pins(fixture_recipe, pins_of(fixture_recipe, studio))
    save_recipe(path, pinned, None)
    assert read_recipe(path) == pinned
    assert path.read_bytes() == recipe_text(pinned).encode("utf-8")
    assert path.read_text(encoding="utf-8").startswith('glost: "1"\nkind: "recipe"\n')
    first = path.read_bytes()
    save_recipe(path, read_recipe(path), None)
    assert path.read_bytes() == first


def test_pins_are_of_what_the_recipe_uses_and_no_other(fixture_recipe, studio):
    pins = pins_of(fixture_recipe, studio)
    other = replace(fixture_recipe, base=fixture_recipe.base[:2])
    assert list(with_analysis_pins(other, pins).pinned) == ["potash-feldspar", "talc"]


def _refuse(*_args, **_kwargs):
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("step", ["replace", "flush", "write", "create"])
def test_a_failed_save_leaves_the_old_text_and_no_litter(
    tmp_path, monkeypatch, fixture_recipe, step
):
    path = tmp_path / "a.yaml"
    save_recipe(path, fixture_recipe, None)
    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(disk, step, _refuse)
        with pytest.raises(OSError, match="No space left"):
            save_recipe(path, replace(fixture_recipe, name="Changed"), None)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]


def test_a_failed_first_save_leaves_nothing(tmp_path, monkeypatch, fixture_recipe):
    with monkeypatch.context() as patch:
        patch.setattr(disk, "replace", _refuse)
        with pytest.raises(OSError, match="No space left"):
            save_recipe(tmp_path / "a.yaml", fixture_recipe, None)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("bad", [{"name": ""}, {"name": "x" * 81}, {"notes": "nul \x00"}])
def test_a_recipe_that_would_not_read_back_replaces_nothing(tmp_path, fixture_recipe, bad):
    path = tmp_path / "a.yaml"
    save_recipe(path, fixture_recipe, None)
    before = path.read_bytes()
    with pytest.raises(InputError):
        save_recipe(path, replace(fixture_recipe, **bad), None)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]


@pytest.mark.skipif(os.name == "nt", reason="no modes on this system")
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_saving_keeps_the_mode_of_the_file(tmp_path, fixture_recipe, mode):
    path = tmp_path / "a.yaml"
    path.write_text("old", encoding="utf-8")
    path.chmod(mode)
    save_recipe(path, fixture_recipe, None)
    assert stat.S_IMODE(path.stat().st_mode) == mode


@pytest.mark.skipif(os.name == "nt", reason="no modes on this system")
def test_a_new_file_has_the_mode_that_the_mask_allows(tmp_path, fixture_recipe):
    old = os.umask(0o027)
    try:
        save_recipe(tmp_path / "a.yaml", fixture_recipe, None)
        assert os.umask(0o027) == 0o027
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a.yaml").stat().st_mode) == 0o640


@pytest.mark.skipif(os.name == "nt", reason="links want rights on this system")
def test_a_link_is_written_through_to_its_file(tmp_path, fixture_recipe):
    (tmp_path / "real").mkdir()
    target = tmp_path / "real" / "a.yaml"
    target.write_text("old", encoding="utf-8")
    link = tmp_path / "link.yaml"
    link.symlink_to(target)
    save_recipe(link, fixture_recipe, None)
    assert link.is_symlink()
    assert recipe_from(read_file(target)) == fixture_recipe
    assert [p.name for p in (tmp_path / "real").iterdir()] == ["a.yaml"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["link.yaml", "real"]


def test_a_long_file_name_can_be_saved(tmp_path, fixture_recipe):
    path = tmp_path / ("n" * 245 + ".yaml")
    save_recipe(path, fixture_recipe, None)
    assert read_recipe(path) == fixture_recipe


def test_saving_into_a_folder_that_is_not_there_is_refused(tmp_path, fixture_recipe):
    with pytest.raises(OSError, match="No such file"):
        save_recipe(tmp_path / "nowhere" / "a.yaml", fixture_recipe, None)


@pytest.mark.parametrize(
    "pin",
    [
        "{analysis: {SiO2: 60, K2O: 40}, tolerance_percent: {Foo: 2}}",
        "{analysis: {SiO2: 60, K2O: 40}, tolerance_percent: {SiO2: -200}}",
        "{analysis: {SiO2: 1e308, K2O: 1e308}}",
        "{analysis: {SiO2: 60}, loi: -500}",
    ],
)
def test_a_pin_out_of_reason_is_refused(fixture_text, pin):
    with pytest.raises(InputError, match=r"pinned\.talc"):
        recipe_from(parse(fixture_text + f"pinned: {{talc: {pin}}}\n", "sample.yaml"))
