"""Pipes as saddles and as receivers that are no neighbours; roofs led down; water that spreads meets both."""

import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels import compiling
from screening.kernels.accumulate import accumulate, upstream_mask, zone_upstream_cells
from screening.kernels.conduit_links import NO_LINKS, NO_PIPES, Pipes, collect_links, target_of
from screening.kernels.d8 import directions_through, flow_directions, lead_down, receivers
from screening.kernels.dinfinity import accumulate_dinf, reach_fraction_dinf
from screening.kernels.direction_codes import OUTLET
from screening.kernels.fill import build_basin_graph, fill_basins, fill_depressions, with_pipes
from screening.kernels.hierarchy import build_hierarchy
from screening.kernels.multiflow import accumulate_multiflow, multiflow_order
from screening.kernels.multiflow_zones import reach_fraction
from screening.kernels.order import downstream_order
from screening.kernels.shares import freeman, qin
from tests.made_ground import bumps, suburb


def pipes_of(*pipes):
    inlet, outlet, crest = zip(*pipes, strict=True)
    return Pipes(np.array(inlet, np.int64), np.array(outlet, np.int64), np.array(crest, np.float32))


def two_bowls(rim_a=5.0, rim_b=5.0):
    """Two bowls side by side, floors at 1 m and 0 m, a bank between them, a notch in each rim."""
    elev = np.full((5, 9), 6.0, np.float32)
    elev[1:4, 1:4], elev[1:4, 5:8] = 1.0, 0.0
    elev[0, 2], elev[0, 6] = rim_a, rim_b
    return elev


A, B = 2 * 9 + 2, 2 * 9 + 6


def routed(elev, pipes, nodata_drains=True):
    filled = fill_basins(elev, with_pipes(build_basin_graph(elev, nodata_drains), pipes))
    return filled, *directions_through(filled, nodata_drains, pipes)


def spread_by_all(filled, codes, weight, links):
    yield accumulate_multiflow(filled, codes, weight, freeman(), links)
    yield accumulate_multiflow(filled, codes, weight, qin(1.0), links)
    yield accumulate_dinf(filled, codes, weight, links)


def test_a_pipe_lowers_the_pool_to_its_crest():
    filled, codes, links = routed(two_bowls(rim_a=5.0, rim_b=2.0), pipes_of((A, B, 2.5)))
    assert filled.ravel()[A] == 2.5 and filled.ravel()[B] == 2.0
    assert codes.ravel()[A] == OUTLET
    assert links.cell.tolist() == [A] and links.target.tolist() == [B]


def test_a_pool_that_backs_up_stands_in_both_bowls():
    filled, _, links = routed(two_bowls(rim_a=5.0, rim_b=4.0), pipes_of((A, B, 2.5)))
    assert filled.ravel()[A] == filled.ravel()[B] == 4.0
    assert links.cell.tolist() == [A] and links.target.tolist() == [B]


def test_a_pipe_runs_backward_where_that_is_the_only_way_out():
    filled, _, links = routed(two_bowls(rim_a=3.0, rim_b=5.0), pipes_of((A, B, 2.5)))
    assert filled.ravel()[A] == filled.ravel()[B] == 3.0
    assert links.cell.tolist() == [B] and links.target.tolist() == [A]


def test_a_pipe_above_the_water_carries_nothing():
    filled, _, links = routed(two_bowls(rim_a=2.0, rim_b=1.5), pipes_of((A, B, 3.0)))
    assert filled.ravel()[A] == 2.0 and links.cell.size == 0


def test_a_pipe_leads_out_of_ground_walled_in_by_no_data():
    elev = two_bowls(rim_a=6.0, rim_b=2.0)
    elev[:, 0] = elev[0, :5] = elev[4, :5] = elev[:, 4] = np.nan
    filled, codes, links = routed(elev, pipes_of((A, B, 2.5)), nodata_drains=False)
    assert filled.ravel()[A] == 2.5 and links.cell.tolist() == [A]
    assert downstream_order(receivers(codes, links), links).size == (~np.isnan(elev)).sum()


@pytest.mark.parametrize("nodata_drains", [True, False])
def test_without_pipes_nothing_changes(nodata_drains):
    elev = bumps(23, 31, 8, step_m=0.5, gap_share=0.05)
    graph = build_basin_graph(elev, nodata_drains)
    assert with_pipes(graph, NO_PIPES) is graph
    filled, codes, links = routed(elev, NO_PIPES, nodata_drains)
    np.testing.assert_array_equal(filled, fill_depressions(elev, nodata_drains))
    np.testing.assert_array_equal(codes, flow_directions(filled, nodata_drains))
    assert links is NO_LINKS


