"""Ponding beside the flow chain of the same ground: one storm takes no longer than fill, directions and upstream cells.

pytest tests/benchmarks --benchmark-only -s
"""

import os
import time

import pytest

from screening.depressions.ponding import pond_storm
from screening.depressions.spill_basins import build_spill_basins
from screening.depressions.threshold_rainfall import find_threshold_rains
from screening.findings.terrain import route_water
from screening.models import Rain
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.terrain.surface import build_surface
from tests.benchmarks.chains import screening
from tests.blocks import make_block
from tests.made_ground import suburb

pytestmark = pytest.mark.benchmark

SIDE = int(os.environ.get("SCREENING_BENCH_CELLS", "2000"))
ROUNDS = 3


@pytest.mark.parametrize("with_rains", [False, True])
def test_ponding_against_the_flow_chain(benchmark, with_rains):
    """One storm, and the same with the 96 rains that say which of them fills each low spot."""
    criteria = Criteria.of(low_spot_min_area_m2=25.0)
    block = make_block(suburb(SIDE, SIDE, 1))
    surface = build_surface(block, criteria=criteria)
    routed = route_water(block, surface, None, criteria=criteria)
    flow, low_spots = routed.flow, routed.low_spots
    storm = design_storm(block, surface, rain=Rain(depth_mm=100.0, label="test", source="test"), criteria=criteria)
    chain = screening(block.elev_m).whole
    chains = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        chain()
        chains.append(time.perf_counter() - start)

    def pond():
        # Made with each pond: it is part of what ponding costs.
        basins = build_spill_basins(surface, flow, routed.hierarchy)
        if with_rains:
            find_threshold_rains(surface, basins, low_spots, storm, inflow=flow.inflow, criteria=criteria)
        return pond_storm(flow, routed.hierarchy, basins, low_spots, storm, inflow=flow.inflow)

    pond()
    ponding = benchmark.pedantic(pond, rounds=ROUNDS)
    ours, chain_s = benchmark.stats.stats.min, min(chains)
    nodes, spots = len(routed.hierarchy.table), len(low_spots.found)
    what = "ponding with rains" if with_rains else "ponding"
    print(
        f"\n{what} {ours:.3f} s, flow chain {chain_s:.3f} s: {ours / chain_s:.2f} times, {SIDE} x {SIDE} cells, "
        f"{nodes:,} low spots, {spots:,} reported"
    )
    benchmark.extra_info["ratio_to_chain"] = ours / chain_s
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
    assert with_rains or ours <= chain_s
