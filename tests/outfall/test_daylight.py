"""Where a pipe comes to daylight, and how a channel lies, on ground that is worked out by hand."""

import numpy as np
import pytest
import shapely

from screening.grid import Grid, rasterize
from screening.outfall.daylight import OutletTerrain, find_daylight, find_zone
from screening.outfall.laid_channel import lay_channel
from screening.outfall.pipe_routes import Terrain, lay_pipe, profile_along
from screening.schema.codes.outfall import Outfall
from screening.schema.criteria import Criteria
from tests.blocks import CRS, NORTH, WEST, box, line

CRITERIA = Criteria()
SHAPE = (40, 21)
GRID = Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=SHAPE[0], n_cols=SHAPE[1])
ROW, COL = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)


def at(row, col):
    return shapely.Point(WEST + col + 0.5, NORTH - row - 0.5)


def outlet_ground(elev, *, standing=None, street=None, ends=None):
    """All of the window, but for what stands there; ends below row 10."""
    whole = box(0, 0, *SHAPE)
    free = whole if standing is None else whole.difference(standing)
    open_cells = np.flatnonzero(rasterize(GRID, [free], [1]))
    cells = np.flatnonzero((ROW.ravel() > 10) & np.isin(np.arange(ROW.size), open_cells)) if ends is None else ends
    on_street = np.zeros(cells.size, bool) if street is None else np.isin(cells, street)
    return OutletTerrain(
        grid=GRID,
        elev_m=np.asarray(elev, np.float32),
        ends=cells,
        is_street=on_street,
        open_cells=open_cells,
        terrain=free,
    )


def daylight(elev, row, depth_m, **more):
    start = at(row, 10)
    return find_daylight(
        start, row * SHAPE[1] + 10, float(elev[row, 10]) - depth_m, outlet_ground(elev, **more), criteria=CRITERIA
    )


@pytest.mark.parametrize(("fall", "metres"), [(0.10, 5.0), (0.05, 11.0), (0.03, 22.0)])
def test_daylight_is_where_the_ground_has_fallen_past_the_pipe(fall, metres):
    # 0.43 m deep; the ground gains (fall - 1 %) on the pipe each metre: 4.8, 10.75 and 21.5 m, and on to a cell centre.
    elev = 50 - fall * ROW
    found = daylight(elev, 12, 0.43)
    assert found.kind is Outfall.ON_LOT and found.length_m == pytest.approx(metres)
    assert found.fall_needed_m == pytest.approx(0.01 * metres)
    assert found.fall_available_m == pytest.approx(fall * metres - 0.43, abs=1e-5)
    assert found.fall_available_m >= found.fall_needed_m
    assert found.end_elev_m == pytest.approx(elev[12, 10] - fall * metres, abs=1e-5)


def test_a_deeper_drain_or_gentler_ground_must_go_farther_or_finds_nothing():
    elev = 50 - 0.04 * ROW
    near, far = daylight(elev, 12, 0.2), daylight(elev, 12, 0.5)
    assert near.length_m < far.length_m
    none = daylight(50 - 0.02 * ROW, 12, 0.42)
    assert none.kind is Outfall.NONE and none.line is None
    # The place that comes nearest to it: the last row, 27 m on.
    assert none.length_m == pytest.approx(27.0) and none.fall_needed_m == pytest.approx(0.27)
    assert none.fall_available_m == pytest.approx(0.54 - 0.42, abs=1e-5)


def test_a_pipe_goes_around_what_stands_in_its_way():
    elev = 50 - 0.10 * ROW - 0.5 * (ROW > 22)
    standing = box(14, 3, 18, 18)
    ends = np.flatnonzero((ROW.ravel() > 22) & (np.abs(COL.ravel() - 10) < 1))
    straight, around = (daylight(elev, 12, 0.42, standing=wall, ends=ends) for wall in (None, standing))
    assert straight.length_m == pytest.approx(11.0)
    assert around.length_m > straight.length_m + 5.0
    assert not around.line.intersects(standing)
    assert around.fall_available_m >= around.fall_needed_m - 1e-5


def test_the_street_is_told_from_the_lot():
    elev = 50 - 0.10 * ROW
    found = daylight(elev, 12, 0.42, street=np.flatnonzero(ROW.ravel() >= 15))
    assert found.kind is Outfall.AT_STREET


def test_a_pipe_may_not_lie_above_the_ground_on_its_way():
    # A ditch before the far side, which is higher than the ditch's bed by more than the pipe has left.
    elev = np.where(ROW < 15, 50.0, np.where(ROW < 18, 47.0, 49.4))
    found = daylight(elev, 12, 0.42, ends=np.flatnonzero(ROW.ravel() >= 18))
    assert found.line is None