def test_a_pipe_is_a_pass_of_the_hierarchy_at_its_crest():
    elev = two_bowls(rim_a=5.0, rim_b=2.0)
    tree = build_hierarchy(elev, with_pipes(build_basin_graph(elev, True), pipes_of((A, B, 2.5))))
    above, below = int(tree.leaf.ravel()[A]), int(tree.leaf.ravel()[B])
    assert tree.spill_elev[above] == 2.5 and tree.spill_cell[above] == A and tree.spills_to[above] == below
    assert tree.n_cells[above] == 9 and tree.volume[above] == 9 * 1.5
    assert tree.spills_to[below] == 0
    # Below the rim of the lower bowl the pipe makes one pool of two before it overflows.
    elev = two_bowls(rim_a=5.0, rim_b=4.0)
    tree = build_hierarchy(elev, with_pipes(build_basin_graph(elev, True), pipes_of((A, B, 2.5))))
    above, below = int(tree.leaf.ravel()[A]), int(tree.leaf.ravel()[B])
    joined = int(tree.parent[above])
    assert joined == tree.parent[below] > 0
    assert tree.volume[joined] == 9 * 3 + 9 * 4 and tree.spill_elev[joined] == 4.0


def test_roof_water_goes_down_only_to_lower_ground():
    filled, codes, links = routed(two_bowls(rim_a=6.0, rim_b=2.0), NO_PIPES)
    # Both from the bank between the bowls: one to the pool that stands as high as the bank, one to the lower pool.
    roof = np.array([2 * 9 + 4, 3 * 9 + 4], np.int64)
    found = lead_down(filled, codes, links, roof, np.array([A, B], np.int64))
    assert found.cell.tolist() == [roof[1]] and found.target.tolist() == [B]


def test_more_cells_than_a_byte_counts_lead_to_one():
    elev = np.full((30, 41), 5.0, np.float32) - np.arange(30, dtype=np.float32)[:, np.newaxis] * np.float32(0.1)
    filled, codes = fill_depressions(elev, True), flow_directions(elev, True)
    roof = (np.arange(2, 20)[:, np.newaxis] * 41 + np.arange(5, 35)).ravel()
    target = np.full(roof.size, 25 * 41 + 3, np.int64)
    links = lead_down(filled, codes, NO_LINKS, roof, target)
    assert links.cell.size == 540
    check_routing(elev, filled, codes, links)
    total = accumulate_multiflow(filled, codes, np.ones(elev.shape), freeman(), links)
    assert total.ravel()[target[0]] > 540


def check_routing(elev, filled, codes, links):
    """Every cell drains, in order, down to the rim of the data; all weight leaves there, by every method."""
    valid = ~np.isnan(elev)
    receiver = receivers(codes, links)
    order = downstream_order(receiver, links)
    assert np.array_equal(np.sort(order), np.flatnonzero(valid))
    rank = np.full(elev.size, -1)
    rank[order] = np.arange(order.size)
    goes_on = (receiver >= 0) & (receiver != np.arange(elev.size))
    assert (rank[goes_on] < rank[receiver[goes_on]]).all()
    outlets = np.flatnonzero((receiver >= 0) & ~goes_on)
    weight = np.where(valid, np.random.default_rng(3).random(elev.shape), 0.0)
    along = accumulate(receiver, order, weight.ravel())
    assert along[outlets].sum() == pytest.approx(weight.sum(), rel=1e-9)
    for total in spread_by_all(filled, codes, weight, links):
        assert total.ravel()[outlets].sum() == pytest.approx(weight.sum(), rel=1e-9)
        # A target gets all that reaches the cells that conduit link to it, and its own.
        arriving = np.bincount(links.target, weights=total.ravel()[links.cell], minlength=elev.size)
        assert (total.ravel() >= arriving + weight.ravel() - 1e-9).all()
    multi_order = multiflow_order(filled, codes, links)
    rank[multi_order] = np.arange(multi_order.size)
    assert np.array_equal(np.sort(multi_order), np.flatnonzero(valid))
    assert (rank[links.cell] < rank[links.target]).all()
    return receiver, order, outlets


