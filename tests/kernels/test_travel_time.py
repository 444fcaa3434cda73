"""Travel times against a walk down every path, one at a time."""

import itertools
import math

import numpy as np
import pytest

from screening.kernels.accumulate import accumulate
from screening.kernels.d8 import flow_directions, receivers
from screening.kernels.fill import fill_depressions
from screening.kernels.order import downstream_order
from screening.kernels.travel_time import longest_travel_time, main_donors, path_slopes, step_lengths
from tests.made_ground import bumps, suburb

CELL, SHEET_LENGTH, SHEET_FACTOR = 2.0, 11.0, 0.01


def routed(elev):
    receiver = receivers(flow_directions(fill_depressions(elev, True), True))
    order = downstream_order(receiver)
    area = accumulate(receiver, order, np.ones(receiver.size))
    return receiver, order, area, main_donors(receiver, order, area)


def length_of(cell, to, n_cols):
    return CELL * math.dist(divmod(cell, n_cols), divmod(to, n_cols))


def walked(receiver, main, slope, sheet_n, speed, gathers, n_cols):
    """Time from each head, kept where it is the longest; written without an eye to the kernel."""
    longest = {int(cell): 0.0 for cell in np.flatnonzero(receiver >= 0)}
    for head in np.flatnonzero((receiver >= 0) & (main < 0)).tolist():
        path = [head]
        while receiver[path[-1]] != path[-1]:
            path.append(int(receiver[path[-1]]))
        done, load, hours, is_sheet = 0.0, 0.0, 0.0, True
        for cell, to in itertools.pairwise(path):
            step = length_of(cell, to, n_cols)
            root = math.sqrt(slope[cell])
            if is_sheet and (gathers[cell] or done + step > SHEET_LENGTH):
                part = 0.0 if gathers[cell] else SHEET_LENGTH - done
                load += sheet_n[cell] * part / root
                hours = SHEET_FACTOR * load**0.8 + (step - part) / (speed[cell] * root) / 3600
                is_sheet = False
            elif is_sheet:
                done += step
                load += sheet_n[cell] * step / root
                hours = SHEET_FACTOR * load**0.8
            else:
                hours += step / (speed[cell] * root) / 3600
            longest[to] = max(longest[to], hours)
    return longest


@pytest.mark.parametrize(
    "elev",
    [
        bumps(17, 23, 3),
        bumps(19, 14, 4, step_m=0.5),
        bumps(21, 16, 5, gap_share=0.2),
        suburb(31, 27, 6),
        bumps(1, 9, 7),
    ],
    ids=["rough", "flats", "gaps", "suburb", "row"],
)
def test_the_longest_of_all_walks(elev):
    rng = np.random.default_rng(1)
    n_cols = elev.shape[1]
    receiver, order, area, main = routed(elev)
    step = step_lengths(receiver, n_cols, CELL)
    slope = path_slopes(receiver, main, step, elev.ravel(), 7.0, 0.002)
    sheet_n, speed = rng.choice([0.011, 0.24, 0.4], elev.size), rng.choice([5.0, 6.2], elev.size)
    gathers = area >= 25
    load, gathered_h = sheet_n * step / np.sqrt(slope), step / (speed * np.sqrt(slope)) / 3600
    found = longest_travel_time(
        receiver, order, main, step, load, gathered_h, gathers, SHEET_LENGTH, 1.5 * CELL, SHEET_FACTOR
    )
    expected = walked(receiver, main, slope, sheet_n, speed, gathers, n_cols)
    assert np.flatnonzero(~np.isnan(found)).tolist() == sorted(expected)
    for cell, hours in expected.items():
        assert found[cell] == pytest.approx(hours, rel=1e-12, abs=1e-15), cell
    flows_on = (receiver >= 0) & (receiver != np.arange(receiver.size))
    assert (found[receiver[flows_on]] >= found[flows_on]).all()


def test_main_donors_are_the_largest_and_of_equals_the_first():
    #  0 -> 3 <- 1, 2 -> 3 -> 4 = outlet; 1 and 2 carry the same
    receiver = np.array([3, 3, 3, 4, 4], np.int32)
    order = np.array([2, 1, 0, 3, 4], np.int32)
    assert main_donors(receiver, order, np.array([1.0, 2.0, 2.0, 6.0, 7.0])).tolist() == [-1, -1, -1, 1, 3]
    # the first cell carries most, and smaller ones come after it
    assert main_donors(receiver, order[[2, 0, 1, 3, 4]], np.array([3.0, 2.0, 2.0, 8.0, 9.0])).tolist()[3] == 0


def test_slopes_follow_the_path_upstream():
    """A row falling 1, 1, 4 per step of 2 m, then level: over a stretch of 4 m each slope is that of two steps."""
    elev = np.array([10.0, 9.0, 8.0, 4.0, 4.0, 5.0, 3.0], np.float32)
    receiver = np.array([1, 2, 3, 4, 5, 6, 6], np.int32)
    main = np.array([-1, 0, 1, 2, 3, 4, 5], np.int32)
    step = step_lengths(receiver, 7, 2.0)
    assert step.tolist() == [2, 2, 2, 2, 2, 2, 0]
    slope = path_slopes(receiver, main, step, elev, 4.0, 0.001)
    assert slope == pytest.approx([0.5, 0.5, 1.25, 1.0, 0.001, 0.25, 0.001])
    steeper = path_slopes(receiver, main, step, np.array([12, *elev[1:]], np.float32), 4.0, 0.001)
    assert steeper[1] == pytest.approx(1.0)  # from the first cell, two steps up
    single = path_slopes(receiver, main, step, elev, 0.0, 0.001)
    assert single == pytest.approx([0.5, 0.5, 2.0, 0.001, 0.001, 1.0, 0.001])


