import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from screening.errors import InputError
from screening.hydraulics.channel import (
    N_STEPS,
    Channel,
    critical_depths_m,
    find_profile,
)
from screening.hydraulics.channel_capacity import largest_inflow_m3_s, storage_m3
from screening.hydraulics.manning import critical_depth_m, normal_depth_m
from screening.hydraulics.sections import GRAVITY_M_S2, TrenchSection
from tests.hydraulics.us import CFS, FT, IN

# Common practice, no published source: a heavy precast unit 6 ft long, 6.5 in wide at its base and 9 in at its top,
# 14.5 in deep.
HEAVY = TrenchSection(6.5 * IN, 9 * IN, 14.5 * IN)
SMOOTH = 1e-9


@pytest.mark.parametrize(
    ("width_ft", "flow_cfs", "critical_ft", "start_ft"), [(1 / 3, 0.25, 0.2595, 0.449), (0.5, 0.5, 0.3143, 0.5444)]
)
def test_level_trench_without_friction(width_ft, flow_cfs, critical_ft, start_ft):
    # Chow 1959 chapter 12, from memory: yc = (q2/g)^(1/3) at the free outfall, sqrt(3) yc at the closed end.
    channel = Channel(section=TrenchSection(width_ft * FT, width_ft * FT, FT), length_m=10 * FT, roughness=SMOOTH)
    profile = find_profile(channel, inflow_m3_s=flow_cfs * CFS)
    assert profile.depth_m[-1] / FT == pytest.approx(critical_ft, abs=0.001)
    assert profile.depth_m[0] / FT == pytest.approx(start_ft, abs=0.001)
    assert profile.depth_m[0] == pytest.approx(math.sqrt(3.0) * profile.depth_m[-1], rel=1e-9)
    # In between momentum and pressure keep their sum: 2 (Q/QL)2 yc3 / y + y2 = 3 yc2.
    share, ratio = profile.x_m / channel.length_m, profile.depth_m / profile.depth_m[-1]
    assert 2.0 * share**2 / ratio + ratio**2 == pytest.approx(np.full(N_STEPS + 1, 3.0), rel=1e-6)