@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    n_pipes=st.integers(0, 6),
    n_roofs=st.integers(0, 12),
    step_m=st.sampled_from([0.0, 0.5, 1.0, 2.0]),
    nodata_drains=st.booleans(),
)
def test_any_pipes_and_roofs_keep_water_and_make_no_cycle(seed, n_pipes, n_roofs, step_m, nodata_drains):
    rng = np.random.default_rng(seed)
    elev = bumps(11, 17, seed, step_m=step_m, gap_share=0.05)
    known = np.flatnonzero(~np.isnan(elev.ravel()))
    ends = rng.choice(known, (n_pipes, 2))
    crest = np.maximum(elev.ravel()[ends].max(axis=1), rng.uniform(0, 4, n_pipes) * rng.integers(0, 2, n_pipes))
    pipes = Pipes(*ends.T.astype(np.int64), crest.astype(np.float32))
    filled, codes, links = routed(elev, pipes, nodata_drains)
    assert (filled.ravel()[known] <= fill_depressions(elev, nodata_drains).ravel()[known]).all()
    assert (filled.ravel()[known] >= elev.ravel()[known]).all()
    roof, ground = (rng.choice(known, n_roofs).astype(np.int64) for _ in range(2))
    links = lead_down(filled, codes, links, roof, ground)
    receiver, order, outlets = check_routing(elev, filled, codes, links)
    if nodata_drains:  # water never ends in a hole: every cell drains to the rim of the data
        gap = np.pad(np.isnan(elev), 1, constant_values=True)
        assert all(gap[r : r + 3, c : c + 3].any() for r, c in zip(*np.divmod(outlets, 17), strict=True))
    # What a climb finds is what a walk along the order marks.
    zone = rng.choice(known, 3).astype(np.int64)
    mask = np.zeros(elev.size, bool)
    mask[zone] = True
    climbed = zone_upstream_cells(receiver, 11, 17, zone, links.cell)
    assert climbed.tolist() == np.flatnonzero(upstream_mask(receiver, order, mask)).tolist()
    # A cell that has a conduit link has the fraction of the cell it conduit links to.
    target, pen = mask.reshape(elev.shape).astype(np.uint8), np.ones(elev.shape, np.int32)
    multi_order = multiflow_order(filled, codes, links)
    for reach in (
        reach_fraction(filled, codes, multi_order, target, pen, freeman(), links),
        reach_fraction_dinf(filled, codes, target, pen, links),
    ):
        expected = np.where(mask[links.cell], 1.0, reach.ravel()[links.target])
        np.testing.assert_array_equal(reach.ravel()[links.cell], expected)
        assert reach.max() <= 1 + 1e-12


@pytest.mark.parametrize("strip_rows", [1, 7])
def test_conduit_links_cross_strips(strip_rows, monkeypatch):
    elev = suburb(60, 50, 3)
    rng = np.random.default_rng(1)
    filled, codes = fill_depressions(elev, True), flow_directions(fill_depressions(elev, True), True)
    links = lead_down(filled, codes, NO_LINKS, *rng.integers(0, elev.size, (2, 40)))
    assert links.cell.size > 10
    whole = accumulate_multiflow(filled, codes, np.ones(elev.shape), freeman(), links)
    monkeypatch.setattr(compiling, "SERIAL_CELLS", 1)
    monkeypatch.setattr(compiling, "STRIP_ROWS", strip_rows)
    in_strips = accumulate_multiflow(filled, codes, np.ones(elev.shape), freeman(), links)
    np.testing.assert_allclose(in_strips, whole, rtol=1e-12)
    check_routing(elev, filled, codes, links)


def flood_by_cells(elev, pipes):
    """Level of each cell by a flood that goes from cell to cell, with the pipes as further neighbours."""
    n_rows, n_cols = elev.shape
    gap = np.pad(np.isnan(elev), 1, constant_values=True)
    level = np.full(elev.shape, np.inf)
    ends = {}
    for a, b, crest in zip(*(part.tolist() for part in pipes), strict=True):
        ends.setdefault(a, []).append((b, crest))
        ends.setdefault(b, []).append((a, crest))
    queue = []
    for row, col in np.argwhere(~np.isnan(elev)):
        if gap[row : row + 3, col : col + 3].any():
            heapq.heappush(queue, (float(elev[row, col]), int(row * n_cols + col)))
    while queue:
        here, cell = heapq.heappop(queue)
        if level.ravel()[cell] <= here:
            continue
        level.ravel()[cell] = here
        row, col = divmod(cell, n_cols)
        beside = [
            (near_row * n_cols + near_col, -np.inf)
            for near_row in range(max(row - 1, 0), min(row + 2, n_rows))
            for near_col in range(max(col - 1, 0), min(col + 2, n_cols))
            if not np.isnan(elev[near_row, near_col])
        ]
        for near, crest in [*beside, *ends.get(cell, [])]:
            heapq.heappush(queue, (max(here, crest, float(elev.ravel()[near])), near))
    return np.where(np.isnan(elev), np.nan, level).astype(np.float32)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), n_pipes=st.integers(1, 8), step_m=st.sampled_from([0.0, 0.5, 1.0]))
