import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from screening.depressions.assess import assess_depressions
from screening.depressions.ponding import pond_storm
from screening.depressions.threshold_rainfall import RAIN_CAP_MM, find_threshold_rains
from screening.findings.terrain import route_water
from screening.models import Rain
from screening.schema.codes.depressions import SpillsTo
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm, runoff_depth_mm
from screening.terrain.surface import build_surface
from tests.blocks import box, line, make_block
from tests.kernels.matrices import NESTED
from tests.pools_by_hand import pools_by_hand

CRITERIA = Criteria.of(low_spot_min_area_m2=1.0)


def pond(block, rain_mm, criteria=CRITERIA):
    """Low spots with what a rain does to them, its storm, and what it leaves standing."""
    routed = route_by_hand(block, criteria)
    storm = design_storm(
        block, routed.surface, rain=Rain(depth_mm=rain_mm, label="test", source="test"), criteria=criteria
    )
    ponding = pour(routed, storm)
    found = assess_depressions(
        block,
        routed.surface,
        routed.flow,
        routed.low_spots,
        storm=storm,
        ponding=ponding,
        thresholds=thresholds_of(routed, storm, criteria),
    )
    return found, storm, ponding


def route_by_hand(block, criteria=CRITERIA):
    return route_water(block, build_surface(block, criteria=criteria), None, criteria=criteria)


def pour(routed, storm):
    return pond_storm(routed.flow, routed.hierarchy, routed.basins, routed.low_spots, storm, inflow=routed.flow.inflow)


def thresholds_of(routed, storm, criteria=CRITERIA):
    return find_threshold_rains(
        routed.surface, routed.basins, routed.low_spots, storm, inflow=routed.flow.inflow, criteria=criteria
    )


def rain_at_walls(block, rain_mm):
    """Rains that bring water to the walls of each structure."""
    routed = route_by_hand(block)
    storm = design_storm(
        block, routed.surface, rain=Rain(depth_mm=rain_mm, label="test", source="test"), criteria=CRITERIA
    )
    return thresholds_of(routed, storm).of_structures_mm


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
    assert (ponding.table.ponded_m3 >= 0).all() and (ponding.table.overflow_m3.dropna() >= 0).all()
    assert ponding.left_window_m3 >= -1e-9


def test_upper_pan_spills_into_the_lower():
    found, storm, _ = pond(steps(), 150.0)
    by_row = found.table.sort_values("pit_elev_m", ascending=False).reset_index(drop=True)
    upper, lower = by_row.iloc[0], by_row.iloc[1]
    depth = float(runoff_depth_mm(150.0, 98.0)) / 1000
    # Each pan takes the strip above it, one cell wider on either side, where the ground falls into it at a corner.
    assert upper.inflow_m3 == pytest.approx(7 * 27 * depth, rel=1e-5)
    over = upper.inflow_m3 - upper.volume_m3
    assert over > 0 and upper.ponded_m3 == pytest.approx(upper.volume_m3)
    assert upper.overflow_m3 == pytest.approx(over) and upper.spills_to == lower.low_spot_id
    assert lower.inflow_m3 == pytest.approx(7 * 20 * depth + over, rel=1e-5)
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
        just_under, _, _ = pond(steps(), spot.threshold_rainfall_mm * 0.999)
        just_over, _, _ = pond(steps(), spot.threshold_rainfall_mm * 1.001)
        row = found.table.index[found.table.low_spot_id == spot.low_spot_id][0]
        assert just_under.table.ponded_m3[row] < just_under.table.volume_m3[row]
        assert just_over.table.ponded_m3[row] == pytest.approx(just_over.table.volume_m3[row])


def test_a_low_spot_that_holds_out_shows_the_cap():
    elev = np.full((12, 15), 10.0)
    elev[4:8, 5:9] = 4.0
    found, _, _ = pond(make_block(elev), 50.0)
    assert found.table.threshold_rainfall_mm.tolist() == [RAIN_CAP_MM]


def test_no_rain_no_pond():
    found, _, ponding = pond(steps(), 0.1)
    assert ponding.runoff_m3 == ponding.ponded_m3 == 0
    assert found.table.storm_depth_m.tolist() == [0.0, 0.0]


def pond_depths(elev, runoff_mm):
    """Pond a given runoff by cell on ground by itself."""
    block = make_block(elev)
    routed = route_by_hand(block)
    rain = Rain(depth_mm=float(np.max(runoff_mm)), label="test", source="test")
    storm = design_storm(block, routed.surface, rain=rain, criteria=CRITERIA)
    return pour(routed, dataclasses.replace(storm, runoff_mm=runoff_mm.astype(np.float32)))


