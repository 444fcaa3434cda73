"""Depressions against published matrices and volumes of solids."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.basins import label_basins
from screening.kernels.d8 import flow_directions, receivers
from screening.kernels.depressions import label_depressions, level_for_volume, measure_depressions
from screening.kernels.fill import fill_depressions
from tests.kernels.matrices import NESTED, RAMP_LAKES, RICHDEM
from tests.kernels.test_fill import terrains


def find(elev):
    filled = fill_depressions(elev, True)
    receiver = receivers(flow_directions(filled, True))
    label, n = label_depressions(elev, filled)
    return label, measure_depressions(elev, filled, receiver, label, n)


def test_published_matrix():
    # richdem tests/depressions/testdem1 (check 9.17): 18 cell-units; three hollows, two of one unit's outline
    label, found = find(RICHDEM)
    assert found.volume.sum() == 18
    assert found.volume.sum() * 3**2 == 162
    assert found.n_cells.sum() == 9 == np.count_nonzero(label)
    np.testing.assert_array_equal(found.level, 2)
    np.testing.assert_array_equal(found.depth_max, 2)


def test_lakes_on_a_ramp():
    # landlab test_three_pits (check 9.20)
    _, found = find(RAMP_LAKES)
    np.testing.assert_array_equal(found.n_cells, [2, 1, 2])
    np.testing.assert_array_equal(found.volume, [2, 2, 4])
    np.testing.assert_array_equal(found.pit, [33, 37, 74])
    np.testing.assert_array_equal(found.level, [2, 6, 3])
    np.testing.assert_array_equal(found.depth_max, [1, 2, 3 - 1])
    # the water leaves to the west, where the ramp is as high as the lake
    np.testing.assert_array_equal(found.spill_cell % 10, [2, 6, 3])


def test_nested_depressions():
    # Fill-Spill-Merge unit tests (check 9.18): merged 111 to the outer sill, 36 cells
    label, found = find(NESTED)
    assert found.volume.tolist() == [111]
    assert found.n_cells.tolist() == [36]
    assert found.level.tolist() == [9]
    assert found.pit.tolist() == [77]
    assert label.ravel()[found.spill_cell[0]] == 0
    # ocean and the rim that sheds to it: the rest of the 100 cells
    assert np.count_nonzero(label == 0) == 64
    # the two inner ones to their own sill at 8: 73 and 2
    inner = np.where(label > 0, np.minimum(NESTED, 8), 8).astype(np.float32)
    inner_label, n = label_depressions(inner, np.full_like(inner, 8))
    depth = np.bincount(inner_label.ravel(), weights=(8 - inner).ravel())[1:]
    assert n == 2
    assert sorted(depth) == [2, 73]


def test_nested_depressions_have_the_published_catchments():
    # Fill-Spill-Merge unit tests (check 9.18): one unit of rain puts 64, 30 and 6 into ocean, first and second.
    # One cell at 8 falls as steeply to either; there it went to the first.
    label, _ = label_basins(NESTED)
    first = label == label[7, 7]
    second = (label == label[3, 3]) | (label == label[4, 3])
    assert np.count_nonzero(first | second) == 36
    tied = np.zeros(NESTED.shape, bool)
    tied[2, 4] = True
    assert np.count_nonzero(second & ~tied) == 6
    assert np.count_nonzero(first | tied) == 30


@pytest.mark.parametrize(
    ("n", "sill", "total", "volume"), [(3, 5, 10, 5), (4, 5, 10, 10), (2, 5, 10, 0), (5, 18 / 5, 10, 8)]
)
def test_volume_arithmetic(n, sill, total, volume):
    # Fill-Spill-Merge unit tests (check 9.19): V = n z - sum; level 18/5 for V 8 over 5 cells that sum to 10
    elev = np.full(n, total / n)
    assert level_for_volume(elev, n, volume) == pytest.approx(sill, rel=1e-15)


def test_level_steps_over_sorted_cells():
    elev = np.array([1.0, 2.0, 4.0, 9.0])
    assert level_for_volume(elev, 4, 0.0) == 1
    assert level_for_volume(elev, 4, 0.5) == 1.5
    assert level_for_volume(elev, 4, 1.0) == 2
    assert level_for_volume(elev, 4, 3.0) == 3
    assert level_for_volume(elev, 4, 5.0) == 4
    assert level_for_volume(elev, 3, 8.0) == 5  # the fourth cell takes no part
    assert level_for_volume(elev, 4, 24.0) == 10


@settings(max_examples=100, deadline=None)
@given(
    heights=st.lists(st.floats(-100, 100), min_size=1, max_size=20),
    volume=st.floats(0, 500),
)
def test_level_holds_the_volume(heights, volume):
    elev = np.sort(np.array(heights))
    level = level_for_volume(elev, elev.size, volume)
    assert np.maximum(level - elev, 0).sum() == pytest.approx(volume, rel=1e-9, abs=1e-9)


def solid(depth_at, n_per_m):
    """Hollow of a solid of revolution of radius 10 m in level ground, on cells of 1 / n_per_m."""
    half = 12 * n_per_m
    place = (np.arange(-half, half) + 0.5) / n_per_m
    radius = np.hypot(place[:, np.newaxis], place)
    elev = np.where(radius < 10, -depth_at(radius), 0).astype(np.float32)
    _, found = find(elev)
    assert found.volume.size == 1
    return found.volume[0] / n_per_m**2


@pytest.mark.parametrize("n_per_m", [1, 2])
def test_cone(n_per_m):
    # check 9.21: pi R^2 H / 3 = 104.720, to 0.1 %
    assert solid(lambda r: 1 - r / 10, n_per_m) == pytest.approx(104.720, rel=1e-3)


def test_half_full_cone():
    # check 9.21: an eighth, 13.090
    half = solid(lambda r: np.maximum(0.5 - r / 10, 0), 4)
    assert half == pytest.approx(13.090, rel=1e-3)


def test_spherical_cap():
    # check 9.22: rho 50.5, pi h^2 (3 rho - h) / 3 = 157.603, to 0.2 %
    rho = 50.5
    volume = solid(lambda r: np.sqrt(rho**2 - np.minimum(r, 10) ** 2) - (rho - 1), 1)
    assert volume == pytest.approx(157.603, rel=2e-3)


def test_paraboloid():
    # check 9.23: pi R^2 H / 2 = 157.080, to 0.2 %
    assert solid(lambda r: 1 - (r / 10) ** 2, 1) == pytest.approx(157.080, rel=2e-3)


@settings(max_examples=80, deadline=None)
@given(elev=terrains())
def test_measures_add_up(elev):
    filled = fill_depressions(elev, True)
    label, found = find(elev)
    raised = filled > elev
    np.testing.assert_array_equal(label > 0, raised)
    depth = (filled.astype(float) - elev)[raised]
    assert found.volume.sum() == pytest.approx(depth.sum(), rel=1e-12)
    assert found.n_cells.sum() == raised.sum()
    for i in range(found.volume.size):
        own = label == i + 1
        assert (filled[own] == found.level[i]).all()
        assert elev.ravel()[found.pit[i]] == elev[own].min()
        assert found.pit[i] == np.flatnonzero(own.ravel() & (elev.ravel() == elev[own].min()))[0]
        assert found.depth_max[i] == (filled - elev)[own].max()
        assert found.spill_cell[i] >= 0
        assert label.ravel()[found.spill_cell[i]] != i + 1
        assert filled.ravel()[found.spill_cell[i]] <= found.level[i]


@settings(max_examples=60, deadline=None)
@given(elev=terrains())
def test_labels_are_those_of_a_general_labeller(elev):
    from scipy.ndimage import label as label_parts

    filled = fill_depressions(elev, True)
    label, n = label_depressions(elev, filled)
    n_expected = 0
    for level in np.unique(filled[filled > elev]):
        parts, n_parts = label_parts((filled > elev) & (filled == level), np.ones((3, 3)))
        n_expected += n_parts
        for part in range(1, n_parts + 1):
            names = np.unique(label[parts == part])
            assert names.size == 1
            assert np.count_nonzero(label == names[0]) == np.count_nonzero(parts == part)
    assert n == n_expected


def test_a_depression_that_drains_within_itself_spills_nowhere():
    elev, filled = np.array([[0.0, 2.0, 0.5]], np.float32), np.array([[1.0, 2.0, 1.0]], np.float32)
    labels, receiver = np.array([[1, 0, 2]], np.int32), np.array([0, 2, 1], np.int32)
    found = measure_depressions(elev, filled, receiver, labels, 2)
    assert found.spill_cell.tolist() == [-1, 1] and found.pit.tolist() == [0, 2]
    assert found.depth_max.tolist() == [1.0, 0.5] and found.level.tolist() == [1.0, 1.0]
