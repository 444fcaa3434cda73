"""Which rain fills what: against storms poured one by one."""

import numpy as np
import pytest

from screening.depressions.threshold_rainfall import RAIN_CAP_MM, NodeCatchments, rain_that_brings
from screening.kernels.spill_merge import pour
from screening.kernels.spill_tree import build_spill_tree, sum_over_parts

# Two hollows of 2 and 5 m3 that join to one of 10; the join overflows into a third of 40 m3, which spills out.
PARENT = np.array([0, 4, 4, 0, 0], np.int32)
CHILD_A = np.array([-1, -1, -1, -1, 1], np.int32)
CHILD_B = np.array([-1, -1, -1, -1, 2], np.int32)
SPILLS_TO = np.array([0, 2, 1, 0, 3], np.int32)
CAPACITY = np.array([0.0, 2.0, 5.0, 40.0, 10.0])
AREA = np.array([[500.0, 0.0], [80.0, 40.0], [10.0, 60.0], [200.0, 100.0]])


def ground():
    tree = build_spill_tree(PARENT, CHILD_A, CHILD_B, SPILLS_TO, CAPACITY)
    return NodeCatchments(tree, np.array([70.0, 98.0]), AREA, sum_over_parts(CHILD_A, CHILD_B, AREA), 0.2)


def water_after(rain_mm):
    made = ground()
    return pour(made.tree, made.leaf_area_m2 @ made.runoff_m(np.array([rain_mm]))[0]).own


def by_bisection(node, wanted):
    low, high = 0.0, RAIN_CAP_MM
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if water_after(middle)[node] >= wanted else (middle, high)
    return high


def test_water_runs_over_and_joins():
    tree = ground().tree
    # What overflows out of the first hollow fills the second; only then do they rise as one.
    np.testing.assert_allclose(pour(tree, np.array([7.0, 3.0, 1.0, 0.0])).own, [0, 2, 2, 0, 0])
    both = pour(tree, np.array([7.0, 6.0, 2.5, 0.0]))
    np.testing.assert_allclose(both.own, [0, 2, 5, 0, 1.5])
    over = pour(tree, np.array([7.0, 60.0, 0.0, 1.0]))
    np.testing.assert_allclose(over.own, [0, 2, 5, 40, 3])
    np.testing.assert_allclose(over.overflow, [7 + 11, 0, 0, 11, 50])
    assert over.is_full.tolist() == [False, True, True, True, True]


def test_an_outermost_node_comes_before_the_one_it_spills_to():
    assert ground().tree.leaves.tolist() == [1, 2, 3]


@pytest.mark.parametrize(
    ("node", "share"), [(1, 1.0), (1, 0.4), (2, 1.0), (2, 0.3), (3, 1.0), (3, 0.5), (4, 1.0), (4, 0.2)]
)
def test_the_rain_that_brings_water_is_that_of_storms_one_by_one(node, share):
    made = ground()
    wanted = made.tree.own_capacity[node] * share
    found = rain_that_brings(made, node=np.array([node]), own_water_m3=np.array([wanted]))[0]
    assert found == pytest.approx(by_bisection(node, wanted), rel=0.005)


def test_what_holds_out_shows_the_cap():
    made = ground()
    tree = made.tree._replace(own_capacity=made.tree.own_capacity + 1e6)
    huge = NodeCatchments(tree, made.curve_number, made.leaf_area_m2, made.node_area_m2, 0.2)
    assert rain_that_brings(huge, node=np.array([3, 1]), own_water_m3=np.array([1e6, 1.0]))[0] == RAIN_CAP_MM
    assert rain_that_brings(made, node=np.empty(0, np.int64), own_water_m3=np.empty(0)).size == 0
