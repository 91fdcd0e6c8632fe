"""Speed of the surface reading, beside a bare numpy product timed in the same run.

Run with ``python -m pytest tests/bench --benchmark-only``; the plain test run
executes each once, without timing. Budgets hold on one core: set
OPENBLAS_NUM_THREADS=1.
"""

from __future__ import annotations

import statistics
import time

import numpy as np

from core.firing import firing_curve, shipped_firings
from core.melt import properties
from core.oxides import vector
from core.reading import margin
from core.reading.basis import basis_of
from core.reading.field import zone_field
from core.reading.kinds import kind_of
from core.reading.surface import read_surface

CURVE = firing_curve(shipped_firings()["cone-10-medium"])
SATIN = vector({"K2O": 0.234, "CaO": 0.372, "MgO": 0.393, "Al2O3": 0.475, "SiO2": 2.929})


def bare_product() -> float:
    """Median seconds of a matrix product of 10,000 rows by 25 x 256, float32."""
    left, right = np.ones((10_000, 25), np.float32), np.ones((25, 256), np.float32)
    return _median(lambda: left @ right)


def _median(work) -> float:
    taken = []
    for _ in range(30):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def record(benchmark, budget_ms: float) -> None:
    if benchmark.disabled:
        return
    median = benchmark.stats.stats.median
    benchmark.extra_info["median_ms"] = 1e3 * median
    benchmark.extra_info["budget_ms"] = budget_ms
    benchmark.extra_info["over_bare_product"] = median / bare_product()
    benchmark.extra_info["over_melt_figures_of_one"] = median / _median(
        lambda: properties(SATIN, CURVE.peak_c)
    )


def test_the_field_of_a_new_basis(benchmark):
    """Budget: under 45 ms for 64 x 48 points, nothing kept from before."""
    basis = basis_of(SATIN, CURVE)
    x, y = np.linspace(0.5, 8.0, 64), np.linspace(0.02, 1.2, 48)
    found = benchmark.pedantic(
        lambda: zone_field(basis, x, y), setup=margin.forget, rounds=20, warmup_rounds=2
    )
    assert found.probabilities.shape == (48, 64, 4)
    record(benchmark, 45.0)


def test_the_reading_of_a_new_basis(benchmark):
    """Budget: under 2 ms for one recipe, kind and reasons included, nothing kept from before."""
    found = benchmark.pedantic(
        lambda: kind_of(read_surface(SATIN, CURVE)),
        setup=margin.forget,
        rounds=100,
        warmup_rounds=5,
    )
    assert found.kind.id == "magnesia-satin"
    record(benchmark, 2.0)


def test_hovering_over_the_map(benchmark):
    """Budget: under 2 ms for a point of a basis whose field is there."""
    zone_field(basis_of(SATIN, CURVE), np.linspace(0.5, 8.0, 64), np.linspace(0.02, 1.2, 48))
    found = benchmark(lambda: read_surface(SATIN, CURVE))
    assert found.zone == "satin"
    record(benchmark, 2.0)