@pytest.mark.parametrize("seed", range(200))
def test_an_independent_solver_agrees(seed):
    rng = np.random.default_rng(seed)
    shape = rng.integers(5, 13), rng.integers(5, 13)
    rough, tilt = rng.uniform(0.2, 2.0), rng.uniform(0, 0.3)
    # float32 steps of an eighth of a millimetre, no two alike
    heights = rng.permutation(int(np.prod(shape))).reshape(shape) * (rough / np.prod(shape))
    elev = (np.round((heights + tilt * np.arange(shape[0])[:, np.newaxis]) * 8192) / 8192).astype(np.float32)
    elev += (rng.permutation(elev.size).reshape(shape) / 2**20).astype(np.float32)
    assert np.unique(elev).size == elev.size
    runoff = (rng.uniform(0, 10 ** rng.uniform(0, 3.2), shape) * (rng.random(shape) < 0.8)).astype(np.float32)
    ponding = pond_depths(elev, runoff)
    depth, left = pools_by_hand(elev.astype(float), runoff.astype(float) / 1000)
    np.testing.assert_allclose(ponding.water_depth_m, depth, atol=2e-6)
    assert ponding.left_window_m3 == pytest.approx(left, rel=1e-9, abs=1e-9)
    assert ponding.ponded_m3 == pytest.approx(depth.sum(), rel=1e-9, abs=1e-9)


def test_the_published_nested_case():
    # Fill-Spill-Merge unit tests (Barnes, Callaghan & Wickert 2021; check 9.18): one unit of rain on each cell puts
    # 64, 30 and 6 into the ocean, the large and the small hollow. The small one holds 2 below its sill, so 4 run
    # over: 34 in the large one, 36 on the ground in all. One cell lies as steeply above both hollows; turned half
    # round, the fixed order of neighbours gives it to the large one, as there.
    nested = NESTED[::-1, ::-1].copy()
    ponding = pond_depths(nested, np.full(NESTED.shape, 1000.0))
    assert ponding.left_window_m3 == 64.0 and ponding.ponded_m3 == 36.0
    parts = ponding.table.set_index("low_spot_id")
    assert parts.inflow_m3["LS-1.1"] == 30.0 and parts.ponded_m3["LS-1.1"] == 34.0
    assert parts.inflow_m3["LS-1.2"] == 6.0 and parts.ponded_m3["LS-1.2"] == 2.0
    assert parts.ponded_m3["LS-1"] == 36.0 and parts.overflow_m3["LS-1"] == 0.0
    # 2 units of rain: 72 on the hollows, below the sum of their volumes (73 + 2): still two pools; 3 units: one.
    assert pond_depths(nested, np.full(NESTED.shape, 2000.0)).table.storm_level_m.nunique() == 2
    merged = pond_depths(nested, np.full(NESTED.shape, 3000.0))
    assert merged.ponded_m3 == 108.0 and merged.table.storm_level_m.nunique() == 1
    full = pond_depths(nested, np.full(NESTED.shape, 4000.0))
    assert full.ponded_m3 == 111.0 and full.table.overflow_m3[0] == 33.0


def test_overflow_is_drawn_down_to_the_next_low_spot():
    found, _, _ = pond(steps(), 150.0)
    paths = found.overflow_paths.set_index("low_spot_id")
    spots = found.table.set_index("low_spot_id")
    upper = spots.pit_elev_m.idxmax()
    lower = spots.pit_elev_m.idxmin()
    assert paths.spills_to[upper] == lower and paths.spills_to[lower] == SpillsTo.OUT_OF_WINDOW
    assert paths.geometry[upper].touches(spots.geometry[lower]) or paths.geometry[upper].intersects(
        spots.geometry[lower]
    )
    assert paths.overflow_m3[upper] == pytest.approx(spots.inflow_m3[upper] - spots.ponded_m3[upper])
    dry, _, _ = pond(steps(), 0.1)
    assert dry.overflow_paths.empty and list(dry.overflow_paths.columns) == list(found.overflow_paths.columns)


def enclosed_courtyard():
    """An enclosed courtyard between four walls on a paved slope, above a pan."""
    walls = [box(10, 10, 12, 20), box(18, 10, 20, 20), box(12, 10, 18, 12), box(12, 18, 18, 20)]
    elev = 50 - 0.05 * np.mgrid[:50, :34][0].astype(float)
    elev[30:36, 10:20] = elev[36, 0] - 0.3
    structures = [(f"S{number}", "lot", "house", wall) for number, wall in enumerate(walls)]
    return make_block(elev, structures=structures, roads=[(box(0, 0, 50, 34),)])


