"""Memory and cost per cell of the flow chain as the grid grows.

SCREENING_SCALE_CELLS=20000 pytest tests/benchmarks/test_scale.py --benchmark-only -s
"""

import os

import pytest

from tests.benchmarks.chains import OURS, run_apart

SIDE = int(os.environ.get("SCREENING_SCALE_CELLS", "3000"))
SMALL_SIDE = 1000
BYTES_PER_CELL_MOST = 20
PEAK_MOST_BYTES = 12 * 2**30
GROWTH_MOST = 1.6

pytestmark = pytest.mark.benchmark(group="scale")


def test_memory(benchmark):
    """In a process of its own: at most 20 B/cell above the input, at most 12 GiB at 20,000 x 20,000."""
    found = benchmark.pedantic(run_apart, (OURS, SIDE), {"n_threads": 2, "rounds": 2}, rounds=1, iterations=1)
    peak, per_cell = found["process_peak_bytes"], found["bytes_per_cell"]
    print(
        f"\n{SIDE} x {SIDE} cells: {found['chain_s']:.1f} s, {found['cells'] / found['chain_s'] / 1e6:.1f} Mcells/s, "
        f"process peak {peak / 2**30:.2f} GiB, {per_cell:.1f} B/cell above the input"
    )
    benchmark.extra_info.update(found)
    assert peak > found["input_bytes"]
    assert 0 < per_cell <= BYTES_PER_CELL_MOST
    assert peak <= PEAK_MOST_BYTES or SIDE > 20_000


def test_cost_per_cell_hardly_grows(benchmark):
    """Seconds per cell at the large size and at 1000 x 1000, best of runs that alternate."""
    side = min(max(SIDE, 4 * SMALL_SIDE), 10 * SMALL_SIDE)
    per_cell_ns = {SMALL_SIDE: [], side: []}

    def run_both():
        for size, rounds in ((SMALL_SIDE, 10), (side, 4)):
            found = run_apart(OURS, size, n_threads=2, rounds=rounds)
            per_cell_ns[size].append(found["chain_s"] / found["cells"] * 1e9)

    benchmark.pedantic(run_both, rounds=3, iterations=1)
    small, large = (min(values) for values in per_cell_ns.values())
    ratio = large / small
    print(f"\n{small:.1f} ns/cell at {SMALL_SIDE} x {SMALL_SIDE}, {large:.1f} at {side} x {side}: x {ratio:.2f}")
    benchmark.extra_info.update(small_ns=small, large_ns=large, side=side)
    assert large <= GROWTH_MOST * small
