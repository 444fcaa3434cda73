"""Walls, barriers, edges and gaps as moving water meets them."""

import numpy as np
import pytest
import shapely

from screening.errors import GridMismatchError
from screening.grid import Grid
from screening.kernels.inertial import CLOSED_M, inside
from screening.models import Rain
from screening.motion.crests import Crests, barrier_crests
from screening.motion.ground import coarsen, ground_of, lay_ground
from screening.motion.settings import MotionSettings
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.terrain.surface import build_surface
from tests.blocks import CRS, NORTH, WEST, box, line, make_block
from tests.motion.runs import mm_h, move


def _faces(ground):
    return [inside(part, ground.grid.shape) for part in ground.faces[:4]]


def test_a_crest_is_the_higher_ground_of_its_two_cells():
    ground = lay_ground(
        Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=2, n_cols=3),
        np.array([[5.0, 7.0, 6.0], [4.0, 7.0, 9.0]]),
    )
    x_before, x_after, y_before, y_after = _faces(ground)
    assert x_before[:, 1:].tolist() == [[2.0, 0.0], [3.0, 2.0]]
    assert x_after[:, 1:].tolist() == [[0.0, 1.0], [0.0, 0.0]]
    assert y_before[1].tolist() == [0.0, 0.0, 3.0]
    assert y_after[1].tolist() == [1.0, 0.0, 0.0]


def test_walls_and_closed_edges_let_nothing_over():
    is_wall = np.zeros((3, 4), bool)
    is_wall[1, 1] = True
    is_closed = np.zeros((3, 4), bool)
    is_closed[0, 0] = True
    ground = lay_ground(
        Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=3, n_cols=4),
        np.zeros((3, 4)),
        is_wall=is_wall,
        is_edge_closed=is_closed,
    )
    x_before, _, y_before, _ = _faces(ground)
    closed_x = x_before >= CLOSED_M
    closed_y = y_before >= CLOSED_M
    assert np.argwhere(closed_x).tolist() == [[0, 0], [1, 1], [1, 2]]
    assert np.argwhere(closed_y).tolist() == [[0, 0], [1, 1], [2, 1]]


def test_gaps_lie_below_the_lowest_ground_beside_them_and_far_ones_are_closed():
    elev = np.full((3, 6), 5.0)
    elev[1, 1] = 4.0
    elev[:, 3:] = np.nan
    ground = lay_ground(Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=3, n_cols=6), elev)
    assert ground.is_sink[:, 3].all() and not ground.is_sink[:, [0, 1, 2, 4, 5]].any()
    assert ground.gap_cells.size == 3
    x_before, _, _, _ = _faces(ground)
    assert (x_before[:, 3] == 0.0).all() and (x_before[:, 4] >= CLOSED_M).all()


def _barrier_block(height_m=0.15, kind="wall", **layers):
    return make_block(
        np.tile(5.0 - 0.02 * np.arange(20), (14, 1)),
        barriers=[("B1", kind, height_m, shapely.LineString([(WEST + 9.0, NORTH + 1), (WEST + 9.0, NORTH - 15)]))],
        **layers,
    )


def test_a_barrier_stands_on_the_faces_that_its_line_crosses():
    block = _barrier_block()
    crests = barrier_crests(block, block.elev_m, curb_height_m=0.1)
    row, col = np.divmod(crests.x_face, 21)
    assert row.tolist() == list(range(14)) and set(col.tolist()) == {9}
    # The mean ground of columns 8 and 9, and the barrier on it.
    assert crests.x_crest_m == pytest.approx(5.0 - 0.02 * 8.5 + 0.15, abs=1e-6)
    assert crests.y_face.size == 0


def test_a_line_through_the_middles_of_cells_raises_one_face_not_two():
    block = make_block(np.full((8, 10), 5.0), barriers=[("B1", "wall", 0.5, line([(0, 4), (7, 4)]))])
    crests = barrier_crests(block, block.elev_m, curb_height_m=0.1)
    assert np.unique(crests.x_face % 11).size == 1
    # Its ends stand in the middle of the first and the last cell.
    assert 7 <= crests.x_face.size <= 8


