"""The melt margin: its ray, its sign, its error, and where it is clamped."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from core.firing import Firing, FiringCurve, Segment, firing_curve, shipped_firings
from core.melt import properties, viscosity_curve
from core.oxides import FLUXES, INDEX, OXIDES, vector
from core.reading.basis import basis_of, heat_of
from core.reading.margin import LEAST_PERCENT, MOST_PERCENT, melt_margin
from core.reading.melting import index_error, melting_rules, melts_of
from core.reading.surface import probabilities, read_surface

CONE_10 = firing_curve(shipped_firings()["cone-10-medium"])
CONE_6 = firing_curve(shipped_firings()["cone-6-medium"])
SATIN = vector({"K2O": 0.234, "CaO": 0.372, "MgO": 0.393, "Al2O3": 0.475, "SiO2": 2.929})
OTHERS = ("B2O3", "TiO2", "Fe2O3")

compositions = st.fixed_dictionaries(
    {
        **{oxide: st.floats(0.0, 1.0) for oxide in FLUXES},
        "B2O3": st.floats(0.0, 0.4),
        "TiO2": st.floats(0.0, 0.2),
        "Fe2O3": st.floats(0.0, 0.1),
        "Al2O3": st.floats(0.01, 3.0),
        "SiO2": st.floats(0.3, 20.0),
    }
)


def held(hold_min: float) -> FiringCurve:
    segments = (Segment("60", 1285.0, hold_min=hold_min), Segment(natural_cooling=150.0))
    return firing_curve(Firing(id="held", name="held", cone="10", segments=segments))


@given(compositions, st.floats(1.001, 3.0))
def test_more_flux_along_the_ray_always_raises_the_margin(oxides, times):
    # Design, section 5: same ratio, same fluxes.
    assume(sum(oxides[o] for o in FLUXES) > 0.05)
    moles = vector(oxides)
    more = moles.copy()
    kept = [INDEX["SiO2"], INDEX["Al2O3"]]
    more *= times
    more[kept] = moles[kept]
    lean, rich = (read_surface(m, CONE_10) for m in (moles, more))
    assert rich.melt_margin_percent >= lean.melt_margin_percent
    if not (lean.melt_margin_clamped or rich.melt_margin_clamped):
        expected = (100.0 + lean.melt_margin_percent) * times
        assert 100.0 + rich.melt_margin_percent == pytest.approx(expected, rel=1e-5)


@given(compositions)
def test_the_margin_leads_to_where_it_is_zero(oxides):
    # What the margin means: so far outward along the ray, nothing of it is left.
    assume(sum(oxides[o] for o in FLUXES) > 0.05)
    found = read_surface(vector(oxides), CONE_10)
    assume(not found.melt_margin_clamped)
    times = 1.0 + found.melt_margin_percent / 100.0
    there = melt_margin(found.basis, found.silica * times, found.alumina * times)
    assert float(there.percent) == pytest.approx(0.0, abs=1e-6)


@given(compositions)
def test_underfired_is_the_normal_share_of_the_reported_margin(oxides):
    assume(sum(oxides[o] for o in FLUXES) > 0.05)
    found = read_surface(vector(oxides), CONE_10)
    percent, error = found.melt_margin_percent, found.melt_margin_error_percent
    z = np.log1p(percent / 100.0) * (100.0 + percent) / error
    assert found.probabilities["underfired"] == pytest.approx(norm.cdf(-z), abs=1e-9)


@pytest.mark.parametrize("firing", ["cone-10-medium", "cone-10-slow-cool", "cone-6-medium"])
def test_without_solids_the_index_is_the_flow_over_the_whole_firing(firing):
    # The integral of dt over viscosity, minute by minute; a boron glass far above its liquidus.
    fired = firing_curve(shipped_firings()[firing])
    moles = vector({"Na2O": 0.3, "CaO": 0.7, "B2O3": 0.6, "Al2O3": 0.6, "SiO2": 5.0})
    hours = np.arange(fired.hours[0], fired.hours[-1], 1.0 / 60.0)
    flow = np.sum(10.0 ** -viscosity_curve(moles, fired.temperature_at(hours))) / 60.0
    melt = melts_of(moles, heat_of(fired))
    assert float(melt.liquidus_c) < fired.peak_c - 120.0
    expected = -np.log10(flow / melting_rules().reference_hours)
    assert float(melt.index) == pytest.approx(expected, abs=0.03)


def test_in_a_plain_firing_the_index_is_about_the_viscosity_at_the_peak():
    # A stiff melt without solids: so the limit reads as a viscosity at the peak.
    moles = vector({"Na2O": 1.0, "Al2O3": 1.0, "SiO2": 6.0})
    melt = melts_of(moles, heat_of(CONE_10))
    assert float(melt.index) == pytest.approx(float(melt.log10_viscosity_at_peak()), abs=0.1)


def test_an_hour_of_hold_counts_as_the_time_that_it_adds():
    # 1.25 h about the peak become 2.25 h: log10 of 1.8 is 0.255.
    heats = [heat_of(held(minutes)) for minutes in (0.0, 60.0)]
    without, with_hold = (float(melts_of(SATIN, heat).index) for heat in heats)
    assert without - with_hold == pytest.approx(0.255, abs=0.02)


def test_the_time_near_the_peak_is_that_of_the_curve():
    heat = heat_of(CONE_10)
    assert heat.near_h.sum() == pytest.approx(float(CONE_10.hours_above(1285.0 - 330.0)))
    assert (heat.near_h > 0).all()


def test_the_cooling_window_counts_only_the_way_down():
    # 60 °C/h up, 100 °C/h down by hand: 200 °C take 2 h on the way down.
    there = FiringCurve([0.0, 20.0, 32.0], [0.0, 1200.0, 0.0])
    heat = heat_of(there)
    assert float(heat.hours_between(1100.0, 900.0)) == pytest.approx(2.0)
    assert float(heat.hours_between(900.0, 1100.0)) == 0.0
    assert float(heat.hours_between(1400.0, 1100.0)) == pytest.approx(1.0)


def test_a_schedule_that_ends_hot_cools_as_the_usual_kiln():
    # data/kilns.yaml: 150 °C/h at 1300 °C, slowing in proportion to the difference to 20 °C.
    ends_hot = heat_of(FiringCurve([0.0, 20.0], [20.0, 1300.0]))
    hours = float(ends_hot.hours_between(1300.0, 900.0))
    assert hours == pytest.approx(1280.0 / 150.0 * np.log(1280.0 / 880.0), abs=0.02)


def test_a_hold_on_the_way_down_counts_in_the_window():
    slow = heat_of(firing_curve(shipped_firings()["cone-10-slow-cool"]))
    plain = heat_of(CONE_10)
    # The schedule holds 60 minutes at 1080 °C and takes 65 °C/h from there.
    expected = 1.0 + 80.0 / 65.0 + float(plain.hours_between(1100.0, 1080.0))
    assert float(slow.hours_between(1100.0, 1000.0)) == pytest.approx(expected, abs=0.1)


def test_the_same_glaze_melts_less_in_a_cooler_firing():
    assert (
        read_surface(SATIN, CONE_6).melt_margin_percent
        < read_surface(SATIN, CONE_10).melt_margin_percent
    )


def test_clamps_are_told():
    stiff = read_surface(vector({"K2O": 0.01, "Al2O3": 3.0, "SiO2": 20.0}), CONE_10)
    assert stiff.melt_margin_percent == pytest.approx(LEAST_PERCENT)
    assert stiff.melt_margin_clamped
    fluid = read_surface(vector({"Na2O": 1.0, "Al2O3": 0.02, "SiO2": 0.3}), CONE_10)
    assert fluid.melt_margin_percent == pytest.approx(MOST_PERCENT)
    assert fluid.melt_margin_clamped
    assert not read_surface(SATIN, CONE_10).melt_margin_clamped


def test_the_index_carries_both_errors_of_the_models():
    # At a liquidus far above the peak the solids count in full, by their weight.
    moles = vector({"K2O": 0.37, "MgO": 0.63, "Al2O3": 0.757, "SiO2": 4.667})
    heat = heat_of(CONE_6)
    melts, there = melts_of(moles, heat), properties(moles, heat.peak_c)
    weight = melting_rules().solids_weight
    expected = np.hypot(float(there.log10_viscosity_error), weight * float(there.liquidus_error_c))
    found = index_error(melts.melt, melts.liquidus_c, melts.far(), heat)
    assert float(found) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("share", [0.3, 0.05])
def test_errors_do_not_step_where_a_melt_enters_a_family(share):
    # The measured errors do: at MgO 0.3 of the fluxes and B2O3 0.05.
    oxide = "MgO" if share == 0.3 else "B2O3"
    found = []
    for amount in (share - 1e-6, share + 1e-6):
        moles = vector({"K2O": 0.3, "CaO": 0.4, "Al2O3": 0.5, "SiO2": 3.5, "ZnO": 0.3 - 1e-9})
        moles[INDEX[oxide]] = amount
        if oxide == "MgO":
            moles[INDEX["ZnO"]] = 0.3 - amount
        heat = heat_of(CONE_10)
        melts = melts_of(moles, heat)
        found.append(float(index_error(melts.melt, melts.liquidus_c, melts.far(), heat)))
    assert found[0] == pytest.approx(found[1], rel=1e-3)


def test_every_ray_has_one_limit_that_does_not_jump():
    basis = basis_of(SATIN, CONE_10)
    angle = np.linspace(0.0, 0.5 * np.pi, 2001)
    margin = melt_margin(basis, np.cos(angle), np.sin(angle) / 5.0)
    room = np.log1p(margin.percent / 100.0)
    assert np.abs(np.diff(room)).max() < 0.03
    assert (margin.error_percent > 0).all()


def test_evidence_and_sources_stand_in_the_table():
    rules = melting_rules()
    assert len(rules.evidence) >= 5
    assert all(e.source and e.confidence for e in rules.evidence)
    assert rules.limit_error > 0


def test_probabilities_follow_from_the_reported_figures():
    # Ordered logistic with a normal share in front, by hand.
    chances = probabilities(0.0, 0.0)
    assert chances[3] == pytest.approx(0.5)
    assert chances.sum() == pytest.approx(1.0)
    assert chances[0] == pytest.approx(0.5 / (1.0 + np.exp(1.3)))


def test_the_basis_keeps_every_oxide_but_the_two_of_the_map():
    moles = vector(dict.fromkeys(OXIDES, 1.0))
    basis = basis_of(moles, CONE_10)
    assert basis.share("SiO2") == basis.share("Al2O3") == 0.0
    assert basis.share("B2O3") == pytest.approx(1.0 / len(FLUXES))
    back = basis.moles(1.0 / 9.0, 1.0 / 9.0)
    assert back == pytest.approx(moles / len(FLUXES), abs=1e-9)


def test_bases_are_equal_along_a_ray_and_differ_with_flux_or_firing():
    basis = basis_of(SATIN, CONE_10)
    more = SATIN.copy()
    more[[INDEX["SiO2"], INDEX["Al2O3"]]] *= 1.7
    assert basis_of(more, CONE_10) == basis
    assert hash(basis_of(more, CONE_10)) == hash(basis)
    assert basis_of(3.7 * SATIN, CONE_10) == basis
    other = SATIN.copy()
    other[INDEX["MgO"]] += 0.001
    assert basis_of(other, CONE_10) != basis
    assert basis_of(SATIN, CONE_6) != basis


def test_the_words_of_the_basis_name_fluxes_boron_and_firing():
    words = basis_of(SATIN, CONE_10, cone="10").words()
    assert words == "cone 10, 1285 °C: K2O 0.23 MgO 0.39 CaO 0.37, no boron"
    boron = vector({"CaO": 1.0, "B2O3": 0.15, "SiO2": 3.0, "Fe2O3": 0.02})
    assert basis_of(boron, CONE_10).words() == "1285 °C: CaO 1.00 Fe2O3 0.02, B2O3 0.15"
