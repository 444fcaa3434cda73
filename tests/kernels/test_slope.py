"""Slope and aspect: a documented window, planes, gaps and edges."""

import numpy as np
import pytest

from screening.kernels.slope import aspect_deg, horn_gradient, horn_slope_pct


def plane(east, north, shape=(5, 7), cell_m=1.0):
    row, col = np.indices(shape)
    return (east * col - north * row) * cell_m


def test_documented_window():
    # common GIS documentation example (check 9.3): dz/dx .05, |dz/dy| 3.80, 75.2577 deg, 380.03 %
    elev = np.array([[50, 45, 50], [30, 30, 30], [8, 10, 10]], np.float32)
    dzdx, dzdy = horn_gradient(elev, 5.0)
    assert dzdx[1, 1] == pytest.approx(0.05, abs=1e-12)
    assert dzdy[1, 1] == pytest.approx(3.80, abs=1e-12)
    slope = horn_slope_pct(elev, 5.0)[1, 1]
    assert slope == pytest.approx(380.03, abs=5e-3)
    assert np.degrees(np.arctan(slope / 100)) == pytest.approx(75.2577, abs=1e-3)


def test_plane_is_exact_to_the_edge():
    # check 9.4: z = .03 x - .04 y -> 5 %, in double precision
    elev = plane(0.03, -0.04, cell_m=2.0)
    np.testing.assert_allclose(horn_slope_pct(elev, 2.0), 5.0, atol=1e-9)
    dzdx, dzdy = horn_gradient(elev, 2.0)
    np.testing.assert_allclose(dzdx, 0.03, atol=1e-11)
    np.testing.assert_allclose(dzdy, -0.04, atol=1e-11)


@pytest.mark.parametrize(
    ("east", "north", "expected"),
    [(0, -1, 0), (-1, -1, 45), (-1, 0, 90), (-1, 1, 135), (0, 1, 180), (1, 1, 225), (1, 0, 270), (1, -1, 315)],
)
def test_aspect_is_the_compass_bearing_of_the_way_down(east, north, expected):
    np.testing.assert_allclose(aspect_deg(plane(east, north), 1.0), expected, atol=1e-9)


def test_aspect_of_a_plane_is_exact():
    aspect = aspect_deg(plane(0.03, -0.04), 1.0)
    np.testing.assert_allclose(aspect, np.degrees(np.arctan2(-0.03, 0.04)) % 360, atol=1e-9)


def test_level_ground_has_no_aspect():
    level = np.zeros((4, 6), np.float32)
    assert np.isnan(aspect_deg(level, 1.0)).all()
    assert (horn_slope_pct(level, 1.0) == 0).all()


def test_plane_with_gaps_is_exact_beside_them():
    elev = plane(0.03, -0.04, shape=(8, 11))
    elev[3, 4] = elev[3, 5] = elev[5, 8] = np.nan
    slope = horn_slope_pct(elev, 1.0)
    gap = np.isnan(elev)
    assert np.isnan(slope[gap]).all()
    np.testing.assert_allclose(slope[~gap], 5.0, atol=1e-9)


@pytest.mark.parametrize("shape", [(1, 6), (6, 1)])
def test_single_row_or_column_has_the_slope_along_it(shape):
    elev = plane(0.03, -0.03, shape=shape)
    np.testing.assert_allclose(horn_slope_pct(elev, 1.0), 3.0, atol=1e-9)


def test_lone_cell_is_level():
    assert horn_slope_pct(np.array([[4.0]], np.float32), 1.0).tolist() == [[0.0]]


def test_turning_the_ground_turns_the_aspect():
    # check 9.25: a quarter turn anticlockwise takes 90 deg off
    elev = np.random.default_rng(3).random((6, 9))
    turned = aspect_deg(np.ascontiguousarray(np.rot90(elev)), 1.0)
    difference = (turned - np.rot90(aspect_deg(elev, 1.0)) + 90 + 180) % 360 - 180
    np.testing.assert_allclose(difference, 0, atol=1e-9)
    raised = horn_slope_pct(elev + 100, 1.0)
    np.testing.assert_allclose(raised, horn_slope_pct(elev, 1.0), atol=1e-9)


def test_feet_throughout_give_the_same_slope():
    elev = np.random.default_rng(5).random((6, 9))
    feet = horn_slope_pct(elev / 0.3048, 1 / 0.3048)
    np.testing.assert_allclose(feet, horn_slope_pct(elev, 1.0), rtol=1e-9)


def gradient_by_hand(elev, row, col):
    """Put in what a window misses: a side by its opposite, a diagonal by its opposite or the plane of its two sides."""
    centre = elev[row, col]
    there = {
        (down, right): elev[row + down, col + right] - centre
        for down in (-1, 0, 1)
        for right in (-1, 0, 1)
        if 0 <= row + down < elev.shape[0]
        and 0 <= col + right < elev.shape[1]
        and not np.isnan(elev[row + down, col + right])
    }
    put_in = dict(there)
    for down, right in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        put_in.setdefault((down, right), -there.get((-down, -right), 0.0))
    for down, right in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        on_plane = put_in[down, 0] + put_in[0, right]
        opposite = there.get((-down, -right))
        put_in.setdefault((down, right), on_plane if opposite is None else -opposite)
    east = sum(weight * (put_in[down, 1] - put_in[down, -1]) for down, weight in ((-1, 1), (0, 2), (1, 1)))
    north = sum(weight * (put_in[-1, right] - put_in[1, right]) for right, weight in ((-1, 1), (0, 2), (1, 1)))
    return east / 8, north / 8


@pytest.mark.parametrize("seed", range(12))
def test_any_ground_with_gaps_is_as_put_in_by_hand(seed):
    rng = np.random.default_rng(seed)
    elev = rng.random((6, 7)).astype(np.float32)
    elev[rng.random(elev.shape) < 0.1 + 0.05 * seed] = np.nan
    dzdx, dzdy = horn_gradient(elev, 1.0)
    assert np.array_equal(np.isnan(dzdx), np.isnan(elev)) and np.array_equal(np.isnan(dzdy), np.isnan(elev))
    for row, col in np.argwhere(~np.isnan(elev)).tolist():
        known = elev.astype(np.float64)
        assert (dzdx[row, col], dzdy[row, col]) == pytest.approx(gradient_by_hand(known, row, col), abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_mirrored_ground_has_mirrored_slopes(seed):
    rng = np.random.default_rng(seed)
    elev = np.where(rng.random((8, 9)) < 0.4, np.nan, rng.random((8, 9))).astype(np.float32)
    slope = horn_slope_pct(elev, 1.0)
    np.testing.assert_allclose(horn_slope_pct(elev[:, ::-1].copy(), 1.0)[:, ::-1], slope, rtol=1e-9)
    np.testing.assert_allclose(horn_slope_pct(elev[::-1].copy(), 1.0)[::-1], slope, rtol=1e-9)


def test_a_hair_west_of_north_is_north():
    elev = np.array([[0.0, -1.0, 0.0], [-1e-17, 0.0, 1e-17], [0.0, 1.0, 0.0]])
    dzdx, _ = horn_gradient(elev, 1.0)
    assert 0.0 < dzdx[1, 1] < 1e-16
    assert aspect_deg(elev, 1.0)[1, 1] == 0.0
