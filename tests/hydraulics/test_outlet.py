import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.errors import InputError
from screening.hydraulics.manning import critical_depth_m, normal_depth_m
from screening.hydraulics.outlet import OutletPipe, headwater_m, orifice_flow_m3_s, pipe_capacity_m3_s
from tests.hydraulics.us import CFS, FT, IN

PIPES = st.builds(
    OutletPipe,
    diameter_m=st.floats(0.05, 0.6),
    length_m=st.floats(1.0, 50.0),
    fall_m=st.floats(0.005, 3.0),
    roughness=st.floats(0.009, 0.03),
)


def test_orifice_of_hec22_example_8_5():
    # HEC-22 (2009) example 8-5, p. 8-22: D 0.49 ft under 3.3 ft: 0.908 sqrt(3.06) = 1.59 cfs.
    assert orifice_flow_m3_s(0.49 * FT, depth_m=3.3 * FT) / CFS == pytest.approx(1.59, rel=0.01)


def test_orifice_factor_in_feet_and_metres():
    # HEC-22 (2009) section 8.4: K D2 sqrt(H), K 3.78 in feet and 2.09 in metres for a coefficient of 0.6.
    assert orifice_flow_m3_s(FT, depth_m=1.5 * FT) / CFS == pytest.approx(3.78, rel=0.001)
    assert orifice_flow_m3_s(1.0, depth_m=1.5) == pytest.approx(2.09, rel=0.002)
    assert orifice_flow_m3_s(1.0, depth_m=0.4) == 0.0


def test_six_inch_pipe_at_one_percent():
    # 0.561 cfs and 2.86 ft/s, below the 3 ft/s of HEC-22 (2009) section 7.2.4.
    pipe = OutletPipe(diameter_m=6 * IN, length_m=100 * FT, fall_m=1 * FT)
    assert pipe.slope == pytest.approx(0.01)
    assert pipe.full_flow_m3_s / CFS == pytest.approx(0.561, rel=0.005)
    assert pipe.full_velocity_m_s / FT == pytest.approx(0.561 / (math.pi / 16), rel=0.005)


def test_water_before_a_steep_pipe_is_that_of_critical_entrance():
    pipe = OutletPipe(diameter_m=0.15, length_m=10.0, fall_m=0.5)
    flow = 0.2 * pipe.full_flow_m3_s
    critical = critical_depth_m(pipe.section, flow)
    velocity = flow / pipe.section.area_m2(critical)
    assert normal_depth_m(pipe.section, flow_m3_s=flow, slope=0.05, roughness=0.013) < critical
    assert headwater_m(pipe, flow) == pytest.approx(critical + 1.5 * velocity**2 / (2 * 9.80665))


def test_water_before_a_flat_pipe_is_that_of_uniform_flow():
    pipe = OutletPipe(diameter_m=0.15, length_m=10.0, fall_m=0.02)
    flow = 0.5 * pipe.full_flow_m3_s
    uniform = normal_depth_m(pipe.section, flow_m3_s=flow, slope=0.002, roughness=0.013)
    velocity = flow / pipe.section.area_m2(uniform)
    assert uniform > critical_depth_m(pipe.section, flow)
    assert headwater_m(pipe, flow) == pytest.approx(uniform + 1.5 * velocity**2 / (2 * 9.80665))


def test_a_drowned_entrance_is_an_orifice():
    pipe = OutletPipe(diameter_m=0.15, length_m=10.0, fall_m=3.0)
    flow = orifice_flow_m3_s(0.15, depth_m=0.8)
    assert flow < pipe.full_flow_m3_s
    assert headwater_m(pipe, flow) == pytest.approx(0.8)


@settings(max_examples=60, deadline=None)
@given(pipe=PIPES, shares=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)))
def test_water_before_a_pipe_rises_with_its_flow(pipe, shares):
    low, high = (share * pipe.full_flow_m3_s for share in sorted(shares))
    assert headwater_m(pipe, low) <= headwater_m(pipe, high) * (1 + 1e-6) + 1e-9


@settings(max_examples=60, deadline=None)
@given(pipe=PIPES, share=st.floats(0.05, 4.0))
def test_capacity_is_the_inverse_of_headwater_up_to_full_flow(pipe, share):
    depth = share * pipe.diameter_m
    capacity = pipe_capacity_m3_s(pipe, depth_m=depth)
    assert 0.0 < capacity <= pipe.full_flow_m3_s
    if capacity < pipe.full_flow_m3_s:
        assert headwater_m(pipe, capacity) == pytest.approx(depth, rel=1e-3)
    else:
        assert headwater_m(pipe, capacity) <= depth


@pytest.mark.parametrize("fall", [0.0, -0.2])
def test_a_pipe_without_fall_carries_nothing(fall):
    pipe = OutletPipe(diameter_m=0.15, length_m=10.0, fall_m=fall)
    assert pipe.full_flow_m3_s == pipe.full_velocity_m_s == 0.0
    assert pipe_capacity_m3_s(pipe, depth_m=0.5) == 0.0
    assert headwater_m(pipe, 0.001) is None
    assert headwater_m(pipe, 0.0) == 0.0


def test_more_than_full_is_refused_by_the_pipe():
    pipe = OutletPipe(diameter_m=0.1, length_m=10.0, fall_m=0.1)
    assert headwater_m(pipe, 1.01 * pipe.full_flow_m3_s) is None
    assert pipe_capacity_m3_s(pipe, depth_m=0.0) == 0.0


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ((0.0, 1.0, 0.1), "diameter_m"),
        ((0.1, 0.0, 0.1), "length_m"),
        ((0.1, 1.0, math.nan), "fall_m"),
        ((0.1, 1.0, 0.1, 0.0), "roughness"),
        ((0.1, 1.0, 0.1, 0.013, -0.1), "invert_drop_m"),
    ],
)
def test_impossible_pipes_are_refused(measures, words):
    with pytest.raises(InputError, match=words):
        OutletPipe(
            **dict(zip(("diameter_m", "length_m", "fall_m", "roughness", "invert_drop_m"), measures, strict=False))
        )
