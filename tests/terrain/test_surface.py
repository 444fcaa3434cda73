import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import ndimage
from shapely import affinity

from screening.flow.dispersive import dispersive_area_m2
from screening.kernels.accumulate import zone_upstream_total
from screening.models import EAST_SIDE, SOUTH_SIDE, WEST_SIDE, Rain
from screening.pipeline import screen_block
from screening.schema.criteria import DISPERSIVE_METHODS, Criteria
from screening.terrain.surface import build_surface, fill_small_gaps, find_cut_gaps, raise_walls
from tests.blocks import box, line, make_block

RAIN = Rain(depth_mm=100.0, label="stated depth", source="test")


def plane(n_rows, n_cols):
    return (100 + 0.5 * np.arange(n_rows)[:, None] + np.zeros(n_cols)).astype(np.float32)


def test_small_inner_gap_is_interpolated_and_flagged():
    elev = plane(9, 12)
    elev[4, 5] = np.nan
    filled, changed = fill_small_gaps(elev, max_cells=4)
    assert changed.sum() == 1 and changed[4, 5]
    # Between the rows above (101.5) and below (102.5).
    assert 101.5 < filled[4, 5] < 102.5
    assert np.array_equal(filled[~changed], elev[~changed])


def test_gaps_too_large_or_cut_by_the_edge_stay_unknown():
    elev = plane(9, 12)
    elev[2:6, 2:6] = np.nan
    elev[8, 11] = np.nan
    filled, changed = fill_small_gaps(elev, max_cells=15)
    assert not changed.any()
    assert np.array_equal(np.isnan(filled), np.isnan(elev))
    assert fill_small_gaps(elev, max_cells=16)[1].sum() == 16


def test_a_small_gap_cut_by_the_edge_marks_what_lies_beside_it():
    elev = plane(9, 12)
    elev[8, 11] = np.nan
    elev[3:6, 0] = np.nan
    elev[4, 6] = np.nan
    cell, sides = find_cut_gaps(elev, max_cells=2)
    corner = {7 * 12 + 10, 7 * 12 + 11, 8 * 12 + 10}
    assert set(cell.tolist()) == corner
    assert set(sides.tolist()) == {SOUTH_SIDE | EAST_SIDE}
    cell, sides = find_cut_gaps(elev, max_cells=3)
    assert set(cell[sides == WEST_SIDE].tolist()) == {24, 25, 37, 49, 61, 72, 73}
    assert set(cell.tolist()) - corner == {24, 25, 37, 49, 61, 72, 73}


def test_walls_stand_flat_above_the_highest_ground_they_touch():
    elev = plane(9, 12)
    index = np.zeros(elev.shape, np.int32)
    index[3:5, 4:7] = 1
    routed = raise_walls(elev, index, wall_height_m=3.0)
    # Highest ground beside it is row 5: 102.5 m.
    assert np.array_equal(np.unique(routed[index > 0]), [np.float32(105.5)])
    assert np.array_equal(routed[index == 0], elev[index == 0])


def test_touching_structures_share_one_level_and_others_do_not():
    elev = plane(12, 9)
    index = np.zeros(elev.shape, np.int32)
    index[2:4, 2:4], index[4:6, 2:4], index[9:11, 6:8] = 1, 2, 3
    routed = raise_walls(elev, index, wall_height_m=3.0)
    assert len(np.unique(routed[(index == 1) | (index == 2)])) == 1
    assert routed[9, 6] > routed[2, 2]


def test_structure_over_missing_ground_takes_the_ground_beside_it():
    elev = plane(9, 12)
    elev[3:5, 4:7] = np.nan
    index = np.zeros(elev.shape, np.int32)
    index[3:5, 4:7] = 1
    assert np.array_equal(np.unique(raise_walls(elev, index, wall_height_m=3.0)[index > 0]), [np.float32(105.5)])


