"""Many lots: lots and cells a second, memory of a worker, one worker beside two, and beside the same lots one by one.

BATCH_BENCH_LOTS=10000 pytest tests/benchmarks/test_batch.py --benchmark-only -s   # 10,000 lots on 100 km2
"""

import functools
import math
import os
import time

import pytest

from screening.batch import BatchOptions, run_batch
from screening.models import Rain, SiteRequest
from screening.site.screen import screen_site
from tests.town import make_town

N_LOTS = int(os.environ.get("BATCH_BENCH_LOTS", "500"))
N_ALONE = 10 if N_LOTS < 1000 else 20
AROUND_M = 200 if N_LOTS < 1000 else 1600
"""Ground around the lots: as far as a window may reach, so that few lots are not done sooner for want of it."""
RAIN = Rain(depth_mm=75.0, label="75 mm", source="benchmark")


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """Gives a town of so many lots; each is made once."""

    @functools.cache
    def of(n_lots):
        n_cols = math.isqrt(n_lots)
        folder = tmp_path_factory.mktemp("town")
        paths = make_town(folder, n_rows=-(-n_lots // n_cols), n_cols=n_cols, around_m=AROUND_M)
        return SiteRequest(**{name: path if name == "elevation" else str(path) for name, path in paths.items()})

    return of


def batch(request, out, n_workers):
    report = run_batch(request, out, rain=RAIN, options=BatchOptions(n_workers=n_workers))
    assert (report.summary.status == "assessed").all()
    rate = report.n_screened / report.seconds
    print(
        f"\n{report.n_screened} lots, {n_workers} workers: {report.seconds:.0f} s with their start, {rate:.2f} lots/s, "
        f"{report.n_cells / report.seconds / 1e6:.2f} Mcells/s, {report.peak_bytes / 2**30:.2f} GiB a worker at most"
    )
    return report


@pytest.mark.benchmark(group="batch")
def test_batch_beside_the_same_lots_one_by_one(benchmark, town, tmp_path):
    request = town(min(N_LOTS, 1000))
    report = benchmark.pedantic(batch, (request, tmp_path / "two", 2), rounds=1)
    ids = report.summary.lot_id.sort_values().iloc[:: max(len(report.summary) // N_ALONE, 1)][:N_ALONE]
    start = time.perf_counter()
    for number, lot_id in enumerate(ids):
        screening = screen_site(SiteRequest(**{**vars(request), "lot_ids": (lot_id,)}), rain=RAIN)
        screening.write(tmp_path / f"alone-{number}")
    alone_s = (time.perf_counter() - start) / len(ids)
    times = alone_s * report.n_screened / report.seconds
    print(f"alone {alone_s:.2f} s a lot with outputs, batch {times:.1f} times faster")
    benchmark.extra_info.update(times_one_by_one=times)
    # With few lots the start of the workers is most of it.
    assert N_LOTS < 1000 or times >= 10


@pytest.mark.benchmark(group="batch")
@pytest.mark.skipif(N_LOTS < 2500, reason="needs many lots: of few there are too few blocks to end together")
def test_a_second_worker_pays(benchmark, town, tmp_path):
    request = town(2500)
    two = benchmark.pedantic(batch, (request, tmp_path / "two", 2), rounds=1)
    gain = batch(request, tmp_path / "one", 1).seconds / two.seconds
    print(f"two workers {gain:.2f} times one")
    benchmark.extra_info.update(two_over_one=gain)
    assert gain >= 1.7


@pytest.mark.benchmark(group="batch")
@pytest.mark.skipif(N_LOTS < 5000, reason="needs many lots")
def test_cost_of_a_lot_stays_flat(benchmark, town, tmp_path):
    few = batch(town(1000), tmp_path / "few", 2)
    many = benchmark.pedantic(batch, (town(N_LOTS), tmp_path / "many", 2), rounds=1)
    growth = (many.seconds / many.n_screened) / (few.seconds / few.n_screened)
    print(f"cost of a lot grown {growth:.2f} times from {few.n_screened} to {many.n_screened} lots")
    benchmark.extra_info.update(growth=growth)
    assert growth <= 1.3
