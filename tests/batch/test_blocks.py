import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.batch.blocks import CELLS_MAX, LOTS_MAX, group_lots, halve

GROUND = (-1000.0, -1000.0, 60_000.0, 30_000.0)


def squares(x, y, side=30.0):
    x, y = np.asarray(x, float), np.asarray(y, float)
    return np.column_stack((x, y, x + side, y + side))


@given(
    st.integers(1, 900),
    st.floats(100, 20_000),
    st.floats(100, 20_000),
    st.sampled_from([0.5, 1.0, 3.0]),
    st.integers(0, 99),
)
@settings(max_examples=40, deadline=None)
def test_every_lot_has_one_block_and_no_block_is_too_large(n, width, height, cell_m, seed):
    rng = np.random.default_rng(seed)
    bounds = squares(rng.random(n) * width, rng.random(n) * height)
    block = group_lots(bounds, cell_m=cell_m, around_m=500.0, within=GROUND)
    assert block.shape == (n,)
    assert np.unique(block).tolist() == list(range(block.max() + 1))
    for number in range(block.max() + 1):
        own = bounds[block == number]
        extent = own[:, 2:].max(axis=0) - own[:, :2].min(axis=0) + 1000.0
        assert len(own) == 1 or (len(own) <= LOTS_MAX and extent.prod() / cell_m**2 <= CELLS_MAX)


def test_lots_upon_each_other_are_parted_all_the_same():
    block = group_lots(squares(np.zeros(1000), np.zeros(1000)), cell_m=1.0, around_m=500.0, within=GROUND)
    assert np.bincount(block).tolist() == [250] * 4


def test_a_far_lot_stands_alone_and_no_lots_are_no_blocks():
    given_ = {"cell_m": 1.0, "around_m": 500.0, "within": GROUND}
    assert group_lots(squares([0, 40, 50_000], [0, 0, 0]), **given_).tolist() == [0, 0, 1]
    assert group_lots(squares([], []), **given_).tolist() == []


def test_blocks_are_numbered_from_the_one_that_will_take_longest():
    """By the ground within 1000 m: beside the end of the elevation there is least of it."""
    far_apart = squares([0, 20_000, 40_000], [0, 0, 0], side=30.0)
    ground = (-10.0, -5000.0, 40_500.0, 5000.0)
    assert group_lots(far_apart, cell_m=1.0, around_m=500.0, within=ground).tolist() == [2, 0, 1]


def test_one_lot_larger_than_a_block_is_a_block():
    assert group_lots(squares([0], [0], side=9000.0), cell_m=1.0, around_m=500.0, within=GROUND).tolist() == [0]


@pytest.mark.parametrize("n", [2, 3, 7])
def test_halves_hold_every_lot_once(n):
    rows = np.arange(n) + 3
    first, second = halve(rows, squares(np.arange(12) * -50.0, np.zeros(12)))
    assert sorted([*first, *second]) == rows.tolist()
    assert first.min() > second.max()  # west first