def test_footprint_without_a_cell_centre_still_stands():
    block = make_block(plane(6, 8), structures=[("S", "lot", "shed", box(2.6, 3.6, 2.9, 3.9))])
    surface = build_surface(block, criteria=Criteria())
    assert (surface.structure_index == 1).sum() == 1


def test_barrier_is_raised_above_the_ground_without_a_gap_at_corners():
    elev = plane(9, 12)
    block = make_block(elev, barriers=[("B", "wall", 0.6, line([(7, 1), (2, 9)]))])
    surface = build_surface(block, criteria=Criteria())
    raised = surface.routed_elev_m - elev
    assert np.allclose(raised[raised > 0], 0.6, atol=1e-4) and raised.min() == 0
    # No diagonal step from one side to the other: the raised cells hang together by their sides.
    assert ndimage.label(raised > 0)[1] == 1
    change = surface.changes.iloc[0]
    assert change.raised_max_m == pytest.approx(0.6, abs=1e-4) and change.cut_max_m == 0 and change.kind == "wall"


def test_a_kerb_is_dropped_where_a_driveway_reaches_it():
    elev = plane(9, 14)
    curb = ("K", "curb", 0.15, line([(6, 1), (6, 12)]))
    wall = ("W", "wall", 0.15, line([(6, 1), (6, 12)]))
    # One driveway crosses the line, one ends a quarter of a metre into its cells.
    driveways = [("D1", "lot", "driveway", box(3, 2, 8, 4)), ("D2", "lot", "driveway", box(3, 8, 6.25, 10))]
    surface = build_surface(make_block(elev, barriers=[curb], driveways=driveways), criteria=Criteria())
    raised = surface.routed_elev_m - elev
    # The cells that a driveway touches, with those beside it that share its edge.
    assert (raised[6, [2, 3, 8, 9]] == 0).all()
    assert np.allclose(raised[6, [5, 6, 11, 12]], 0.15, atol=1e-4)
    assert any("curb K is taken as dropped at driveways" in note.text for note in surface.notes)
    stands = build_surface(make_block(elev, barriers=[wall], driveways=driveways), criteria=Criteria())
    assert (stands.routed_elev_m[6, 1:13] > elev[6, 1:13]).all()


def test_a_kerb_without_a_height_has_that_of_the_criteria():
    block = make_block(plane(9, 12), barriers=[("K", "curb", np.nan, line([(7, 1), (2, 9)]))])
    surface = build_surface(block, criteria=Criteria.of(curb_height_m=0.2))
    assert float((surface.routed_elev_m - block.elev_m).max()) == pytest.approx(0.2, abs=1e-4)
    assert any("1 curbs without a height taken as 0.2 m" in note.text for note in surface.notes)


def test_barrier_without_a_height_is_not_raised_and_said():
    block = make_block(plane(9, 12), barriers=[("B", "wall", np.nan, line([(7, 1), (2, 9)]))])
    surface = build_surface(block, criteria=Criteria())
    assert np.array_equal(surface.routed_elev_m, block.elev_m) and surface.changes.empty
    assert any("barrier B is not raised: no height" in note.text for note in surface.notes)


@given(st.floats(0, 180), st.floats(0.05, 0.5))
@example(24.0, 0.5)
@settings(max_examples=30, deadline=None)
def test_kerb_at_any_angle_holds_water_until_it_overtops(angle_deg, height_m):
    """A closed ring of curb, turned by any angle, on ground that falls gently: all that falls inside stands until
    the lowest of the curb is reached."""
    row, col = np.mgrid[:50, :60].astype(float)
    elev = 100 - 0.001 * row
    ring = affinity.rotate(shapely.Point(box(25, 30, 26, 31).centroid).buffer(12, quad_segs=1), angle_deg).exterior
    block = make_block(elev, barriers=[("K", "curb", height_m, ring)])
    result = screen_block(block, criteria=Criteria.of(low_spot_min_depth_m=0.01), rain=RAIN)
    spot = result.depressions.table.iloc[0]
    curb = result.surface.routed_elev_m > block.elev_m + height_m / 2
    # A cell at the very tip may lie outside of the last closed ring, one or two cells of fall lower.
    lowest = float(result.surface.routed_elev_m[curb].min())
    assert lowest - 1e-4 <= spot.spill_elev_m <= lowest + 0.0021
    inside = shapely.contains_xy(shapely.Polygon(ring).buffer(-1.5), block.grid.x_of(0) + col, block.grid.y_of(0) - row)
    assert (result.depressions.label[inside] == 1).all()
    # Every drop that falls inside stays inside while there is room: it leaves by the cell alone that it overflows.
    leaves = result.flow.receiver[np.flatnonzero(inside.ravel())]
    leaves = leaves[result.depressions.label.ravel()[leaves] != 1]
    assert leaves.size <= 1
    assert result.surface.routed_elev_m.ravel()[leaves] == pytest.approx(spot.spill_elev_m, abs=1e-4)


