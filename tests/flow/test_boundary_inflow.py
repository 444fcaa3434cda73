"""Water from beyond the window: exact bookkeeping by hand, then areas against those of one large fine window."""

import dataclasses

import numpy as np
import pytest

from screening.flow.boundary_crossings import close_edge, find_crossings
from screening.flow.boundary_inflow import find_inflow
from screening.flow.catchments import measure_catchments
from screening.flow.dispersive import dispersive_area_m2
from screening.flow.paths import runoff_through
from screening.flow.queries import catchment_of, contributing_area_of
from screening.flow.routing import RETURN_SIDE, add_inflow, route_flow
from screening.grid import Grid
from screening.models import ContextElevation, Rain
from screening.pipeline import screen_block
from screening.report.words import verdicts as verdict_words
from screening.report.words.notes import note_words
from screening.schema.codes.notes import NoteCode
from screening.schema.codes.verdicts import VerdictReason
from screening.schema.criteria import Criteria
from screening.terrain.surface import build_surface
from tests.blocks import CRS, NORTH, WEST, box, make_block
from tests.made_ground import suburb

CRITERIA = Criteria.of(n_realisations=0)
RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")


def coarse(elev_m, *, cell_m, row_m=0.0, col_m=0.0):
    """Coarser ground whose corner lies `row_m` south and `col_m` east of the block's (negative: beyond it)."""
    elev = np.ascontiguousarray(elev_m, np.float32)
    return ContextElevation(
        Grid(
            crs=CRS,
            west_m=WEST + col_m,
            north_m=NORTH - row_m,
            cell_m=cell_m,
            n_rows=elev.shape[0],
            n_cols=elev.shape[1],
        ),
        elev,
        "wide.tif",
    )


def routed(block, criteria=CRITERIA, rain=None):
    surface = build_surface(block, criteria=criteria)
    crossings = find_crossings(block, surface, criteria=criteria)
    surface = close_edge(block, surface, crossings, criteria=criteria)
    local = route_flow(surface, criteria=criteria)
    inflow = find_inflow(block, surface, local, crossings, criteria=criteria, rain=rain)
    return add_inflow(local, inflow, surface, criteria=criteria)


def southward(n_rows, n_cols, step=1.0):
    """Ground that falls due south."""
    return 100.0 - step * np.mgrid[:n_rows, :n_cols][0]


def averaged(elev, size):
    """Mean of each square of cells: the same ground with coarser cells."""
    n_rows, n_cols = elev.shape[0] // size, elev.shape[1] // size
    return elev[: n_rows * size, : n_cols * size].reshape(n_rows, size, n_cols, size).mean(axis=(1, 3))


def with_context(block, context):
    return dataclasses.replace(block, context_elevation=context)


def test_a_plane_sends_in_the_strip_above_the_window():
    # 12 x 14 coarse cells of 5 m; the window of 20 m x 15 m lies 4 rows and 5 columns in.
    block = with_context(make_block(southward(20, 15)), coarse(southward(12, 14), cell_m=5, row_m=-20, col_m=-25))
    flow = routed(block)
    assert flow.inflow.area_m2.sum() == 3 * 4 * 25  # 3 columns of 4 cells
    row, col = np.divmod(flow.inflow.cell, 15)
    # In reach of two coarse cells, at the top or at the side where it has come down along the edge.
    assert ((row == 0) | (col == 0) | (col == 14)).all() and (row <= 10).all() and flow.inflow.cell.size <= 3
    assert flow.context_area_m2[-1].sum() == 300
    assert flow.contributing_area_m2[-1].sum() == 20 * 15 + 300
    assert dispersive_area_m2(flow)[-1].sum() == pytest.approx(20 * 15 + 300, rel=1e-12)
    assert flow.inflow.returned_m2.sum() == 0
    # Above the coarse ground there may be more: what comes in was cut, and nothing else of the edge is unseen.
    assert flow.inflow.is_cut.all()
    assert flow.edge_sides.ravel()[flow.inflow.cell].all() and not flow.edge_sides[0].any()
    # From a ridge in its second row on, all of it is known.
    ridge = southward(12, 14)
    ridge[0] = ridge[1] - 0.5
    flow = routed(with_context(make_block(southward(20, 15)), coarse(ridge, cell_m=5, row_m=-20, col_m=-25)))
    assert flow.inflow.area_m2.sum() == 3 * 3 * 25 and not flow.edge_sides.any()


