import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from screening.errors import InputError
from screening.hydraulics.manning import (
    ROUGHNESS,
    critical_depth_m,
    depth_of_largest_flow_m,
    discharge_m3_s,
    full_flow_m3_s,
    normal_depth_m,
    slope_for_flow,
    slope_for_velocity,
    velocity_m_s,
)
from screening.hydraulics.sections import PipeSection, TrenchSection
from tests.hydraulics.us import CFS, FT, GPM, IN

DITCH = TrenchSection.with_side_slope(2.62 * FT, side_slope=3.0, depth_m=3.0 * FT)


@pytest.mark.parametrize(("roughness", "diameter_ft"), [(0.013, 1.69), (0.017, 1.87)])
def test_diameter_of_hec22_example_7_1(roughness, diameter_ft):
    # HEC-22 (2009) example 7-1, p. 7-5: 17.6 cfs at 1.5 %.
    found = brentq(
        lambda d: full_flow_m3_s(PipeSection(d), slope=0.015, roughness=roughness) - 17.6 * CFS, 0.1 * FT, 5 * FT
    )
    assert found / FT == pytest.approx(diameter_ft, abs=0.01)


@pytest.mark.parametrize(
    ("diameter_ft", "roughness", "flow_cfs", "velocity_ft_s"), [(1.75, 0.013, 19.3, 8.0), (2.0, 0.017, 21.1, 6.8)]
)
def test_full_pipes_of_hec22_example_7_2(diameter_ft, roughness, flow_cfs, velocity_ft_s):
    # HEC-22 (2009) example 7-2, p. 7-6, whose factor of flow is printed 0.46 for 0.463: 0.7 % less.
    pipe = PipeSection(diameter_ft * FT)
    given_ = {"slope": 0.015, "roughness": roughness}
    assert full_flow_m3_s(pipe, **given_) / CFS == pytest.approx(flow_cfs, rel=0.007)
    assert velocity_m_s(pipe, depth_m=pipe.depth_m, **given_) / FT == pytest.approx(velocity_ft_s, abs=0.1)


def test_full_pipe_of_hec22_example_3_2():
    # HEC-22 (2009) example 3-2, p. 3-11: 15 in, n 0.011, 0.8 %: 5.58 ft/s.
    pipe = PipeSection(15 * IN)
    assert velocity_m_s(pipe, depth_m=15 * IN, slope=0.008, roughness=0.011) / FT == pytest.approx(5.58, abs=0.03)


@pytest.mark.parametrize(
    ("diameter_in", "roughness", "flow_cfs"),
    [
        (4, 0.013, 0.190),
        (6, 0.013, 0.561),
        (8, 0.013, 1.208),
        (10, 0.013, 2.191),
        (12, 0.013, 3.563),
        (6, 0.012, 0.608),
        (6, 0.009, 0.811),
    ],
)
def test_small_pipes_at_one_percent(diameter_in, roughness, flow_cfs):
    # Recomputed from Manning's equation in feet with 1.486.
    flow = full_flow_m3_s(PipeSection(diameter_in * IN), slope=0.01, roughness=roughness)
    assert flow / CFS == pytest.approx(flow_cfs, rel=0.005)


def test_small_pipes_in_gallons_a_minute():
    for diameter_in, gpm in ((4, 85.4), (6, 251.8), (8, 542.0)):
        flow = full_flow_m3_s(PipeSection(diameter_in * IN), slope=0.01, roughness=0.013)
        assert flow / GPM == pytest.approx(gpm, rel=0.005)


def test_velocity_agrees_with_an_independent_library():
    open_flow = pytest.importorskip("fluids.open_flow")
    for section, depth in (
        (PipeSection(0.15), 0.06),
        (PipeSection(0.3), 0.3),
        (DITCH, 0.5),
        (TrenchSection(0.1, 0.15, 0.3), 0.2),
    ):
        for slope, roughness in ((0.0, 0.013), (0.002, 0.009), (0.05, 0.03)):
            radius = section.area_m2(depth) / section.wetted_perimeter_m(depth)
            theirs = open_flow.V_Manning(Rh=radius, S=slope, n=roughness)
            assert velocity_m_s(section, depth_m=depth, slope=slope, roughness=roughness) == pytest.approx(theirs)


@pytest.mark.parametrize(
    ("diameter_in", "slopes"),
    [(8, (0.0064, 0.0075, 0.0256)), (10, (0.0048, 0.0056, 0.0190)), (12, (0.0037, 0.0044, 0.0149))],
)
def test_least_slopes_of_hec22_table_7_7(diameter_in, slopes):
    # HEC-22 (2009) Table 7-7: 3 ft/s when full, n 0.012, 0.013, 0.024.
    for roughness, slope in zip((0.012, 0.013, 0.024), slopes, strict=True):
        found = slope_for_velocity(PipeSection(diameter_in * IN), velocity_m_s=3.0 * FT, roughness=roughness)
        assert found == pytest.approx(slope, rel=0.02)


def test_part_full_pipe_has_its_maxima_short_of_full():
    # Chow 1959, from memory: Q/Qfull 1.0757 at 0.938 D; V/Vfull 1.140 at 0.813 D; half full Q 0.5, V 1.
    pipe, given_ = PipeSection(0.2), {"slope": 0.01, "roughness": 0.013}
    full, full_velocity = full_flow_m3_s(pipe, **given_), velocity_m_s(pipe, depth_m=0.2, **given_)
    deepest = depth_of_largest_flow_m(pipe)
    assert deepest / 0.2 == pytest.approx(0.938, abs=0.001)
    assert discharge_m3_s(pipe, depth_m=deepest, **given_) / full == pytest.approx(1.0757, abs=0.001)
    depths = np.linspace(0.001, 0.2, 4000)
    speeds = np.array([velocity_m_s(pipe, depth_m=float(d), **given_) for d in depths])
    assert depths[speeds.argmax()] / 0.2 == pytest.approx(0.813, abs=0.001)
    assert speeds.max() / full_velocity == pytest.approx(1.140, abs=0.001)
    assert discharge_m3_s(pipe, depth_m=0.1, **given_) / full == pytest.approx(0.5, abs=1e-9)
    assert velocity_m_s(pipe, depth_m=0.1, **given_) / full_velocity == pytest.approx(1.0, abs=1e-9)


