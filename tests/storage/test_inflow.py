import numpy as np
import pytest

from screening.errors import InputError
from screening.storage.hyetographs import nrcs_hyetograph, uniform_hyetograph
from screening.storage.inflow import DrainingArea, Inflow, runoff_inflow
from screening.storm.design_storm import runoff_depth_mm
from screening.units import M3_PER_FT3, M_PER_FT, MM_PER_IN


def test_one_inch_on_a_thousand_square_feet():
    # 83.33 cu ft = 623.4 gal, by arithmetic; a curve number of 100 sheds all.
    inflow = runoff_inflow(uniform_hyetograph(MM_PER_IN, duration_h=1.0), [DrainingArea(1000 * M_PER_FT**2, 100.0)])
    assert inflow.total_m3 / M3_PER_FT3 == pytest.approx(83.33, abs=0.005)
    assert inflow.total_m3 / M3_PER_FT3 * 1728 / 231 == pytest.approx(623.4, abs=0.05)


def test_runoff_of_the_steps_adds_up_to_that_of_the_storm():
    storm = nrcs_hyetograph(4 * MM_PER_IN)
    inflow = runoff_inflow(storm, [DrainingArea(200.0, 98.0), DrainingArea(300.0, 75.0)])
    each = runoff_depth_mm(4 * MM_PER_IN, np.array([98.0, 75.0])) / 1000.0
    assert inflow.total_m3 == pytest.approx(float(each @ [200.0, 300.0]), rel=1e-12)
    assert inflow.volume_m3[0] == 0.0  # the initial abstraction comes first


def test_roof_and_lawn_are_not_averaged():
    # Half 98, half 39, 3 in: 1.38 in of runoff on average, not the 0.65 in of curve number 68.5 (TR-55 eq. 2-1).
    storm = uniform_hyetograph(3 * MM_PER_IN, duration_h=6.0)
    inflow = runoff_inflow(storm, [DrainingArea(500.0, 98.0), DrainingArea(500.0, 39.0)])
    assert inflow.total_m3 * 1000.0 / 1000.0 / MM_PER_IN == pytest.approx(1.38, abs=0.01)


def test_impossible_inflow_is_refused():
    with pytest.raises(InputError):
        DrainingArea(100.0, 101.0)
    with pytest.raises(InputError):
        DrainingArea(0.0, 98.0)
    with pytest.raises(InputError):
        Inflow(0.1, np.array([np.nan]))
