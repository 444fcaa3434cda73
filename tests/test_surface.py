import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from shapely import affinity

from screening.criteria import Criteria
from screening.kernels.accumulate import zone_upstream_total
from screening.models import Rain
from screening.pipeline import screen_block
from screening.surface import build_surface, fill_small_gaps, raise_walls
from tests.blocks import box, line, make_block

RAIN = Rain(100.0, "stated depth", "test")


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


CULVERT = ("C", "culvert", 100.2, 100.0, np.nan)
NO_INVERTS = ("C", "culvert", np.nan, np.nan, np.nan)
EXACT = Criteria(drain_snap_m=0.0)


def banked(n_rows=3, n_cols=9):
    """Ground rising to the south, with a bank across the middle column."""
    elev = plane(n_rows, n_cols)
    elev[:, 4] += 5
    return elev


def test_drain_is_cut_to_a_straight_grade_between_its_inverts():
    elev = banked()
    block = make_block(elev, drains=[(*CULVERT, line([(1, 2), (1, 6)]))])
    surface = build_surface(block, criteria=EXACT)
    assert np.allclose(surface.routed_elev_m[1, 2:7], [100.2, 100.15, 100.1, 100.05, 100.0])
    assert np.array_equal(surface.elev_m, elev)  # the ground itself is kept
    change = surface.changes.iloc[0]
    assert (change.kind, change.source_id) == ("culvert", "C")
    assert change.cut_max_m == pytest.approx(5.5 - 0.1, abs=1e-5) and change.raised_max_m == 0
    assert change.area_m2 == 5 and change.geometry.area == pytest.approx(5)
    assert change.volume_m3 == pytest.approx((elev[1, 2:7] - [100.2, 100.15, 100.1, 100.05, 100.0]).sum(), abs=1e-4)


def test_drain_without_inverts_runs_between_the_lowest_ground_at_its_ends():
    elev = banked()
    elev[1, 1], elev[1, 7] = 99.0, 98.0
    block = make_block(elev, drains=[(*NO_INVERTS, line([(1, 3), (1, 5)]))])
    surface = build_surface(block, criteria=Criteria(drain_snap_m=2.0))
    bed = surface.routed_elev_m[1, 1:8]
    assert np.allclose(bed, np.linspace(99.0, 98.0, 7), atol=1e-5)
    assert (np.diff(bed) < 0).all()


def test_drain_drawn_uphill_is_taken_the_other_way_and_said():
    rising = ("C", "culvert", 100.0, 100.2, np.nan)
    surface = build_surface(make_block(banked(), drains=[(*rising, line([(1, 2), (1, 6)]))]), criteria=EXACT)
    assert np.allclose(surface.routed_elev_m[1, 2:7], [100.0, 100.05, 100.1, 100.15, 100.2])
    assert any("other way round" in note.text for note in surface.notes)


def test_invert_above_the_ground_is_said():
    high = ("C", "culvert", 102.0, 100.0, np.nan)
    surface = build_surface(make_block(banked(), drains=[(*high, line([(1, 2), (1, 6)]))]), criteria=EXACT)
    assert any("upper invert lies 1.50 m above the ground" in note.text for note in surface.notes)


def test_swale_is_cut_its_depth_below_the_ground_and_never_rises():
    elev = plane(9, 12)
    elev[4] += 0.2
    swale = ("S", "swale", np.nan, np.nan, 0.3, line([(8, 5), (1, 5)]))
    surface = build_surface(make_block(elev, drains=[swale]), criteria=EXACT)
    bed = surface.routed_elev_m[1:9, 5][::-1]
    assert (np.diff(bed) <= 0).all()
    assert (elev[1:9, 5][::-1] - bed >= 0.3 - 1e-5).all()
    assert surface.changes.kind.tolist() == ["swale"]


def test_drain_with_an_end_outside_the_elevation_is_not_opened_and_said():
    elev = plane(3, 9)
    elev[1, 6:] = np.nan
    block = make_block(elev, drains=[(*CULVERT, line([(1, 2), (1, 6)]))])
    surface = build_surface(block, criteria=Criteria(void_fill_max_m2=0.0, drain_snap_m=0.0))
    assert np.array_equal(surface.routed_elev_m, elev, equal_nan=True)
    assert any(note.kind == "missing" and "C" in note.text for note in surface.notes)


def test_culvert_drains_the_pond_behind_a_bank():
    open_ground = screen_block(make_block(embankment()), criteria=Criteria(), rain=RAIN)
    assert open_ground.depressions.table.volume_m3.max() > 3
    piped = make_block(embankment(), drains=[(*NO_INVERTS, line([(10, 18), (10, 24)]))])
    result = screen_block(piped, criteria=Criteria(), rain=RAIN)
    assert result.depressions.table.empty
    assert result.ponding.ponded_m3 + result.ponding.left_window_m3 == pytest.approx(result.ponding.runoff_m3, rel=1e-9)


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


