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