def test_a_walled_court_holds_nothing_and_its_water_runs_on():
    found, _, ponding = pond(enclosed_courtyard(), 60.0)
    courtyard = found.table[found.table.is_enclosed].iloc[0]
    assert np.isnan(courtyard.ponded_m3) and np.isnan(courtyard.threshold_rainfall_mm)
    assert ponding.water_depth_m[12:18, 12:18].max() == 0
    pan = found.table[~found.table.is_enclosed].iloc[0]
    # The roofs and the courtyard shed to the ground, all the way down to the pan or past it.
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
    assert ponding.rain_m3 == pytest.approx(ponding.runoff_m3 + ponding.abstracted_m3, rel=1e-12)
    assert ponding.rain_m3 == pytest.approx(50 * 34 * 0.06)
    assert pan.inflow_m3 > 0


def house_in_a_pan():
    elev = 10 + 0.02 * np.hypot(*np.mgrid[-30:30, -34:34])
    elev = np.minimum(elev, 10.4)
    house = ("H", "lot", "house", box(26, 30, 32, 38))
    return make_block(elev, structures=[house], roads=[(box(0, 0, 60, 68),)])


def test_the_rain_that_wets_a_wall_wets_it():
    rain = rain_at_walls(house_in_a_pan(), 30.0)[0]
    assert 5 < rain < RAIN_CAP_MM

    def deepest_at_the_wall(rain_mm):
        _, _, pools = pond(house_in_a_pan(), rain_mm)
        return pools.water_depth_m[25:33, 29:39].max()

    # 0.10 m of water is the least that counts at a wall.
    assert (
        deepest_at_the_wall(rain * 0.99) < CRITERIA.depressions.low_spot_min_depth_m < deepest_at_the_wall(rain * 1.01)
    )


def test_a_wall_that_no_low_spot_reaches_stays_dry():
    slope = 50 - 0.05 * np.mgrid[:40, :34][0].astype(float)
    block = make_block(slope, structures=[("H", "lot", "house", box(10, 10, 20, 20))])
    assert rain_at_walls(block, 100.0).tolist() == [np.inf]


def test_a_pipe_beyond_a_low_spot_takes_nothing_from_it():
    """On the filled ground water runs past the pan, along a shelf as high as its rim, and into the pipe further down;
    the pan is not full, and on the bare ground all of it falls into the pan first.
    """
    elev = np.full((4, 14), 12.0)
    elev[1, 2:] = [10, 10, 10, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5]
    elev[0, 2], elev[2, 2] = 10.5, 9.0
    pipe = ("C", "culvert", np.nan, np.nan, np.nan, line([(1, 6), (1, 11)]))
    received = []
    for drains in ([], [pipe]):
        found, _, ponding = pond(make_block(elev, drains=drains), 30.0)
        assert found.table["depth_max_m"].tolist() == [1.0]
        received.append(float(ponding.table["inflow_m3"].iloc[0]))
        assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)
    assert received[0] > 0
    assert received[1] == received[0]


def test_a_court_within_a_court_holds_nothing_either():
    elev = np.full((32, 32), 10.0)
    elev[6:26, 6:26] = 9.0
    elev[13:19, 13:19] = 8.0
    walls = []
    for ring, (low, high) in enumerate(((4, 28), (11, 21))):
        walls += [
            (f"{ring}N", "lot", "house", box(low, low, low + 2, high)),
            (f"{ring}S", "lot", "house", box(high - 2, low, high, high)),
            (f"{ring}W", "lot", "house", box(low, low, high, low + 2)),
            (f"{ring}E", "lot", "house", box(low, high - 2, high, high)),
        ]
    found, _, ponding = pond(make_block(elev, structures=walls), 200.0)
    assert found.table.is_enclosed.any()
    assert ponding.ponded_m3 == pytest.approx(0.0, abs=1e-9)
    assert ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)


def test_many_curve_numbers_are_rounded_to_whole_ones():
    block = steps()
    routed = route_by_hand(block)
    rain = Rain(depth_mm=150.0, label="test", source="test")
    storm = design_storm(block, routed.surface, rain=rain, criteria=CRITERIA)
    # A number of its own for each row, from 89.6 to 90.4: whole numbers make one class of all.
    number = np.repeat(np.linspace(89.6, 90.4, 60)[:, None], 21, 1).astype(np.float32)

    def spill(curve_number):
        own = dataclasses.replace(storm, curve_number=curve_number)
        return thresholds_of(routed, own).of_low_spots_mm

    one = spill(np.full_like(number, 90.0))
    assert np.isfinite(one).all() and spill(number).tolist() == one.tolist()
