import numpy as np
import pytest

from screening.criteria import Criteria
from screening.models import Rain
from screening.pipeline import screen_block
from tests.blocks import box, make_block

RAIN = Rain(100.0, "100 mm", "test")


def hollow(depth=0.5):
    """A square that falls gently outward from its middle, with a hollow there of 20 x 24 cells."""
    row, col = np.mgrid[:40, :50].astype(float)
    away = np.maximum(np.abs(row - 19.5) - 10.5, np.abs(col - 24.5) - 12.5)
    return 10 - 0.01 * np.maximum(away, 0) - depth * (away < 0)


def screened(elev, **layers):
    return screen_block(make_block(elev, **layers), criteria=Criteria(), rain=RAIN)


def test_house_in_a_hollow_ponds():
    result = screened(hollow(), structures=[("H", "lot", "house", box(16, 20, 24, 30))])
    row = result.structures.iloc[0]
    assert row.exposure == "ponding" and row.low_spot_id == "LS-1"
    assert row.pond_depth_full_m == pytest.approx(0.5, abs=1e-5)
    assert row.lowest_adjacent_grade_m == pytest.approx(9.5, abs=1e-5)
    assert row.freeboard_m == pytest.approx(-0.5, abs=1e-5)
    # 20 x 24 m of hollow less the house, 100 mm on soil of unknown group: some water, not half a metre.
    assert 0 < row.pond_depth_storm_m < 0.2
    assert "LS-1" in row.exposure_why


def test_house_at_the_rim_keeps_dry():
    result = screened(hollow(), structures=[("H", "lot", "house", box(2, 2, 7, 8))])
    row = result.structures.iloc[0]
    assert row.exposure == "low" and row.pond_depth_full_m == 0 and row.low_spot_id == ""
    assert np.isnan(row.freeboard_m)


def test_house_across_a_swale_takes_the_hill():
    row, col = np.mgrid[:80, :41].astype(float)
    swale = 50 - 0.05 * row + 0.1 * np.abs(col - 20)
    result = screened(swale, structures=[("H", "lot", "house", box(60, 16, 68, 25))])
    house = result.structures.iloc[0]
    # Rows above the house drain into the swale and meet its uphill wall: 60 rows of 41 m, and the ring beside it.
    assert house.contributing_area_m2 > 60 * 41 * 0.95
    assert house.exposure in ("run-on", "ponding")
    assert house.edge_contaminated
    # The runoff at the walls is that ground's, roof not counted.
    depth = float(result.storm.runoff_mm[10, 10]) / 1000
    assert house.runoff_arriving_m3 == pytest.approx(house.contributing_area_m2 * depth, rel=1e-6)


def test_roof_water_is_not_counted_as_arriving():
    flat_top = 10 - 0.05 * np.hypot(*(np.mgrid[:30, :37] - np.array([15.0, 18.0])[:, None, None]))
    result = screened(flat_top, structures=[("H", "lot", "house", box(12, 14, 19, 23))])
    house = result.structures.iloc[0]
    # Only the ring of ground round it: (7 + 2)(9 + 2) - 7 x 9 cells.
    assert house.contributing_area_m2 == 36
    assert house.exposure == "low"


def test_structures_on_no_chosen_lot_stand_as_walls_but_are_not_assessed():
    result = screened(
        hollow(),
        lots=[("lot", box(0, 0, 40, 25))],
        structures=[("mine", "lot", "house", box(16, 16, 20, 22)), ("theirs", "", "house", box(16, 30, 20, 34))],
    )
    assert result.structures.structure_id.tolist() == ["mine"]
    assert result.surface.structure_index.max() == 2


def test_no_elevation_at_the_walls_is_not_assessed():
    elev = hollow()
    elev[10:30, 10:40] = np.nan
    result = screen_block(
        make_block(elev, structures=[("H", "lot", "house", box(16, 20, 24, 30))]),
        criteria=Criteria(void_fill_max_m2=0.0),
        rain=RAIN,
    )
    assert result.structures.exposure.tolist() == ["not assessed"]
    outcomes = {verdict.outcome for verdict in result.verdicts if verdict.subject_kind == "structure"}
    assert outcomes == {"not assessed"}


def test_court_between_walls_is_not_assessed():
    walls = [
        ("N", "lot", "house", box(10, 10, 12, 20)),
        ("S", "lot", "house", box(18, 10, 20, 20)),
        ("W", "lot", "house", box(12, 10, 18, 12)),
        ("E", "lot", "house", box(12, 18, 18, 20)),
    ]
    dome = 50 - 0.02 * np.hypot(*(np.mgrid[:30, :34] - np.array([15.0, 15.0])[:, None, None]))
    result = screened(dome, structures=walls)
    assert set(result.structures.exposure) == {"not assessed"}
    assert all("court" in why for why in result.structures.exposure_why)
