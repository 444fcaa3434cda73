"""Eight-direction flow: exact on small grids, by properties elsewhere."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.accumulate import accumulate
from screening.kernels.d8 import flow_directions, receivers
from screening.kernels.direction_codes import NODATA, OUTLET, to_power_of_two
from screening.kernels.fill import fill_depressions
from screening.kernels.flow_paths import downstream_path
from screening.kernels.order import downstream_order
from screening.kernels.upstream_counts import count_upstream
from tests.kernels.test_fill import terrains
from tests.made_ground import bumps, suburb


def route(elev, nodata_drains=True):
    filled = fill_depressions(elev, nodata_drains)
    return filled, flow_directions(filled, nodata_drains)


def falling_east(n_rows, n_cols):
    return np.tile(np.arange(n_cols, 0, -1, dtype=np.float32), (n_rows, 1))


@pytest.mark.parametrize("turns", range(4))
def test_plane_along_an_axis_counts_cells_from_the_top(turns):
    # check 9.5: the k-th cell from the top drains k cells
    codes = flow_directions(np.ascontiguousarray(np.rot90(falling_east(5, 9), turns)), True)
    expected = np.rot90(np.tile(np.arange(1, 10), (5, 1)), turns)
    np.testing.assert_array_equal(count_upstream(codes), expected)


def test_ten_rows_that_drain_north_count_ten_to_one():
    # richdem tests/flow_accum/testdem1 (check 9.5)
    north = np.tile(np.arange(10, dtype=np.float32)[:, np.newaxis], (1, 10))
    expected = np.tile(np.arange(10, 0, -1)[:, np.newaxis], (1, 10))
    np.testing.assert_array_equal(count_upstream(flow_directions(north, True)), expected)


def test_power_of_two_codes_turn_clockwise_from_east():
    # the eight cells around the centre, each one the only lower one in turn
    clockwise = [(1, 2), (2, 2), (2, 1), (2, 0), (1, 0), (0, 0), (0, 1), (0, 2)]
    for n, (row, col) in enumerate(clockwise):
        elev = np.full((3, 3), 5, np.float32)
        elev[row, col] = 1
        assert to_power_of_two(flow_directions(elev, True))[1, 1] == 2**n
    elev[0, 0] = np.nan
    exported = to_power_of_two(flow_directions(elev, True))
    assert exported[0, 0] == 255
    assert exported[0, 2] == 0


def test_diagonal_wins_only_where_it_is_steeper_over_its_length():
    elev = np.full((3, 4), 10, np.float32)
    elev[1, 2], elev[2, 2] = 9.0, 8.7  # 1 / 1 against 1.3 / 1.414
    assert receivers(flow_directions(elev, True))[5] == 6
    elev[2, 2] = 8.5  # 1.5 / 1.414
    assert receivers(flow_directions(elev, True))[5] == 10


@settings(max_examples=120, deadline=None)
@given(elev=terrains(), nodata_drains=st.booleans())
def test_every_cell_drains_downhill_without_cycles_and_nothing_is_lost(elev, nodata_drains):
    # checks 9.16 and 9.24
    filled, codes = route(elev, nodata_drains)
    receiver = receivers(codes)
    valid = ~np.isnan(elev).ravel()
    np.testing.assert_array_equal(receiver == -1, ~valid)
    np.testing.assert_array_equal(codes.ravel() == NODATA, ~valid)
    cells = np.flatnonzero(valid)
    assert (filled.ravel()[receiver[cells]] <= filled.ravel()[cells]).all()
    order = downstream_order(receiver)
    assert sorted(order) == list(cells)
    place = np.empty(elev.size, int)
    place[order] = np.arange(order.size)
    moves = receiver[cells] != cells
    assert (place[cells[moves]] < place[receiver[cells[moves]]]).all()
    n_upstream = count_upstream(codes)
    assert n_upstream[codes == OUTLET].sum() == valid.sum()
    np.testing.assert_array_equal(accumulate(receiver, order, np.ones(elev.size)), n_upstream.ravel())


@settings(max_examples=80, deadline=None)
@given(elev=terrains(), nodata_drains=st.booleans())
def test_outlets_lie_only_where_the_data_end_or_have_no_way_out(elev, nodata_drains):
    filled, codes = route(elev, nodata_drains)
    padded = np.pad(filled, 1, constant_values=np.nan)
    edge = np.ones(elev.shape, bool)
    edge[1:-1, 1:-1] = False
    for row, col in np.argwhere((codes == OUTLET) & ~edge):
        window = padded[row : row + 3, col : col + 3]
        assert not (window < filled[row, col]).any()
        if nodata_drains:
            assert np.isnan(window).any()
        else:
            assert _is_walled_in(elev, row, col)


def _is_walled_in(elev, row, col):
    from scipy.ndimage import label

    region, _ = label(~np.isnan(elev), np.ones((3, 3)))
    rows, cols = np.nonzero(region == region[row, col])
    n_rows, n_cols = elev.shape
    return rows.min() > 0 and cols.min() > 0 and rows.max() < n_rows - 1 and cols.max() < n_cols - 1


def test_pit_left_unfilled_becomes_an_outlet():
    elev = np.full((5, 7), 9, np.float32)
    elev[1:4, 1:6] = 5
    elev[2, 3] = 4
    codes = flow_directions(elev, True)
    assert codes[2, 3] == OUTLET
    assert count_upstream(codes)[2, 3] == 35  # the edge cells, too, have lower ground inside only
    assert np.count_nonzero(codes == OUTLET) == 1


def test_a_level_pit_left_unfilled_drains_at_its_first_cell():
    elev = np.full((5, 7), 9, np.float32)
    elev[1:4, 1:6] = 5
    elev[2, 2:5] = 4
    codes = flow_directions(elev, True)
    assert np.argwhere(codes == OUTLET).tolist() == [[2, 2]]
    assert count_upstream(codes)[2, 2] == 35


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_every_flat_drains_in_as_few_steps_as_it_can(seed):
    """Steps on level ground, against a flood from its outlets that goes one step a time."""
    rng = np.random.default_rng(seed)
    filled, codes = route(rng.integers(0, 3, (9, 11)).astype(np.float32))
    receiver = receivers(codes)
    low = np.where(np.isnan(filled), np.inf, filled)
    falls = filled.ravel()[receiver].reshape(filled.shape) < filled
    steps = np.where(falls | (codes == OUTLET), 0, -1)
    for n in range(1, filled.size):
        before = np.pad(steps, 1, constant_values=-1)
        height = np.pad(low, 1, constant_values=np.inf)
        near = [np.s_[1 + dr : 10 + dr, 1 + dc : 12 + dc] for dr in (-1, 0, 1) for dc in (-1, 0, 1) if dr or dc]
        is_next = np.any([(before[part] == n - 1) & (height[part] == low) for part in near], axis=0)
        steps[(steps < 0) & is_next] = n
    moves = (steps > 0).ravel()
    np.testing.assert_array_equal(steps.ravel()[receiver[moves]], steps.ravel()[moves] - 1)
    assert (steps >= 0).all()


def test_flat_drains_the_shortest_way():
    # a level corridor with an outlet at its west end
    elev = np.full((5, 12), 9, np.float32)
    elev[2, 1:11] = 5
    elev[2, 0] = 4
    path = downstream_path(receivers(flow_directions(elev, True)), 2 * 12 + 10)
    np.testing.assert_array_equal(path, 2 * 12 + np.arange(10, -1, -1))


def test_directions_do_not_depend_on_where_the_window_lies():
    elev = suburb(120, 150, 3)
    _, codes = route(elev)
    filled = fill_depressions(elev, True)
    part = (slice(11, 97), slice(17, 123))
    inner = flow_directions(np.ascontiguousarray(filled[part]), True)
    # cells whose direction is settled by their neighbours alone, or by a flat that lies wholly inside
    same = inner[1:-1, 1:-1] == codes[part][1:-1, 1:-1]
    slopes = _has_lower_neighbour(filled)[part][1:-1, 1:-1]
    assert same[slopes].all()
    shifted = np.full((140, 190), 1e4, np.float32)
    shifted[7:127, 30:180] = filled
    walled = np.full((122, 152), 1e4, np.float32)
    walled[1:-1, 1:-1] = filled
    far = flow_directions(shifted, True)[7:127, 30:180]
    near = flow_directions(walled, True)[1:-1, 1:-1]
    np.testing.assert_array_equal(far, near)


def _has_lower_neighbour(filled):
    padded = np.pad(filled, 1, constant_values=np.inf)
    n_rows, n_cols = filled.shape
    lowest = np.min(
        [padded[r : r + n_rows, c : c + n_cols] for r in range(3) for c in range(3)],
        axis=0,
    )
    return lowest < filled


@pytest.mark.parametrize("turn", [np.rot90, np.fliplr, np.flipud, np.transpose])
def test_counts_turn_and_mirror_with_tie_free_ground(turn):
    # check 9.25; a cone of irregular heights without equal gradients or depressions
    rng = np.random.default_rng(4)
    row, col = np.mgrid[0:31, 0:44]
    elev = (3 * np.hypot(row - 12.3, col - 20.7) + rng.random((31, 44))).astype(np.float32)
    elev = (1000 - elev).astype(np.float32)
    count = count_upstream(flow_directions(elev, True))
    turned = count_upstream(flow_directions(np.ascontiguousarray(turn(elev)), True))
    pits = fill_depressions(elev, True) > elev
    assert not pits.any()
    np.testing.assert_array_equal(turned, turn(count))


def test_counts_across_many_strips_are_those_of_the_receivers():
    _, codes = route(suburb(1300, 900, 6))
    receiver = receivers(codes)
    total = accumulate(receiver, downstream_order(receiver), np.ones(codes.size))
    np.testing.assert_array_equal(count_upstream(codes).ravel(), total)


def test_long_winding_channel_is_followed_to_its_end():
    n_rows, n_cols = 41, 30
    elev = np.full((n_rows, n_cols), 1e6, np.float32)
    height = n_rows * n_cols
    for row in range(1, n_rows, 2):
        cols = range(1, n_cols - 1) if row % 4 == 1 else range(n_cols - 2, 0, -1)
        for col in cols:
            elev[row, col] = height
            height -= 1
        if row + 1 < n_rows - 1:
            elev[row + 1, cols[-1]] = height
            height -= 1
    elev[n_rows - 2, 0 if (n_rows - 2) % 4 == 3 else n_cols - 1] = 0
    _, codes = route(elev)
    path = downstream_path(receivers(codes), n_cols + 1)
    assert path.size > 500
    assert (np.diff(elev.ravel()[path]) < 0).all()
    assert elev.ravel()[path[-1]] == 0


def test_no_data_drains_or_walls_in_as_asked():
    elev = falling_east(5, 9)
    elev[2, 5] = np.nan
    assert flow_directions(elev, True)[2, 4] != OUTLET  # the diagonal is lower still
    elev[1:4, 5] = np.nan
    assert flow_directions(elev, True)[2, 4] == OUTLET
    filled = fill_depressions(elev, False)
    walled = flow_directions(filled, False)
    assert not (walled[1:-1, 1:-1] == OUTLET).any()
    assert count_upstream(walled)[2, 5] == 0


def test_twelve_lakes_drain():
    elev = suburb(120, 160, 9)
    rng = np.random.default_rng(2)
    for _ in range(12):
        row, col = rng.integers(10, 90), rng.integers(10, 130)
        elev[row : row + 15, col : col + 20] = elev[row, col] - 3
    filled, codes = route(elev)
    assert count_upstream(codes)[codes == OUTLET].sum() == elev.size
    assert np.count_nonzero(filled > elev) > 1000


def test_rough_ground_of_one_row():
    elev = bumps(1, 40, 3)
    _, codes = route(elev)
    assert (codes != NODATA).all()
    assert count_upstream(codes)[codes == OUTLET].sum() == 40


@pytest.mark.parametrize("shape", [(5, 2), (2, 5), (1, 4), (4, 1), (1, 1)])
def test_level_ground_without_an_inside_leaves_at_every_cell(shape):
    codes = flow_directions(np.zeros(shape, np.float32), True)
    assert (codes == OUTLET).all()
    assert (count_upstream(codes) == 1).all()
    assert receivers(codes).tolist() == list(range(shape[0] * shape[1]))


@pytest.mark.parametrize("turns", range(4))
def test_two_columns_count_the_cell_beside_them(turns):
    codes = flow_directions(np.ascontiguousarray(np.rot90(falling_east(6, 2), turns)), True)
    np.testing.assert_array_equal(count_upstream(codes), np.rot90(np.tile([1, 2], (6, 1)), turns))