def test_a_zone_is_reached_from_the_depth_of_the_drain():
    """Uphill by 0.1 m: out of reach from just under the ground with so deep a drain, in reach from a shallow one."""
    elev = np.asarray(50 + 0.005 * ROW, np.float32)
    zone = np.flatnonzero((ROW.ravel() >= 30) & (COL.ravel() >= 8) & (COL.ravel() < 13))
    terrain = Terrain(
        grid=GRID, elev_m=elev, open_cells=np.arange(elev.size), lot=box(0, 0, *SHAPE), structures=shapely_series([])
    )
    start = 10 * SHAPE[1] + 10
    # 20 m at 1 %, and 0.1 m uphill: 0.3 m deeper than under its least cover, of 0.6 m that are allowed.
    pipe = lay_pipe(start, zone, terrain, criteria=CRITERIA)
    assert pipe.reach == "reachable" and pipe.extra_depth_m == pytest.approx(0.3, abs=1e-4)
    deeper = lay_pipe(start, zone, terrain, criteria=CRITERIA, start_below_m=0.2)
    assert deeper.reach == "reachable" and deeper.extra_depth_m == pytest.approx(0.5, abs=1e-4)
    too_deep = lay_pipe(start, zone, terrain, criteria=CRITERIA, start_below_m=0.4)
    assert too_deep.reach == "not reachable"
    invert_m = float(elev.ravel()[start]) - 0.5
    found = find_zone(start, invert_m, {"Z": zone}, terrain, criteria=CRITERIA)
    assert found.kind is Outfall.ZONE and found.zone_id == "Z"
    # Cover and what it may lie deeper: 0.9 m under ground that is 0.1 m higher.
    assert found.fall_available_m == pytest.approx(invert_m - (50.15 - 0.9), abs=1e-4)
    assert find_zone(start, invert_m - 0.4, {"Z": zone}, terrain, criteria=CRITERIA) is None


def shapely_series(shapes):
    import geopandas as gpd

    return gpd.GeoSeries(shapes, crs=CRS)


def test_a_channel_falls_with_the_ground_or_by_its_least():
    across = line([(20, 5), (20, 15)])
    steep = lay_channel(across, GRID, np.asarray(50 - 0.02 * COL, np.float32), criteria=CRITERIA)
    assert steep.slope == pytest.approx(0.02, abs=1e-5)
    assert steep.outlet.equals(at(20, 15))
    assert steep.depth_m == pytest.approx(CRITERIA.hydraulics.trench_drain_depth_m, abs=1e-5)
    assert steep.cut_depth_m == pytest.approx(
        CRITERIA.hydraulics.trench_drain_depth_m + CRITERIA.hydraulics.trench_drain_bedding_m, abs=1e-5
    )
    level = lay_channel(across, GRID, np.full(SHAPE, 50.0, np.float32), criteria=CRITERIA)
    assert level.slope == pytest.approx(0.005) and level.length_m == pytest.approx(10.0)
    assert level.depth_m == pytest.approx(CRITERIA.hydraulics.trench_drain_depth_m + 0.05, abs=1e-5)
    # Common practice, no published source: a channel 14.5 in deep is set in a cut of 20 to 22 in.
    assert 20 <= steep.cut_depth_m / 0.0254 <= 22


def test_a_channel_keeps_its_depth_at_the_low_middle_of_a_v():
    elev = np.asarray(50 + 0.04 * np.abs(COL - 10), np.float32)
    laid = lay_channel(line([(20, 5), (20, 15)]), GRID, elev, criteria=CRITERIA)
    # Ends 0.2 m above the middle; the invert is least deep there, and falls by half a per cent through it.
    assert laid.depth_m == pytest.approx(0.2 + CRITERIA.hydraulics.trench_drain_depth_m + 0.005 * 5, abs=1e-5)
    along, ground_m = profile_along(line([(20, 5), (20, 15)]), GRID, elev)
    invert = laid.invert_m + laid.slope * (10.0 - along)
    assert (ground_m - invert).min() == pytest.approx(CRITERIA.hydraulics.trench_drain_depth_m, abs=1e-5)


def test_ground_that_is_not_known_gives_no_channel_and_no_way_out():
    elev = np.asarray(50 - 0.1 * ROW, np.float32)
    elev[20, 9] = np.nan
    laid = lay_channel(line([(20, 5), (20, 15)]), GRID, elev, criteria=CRITERIA)
    assert np.isnan(laid.invert_m)
    start = laid.outlet
    found = find_daylight(start, 20 * SHAPE[1] + 15, laid.invert_m, outlet_ground(elev), criteria=CRITERIA)
    assert found.kind is Outfall.NONE and np.isnan(found.length_m)
