"""Published methods that the toolkit does not use, by their own examples, and its own results beside them."""

import numpy as np
import pytest

from screening.depressions.hierarchy import build_depression_hierarchy, volume_at_level
from screening.hydraulics.manning import full_flow_m3_s, normal_depth_m, velocity_m_s
from screening.hydraulics.sections import PipeSection, TrenchSection
from screening.schema.criteria import Criteria
from screening.storage.hyetographs import nrcs_hyetograph
from screening.storage.inflow import DrainingArea, runoff_inflow
from screening.storage.unit_hydrograph import delay_inflow
from screening.storm.peak_methods import (
    UNPAVED_SPEED_M_S,
    graphical_peak_m3_s,
    rational_peak_m3_s,
    sheet_flow_time_h,
)
from screening.terrain.surface import build_surface
from tests import second_methods as other
from tests.blocks import make_block

FT, IN = 0.3048, 25.4
SQUARE_MILE_M2 = (5280 * FT) ** 2


def test_a_published_path_of_sheet_gutter_and_pipe():
    # HEC-22 (3rd ed.) example 3-2, pages 3-11 to 3-13.
    pipe = PipeSection(15 / 12 * FT)
    speed = full_flow_m3_s(pipe, slope=0.008, roughness=0.011) / (np.pi * (15 / 24 * FT) ** 2)
    assert speed / FT == pytest.approx(5.58, abs=0.03)
    pipe_min = 479 * FT / speed / 60
    assert pipe_min == pytest.approx(1.4, abs=0.05)
    waterway = other.intercept_speed_ft_s(0.457, 0.006)
    assert waterway == pytest.approx(1.16, abs=0.005)
    assert 259 / waterway / 60 == pytest.approx(3.7, abs=0.05)
    for in_h, minutes in ((3.4, 42.1), (2.7, 46.2)):
        assert other.kinematic_sheet_time_min(0.41, 223, 0.005, in_h) == pytest.approx(minutes, abs=0.1)
    assert 47.0 + 3.7 + pipe_min == pytest.approx(52, abs=0.5)


def test_the_toolkit_s_speed_of_unpaved_ground_is_the_printed_one_of_both_documents():
    # HEC-22 Table 3-3: k = 0.491 for unpaved; TR-55 appendix F prints 16.1345 ft/s at a slope of 1.
    assert pytest.approx(other.intercept_speed_ft_s(0.491, 1.0), rel=0.003) == UNPAVED_SPEED_M_S / FT


@pytest.mark.parametrize("start", [1.0, 20.0, 300.0])
def test_the_kinematic_time_does_not_depend_on_where_one_starts(start):
    def intensity(minutes):
        return 60.0 / (minutes + 10.0) ** 0.8  # a smooth made-up curve [in/h]

    found = other.kinematic_time_min(0.41, 223, 0.005, intensity, other_min=5.1, start_min=start)
    assert found == pytest.approx(other.kinematic_time_min(0.41, 223, 0.005, intensity, other_min=5.1), abs=0.1)
    assert found == pytest.approx(other.kinematic_sheet_time_min(0.41, 223, 0.005, intensity(found + 5.1)), abs=0.1)


@pytest.mark.parametrize(
    ("found", "expected", "tolerance"),
    [
        (other.channel_time_min(1000, 0.02), 7.18, 0.02),
        (other.overland_time_min(0.35, 200, 0.02), 15.15, 0.02),
        (other.watershed_lag_h(1000, 75, 2.0), 0.261, 0.001),
        (other.watershed_lag_h(1000, 75, 2.0) / 0.6, 0.435, 0.001),
        (other.sheet_length_limit_ft(0.24, 0.01), 41.7, 0.1),
    ],
)
def test_empirical_times(found, expected, tolerance):
    # Kirpich 1940; FAA AC 150/5320; NEH 630 chapter 15: worked from formulas that are from memory.
    assert found == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("n", "length_ft", "slope"), [(0.011, 60, 0.05), (0.24, 60, 0.05), (0.15, 100, 0.02)])
def test_sheet_flow_lies_beside_the_kinematic_wave(n, length_ft, slope):
    """TR-55 put one rain into the kinematic wave; with the intensities of a made-up place both stay within a half."""

    def intensity(minutes):
        return 3.6 / 24 * (24 * 60 / minutes) ** 0.68  # 3.6 in over 24 h, falling harder over less

    ours = 60 * sheet_flow_time_h(n, length_ft * FT, slope, two_year_rain_mm=3.6 * IN)
    assert ours == pytest.approx(other.kinematic_time_min(n, length_ft, slope, intensity), rel=0.5)


@pytest.mark.parametrize(
    ("ratio", "late", "early"),
    [(0.3, 0.3789, 0.2887), (0.5, 0.2765, 0.1788), (0.7, 0.2088, 0.1380), (0.8, 0.1760, 0.1326)],
)
def test_published_storage_ratios(ratio, late, early):
    # TR-55 (1986) Table F-2.
    assert other.storage_ratio(ratio, "I") == pytest.approx(early, abs=5e-4)
    assert other.storage_ratio(ratio, "II") == pytest.approx(late, abs=5e-4)


def test_published_storages():
    # TR-55 (1986) example 6-1: 75 acres, 3.4 in, 360 cfs in, 180 out, Type II.
    assert other.storage_ratio(180 / 360, "II") == pytest.approx(0.28, abs=0.005)
    assert 75 * 3.4 / 12 * other.storage_ratio(180 / 360, "II") == pytest.approx(5.9, abs=0.1)
    # HEC-22 example 8-1, pages 8-10 and 8-11.
    assert other.triangular_storage_ft3(31.1, 19.4, 5148) == pytest.approx(30116, abs=1)
    # The ratio was read off a figure as .23; the text misprints the volume, 67518 ft3, as 167518.
    assert 67518 * round(other.storage_ratio(0.62, "II"), 2) == pytest.approx(15529, rel=0.01)


