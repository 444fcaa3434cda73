"""Culverts as ways under the ground, swales as cuts."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.depressions.find import find_depressions
from screening.depressions.hierarchy import build_depression_hierarchy
from screening.flow.basins import find_basins
from screening.flow.catchments import trace_catchments
from screening.flow.dispersive import METHODS, accumulate_weight, dispersive_area_m2, fraction_reaching
from screening.flow.paths import trace_flow_paths
from screening.flow.queries import catchment_of, flow_path_from, leaving_area_m2
from screening.flow.routing import route_flow
from screening.models import EAST_SIDE, GAP_SIDE, WEST_SIDE, Rain
from screening.pipeline import screen_block
from screening.schema.criteria import DISPERSIVE_METHODS, Criteria
from screening.storm.design_storm import design_storm
from screening.terrain.surface import build_surface
from screening.units import M_PER_FT
from tests.blocks import box, line, make_block

ROWS, COLS = 21, 44
NO = np.nan
RAIN = Rain(depth_mm=100.0, label="stated depth", source="test")
EXACT = Criteria.of(drain_snap_m=0.0)


def valley():
    """Falls to the east at 2 %, to the middle row at 20 %; closed at its head."""
    row, col = np.mgrid[:ROWS, :COLS].astype(float)
    elev = 100 - 0.02 * col + 0.2 * np.abs(row - 10)
    elev[:, 0] = 103
    return elev


def embankment():
    """The valley dammed by a bank, its top at 101.6 m, in columns 20 to 22."""
    elev = valley()
    elev[:, 20:23] = np.maximum(elev[:, 20:23], 101.6)
    return elev


def culvert(up=NO, down=NO, cells=((10, 18), (10, 24)), name="C", kind="culvert"):
    return name, kind, up, down, NO, line(cells)


def opened(elev, *drains, criteria=None, cell_m=1.0, **layers):
    criteria = criteria or Criteria()
    block = make_block(elev, drains=list(drains), cell_m=cell_m, **layers)
    surface = build_surface(block, criteria=criteria)
    return block, surface, route_flow(surface, criteria=criteria)


def texts(value, kind="caution"):
    return " | ".join(note.text for note in value.notes if note.kind == kind and note.subject == "drains")


def held_m3(surface, flow, cols=slice(0, 20)):
    return float(np.nansum((flow.filled_elev_m - surface.routed_elev_m)[:, cols]))


def check_balance(flow):
    """No cell is left out, and all that falls leaves, by every method."""
    known = flow.receiver >= 0
    assert flow.order.size == known.sum()
    for method in METHODS:
        left = leaving_area_m2(flow, method=method)
        assert sum(left.values()) == pytest.approx(known.sum() * flow.grid.cell_area_m2, rel=1e-9)
        assert left["enclosed"] == 0


def test_a_culvert_drains_all_that_an_embankment_held_and_the_ground_above_it_stays():
    _, dammed, dry = opened(embankment())
    assert held_m3(dammed, dry) > 300
    block, surface, flow = opened(embankment(), culvert())
    assert held_m3(surface, flow) < 1e-6
    hierarchy = build_depression_hierarchy(surface, criteria=Criteria())
    assert find_depressions(surface, flow, hierarchy, block, criteria=Criteria()).table.empty
    check_balance(flow)
    # The lowest ground within 2 m of its ends, on either side of the bank, which stays as it was.
    inlet, outlet = 10 * COLS + 19, 10 * COLS + 26
    assert surface.conduits.inlet.tolist() == [inlet] and surface.conduits.outlet.tolist() == [outlet]
    assert flow.receiver[inlet] == outlet and flow.link_cell.tolist() == [inlet]
    assert np.array_equal(surface.routed_elev_m, block.elev_m) and surface.changes.empty
    assert flow.contributing_area_m2[10, 26] > 20 * 19 and dispersive_area_m2(flow)[10, 26] > 20 * 19
    assert "never full" in texts(surface, "assumed")


def test_nothing_falls_into_a_culvert_along_its_length():
    flow = opened(embankment(), culvert())[2]
    # Water on the bank runs off on either side: the outlet gets what the inlet took, its neighbours, and itself.
    area = flow.contributing_area_m2
    assert area[10, 20] < 21 and area[10, 21] < 21
    donors = np.flatnonzero(flow.receiver == 10 * COLS + 26)
    assert area[10, 26] == area.ravel()[donors].sum() + 1 and 10 * COLS + 19 in donors


def test_a_pipe_takes_all_the_water_of_its_inlet_by_every_method():
    """On a slope, where water would run on past the inlet: none of it does."""
    elev = 60 - 0.5 * np.mgrid[:24, :31][0] + 0.02 * np.abs(np.mgrid[:24, :31][1] - 12)
    for method in DISPERSIVE_METHODS:
        criteria = Criteria.of(drain_snap_m=0.0, dispersive_method=method)
        flow = opened(elev, culvert(cells=[(6, 12), (16, 25)]), criteria=criteria)[2]
        inlet, outlet = 6 * 31 + 12, 16 * 31 + 25
        assert flow.receiver[inlet] == outlet
        check_balance(flow)
        alone = np.zeros(elev.shape)
        alone.ravel()[inlet] = 1.0
        spread = accumulate_weight(flow, alone, method=method)
        assert spread.ravel()[outlet] == 1.0 and spread[7:16].sum() == 0
        pen = np.ones(elev.shape, np.int32)
        below = np.zeros(elev.shape, bool)
        below.ravel()[outlet] = True
        reach = fraction_reaching(flow, below, pen=pen)
        assert reach.ravel()[inlet] == 1.0 and 0 < reach[5, 12] <= 1.0
        # A pipe out of the pen leads out of it.
        pen[10:] = 2
        assert fraction_reaching(flow, below, pen=pen)[:10].max() == 0


@settings(max_examples=40, deadline=None)
@given(up=st.floats(99.0, 101.0), fall=st.floats(0.0, 0.4), skew=st.integers(-2, 2))
def test_water_behind_a_bank_stands_as_high_as_the_invert_or_the_water_below(up, fall, skew):
    _, surface, flow = opened(embankment(), culvert(up, up - fall, [(10, 19), (10 + skew, 25)]), criteria=EXACT)
    below = max(float(np.float32(up)), float(flow.filled_elev_m[10 + skew, 25]))
    expected = max(min(below, 101.6), float(surface.routed_elev_m[10, 19]))
    assert flow.filled_elev_m[10, 19] == pytest.approx(expected, abs=1e-5)
    # The ground at the foot of the bank but for the inlet itself drains as low as it lets it.
    assert flow.filled_elev_m[10, 18] == pytest.approx(max(expected, float(surface.routed_elev_m[10, 18])), abs=1e-5)
    check_balance(flow)


def test_inverts_in_the_ground_count_as_the_ground_and_a_buried_outlet_is_said():
    block, surface, flow = opened(embankment(), culvert(99.4, 98.9, [(10, 19), (10, 25)]), criteria=EXACT)
    assert surface.conduits.crest_m[0] == block.elev_m[10, 19]
    assert np.array_equal(surface.routed_elev_m, block.elev_m) and texts(surface) == ""
    assert held_m3(surface, flow) < 1e-6
    _, surface, flow = opened(embankment(), culvert(99.4, 98.9, [(10, 19), (14, 25)]), criteria=EXACT)
    # The outlet is drawn 0.8 m up the side of the valley.
    assert surface.conduits.crest_m[0] == np.float32(100.3) == flow.filled_elev_m[10, 19]
    assert "culvert C: water would have to stand at 100.30 m to come out at its lower end" in texts(surface)
    check_balance(flow)


def test_an_invert_above_the_ground_is_said_and_holds_water():
    _, surface, flow = opened(embankment(), culvert(100.12, 99.4, [(10, 19), (10, 24)]), criteria=EXACT)
    assert "culvert C: its upper invert lies 0.50 m above the ground there" in texts(surface)
    assert flow.filled_elev_m[10, 19] == np.float32(100.12)


def test_a_pipe_that_no_water_enters_is_said():
    _, surface, flow = opened(embankment(), culvert(101.9, 99.4, [(10, 19), (10, 24)]), criteria=EXACT)
    assert flow.link_cell.size == 0 and held_m3(surface, flow) > 300
    assert "no water enters culvert C: it would have to stand at 101.90 m, and runs off" in texts(flow)
    result = screen_block(make_block(embankment(), drains=[culvert(101.9, 99.4)]), criteria=Criteria(), rain=RAIN)
    assert any("no water enters culvert C" in note.text for note in result.notes)


def test_a_drain_drawn_uphill_is_taken_the_other_way_and_said():
    for drain in (culvert(cells=[(10, 24), (10, 18)]), culvert(99.5, 99.61, [(10, 24), (10, 18)])):
        _, surface, flow = opened(embankment(), drain)
        assert "rises along its line: taken the other way round" in texts(surface)
        assert held_m3(surface, flow) < 1e-6
        assert surface.conduits.inlet.tolist() == [10 * COLS + 19]


def test_ends_stay_on_their_own_side_of_the_middle():
    # With 20 m of reach the lowest ground around either end is the same: at the east edge.
    _, surface, _ = opened(valley(), culvert(cells=[(10, 20), (10, 24)]), criteria=Criteria.of(drain_snap_m=20.0))
    assert surface.conduits.inlet.tolist() == [10 * COLS + 21]
    assert surface.conduits.outlet.tolist() == [10 * COLS + 43]


def test_backwater_of_one_level_passes_a_pipe_from_the_side_without_a_way_out():
    elev = embankment()
    elev[:, 30:32] = np.maximum(elev[:, 30:32], 100.4)  # a second, lower bank holds water against the first
    _, surface, flow = opened(elev, culvert(99.6, 99.5))
    assert flow.filled_elev_m[10, 19] == flow.filled_elev_m[10, 25] == np.float32(100.4)
    assert flow.link_cell.tolist() == surface.conduits.inlet.tolist()
    check_balance(flow)
    # And backward, where the head of the valley is the only way out.
    elev = np.ascontiguousarray(elev[:, ::-1])
    elev[:, 0] = 103
    elev[10, 0], elev[:, -1] = 100.4, 103
    _, surface, flow = opened(elev, culvert(99.4, 99.3, [(10, 18), (10, 26)]), criteria=EXACT)
    assert flow.link_cell.size == 1
    check_balance(flow)


def test_chained_and_several_pipes():
    """Three bowls in a row, each drained into the next by two pipes; the last over its rim."""
    elev = np.full((9, 31), 9.0)
    for number, left in enumerate((2, 12, 22)):
        elev[2:7, left : left + 7] = 5.0 - number
    elev[8, 25] = elev[7, 25] = 3.0
    pipes = [
        culvert(cells=[(3, 8), (3, 12)], name="a"),
        culvert(cells=[(5, 8), (5, 12)], name="b"),
        culvert(cells=[(4, 18), (4, 22)], name="c"),
        culvert(4.5, 3.5, [(5, 18), (5, 22)], name="d"),
    ]
    _, surface, flow = opened(elev, *pipes, criteria=EXACT)
    assert np.array_equal(flow.filled_elev_m, elev.astype(np.float32))
    assert surface.conduits.name == ("culvert a", "culvert b", "culvert c", "culvert d")
    at = {name: int(cell) for name, cell in zip("abcd", surface.conduits.inlet, strict=True)}
    # d lies half a metre too high for the bowl that c drains.
    assert flow.link_cell.tolist() == sorted([at["a"], at["b"], at["c"]])
    assert "no water enters culvert d" in texts(flow)
    for area in (flow.contributing_area_m2, dispersive_area_m2(flow)):
        through_first = area.ravel()[at["a"]] + area.ravel()[at["b"]]
        assert through_first >= 35 and area.ravel()[at["c"]] >= through_first + 35 - 1e-9
    check_balance(flow)


def test_pipes_from_one_inlet():
    elev = embankment()
    both = culvert(cells=[(10, 19), (10, 24)], name="a"), culvert(cells=[(10, 19), (10, 30)], name="b")
    _, surface, flow = opened(elev, *both, criteria=EXACT)
    assert flow.receiver[10 * COLS + 19] == 10 * COLS + 30
    assert "culvert a, culvert b begin in one cell: the one that comes out lowest" in texts(surface)
    check_balance(flow)


def test_ends_in_one_basin_cut_the_way_short():
    _, surface, flow = opened(valley(), culvert(cells=[(10, 10), (10, 30)]), criteria=EXACT)
    assert flow.receiver[10 * COLS + 10] == 10 * COLS + 30
    assert find_basins(surface, criteria=Criteria()).saddle_elev.size == opened_saddles(valley())
    check_balance(flow)
    # Both under one pond: nothing runs.
    _, _, flow = opened(embankment(), culvert(cells=[(10, 12), (10, 18)]), criteria=EXACT)
    assert flow.link_cell.size == 0
    check_balance(flow)


def opened_saddles(elev):
    return find_basins(build_surface(make_block(elev), criteria=EXACT), criteria=EXACT).saddle_elev.size


def test_a_culvert_under_a_house_is_said():
    house = ("H", "lot", "house", box(8, 20, 13, 23))
    _, surface, flow = opened(embankment(), culvert(), structures=[house])
    assert "culvert C passes under structure H" in texts(surface)
    assert held_m3(surface, flow) < 1e-6


def test_ends_on_a_structure_move_outside_or_are_refused():
    house = ("H", "lot", "house", box(8, 12, 13, 19))
    _, surface, _ = opened(embankment(), culvert(cells=[(10, 18), (10, 24)]), structures=[house])
    assert surface.conduits.inlet.tolist() == [10 * COLS + 19]
    _, surface, _ = opened(embankment(), culvert(cells=[(10, 14), (10, 24)]), structures=[house])
    assert surface.conduits.inlet.size == 0
    found = texts(surface, "missing")
    assert "culvert C is not opened: its upper end lies inside structure H, with no open ground within 2 m" in found


def test_ends_without_elevation_or_beyond_the_window_are_refused_and_leave_their_mark():
    elev = valley()
    elev[6:15, 4:9] = np.nan
    drains = [
        culvert(99.9, 99.0, [(10, 6), (10, 20)], name="gap"),
        culvert(99.0, 98.0, [(14, 35), (14, 60)], name="out"),
        culvert(99.9, 99.0, [(4, -30), (4, 24)], name="in"),
        culvert(98.5, 99.0, [(2, 30), (2, 60)], name="back"),
        culvert(99.0, 98.0, [(-9, 20), (-9, 60)], name="elsewhere"),
        culvert(cells=[(10, 30), (10, 30.3)], name="dot"),
    ]
    criteria = Criteria.of(void_fill_max_m2=0.0, drain_snap_m=1.0)
    _, surface, flow = opened(elev, *drains, criteria=criteria)
    assert surface.conduits.inlet.size == 0 and flow.link_cell.size == 0
    found = texts(surface, "missing")
    assert "gap is not opened: its upper end has no elevation within 1 m; move it" in found
    assert "out is not opened: its lower end lies beyond the window" in found
    assert "in is not opened: its upper end lies beyond the window" in found
    assert "dot is not opened: both ends fall into one cell" in found
    assert "elsewhere" not in found
    # Unseen water may come out of those whose inlet is not seen.
    marks = dict(zip(surface.conduits.fed_cell.tolist(), surface.conduits.fed_sides.tolist(), strict=True))
    assert sorted(marks.values()) == [EAST_SIDE, WEST_SIDE, GAP_SIDE]
    for cell, side in marks.items():
        assert flow.edge_sides.ravel()[cell] & side
    check_balance(flow)


def test_paths_and_catchments_go_through_a_culvert():
    below = ("below", box(5, 30, 16, 36))
    block, surface, flow = opened(embankment(), culvert(), lots=[below])
    catchment = trace_catchments(flow, block).iloc[0]
    assert catchment.geometry.contains(box(8, 5, 12, 15))
    assert catchment.geometry.area == pytest.approx(catchment.contributing_area_m2)
    assert catchment.contributing_area_m2 > 20 * 25
    assert catchment_of(flow, box(5, 30, 16, 36)).area_m2 == catchment.contributing_area_m2
    inlet, outlet = (shapely.Point(block.grid.x_of(col), block.grid.y_of(10)) for col in (19, 26))
    straight = shapely.LineString([inlet, outlet])
    assert flow_path_from(flow, box(10, 5, 11, 6))[0].line.covers(straight)
    storm = design_storm(block, surface, rain=RAIN, criteria=Criteria())
    paths = trace_flow_paths(flow, storm, block, criteria=Criteria.of(flow_path_min_area_m2=50.0))
    assert any(path.covers(straight) for path in paths.geometry)


def test_the_hierarchy_spills_at_the_crest_of_a_pipe_into_the_low_spot_of_its_outlet():
    elev = embankment()
    elev[:, 30:32] = np.maximum(elev[:, 30:32], 100.0)
    _, surface, flow = opened(elev, culvert(100.5, 99.5, [(10, 19), (10, 25)]), criteria=EXACT)
    basins = find_basins(surface, criteria=EXACT)
    tree = build_depression_hierarchy(surface, basins, criteria=EXACT)
    inlet, outlet = 10 * COLS + 19, 10 * COLS + 25
    nodes = tree.table.set_index("node")
    above, below = (int(tree.leaf.ravel()[cell]) for cell in (inlet, outlet))
    assert above != below and min(above, below) > 0
    assert nodes.spill_elev_m[above] == np.float32(100.5) and nodes.spill_cell[above] == inlet
    assert nodes.spills_to[above] == below and nodes.spill_elev_m[below] == np.float32(100.0)
    # It is the same graph as the fill's, given or found.
    raised = (flow.filled_elev_m.astype(float) - surface.routed_elev_m).sum()
    assert tree.table[tree.table.parent == 0].volume_m3.sum() == pytest.approx(raised, rel=1e-9)
    found = build_depression_hierarchy(surface, criteria=EXACT)
    assert found.table.equals(tree.table)
    assert np.array_equal(route_flow(surface, basins, criteria=EXACT).receiver, flow.receiver)


def test_a_pipe_below_water_joins_two_pools_in_the_hierarchy():
    elev = embankment()
    elev[:, 30:32] = np.maximum(elev[:, 30:32], 100.4)
    _, surface, _ = opened(elev, culvert(99.8, 99.5, [(10, 19), (10, 25)]), criteria=EXACT)
    tree = build_depression_hierarchy(surface, criteria=EXACT)
    nodes = tree.table.set_index("node")
    above, below = (int(tree.leaf[10, col]) for col in (19, 25))
    joined = int(nodes.parent[above])
    assert joined > 0 and joined == nodes.parent[below]
    assert nodes.spill_elev_m[above] == nodes.spill_elev_m[below] == np.float32(99.8)
    assert nodes.spill_elev_m[joined] == np.float32(100.4)


def test_water_balance_of_a_storm_through_a_culvert():
    result = screen_block(make_block(embankment(), drains=[culvert(99.9, 99.5)]), criteria=Criteria(), rain=RAIN)
    ponding = result.ponding
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
    assert ponding.ponded_m3 > 0


def test_a_swale_leads_to_a_culvert():
    swale = ("S", "road ditch", NO, NO, 0.4, line([(10, 4), (10, 19)]))
    _, surface, flow = opened(embankment(), culvert(cells=[(10, 19), (10, 43)]), swale, criteria=EXACT)
    # Without an invert the pipe begins on the bed of the ditch.
    assert surface.conduits.crest_m[0] == surface.routed_elev_m[10, 19] < 99.3
    assert surface.changes.kind.tolist() == ["road ditch"]
    assert held_m3(surface, flow) < 1e-6
    check_balance(flow)


def test_a_swale_is_cut_to_a_straight_grade_between_its_inverts():
    elev = np.full((3, 9), 101.0)
    elev[:, 4] += 5
    _, surface, _ = opened(elev, ("D", "swale", 100.2, 100.0, NO, line([(1, 2), (1, 6)])), criteria=EXACT)
    bed = [100.2, 100.15, 100.1, 100.05, 100.0]
    assert np.allclose(surface.routed_elev_m[1, 2:7], bed)
    assert np.array_equal(surface.elev_m, elev)  # the ground itself is kept
    change = surface.changes.iloc[0]
    assert (change.kind, change.source_id, change.area_m2) == ("swale", "D", 5)
    assert change.cut_max_m == pytest.approx(5.9, abs=1e-4) and change.raised_max_m == 0
    assert change.volume_m3 == pytest.approx((elev[1, 2:7] - bed).sum(), abs=1e-3)
    assert "swale D is cut open along its line, up to 5.90 m deep" in texts(surface, "assumed")
    rising = ("D", "swale", 100.0, 100.2, NO, line([(1, 2), (1, 6)]))
    _, surface, _ = opened(elev, rising, criteria=EXACT)
    assert np.allclose(surface.routed_elev_m[1, 2:7], bed[::-1]) and "other way round" in texts(surface)


def test_a_swale_without_levels_runs_between_the_lowest_ground_at_its_ends():
    elev = np.full((3, 9), 101.0)
    elev[1, 1], elev[1, 7] = 99.0, 98.0
    _, surface, _ = opened(elev, ("D", "ditch", NO, NO, NO, line([(1, 3), (1, 5)])))
    assert np.allclose(surface.routed_elev_m[1, 1:8], np.linspace(99.0, 98.0, 7), atol=1e-5)


def test_a_swale_is_cut_its_depth_below_the_ground_and_never_rises():
    elev = 100 + 0.5 * np.arange(9)[:, None] + np.zeros(12)
    elev[4] += 0.2
    _, surface, _ = opened(elev, ("S", "swale", NO, NO, 0.3, line([(8, 5), (1, 5)])), criteria=EXACT)
    bed = surface.routed_elev_m[1:9, 5][::-1]
    assert (np.diff(bed) <= 0).all()
    assert (elev[1:9, 5][::-1] - bed >= 0.3 - 1e-5).all()
    assert surface.changes.kind.tolist() == ["swale"]


def test_a_swale_keeps_its_grade_where_the_window_cuts_it():
    drain = ("D", "swale", 98.9, 98.0, NO, line([(10, 30), (10, 66)]))
    _, surface, _ = opened(valley(), drain, criteria=EXACT)
    assert np.allclose(surface.routed_elev_m[10, 30:44], 98.9 - 0.9 / 36 * np.arange(14), atol=1e-5)
    _, surface, _ = opened(valley(), ("D", "swale", 98.9, NO, NO, line([(10, 30), (10, 66)])), criteria=EXACT)
    assert surface.changes.empty
    assert "swale D runs out of the window without a depth or both inverts" in texts(surface, "missing")


def test_a_swale_stops_at_a_house_and_says_so():
    house = ("H", "lot", "house", box(8, 10, 13, 15))
    _, surface, flow = opened(
        valley(), ("S", "swale", NO, NO, 0.3, line([(10, 4), (10, 30)])), structures=[house], criteria=EXACT
    )
    assert "swale S is cut up to structure H and not under it" in texts(surface)
    assert (surface.routed_elev_m[surface.structure_index > 0] > 102).all()
    assert surface.changes.iloc[0].area_m2 == 27 - 5
    check_balance(flow)


def test_a_swale_with_an_end_without_elevation_is_not_cut_and_said():
    elev = valley()
    elev[10, 30:] = np.nan
    swale = ("S", "swale", NO, NO, 0.3, line([(10, 20), (10, 33)]))
    _, surface, _ = opened(elev, swale, criteria=Criteria.of(void_fill_max_m2=0.0, drain_snap_m=0.0))
    assert np.array_equal(surface.routed_elev_m, elev.astype(np.float32), equal_nan=True)
    assert "swale S has an end without elevation" in texts(surface, "missing")


@pytest.mark.parametrize("turn", [np.fliplr, np.flipud, lambda elev: np.rot90(elev), np.transpose])
def test_turned_ground_gives_the_same_pipes(turn):
    rng = np.random.default_rng(4)
    elev = embankment() + rng.uniform(0, 0.01, (ROWS, COLS))
    place = turn(np.arange(ROWS * COLS).reshape(ROWS, COLS))
    moved = {int(cell): divmod(at, place.shape[1]) for at, cell in enumerate(place.ravel().tolist())}
    cells = [(10, 18), (9, 25)]
    base = opened(elev, culvert(99.7, 99.3, cells))
    turned = opened(turn(elev), culvert(99.7, 99.3, [moved[row * COLS + col] for row, col in cells]))
    assert np.array_equal(turned[1].routed_elev_m, turn(base[1].routed_elev_m))
    assert np.array_equal(turned[2].filled_elev_m, turn(base[2].filled_elev_m))
    assert turned[1].conduits.crest_m.tolist() == base[1].conduits.crest_m.tolist()
    for end in ("inlet", "outlet"):
        (cell,), (cell_turned,) = (getattr(result[1].conduits, end).tolist() for result in (base, turned))
        assert divmod(cell_turned, place.shape[1]) == moved[cell]


def test_feet_and_metres_make_the_same_pipes():
    elev = embankment() - 95

    def surface(unit):
        drain = ("C", "culvert", 4.7 * unit, 4.4 * unit, NO, line([(10, 18), (10, 24)], cell_m=unit))
        criteria = Criteria.of(drain_snap_m=2 * unit)
        return opened(elev * unit, drain, cell_m=unit, criteria=criteria)[1:]

    (metres, flow), (feet, flow_ft) = surface(1.0), surface(M_PER_FT)
    assert feet.conduits.inlet.tolist() == metres.conduits.inlet.tolist()
    assert feet.conduits.crest_m == pytest.approx(metres.conduits.crest_m * M_PER_FT, rel=1e-5)
    assert np.array_equal(flow_ft.link_target, flow.link_target)


def test_a_storm_reaches_the_low_spot_that_a_pipe_leads_to():
    """An inlet on a slope takes the water of a gully past a ridge, into a bowl that little else drains to."""
    row, col = np.mgrid[:40, :50].astype(float)
    elev = 60 - 0.1 * row + 0.3 * np.abs(col - 12)
    elev[:, 25:] = 54 - 0.1 * row[:, 25:]
    elev[28:34, 36:42] -= 1.0
    block = make_block(elev, drains=[culvert(cells=[(20, 12), (30, 38)])])
    dry, piped = (screen_block(part, criteria=EXACT, rain=RAIN) for part in (make_block(elev), block))
    before, after = (result.depressions.table.nlargest(1, "volume_m3").iloc[0] for result in (dry, piped))
    assert piped.flow.link_cell.tolist() == [20 * 50 + 12]
    assert after.contributing_area_m2 > before.contributing_area_m2 + 20 * 20
    more_m2 = after.contributing_area_m2 - before.contributing_area_m2
    runoff_mm = float(piped.storm.runoff_mm.max())
    assert after.inflow_m3 - before.inflow_m3 == pytest.approx(more_m2 * runoff_mm / 1000, rel=1e-6)
    ponding = piped.ponding
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
