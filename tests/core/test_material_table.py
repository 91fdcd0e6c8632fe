"""Reading materials files, as a studio writes them."""

from __future__ import annotations

import pytest

from core.errors import InputError
from core.material_table import read_materials, shipped_materials

HEAD = 'glost: "1"\nkind: materials\nmaterials:\n'

# The example of the design, section 6.
DESIGN = (
    HEAD
    + """\
  - id: "spar-2026"
    name: "Feldspar, March 2026 bag"
    analysis: {SiO2: "66.5", Al2O3: "18.4", K2O: "11.2", Na2O: "2.9"}   # weight % as received
    loi: "0.4"
    source: "the supplier's sheet"
  - id: "kaolin-ideal"
    name: "Kaolin, ideal"
    formula: "Al2O3.2SiO2.2H2O"
    source: "theory"
"""
)


def _read(tmp_path, text: str):
    path = tmp_path / "materials.yaml"
    path.write_text(text, encoding="utf-8")
    return read_materials(path)


def test_the_example_of_the_design_is_read(tmp_path):
    table = _read(tmp_path, DESIGN)
    spar = table.get("spar-2026")
    assert dict(spar.analysis.percent) == {"K2O": 11.2, "Na2O": 2.9, "Al2O3": 18.4, "SiO2": 66.5}
    assert spar.analysis.loi == 0.4
    assert spar.origin == "studio"
    assert spar.source == "the supplier's sheet"
    ideal, shipped = table.get("kaolin-ideal"), shipped_materials().get("kaolin")
    assert ideal.analysis == shipped.analysis


def test_tolerances_are_read(tmp_path):
    table = _read(
        tmp_path,
        HEAD + '  - {id: a, name: A, analysis: {SiO2: "99"}, tolerance_percent: {SiO2: "0,5"}}\n',
    )
    assert table.get("a").analysis.tolerance == (("SiO2", 0.5),)


def test_an_analysis_that_does_not_add_up_is_kept_with_a_warning(tmp_path):
    table = _read(tmp_path, HEAD + '  - {id: a, name: Odd spar, analysis: {SiO2: "66"}}\n')
    assert "Odd spar" in table.get("a").warnings[0]


@pytest.mark.parametrize(
    ("row", "path", "words"),
    [
        ('{id: a, name: Pitch, analysis: {UO2: "1"}}', "materials[0].analysis", ("Pitch", "UO2")),
        ("{id: a, name: Pitch, formula: UO2}", "materials[0].formula", ("Pitch", "U")),
        ("{id: a, name: Pitch, formula: SiO٢}", "materials[0].formula", ("Pitch",)),
        ("{id: a, name: Pitch}", "materials[0]", ("Pitch", "neither")),
        ('{id: a, name: P, formula: SiO2, analysis: {SiO2: "9"}}', "materials[0]", ("both",)),
        ('{id: a, name: P, analysis: {SiO2: "-9"}}', "materials[0].analysis", ("negative",)),
        ("{id: a, name: P, formula: SiO2, form: gas}", "materials[0].form", ("gas", "raw")),
        ("{id: a, name: ' ', formula: SiO2}", "materials[0].name", ("empty",)),
        ("{id: '', name: P, formula: SiO2}", "materials[0].id", ("empty",)),
        ("{name: P, formula: SiO2}", "materials[0]", ("'id'",)),
        ("{id: a, formula: SiO2}", "materials[0]", ("'name'",)),
        ("{id: a, name: P, formula: SiO2, density_g_cm3: '2600'}", "materials[0].density_g_cm3",
         ("2600",)),
        ("{id: a, name: P, formula: SiO2, loi: much}", "materials[0].loi", ("much",)),
        ("{id: a, name: P, formula: SiO2, dust: perhaps}", "materials[0].dust", ("perhaps",)),
        ("{id: a, name: P, analysis: {SiO2: lots}}", "materials[0].analysis", ("lots",)),
        ('{id: a, name: P, analysis: {SiO2: "9"}, tolerance_percent: {SiO2: "-1"}}',
         "materials[0].analysis", ("SiO2",)),
        ('{id: a, name: P, analysis: {SiO2: "9"}, tolerance_percent: {CaO: "1"}}',
         "materials[0].analysis", ("CaO",)),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_material_is_named_with_its_line_and_path(tmp_path, row, path, words):
    with pytest.raises(InputError) as fault:
        _read(tmp_path, f"{HEAD}  - {row}\n")
    assert fault.value.line == 4
    assert fault.value.path == path
    assert fault.value.source.endswith("materials.yaml")
    assert all(word in str(fault.value) for word in words)
    assert str(fault.value).isprintable()


def test_two_materials_of_one_id_are_refused(tmp_path):
    row = "  - {id: a, name: A, formula: SiO2}\n"
    with pytest.raises(InputError, match="repeats the id 'a'"):
        _read(tmp_path, HEAD + row + row)


@pytest.mark.parametrize("loi", ["150", "-80", "1e9"])
def test_an_absurd_loss_on_ignition_is_refused_or_warned_of(tmp_path, loi):
    text = HEAD + f'  - {{id: a, name: Odd, analysis: {{SiO2: "99"}}, loi: "{loi}"}}\n'
    try:
        said = _read(tmp_path, text).get("a").warnings
    except InputError as fault:
        said = (str(fault),)
    assert any("Odd" in text for text in said)


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("whit", "whiting"),
        ("potash", "potash-feldspar"),
        ("chalk", "whiting"),
        ("kao", "kaolin"),
        ("sil", "silica"),
        ("dol", "dolomite"),
        ("flint", "silica"),
        ("china clay", "kaolin"),
        ("tin", "tin-oxide"),
    ],
)
def test_the_first_material_found_is_the_one_a_potter_means(typed, first):
    # Trade words; common practice, no source.
    assert shipped_materials().find(typed)[0].id == first