def test_the_first_cell_is_a_cell_like_others():
    """The same row the other way round, so that its water leaves at cell 0, with ground unknown at its far end."""
    elev = np.array([3.0, 5.0, 4.0, 4.0, 8.0, 9.0, 10.0, np.nan], np.float32)
    receiver = np.array([0, 0, 1, 2, 3, 4, 5, -1], np.int32)
    order = np.array([6, 5, 4, 3, 2, 1, 0], np.int32)
    main = main_donors(receiver, order, np.arange(8, 0, -1).astype(np.float64))
    assert main.tolist() == [1, 2, 3, 4, 5, 6, -1, -1]
    step = step_lengths(receiver, 8, 2.0)
    assert step.tolist() == [0, 2, 2, 2, 2, 2, 2, 0]
    slope = path_slopes(receiver, main, step, elev, 4.0, 0.001)
    assert slope == pytest.approx([0.001, 0.25, 0.001, 1.0, 1.25, 0.5, 0.5, 0.001])


def test_ground_that_falls_less_than_the_least_slope_has_that():
    """2 m that fall by 1.9 mm are less than a thousandth, by 2.1 mm more."""
    receiver, main, step = np.array([1, 1], np.int32), np.array([-1, 0], np.int32), np.array([2.0, 0.0])
    for fall, expected in ((0.0019, 0.001), (0.0021, 0.00105)):
        ground = np.array([fall, 0.0], np.float32)
        assert path_slopes(receiver, main, step, ground, 4.0, 0.001)[0] == pytest.approx(expected, rel=1e-6)


def test_a_step_longer_than_a_diagonal_is_no_sheet_flow():
    """A roof led to a downspout three cells away: its water runs there as fast as other gathered water."""
    receiver = np.array([3, 2, 3, 3], np.int32)
    order = np.array([0, 1, 2, 3], np.int32)
    area = np.array([1.0, 1.0, 2.0, 4.0])
    main = main_donors(receiver, order, area)
    step = step_lengths(receiver, 4, 2.0)
    assert step.tolist() == [6, 2, 2, 0]
    found = longest_travel_time(
        receiver, order, main, step, 0.24 * step, step / 2.5 / 3600, np.zeros(4, bool), 10.0, 3.0, 1e-9
    )
    assert found[3] == pytest.approx(6.0 / 2.5 / 3600)


@pytest.mark.parametrize("step_max_m", [2.0, 3.0])
def test_a_cell_more_before_the_first_changes_no_time(step_max_m):
    """A row of steps of 2 m, sheet flow for 5 of them; 2 m is no longer than the longest step of sheet flow.

    The sixth would be slow as sheet flow: a path must not begin at the second cell.
    """
    n = 9

    def times(shift):
        receiver = np.array([*range(shift), *(min(i + 1, n - 1) + shift for i in range(n))], np.int32)
        order = np.array([*range(shift), *range(shift, n + shift)], np.int32)
        main = np.array([-1] * shift + [-1, *range(shift, n + shift - 1)], np.int32)
        step = np.array([0.0] * shift + [2.0] * (n - 1) + [0.0])
        sheet_load = 3.0 * step
        sheet_load[5 + shift] = 300.0
        found = longest_travel_time(
            receiver, order, main, step, sheet_load, step / 50.0, np.zeros(n + shift, bool), 10.0, step_max_m, 0.01
        )
        return found[shift:]

    assert times(0).tolist() == times(1).tolist()
    sheet = 0.01 * (3.0 * 2.0 * np.arange(6)) ** 0.8
    assert times(0)[:6] == pytest.approx(sheet)
    assert times(0)[6:] == pytest.approx(sheet[5] + np.arange(1, 4) * 2.0 / 50.0)


def test_main_donors_of_every_outlet_in_any_order():
    #  1 -> 0 = outlet, 3 -> 2 = outlet, and 4 -> 2 carries as much as 3
    receiver, area = np.array([0, 0, 2, 2, 2], np.int32), np.array([2.0, 1.0, 3.0, 1.0, 1.0])
    for order in ([1, 0, 3, 4, 2], [4, 3, 2, 1, 0], [3, 4, 1, 2, 0]):
        assert main_donors(receiver, np.array(order, np.int32), area).tolist() == [1, -1, 3, -1, -1]


def test_gathered_water_takes_its_time_only_where_it_has_gathered():
    receiver, order, main = np.array([1, 2, 2], np.int32), np.array([0, 1, 2], np.int32), np.array([-1, 0, 1], np.int32)
    step, gathered_h = np.array([2.0, 2.0, 0.0]), np.array([3.0, 3.0, 5.0])
    for sheet_length_m, expected in ((10.0, [0.0, 0.02, 0.02 * 2**0.8]), (2.0, [0.0, 0.02, 3.02])):
        found = longest_travel_time(
            receiver, order, main, step, step / 2.0, gathered_h, np.zeros(3, bool), sheet_length_m, 3.0, 0.02
        )
        assert found.tolist() == pytest.approx(expected)
