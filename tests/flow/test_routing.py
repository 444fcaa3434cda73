import numpy as np
import pytest
import shapely

from screening.flow.catchments import trace_catchments
from screening.flow.dispersive import dispersive_area_m2
from screening.flow.paths import runoff_through, trace_flow_paths
from screening.flow.routing import route_flow
from screening.models import EAST_SIDE, NORTH_SIDE, Rain
from screening.pipeline import look_around
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block

CRITERIA = Criteria.of(flow_path_min_area_m2=5.0)


def valley(n_rows=20, n_cols=31):
    """Ground falling to the south, into a valley along the middle column."""
    row, col = np.mgrid[:n_rows, :n_cols].astype(float)
    return 50 - 0.1 * row + 0.3 * np.abs(col - n_cols // 2)


def routed(block, criteria=CRITERIA):
    surface = build_surface(block, criteria=criteria)
    return surface, route_flow(surface, criteria=criteria)


def test_contributing_area_of_a_valley_is_all_of_it():
    block = make_block(valley())
    _, flow = routed(block)
    outlets = flow.receiver.reshape(flow.grid.shape) == np.arange(20 * 31).reshape(20, 31)
    # The ground falls to the foot of the valley from everywhere, along the edges too: one outlet takes all.
    assert np.argwhere(outlets).tolist() == [[19, 15]]
    assert flow.contributing_area_m2[19, 15] == 20 * 31
    assert flow.contributing_area_m2.min() == 1
    assert dispersive_area_m2(flow)[outlets].sum() == pytest.approx(20 * 31, abs=1e-9 * 620)


def test_area_scales_with_the_cell():
    _, flow = routed(make_block(valley(), cell_m=2.0))
    assert flow.contributing_area_m2.max() == 4 * 20 * 31


def test_an_order_that_runs_down():
    _, flow = routed(make_block(valley()))
    rank = np.empty(flow.receiver.size, int)
    rank[flow.order] = np.arange(flow.order.size)
    goes_on = flow.receiver != np.arange(flow.receiver.size)
    assert (rank[goes_on] < rank[flow.receiver[goes_on]]).all()


def test_catchment_of_a_lot_and_its_edge():
    block = make_block(valley(), lots=[("low", box(10, 13, 14, 18)), ("rim", box(2, 0, 5, 2))])
    _, flow = routed(block)
    catchments = trace_catchments(flow, block)
    low = catchments.iloc[0]
    assert low.geometry.area == pytest.approx(low.contributing_area_m2)
    assert low.geometry.contains(box(10, 13, 14, 18).buffer(-0.1))
    assert low.contributing_area_m2 > 20
    assert low.edge_contaminated  # the valley goes up to the north edge of the window
    assert catchments.iloc[1].edge_contaminated


def test_open_sides_are_named():
    # A valley running south: water comes from the north.
    row, col = np.mgrid[:24, :40].astype(float)
    elev = 100 - 0.5 * row + 0.3 * np.abs(col - 20)
    assert (
        look_around(make_block(elev, lots=[("lot", box(10, 18, 14, 23))]), criteria=CRITERIA).open_sides == NORTH_SIDE
    )
    tilted = look_around(make_block(100 + 0.5 * col, lots=[("lot", box(10, 18, 14, 23))]), criteria=CRITERIA)
    assert tilted.open_sides == EAST_SIDE
    assert tilted.level_m.tolist() == (100 + 0.5 * col)[10:14, 18:23].ravel().tolist()
    assert tilted.area_m2.tolist() == [40 - col for _ in range(4) for col in range(18, 23)]


def test_a_dome_closes():
    row, col = np.mgrid[:41, :51].astype(float)
    dome = 100 - 0.1 * np.hypot(row - 20, col - 25)
    assert look_around(make_block(dome, lots=[("lot", box(18, 22, 24, 30))]), criteria=CRITERIA).open_sides == 0


def test_a_low_spot_on_the_lot_brings_its_own_unseen_water():
    # A pan reaches from the lot to the east, where a valley from the window's edge runs into it off the lot.
    row, col = np.mgrid[:30, :60].astype(float)
    elev = 100 + 0.05 * np.abs(col - 20) + 0.02 * np.abs(row - 15)
    elev[12:19, 18:40] = 99.5
    view = look_around(make_block(elev, lots=[("lot", box(13, 16, 17, 24))]), criteria=CRITERIA)
    assert view.open_sides & EAST_SIDE


def test_ground_below_a_gap_is_marked():
    elev = 100 - 0.5 * np.mgrid[:20, :12][0].astype(float)
    elev[5:8, 4:8] = np.nan
    block = make_block(elev, lots=[("below", box(12, 4, 15, 8)), ("beside", box(12, 0, 15, 2))])
    _, flow = routed(block, Criteria.of(void_fill_max_m2=0.0))
    below = flow.edge_sides[12:15, 5:7]
    assert (below & 16 > 0).all()


def test_flow_paths_join_and_run_down():
    block = make_block(valley(40, 61))
    surface, flow = routed(block)
    storm = design_storm(block, surface, rain=Rain(depth_mm=100.0, label="100 mm", source="test"), criteria=CRITERIA)
    paths = trace_flow_paths(flow, storm, block, criteria=CRITERIA)
    assert len(paths) > 1
    assert (paths.contributing_area_m2 >= 5).all()
    assert paths.is_valid.all() and (paths.geom_type == "LineString").all()
    ends = {line.coords[-1] for line in paths.geometry}
    starts = {line.coords[0] for line in paths.geometry}
    outlet = max(paths.itertuples(), key=lambda path: path.contributing_area_m2)
    assert outlet.geometry.coords[-1][1] == pytest.approx(block.grid.y_of(39))
    # Every reach ends where another begins, or at the edge of the window.
    edge = shapely.box(*block.grid.bounds).buffer(-1.0)
    assert all(end in starts or not edge.contains(shapely.Point(end)) for end in ends)
    # Uniform ground: runoff follows area.
    runoff = runoff_through(flow, storm)
    assert runoff.max() / flow.contributing_area_m2.max() == pytest.approx(
        float(storm.runoff_mm.max()) / 1000, rel=1e-6
    )
