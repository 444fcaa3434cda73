"""A lot gives the same numbers alone and in any block, as far as a window looks."""

import dataclasses
from functools import partial

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.grid import Grid
from screening.models import EAST_SIDE, NORTH_SIDE, SOUTH_SIDE, WEST_SIDE, RainfallTable
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from screening.site.window import close_window
from screening.storm.rainfall_tables import rain_of_depth
from tests.blocks import NORTH, WEST, box, line, make_block

TABLE = RainfallTable(
    durations_h=(5 / 60, 1.0, 24.0),
    return_periods_yr=(1.0, 10.0, 100.0),
    depth_mm=((8.0, 15.0, 22.0), (25.0, 45.0, 70.0), (60.0, 120.0, 190.0)),
    source="invented",
)
RAIN = rain_of_depth(80.0, TABLE)
SHAPE = (90, 120)
# Small windows, so that they must grow, and a look that reaches over the whole ground.
CRITERIA = Criteria.of(window_margin_m=6.0, window_look_m=150.0, window_limit_m=200.0, low_spot_min_area_m2=1.0)


def crop(whole, bounds, lots):
    """The block of a window, cut out of the whole as the readers cut it out of a file."""
    west, south, east, north = bounds
    grid = whole.grid
    top, left = max(int(np.floor(NORTH - north)), 0), max(int(np.floor(west - WEST)), 0)
    bottom, right = min(int(np.ceil(NORTH - south)), grid.n_rows), min(int(np.ceil(east - WEST)), grid.n_cols)
    sides = (
        (NORTH_SIDE if top == 0 else 0)
        | (WEST_SIDE if left == 0 else 0)
        | (SOUTH_SIDE if bottom == grid.n_rows else 0)
        | (EAST_SIDE if right == grid.n_cols else 0)
    )
    part = Grid(
        crs=grid.crs, west_m=WEST + left, north_m=NORTH - top, cell_m=1.0, n_rows=bottom - top, n_cols=right - left
    )
    window = shapely.box(*part.bounds)
    layers = {}
    for name in ("structures", "driveways", "soils", "drains", "downspouts", "doors"):
        frame = getattr(whole, name)
        layers[name] = frame[frame.intersects(window)].reset_index(drop=True)
    for name in ("structures", "driveways"):
        owner = layers[name]["lot_id"]
        layers[name] = layers[name].assign(lot_id=owner.where(owner.isin(lots["lot_id"]), ""))
    elev = whole.elev_m[top:bottom, left:right].copy()
    return dataclasses.replace(whole, grid=part, elev_m=elev, lots=lots, data_sides=sides, **layers)