def gabled():
    """Ground falling to the south, a house on it, and a downspout at its uphill corner."""
    elev = 100 - 0.05 * np.mgrid[:30, :40][0]
    house = ("H", "lot", "house", box(12, 15, 20, 27))
    return elev, house


def roofs(**layers):
    elev, house = gabled()
    return screen_block(make_block(elev, structures=[house], **layers), criteria=Criteria(), rain=RAIN)


def test_roof_drains_to_its_downspouts():
    spout = ("D", "H", shapely.Point(box(11, 14, 12, 15).centroid))
    plain, led = roofs(), roofs(downspouts=[spout])
    at = 11 * 40 + 14
    roof = np.flatnonzero(led.surface.structure_index.ravel() == 1)
    assert (led.flow.receiver[roof] == at).all()
    assert not (plain.flow.receiver[roof] == at).any()
    # All 96 m2 of roof arrive there and nowhere else; nothing is lost, however water spreads.
    assert led.flow.contributing_area_m2.ravel()[at] >= 96 + 12
    outlets = led.flow.receiver == np.arange(led.flow.receiver.size)
    assert led.flow.contributing_area_m2.ravel()[outlets].sum() == pytest.approx(1200)
    assert dispersive_area_m2(led.flow).ravel()[outlets].sum() == pytest.approx(1200, rel=1e-9)
    assert dispersive_area_m2(led.flow).ravel()[at] >= 96 + 1


def test_catchments_take_in_roofs_that_are_led_to_them():
    spout = ("D", "", shapely.Point(box(11, 14, 12, 15).centroid))
    lots = [("west", box(0, 0, 30, 15)), ("east", box(0, 15, 30, 40))]
    led = roofs(downspouts=[spout], lots=lots)
    west = led.catchments.iloc[0]
    assert west.geometry.area == pytest.approx(west.contributing_area_m2)
    # Its own ground, the 96 m2 of roof, and the ground uphill of the house that goes round its west end.
    assert west.contributing_area_m2 == 30 * 15 + 96 + 12 * 6
    through = zone_upstream_total(
        led.flow.receiver,
        led.flow.contributing_area_m2.ravel(),
        np.array([0, 450]),
        np.flatnonzero((np.mgrid[:30, :40][1] < 15).ravel()),
    )
    assert through.tolist() == [west.contributing_area_m2]


def test_two_downspouts_share_a_roof_by_nearness():
    spouts = [
        ("L", "H", shapely.Point(box(15, 14, 16, 15).centroid)),
        ("R", "H", shapely.Point(box(15, 27, 16, 28).centroid)),
    ]
    led = roofs(downspouts=spouts)
    left, right = 15 * 40 + 14, 15 * 40 + 27
    roof = led.flow.receiver[led.surface.structure_index.ravel() == 1]
    assert sorted({left, right}) == np.unique(roof).tolist()
    assert (roof == left).sum() == (roof == right).sum() == 48


