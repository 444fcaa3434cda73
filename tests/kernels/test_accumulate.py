"""Sums, labels and zones along the receivers, by hand and against plain searches."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.accumulate import (
    accumulate,
    carry_downstream,
    nearest_label_downstream,
    upstream_mask,
    zone_upstream_cells,
    zone_upstream_total,
)
from screening.kernels.flow_paths import downstream_path, path_to_label
from screening.kernels.order import downstream_order

# 2 x 4 cells:  0 > 1 > 2 > 3 (outlet)     4 > 5 > 1     6 > 2     7 no data
RECEIVER = np.array([1, 2, 3, 3, 5, 1, 2, -1], np.int32)
ORDER = downstream_order(RECEIVER)


@st.composite
def forests(draw):
    """Receivers on a grid that go to a neighbour of lower rank, with cells without data."""
    n_rows, n_cols = draw(st.sampled_from([(1, 1), (1, 9), (6, 1), (5, 7), (9, 4)]))
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    rank = rng.permutation(n_rows * n_cols).reshape(n_rows, n_cols)
    valid = rng.random((n_rows, n_cols)) > 0.1
    receiver = np.full((n_rows, n_cols), -1, np.int32)
    for row, col in np.argwhere(valid):
        near = [
            (r, c)
            for r in range(max(row - 1, 0), min(row + 2, n_rows))
            for c in range(max(col - 1, 0), min(col + 2, n_cols))
            if valid[r, c] and rank[r, c] <= rank[row, col]
        ]
        r, c = near[rng.integers(len(near))]
        receiver[row, col] = r * n_cols + c
    return receiver.ravel(), n_rows, n_cols


def upstream_by_paths(receiver, cells):
    """Cells whose path meets any of `cells`."""
    wanted = {int(cell) for cell in cells}
    return [c for c in range(receiver.size) if wanted & set(downstream_path(receiver, c).tolist())]


def test_order_is_upstream_first():
    np.testing.assert_array_equal(ORDER, [0, 4, 5, 1, 6, 2, 3])


def test_weights_are_summed_downstream():
    weight = np.array([1, 2, 4, 8, 16, 32, 64, 128], float)
    total = accumulate(RECEIVER, ORDER, weight)
    np.testing.assert_array_equal(total, [1, 51, 119, 127, 16, 48, 64, 0])


def test_nearest_label_is_own_then_first_downstream():
    label = np.array([0, 7, 0, 0, 9, 0, 0, 5], np.int32)
    np.testing.assert_array_equal(nearest_label_downstream(RECEIVER, ORDER, label), [7, 7, 0, 0, 9, 7, 0, 0])


def test_path_runs_to_the_outlet():
    np.testing.assert_array_equal(downstream_path(RECEIVER, 4), [4, 5, 1, 2, 3])
    np.testing.assert_array_equal(downstream_path(RECEIVER, 3), [3])
    assert downstream_path(RECEIVER, 7).size == 0


def test_path_to_a_label_ends_with_the_first_that_it_does_not_pass():
    label = np.array([0, 7, 9, 0, 7, 0, 0, 5], np.int32)
    np.testing.assert_array_equal(path_to_label(RECEIVER, 4, label), [4])
    np.testing.assert_array_equal(path_to_label(RECEIVER, 4, label, passing=7), [4, 5, 1, 2])
    np.testing.assert_array_equal(path_to_label(RECEIVER, 3, label), [3])
    assert path_to_label(RECEIVER, 7, label).size == 0
    long = np.append(np.arange(1, 200), 199).astype(np.int32)
    np.testing.assert_array_equal(path_to_label(long, 0, np.zeros(200, np.int32)), np.arange(200))


def test_the_first_label_and_the_first_cell_count_too():
    # 3 drains to 2, 2 to 1, 1 to 0, and there the water leaves
    receiver = np.array([0, 0, 1, 2], np.int32)
    label = np.array([0, 1, 0, 0], np.int32)
    np.testing.assert_array_equal(path_to_label(receiver, 3, label), [3, 2, 1])
    np.testing.assert_array_equal(path_to_label(receiver, 3, label, passing=1), [3, 2, 1, 0])
    np.testing.assert_array_equal(downstream_path(receiver, 1), [1, 0])
    np.testing.assert_array_equal(path_to_label(receiver, 1, 0 * label), [1, 0])
    order = downstream_order(receiver)
    np.testing.assert_array_equal(nearest_label_downstream(receiver, order, label), [0, 1, 1, 1])


def test_upstream_mask_holds_the_marked_cells_and_all_above():
    mask = np.zeros(8, bool)
    mask[[1, 7]] = True
    np.testing.assert_array_equal(np.flatnonzero(upstream_mask(RECEIVER, ORDER, mask)), [0, 1, 4, 5])


def test_bits_are_carried_to_all_cells_below():
    # 4 x 5, all cells drain west along their row, but cell (1, 1) drains south to (2, 1)
    receiver = np.arange(20, dtype=np.int32).reshape(4, 5)
    receiver[:, 1:] -= 1
    receiver[1, 1] = 11
    receiver = receiver.ravel()
    seed = np.zeros((4, 5), np.uint8)
    seed[0, 3], seed[1, 4], seed[2, 2] = 1, 2, 4
    bits = carry_downstream(receiver, downstream_order(receiver), seed.ravel()).reshape(4, 5)
    np.testing.assert_array_equal(bits, [[1, 1, 1, 1, 0], [0, 2, 2, 2, 2], [6, 6, 4, 0, 0], [0, 0, 0, 0, 0]])
    assert seed.sum() == 7  # the seed is left as it was


def test_zone_areas_count_cells_once_though_water_leaves_and_comes_back():
    n_upstream = accumulate(RECEIVER, ORDER, np.ones(8)).astype(np.int32)
    zones = [[0, 2], [4, 1], [7], [], [3, 3, 2], [6, 0]]
    start = np.cumsum([0, *map(len, zones)])
    cells = np.array([cell for zone in zones for cell in zone], np.int64)
    area = zone_upstream_total(RECEIVER, n_upstream, start, cells)
    np.testing.assert_array_equal(area, [6, 4, 0, 0, 7, 2])


@settings(max_examples=150, deadline=None)
@given(forest=forests(), data=st.data())
def test_zones_are_those_of_a_plain_search(forest, data):
    receiver, n_rows, n_cols = forest
    order = downstream_order(receiver)
    zones = data.draw(st.lists(st.lists(st.integers(0, receiver.size - 1), max_size=8), max_size=5))
    weight = np.random.default_rng(0).integers(1, 9, receiver.size).astype(float)
    start = np.cumsum([0, *map(len, zones)]).astype(np.int64)
    cells = np.array([cell for zone in zones for cell in zone], np.int64)
    expected = [upstream_by_paths(receiver, zone) for zone in zones]
    total = accumulate(receiver, order, weight)
    area = zone_upstream_total(receiver, total, start, cells)
    np.testing.assert_allclose(area, [weight[found].sum() for found in expected], rtol=1e-12)
    for zone, found in zip(zones, expected, strict=True):
        climbed = zone_upstream_cells(receiver, n_rows, n_cols, np.array(zone, np.int64))
        np.testing.assert_array_equal(climbed, found)
        mask = np.zeros(receiver.size, bool)
        mask[zone] = True
        np.testing.assert_array_equal(np.flatnonzero(upstream_mask(receiver, order, mask)), found)


def test_search_upstream_grows_beyond_its_first_room():
    # one row that drains west: everything lies upstream of the first cell
    receiver = np.maximum(np.arange(5000, dtype=np.int32) - 1, 0)
    found = zone_upstream_cells(receiver, 1, 5000, np.array([0], np.int64))
    np.testing.assert_array_equal(found, np.arange(5000))


def test_cells_above_those_that_arrive_from_afar():
    # 0 > 1 and out; 2 and 3 are outlets; 5 > 4 ~> 6 > 7 ~> 0, where ~> is a conduit link
    receiver = np.array([1, 1, 2, 3, 6, 4, 7, 0], np.int32)
    far = np.array([4, 7], np.int64)
    assert zone_upstream_cells(receiver, 2, 4, np.array([1]), far).tolist() == [0, 1, 4, 5, 6, 7]
    assert zone_upstream_cells(receiver, 2, 4, np.array([7]), far).tolist() == [4, 5, 6, 7]
    assert zone_upstream_cells(receiver, 2, 4, np.array([3]), far).tolist() == [3]
    assert zone_upstream_cells(receiver, 2, 4, np.array([1])).tolist() == [0, 1]
