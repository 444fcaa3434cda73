"""Ponding beside the flow chain of the same ground: one storm takes no longer than fill, directions and upstream cells.

pytest tests/benchmarks --benchmark-only -s
"""

import os
import time

import pytest

from screening.depressions.find import find_depressions
from screening.depressions.hierarchy import build_depression_hierarchy
from screening.depressions.ponding import pond_storm
from screening.flow.routing import route_flow
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
    flow = route_flow(surface, criteria=criteria)
    hierarchy = build_depression_hierarchy(surface, criteria=criteria)
    storm = design_storm(block, surface, rain=Rain(depth_mm=100.0, label="test", source="test"), criteria=criteria)
    found = find_depressions(surface, flow, hierarchy, block, criteria=criteria)
    chain = screening(block.elev_m).whole
    chains = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        chain()
        chains.append(time.perf_counter() - start)

    def pond():
        return pond_storm(surface, flow, hierarchy, found, storm, criteria=criteria, with_rains=with_rains)

    pond()
    ponding = benchmark.pedantic(pond, rounds=ROUNDS)
    ours, routed = benchmark.stats.stats.min, min(chains)
    nodes, spots = len(hierarchy.table), len(found.table)
    what = "ponding with rains" if with_rains else "ponding"
    print(
        f"\n{what} {ours:.3f} s, flow chain {routed:.3f} s: {ours / routed:.2f} times, {SIDE} x {SIDE} cells, "
        f"{nodes:,} low spots, {spots:,} reported"
    )
    benchmark.extra_info["ratio_to_chain"] = ours / routed
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
    assert with_rains or ours <= routed
