"""The shipped tables: counts, sums, sources, and what a table file may not hold."""

from __future__ import annotations

import re

import msgspec
import pytest

from core.bodies import shipped_bodies
from core.cautions import hazards
from core.errors import InputError
from core.firing import shipped_firings
from core.material_table import shipped_materials
from core.plain_yaml import parse, read_file
from core.tables import data_folder, read_records, shipped

CONFIDENCE = {"published", "memory", "practice", "computed", "mixed"}
SHIPPED = sorted(path.name for path in data_folder().glob("*.yaml"))

# Ids that the design (section 4 and 6) promises.
MATERIALS = [
    "silica",
    "kaolin",
    "calcined-kaolin",
    "potash-feldspar",
    "soda-feldspar",
    "nepheline-syenite",
    "whiting",
    "dolomite",
    "talc",
    "wollastonite",
    "magnesium-carbonate",
    "zinc-oxide",
    "barium-carbonate",
    "strontium-carbonate",
    "lithium-carbonate",
    "spodumene",
    "petalite",
    "borax",
    "colemanite",
    "bone-ash",
    "titanium-dioxide",
    "zircon",
    "tin-oxide",
    "red-iron-oxide",
    "cobalt-carbonate",
    "copper-carbonate",
    "rutile",
    "alumina",
    "alumina-hydrate",
    "bentonite",
]
BODIES = ["stoneware", "porcelain", "earthenware"]
FIRINGS = [
    "cone-6-medium",
    "cone-6-slow-cool",
    "cone-10-medium",
    "cone-10-slow-cool",
    "cone-04-medium",
    "bisque-cone-06",
]


def test_the_ids_of_the_design_are_there():
    assert not set(MATERIALS) - {m.id for m in shipped_materials()}
    assert not set(BODIES) - set(shipped_bodies())
    assert not set(FIRINGS) - set(shipped_firings())


def test_there_are_at_least_seventy_materials():
    assert len(shipped_materials()) >= 70


def test_the_ideal_minerals_have_the_formulas_of_the_reference_table(minerals):
    # Source: minerals.yaml.
    table = {entry["formula"]: entry for entry in minerals["materials"].values()}
    for id_, mineral in {
        **{"silica": "quartz", "kaolin": "kaolinite", "calcined-kaolin": "calcined_kaolin"},
        **{"potash-feldspar": "potash_feldspar", "soda-feldspar": "soda_feldspar"},
        **{"whiting": "whiting", "dolomite": "dolomite", "talc": "talc"},
        **{"wollastonite": "wollastonite", "zinc-oxide": "zinc_oxide"},
        **{"magnesium-carbonate": "magnesium_carbonate_light", "borax": "borax_decahydrate"},
        **{"barium-carbonate": "barium_carbonate", "colemanite": "colemanite"},
        **{"strontium-carbonate": "strontium_carbonate", "bone-ash": "bone_ash_hydroxyapatite"},
        **{"lithium-carbonate": "lithium_carbonate", "spodumene": "spodumene"},
        **{"petalite": "petalite", "zircon": "zircon", "tin-oxide": "tin_oxide"},
        **{"red-iron-oxide": "red_iron_oxide", "cobalt-carbonate": "cobalt_carbonate"},
        **{"copper-carbonate": "copper_carbonate_basic", "alumina": "alumina"},
        **{"titanium-dioxide": "titanium_dioxide", "alumina-hydrate": "alumina_hydrate"},
    }.items():
        material = shipped_materials().get(id_)
        assert dict(material.analysis.percent) == pytest.approx(
            minerals["materials"][mineral]["oxide_wt"], abs=0.006
        ), id_
        assert material.analysis.loi == pytest.approx(
            minerals["materials"][mineral]["loi_percent"], abs=0.006
        ), id_
        assert table[minerals["materials"][mineral]["formula"]]["confidence"] == "computed"


@pytest.mark.parametrize("material", list(shipped_materials()), ids=lambda m: m.id)
def test_a_shipped_material_is_sound(material):
    assert 98.0 <= material.analysis.total <= 102.0
    assert material.warnings == ()
    assert material.source.strip()
    assert material.confidence in CONFIDENCE
    assert material.name.strip()
    assert material.origin == "shipped"
    assert not set(material.hazards) - set(hazards())
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", material.id)
    assert material.density is None or 0.5 < material.density < 12


