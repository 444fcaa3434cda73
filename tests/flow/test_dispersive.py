"""Routing by each method through the stages: options honoured, weights added up, gaps and edges accounted for."""

import dataclasses

import numpy as np
import pytest

from screening.errors import GridMismatchError, InputError
from screening.flow.dispersive import METHODS, accumulate_weight, dispersive_area_m2, fraction_reaching
from screening.flow.queries import flow_path_from, leaving_area_m2, leaving_weight
from screening.flow.routing import route_flow
from screening.models import Rain
from screening.pipeline import screen_block
from screening.schema.criteria import DISPERSIVE_METHODS, Criteria
from screening.terrain.surface import build_surface
from tests.blocks import box, line, make_block
from tests.made_ground import bumps, suburb

CRATER = (9, 11)


def routed(elev, *, cell_m=1.0, **values):
    criteria = Criteria.of(void_fill_max_m2=0.0, **values)
    return route_flow(build_surface(make_block(elev, cell_m=cell_m), criteria=criteria), criteria=criteria)


def cone(cell_m=1.0, grade=0.4, shape=(41, 53)):
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    return 100 - grade * cell_m * np.hypot(row - 20.2, col - 26.4)


def crater(shape=(19, 24)):
    """A bowl on top of a hill, with a hole in the data at its bottom."""
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    distance = np.hypot(row - CRATER[0], col - CRATER[1])
    elev = 50 - 0.05 * np.maximum(distance - 6, 0) - 0.5 * np.maximum(6 - distance, 0)
    elev[distance < 1.5] = np.nan
    return elev


@pytest.mark.parametrize("method", DISPERSIVE_METHODS)
def test_the_dispersive_area_is_that_of_the_method(method):
    flow = routed(cone(), dispersive_method=method)
    area = np.full(flow.grid.shape, 1.0)
    np.testing.assert_array_equal(dispersive_area_m2(flow), accumulate_weight(flow, area, method=method))
    others = [accumulate_weight(flow, area, method=other) for other in METHODS if other != method]
    assert all(np.abs(other / dispersive_area_m2(flow) - 1).max() > 0.05 for other in others)


@pytest.mark.parametrize("method", DISPERSIVE_METHODS)
def test_shares_follow_slope_per_metre_not_drop_per_cell(method):
    # The same grade on cells of half a metre and of four: the same shares, areas by the size of a cell.
    fine, coarse = (routed(cone(cell_m), cell_m=cell_m, dispersive_method=method) for cell_m in (0.5, 4.0))
    np.testing.assert_allclose(dispersive_area_m2(coarse), dispersive_area_m2(fine) * 64, rtol=2e-3)


@pytest.mark.parametrize("method", DISPERSIVE_METHODS)
def test_driveway_water_spreads_by_the_method(method):
    row, col = np.mgrid[:44, :31].astype(float)
    elev = 50 - 0.06 * row - 0.02 * col
    layers = {
        "structures": [("G", "lot", "garage", box(30, 12, 36, 18))],
        "driveways": [("D", "lot", "driveway", box(10, 13, 30, 17))],
    }
    criteria = Criteria.of(dispersive_method=method)
    result = screen_block(
        make_block(elev, **layers), criteria=criteria, rain=Rain(depth_mm=100.0, label="100 mm", source="test")
    )
    share = result.driveways.to_structure_frac.iloc[0]
    assert 0.3 < share < 1
    walls = result.surface.structure_index > 0
    near = np.zeros_like(walls)
    near[29:37, 11:19] = True
    reach = fraction_reaching(result.flow, near & ~walls, pen=np.ones(walls.shape, np.int32))
    assert share == pytest.approx(reach[10:30, 13:17].mean(), abs=1e-12)


@pytest.mark.parametrize("method", METHODS)
def test_runoff_is_added_up_by_each_method(method):
    flow = routed(bumps(21, 34, 3, step_m=0.1, gap_share=0.1))
    weight = np.random.default_rng(2).random(flow.grid.shape)
    total = accumulate_weight(flow, np.where(np.isnan(flow.filled_elev_m), np.nan, weight), method=method)
    has_elev = ~np.isnan(flow.filled_elev_m)
    outlet = (flow.receiver == np.arange(flow.receiver.size)).reshape(flow.grid.shape)
    assert total[outlet].sum() == pytest.approx(weight[has_elev].sum(), rel=1e-9)
    assert (total[has_elev] >= weight[has_elev]).all() and (total[~has_elev] == 0).all()
    np.testing.assert_allclose(accumulate_weight(flow, 3 * weight, method=method), 3 * total, rtol=1e-12)


