import lzma
from itertools import pairwise

import numpy as np
import pytest

from core.melt import fit, fit_liquidus, fit_viscosity
from core.melt.card import read_card
from core.melt.composition import COLUMN, MODELLED, features
from core.melt.domain import Centres
from core.melt.fit import GROWTH_EDGES, HeldOut, folds, growth, sigma
from core.melt.liquidus import magnesia_ramp, uncorrected_c
from core.melt.network import load
from core.melt.rows import Rows
from core.melt.training import Shape
from core.melt.viscosity import ViscosityCurve, curve
from core.plain_yaml import read_file
from core.tables import data_folder


def invented(prop, glasses=300, seed=0):
    """Rows of a made-up law, three temperatures to a glass where there are any."""
    random = np.random.default_rng(seed)
    fractions = np.zeros((glasses, 18))
    for oxide, low, high in (
        ("SiO2", 3, 6),
        ("Al2O3", 0.2, 0.6),
        ("CaO", 0.2, 1),
        ("MgO", 0, 1),
        ("Na2O", 0, 0.5),
    ):
        fractions[:, COLUMN[oxide]] = random.uniform(low, high, glasses)
    fractions /= fractions.sum(axis=1, keepdims=True)
    silica, soda = fractions[:, COLUMN["SiO2"]], fractions[:, COLUMN["Na2O"]]
    times = 3 if prop == "viscosity" else 1
    temperature = np.tile([800.0, 1100.0, 1400.0], glasses)[: glasses * times]
    if prop == "viscosity":
        law = ViscosityCurve(
            np.full(glasses, -2.5), 700.0 + 500.0 * silica - 900.0 * soda, 0.5 + silica
        )
        value = law.log10_viscosity(temperature.reshape(-1, 3).T).T.ravel()
    else:
        value = 700.0 + 800.0 * silica - 1500.0 * soda
    fractions = np.repeat(fractions, times, axis=0)
    marks = np.zeros(len(value), bool)
    names = np.repeat(np.arange(glasses), times)
    return Rows(
        prop,
        names.astype(str),
        (names // 10).astype(str),
        np.full(len(value), "train"),
        ~marks,
        marks,
        marks,
        fractions,
        value,
        temperature if prop == "viscosity" else np.full(len(value), np.nan),
    )


def test_the_viscosity_fit_finds_a_known_law_again(monkeypatch):
    monkeypatch.setattr(fit_viscosity, "SHAPE", Shape((8,), 1e-6, 400))
    rows = invented("viscosity")
    networks = fit_viscosity.fit(rows, 2, seed=1)
    off = curve(rows.fractions, networks).log10_viscosity(rows.temperature_c) - rows.value
    assert np.sqrt(np.mean(off**2)) < 0.05
    again = fit_viscosity.fit(rows, 2, seed=1)
    assert np.array_equal(
        again.mean(features(rows.fractions)), networks.mean(features(rows.fractions))
    )


def test_the_liquidus_fit_finds_a_known_law_again(monkeypatch):
    monkeypatch.setattr(fit_liquidus, "SHAPE", Shape((8,), 1e-6, 400))
    rows = invented("liquidus")
    networks = fit_liquidus.fit(rows, 2, seed=1)
    off = uncorrected_c(rows.fractions, networks) - rows.value
    assert np.sqrt(np.mean(off**2)) < 5.0


def test_points_of_one_glass_share_its_weight():
    rows = invented("viscosity", glasses=2)
    few = rows.only(np.array([0, 1, 2, 4]))
    _, glass = np.unique(few.glass, return_inverse=True)
    weight = fit_viscosity.row_weight(few, glass)
    assert weight.sum() == pytest.approx(1.0)
    # The two rows at 1100 °C: one of three of its glass, the other alone.
    assert weight[1] / weight[3] == pytest.approx(1 / np.sqrt(3))


def test_rows_of_a_large_publication_weigh_less_each():
    weight = fit_liquidus.publication_weight(np.array(["a"] * 9 + ["b"]), np.ones(10))
    assert weight.sum() == pytest.approx(1.0)
    assert weight[9] > 1.5 * weight[0]
    assert weight[:9].sum() > weight[9]


def test_the_magnesia_bias_is_found_where_it_was_put():
    rows = invented("liquidus", glasses=400)
    noise = np.random.default_rng(9).normal(0.0, 30.0, 400)
    residual = 40.0 * magnesia_ramp(rows.fractions) + noise
    # Four standard errors of a mean over some two hundred rows.
    assert fit_liquidus.magnesia_bias(rows.fractions, residual) == pytest.approx(40.0, abs=8.0)
    assert fit_liquidus.magnesia_bias(rows.fractions, np.zeros(400)) == 0.0


def test_no_publication_lies_in_two_folds():
    rows = invented("liquidus")
    fold = folds(rows, 4, seed=2)
    assert set(fold) == {0, 1, 2, 3}
    for name in np.unique(rows.publication):
        assert len(set(fold[rows.publication == name])) == 1


def test_the_error_of_a_family_is_its_largest_held_out_root_mean_square():
    rows = invented("liquidus")
    sets = [HeldOut("here", rows, rows.value + 30.0), HeldOut("there", rows, rows.value - 50.0)]
    for family in ("magnesia-rich", "boron-bearing"):  # of the second there is none
        assert sigma(sets, lambda r: np.ones(len(r), bool), family) == pytest.approx(50.0)


def test_growth_follows_the_distance_and_never_falls():
    rows = invented("liquidus")
    percent = (100 * rows.fractions).astype(np.float32)
    centres = Centres(percent.mean(axis=0)[None], 8.0, percent.max(axis=0))
    gap = centres.distance(percent) / 8.0
    held = HeldOut("here", rows, rows.value + 100.0 * gap)
    found = growth(held, np.full(len(rows), 100.0), centres)
    assert len(found) == len(GROWTH_EDGES) - 1
    assert found == sorted(found)
    # The residual is the distance itself, so each factor lies within its class.
    full = [
        (low, high)
        for low, high in pairwise(GROWTH_EDGES)
        if ((gap >= low) & (gap < high)).sum() >= 40
    ]
    assert len(full) >= 2
    for low, high in full:
        assert low <= found[GROWTH_EDGES.index(low)] <= high


def written(path, rows, column):
    marks = "ID,publication,split,core,twin,suspect"
    lines = [
        f"{marks},{','.join(MODELLED)},{column}" + (",T_C" if rows.prop == "viscosity" else "")
    ]
    for i in range(len(rows)):
        # Publications of even numbers are fitted, the others held out.
        split = ("train", "val")[int(rows.publication[i]) % 2]
        shares = ",".join(f"{share:.6f}" for share in rows.fractions[i])
        line = f"{rows.glass[i]},{rows.publication[i]},{split},1,0,0,{shares},{rows.value[i]:.5f}"
        lines.append(line + (f",{rows.temperature_c[i]}" if rows.prop == "viscosity" else ""))
    path.write_bytes(lzma.compress("\n".join(lines).encode()))


def test_the_program_writes_what_the_models_load_and_the_same_each_time(tmp_path, monkeypatch):
    written(tmp_path / "viscosity.csv.xz", invented("viscosity"), "log10_eta_Pa_s")
    written(tmp_path / "liquidus.csv.xz", invented("liquidus"), "T_liquidus_C")
    quick = Shape((4,), 1e-5, 40)
    monkeypatch.setattr(fit_viscosity, "SHAPE", quick)
    monkeypatch.setattr(fit_liquidus, "SHAPE", quick)
    monkeypatch.setattr(fit, "CENTRES", 8)
    monkeypatch.setattr(fit, "NETWORKS", 1)
    monkeypatch.setattr(fit, "FOLD_NETWORKS", 1)
    asked = []
    # The expansion has a fit and tests of its own; it is begun with the same folder.
    monkeypatch.setattr(fit.fit_expansion, "main", lambda argv: asked.append(argv) or 0)
    found = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        monkeypatch.setattr(fit, "data_folder", lambda name=name: tmp_path / name)
        assert fit.main([str(tmp_path)]) == 0
        found.append(
            {path.name: path.read_bytes() for path in (tmp_path / name / "melt").iterdir()}
        )
    assert found[0] == found[1]
    assert asked == [[str(tmp_path)]] * 2
    assert load(tmp_path / "one" / "melt" / "viscosity.npz").outputs == 3
    assert load(tmp_path / "one" / "melt" / "liquidus.npz").outputs == 1
    card = read_card(read_file(tmp_path / "one" / "melt" / "card.yaml"))
    # The made-up law has no noise: even a hasty fit stays well within this.
    assert 0.0 < max(card.liquidus_error) < 60.0


def test_missing_data_and_wrong_usage_are_said_in_one_line(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(fit, "data_folder", lambda: tmp_path)
    assert fit.main([str(tmp_path / "nowhere")]) == 1
    assert capsys.readouterr().err.count("\n") == 1
    assert fit.main(["--quick"]) == 2
    assert "usage" in capsys.readouterr().err


def test_all_coefficients_together_stay_small():
    files = [path for path in (data_folder() / "melt").iterdir() if path.is_file()]
    assert {"viscosity.npz", "liquidus.npz", "domain.npz"} <= {path.name for path in files}
    assert sum(path.stat().st_size for path in files) < 300_000