@pytest.mark.parametrize("slope", [0.0, 0.002, 0.004])
@pytest.mark.parametrize("section", [TrenchSection(0.15, 0.15, 0.4), HEAVY])
def test_profile_agrees_with_the_differential_equation(section, slope):
    # dy/dx = (S0 - Sf - 2 Q q / (g A2)) / (1 - F2): Chow 1959 chapter 12, from memory; solved by scipy from a held
    # depth at the outlet, where it is not singular.
    channel, inflow = Channel(section=section, length_m=12.0, invert_slope=slope), 0.008
    held = 1.4 * critical_depth_m(section, inflow)

    def rise(x, y):
        flow, depth = inflow * x / 12.0, float(y[0])
        area = section.area_m2(depth)
        friction = (0.013 * flow / area) ** 2 / (area / section.wetted_perimeter_m(depth)) ** (4 / 3)
        lateral = 2 * flow * inflow / 12.0 / (GRAVITY_M_S2 * area**2)
        froude2 = flow**2 * section.surface_width_m(depth) / (GRAVITY_M_S2 * area**3)
        return [(slope - friction - lateral) / (1 - froude2)]

    theirs = solve_ivp(rise, (12.0, 0.0), [held], rtol=1e-9, atol=1e-12, t_eval=[12.0, 6.0, 0.0]).y[0]
    ours = find_profile(channel, inflow_m3_s=inflow, outlet_depth_m=held).depth_m[[-1, N_STEPS // 2, 0]]
    assert ours == pytest.approx(theirs, rel=2e-5)


def test_a_long_channel_with_no_inflow_runs_at_normal_depth():
    channel = Channel(section=TrenchSection(0.2, 0.2, 0.5), length_m=200.0, invert_slope=0.002)
    profile = find_profile(channel, inflow_m3_s=0.0, start_flow_m3_s=0.01, n_steps=800)
    normal = normal_depth_m(channel.section, flow_m3_s=0.01, slope=0.002, roughness=0.013)
    assert normal > profile.depth_m[-1]
    assert profile.depth_m[0] == pytest.approx(normal, rel=1e-4)


@pytest.mark.parametrize("slope", [0.0, 0.005, 0.02])
def test_depth_settles_as_steps_are_halved(slope):
    channel = Channel(section=TrenchSection(4 * IN, 4 * IN, FT), length_m=20 * FT, invert_slope=slope)
    deepest = [
        find_profile(channel, inflow_m3_s=0.2 * CFS, n_steps=n).depth_m.max()
        for n in (N_STEPS // 4, N_STEPS, 8 * N_STEPS)
    ]
    assert deepest[1] == pytest.approx(deepest[2], rel=5e-4)
    assert abs(deepest[1] - deepest[2]) < abs(deepest[0] - deepest[2])


def test_on_a_steep_channel_depth_is_critical_and_an_upper_bound():
    channel = Channel(section=TrenchSection(0.2, 0.2, 0.5), length_m=30.0, invert_slope=0.05)
    profile = find_profile(channel, inflow_m3_s=0.0, start_flow_m3_s=0.01)
    critical = critical_depth_m(channel.section, 0.01)
    normal = normal_depth_m(channel.section, flow_m3_s=0.01, slope=0.05, roughness=0.013)
    assert normal < critical
    assert profile.depth_m == pytest.approx(np.full(N_STEPS + 1, critical))


def test_a_held_outlet_without_flow_is_a_level_pool():
    channel = Channel(section=TrenchSection(0.2, 0.3, 0.5), length_m=10.0, invert_slope=0.01)
    profile = find_profile(channel, inflow_m3_s=0.0, outlet_depth_m=0.3, n_steps=1000)
    assert profile.depth_m == pytest.approx(0.3 - 0.01 * (10.0 - profile.x_m), abs=2e-5)


@settings(max_examples=25, deadline=None)
@given(
    width=st.floats(0.08, 0.4),
    flare=st.floats(0.0, 0.2),
    slope=st.floats(0.0, 0.03),
    inflow=st.floats(1e-4, 0.05),
    scale=st.floats(0.2, 5.0),
)
def test_scaled_by_froude_the_profile_keeps_its_shape(width, flare, slope, inflow, scale):
    # Lengths by k, flow by k^(5/2), Manning's n by k^(1/6): the equations do not change.
    def depth(k):
        section = TrenchSection(width * k, (width + flare) * k, 0.5 * k)
        channel = Channel(section=section, length_m=8.0 * k, invert_slope=slope, roughness=0.013 * k ** (1 / 6))
        return find_profile(channel, inflow_m3_s=inflow * k**2.5, n_steps=20).depth_m

    assert depth(scale) == pytest.approx(scale * depth(1.0), rel=1e-4, abs=1e-7)


@settings(max_examples=25, deadline=None)
@given(flows=st.tuples(st.floats(1e-4, 0.05), st.floats(1e-4, 0.05)), slope=st.floats(0.0, 0.02))
def test_more_water_stands_deeper_everywhere(flows, slope):
    channel = Channel(section=HEAVY, length_m=6.0, invert_slope=slope)
    low, high = (find_profile(channel, inflow_m3_s=q, n_steps=20) for q in sorted(flows))
    assert (low.depth_m <= high.depth_m + 1e-9).all()
    assert low.flow_m3_s[-1] == pytest.approx(min(flows)) and low.flow_m3_s[0] == 0.0


@pytest.mark.parametrize("inflow", [0.0, 1e-300, 1e-140, 1e-10, 2e-9, 1e-7])
@pytest.mark.parametrize("section", [HEAVY, TrenchSection(0.0, 0.4, 0.2)])
def test_next_to_no_water_is_next_to_no_depth(section, inflow):
    profile = find_profile(Channel(section=section, length_m=6.0), inflow_m3_s=inflow, outlet_depth_m=inflow)
    assert (profile.depth_m >= 0.0).all() and profile.depth_m.max() < 0.005


def test_friction_and_held_water_raise_it_and_slope_lowers_it():
    level = Channel(section=HEAVY, length_m=12.0)

    def start(channel, **more):
        return find_profile(channel, inflow_m3_s=0.02, **more).depth_m[0]

    assert start(dataclasses.replace(level, roughness=0.02)) > start(level)
    assert start(level, outlet_depth_m=0.3) > start(level)
    assert start(dataclasses.replace(level, invert_slope=0.01)) < start(level)


def test_where_it_overflows():
    # A level channel is deepest at its closed end.
    channel = Channel(section=TrenchSection(0.1, 0.1, 0.15), length_m=10.0)
    assert find_profile(channel, inflow_m3_s=0.002).overflow_x_m is None
    profile = find_profile(channel, inflow_m3_s=0.008)
    first, last = profile.overflow_x_m
    assert first == 0.0 and 0.0 < last < 10.0
    assert profile.freeboard_min_m == profile.freeboard_m[0] < 0.0
    assert profile.depth_m + profile.freeboard_m == pytest.approx(np.full(N_STEPS + 1, 0.15))
    with pytest.raises(ValueError, match="read-only"):
        profile.depth_m[0] = 0.0


def test_largest_inflow_fills_the_channel_to_the_grate():
    channel = Channel(section=HEAVY, length_m=20 * FT)
    largest = largest_inflow_m3_s(channel)
    assert find_profile(channel, inflow_m3_s=largest).freeboard_min_m == pytest.approx(0.0, abs=1e-4)
    assert find_profile(channel, inflow_m3_s=largest).overflow_x_m is None
    assert find_profile(channel, inflow_m3_s=1.001 * largest).overflow_x_m is not None
    assert largest_inflow_m3_s(channel, freeboard_min_m=0.05) < largest
    assert largest_inflow_m3_s(channel, freeboard_min_m=1.0) == 0.0
    assert largest_inflow_m3_s(channel, outlet_depth_m=lambda flow: 0.3) < largest
    assert largest_inflow_m3_s(channel, outlet_depth_m=lambda flow: None if flow > 0.01 else 0.0) == pytest.approx(
        0.01, abs=2e-5
    )


@settings(max_examples=50, deadline=None)
@given(base=st.just(0.0) | st.floats(0.01, 0.5), flare=st.just(0.0) | st.floats(0.01, 1.0), flow=st.floats(1e-8, 1.0))
def test_critical_depths_are_those_of_one_flow_at_a_time(base, flare, flow):
    section = TrenchSection(base, base + flare + (0.01 if base + flare == 0.0 else 0.0), 0.4)
    flows = np.array([0.0, flow, flow / 3.0])
    one_by_one = [critical_depth_m(section, float(at)) for at in flows]
    assert critical_depths_m(section, flows) == pytest.approx(np.array(one_by_one), rel=1e-6, abs=1e-9)


def test_what_the_outlet_takes_at_most_is_the_limit():
    channel = Channel(section=HEAVY, length_m=20 * FT)
    assert largest_inflow_m3_s(channel, at_most_m3_s=0.01) == 0.01
    free = largest_inflow_m3_s(channel)
    assert largest_inflow_m3_s(channel, at_most_m3_s=2 * free) == pytest.approx(free, rel=1e-3)


def test_largest_inflow_of_a_level_trench_without_friction():
    # y0 = sqrt(3) yc at the brim: q = sqrt(g) (d / sqrt(3))^(3/2).
    channel = Channel(section=TrenchSection(0.3, 0.3, 0.2), length_m=5.0, roughness=SMOOTH)
    by_hand = 0.3 * math.sqrt(GRAVITY_M_S2) * (0.2 / math.sqrt(3.0)) ** 1.5
    assert largest_inflow_m3_s(channel) == pytest.approx(by_hand, rel=5e-4)


def test_a_six_foot_unit_holds_about_4_7_cubic_feet():
    # Common practice, no published source, for the measures of the unit; by hand (6.5 + 9)/2 x 14.5 x 72 in3.
    assert storage_m3(Channel(section=HEAVY, length_m=6 * FT)) / CFS == pytest.approx(4.7, abs=0.05)
    assert storage_m3(Channel(section=HEAVY, length_m=6 * FT)) / IN**3 == pytest.approx(7.75 * 14.5 * 72)


def test_storage_of_falling_channels():
    box = TrenchSection(0.2, 0.2, 0.3)
    # Invert and grate fall alike, 0.1 m over 10 m: a wedge is lost at the high end.
    assert storage_m3(Channel(section=box, length_m=10.0, invert_slope=0.01)) == pytest.approx(0.2 * 10.0 * 0.25)
    # A level grate over a falling invert fills to it everywhere.
    assert storage_m3(Channel(section=box, length_m=10.0, invert_slope=0.01, grate_slope=0.0)) == pytest.approx(
        0.2 * 10.0 * 0.25
    )
    # So steep that the pool ends on the way.
    assert storage_m3(Channel(section=box, length_m=10.0, invert_slope=0.06)) == pytest.approx(0.2 * 0.3 * 5.0 / 2.0)
    # A grate that falls away from the outlet spills at the closed end.
    tilted = Channel(section=box, length_m=10.0, grate_slope=-0.01)
    assert tilted.brim_depth_m(0.0) == pytest.approx(0.2)
    assert storage_m3(tilted) == pytest.approx(0.2 * 10.0 * 0.2)


def test_a_level_grate_leaves_less_room_at_the_closed_end():
    channel = Channel(section=HEAVY, length_m=10.0, invert_slope=0.01, grate_slope=0.0)
    profile = find_profile(channel, inflow_m3_s=0.005)
    assert profile.depth_m[0] + profile.freeboard_m[0] == pytest.approx(HEAVY.depth_m - 0.1)
    assert profile.depth_m[-1] + profile.freeboard_m[-1] == pytest.approx(HEAVY.depth_m)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"length_m": 0.0}, "length_m"),
        ({"invert_slope": -0.01}, "invert_slope"),
        ({"roughness": 0.0}, "roughness"),
        ({"grate_slope": math.nan}, "grate_slope"),
        ({"invert_slope": 0.05, "grate_slope": 0.0}, "closed end"),
    ],
)
def test_impossible_channels_are_refused(more, words):
    with pytest.raises(InputError, match=words):
        Channel(**{"section": HEAVY, "length_m": 10.0, **more})
    with pytest.raises(InputError, match="inflow_m3_s"):
        find_profile(Channel(section=HEAVY, length_m=1.0), inflow_m3_s=-0.1)