def test_downspouts_that_lead_nowhere_are_left_out_and_said():
    far = ("D", "", shapely.Point(box(1, 1, 2, 2).centroid))
    unknown = ("E", "garage", shapely.Point(box(11, 14, 12, 15).centroid))
    surface = build_surface(
        make_block(gabled()[0], structures=[gabled()[1]], downspouts=[far, unknown]), criteria=Criteria()
    )
    assert surface.conduits.roof_cell.size == 0
    assert sum("left out: no structure" in note.text for note in surface.notes) == 2


def test_a_culvert_out_of_a_court_drains_it_and_the_downspouts_in_it():
    walls = [
        ("N", "lot", "house", box(10, 10, 12, 20)),
        ("S", "lot", "house", box(18, 10, 20, 20)),
        ("W", "lot", "house", box(12, 10, 18, 12)),
        ("E", "lot", "house", box(12, 18, 18, 20)),
    ]
    elev = 50 - 0.02 * np.mgrid[:30, :34][0]
    spout = ("D", "N", shapely.Point(box(14, 14, 15, 15).centroid))
    drain = ("C", "culvert", np.nan, np.nan, np.nan, line([(17, 15), (24, 15)]))
    layers = {"structures": walls, "downspouts": [spout]}
    criteria = Criteria.of(downspout_reach_m=5.0)
    closed = screen_block(make_block(elev, **layers), criteria=criteria, rain=RAIN)
    opened = screen_block(make_block(elev, **layers, drains=[drain]), criteria=criteria, rain=RAIN)
    assert closed.depressions.table.is_enclosed.tolist() == [True] and opened.depressions.table.empty
    roof = np.flatnonzero(opened.surface.structure_index.ravel() == 1)
    assert (opened.flow.receiver[roof] == 14 * 34 + 14).all()
    (outlet,) = opened.surface.conduits.outlet
    # The courtyard, 6 x 6 m, and that roof, 20 m2.
    assert opened.flow.contributing_area_m2.ravel()[outlet] >= 36 + 20


def test_water_of_an_adjoining_roof_that_comes_onto_a_led_roof_goes_down_with_it():
    """Two roofs of one level, the east one led: no way of spreading takes water out of it but its downspout."""
    elev, _ = gabled()
    houses = [("W", "lot", "house", box(12, 15, 20, 21)), ("E", "lot", "house", box(12, 21, 20, 27))]
    spout = ("D", "E", shapely.Point(box(11, 27, 12, 28).centroid))
    for method in DISPERSIVE_METHODS:
        block = make_block(elev, structures=houses, downspouts=[spout])
        result = screen_block(block, criteria=Criteria.of(dispersive_method=method), rain=RAIN)
        flow, east = result.flow, result.surface.structure_index == 2
        target = 11 * 40 + 27
        assert (flow.receiver[np.flatnonzero(east.ravel())] == target).all()
        assert dispersive_area_m2(flow).ravel()[target] >= dispersive_area_m2(flow)[east].sum() >= 48
        outlets = flow.receiver == np.arange(flow.receiver.size)
        assert dispersive_area_m2(flow).ravel()[outlets].sum() == pytest.approx(1200, rel=1e-9)


def test_a_roof_of_many_cells_may_have_one_downspout():
    """More cells than a byte counts lead to one."""
    elev = 100 - 0.05 * np.mgrid[:40, :50][0]
    block = make_block(
        elev,
        structures=[("H", "lot", "house", box(8, 10, 30, 34))],
        downspouts=[("D", "H", shapely.Point(box(7, 9, 8, 10).centroid))],
    )
    flow = screen_block(block, criteria=Criteria(), rain=RAIN).flow
    assert np.array_equal(np.sort(flow.order), np.arange(40 * 50))
    rank = np.empty(flow.order.size, int)
    rank[flow.order] = np.arange(flow.order.size)
    goes_on = flow.receiver != np.arange(flow.receiver.size)
    assert (rank[goes_on] < rank[flow.receiver[goes_on]]).all()
    assert flow.contributing_area_m2[7, 9] >= 22 * 24


