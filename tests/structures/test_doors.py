"""Doors and other openings: the ground at them, the water on it, and what arrives."""

import numpy as np
import pytest
import shapely

from screening.models import Rain
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from tests.blocks import NORTH, WEST, box, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
HOUSE = ("H", "lot", "house", box(16, 20, 24, 30))


def at(row, col):
    return shapely.Point(WEST + col, NORTH - row)


def hollow():
    row, col = np.mgrid[:40, :50].astype(float)
    away = np.maximum(np.abs(row - 19.5) - 10.5, np.abs(col - 24.5) - 12.5)
    return 10 - 0.01 * np.maximum(away, 0) - 0.5 * (away < 0)


def screened(elev, doors, structures=(HOUSE,), **layers):
    block = make_block(elev, structures=list(structures), doors=doors, **layers)
    return screen_block(block, criteria=Criteria(), rain=RAIN)


def test_water_and_freeboard_at_a_sill():
    doors = [
        ("front", "door", "", 9.8, at(24, 25.5)),
        ("garage", "garage", "H", 10.2, at(16, 28.5)),
        ("well", "window well", "", np.nan, at(20.5, 20)),
    ]
    result = screened(hollow(), doors)
    table = result.doors.set_index("door_id")
    assert table.structure_id.tolist() == ["H"] * 3 and table.lot_id.tolist() == ["lot"] * 3
    assert table.side.tolist() == ["south", "north", "west"]
    assert table.kind.tolist() == ["door", "garage", "window well"]
    assert table.ground_elev_m.tolist() == pytest.approx([9.5] * 3, abs=1e-5)
    assert table.pond_depth_full_m.tolist() == pytest.approx([0.5] * 3, abs=1e-5)
    storm = result.structures.pond_depth_storm_m.iloc[0]
    assert storm > 0 and table.pond_depth_storm_m.tolist() == pytest.approx([storm] * 3, abs=1e-6)
    assert table.sill_above_ground_m.tolist() == pytest.approx([0.3, 0.7, np.nan], nan_ok=True, abs=1e-5)
    assert table.freeboard_full_m.tolist() == pytest.approx([-0.2, 0.2, np.nan], nan_ok=True, abs=1e-5)
    assert table.freeboard_storm_m.iloc[0] == pytest.approx(0.3 - storm, abs=1e-5)


def test_what_arrives_is_the_ground_uphill_of_the_door_without_the_roof():
    """A plane that falls to the south: each cell of the north wall takes its column of 16 cells."""
    ground = 50 - 0.05 * np.mgrid[:40, :50][0]
    result = screened(ground, [("up", "door", "", np.nan, at(16, 25.5)), ("down", "door", "", np.nan, at(24, 25.5))])
    up, down = result.doors.itertuples()
    # Cells within 2 m of the door: their centres lie half a cell off the wall, and up to 1 m to either side of it.
    # Water that has met the wall runs along it to the nearer end, so the middle cells take their own columns and what
    # passes from one to the other.
    assert up.contributing_area_m2 >= 3 * 16
    assert up.contributing_area_m2 < 10 * 16
    depth = float(result.storm.runoff_mm[5, 25]) / 1000
    assert up.wall_inflow_m3 == pytest.approx(up.contributing_area_m2 * depth, rel=1e-6)
    # Behind the house there is only the ground beside the wall, though its roof sheds there.
    assert down.contributing_area_m2 == 3
    assert result.flow.contributing_area_m2[24, 24:27].sum() > 3


def test_doors_elsewhere():
    others = (HOUSE, ("theirs", "", "house", box(16, 40, 24, 46)))
    doors = [
        ("free", "door", "", 9.9, at(5, 5)),
        ("theirs", "door", "theirs", 9.9, at(24, 43)),
        ("wrong", "door", "nobody", 9.9, at(5, 5)),
        ("beyond", "door", "", 9.9, at(5, 45)),
    ]
    result = screened(hollow(), doors, others, lots=[("lot", box(0, 0, 40, 38))])
    assert result.doors.door_id.tolist() == ["free", "wrong"]
    assert result.doors.structure_id.tolist() == ["", ""]
    assert np.isnan(result.doors.ground_elev_m).all() and np.isnan(result.doors.contributing_area_m2).all()


def test_a_door_on_unknown_ground_is_not_assessed():
    elev = hollow()
    elev[10:30, 10:40] = np.nan
    block = make_block(elev, structures=[HOUSE], doors=[("d", "door", "", 9.9, at(24, 25))])
    result = screen_block(block, criteria=Criteria.of(void_fill_max_m2=0.0), rain=RAIN)
    (row,) = result.doors.itertuples()
    assert row.structure_id == "H" and np.isnan(row.pond_depth_full_m) and np.isnan(row.freeboard_full_m)


def test_no_doors_no_rows():
    result = screened(hollow(), [])
    assert result.doors.empty and result.doors.crs == "EPSG:26917"