def test_the_fill_with_pipes_is_that_of_a_flood_from_cell_to_cell(seed, n_pipes, step_m):
    rng = np.random.default_rng(seed)
    elev = bumps(13, 18, seed, step_m=step_m, gap_share=0.03)
    ends = rng.choice(np.flatnonzero(~np.isnan(elev.ravel())), (n_pipes, 2))
    crest = elev.ravel()[ends].max(axis=1) + rng.choice([0.0, 0.25, 1.0], n_pipes).astype(np.float32)
    pipes = Pipes(*ends.T.astype(np.int64), crest)
    np.testing.assert_array_equal(routed(elev, pipes)[0], flood_by_cells(elev, pipes))


def test_conduit_links_are_put_in_order_and_the_first_from_a_cell_counts():
    links = collect_links(np.array([7, 3, 7, 5]), np.array([1, 2, 9, 1]))
    assert links.cell.tolist() == [3, 5, 7] and links.target.tolist() == [2, 1, 1]
    assert links.landing.tolist() == [1, 0, 0]


def test_a_pipe_into_closed_ground_does_not_lead_its_water_back_up():
    # No data all around, and it lets nothing out: the pool gets an outlet of its own.
    elev = np.full((5, 6), np.nan, np.float32)
    elev[1:4, 1:5] = [[3, 3, 3, 3], [3, 1, 1, 3], [3, 3, 3, 3]]
    high, low = 1 * 6 + 1, 2 * 6 + 3
    _, codes, links = routed(elev, pipes_of((high, low, 2.0)), nodata_drains=False)
    assert links.cell.tolist() == [high] and links.target.tolist() == [low]
    assert (codes == OUTLET).sum() == 2
    order = downstream_order(receivers(codes, links), links)
    assert order.size == 12  # no ring: every cell of the ground has its place


def test_an_idle_pipe_does_not_keep_others_from_running():
    elev = np.full((5, 9), np.nan, np.float32)
    elev[1:4, 1:4] = elev[1:4, 5:8] = 1.0
    elev[1, 7] = 0.5
    # one bowl is walled in by no data; the other drains to its lowest cell, and a pipe within it has nothing to do
    within = (2 * 9 + 5, 3 * 9 + 5, 0.0)
    _, codes, links = routed(elev, pipes_of(within, (A, B, 0.0)), nodata_drains=False)
    assert links.cell.tolist() == [A] and links.target.tolist() == [B]
    assert downstream_order(receivers(codes, links), links).size == 18


def test_what_is_led_to_the_first_cell_reaches_it():
    filled, codes = np.ones((3, 3), np.float32), np.full((3, 3), OUTLET, np.uint8)
    links = collect_links(np.array([4]), np.array([0]))
    target, pen = np.zeros((3, 3), np.uint8), np.zeros((3, 3), np.int32)
    target[0, 0] = target[2, 2] = 1
    for reach in (
        reach_fraction(filled, codes, multiflow_order(filled, codes, links), target, pen, freeman(), links),
        reach_fraction_dinf(filled, codes, target, pen, links),
    ):
        assert np.argwhere(reach).tolist() == [[0, 0], [1, 1], [2, 2]] and reach.max() == 1.0
    elsewhere = np.ones((3, 3), np.int32)
    elsewhere[1, 1] = 2
    order = multiflow_order(filled, codes, links)
    assert reach_fraction(filled, codes, order, target, elsewhere, freeman(), links)[1, 1] == 0.0
    assert reach_fraction_dinf(filled, codes, target, elsewhere, links)[1, 1] == 0.0


def test_what_lands_beside_the_first_cell_flows_on_to_it():
    row, col = np.indices((3, 3))
    filled = (row + col).astype(np.float32)
    codes = flow_directions(filled, True)
    links = lead_down(filled, codes, NO_LINKS, np.array([8]), np.array([4]))
    for total in spread_by_all(filled, codes, np.ones((3, 3)), links):
        assert total[0, 0] == pytest.approx(9.0)


def test_where_the_conduit_link_of_a_cell_leads():
    cells, targets = np.array([2, 5], np.int64), np.array([0, 7], np.int64)
    assert [target_of(cells, targets, cell) for cell in (0, 2, 3, 5, 9)] == [-1, 0, -1, 7, -1]
    assert target_of(cells[:0], targets[:0], 4) == -1