def test_cells_that_straddle_count_by_their_part_outside():
    # The window of 20 m x 20 m begins 22 m in, so that 3/5 of a cell lies within on two sides and 2/5 on the others.
    block = with_context(make_block(southward(20, 20)), coarse(southward(12, 14), cell_m=5, row_m=-22, col_m=-22))
    inflow = routed(block).inflow
    above = 4 * 4 * 25  # columns 4 to 7, rows 0 to 3
    corner, top, left = 25 - 9, 3 * (25 - 15), 2 * (25 - 15)  # parts outside of cells that drain on within
    assert inflow.area_m2.sum() == pytest.approx(above + corner + top + left, rel=1e-9)
    # 440 m2 lie above the window: the grid can tell it to half a coarse cell on each side.
    assert abs(inflow.area_m2.sum() - 440) < 2 * 2.5 * 22


def down(ground):
    """Steepest neighbour of each cell by plain loops; the cell itself where none is lower."""
    n_rows, n_cols = ground.shape
    to = np.arange(ground.size).reshape(ground.shape)
    for row, col in np.ndindex(ground.shape):
        best = 0.0
        for near_row in range(max(row - 1, 0), min(row + 2, n_rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, n_cols)):
                away = np.hypot(near_row - row, near_col - col)
                if away and (ground[row, col] - ground[near_row, near_col]) / away > best:
                    best = (ground[row, col] - ground[near_row, near_col]) / away
                    to[row, col] = near_row * n_cols + near_col
    return to.ravel()


@pytest.mark.parametrize("seed", range(6))
def test_each_coarse_cell_outside_counts_once_where_it_first_comes_in(seed):
    rng = np.random.default_rng(seed)
    ground = southward(18, 15, 0.8) + rng.uniform(-0.39, 0.39, (18, 15)) - 0.3 * np.mgrid[:18, :15][1]
    ground = ground.astype(np.float32)
    to = down(ground)
    inside = np.zeros(ground.shape, bool)
    inside[6:12, 5:10] = True
    inside = inside.ravel()
    expected = {}
    for start in np.flatnonzero(~inside):
        cell = start
        while not inside[to[cell]] and to[cell] != cell:
            cell = to[cell]
        if inside[to[cell]]:
            expected[cell] = expected.get(cell, 0) + 16.0
    fine = southward(24, 20, 0.1)
    flow = routed(with_context(make_block(fine), coarse(ground, cell_m=4, row_m=-24, col_m=-20)))
    assert sum(expected.values()) > 500
    assert flow.inflow.area_m2.sum() == pytest.approx(sum(expected.values()))
    outlets = flow.receiver == np.arange(flow.receiver.size)
    assert flow.context_area_m2.ravel()[outlets].sum() == pytest.approx(sum(expected.values()))


def hooked():
    """Coarse channel that comes in from the north, leaves to the east, and comes back in below; 7 x 7 cells."""
    ground = np.full((7, 7), 90.0) + np.arange(49).reshape(7, 7) * 1e-3
    way = [(0, 2), (1, 2), (2, 3), (2, 4), (2, 5), (3, 6), (4, 5), (4, 4), (4, 3), (5, 3), (6, 3)]
    for step, (row, col) in enumerate(way):
        ground[row, col] = 50.0 - step
    return ground


def test_water_that_comes_back_is_told_and_not_given_twice():
    # The window is rows 2 to 4 and columns 2 to 4.
    block = with_context(make_block(southward(30, 30, 0.1)), coarse(hooked(), cell_m=10, row_m=-20, col_m=-20))
    flow = routed(block)
    assert flow.inflow.area_m2.sum() <= (49 - 9) * 100
    returned = flow.inflow.returned_m2
    assert np.count_nonzero(returned) == 1
    # What comes back has passed cells (2, 3) and (2, 4): these two at least, and all that came in there.
    first = flow.inflow.area_m2[returned == 0].max()
    assert returned.max() >= 2 * 100 + first - 1e-6
    below = flow.inflow.cell[returned > 0][0]
    assert flow.edge_sides.ravel()[below] & RETURN_SIDE
    assert not flow.edge_sides.ravel()[flow.inflow.cell[returned == 0]].max() & RETURN_SIDE