def test_downspout_into_a_court_that_fills_to_its_eaves_does_not_turn_water_in_a_ring():
    walls = [
        ("N", "lot", "house", box(10, 10, 12, 20)),
        ("S", "lot", "house", box(18, 10, 20, 20)),
        ("W", "lot", "house", box(12, 10, 18, 12)),
        ("E", "lot", "house", box(12, 18, 18, 20)),
    ]
    spouts = [(f"D{n}", row[0], shapely.Point(box(14, 14, 15, 15).centroid)) for n, row in enumerate(walls)]
    block = make_block(50 - 0.02 * np.mgrid[:30, :34][0], structures=walls, downspouts=spouts)
    result = screen_block(block, criteria=Criteria.of(downspout_reach_m=5.0), rain=RAIN)
    assert result.flow.order.size == 30 * 34
    assert result.flow.link_cell.size == 0
    assert any("as in an enclosed courtyard" in note.text for note in result.notes)
    outlets = result.flow.receiver == np.arange(result.flow.receiver.size)
    assert result.flow.contributing_area_m2.ravel()[outlets].sum() == 30 * 34


def embankment():
    """A valley falling to the east at 2 %, dammed by a bank 2 m high and 3 m wide."""
    row, col = np.mgrid[:21, :40].astype(float)
    elev = 100 - 0.02 * col + 0.2 * np.abs(row - 10)
    elev[:, 20:23] = np.maximum(elev[:, 20:23], 101.6)
    return elev


def test_breaching_cuts_a_bank_only_where_asked_and_says_where():
    block = make_block(embankment())
    kept = build_surface(block, criteria=Criteria())
    assert np.array_equal(kept.routed_elev_m, block.elev_m)
    cut = build_surface(block, criteria=Criteria.of(breach_length_max_m=30.0))
    lowered = cut.routed_elev_m < block.elev_m
    assert lowered[:, 20:23].any(axis=0).all()
    assert cut.routed_elev_m[:, 20:23].min() < 100
    assert np.array_equal(cut.elev_m, block.elev_m)
    assert any(note.subject == "breaching" for note in cut.notes)
    channel = cut.changes[cut.changes.kind == "breach"].nlargest(1, "cut_max_m").iloc[0]
    assert channel.cut_max_m == pytest.approx(float((block.elev_m - cut.routed_elev_m).max()))
    assert channel.geometry.intersects(box(0, 20, 21, 23))


def test_breaching_cuts_no_bank_that_a_culvert_opens():
    culvert = ("C", "culvert", np.nan, np.nan, np.nan, line([(10, 18), (10, 25)]))
    block = make_block(embankment(), drains=[culvert])
    opened = build_surface(block, criteria=Criteria.of(breach_length_max_m=30.0))
    assert opened.routed_elev_m[:, 20:23].min() > 101.5 and not (opened.changes.kind == "breach").any()


def test_breaching_leaves_what_costs_too_much():
    cut = build_surface(make_block(embankment()), criteria=Criteria.of(breach_length_max_m=30.0, breach_cost_max_m=1.0))
    assert cut.routed_elev_m[:, 20:23].min() > 101.5


def test_a_downspout_without_a_structure_or_without_ground_beside_it_is_left_out():
    elev, house = gabled()
    criteria = Criteria()
    alone = build_surface(
        make_block(elev, downspouts=[("D", "", shapely.Point(box(1, 1, 2, 2).centroid))]), criteria=criteria
    )
    beyond = build_surface(
        make_block(elev, structures=[house], downspouts=[("D", "H", shapely.Point(box(-60, 1, -59, 2).centroid))]),
        criteria=criteria,
    )
    inside = build_surface(
        make_block(
            elev,
            structures=[("H", "lot", "house", box(2, 2, 28, 38))],
            downspouts=[("D", "H", shapely.Point(box(15, 20, 16, 21).centroid))],
        ),
        criteria=criteria,
    )
    for surface in (alone, beyond, inside):
        assert surface.conduits.roof_cell.size == 0
        assert any("left out" in note.text for note in surface.notes)