def test_barrier_without_a_height_is_not_raised_and_said():
    block = make_block(plane(9, 12), barriers=[("B", "wall", np.nan, line([(7, 1), (2, 9)]))])
    surface = build_surface(block, criteria=Criteria())
    assert np.array_equal(surface.routed_elev_m, block.elev_m) and surface.changes.empty
    assert any("barrier B is not raised: no height" in note.text for note in surface.notes)


@given(st.floats(0, 180), st.floats(0.05, 0.5))
@settings(max_examples=30, deadline=None)
def test_kerb_at_any_angle_holds_water_until_it_overtops(angle_deg, height_m):
    """A closed ring of kerb, turned by any angle, on ground that falls gently: all that falls inside stands until
    the lowest of the kerb is reached."""
    row, col = np.mgrid[:50, :60].astype(float)
    elev = 100 - 0.001 * row
    ring = affinity.rotate(shapely.Point(box(25, 30, 26, 31).centroid).buffer(12, quad_segs=1), angle_deg).exterior
    block = make_block(elev, barriers=[("K", "kerb", height_m, ring)])
    result = screen_block(block, criteria=Criteria(low_spot_min_depth_m=0.01), rain=RAIN)
    spot = result.depressions.table.iloc[0]
    kerb = result.surface.routed_elev_m > block.elev_m + height_m / 2
    # A cell at the very tip may lie outside of the last closed ring, one or two cells of fall lower.
    lowest = float(result.surface.routed_elev_m[kerb].min())
    assert lowest - 1e-4 <= spot.spill_elev_m <= lowest + 0.0021
    inside = shapely.contains_xy(shapely.Polygon(ring).buffer(-1.5), block.grid.x_of(0) + col, block.grid.y_of(0) - row)
    assert (result.depressions.label[inside] == 1).all()
    # Every drop that falls inside stays inside while there is room.
    leaves = result.flow.receiver[np.flatnonzero(inside.ravel())]
    assert (result.depressions.label.ravel()[leaves] == 1).all()


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
    assert led.flow.dispersive_area_m2.ravel()[outlets].sum() == pytest.approx(1200, rel=1e-9)
    assert led.flow.dispersive_area_m2.ravel()[at] >= 96 + 1


def test_catchments_take_in_roofs_that_are_led_to_them():
    spout = ("D", "", shapely.Point(box(11, 14, 12, 15).centroid))
    lots = [("west", box(0, 0, 30, 15)), ("east", box(0, 15, 30, 40))]
    led = roofs(downspouts=[spout], lots=lots)
    west = led.catchments.iloc[0]
    assert west.geometry.area == pytest.approx(west.contributing_area_m2)
    # Its own ground, the 96 m2 of roof, and the ground uphill of the house that goes round its west end.
    assert west.contributing_area_m2 == 30 * 15 + 96 + 12 * 6
    through = zone_upstream_total(
        led.flow.receiver, led.flow.contributing_area_m2.ravel(), np.array([0, 450]),
        np.flatnonzero((np.mgrid[:30, :40][1] < 15).ravel()),
    )  # fmt: skip
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
    assert surface.roof_cell.size == 0
    assert sum("left out: no structure" in note.text for note in surface.notes) == 2


def test_downspout_into_a_court_that_fills_to_its_eaves_does_not_turn_water_in_a_ring():
    walls = [("N", "lot", "house", box(10, 10, 12, 20)), ("S", "lot", "house", box(18, 10, 20, 20)),
             ("W", "lot", "house", box(12, 10, 18, 12)), ("E", "lot", "house", box(12, 18, 18, 20))]  # fmt: skip
    spouts = [(f"D{n}", row[0], shapely.Point(box(14, 14, 15, 15).centroid)) for n, row in enumerate(walls)]
    block = make_block(50 - 0.02 * np.mgrid[:30, :34][0], structures=walls, downspouts=spouts)
    result = screen_block(block, criteria=Criteria(downspout_reach_m=5.0), rain=RAIN)
    assert result.flow.order.size == 30 * 34
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
    cut = build_surface(block, criteria=Criteria(breach_length_max_m=30.0))
    lowered = cut.routed_elev_m < block.elev_m
    assert lowered[:, 20:23].any(axis=0).all()
    assert cut.routed_elev_m[:, 20:23].min() < 100
    assert np.array_equal(cut.elev_m, block.elev_m)
    assert any(note.subject == "breaching" for note in cut.notes)
    channel = cut.changes[cut.changes.kind == "breach"].nlargest(1, "cut_max_m").iloc[0]
    assert channel.cut_max_m == pytest.approx(float((block.elev_m - cut.routed_elev_m).max()))
    assert channel.geometry.intersects(box(0, 20, 21, 23))


def test_breaching_leaves_what_costs_too_much():
    cut = build_surface(make_block(embankment()), criteria=Criteria(breach_length_max_m=30.0, breach_cost_max_m=1.0))
    assert cut.routed_elev_m[:, 20:23].min() > 101.5