def test_sheet_flow_over_a_lawn_takes_as_long_as_by_an_empirical_formula():
    # FAA AC 150/5320 (from memory) at a coefficient of .35, beside dense grass of TR-55 Table 3-1.
    ours = 60 * sheet_flow_time_h(0.24, 60 * FT, 0.05, two_year_rain_mm=3.6 * IN)
    assert ours == pytest.approx(other.overland_time_min(0.35, 60, 0.05), rel=0.25)


@pytest.mark.parametrize("hours", [0.2, 0.5, 1.0, 2.0])
@pytest.mark.parametrize(("rain_in", "number"), [(6.0, 75.0), (5.0, 90.0), (8.0, 80.0)])
def test_graphical_peaks_are_those_of_a_routed_hydrograph(hours, rain_in, number):
    """The graphical method was drawn from hydrographs such as this: Type II rain, runoff, unit hydrograph."""
    area = SQUARE_MILE_M2 / 100
    rain = nrcs_hyetograph(rain_in * IN, step_h=0.02)
    arriving = delay_inflow(runoff_inflow(rain, [DrainingArea(area, number)]), time_of_concentration_h=hours)
    routed = float(arriving.volume_m3.max()) / (arriving.step_h * 3600)
    runoff_mm = arriving.total_m3 / area * 1000
    graphical = graphical_peak_m3_s(runoff_mm, area, hours, 0.2 * (1000 / number - 10) / rain_in, distribution="II")
    assert float(graphical) == pytest.approx(routed, rel=0.1)


def test_published_grate_on_a_slope():
    # HEC-22 example 4-18, page 4-86: front flow .40, side capture .32, so .59 of 9.9 cfs; 4.07 cfs run on.
    efficiency = other.grate_efficiency(0.40, 0.32)
    assert efficiency == pytest.approx(0.59, abs=0.005)
    assert 9.9 * round(efficiency, 2) == pytest.approx(5.83, abs=0.05)
    assert 9.9 * (1 - round(efficiency, 2)) == pytest.approx(4.07, abs=0.05)


@pytest.mark.parametrize(
    ("bottom_ft", "slope", "front", "side", "intercepted"),
    [
        # HEC-22 examples 4-17 and 4-18 (p. 4-85 to 4-86): 9.9 cfs in a ditch, n 0.03, sides 6 to 1, grate 2 by 2 ft.
        # Of 4-18 the printed shares and flow were read and its ditch is from memory; of 4-17 the ditch and the front
        # share are from memory, the rest is worked out by hand from the equations.
        (3.9, 0.02, 0.30, 0.39, 5.70),
        (2.0, 0.03, 0.40, 0.32, 5.83),
    ],
)
def test_grates_in_a_ditch_at_the_normal_depth_of_the_toolkit(bottom_ft, slope, front, side, intercepted):
    ditch = TrenchSection.with_side_slope(bottom_ft * FT, side_slope=6.0, depth_m=2.0 * FT)
    depth = normal_depth_m(ditch, flow_m3_s=9.9 * FT**3, slope=slope, roughness=0.03)
    front_share = 2.0 / (bottom_ft + 6.0 * depth / FT)
    assert front_share == pytest.approx(front, abs=0.005)
    speed = velocity_m_s(ditch, depth_m=depth, slope=slope, roughness=0.03) / FT
    taken = other.side_capture(speed, 1 / 6, 2.0)
    assert taken == pytest.approx(side, abs=0.005)
    assert 9.9 * other.grate_efficiency(front_share, taken) == pytest.approx(intercepted, abs=0.02)


def test_published_spacing_of_inlets_along_a_kerb():
    # HEC-22 example 4-15, from memory: 2 % across and 3 % along, n 0.016, 6.6 ft of spread carry 1.35 cfs, which
    # 32.5 ft of pavement (C 0.73, 7.1 in/h) give in 349 ft; 0.61 of it comes over a grate 2 ft wide.
    carried = other.gutter_flow_cfs(0.016, 0.02, 0.03, 6.6)
    assert carried == pytest.approx(1.35, abs=0.01)
    assert other.front_flow_share(2.0, 6.6) == pytest.approx(0.61, abs=0.01)
    peak = float(rational_peak_m3_s(0.73, 7.1 * IN, 349 * FT * 32.5 * FT)) / FT**3
    assert peak / 1.00833 == pytest.approx(1.35, abs=0.005)


def test_published_inlets_beside_a_sag():
    # HEC-22 example 4-16, from memory: a vertical curve of 500 ft from -2.5 to 2.5 % (K 100 ft) under 0.2 ft of water;
    # inlets where 37 % of it is left stand sqrt(74 d K) = 38.5 ft from the bottom. The pool of that depth in the same
    # curve, cell by cell, ends there.
    away = (np.arange(4001) - 2000) * 0.1
    curve = away**2 / (200 * 100)
    elev = np.full((3, away.size), 9.0)
    elev[1] = curve
    block = make_block(elev * FT, cell_m=0.1 * FT)
    tree = build_depression_hierarchy(build_surface(block, criteria=Criteria()), criteria=Criteria())
    level = 0.37 * 0.2 * FT
    up, down = (volume_at_level(tree, 1, level + step) for step in (1e-4, -1e-4))
    reach_ft = (up - down) / 2e-4 / (0.1 * FT) / 2 / FT
    assert reach_ft == pytest.approx(np.sqrt(74 * 0.2 * 100), abs=0.1)
    assert reach_ft == pytest.approx(38.5, abs=0.1)
