"""Speed of fill, D8 with flats drained and counting upstream, against other programs in the same run."""

import os
import time

import numpy as np
import pytest
from skimage.morphology import reconstruction

from screening.kernels.d8 import count_upstream, flow_directions
from screening.kernels.fill import fill_depressions
from tests.kernels.peers import WhiteboxPeer
from tests.terrain import suburb

SIDE = int(os.environ.get("SCREENING_BENCH_CELLS", "2000"))
ROUNDS = 3
CHAIN_GATE = 3.0
FILL_GATE = 3.0


@pytest.fixture(scope="module")
def elev():
    fill_and_count(suburb(1200, 1000, 1))  # compile both with and without threads
    fill_and_count(suburb(60, 60, 1))
    return suburb(SIDE, SIDE, 42)


def fill_and_count(elev):
    return count_upstream(flow_directions(fill_depressions(elev, True), True))


def shortest_s(run):
    """Shortest of a few runs [s]."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return min(times)


@pytest.mark.benchmark(group="flow chain")
def test_chain_against_the_best_peer(benchmark, elev, tmp_path):
    peer = WhiteboxPeer(elev, tmp_path)
    tools = peer.hydrology

    def chain_of_peer(fill):
        filled = fill(dem=peer.elev, fix_flats=True)
        return tools.d8_flow_accum(input=filled, out_type="cells")

    benchmark.pedantic(fill_and_count, (elev,), rounds=ROUNDS, iterations=1)
    own_s = benchmark.stats.stats.min
    peers_s = {
        "default fill": shortest_s(lambda: chain_of_peer(tools.fill_depressions)),
        "Wang & Liu": shortest_s(lambda: chain_of_peer(tools.fill_depressions_wang_and_liu)),
    }
    ratio = min(peers_s.values()) / own_s
    report = {name: round(seconds, 3) for name, seconds in peers_s.items()}
    speed = elev.size / own_s / 1e6
    print(f"\nchain {own_s:.3f} s, {speed:.1f} Mcells/s; whitebox-workflows {report} s; ratio {ratio:.2f}")
    benchmark.extra_info.update(ratio=ratio, cells=elev.size, **report)
    assert ratio >= CHAIN_GATE


@pytest.mark.benchmark(group="fill")
def test_fill_against_reconstruction(benchmark, elev):
    seed = elev.copy()
    seed[1:-1, 1:-1] = elev.max()
    window = np.ones((3, 3))
    start = time.perf_counter()
    expected = reconstruction(seed, elev, method="erosion", footprint=window)
    peer_s = time.perf_counter() - start
    filled = benchmark.pedantic(fill_depressions, (elev, True), rounds=ROUNDS, iterations=1)
    np.testing.assert_array_equal(filled, expected.astype(np.float32))
    ratio = peer_s / benchmark.stats.stats.min
    print(f"\nfill {benchmark.stats.stats.min:.3f} s, scikit-image {peer_s:.3f} s; ratio {ratio:.2f}")
    benchmark.extra_info.update(ratio=ratio, cells=elev.size)
    assert ratio >= FILL_GATE
