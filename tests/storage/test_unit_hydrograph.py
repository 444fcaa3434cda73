import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.storage import unit_hydrograph
from screening.storage.unit_hydrograph import delay_inflow
from tests.storage.storages import inflow, inflows

# NEH 630 chapter 16, Table 16-1.
with (Path(__file__).parents[1] / "tables" / "neh630_table_16_1.csv").open() as file:
    TABLE = np.array([[float(cell) for cell in row] for row in list(csv.reader(file))[1:]])


def test_ordinates_are_those_of_the_table():
    assert np.array_equal(TABLE[:, 0], unit_hydrograph._TIME_RATIO)
    assert np.array_equal(TABLE[:, 1], unit_hydrograph._FLOW_RATIO)


def test_the_mass_curve_is_that_of_the_table():
    assert unit_hydrograph._arrived_frac(TABLE[:, 0]) == pytest.approx(TABLE[:, 2], abs=0.0025)
    assert unit_hydrograph._arrived_frac(np.array([1.0]))[0] == pytest.approx(0.374, abs=0.001)  # before the peak
    assert unit_hydrograph._arrived_frac(np.array([5.0, 9.0])).tolist() == [1.0, 1.0]


def test_the_peak_of_one_inch_on_a_square_mile():
    # NEH 630 ch. 16: 484 cfs at 1 sq mi, 1 in and 1 h to peak; the table's own area gives 645.333 / 1.33595 = 483.05.
    step_h = 0.002
    water_ft3 = 5280.0**2 / 12.0
    delayed = delay_inflow(inflow(water_ft3, step_h=step_h), time_of_concentration_h=(1.0 - step_h / 2) / 0.6)
    peak_cfs = delayed.volume_m3.max() / (step_h * 3600.0)
    assert peak_cfs == pytest.approx(483.05, rel=2e-4)
    assert peak_cfs == pytest.approx(484.0, rel=0.003)
    assert (delayed.volume_m3.argmax() + 0.5) * step_h == pytest.approx(1.0, abs=step_h)


@settings(max_examples=60, deadline=None)
@given(inflows, st.floats(0.02, 5.0))
def test_water_is_delayed_not_lost(flow, hours):
    delayed = delay_inflow(flow, time_of_concentration_h=hours)
    assert delayed.total_m3 == pytest.approx(flow.total_m3, rel=1e-9, abs=1e-12)
    so_far = np.cumsum(flow.volume_m3)
    assert (np.cumsum(delayed.volume_m3)[: so_far.size] <= so_far * (1 + 1e-9) + 1e-12).all()
    assert delayed.volume_m3.max() <= flow.volume_m3.max() * (1 + 1e-9)


def test_no_travel_time_is_refused():
    with pytest.raises(InputError):
        delay_inflow(inflow(1.0), time_of_concentration_h=0.0)