@st.composite
def neighbourhoods(draw):
    """Rough ground with a slope or a hollow, gaps, plateaus, lots side by side, and what stands and lies on them."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    slope = draw(st.sampled_from([0.0, 0.01, 0.05]))
    step = draw(st.sampled_from([0.0, 0.01, 0.1, 0.5]))
    wave = sum(
        rng.normal(0, 0.4) * np.sin(rng.uniform(0.02, 0.3) * row + rng.uniform(0.02, 0.3) * col + rng.uniform(0, 6))
        for _ in range(5)
    )
    elev = 50 - slope * row + wave + rng.normal(0, draw(st.sampled_from([0.0, 0.03, 0.1])), SHAPE)
    elev = np.round(elev / step) * step if step else elev
    for _ in range(draw(st.integers(0, 2))):
        top, left = rng.integers(0, SHAPE[0] - 8), rng.integers(0, SHAPE[1] - 8)
        elev[top : top + rng.integers(1, 8), left : left + rng.integers(1, 8)] = np.nan
    lots, structures, driveways, doors = [], [], [], []
    for number, (top, left) in enumerate([(20, 25), (20, 50), (48, 25), (48, 50), (30, 85)]):
        lot = f"lot {number}"
        lots.append((lot, box(top, left, top + 22, left + 22)))
        structures.append((f"H{number}", lot, "house", box(top + 8, left + 6, top + 14, left + rng.integers(10, 20))))
        doors.append((f"door {number}", "door", "", 51.0, shapely.Point(WEST + left + 9.3, NORTH - top - 8)))
        driveways.append((f"D{number}", lot, "driveway", box(top - 2, left + 8, top + 8, left + 12)))
    downspouts = [(f"S-{row[0]}", row[0], shapely.Point(row[-1].bounds[:2])) for row in structures[::2]]
    drains = []
    for number in range(draw(st.integers(0, 4))):
        row, col = rng.integers(2, [SHAPE[0] - 2, SHAPE[1] - 2])
        end = np.clip(np.array([row, col]) + rng.integers(-25, 26, 2), 1, np.array(SHAPE) - 2)
        up = draw(st.sampled_from([np.nan, float(np.nanmean(elev))]))
        drains.append((f"C{number}", "culvert", up, np.nan, np.nan, line([(row, col), tuple(end.tolist())])))
    soils = [("1", "B", box(0, 0, 90, 60)), ("2", "D", box(0, 60, 90, 120))]
    layers = {"structures": structures, "driveways": driveways, "soils": soils, "doors": doors}
    return make_block(elev, lots=lots, drains=drains, downspouts=downspouts, **layers)


def numbers_of(result, lot_id):
    """All that is said of one lot, without the names that number things within a block."""
    parts = {}
    for name, frame in (
        ("lot", result.summary),
        ("structure", result.structures),
        ("side", result.structure_sides),
        ("wall arrival", result.inflow_points),
        ("door", result.doors),
        ("driveway", result.driveways),
        ("interception line", result.interception.lines),
        ("way out of a line", result.interception.outlets),
    ):
        own = frame[frame.lot_id == lot_id].drop(columns=["geometry"])
        own_to_block = (
            "visit_rank",
            "exposure_rank",
            "low_spot_id",
            "inflow_point_id",
            "shed_shares",
            "shape_limits",
            "line_id",
            "runs_to",
            "why",
        )
        named = [column for column in own_to_block if column in own]
        parts[name] = own.drop(columns=named).reset_index(drop=True)
    zones = result.capture.zones[result.capture.zones.lot_id == lot_id]
    parts["zone"] = zones.drop(columns=["geometry", "zone_id"]).reset_index(drop=True)
    spots = result.depressions.table
    spots = spots[spots.lot_id.str.split(", ").map(lambda ids: lot_id in ids).astype(bool)]
    # What a low spot holds in the storm depends on water from above it, which is its window's to know.
    names = ["depth_max_m", "volume_m3", "area_m2", "spill_elev_m", "pit_elev_m", "contributing_area_m2", "is_enclosed"]
    parts["low spot"] = spots[names].sort_values(names).reset_index(drop=True)
    return parts


@given(neighbourhoods(), st.integers(0, 4), st.sets(st.integers(0, 4)))
@settings(max_examples=30, deadline=None)
def test_a_lot_alone_and_in_any_block(whole, chosen, others):
    # The others may add nothing, or be all: the same block is not screened twice.
    lots_of_blocks = dict.fromkeys(frozenset(rows) for rows in ({chosen}, {chosen} | others, range(len(whole.lots))))
    lot_id = whole.lots.lot_id.iloc[chosen]
    found = []
    for rows in lots_of_blocks:
        lots = whole.lots[whole.lots.index.isin(rows)].reset_index(drop=True)
        block = close_window(tuple(lots.total_bounds), partial(crop, whole, lots=lots), criteria=CRITERIA)
        found.append(numbers_of(screen_block(block, criteria=CRITERIA, rain=RAIN), lot_id))
    assert len(found) > 1
    for other in found[1:]:
        for name, table in found[0].items():
            pd.testing.assert_frame_equal(table, other[name], rtol=1e-9, atol=1e-9, obj=name)


@pytest.mark.parametrize("is_piped", [False, True])
def test_the_window_goes_to_the_far_end_of_a_pipe(is_piped):
    """Water from behind a ridge comes out on the lot: its side stays open until the window holds the inlet."""
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    elev = 60 - 0.2 * np.abs(col - 60) - 0.01 * np.abs(row - 45)
    pipe = ("C", "culvert", np.nan, np.nan, np.nan, line([(45, 75), (45, 40)]))
    layers = {"drains": [pipe]} if is_piped else {}
    whole = make_block(elev, lots=[("lot", box(40, 35, 50, 58))], **layers)
    criteria = CRITERIA.replaced(window_look_m=5.0)
    block = close_window(tuple(whole.lots.total_bounds), partial(crop, whole, lots=whole.lots), criteria=criteria)
    east = (block.grid.bounds[2] - WEST) > 75
    assert east == is_piped
    result = screen_block(block, criteria=criteria, rain=RAIN)
    assert result.flow.link_cell.size == is_piped
    assert (result.catchments.geometry.iloc[0].bounds[2] - WEST > 75) == is_piped
    assert block.notes == ()


def test_the_window_is_no_larger_than_it_must_be():
    """A dome: what is uphill of the lot is near, so the small window is kept though the look went far."""
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    whole = make_block(80 - 0.1 * np.hypot(row - 45, col - 60), lots=[("lot", box(40, 50, 50, 70))])
    block = close_window(tuple(whole.lots.total_bounds), partial(crop, whole, lots=whole.lots), criteria=CRITERIA)
    assert block.grid.shape == (10 + 12, 20 + 12)
    assert block.notes == ()


@pytest.mark.parametrize("limit", [8.0, 30.0])
def test_the_window_keeps_its_limit(limit):
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    whole = make_block(80 - 0.1 * row + 0.01 * np.abs(col - 60), lots=[("lot", box(60, 50, 70, 70))])
    criteria = CRITERIA.replaced(window_limit_m=limit)
    block = close_window(tuple(whole.lots.total_bounds), partial(crop, whole, lots=whole.lots), criteria=criteria)
    assert block.grid.n_rows <= 10 + 2 * limit
    assert any(f"limit of {limit:.0f} m to the north" in note.text for note in block.notes)


@pytest.mark.parametrize("n_gap_rows", [1, 4])
def test_a_window_that_cuts_a_small_gap_grows_until_it_knows_it(n_gap_rows):
    """Cut, a gap has no known size and what drains from it is a lower bound; whole, it is interpolated.

    A ridge runs along the southern end of the gap, which drains away from the lot: nothing else asks for more window.
    """
    row = np.mgrid[: SHAPE[0], : SHAPE[1]][0].astype(float)
    elev = 60 - 0.1 * np.abs(row - 34.8)
    elev[35 - n_gap_rows : 35, 25:70] = np.nan  # the first window begins at row 34, and is narrower
    whole = make_block(elev, lots=[("lot", box(40, 35, 50, 58))])
    block = close_window(tuple(whole.lots.total_bounds), partial(crop, whole, lots=whole.lots), criteria=CRITERIA)
    result = screen_block(block, criteria=CRITERIA, rain=RAIN)
    assert result.surface.is_interpolated.sum() == 45 * n_gap_rows
    assert not result.summary["edge_contaminated"].iloc[0]
