"""Fill: exact against other programs, by properties, and on shapes that break careless buffers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.cbook import get_sample_data
from skimage.morphology import reconstruction

from screening.kernels.basins import basin_floors, label_basins
from screening.kernels.fill import fill_depressions
from screening.kernels.saddles import find_saddles
from tests.kernels.matrices import RAMP_LAKES, RICHDEM, RICHDEM_FILLED
from tests.made_ground import bumps, suburb

SHAPES = [(1, 1), (1, 2), (1, 37), (37, 1), (2, 2), (2, 9), (3, 3), (40, 61)]


@st.composite
def terrains(draw):
    shape = draw(st.sampled_from([*SHAPES, (23, 17), (17, 23)]))
    step_m = draw(st.sampled_from([0.0, 0.1, 1.0, 4.0]))
    gap_share = draw(st.sampled_from([0.0, 0.15, 0.6]))
    return bumps(*shape, draw(st.integers(0, 10_000)), step_m=step_m, gap_share=gap_share)


def fill_by_reconstruction(elev, nodata_drains=True):
    """Grayscale reconstruction by erosion, from scikit-image."""
    gap = np.isnan(elev)
    outlet = -1e6 if nodata_drains else 1e6
    walls = np.pad(np.where(gap, outlet, elev), 1, constant_values=-1e6)
    seed = np.full_like(walls, 1e6)
    seed[0], seed[-1], seed[:, 0], seed[:, -1] = walls[0], walls[-1], walls[:, 0], walls[:, -1]
    seed[1:-1, 1:-1][gap] = outlet
    filled = reconstruction(seed, walls, method="erosion", footprint=np.ones((3, 3)))[1:-1, 1:-1]
    return np.where(gap, np.nan, filled).astype(np.float32)


def jacksboro():
    return np.ascontiguousarray(get_sample_data("jacksboro_fault_dem.npz")["elevation"]).astype(np.float32)


def test_published_matrix_is_filled_exactly():
    # richdem tests/depressions/testdem1: 9 cells raised by 18 in all, 162 m3 at 3 m (check 9.17)
    filled = fill_depressions(RICHDEM, True)
    np.testing.assert_array_equal(filled, RICHDEM_FILLED)
    assert np.count_nonzero(filled > RICHDEM) == 9
    assert (filled - RICHDEM).sum() * 3**2 == 162


def test_lakes_on_a_ramp_are_filled_to_their_sills():
    # landlab tests/components/depression_finder, test_three_pits (check 9.20): to 2, 6 and 3
    expected = RAMP_LAKES.copy()
    expected[3:5, 3] = 2
    expected[3, 7] = 6
    expected[7, 4:6] = 3
    np.testing.assert_array_equal(fill_depressions(RAMP_LAKES, True), expected)


@pytest.mark.parametrize("step_m", [0.0, 0.1, 1.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_same_as_reconstruction(shape, step_m):
    elev = bumps(*shape, 3, step_m=step_m)
    np.testing.assert_array_equal(fill_depressions(elev, True), fill_by_reconstruction(elev))


@settings(max_examples=150, deadline=None)
@given(elev=terrains(), nodata_drains=st.booleans())
def test_same_as_reconstruction_with_gaps(elev, nodata_drains):
    expected = fill_by_reconstruction(elev, nodata_drains)
    filled = fill_depressions(elev, nodata_drains)
    has_outfall = expected < 1e5
    np.testing.assert_array_equal(filled[has_outfall], expected[has_outfall])
    np.testing.assert_array_equal(np.isnan(filled), np.isnan(elev))
    assert np.isfinite(filled[~np.isnan(elev)]).all()


def test_same_as_two_programs_on_real_mountains():
    import pyflwdir

    elev = jacksboro()
    filled = fill_depressions(elev, True)
    np.testing.assert_array_equal(filled, fill_by_reconstruction(elev))
    by_pyflwdir, _ = pyflwdir.dem.fill_depressions(elev, nodata=-9999.0, outlets="edge")
    np.testing.assert_array_equal(filled, by_pyflwdir)


@pytest.mark.parametrize("elev", [jacksboro(), suburb(150, 210, 5)], ids=["mountains", "suburb"])
def test_same_as_wang_and_liu(elev, tmp_path):
    from tests.kernels.peers import WhiteboxPeer

    peer = WhiteboxPeer(elev, tmp_path)
    by_peer = peer.to_array(peer.hydrology.fill_depressions_wang_and_liu(dem=peer.elev, fix_flats=False))
    np.testing.assert_array_equal(fill_depressions(elev, True), by_peer)


def test_large_grid_with_threads_and_lakes_is_exact():
    elev = suburb(1100, 1000, 8)
    elev[300:420, 250:400] -= 6
    elev[:200, :150] = np.nan
    elev[700:760, 500:600] = np.nan
    np.testing.assert_array_equal(fill_depressions(elev, True), fill_by_reconstruction(elev))
    np.testing.assert_array_equal(fill_depressions(elev, False), fill_by_reconstruction(elev, False))


def test_large_white_noise_needs_more_room_for_saddles_than_provided():
    elev = np.random.default_rng(1).random((1030, 1000)).astype(np.float32)
    np.testing.assert_array_equal(fill_depressions(elev, True), fill_by_reconstruction(elev))


def test_saddles_are_the_same_however_little_room_is_provided():
    elev = bumps(40, 30, 2)
    label, _ = label_basins(elev)
    wide = find_saddles(elev, label)
    narrow = find_saddles(elev, label, cells_per_saddle=10_000)
    assert wide[0].size > elev.size // 10_000 + 16
    for a, b in zip(wide, narrow, strict=True):
        np.testing.assert_array_equal(a, b)


@settings(max_examples=60, deadline=None)
@given(elev=terrains())
def test_lowest_saddles_are_those_of_a_plain_search(elev):
    label, n_basins = label_basins(elev)
    lowest = {}
    for a, b, height, cell in zip(*find_saddles(elev, label), strict=True):
        assert elev.ravel()[cell] == height
        lowest[int(a), int(b)] = min(height, lowest.get((int(a), int(b)), np.inf))
    expected = {}
    n_rows, n_cols = elev.shape
    for row, col in np.ndindex(n_rows, n_cols):
        for near_row, near_col in ((row, col + 1), (row + 1, col - 1), (row + 1, col), (row + 1, col + 1)):
            if near_row < n_rows and 0 <= near_col < n_cols:
                pair = tuple(sorted((int(label[row, col]), int(label[near_row, near_col]))))
                if pair[0] > 0 and pair[0] != pair[1]:
                    height = max(elev[row, col], elev[near_row, near_col])
                    expected[pair] = min(height, expected.get(pair, np.inf))
    assert lowest == expected
    floors = basin_floors(elev, label, n_basins)
    expected_floors = [elev[label == n].min() for n in range(1, n_basins + 1)]
    np.testing.assert_array_equal(floors[1:], np.array(expected_floors, np.float32))


@pytest.mark.parametrize("nodata_drains", [True, False])
def test_no_data_at_all(nodata_drains):
    assert np.isnan(fill_depressions(np.full((4, 7), np.nan, np.float32), nodata_drains)).all()


@pytest.mark.parametrize("level", [0.0, -3.5, 120.0])
def test_level_ground_stays(level):
    elev = np.full((30, 41), level, np.float32)
    np.testing.assert_array_equal(fill_depressions(elev, True), elev)


def test_gap_in_a_crater_drains_or_is_a_wall_as_asked():
    row, col = np.mgrid[-6:7, -8:9]
    distance = np.hypot(row, col)
    elev = np.where(distance < 4, distance, 10 - distance).astype(np.float32)
    elev[6, 8] = np.nan
    rim = fill_by_reconstruction(np.where(np.isnan(elev), 0, elev).astype(np.float32))[6, 9]
    assert fill_depressions(elev, True)[6, 9] == elev[6, 9] == 1
    assert fill_depressions(elev, False)[6, 9] == rim > 4


def test_region_walled_in_by_gaps_drains_at_its_lowest_cells():
    elev = np.array([[9, 9, 9, 9, 9, 9, 9, 9, 9]] * 5, np.float32)
    elev[1:4, 1:8] = np.nan
    elev[2, 2:7] = [3, 5, 4, 6, 3]
    filled = fill_depressions(elev, False)
    # both cells at 3 are outlets; only the 4 between 5 and 6 fills, to its lower sill
    np.testing.assert_array_equal(filled[2, 2:7], [3, 5, 5, 6, 3])


@settings(max_examples=80, deadline=None)
@given(elev=terrains(), nodata_drains=st.booleans())
def test_filled_surface_properties(elev, nodata_drains):
    # Barnes, Lehman and Mulla (2014), doi:10.1016/j.cageo.2013.04.024 (check 9.24)
    filled = fill_depressions(elev, nodata_drains)
    valid = ~np.isnan(elev)
    assert (filled[valid] >= elev[valid]).all()
    np.testing.assert_array_equal(fill_depressions(filled, nodata_drains), filled)
    edge = np.ones(elev.shape, bool)
    edge[1:-1, 1:-1] = False
    np.testing.assert_array_equal(filled[edge], elev[edge])


@settings(max_examples=60, deadline=None)
@given(elev=terrains(), nodata_drains=st.booleans())
def test_turning_mirroring_and_raising_the_ground_does_the_same_to_the_fill(elev, nodata_drains):
    # check 9.25; raising by a power of two keeps these elevations exact to a rounding they share
    filled = fill_depressions(elev, nodata_drains)
    for turn in (np.rot90, np.fliplr, np.flipud, np.transpose):
        turned = fill_depressions(np.ascontiguousarray(turn(elev)), nodata_drains)
        np.testing.assert_array_equal(turned, turn(filled))
    eighths = (np.round(elev * 8) / 8).astype(np.float32)
    raised = fill_depressions(eighths + np.float32(128), nodata_drains)
    np.testing.assert_array_equal(raised, fill_depressions(eighths, nodata_drains) + np.float32(128))
    in_quarters = fill_depressions(elev * np.float32(4), nodata_drains)
    np.testing.assert_array_equal(in_quarters, filled * np.float32(4))


def test_below_zero_and_across_zero():
    elev = bumps(30, 41, 4, step_m=0.1) - np.float32(2)
    np.testing.assert_array_equal(fill_depressions(elev, True), fill_by_reconstruction(elev))


def test_closed_ground_beside_a_pool_that_drains():
    """A pit shut in by no data drains at its lowest; the pool in the open keeps its level."""
    elev = np.full((5, 11), 6.0, np.float32)
    elev[:, 4:] = np.nan
    elev[1:4, 6:9] = 7.0
    elev[2, 7], elev[2, 2] = 3.0, 1.0
    filled = fill_depressions(elev, False)
    expected = elev.copy()
    expected[2, 2] = 6.0
    np.testing.assert_array_equal(filled, expected)