def test_flow_and_normal_depth_of_hec22_example_5_1():
    # HEC-22 (2009) example 5-1, p. 5-6: n 0.03, S 0.01, d 1.64 ft; printed 59.7 cfs, unrounded 59.3.
    given_ = {"slope": 0.01, "roughness": 0.03}
    assert discharge_m3_s(DITCH, depth_m=1.64 * FT, **given_) / CFS == pytest.approx(59.7, rel=0.01)
    found = normal_depth_m(DITCH, flow_m3_s=59.27 * CFS, **given_)
    assert found / FT == pytest.approx(1.640, abs=1e-3)


def test_square_channel():
    # 6 x 6 in, n 0.012, 0.5 %: 0.663 cfs by Manning's equation.
    channel = TrenchSection(6 * IN, 6 * IN, 6 * IN)
    assert full_flow_m3_s(channel, slope=0.005, roughness=0.012) / CFS == pytest.approx(0.663, rel=0.005)
    assert depth_of_largest_flow_m(channel) == 6 * IN


SECTIONS = st.one_of(
    st.builds(PipeSection, st.floats(0.05, 1.0)),
    st.builds(
        lambda b, z, d: TrenchSection.with_side_slope(b, side_slope=z, depth_m=d),
        st.floats(0.05, 1.0),
        st.floats(0.0, 3.0),
        st.floats(0.05, 1.0),
    ),
)


@given(section=SECTIONS, share=st.floats(0.01, 1.0), slope=st.floats(1e-4, 0.2), roughness=st.floats(0.009, 0.05))
def test_normal_depth_is_the_inverse_of_flow(section, share, slope, roughness):
    depth = share * depth_of_largest_flow_m(section)
    flow = discharge_m3_s(section, depth_m=depth, slope=slope, roughness=roughness)
    found = normal_depth_m(section, flow_m3_s=flow, slope=slope, roughness=roughness)
    # At a pipe's largest flow the depth is flat in the flow.
    assert found == pytest.approx(depth, rel=1e-3)
    assert discharge_m3_s(section, depth_m=found, slope=slope, roughness=roughness) == pytest.approx(flow, rel=1e-7)
    assert slope_for_flow(section, flow_m3_s=flow, roughness=roughness) <= slope * 1.08**2


@given(section=SECTIONS, flow=st.floats(1e-5, 0.2))
def test_critical_flow_has_a_froude_number_of_one(section, flow):
    depth = critical_depth_m(section, flow)
    area, width = section.area_m2(depth), section.surface_width_m(depth)
    if isinstance(section, PipeSection) and depth > 0.999 * section.depth_m:
        return
    assert flow**2 * width / (9.80665 * area**3) == pytest.approx(1.0, rel=1e-5)


def test_critical_depth_of_a_rectangle_has_a_closed_form():
    assert critical_depth_m(TrenchSection(0.4, 0.4, 0.1), 0.2) == pytest.approx((0.5**2 / 9.80665) ** (1 / 3))
    # A triangle on its tip: yc = (2 Q2 / (g z2))^(1/5) (Chow 1959, from memory).
    triangle = TrenchSection(0.0, 1.0, 0.25)
    assert critical_depth_m(triangle, 0.03) == pytest.approx((2 * 0.03**2 / (9.80665 * 4.0)) ** 0.2)
    assert critical_depth_m(triangle, 0.0) == 0.0


def test_what_a_section_cannot_carry_has_no_normal_depth():
    pipe = PipeSection(0.1)
    assert normal_depth_m(pipe, flow_m3_s=1.0, slope=0.01, roughness=0.013) is None
    assert normal_depth_m(pipe, flow_m3_s=0.001, slope=0.0, roughness=0.013) is None
    assert normal_depth_m(pipe, flow_m3_s=0.0, slope=0.0, roughness=0.013) == 0.0


def test_roughness_as_published():
    # HEC-22 (2009) Tables 3-4, 5-1 and 7-1.
    assert ROUGHNESS["concrete pipe"] == (0.010, 0.015)
    assert ROUGHNESS["smooth plastic pipe"] == (0.009, 0.015)
    assert ROUGHNESS["corrugated plastic pipe"] == (0.018, 0.025)
    assert ROUGHNESS["smooth PVC pipe"] == (0.009, 0.011)
    assert ROUGHNESS["concrete channel"] == (0.013, 0.013)
    assert ROUGHNESS["bare soil"] == (0.020, 0.020)
    assert ROUGHNESS["turf reinforcement"] == (0.030, 0.030)


@pytest.mark.parametrize(("slope", "roughness", "words"), [(-0.01, 0.013, "slope"), (0.01, 0.0, "roughness")])
def test_impossible_flow_is_refused(slope, roughness, words):
    with pytest.raises(InputError, match=words):
        velocity_m_s(PipeSection(0.1), depth_m=0.05, slope=slope, roughness=roughness)
    with pytest.raises(InputError, match="flow_m3_s"):
        critical_depth_m(PipeSection(0.1), -1.0)
