"""Speed of fill, D8 with flats drained and counting upstream, against other programs in the same run.

Each program runs in a process of its own, one after another, and the best of a few rounds counts. Programs that are
not installed are named as absent. The aims at 4000 x 4000 are 4 times the best peer on two threads, 2.5 times on one,
and a fill of twice topotoolbox's; what is asserted is a little less, to absorb noise.

SCREENING_BENCH_CELLS=4000 pytest tests/benchmarks/test_flow_chain.py --benchmark-only -s
"""

import os

import pytest

from tests.benchmarks.chains import CHAINS, OURS, is_installed, run_apart

SIDE = int(os.environ.get("SCREENING_BENCH_CELLS", "2000"))
ROUNDS = 5
PEER_ROUNDS = 2
CHAIN_GATE = {2: 3.0, 1: 2.0}
FILL_GATE = {2: 2.0, 1: 1.5}
EXACT = ("topotoolbox, carve", "pyflwdir", "richdem, epsilon", "scikit-image")
"""Programs whose fill is exact: bit for bit ours."""

pytestmark = pytest.mark.benchmark(group="flow chain")


@pytest.mark.parametrize("n_threads", [2, 1])
def test_chain_against_all_peers(benchmark, n_threads):
    if n_threads > (os.cpu_count() or 1):
        pytest.skip("one processor")
    names = [name for name in CHAINS if is_installed(name)]
    found = {
        name: run_apart(name, SIDE, n_threads=n_threads, rounds=ROUNDS if name == OURS else PEER_ROUNDS)
        for name in names
    }
    again = benchmark.pedantic(
        run_apart, (OURS, SIDE), {"n_threads": n_threads, "rounds": ROUNDS}, rounds=1, iterations=1
    )
    own = {key: min(value, again[key]) for key, value in found[OURS].items()}
    found[OURS] = own
    peers = [name for name in names if name != OURS]
    chain_ratio = min(found[name]["chain_s"] for name in peers if "chain_s" in found[name]) / own["chain_s"]
    fill_ratio = min(found[name]["fill_s"] for name in peers if "fill_s" in found[name]) / own["fill_s"]
    _print_table(found, n_threads)
    absent = [name for name in CHAINS if name not in names]
    print(f"absent: {', '.join(absent) or 'none'}; chain {chain_ratio:.2f} and fill {fill_ratio:.2f} of the best peer")
    benchmark.extra_info.update(chain_ratio=chain_ratio, fill_ratio=fill_ratio, cells=SIDE**2, threads=n_threads)
    for name in EXACT:
        if name in found:
            assert found[name]["fill_sha1"] == own["fill_sha1"], name
    assert chain_ratio >= CHAIN_GATE[n_threads]
    assert fill_ratio >= FILL_GATE[n_threads]


def _print_table(found, n_threads):
    print(f"\n{SIDE} x {SIDE} cells, {n_threads} thread(s) of those programs that can be told")
    print("| program | fill s | chain s | Mcells/s | times ours | B/cell |")
    print("|---|---|---|---|---|---|")
    own_s = found[OURS]["chain_s"]
    for name, row in sorted(found.items(), key=lambda item: item[1].get("chain_s", 1e9)):
        fill = f"{row['fill_s']:.2f}" if "fill_s" in row else ""
        rest = "| | |"
        if "chain_s" in row:
            chain_s = row["chain_s"]
            speed = row["cells"] / chain_s / 1e6
            rest = f"{chain_s:.2f} | {speed:.1f} | {chain_s / own_s:.1f} | {row['bytes_per_cell']:.0f}"
        print(f"| {name} | {fill} | {rest} |")
