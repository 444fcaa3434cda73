import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.grid import Grid
from screening.outfall.pipe_routes import Terrain, lay_pipe, profile_along
from screening.schema.codes.outfall import Reach, RouteReason
from screening.schema.criteria import Criteria
from tests.blocks import CRS, NORTH, WEST, box

SHAPE = (20, 31)
GRID = Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=SHAPE[0], n_cols=SHAPE[1])
ROW, COL = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
STRICT = Criteria.of(storage_extra_depth_max_m=0.0)


def cell(row, col):
    return row * SHAPE[1] + col


def cells(*places):
    return np.array([cell(*place) for place in places], np.int64)


def terrain(elev, *, lot=None, structures=()):
    lot = lot or box(0, 0, *SHAPE)
    blocked = np.zeros(SHAPE, bool)
    for row0, col0, row1, col1 in structures:
        blocked[row0:row1, col0:col1] = True
    inside = shapely.contains_xy(lot, WEST + COL + 0.5, NORTH - ROW - 0.5)
    shapes = gpd.GeoSeries([box(*corners) for corners in structures], crs=CRS)
    return Terrain(
        grid=GRID,
        elev_m=np.asarray(elev, np.float32),
        open_cells=np.flatnonzero(inside & ~blocked).astype(np.int64),
        lot=lot,
        structures=shapes,
    )


def test_a_plane_gives_the_exact_fall():
    # 3 cells south and 4 east on z = 50 - 0.02 row - 0.03 col: 5 m long, 0.18 m lower.
    pipe = lay_pipe(cell(5, 5), cells((8, 9), (8, 10)), terrain(50 - 0.02 * ROW - 0.03 * COL), criteria=STRICT)
    assert pipe.length_m == pytest.approx(5.0)
    assert pipe.ground_fall_m == pytest.approx(0.18, abs=1e-5)
    assert pipe.fall_needed_m == pytest.approx(0.05)
    assert pipe.pipe_slope_pct == pytest.approx(3.6, abs=1e-3)
    assert (pipe.reach, pipe.reason) == (Reach.REACHABLE, RouteReason.FALLS_ENOUGH)
    assert pipe.extra_depth_m == pytest.approx(0.0, abs=1e-5)
    assert pipe.cover_max_m == pytest.approx(STRICT.storage.storage_cover_m, abs=1e-5)
    assert (pipe.n_structures, pipe.n_lot_lines) == (0, 0)


def test_a_zone_uphill_is_not_reachable_by_gravity():
    pipe = lay_pipe(cell(15, 5), cells((5, 5), (4, 5)), terrain(50 - 0.1 * ROW), criteria=STRICT)
    assert pipe.ground_fall_m == pytest.approx(-1.0, abs=1e-5)
    assert (pipe.reach, pipe.reason) == (Reach.NOT_REACHABLE, RouteReason.UPHILL)
    # The pipe would end its own fall and the climb of the ground deeper than its cover: 10 m at 1 % and 1 m.
    assert pipe.extra_depth_m == pytest.approx(1.1, abs=1e-5)


@pytest.mark.parametrize(("deeper_m", "reach"), [(0.10, "reachable"), (0.099, "not reachable")])
def test_level_ground_is_reached_by_deeper_storage_by_a_hair(deeper_m, reach):
    criteria = Criteria.of(storage_extra_depth_max_m=deeper_m)
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 16)), terrain(0 * ROW + 50), criteria=criteria)
    assert pipe.extra_depth_m == pytest.approx(0.10)
    assert pipe.reach == reach
    assert reach == Reach.REACHABLE or pipe.reason is RouteReason.TOO_LITTLE_FALL


def test_a_hollow_on_the_way_pulls_the_pipe_down_and_a_hump_deepens_its_cover():
    hollow = np.where((COL == 10), 49.0, 50.0)
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 16)), terrain(hollow), criteria=Criteria())
    # Under the hollow 1 m lower, then 5 m at 1 %.
    assert pipe.extra_depth_m == pytest.approx(1.05, abs=1e-5)
    hump = np.where((COL == 10), 52.0, 50.0)
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 16)), terrain(hump), criteria=Criteria())
    assert pipe.extra_depth_m == pytest.approx(0.10, abs=1e-5)
    assert pipe.cover_max_m == pytest.approx(2.0 + 0.05 + 0.30, abs=1e-5)


