"""Speed of a schedule's reading, beside a bare numpy product timed in the same run.

Run with ``python -m pytest tests/bench --benchmark-only``; the plain test run
executes each once, without timing. Budgets hold on one core: set
OPENBLAS_NUM_THREADS=1.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
import pytest

from core.firing import cone_reached, firing_curve, peak_for, shipped_firings


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


@pytest.mark.parametrize("id_", ["cone-6-medium", "cone-10-slow-cool"])
def test_a_schedule_to_its_cone(benchmark, id_):
    """Budget: under 1 ms from the schedule to its curve and cone."""
    firing = shipped_firings()[id_]
    reading = benchmark(lambda: cone_reached(firing_curve(firing)))
    assert reading.cone == firing.cone
    record(benchmark, 1.0)


def test_a_schedule_to_its_curve(benchmark):
    """Budget: under 1 ms, within which the cone has to come too."""
    firing = shipped_firings()["cone-10-slow-cool"]
    curve = benchmark(lambda: firing_curve(firing))
    assert curve.peak_c == firing.peak_c
    record(benchmark, 1.0)


def test_a_peak_for_a_cone(benchmark):
    """Budget: under 16 ms, one frame."""
    peak = benchmark(lambda: peak_for("6", 60.0, 15.0))
    assert 1200.0 < peak < 1222.0
    record(benchmark, 16.0)