def test_no_context_changes_nothing():
    block = make_block(southward(20, 15))
    flow = routed(block)
    assert flow.context_area_m2 is None and flow.inflow.cell.size == 0 and flow.inflow.notes == ()
    assert flow.edge_sides[0].all()


def test_a_context_no_larger_than_the_window_supplies_nothing():
    block = with_context(make_block(southward(20, 15)), coarse(southward(4, 3, 5.0) - 2, cell_m=5))
    flow = routed(block)
    assert [note.kind for note in flow.inflow.notes] == ["caution"]
    assert [note.code for note in flow.inflow.notes] == [NoteCode.CONTEXT_SUPPLIES_NOTHING]
    assert np.array_equal(flow.contributing_area_m2, routed(make_block(southward(20, 15))).contributing_area_m2)
    assert flow.edge_sides[0].all()


def test_a_gap_beside_the_window_leaves_its_edge_a_lower_bound():
    ground = southward(12, 14)
    ground[3, 6] = np.nan  # above the middle column of coarse cells in the window
    flow = routed(with_context(make_block(southward(20, 15)), coarse(ground, cell_m=5, row_m=-20, col_m=-25)))
    assert flow.edge_sides[0].all()  # the gap touches each of the three coarse cells at the window's edge
    assert NoteCode.CONTEXT_EDGE_OPEN in [note.code for note in flow.inflow.notes]
    # A gap farther up: what is below it is cut, and only that.
    ground = southward(12, 14)
    ground[1, 6] = np.nan
    flow = routed(with_context(make_block(southward(20, 15)), coarse(ground, cell_m=5, row_m=-20, col_m=-25)))
    assert flow.inflow.is_cut.any()
    assert NoteCode.CONTEXT_CUT in [note.code for note in flow.inflow.notes]
    assert flow.edge_sides[-1].any() and not flow.edge_sides.all()


def test_gaps_inside_the_window_stay_unseen():
    elev = southward(20, 15)
    elev[5:16, 4:12] = np.nan
    criteria = CRITERIA.replaced(void_fill_max_m2=10.0)
    context = coarse(southward(30, 14), cell_m=5, row_m=-100, col_m=-25)
    flow = routed(with_context(make_block(elev), context), criteria)
    assert (flow.edge_sides[16, 4:12] != 0).all()


def test_an_offset_is_said_and_moves_nothing():
    context = coarse(southward(12, 14), cell_m=5, row_m=-20, col_m=-25)
    lifted = dataclasses.replace(context, elev_m=context.elev_m + np.float32(40))
    same, higher = (routed(with_context(make_block(southward(20, 15)), each)) for each in (context, lifted))
    assert np.array_equal(same.contributing_area_m2, higher.contributing_area_m2)
    assert NoteCode.CONTEXT_ABOVE in [note.code for note in higher.inflow.notes]
    assert not {NoteCode.CONTEXT_ABOVE, NoteCode.CONTEXT_BELOW} & {note.code for note in same.inflow.notes}


def valley():
    """A valley 600 m long that bends, with side valleys every 80 m, between ridges; 1 m cells."""
    row, col = np.mgrid[:600, :400].astype(float)
    middle = 200 + 40 * np.sin(row / 90)
    away = np.abs(col - middle)
    side = np.abs(((row + 0.35 * away) % 80) - 40)
    return 120 - 0.03 * np.abs(row - 40) + 0.04 * np.minimum(away, 280 - away) + 0.02 * side


LOT = (500, 500 + 30)


def lot_area(block, criteria=CRITERIA):
    flow = routed(block, criteria)
    return measure_catchments(flow, block).iloc[0], flow


