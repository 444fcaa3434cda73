import numpy as np
import pytest

from screening.kernels.accumulate import accumulate, zone_upstream_total
from screening.kernels.d8 import flow_directions, receivers
from screening.kernels.fill import fill_depressions
from screening.kernels.flow_paths import downstream_path
from screening.kernels.inflow_cells import next_zone_cells
from screening.kernels.order import downstream_order
from tests.made_ground import bumps


def test_a_river_that_touches_a_zone_twice():
    # 0 > 1 > 2 > 3 > 4 > 5, and 6 > 3: the zone is 1 and 4.
    receiver = np.array([1, 2, 3, 4, 5, 5, 3], np.int32)
    place, last = next_zone_cells(receiver, np.array([0, 2]), np.array([4, 1]))
    assert place.tolist() == [-1, 0] and last.tolist() == [-1, 3]


def test_neighbours_and_outlets_and_no_data():
    receiver = np.array([1, 1, -1], np.int32)
    place, last = next_zone_cells(receiver, np.array([0, 3]), np.array([0, 1, 2]))
    assert place.tolist() == [1, -1, -1] and last.tolist() == [0, -1, -1]


@pytest.mark.parametrize("seed", range(6))
def test_against_walks_and_totals(seed):
    elev = bumps(23, 31, seed, step_m=0.1, gap_share=0.1)
    receiver = receivers(flow_directions(fill_depressions(elev, True), True))
    through = accumulate(receiver, downstream_order(receiver), (receiver >= 0).astype(float))
    rng = np.random.default_rng(seed)
    zones = [rng.choice(elev.size, size, replace=False) for size in (1, 40, 0, 150)]
    start = np.concatenate(([0], np.cumsum([zone.size for zone in zones])))
    cells = np.concatenate(zones)
    place, last = next_zone_cells(receiver, start, cells)
    total = zone_upstream_total(receiver, through, start, cells)
    for number, zone in enumerate(zones):
        own = slice(start[number], start[number + 1])
        for cell, to, before in zip(zone, place[own], last[own], strict=True):
            path = downstream_path(receiver, int(cell))
            met = [k for k in range(1, path.size) if path[k] in zone]
            assert (to < 0) == (not met)
            if met:
                assert cells[to] == path[met[0]] and before == path[met[0] - 1]
                assert start[number] <= to < start[number + 1]
        again = place[own] >= 0
        first = through[zone].sum() - through[zone[again]].sum()
        assert first == pytest.approx(total[number])


def test_water_that_comes_to_the_first_cell():
    # 2 > 1 > 0, where it leaves: the zone is 1 and 0, then 2 and 0.
    receiver = np.array([0, 0, 1], np.int32)
    place, last = next_zone_cells(receiver, np.array([0, 2, 4]), np.array([1, 0, 2, 0]))
    assert place.tolist() == [1, -1, 3, -1] and last.tolist() == [1, -1, 1, -1]