def test_names_and_synonyms_lead_to_their_material():
    table = shipped_materials()
    assert len({m.name.casefold() for m in table}) == len(table)
    for material in table:
        for words in (material.name, material.id, *material.synonyms):
            assert material in table.find(words)


def test_silica_and_talc_and_poisons_carry_their_hazard():
    # Source: minerals.yaml, hazards of each mineral.
    table = shipped_materials()
    for id_, hazard in {
        **{"silica": "silica-dust", "talc": "talc-dust", "barium-carbonate": "barium"},
        **{"kaolin": "some-silica-dust", "white-lead": "lead", "manganese-dioxide": "manganese"},
        **{"nickel-oxide": "nickel", "cobalt-carbonate": "cobalt-carbonate", "borax": "boron"},
        **{"lithium-carbonate": "lithium", "zinc-oxide": "zinc", "fluorspar": "fluoride"},
    }.items():
        assert hazard in table.get(id_).hazards


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_table_says_what_it_is_and_where_it_is_from(name):
    tree = shipped(name).tree
    for key in ("title", "source", "units"):
        assert tree[key].strip()


@pytest.mark.parametrize("name", SHIPPED)
def test_each_row_of_a_shipped_table_names_its_source(name):
    tree = shipped(name).tree
    rows = [
        (key, row)
        for key, value in tree.items()
        if isinstance(value, list)
        for row in value
        if isinstance(row, dict) and key not in ("general", "cones")
    ]
    if name == "cones.yaml":
        rows = [("columns", column) for column in tree["columns"]]
    assert rows
    for key, row in rows:
        # A table of one source says it once, at its head, with its confidence.
        whole = tree if "confidence" in tree else {}
        assert row.get("source", whole.get("source", "")).strip(), (key, row)
        assert row.get("confidence", whole.get("confidence")) in CONFIDENCE, (key, row)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_table_names_no_brand_and_promises_nothing(name):
    text = (data_folder() / name).read_text(encoding="utf-8")
    assert "food safe" not in text.lower()
    assert "food-safe" not in text.lower()


class _Row(msgspec.Struct):
    id: str
    source: str = ""


def _records(text: str, own: bool = True):
    return read_records(parse(f'glost: "1"\nkind: my-rows\n{text}', "t.yaml"), "my-rows", _Row, own)


def test_a_table_is_read_row_by_row():
    assert [(n, r.id) for n, r in _records("my_rows: [{id: a}, {id: b}]\n")] == [(0, "a"), (1, "b")]
    assert _records("") == _records("my_rows:\n") == _records("my_rows: []\n") == []


@pytest.mark.parametrize(
    ("text", "line", "path", "word"),
    [
        ("my_rows: x\n", 3, "my_rows", "no list"),
        ("my_rows:\n- {id: a}\n- {id: a}\n", 5, "my_rows[1].id", "repeats the id 'a' of row 1"),
        ("my_rows:\n- {id: ' '}\n", 4, "my_rows[0].id", "empty"),
        ("my_rows:\n- {id: a, sorce: b}\n", 4, "my_rows[0].sorce", "unknown key"),
        ("my_rows:\n- {source: a}\n", 4, "my_rows[0]", "lacks 'id'"),
        ("my_rows:\n- a\n", 4, "my_rows[0]", "mapping"),
    ],
)
def test_a_slip_in_a_table_is_named_with_its_line_and_path(text, line, path, word):
    with pytest.raises(InputError) as fault:
        _records(text)
    assert word in str(fault.value)
    assert (fault.value.line, fault.value.path) == (line, path)


def test_a_studio_may_know_keys_that_this_program_does_not():
    assert _records("my_rows: [{id: a, newer: b}]\n", own=False)[0][1].id == "a"


def test_a_file_of_another_kind_is_refused():
    with pytest.raises(InputError, match="kind"):
        read_records(read_file(data_folder() / "bodies.yaml"), "cones", _Row)
