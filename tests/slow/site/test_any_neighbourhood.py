"""On random ground a lot gives the same numbers alone and in any block."""

from functools import partial

import numpy as np
import pandas as pd
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.pipeline import screen_block
from screening.site.window import close_window
from tests.blocks import NORTH, WEST, box, line, make_block
from tests.site.test_window import CRITERIA, RAIN, SHAPE, crop


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
        ("inflow point", result.inflow_points),
        ("door", result.doors),
        ("driveway", result.driveways),
        ("interception line", result.interception.lines),
        ("outfall of a line", result.interception.outlets),
    ):
        own = frame[frame.lot_id == lot_id].drop(columns=["geometry"])
        own_to_block = (
            "visit_rank",
            "exposure_rank",
            "low_spot_id",
            "inflow_point_id",
            "exposure_why",
            "line_id",
            "runs_to",
            "why",
            "outlet_zone_id",
            "zone_id",
        )
        named = [column for column in own_to_block if column in own]
        parts[name] = own.drop(columns=named).reset_index(drop=True)
    zones = result.zones.table[result.zones.table.lot_id == lot_id]
    parts["zone"] = zones.drop(columns=["geometry", "zone_id"]).reset_index(drop=True)
    spots = result.depressions.table
    spots = spots[spots.lot_id.str.split(", ").map(lambda ids: lot_id in ids).astype(bool)]
    # What a low spot holds in the storm depends on water from above it, which is its window's to know.
    names = ["depth_max_m", "volume_m3", "area_m2", "spill_elev_m", "pit_elev_m", "contributing_area_m2", "is_enclosed"]
    parts["low spot"] = spots[names].sort_values(names).reset_index(drop=True)
    return parts


@given(neighbourhoods(), st.integers(0, 4), st.sets(st.integers(0, 4)))
@settings(max_examples=40, deadline=None)
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