def test_a_better_place_in_the_zone_is_taken_where_the_nearest_is_too_high():
    elev = np.where(COL < 18, 50.0, 49.0)
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 18)), terrain(elev), criteria=STRICT)
    assert pipe.reach is Reach.REACHABLE
    assert pipe.length_m == pytest.approx(13.0)


def test_the_way_goes_around_a_structure():
    ground = terrain(50 - 0.05 * COL, structures=[(2, 10, 9, 14)])
    pipe = lay_pipe(cell(5, 5), cells((5, 20), (5, 21)), ground, criteria=STRICT)
    assert pipe.reach is Reach.REACHABLE
    assert not ground.structures.intersects(pipe.line).any()
    # Straight it is 15 m; up and over the three rows above the south end of the structure is the shortest way.
    assert 15.0 < pipe.length_m <= 15.0 + 2 * 4 * (math.sqrt(2.0) - 1.0) + 1e-9


def test_a_structure_across_the_lot_cannot_be_passed():
    ground = terrain(50 - 0.05 * COL, structures=[(0, 10, 20, 14)])
    pipe = lay_pipe(cell(5, 5), cells((5, 20), (5, 21)), ground, criteria=STRICT)
    assert (pipe.reach, pipe.reason, pipe.n_structures) == (Reach.NOT_REACHABLE, RouteReason.CROSSES_STRUCTURE, 1)


def test_lot_lines_are_counted():
    lot = shapely.MultiPolygon([box(0, 0, 20, 10), box(0, 16, 20, 31)])
    pipe = lay_pipe(cell(5, 5), cells((5, 20), (5, 21)), terrain(50 - 0.05 * COL, lot=lot), criteria=STRICT)
    assert (pipe.reach, pipe.reason, pipe.n_lot_lines) == (Reach.NOT_REACHABLE, RouteReason.LEAVES_LOT, 2)


def test_a_bent_lot_is_followed():
    lot = box(0, 0, 20, 31).difference(box(0, 8, 12, 20))
    pipe = lay_pipe(cell(3, 3), cells((3, 25), (3, 26)), terrain(50 - 0.05 * COL, lot=lot), criteria=STRICT)
    assert (pipe.reach, pipe.n_lot_lines) == (Reach.REACHABLE, 0)
    assert lot.covers(pipe.line)


def test_a_gap_on_the_way_is_not_assessed():
    elev = 50 - 0.05 * COL
    elev[5, 10] = np.nan
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 16)), terrain(elev), criteria=STRICT)
    assert (pipe.reach, pipe.reason) == (Reach.NOT_ASSESSED, RouteReason.GROUND_UNKNOWN)


def test_ground_beside_the_way_that_is_unknown_does_no_harm():
    elev = 50 - 0.05 * COL
    elev[6, 10] = np.nan
    pipe = lay_pipe(cell(5, 5), cells((5, 15), (5, 16)), terrain(elev), criteria=STRICT)
    assert pipe.reach is Reach.REACHABLE


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.2, 3.0))
def test_a_pipe_keeps_its_cover_and_its_slope_on_any_ground(seed, slope_pct):
    random = np.random.default_rng(seed)
    elev = 50 + random.normal(0, 0.3, SHAPE)
    start, end = (cell(*(int(random.integers(size)) for size in SHAPE)) for _ in range(2))
    zone = np.array([end, end + 1 if (end + 1) % SHAPE[1] else end - 1], np.int64)
    criteria = Criteria.of(outlet_pipe_slope_min_pct=slope_pct)
    pipe = lay_pipe(start, zone, terrain(elev), criteria=criteria)
    along, ground = profile_along(pipe.line, GRID, elev.astype(np.float32))
    # Independent of the running minimum: at each place the lowest that any place before it allows.
    allowed = [
        min(ground[before] - slope_pct / 100 * (along[place] - along[before]) for before in range(place + 1))
        for place in range(along.size)
    ]
    assert pipe.extra_depth_m == pytest.approx(ground[-1] - allowed[-1], abs=1e-9)
    assert pipe.cover_max_m == pytest.approx(criteria.storage.storage_cover_m + max(ground - allowed), abs=1e-9)
    assert pipe.extra_depth_m >= 0.0
    assert pipe.pipe_slope_pct >= slope_pct - 1e-6
