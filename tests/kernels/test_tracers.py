"""Tracers on ground whose lines of steepest descent are known, across outlines of four sides."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels import d8, inflow_cells, tracers
from screening.kernels.tracers import AT_DRAIN, AT_WALL, CROSSED, DRAINED, ENDED_INSIDE, NEVER_ENTERED, ON_PATCH

SHAPE = (12, 15)
BOX = ((3.0, 2.0), (11.0, 2.0), (11.0, 9.0), (3.0, 9.0))
"""Clockwise on the map from its north-west corner: north side 0 to 8, east 8 to 15, south 15 to 23, west 23 to 30."""
NORTH, EAST, SOUTH, WEST = 0.0, 8.0, 15.0, 23.0


def centres(shape=SHAPE):
    row, col = np.indices(shape)
    return col + 0.5, row + 0.5


def fall(dx, dy, shape=SHAPE):
    x, y = centres(shape)
    return 100.0 - 0.1 * (dx * x + dy * y)


def edges_of(corners):
    ends = np.roll(corners, -1, axis=0)
    begins = np.concatenate(([0.0], np.cumsum(np.hypot(*(ends - corners).T))[:-1]))
    return np.column_stack((corners, ends, begins))


def walk(ground, starts, inside, *, corners=BOX, receiver=None, code=None, pond=None):
    if receiver is None:
        receiver = d8.receivers(d8.flow_directions(ground.astype(np.float32), True))
    code = np.full(ground.shape, ON_PATCH, np.uint8) if code is None else code
    pond = np.zeros(ground.shape, np.int32) if pond is None else pond
    x, y = np.array(starts, float).reshape(-1, 2).T
    return tracers.walk_tracers(
        ground,
        receiver.reshape(ground.shape).astype(np.int32),
        code,
        pond,
        edges_of(np.array(corners)),
        x.copy(),
        y.copy(),
        np.full(x.size, inside, np.uint8),
    )


def painted(values, fill, dtype):
    cells = np.full(SHAPE, fill, dtype)
    for (row, col), value in values.items():
        cells[row, col] = value
    return cells


def crossings(start, dx, dy, corners=BOX):
    """Places along an outline where a straight line from a point crosses it, the nearest first."""
    ring = shapely.LinearRing(corners)
    met = shapely.intersection(ring, shapely.LineString([start, (start[0] + 40 * dx, start[1] + 40 * dy)]))
    points = sorted(shapely.get_parts(met), key=shapely.Point(start).distance)
    return [ring.project(point) for point in points]


angles = st.floats(0, 2 * np.pi)


@given(angles, st.floats(3.1, 10.9), st.floats(2.1, 8.9), st.floats(0, 2 * np.pi))
@settings(max_examples=60, deadline=None)
def test_on_a_plane_tracers_leave_where_the_line_of_fall_does(angle, x, y, turn):
    dx, dy = np.cos(angle), np.sin(angle)
    about = np.array([7.0, 5.5])
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = (0.5 * (np.array(BOX) - about)) @ rotation + about
    start = 0.5 * ((np.array([x, y]) - about) @ rotation) + about
    leaves, enters, fate, ponds = walk(fall(dx, dy), [start], True, corners=corners)
    assert fate.tolist() == [CROSSED] and np.isnan(enters[0]) and not ponds.any()
    length = shapely.LinearRing(corners).length
    apart = abs(leaves[0] - crossings(start, dx, dy, corners)[0])
    assert min(apart, length - apart) == pytest.approx(0.0, abs=1e-6)


@given(angles)
@settings(max_examples=40, deadline=None)
def test_run_on_is_let_in_and_out_again(angle):
    dx, dy = np.cos(angle), np.sin(angle)
    start = (7.0 - 4.8 * dx, 5.5 - 4.8 * dy)
    leaves, enters, fate, _ = walk(fall(dx, dy), [start], False)
    expected = crossings(start, dx, dy)
    if fate[0] == CROSSED:
        assert [enters[0], leaves[0]] == pytest.approx(expected, abs=1e-5)
    else:  # begins inside, or passes by a corner
        assert len(expected) != 2


@given(angles, st.floats(0.8, 14.2), st.floats(0.8, 11.2))
@settings(max_examples=40, deadline=None)
def test_ground_is_known_between_all_centres(angle, x, y):
    dx, dy = np.cos(angle), np.sin(angle)
    corners = [(0.75, 0.75), (14.25, 0.75), (14.25, 11.25), (0.75, 11.25)]
    leaves = walk(fall(dx, dy), [(x, y)], True, corners=corners)[0]
    apart = abs(leaves[0] - crossings((x, y), dx, dy, corners)[0])
    assert min(apart, 48.0 - apart) == pytest.approx(0.0, abs=1e-6)


def test_beyond_the_outer_centres_water_goes_by_cell():
    corners = [(0.0, 0.0), (11.0, 0.0), (11.0, 12.0), (0.0, 12.0)]
    leaves, _, fate, _ = walk(fall(1.0, 0.0), [(5.2, 0.3), (0.2, 6.2), (5.2, 11.7)], True, corners=corners)
    assert fate.tolist() == [CROSSED] * 3
    assert leaves.tolist() == pytest.approx([11.5, 17.5, 22.5])
    corners = [(0.0, 0.0), (15.0, 0.0), (15.0, 9.0), (0.0, 9.0)]
    leaves, _, fate, _ = walk(fall(0.0, 1.0), [(0.3, 5.2), (6.2, 0.2), (14.7, 5.2)], True, corners=corners)
    assert fate.tolist() == [CROSSED] * 3
    assert leaves.tolist() == pytest.approx([38.5, 32.5, 24.5])


@pytest.mark.parametrize("is_turned", [False, True])
def test_water_bends_where_the_ground_does(is_turned):
    """One plane falls at (0.1, 0.05), the other from the crease on at (0.3, 0.05); a step may pass the crease."""
    along, across = centres((15, 12))[::-1] if is_turned else centres()
    ground = -(0.1 * along + 0.05 * across + 0.2 * np.maximum(along - 6.5, 0.0))
    corners = np.array([(3.0, 2.0), (10.0, 2.0), (10.0, 9.0), (3.0, 9.0)])
    start = np.array([3.5, 3.0])
    if is_turned:
        corners, start = corners[:, ::-1], start[::-1]
    leaves, _, fate, _ = walk(ground, [start], True, corners=corners)
    beside = 3.0 + (6.5 - 3.5) / 2 + (10.0 - 6.5) / 6
    assert fate.tolist() == [CROSSED]
    assert leaves[0] == pytest.approx(7.0 + beside - 2.0, abs=0.25 * (1 / 2 - 1 / 6))


def test_steps_are_halved_twice_before_water_goes_by_cell():
    """A crease under the middles of column 6, without a fall of its own."""
    x, _ = centres()
    corners = [(6.49, 2.0), (11.0, 2.0), (11.0, 9.0), (6.49, 9.0)]
    receiver = np.arange(SHAPE[0] * SHAPE[1]).reshape(SHAPE)
    receiver[:-1, 6] += SHAPE[1]
    starts = [(6.5 + over, 5.5) for over in (0.2, 0.1, 0.05, 0.02)]
    leaves, _, fate, _ = walk(np.abs(x - 6.5), starts, True, corners=corners, receiver=receiver)
    length = 4.51 + 7.0
    to_the_west, to_the_south = length + 4.51 + 3.5, length + 4.5
    assert fate.tolist() == [CROSSED] * 4
    assert leaves.tolist() == pytest.approx([to_the_west] * 3 + [to_the_south])


def test_what_begins_on_the_line_has_not_crossed_it():
    leaves, _, fate, _ = walk(fall(1.0, 0.0), [(3.0, 5.0)], True)
    assert fate.tolist() == [CROSSED] and leaves[0] == pytest.approx(EAST + 3.0)


def test_water_that_turns_follows_the_curve_of_steepest_descent():
    """Height -uv is bilinear; its lines of descent are hyperbolas u2 - v2 = constant."""
    x, y = centres()
    u0, v0 = 2.0, 1.0
    leaves, _, fate, _ = walk(-(x - 2.0) * (y - 2.0), [(2.0 + u0, 2.0 + v0)], True)
    assert fate[0] == CROSSED
    v = 7.0  # south side
    assert SOUTH < leaves[0] < WEST
    assert SOUTH + 11.0 - leaves[0] == pytest.approx(2.0 + np.sqrt(v**2 + u0**2 - v0**2), abs=0.05)


def test_water_that_passes_by_never_enters():
    _, enters, fate, _ = walk(fall(1.0, 0.0), [(1.1, 1.4), (12.5, 5.0)], False)
    assert fate.tolist() == [NEVER_ENTERED] * 2 and np.isnan(enters).all()


def test_only_water_in_a_cell_of_the_patch_may_enter():
    code = painted({(row, 2): ON_PATCH for row in range(12)}, 0, np.uint8)
    leaves, enters, fate, _ = walk(fall(1.0, 0.0), [(2.1, 4.0), (1.9, 4.0)], False, code=code)
    assert fate.tolist() == [CROSSED, NEVER_ENTERED]
    assert enters[0] == pytest.approx(WEST + 5.0) and leaves[0] == pytest.approx(EAST + 2.0)


def test_a_drain_takes_what_is_inside():
    code = painted({(4, 8): AT_DRAIN}, ON_PATCH, np.uint8)
    leaves, _, fate, _ = walk(fall(1.0, 0.0), [(4.1, 4.9), (4.1, 5.1), (9.1, 4.5)], True, code=code)
    assert fate.tolist() == [DRAINED, CROSSED, CROSSED] and np.isnan(leaves[0])


@pytest.mark.parametrize(
    ("walls", "along"),
    [
        ([(2, 5)], 2.0),  # a corner, where nothing else is out
        ([(2, 5), (3, 5)], None),  # a wall by the side comes first, and lies inside the outline
        ([(2, 3), (3, 3)], None),
        ([(2, 4)], 1.5),
        ([(2, 4), (2, 5)], 1.5),
        ([(2, 3), (2, 4)], 1.5),
        ([(2, 3), (2, 4), (3, 3)], 1.5),  # of two by the side the first
        ([(2, 3), (2, 5)], 1.0),
        ([(4, 3), (4, 5)], 8.0 + 1.0 + 7.0),
        ([(4, 3), (4, 4)], 8.0 + 1.0 + 6.5),
        ([(3, 3), (3, 5)], None),
        ([], None),
    ],
)
def test_an_outlet_leads_to_the_wall_beside_it(walls, along):
    """An outline that runs between the outlet and the wall is crossed."""
    # from the line above the row of the outlet to the line below it
    corners = [(3.0, 3.0), (11.0, 3.0), (11.0, 4.0), (3.0, 4.0)]
    code = painted(dict.fromkeys(walls, AT_WALL), ON_PATCH, np.uint8)
    receiver = np.full(SHAPE, 3 * SHAPE[1] + 4)
    leaves, _, fate, _ = walk(np.ones(SHAPE), [(4.5, 3.5)], True, corners=corners, code=code, receiver=receiver)
    assert fate.tolist() == [ENDED_INSIDE if along is None else CROSSED]
    np.testing.assert_allclose(leaves, [np.nan if along is None else along], atol=1e-9)


def test_a_gap_in_the_data_is_a_way_out_like_a_wall():
    ground = np.ones(SHAPE)
    ground[4, 5] = np.nan
    corners = [(3.0, 3.0), (5.0, 3.0), (5.0, 9.0), (3.0, 9.0)]
    receiver = np.full(SHAPE, 4 * SHAPE[1] + 4)
    leaves, _, fate, _ = walk(ground, [(4.2, 4.8)], True, corners=corners, receiver=receiver)
    on_the_side = 4.8 - 0.3 * 0.8 / 1.3  # on the line to the centre of the gap
    assert fate.tolist() == [CROSSED] and leaves[0] == pytest.approx(2.0 + on_the_side - 3.0)


def test_an_outlet_leads_no_farther_than_the_wall():
    code = painted({(3, 5): AT_WALL, (3, 6): AT_WALL}, ON_PATCH, np.uint8)
    receiver = np.full(SHAPE, 3 * SHAPE[1] + 4)
    receiver[3, 5] = -1
    corners = [(3.0, 2.0), (6.0, 2.0), (6.0, 9.0), (3.0, 9.0)]
    fate = walk(np.ones(SHAPE), [(4.5, 3.5)], True, corners=corners, code=code, receiver=receiver)[2]
    assert fate.tolist() == [ENDED_INSIDE]


def test_an_outlet_beside_nothing_takes_water_at_its_centre():
    corners = [(4.1, 3.1), (4.9, 3.1), (4.9, 3.9), (4.1, 3.9)]
    receiver = np.full(SHAPE, 3 * SHAPE[1] + 4)
    assert walk(np.ones(SHAPE), [(4.3, 3.3)], True, corners=corners, receiver=receiver)[2].tolist() == [ENDED_INSIDE]


@pytest.mark.parametrize(("outlet", "wall", "along"), [((1, 4), (0, 4), 3.5), ((4, 1), (4, 0), 36.5)])
def test_walls_in_the_first_row_and_column_count(outlet, wall, along):
    corners = [(1.0, 1.0), (12.0, 1.0), (12.0, 10.0), (1.0, 10.0)]
    code = painted({wall: AT_WALL}, ON_PATCH, np.uint8)
    receiver = np.full(SHAPE, outlet[0] * SHAPE[1] + outlet[1])
    start = (outlet[1] + 0.5, outlet[0] + 0.5)
    leaves = walk(np.ones(SHAPE), [start], True, corners=corners, code=code, receiver=receiver)[0]
    assert leaves[0] == pytest.approx(along)


def test_the_first_cell_takes_water_too():
    corners = [(1.0, 0.0), (5.0, 0.0), (5.0, 4.0), (1.0, 4.0)]
    leaves, _, fate, _ = walk(np.ones(SHAPE), [(1.5, 0.5)], True, corners=corners, receiver=np.zeros(SHAPE))
    assert fate.tolist() == [CROSSED] and leaves[0] == pytest.approx(4.0 + 4.0 + 4.0 + 3.5)


def test_an_outlet_at_the_corner_of_the_window_looks_at_its_own_neighbours_only():
    for row, col in ((0, 0), (0, 14), (11, 0), (11, 14)):
        code = painted({(11 - row, 14 - col): AT_WALL}, ON_PATCH, np.uint8)
        receiver = np.full(SHAPE, row * SHAPE[1] + col)
        fate = walk(np.ones(SHAPE), [(col + 0.5, row + 0.5)], True, receiver=receiver, code=code)[2]
        assert fate.tolist() == [ENDED_INSIDE]


def test_level_ground_is_crossed_from_cell_to_cell():
    """Receivers lead down column 6, past the southern side."""
    receiver = np.arange(SHAPE[0] * SHAPE[1]).reshape(SHAPE)
    receiver[:-1, 6] += SHAPE[1]
    leaves, _, fate, _ = walk(np.ones(SHAPE), [(6.2, 4.1)], True, receiver=receiver)
    assert fate.tolist() == [CROSSED] and leaves[0] == pytest.approx(SOUTH + 11.0 - 6.5)


def test_water_without_a_way_on_ends_inside_or_never_enters():
    x, y = centres()
    bowl = np.hypot(x - 6.5, y - 5.5)
    fate = walk(bowl, [(4.0, 3.0), (9.0, 8.0)], True)[2]
    assert fate.tolist() == [ENDED_INSIDE] * 2
    own = np.arange(SHAPE[0] * SHAPE[1]).reshape(SHAPE)
    assert walk(np.ones(SHAPE), [(2.5, 5.5)], False, receiver=own)[2].tolist() == [NEVER_ENTERED]
    wide = [(-5.0, -5.0), (20.0, -5.0), (20.0, 20.0), (-5.0, 20.0)]
    beyond = [(-0.1, 5.0), (15.1, 5.0), (5.0, -0.1), (5.0, 12.1), (15.0, 5.0), (5.0, 12.0)]
    for is_inside, expected in ((True, ENDED_INSIDE), (False, NEVER_ENTERED)):
        for code in (ON_PATCH, AT_DRAIN):
            cells = np.full(SHAPE, code, np.uint8)
            fate = walk(fall(1.0, 0.0), beyond, is_inside, corners=wide, code=cells)[2]
            assert fate.tolist() == [expected] * len(beyond)


def test_a_ring_of_receivers_on_level_ground_comes_to_an_end():
    receiver = np.arange(SHAPE[0] * SHAPE[1]).reshape(SHAPE)
    at = receiver[5, 5]
    for cell, to in (
        (at, at + 1),
        (at + 1, at + SHAPE[1] + 1),
        (at + SHAPE[1] + 1, at + SHAPE[1]),
        (at + SHAPE[1], at),
    ):
        receiver.ravel()[cell] = to
    assert walk(np.ones(SHAPE), [(5.5, 5.5)], True, receiver=receiver)[2].tolist() == [ENDED_INSIDE]


def test_a_long_walk_is_finished_from_cell_to_cell():
    shape = (3, 400)
    corners = [(5.0, 0.0), (395.0, 0.0), (395.0, 3.0), (5.0, 3.0)]
    leaves, _, fate, _ = walk(fall(1.0, 0.0, shape), [(6.0, 1.5)], True, corners=corners)
    assert fate.tolist() == [CROSSED] and leaves[0] == pytest.approx(391.5)


def test_low_spots_on_the_way_are_noted_in_their_order_once():
    pond = painted({(4, 4): 7, (4, 5): 2, (4, 6): 7, (5, 8): 1, (4, 9): 3}, 0, np.int32)
    ponds = walk(fall(1.0, 0.0), [(3.1, 4.5), (6.1, 4.5), (3.1, 5.5), (3.1, 6.5)], True, pond=pond)[3]
    assert ponds.tolist() == [[7, 2, 3, 0], [7, 3, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0]]


def test_no_more_low_spots_are_noted_than_there_is_room_for():
    pond = painted({(4, col): col for col in range(4, 11)}, 0, np.int32)
    ponds = walk(fall(1.0, 0.0), [(3.1, 4.5), (3.1, 5.5)], True, pond=pond)[3]
    assert ponds.tolist() == [[4, 5, 6, 7], [0, 0, 0, 0]]


def test_low_spots_outside_the_outline_are_not_noted():
    pond = painted({(4, 1): 5, (4, 3): 6}, 0, np.int32)
    assert walk(fall(1.0, 0.0), [(1.1, 4.5)], False, pond=pond)[3].tolist() == [[6, 0, 0, 0]]


def test_fates_are_told_apart():
    assert len({NEVER_ENTERED, CROSSED, ENDED_INSIDE, DRAINED}) == 4


def test_ponds_hold_back_the_same_share_of_each_tracer():
    amount = np.array([3.0, 1.0, 5.0])
    ponds = np.array([[1, 0, 0, 0], [1, 2, 0, 0], [0, 0, 0, 0]], np.int32)
    gone, held = tracers.pour_into_ponds(amount, ponds, np.array([1, 2]), np.array([0.0, 2.0, 1.0]))
    assert gone.tolist() == [1.5, 0.0, 5.0] and held.tolist() == [1.5, 1.0, 0.0]
    assert amount.tolist() == [3.0, 1.0, 5.0]


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_ponds_fill_and_no_water_is_lost(seed):
    rng = np.random.default_rng(seed)
    n_ponds = int(rng.integers(1, 6))
    ponds = np.array([rng.permutation(np.arange(max(4, n_ponds + 1)))[:4] for _ in range(8)], np.int32)
    ponds[ponds > n_ponds] = 0
    amount, capacity = rng.random(8), rng.random(n_ponds + 1)
    order = 1 + rng.permutation(n_ponds)
    gone, held = tracers.pour_into_ponds(amount, ponds, order, capacity)
    np.testing.assert_allclose(gone + held, amount, atol=1e-12)
    left, before = amount.copy(), amount.sum()
    for number in order:
        through = (ponds == number).any(axis=1)
        taken = min(left[through].sum(), capacity[number])
        left[through] *= 1.0 - taken / max(left[through].sum(), 1e-300)
        assert left.sum() == pytest.approx(before - taken)
        before -= taken
    np.testing.assert_allclose(gone, left, atol=1e-12)


def test_water_that_steps_out_is_followed_to_where_it_comes_back():
    #                    0  1  2  3  4  5  6  7
    receiver = np.array([1, 2, 3, 3, 5, 6, 6, 0])
    is_zone = np.array([1, 0, 0, 1, 1, 0, 0, 1], np.uint8)
    assert inflow_cells.where_it_comes_back(receiver, is_zone, np.array([0, 4])).tolist() == [2, -1]
