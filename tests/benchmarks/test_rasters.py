"""Time to write three rasters, as we compress and as is customary; told, not gated.

pytest tests/benchmarks/test_rasters.py --benchmark-only -s
"""

import os
import time
from types import SimpleNamespace

import numpy as np
import pytest

from screening.grid import Grid
from screening.kernels.d8 import flow_directions
from screening.kernels.fill import fill_depressions
from screening.kernels.upstream_counts import count_upstream
from screening.report.tables import rasters
from screening.schema.criteria import Criteria
from tests.made_ground import suburb

SIDE = int(os.environ.get("SCREENING_BENCH_CELLS", "2000"))
CUSTOMARY = {"compress": "deflate", "zlevel": 6, "num_threads": 1}


@pytest.mark.benchmark(group="rasters")
def test_write(benchmark, tmp_path, monkeypatch):
    filled = fill_depressions(suburb(SIDE, SIDE, 42), True)
    codes = flow_directions(filled, True)
    flow = SimpleNamespace(
        filled_elev_m=filled, flow_dir_d8=codes, contributing_area_m2=count_upstream(codes).astype(np.float64)
    )
    grid = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=SIDE, n_cols=SIDE)
    result = SimpleNamespace(block=SimpleNamespace(grid=grid), flow=flow, criteria=Criteria())

    def write():
        for name in ("filled_elevation", "flow_direction", "contributing_area"):
            rasters.write_raster(result, name, tmp_path / f"{name}.tif")
        return sum(path.stat().st_size for path in tmp_path.iterdir()) / 2**20

    ours_mib = benchmark.pedantic(write, rounds=3, iterations=1, warmup_rounds=1)
    ours_s = benchmark.stats.stats.min
    monkeypatch.setattr(rasters, "COMPRESSION", CUSTOMARY)
    start = time.perf_counter()
    customary_mib = write()
    customary_s = time.perf_counter() - start
    print(
        f"\nthree rasters of {SIDE} x {SIDE}: {ours_s:.2f} s and {ours_mib:.1f} MiB; deflate level 6 on one thread "
        f"{customary_s:.2f} s and {customary_mib:.1f} MiB; ratio {customary_s / ours_s:.1f}"
    )
    benchmark.extra_info["ratio"] = customary_s / ours_s