def test_weights_that_cannot_be_added_up_are_refused():
    flow = routed(cone())
    with pytest.raises(GridMismatchError, match="another grid"):
        accumulate_weight(flow, np.ones((53, 41)), method="d8")
    with pytest.raises(GridMismatchError, match="another grid"):
        accumulate_weight(flow, np.ones(41 * 53), method="d8")
    weight = np.ones(flow.grid.shape)
    weight[3, 4] = np.nan
    with pytest.raises(InputError, match="1 cells that have elevation"):
        accumulate_weight(flow, weight, method="freeman")
    with pytest.raises(InputError, match="freeman, qin, d-infinity"):
        accumulate_weight(flow, np.ones(flow.grid.shape), method="rho8")


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("nodata_drains", [True, False])
def test_a_hole_drains_or_not_as_the_option_says(method, nodata_drains):
    spread = "freeman" if method == "d8" else method
    elev = crater()
    flow = routed(elev, nodata_drains=nodata_drains, dispersive_method=spread)
    leaving = leaving_area_m2(flow, method=method)
    ground = np.count_nonzero(~np.isnan(elev))
    assert sum(leaving.values()) == pytest.approx(ground, rel=1e-9)
    assert leaving["enclosed"] == 0
    path = flow_path_from(flow, line([(9, 14), (9, 15)]))[0]
    if nodata_drains:
        # The bowl, six cells in radius, runs into the hole, with the cells of its rim that fall steeper inward.
        row, col = np.argwhere(~np.isnan(elev)).T
        distance = np.hypot(row - CRATER[0], col - CRATER[1])
        assert (distance < 5.5).sum() <= leaving["gap"] <= (distance < 7.5).sum()
        assert np.nanmax(flow.filled_elev_m - elev) < 1e-5
        assert path.reason == "gap"
    else:
        # It fills to its rim and overflows.
        assert leaving["gap"] == 0
        assert np.nanmax(flow.filled_elev_m - elev) > 1
        assert path.reason == "window edge"


@pytest.mark.parametrize("method", METHODS)
def test_ground_walled_in_by_gaps_is_enclosed_where_they_do_not_drain(method):
    elev = 50 - 0.1 * np.mgrid[:15, :18][1].astype(float)
    elev[3:12, 4:13] = np.nan
    elev[5:10, 6:11] = 40 - 0.1 * np.arange(5)
    flow = routed(elev, nodata_drains=False)
    assert leaving_area_m2(flow, method=method)["enclosed"] == pytest.approx(25, rel=1e-9)
    assert leaving_area_m2(routed(elev), method=method)["gap"] > 25


@pytest.mark.parametrize("method", METHODS)
def test_each_side_gets_what_leaves_there(method):
    flow = routed(np.tile(50 - 0.2 * np.arange(12.0), (9, 1)), cell_m=2.0)
    leaving = leaving_area_m2(flow, method=method)
    assert leaving["west"] == leaving["gap"] == leaving["enclosed"] == 0
    # The two corners of the east side count half to north and south.
    assert leaving["north"] == pytest.approx(leaving["south"], rel=1e-6)
    assert leaving["east"] + 2 * leaving["north"] == pytest.approx(9 * 12 * 4, rel=1e-9)
    runoff = leaving_weight(flow, np.full((9, 12), 0.05), method=method)
    assert runoff["east"] == pytest.approx(leaving["east"] * 0.05 / 4, rel=1e-9)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(("elev", "nodata_drains"), [(suburb(60, 45, 2), True), (bumps(1, 30, 1), True)])
def test_all_ground_leaves_somewhere(method, elev, nodata_drains):
    flow = routed(elev, nodata_drains=nodata_drains)
    assert sum(leaving_area_m2(flow, method=method).values()) == pytest.approx(elev.size, rel=1e-9)


@pytest.mark.parametrize("method", METHODS)
def test_sides_turn_with_the_ground(method):
    rng = np.random.default_rng(6)
    elev = cone(shape=(33, 40)) - rng.random((33, 40)) * 0.01
    flow = routed(elev)
    turned = routed(np.ascontiguousarray(np.rot90(elev)))
    before, after = leaving_area_m2(flow, method=method), leaving_area_m2(turned, method=method)
    for side, next_side in (("north", "west"), ("west", "south"), ("south", "east"), ("east", "north")):
        assert after[next_side] == pytest.approx(before[side], rel=1e-5)


def test_a_flow_field_says_how_it_was_routed():
    flow = routed(cone(), dispersive_method="qin", nodata_drains=False, multiflow_exponent=2.0)
    assert (flow.dispersive_method, flow.nodata_drains, flow.multiflow_exponent) == (
        "qin",
        False,
        2.0,
    )
    assert dataclasses.replace(flow, dispersive_method="freeman").dispersive_method == "freeman"