def lot_box(top, left):
    centre = round(200 + 40 * np.sin(515 / 90))
    return [("lot", box(LOT[0] - top, centre - 20 - left, LOT[1] - top, centre + 20 - left))]


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("shift_m", [0, 4])
def test_the_area_at_a_lot_is_that_of_the_whole_ground(turns, shift_m):
    """The window is 180 m deep and 260 m wide; all the rest of the valley comes from cells of 10 m."""
    ground, top, left = valley(), 390 + shift_m, 60 + shift_m
    whole, _ = lot_area(make_block(ground, lots=lot_box(0, 0)))
    part = ground[top:570, left:320]
    turned, wide = np.rot90(part, turns), np.rot90(averaged(ground, 10), turns)
    lots = lot_box(top, left)
    # Corners of the coarse ground and of the lot, turned about the window as the arrays are.
    south, east = 600 - top - part.shape[0], 400 - left - part.shape[1]
    row_m, col_m = [(top, left), (east, top), (south, east), (left, south)][turns]
    found = np.zeros(part.shape, bool)
    west, low, right, high = lots[0][1].bounds
    found[round(NORTH - high) : round(NORTH - low), round(west - WEST) : round(right - WEST)] = True
    block = with_context(make_block(turned), coarse(wide, cell_m=10, row_m=-row_m, col_m=-col_m))
    cells = np.argwhere(np.rot90(found, turns))
    (row0, col0), (row1, col1) = cells.min(axis=0), cells.max(axis=0) + 1
    block = dataclasses.replace(block, lots=make_block(turned, lots=[("lot", box(row0, col0, row1, col1))]).lots)
    row, _ = lot_area(block)
    alone = lot_area(dataclasses.replace(block, context_elevation=None))[0]
    assert alone.edge_contaminated and alone.contributing_area_m2 < 0.5 * whole.contributing_area_m2
    assert row.contributing_area_m2 == pytest.approx(whole.contributing_area_m2, rel=0.03)
    assert row.contributing_area_m2 - row.context_area_m2 == pytest.approx(alone.contributing_area_m2)
    assert not row.edge_contaminated


def test_a_suburb_in_a_small_window():
    """Rough ground with streets and pads: the ground around from cells of 10 m, most of the area comes from there."""
    ground = suburb(700, 700, 3)
    whole_flow = routed(make_block(ground))
    top, left, size = 300, 300, 200
    inner = whole_flow.contributing_area_m2[top + 60 : top + 140, left + 60 : left + 140]
    row, col = np.unravel_index(inner.argmax(), inner.shape)
    at = (row + 60, col + 60)
    part = ground[top : top + size, left : left + size]
    context = coarse(averaged(ground, 10), cell_m=10, row_m=-top, col_m=-left)
    flow = routed(with_context(make_block(part), context))
    alone = routed(make_block(part)).contributing_area_m2[at]
    expected = inner.max()
    assert abs(flow.contributing_area_m2[at] - expected) < abs(alone - expected)
    lost = sum(float(note.value("area_m2")) for note in flow.inflow.notes if note.code is NoteCode.CONTEXT_LOST) / 1e4
    assert lost * 1e4 < 0.05 * flow.inflow.area_m2.sum()


