import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from screening.criteria import Criteria
from screening.depressions import find_depressions
from screening.flow import route_flow
from screening.models import Rain
from screening.ponding import RAIN_CAP_MM, add_storm, pond_storm
from screening.storms import design_storm, runoff_depth_mm
from screening.surface import build_surface
from tests.blocks import box, make_block

CRITERIA = Criteria(low_spot_min_area_m2=1.0)


def pond(block, rain_mm, criteria=CRITERIA):
    surface = build_surface(block, criteria=criteria)
    flow = route_flow(surface, criteria=criteria)
    found = find_depressions(surface, flow, block, criteria=criteria)
    storm = design_storm(block, surface, rain=Rain(rain_mm, "test", "test"), criteria=criteria)
    ponding = pond_storm(surface, flow, found, storm, criteria=criteria)
    return add_storm(found, ponding), storm, ponding


def steps():
    """Two square pans on a long ramp, the upper spilling into the lower; paved, so that all runs off but 5 mm."""
    elev = 20 - 0.05 * np.mgrid[:60, :21][0].astype(float)
    elev[20:26, 8:13] = elev[26, 0] - 0.3
    elev[40:46, 8:13] = elev[46, 0] - 0.3
    return make_block(elev, roads=[(box(0, 0, 60, 21),)])


@given(
    arrays(np.int16, st.tuples(st.integers(3, 14), st.integers(3, 17)), elements=st.integers(0, 12)),
    st.floats(1, 400),
)
@settings(max_examples=60, deadline=None)
def test_no_water_is_made_or_lost(steps_dm, rain_mm):
    _, _, ponding = pond(make_block(steps_dm / 10.0), rain_mm)
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9, abs=1e-12)
    assert (ponding.table.ponded_m3 >= 0).all() and (ponding.table.overflow_m3 >= -1e-12).all()
    assert ponding.left_window_m3 >= -1e-9


def test_upper_pan_spills_into_the_lower():
    found, storm, _ = pond(steps(), 150.0)
    by_row = found.table.sort_values("pit_elev_m", ascending=False).reset_index(drop=True)
    upper, lower = by_row.iloc[0], by_row.iloc[1]
    depth = float(runoff_depth_mm(150.0, 98.0)) / 1000
    assert upper.inflow_m3 == pytest.approx(upper.contributing_area_m2 * depth, rel=1e-5)
    over = upper.inflow_m3 - upper.volume_m3
    assert over > 0 and upper.ponded_m3 == pytest.approx(upper.volume_m3)
    local = (lower.contributing_area_m2 - upper.contributing_area_m2) * depth
    assert lower.inflow_m3 == pytest.approx(local + over, rel=1e-5)
    assert storm.runoff_mm.max() == pytest.approx(depth * 1000, rel=1e-6)


def test_standing_water_has_the_volume_that_was_ponded():
    found, _, ponding = pond(steps(), 20.0)
    assert (found.table.ponded_m3 < found.table.volume_m3).all()
    assert ponding.water_depth_m.sum() == pytest.approx(ponding.ponded_m3, rel=1e-5)
    # A pan with a flat floor: depth is volume over floor area, while it stays below the walls' first step.
    upper = found.table.sort_values("pit_elev_m").iloc[-1]
    assert upper.storm_depth_m == pytest.approx(upper.ponded_m3 / 30, rel=1e-4)


def test_the_rain_that_fills_a_pan_fills_it():
    found, _, _ = pond(steps(), 20.0)
    for spot in found.table.itertuples():
        just_under, _, _ = pond(steps(), spot.spill_rain_mm * 0.999)
        just_over, _, _ = pond(steps(), spot.spill_rain_mm * 1.001)
        row = found.table.index[found.table.low_spot_id == spot.low_spot_id][0]
        assert just_under.table.ponded_m3[row] < just_under.table.volume_m3[row]
        assert just_over.table.ponded_m3[row] == pytest.approx(just_over.table.volume_m3[row])


def test_a_low_spot_that_holds_out_shows_the_cap():
    elev = np.full((12, 15), 10.0)
    elev[4:8, 5:9] = 4.0
    found, _, _ = pond(make_block(elev), 50.0)
    assert found.table.spill_rain_mm.tolist() == [RAIN_CAP_MM]


def test_no_rain_no_pond():
    found, _, ponding = pond(steps(), 0.1)
    assert ponding.runoff_m3 == ponding.ponded_m3 == 0
    assert found.table.storm_depth_m.tolist() == [0.0, 0.0]