def test_a_curb_has_the_usual_height_and_is_dropped_at_driveways():
    block = _barrier_block(np.nan, "curb", driveways=[("D1", "lot", "driveway", box(4, 6, 7, 12))])
    crests = barrier_crests(block, block.elev_m, curb_height_m=0.1)
    assert (crests.x_face // 21).tolist() == [0, 1, 2, 3, 7, 8, 9, 10, 11, 12, 13]
    assert crests.x_crest_m == pytest.approx(5.0 - 0.02 * 8.5 + 0.1, abs=1e-6)


def test_a_barrier_without_a_height_and_one_beyond_the_window_are_left_out():
    far = shapely.LineString([(WEST - 50, NORTH), (WEST - 50, NORTH - 10)])
    barriers = [("B1", "wall", np.nan, line([(0, 4), (7, 4)])), ("B2", "wall", 1.0, far)]
    block = make_block(np.full((8, 10), 5.0), barriers=barriers)
    crests = barrier_crests(block, block.elev_m, curb_height_m=0.1)
    assert crests.x_face.size == crests.y_face.size == 0


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 45.0, 72.0])
def test_no_water_slips_through_a_ring_of_barriers_however_it_lies(turn_deg):
    from shapely.affinity import rotate

    ring = rotate(shapely.box(WEST + 8, NORTH - 22, WEST + 22, NORTH - 8), turn_deg).exterior
    block = make_block(np.full((30, 34), 5.0), barriers=[("B1", "wall", 1.0, ring)])
    crests = barrier_crests(block, block.elev_m, curb_height_m=0.1)
    depth = np.zeros(block.grid.shape)
    depth[14:16, 14:16] = 2.0
    found = move(block.elev_m, end_s=120.0, depth_m=depth, crests=crests)
    assert found.balance.edge_m3 == 0.0
    assert found.depth_m[:3].max() == 0.0 and found.depth_m[13:17, 13:17].min() > 0.02


def test_water_stands_behind_a_crest_and_runs_over_it():
    elev = np.zeros((5, 30))
    crest = np.full(5, 0.2)
    crests = Crests(x_face=np.arange(5) * 31 + 15, x_crest_m=crest, y_face=np.empty(0, np.int64), y_crest_m=np.empty(0))
    shut = np.ones((5, 30), bool)
    shut[:, -1] = False
    low, high = (
        move(elev, end_s=3600.0, rain_m_s=mm_h(rain), rain_s=600.0, crests=crests, is_edge_closed=shut)
        for rain in (600.0, 2400.0)
    )
    assert low.depth_m[:, :15] == pytest.approx(0.1, abs=1e-3)
    assert low.depth_m[:, 16:].max() < 0.02
    assert high.depth_m[:, :15] == pytest.approx(0.2, abs=0.005)


def _placed(block):
    criteria = Criteria()
    surface = build_surface(block, criteria=criteria)
    storm = design_storm(block, surface, rain=Rain(depth_mm=50.0, label="test", source="test"), criteria=criteria)
    return block, surface, storm, criteria


def test_the_ground_of_a_block_has_cuts_but_no_raised_cells():
    elev = np.tile(5.0 - 0.05 * np.arange(24), (16, 1))
    block, surface, storm, criteria = _placed(
        make_block(
            elev,
            barriers=[("B1", "wall", 0.6, line([(0, 12), (15, 12)]))],
            drains=[("S1", "swale", np.nan, np.nan, 0.3, line([(8, 2), (8, 8)]))],
            structures=[("H1", "lot", "house", box(2, 16, 6, 20))],
            roads=[(box(13, 0, 16, 24),)],
        )
    )
    ground = ground_of(block, surface, storm, criteria=criteria, settings=MotionSettings())
    assert surface.routed_elev_m[4, 12] > elev[4, 12] + 0.5
    assert ground.elev_m[4, 12] == pytest.approx(elev[4, 12], abs=1e-6)
    assert ground.elev_m[8, 5] == pytest.approx(elev[8, 5] - 0.3, abs=0.02)
    assert ground.is_wall[2:6, 16:20].all() and ground.is_wall.sum() == 16
    assert ground.roughness_n[14, 3] == pytest.approx(0.016) and ground.roughness_n[10, 3] == pytest.approx(0.05)
    rough = ground_of(block, surface, storm, criteria=criteria, settings=MotionSettings(roughness_factor=2.0))
    assert rough.roughness_n == pytest.approx(2.0 * ground.roughness_n)


def test_a_surface_of_another_window_is_refused():
    _, surface, storm, criteria = _placed(make_block(np.zeros((6, 8))))
    other = make_block(np.zeros((6, 9)))
    with pytest.raises(GridMismatchError):
        ground_of(other, surface, storm, criteria=criteria, settings=MotionSettings())


def test_a_coarser_ground_has_the_mean_of_open_cells():
    elev = np.arange(24.0).reshape(4, 6)
    is_wall = np.zeros((4, 6), bool)
    is_wall[:2, :2] = True
    is_wall[0, 3] = True
    ground = coarsen(
        lay_ground(Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=4, n_cols=6), elev, is_wall=is_wall), 2
    )
    assert ground.grid.shape == (2, 3) and ground.grid.cell_m == 2.0
    assert ground.is_wall.tolist() == [[True, False, False], [False, False, False]]
    assert ground.elev_m[0, 1] == pytest.approx((2 + 8 + 9) / 3)
    assert ground.elev_m[1, 2] == pytest.approx((16 + 17 + 22 + 23) / 4)
