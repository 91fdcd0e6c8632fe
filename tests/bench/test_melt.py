"""Speed of the melt models, each beside a bare numpy product timed in the same run.

Run with ``python -m pytest tests/bench --benchmark-only``; the plain test run
executes each once, without timing. Budgets hold on one core: set
OPENBLAS_NUM_THREADS=1.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
import pytest

from core.melt import properties, viscosity_curve
from core.oxides import OXIDES, vector
from core.tables import data_folder

SATIN = vector({"K2O": 0.234, "CaO": 0.372, "MgO": 0.393, "Al2O3": 0.475, "SiO2": 2.929})


def map_grid(size: int) -> np.ndarray:
    """Compositions of a silica-alumina map, shape (size, size, 25)."""
    grid = np.broadcast_to(SATIN, (size, size, len(OXIDES))).copy()
    grid[..., OXIDES.index("SiO2")] = np.linspace(1.5, 6.0, size)
    grid[..., OXIDES.index("Al2O3")] = np.linspace(0.1, 1.0, size)[:, None]
    return grid


def bare_product() -> float:
    """Median seconds of a matrix product of 10,000 rows by 25 x 256, float32."""
    left, right = np.ones((10_000, 25), np.float32), np.ones((25, 256), np.float32)
    taken = []
    for _ in range(30):
        begin = time.perf_counter()
        left @ right
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def record(benchmark, budget_ms: float) -> None:
    if benchmark.disabled:
        return
    median = benchmark.stats.stats.median
    benchmark.extra_info["median_ms"] = 1e3 * median
    benchmark.extra_info["budget_ms"] = budget_ms
    benchmark.extra_info["over_bare_product"] = median / bare_product()


def test_a_map_of_a_hundred_by_a_hundred(benchmark):
    """Budget: under 70 ms for every figure of 10,000 compositions."""
    grid = map_grid(100)
    found = benchmark(lambda: properties(grid, 1280.0))
    assert found.liquidus_c.shape == (100, 100)
    assert np.isfinite(found.expansion).all()
    record(benchmark, 70.0)


def test_one_composition(benchmark):
    """Budget: under 1 ms for every figure of one composition."""
    found = benchmark(lambda: properties(SATIN, 1280.0))
    assert found.inside_domain
    record(benchmark, 1.0)


def test_one_melt_curve(benchmark):
    """Budget: under 1 ms for the viscosity at 200 temperatures."""
    temperatures = np.linspace(600.0, 1400.0, 200)
    curve = benchmark(lambda: viscosity_curve(SATIN, temperatures))
    assert curve.shape == (200,)
    record(benchmark, 1.0)


@pytest.mark.parametrize("budget", [300_000])
def test_the_coefficients_are_small(budget):
    """Budget: under 300 kB for all coefficient files."""
    assert sum(path.stat().st_size for path in (data_folder() / "melt").iterdir()) < budget
