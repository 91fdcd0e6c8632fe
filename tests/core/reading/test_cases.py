"""What potters and publications say of glazes, and whether the reading agrees.

Each case names its source; "common practice, no source" where the trade says
so and nobody is cited. The weights of the reading were set on these cases, so
their share says how well it holds them together, not how well it foretells.
Cases that fail stand here with their figures and are expected to fail.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from core.firing import Firing, FiringCurve, Segment, firing_curve, peak_for, shipped_firings
from core.formula import unity_formula
from core.material_table import shipped_materials
from core.oxides import INDEX, MOLAR_MASS, vector
from core.reading.basis import basis_of
from core.reading.field import ZoneField, zone_field
from core.reading.kinds import KindReading, Soundness, kind_of
from core.reading.surface import ZONES, SurfaceReading, read_surface
from core.regions import Zone

PRACTICE = "common practice, no source"
SEGER = f"{PRACTICE}; composition from memory (H. A. Seger, Collected Writings)"
STULL = (
    "R. T. Stull, Trans. Am. Ceram. Soc. 14 (1912) 62, flux K2O 0.3 CaO 0.7, cone 11: from memory"
)
SORTWELL = "H. H. Sortwell, Technologic Papers of the Bureau of Standards 196 (1921), p. 7-8"
PARMELEE = "from memory (Parmelee; Eppler; trade practice)"
RHODES = "middle of a limit formula, from memory (D. Rhodes, Clay and Glazes for the Potter)"


@cache
def plain(cone: str) -> FiringCurve:
    """A straight ramp of 60 °C/h to a cone, then natural cooling."""
    segments = (Segment("60", peak_for(cone, 60.0)), Segment(natural_cooling=150.0))
    return firing_curve(Firing(id=cone, name=cone, cone=cone, segments=segments))


@cache
def shipped_curve(id_: str) -> FiringCurve:
    return firing_curve(shipped_firings()[id_])


@dataclass(frozen=True)
class Glaze:
    """A recipe of shipped materials, or a unity formula."""

    parts: tuple[tuple[str, float], ...] = ()
    oxides: tuple[tuple[str, float], ...] = ()

    def moles(self) -> np.ndarray:
        if self.oxides:
            return vector(dict(self.oxides))
        table = shipped_materials()
        return sum(w * table.get(m).moles_per_gram for m, w in self.parts)

    def read(self, firing: str) -> SurfaceReading:
        curve = plain(firing[5:]) if firing.startswith("cone ") else shipped_curve(firing)
        found = read_surface(self.moles(), curve)
        assert found is not None
        return found

    def kind(self, firing: str) -> KindReading:
        return kind_of(self.read(firing))


def recipe(**parts: float) -> Glaze:
    return Glaze(parts=tuple((m.replace("_", "-"), float(w)) for m, w in parts.items()))


def formula(**oxides: float) -> Glaze:
    return Glaze(oxides=tuple(oxides.items()))


def seger(cone: int) -> Glaze:
    alumina = {4: 0.5, 5: 0.5, 6: 0.6, 7: 0.7, 8: 0.8}[cone]
    return formula(K2O=0.3, CaO=0.7, Al2O3=alumina, SiO2=float(cone))


MEDIUM, SLOW = "cone-10-medium", "cone-10-slow-cool"
FIXTURE = recipe(potash_feldspar=42, talc=16, whiting=12, kaolin=20, silica=10)
NO_WHITING = recipe(potash_feldspar=42, talc=16, kaolin=20, silica=10)
TWICE = recipe(potash_feldspar=42, talc=16, whiting=24, kaolin=20, silica=10)
FORTY = recipe(potash_feldspar=40, silica=30, whiting=20, kaolin=10)
LIMEY = formula(Na2O=0.1, K2O=0.2, CaO=0.7, Al2O3=0.4, SiO2=3.0)
TALC_POTASH = recipe(potash_feldspar=38, talc=27, whiting=6, kaolin=22, silica=7)
TALC_SODA = recipe(soda_feldspar=40, talc=25, dolomite=8, kaolin=22, silica=5)
DOLOMITE = recipe(potash_feldspar=40, dolomite=22, talc=12, kaolin=22, silica=4)
DOLOMITE_TALC = recipe(potash_feldspar=30, dolomite=20, talc=20, kaolin=24, silica=6)
LIME_MATTE = recipe(potash_feldspar=26, whiting=34, kaolin=30, silica=10)
LIME_GLOSS = formula(K2O=0.15, CaO=0.85, Al2O3=0.45, SiO2=4.0)
BARIA = recipe(potash_feldspar=50, barium_carbonate=30, whiting=6, kaolin=8, silica=6)
ZINC = formula(Na2O=0.3, K2O=0.1, ZnO=0.6, Al2O3=0.1, SiO2=1.9)
ALUMINA = recipe(potash_feldspar=40, whiting=22, kaolin=38)
BORON = recipe(potash_feldspar=20, colemanite=20, whiting=10, kaolin=20, silica=30)
BORON_LITTLE = formula(K2O=0.1, Na2O=0.15, CaO=0.65, MgO=0.1, B2O3=0.2, Al2O3=0.35, SiO2=3.2)
FELDSPAR = recipe(potash_feldspar=100)
BINNS = formula(PbO=0.5, CaO=0.35, K2O=0.15, Al2O3=0.35, SiO2=1.54)


def at_cone_six(ratio: float) -> Glaze:
    return formula(K2O=0.1, Na2O=0.15, CaO=0.65, MgO=0.1, B2O3=0.2, Al2O3=2.8 / ratio, SiO2=2.8)


@cache
def old_map(cone: str) -> ZoneField:
    basis = basis_of(vector({"K2O": 0.3, "CaO": 0.7}), plain(cone))
    assert basis is not None
    return zone_field(basis, np.linspace(0.5, 9.0, 171), np.linspace(0.1, 1.2, 56))


@cache
def winners(cone: str) -> np.ndarray:
    return np.argmax(old_map(cone).probabilities, axis=-1)


def winner(cone: str, silica: float, alumina: float) -> Zone:
    found = formula(K2O=0.3, CaO=0.7, Al2O3=alumina, SiO2=silica).read(f"cone {cone}")
    return found.zone


def along_gloss() -> bool:
    return all(
        winner("11", silica, silica / ratio) is Zone.GLOSSY
        for silica in np.linspace(3.0, 5.0, 9)
        for ratio in np.linspace(7.0, 10.0, 7)
    )


def dull_below(ratio: float) -> bool:
    return all(
        winner("11", r * alumina, alumina) in (Zone.MATTE, Zone.UNDERFIRED)
        for alumina in np.linspace(0.2, 1.0, 9)
        for r in np.linspace(3.0, ratio - 0.05, 6)
    )


def satin_between() -> bool:
    return all(
        any(winner("11", r * alumina, alumina) is Zone.SATIN for r in np.linspace(4.5, 6.5, 41))
        for alumina in np.linspace(0.4, 0.8, 9)
    )


def stiff_corner() -> bool:
    return all(
        winner("11", silica, alumina) is Zone.UNDERFIRED
        for silica in (7.0, 8.0, 9.0)
        for alumina in (0.9, 1.0, 1.2)
    )


def bright(cone: str) -> int:
    return int((winners(cone) == ZONES.index(Zone.GLOSSY)).sum())


def matte_by_magnesia(glaze: Glaze) -> bool:
    found = glaze.kind(MEDIUM)
    return (
        glaze.read(MEDIUM).zone is Zone.MATTE
        and found.kind.name == "magnesia crystal matte"
        and glaze.read(MEDIUM).basis.share("MgO") > 0.5
    )


def likelier_with_hold(glaze: Glaze, by: float = 0.02) -> bool:
    without, held = (glaze.read(f).probabilities["matte"] for f in (MEDIUM, SLOW))
    return held > without + by


def is_kind(glaze: Glaze, firing: str, *ids: str) -> bool:
    return glaze.kind(firing).kind.id in ids


def margin(glaze: Glaze, firing: str) -> float:
    return glaze.read(firing).melt_margin_percent


def zone(glaze: Glaze, firing: str) -> Zone:
    return glaze.read(firing).zone


def more_whiting() -> Glaze:
    """Ten percent of whiting over the batch of the lime-rich gloss at its limit."""
    moles = LIMEY.moles()
    fired = float(moles @ MOLAR_MASS)
    raw = fired + 0.7 * 44.01
    moles = moles + 0.1 * raw / 100.09 * vector({"CaO": 1.0})
    return Glaze(oxides=tuple((o, float(moles[i])) for o, i in INDEX.items() if moles[i] > 0))


def unchanged_ratio() -> bool:
    ratios = [
        float(u[INDEX["SiO2"]] / u[INDEX["Al2O3"]])
        for u in (unity_formula(g.moles()) for g in (FIXTURE, NO_WHITING))
    ]
    return abs(ratios[0] - ratios[1]) < 1e-9


def suspect(glaze: Glaze, firing: str) -> bool:
    return glaze.kind(firing).soundness is Soundness.UNDERFIRED


def says(glaze: Glaze, firing: str, note: str) -> bool:
    return note in {n.id for n in glaze.kind(firing).notes}


Case = tuple[str, str, Callable[[], bool]]

CASES: list[Case] = [
    # The fixture and what becomes of it. Source: the design of the program; nobody fired it.
    ("the fixture melts at cone 10", PRACTICE, lambda: margin(FIXTURE, MEDIUM) > 0),
    ("the fixture is no underfired glaze", PRACTICE, lambda: not suspect(FIXTURE, MEDIUM)),
    ("without whiting it does not melt", PRACTICE, lambda: margin(NO_WHITING, MEDIUM) < 0),
    (
        "without whiting it reads underfired at the same ratio",
        PRACTICE,
        lambda: suspect(NO_WHITING, MEDIUM) and unchanged_ratio(),
    ),
    ("without whiting it is called no matte", PRACTICE,
     lambda: is_kind(NO_WHITING, MEDIUM, "underfired")),
    ("whiting twice melts more easily", PRACTICE,
     lambda: margin(TWICE, MEDIUM) > margin(FIXTURE, MEDIUM)),
    ("whiting twice is too much flux", PRACTICE, lambda: says(TWICE, MEDIUM, "too-much-flux")),
    ("the fixture has not too much flux", PRACTICE,
     lambda: not says(FIXTURE, MEDIUM, "too-much-flux")),
    ("the fixture at cone 6 never melted", PRACTICE,
     lambda: is_kind(FIXTURE, "cone-6-medium", "underfired")),
    ("a talc matte of cone 10 at cone 6 never melted", PRACTICE,
     lambda: is_kind(TALC_POTASH, "cone-6-medium", "underfired")),
    # Feldspar 40, silica 30, whiting 20, kaolin 10.
    ("40-30-20-10 melts at cone 10", "from memory (B. Leach, A Potter's Book)",
     lambda: margin(FORTY, MEDIUM) > 0),
    ("40-30-20-10 is bright at cone 10", "from memory (B. Leach, A Potter's Book)",
     lambda: is_kind(FORTY, MEDIUM, "gloss")),
    ("40-30-20-10 hardly melts at cone 6", PRACTICE, lambda: margin(FORTY, "cone-6-medium") < 5),
    ("40-30-20-10 stays bright in a slow cooling", PRACTICE,
     lambda: zone(FORTY, SLOW) is Zone.GLOSSY),
    # Seger compositions as glazes.
    *((f"Seger {n} is no glaze at cone {n}", SEGER,
       lambda n=n: margin(seger(n), f"cone {n}") < 0) for n in range(4, 9)),
    *((f"Seger {n} is a glaze at cone {n + 5}", SEGER,
       lambda n=n: margin(seger(n), f"cone {n + 5}") > 0) for n in range(4, 9)),
    ("Seger 4 is bright at cone 10", "from memory (Seger; Norton)",
     lambda: zone(seger(4), "cone 10") is Zone.GLOSSY),
    # The published map.
    ("bright along ratio 7 to 10", STULL, along_gloss),
    ("matte or underfired below 4.5", STULL, lambda: dull_below(4.5)),
    ("satin between 4.5 and 6.5 on every row", STULL, satin_between),
    ("underfired in the stiff corner", STULL, stiff_corner),
    ("the bright field grows from cone 10 to 12", SORTWELL, lambda: bright("12") > bright("10")),
    ("immature beyond the silica side at cone 10", SORTWELL,
     lambda: winner("10", 7.5, 0.5) is Zone.UNDERFIRED),
    ("a true matte on the alumina side at cone 10", SORTWELL,
     lambda: winner("10", 1.75, 0.5) is Zone.MATTE),
    # Magnesia.
    ("talc 27 with potash feldspar is a magnesia matte", PRACTICE,
     lambda: matte_by_magnesia(TALC_POTASH)),
    ("talc 25 with soda feldspar is a magnesia matte", PRACTICE,
     lambda: matte_by_magnesia(TALC_SODA)),
    ("talc 27, likelier with a hold at 1080", PRACTICE, lambda: likelier_with_hold(TALC_POTASH)),
    ("talc 25, likelier with a hold at 1080", PRACTICE, lambda: likelier_with_hold(TALC_SODA)),
    ("dolomite 22 is a magnesia matte", PRACTICE, lambda: matte_by_magnesia(DOLOMITE)),
    ("dolomite 20 with talc is a magnesia matte", PRACTICE,
     lambda: matte_by_magnesia(DOLOMITE_TALC)),
    ("dolomite 22, likelier with a hold at 1080", PRACTICE, lambda: likelier_with_hold(DOLOMITE)),
    ("dolomite 20, likelier with a hold at 1080", PRACTICE,
     lambda: likelier_with_hold(DOLOMITE_TALC)),
    ("magnesia 0.4 with alumina 0.4 is silky", PARMELEE,
     lambda: zone(formula(K2O=0.25, CaO=0.35, MgO=0.4, Al2O3=0.4, SiO2=2.2), MEDIUM)
     in (Zone.SATIN, Zone.MATTE)),
    # Boron, lime, baria, zinc, alumina, feldspar.
    ("a colemanite glaze is bright at cone 6", PRACTICE,
     lambda: is_kind(BORON, "cone-6-medium", "gloss")),
    ("boron 0.2 is bright at cone 6", PRACTICE,
     lambda: is_kind(BORON_LITTLE, "cone-6-medium", "gloss")),
    ("lime 0.88 at ratio 4 is a lime matte", PARMELEE,
     lambda: is_kind(LIME_MATTE, MEDIUM, "lime-matte")),
    ("lime matte, likelier with a hold at 1080", PRACTICE, lambda: likelier_with_hold(LIME_MATTE)),
    ("lime 0.85 at ratio 9 is bright when cooled fast", PRACTICE,
     lambda: zone(LIME_GLOSS, MEDIUM) is Zone.GLOSSY),
    ("lime 0.85 at ratio 9 turns toward matte when cooled slowly", PARMELEE,
     lambda: likelier_with_hold(LIME_GLOSS)),
    ("baria 0.5 is a baria matte", PARMELEE, lambda: is_kind(BARIA, MEDIUM, "baria-matte")),
    ("zinc 0.6 with little alumina grows zinc crystals", PRACTICE,
     lambda: is_kind(ZINC, SLOW, "zinc-crystals")),
    ("zinc crystals, likelier with a hold at 1080",
     "Dechboon et al., SSRU conference paper (abstract): larger with a longer hold at 1100 °C",
     lambda: likelier_with_hold(ZINC)),
    ("kaolin 38 with whiting is an alumina matte", PARMELEE,
     lambda: is_kind(ALUMINA, MEDIUM, "alumina-matte")),
    ("potash feldspar alone is too stiff at cone 10", PRACTICE,
     lambda: is_kind(FELDSPAR, MEDIUM, "underfired") and suspect(FELDSPAR, MEDIUM)),
    # Others that are published.
    ("lime 0.7 at its limit is still bright",
     "Ceramics Monthly, Techno File: Surface Science",
     lambda: zone(LIMEY, "cone 10") is Zone.GLOSSY),
    ("ten percent of whiting more tips it to satin",
     "Ceramics Monthly, Techno File: Surface Science",
     lambda: zone(more_whiting(), "cone 10") is Zone.SATIN),
    ("a lead matte of 1910 is matte", "C. F. Binns, The Potter's Craft (1910), cone judged: 04",
     lambda: zone(BINNS, "cone-04-medium") is Zone.MATTE),
    *((f"ratio {ratio:g} at cone 6 is {expected.value}",
       "T. Buck citing W. Carty, potters.org/subject99690.htm",
       lambda ratio=ratio, expected=expected: zone(at_cone_six(ratio), "cone-6-medium")
       is expected)
      for ratio, expected in ((4.0, Zone.MATTE), (6.0, Zone.SATIN), (8.5, Zone.GLOSSY))),
    ("the middle for stoneware melts at cone 10", RHODES,
     lambda: margin(formula(K2O=0.15, Na2O=0.15, CaO=0.5, MgO=0.1, ZnO=0.05, BaO=0.05, B2O3=0.2,
                            Al2O3=0.4, SiO2=4.0), "cone 10") > 0),
    ("the middle for alkaline glazes melts at cone 04", RHODES,
     lambda: margin(formula(Na2O=0.4, K2O=0.2, PbO=0.2, CaO=0.12, ZnO=0.08, Al2O3=0.15,
                            SiO2=2.0), "cone 04") > 0),
    ("the middle for lead borosilicates melts at cone 4", RHODES,
     lambda: margin(formula(PbO=0.25, Na2O=0.15, K2O=0.1, CaO=0.45, ZnO=0.05, B2O3=0.4,
                            Al2O3=0.3, SiO2=3.0), "cone 4") > 0),
]  # fmt: skip

FAILS: dict[str, str] = {
    "Seger 7 is a glaze at cone 12": "margin -7 ± 20 %: the viscosity there is 4.5",
    "Seger 8 is a glaze at cone 13": "margin -7 ± 17 %: the viscosity there is 4.6",
    "zinc crystals, likelier with a hold at 1080": "matte 0.55 with the hold, 0.63 without: the "
    "liquidus model reads 1030 °C, so the window (855 to 719 °C) lies below the hold",
    "ten percent of whiting more tips it to satin": "glossy 0.57, satin 0.38: it moves that way "
    "but does not tip",
}
"""Cases on which the reading disagrees, with its figures."""


def marked(case: Case) -> object:
    name, _, agrees = case
    marks = [pytest.mark.xfail(reason=FAILS[name])] if name in FAILS else []
    return pytest.param(agrees, id=name, marks=marks)


@pytest.mark.parametrize("agrees", [marked(case) for case in CASES])
def test_the_reading_agrees(agrees):
    assert agrees()


def test_the_share_of_cases_that_agree(record_property):
    agreeing = sum(agrees() for _, _, agrees in CASES)
    record_property("agree", f"{agreeing} of {len(CASES)}")
    print(f"{agreeing} of {len(CASES)} cases agree")  # shown with pytest -s
    assert agreeing == len(CASES) - len(FAILS)


def test_every_case_has_a_name_of_its_own_and_a_source():
    names = [name for name, _, _ in CASES]
    assert len(set(names)) == len(names)
    assert all(source for _, source, _ in CASES)
    assert set(FAILS) <= set(names)
