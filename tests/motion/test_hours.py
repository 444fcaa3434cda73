"""Which hours of a storm are simulated."""

import itertools

import numpy as np
import pytest

from screening.grid import Grid
from screening.motion.forcing import Forcing, InflowHydrograph
from screening.motion.ground import lay_ground
from screening.motion.hours import Activity, find_hours, intervals_of, lively_hours
from screening.motion.settings import MotionSettings
from tests.blocks import CRS, NORTH, WEST

GRID = Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=2.0, n_rows=20, n_cols=26)
HOUR_S = 3600.0


def _forcing(runoff_m, step_h, **more):
    shape = GRID.shape
    return Forcing(
        grid=GRID,
        step_s=step_h * HOUR_S,
        runoff_m=np.asarray(runoff_m, float)[:, np.newaxis],
        runoff_class=np.zeros(shape, np.uint8),
        is_fed=np.ones(shape, bool),
        **more,
    )


def _hill():
    return lay_ground(GRID, np.tile(10.0 - 0.05 * 2.0 * np.arange(26), (20, 1)))


def test_a_short_storm_is_simulated_whole_and_an_hour_after_it():
    hours = find_hours(_hill(), _forcing([0.0, 0.02, 0.03], 0.5), settings=MotionSettings())
    assert (hours.start_s, hours.end_s, hours.signal_m_s) == (0.0, 2 * HOUR_S, 0.0)
    told = find_hours(_hill(), _forcing([0.0, 0.02, 0.03], 0.5), settings=MotionSettings(coarse_cells=10))
    assert (told.start_s, told.end_s) == (0.0, 2 * HOUR_S) and 0.1 < told.signal_m_s < 3.0


def test_of_a_long_storm_the_hours_round_its_burst_are_found():
    runoff = np.concatenate((np.linspace(0.0, 0.001, 11), [0.03, 0.04], np.linspace(0.0401, 0.041, 12)))
    hours = find_hours(_hill(), _forcing(runoff, 1.0), settings=MotionSettings(coarse_cells=10))
    assert 9.5 * HOUR_S < hours.start_s < 10.5 * HOUR_S
    assert 12.0 * HOUR_S < hours.end_s < 12.8 * HOUR_S
    assert hours.signal_m_s > 0.1


def test_rising_water_after_the_burst_counts_and_the_latest_hours_go_first():
    time = np.arange(0.0, 24.01, 0.25) * HOUR_S
    flow = np.where((time > 11 * HOUR_S) & (time < 13 * HOUR_S), 1.0, 0.01)
    flow[48] = 2.0
    rising = np.clip(time / HOUR_S - 11.0, 0.0, 3.0)
    start, stop = lively_hours(Activity(time, flow, rising), MotionSettings(hours_max=8.0))
    assert start == 11.0 * HOUR_S and stop == pytest.approx(14.0 * HOUR_S)
    start, stop = lively_hours(Activity(time, flow, rising), MotionSettings(hours_max=1.5))
    assert start == pytest.approx(11.5 * HOUR_S) and stop == pytest.approx(13.0 * HOUR_S)


def test_intervals_meet_and_cut_where_the_supply_changes():
    forcing = _forcing([0.0, 0.02, 0.03], 0.5, hydrographs=(InflowHydrograph(3, 900.0, np.ones(3)),))
    spans = intervals_of(forcing, 0.0, 2 * HOUR_S, lead_s=600.0)
    assert [span.end_s for span in spans] == [900.0, 1800.0, 2700.0, 3600.0, 7200.0]
    assert all(a.to_s == b.from_s for a, b in itertools.pairwise(spans))
    assert all(span.is_tracked for span in spans)


def test_earlier_runoff_is_poured_in_a_lead_that_does_not_count():
    spans = intervals_of(_forcing([0.0, 0.02, 0.03], 0.5), 1000.0, 4000.0, lead_s=600.0)
    assert (spans[0].from_s, spans[0].to_s, spans[0].end_s, spans[0].is_tracked) == (0.0, 1000.0, 1000.0, False)
    assert [span.from_s for span in spans[1:]] == [1000.0, 1800.0, 3600.0]