def test_runoff_and_ponding_take_what_comes_in():
    ground = valley()
    top, left = 390, 60
    part = ground[top:570, left:320].copy()
    part[100:110, 60:170] = part[100:110, 60:170].max() + 1.0  # a dam across the valley
    context = coarse(averaged(ground, 10), cell_m=10, row_m=-top, col_m=-left)
    block = with_context(make_block(part, lots=lot_box(top, left)), context)
    result, alone = (
        screen_block(each, criteria=CRITERIA, rain=RAIN)
        for each in (block, dataclasses.replace(block, context_elevation=None))
    )
    inflow, balance = result.flow.inflow, result.ponding
    # Curve number 80 under 100 mm: S = 63.5 mm, runoff (100 - 12.7)^2 / (100 + 50.8) by TR-55 equation 2-3.
    depth_m = (100 - 12.7) ** 2 / (100 + 50.8) / 1000
    assert inflow.runoff_m3 == pytest.approx(inflow.area_m2 * depth_m, rel=1e-9)
    assert balance.runoff_m3 - alone.ponding.runoff_m3 == pytest.approx(inflow.runoff_m3.sum(), rel=1e-9)
    assert balance.ponded_m3 + balance.left_window_m3 == pytest.approx(balance.runoff_m3, rel=1e-9)
    assert balance.abstracted_m3 + balance.runoff_m3 == pytest.approx(balance.rain_m3, rel=1e-9)
    spot = result.depressions.table.sort_values("context_area_m2").iloc[-1]
    same = alone.depressions.table.set_index("low_spot_id").loc[spot.low_spot_id]
    assert spot.inflow_m3 > 1.5 * same.inflow_m3 and spot.threshold_rainfall_mm < same.threshold_rainfall_mm
    through = runoff_through(result.flow, result.storm)
    outlets = result.flow.receiver == np.arange(through.size)
    assert through[outlets].sum() == pytest.approx(balance.runoff_m3, rel=1e-9)


def test_a_pond_that_the_edge_cuts_runs_over_inside():
    """A dam 30 m below the window's upper edge holds water far up the valley: in the window it would drain north."""
    ground, top, left = valley(), 390, 60
    dam = ground[420:428].min() + 2.5
    ground[420:428] = np.maximum(ground[420:428], dam)
    ground[420:428, 158:162] = dam - 0.5  # where it overflows
    whole, _ = lot_area(make_block(ground, lots=lot_box(0, 0)))
    block = make_block(ground[top:570, left:320], lots=lot_box(top, left))
    context = coarse(averaged(ground, 10), cell_m=10, row_m=-top, col_m=-left)
    row, flow = lot_area(with_context(block, context))
    assert lot_area(block)[0].contributing_area_m2 < 0.2 * whole.contributing_area_m2
    assert row.contributing_area_m2 == pytest.approx(whole.contributing_area_m2, rel=0.03)
    # The water stands as high as the dam's notch, above the lowest ground at the window's edge.
    assert flow.filled_elev_m[5:25, 100:120].min() == pytest.approx(dam - 0.5, abs=1e-4)
    assert ground[top, left:320].min() < dam - 1.0


def test_words_and_columns_follow():
    ground, top, left = valley(), 390, 60
    context = coarse(averaged(ground, 10), cell_m=10, row_m=-top, col_m=-left)
    block = with_context(make_block(ground[top:570, left:320], lots=lot_box(top, left)), context)
    result = screen_block(block, criteria=CRITERIA, rain=RAIN)
    lot = result.summary.iloc[0]
    assert 0 < lot.context_area_m2 < lot.off_lot_area_m2 < lot.contributing_area_m2
    assert result.catchments.context_area_m2.iloc[0] == lot.context_area_m2
    # The outline shows the part inside the window only.
    outline = result.catchments.geometry.iloc[0].area
    assert outline + lot.context_area_m2 == pytest.approx(lot.contributing_area_m2)
    verdict = next(v for v in result.verdicts if v.statistic == "off_lot_area_m2")
    share = lot.context_area_m2 / lot.off_lot_area_m2
    assert verdict.reasons == (VerdictReason.FROM_BEYOND,)
    assert (
        verdict_words.note_words(verdict_words.row_of(verdict), CRITERIA)
        == f"{share:.0%} of it from coarser elevation beyond the window (cells of 10 m)"
    )
    assert verdict.outcome == "failed" and not lot.edge_contaminated
    assert any(
        "drain into it at" in note_words(note) and "wide.tif (cells of 10 m)" in note_words(note)
        for note in result.notes
    )
    paths = result.flow_paths
    assert (paths.context_area_m2 <= paths.contributing_area_m2).all() and paths.context_area_m2.max() > 0
    found = catchment_of(result.flow, block.lots.geometry.iloc[0])
    assert found.area_m2 == pytest.approx(contributing_area_of(result.flow, block.lots.geometry.iloc[0]))
    assert found.context_area_m2 == pytest.approx(lot.context_area_m2)
