"""Flows with a known answer: kinematic planes, normal depth, a cone; a dam break for information."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.motion.runs import FREE, mm_h, move

PLANES = ((0.01, 0.03, 50.0), (0.05, 0.03, 50.0), (0.10, 0.05, 100.0), (0.25, 0.05, 100.0), (0.50, 0.03, 100.0))
LENGTH_M, RAIN_S = 60.0, 1800.0


def _walled_strip(elev):
    is_wall = np.zeros(elev.shape, bool)
    is_wall[0] = is_wall[-1] = True
    return is_wall


def _foot_of_a_plane(slope, n, rain_mm_h, cell_m, *, is_turned=False):
    n_cells = int(LENGTH_M / cell_m)
    elev = np.tile((LENGTH_M - (np.arange(n_cells) + 0.5) * cell_m) * slope, (5, 1))
    is_wall = _walled_strip(elev)
    times, flows = [], []

    def watch(time_s, depth, flow_x, flow_y):
        times.append(time_s)
        flows.append(float(flow_y[n_cells, 2] if is_turned else flow_x[2, n_cells]))

    move(
        elev.T if is_turned else elev,
        end_s=2 * RAIN_S,
        rain_m_s=mm_h(rain_mm_h),
        rain_s=RAIN_S,
        cell_m=cell_m,
        roughness_n=n,
        is_wall=is_wall.T if is_turned else is_wall,
        watch=watch,
    )
    return np.array(times), np.array(flows)


def _kinematic(time_s, slope, n, rain_m_s):
    """Flow at the foot of a kinematic plane: Eagleson 1970, Dynamic Hydrology, chapter 15 (the place from memory)."""
    conveyance = np.sqrt(slope) / n
    full_s = (LENGTH_M / (conveyance * rain_m_s ** (2 / 3))) ** 0.6
    if time_s <= RAIN_S:
        return conveyance * (rain_m_s * min(time_s, full_s)) ** (5 / 3)

    def beyond(depth):
        behind = conveyance * depth ** (5 / 3) / rain_m_s
        return conveyance * 5 / 3 * depth ** (2 / 3) * (time_s - RAIN_S) + behind - LENGTH_M

    return conveyance * brentq(beyond, 0.0, 1.0) ** (5 / 3)


@pytest.mark.parametrize("cell_m", [1.0, 2.0])
@pytest.mark.parametrize(("slope", "n", "rain_mm_h"), PLANES)
def test_a_kinematic_plane_rises_peaks_and_falls_as_the_formula(slope, n, rain_mm_h, cell_m):
    times, flows = _foot_of_a_plane(slope, n, rain_mm_h, cell_m)
    peak = mm_h(rain_mm_h) * LENGTH_M
    exact = np.array([_kinematic(time, slope, n, mm_h(rain_mm_h)) for time in times])
    assert flows.max() == pytest.approx(peak, rel=0.01)
    rises = (exact < 0.9 * peak) & (times <= RAIN_S)
    assert np.abs(flows - exact)[rises].max() < 0.05 * peak
    assert np.sqrt(np.mean((flows - exact) ** 2)) < 0.015 * peak


def test_a_plane_that_runs_south_gives_the_flow_of_one_that_runs_east():
    _, east = _foot_of_a_plane(0.10, 0.05, 100.0, 1.0)
    _, south = _foot_of_a_plane(0.10, 0.05, 100.0, 1.0, is_turned=True)
    assert south == pytest.approx(east, rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("slope", [0.02, 0.1, 0.3, 0.6])
def test_steady_flow_runs_at_normal_depth(slope):
    """Manning 1891 for a wide sheet: q = h^(5/3) sqrt(S) / n."""
    elev = np.tile((80 - np.arange(80)) * slope, (5, 1))
    supply = np.zeros(elev.shape)
    supply[:, 2] = 0.02
    found = move(elev, end_s=900.0, rain_m_s=supply, roughness_n=0.03, is_wall=_walled_strip(elev))
    normal = (0.02 * 0.03 / np.sqrt(slope)) ** 0.6
    assert found.depth_m[2, 20:70].mean() == pytest.approx(normal, rel=0.01)
    # Above critical flow weighted faces ripple by a few per cent round the right mean.
    assert found.depth_m[2, 20:70].std() < 0.06 * normal


@pytest.mark.parametrize("slope", [0.05, 0.2])
@pytest.mark.parametrize("turn_deg", [22.5, 45.0])
def test_rain_on_a_plane_oblique_to_the_grid_runs_at_normal_depth(slope, turn_deg):
    """Where both edges upslope are far: q = i l and Manning's depth for it, l the way along the flow."""
    east, south = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    y, x = np.mgrid[:90, :90].astype(float)
    kept = {}

    def watch(time_s, depth, flow_x, flow_y):
        kept["q"] = np.hypot(flow_x[:, 1:] + flow_x[:, :-1], flow_y[1:] + flow_y[:-1]) / 2.0

    rain = mm_h(100.0)
    found = move(100.0 - slope * (east * x + south * y), end_s=900.0, rain_m_s=rain, roughness_n=0.04, watch=watch)
    way = np.minimum(x / east, y / south)
    inside = (way > 30) & (way < 60) & (np.abs(x / east - y / south) > 8) & (x < 80) & (y < 80)
    assert inside.sum() > 200
    assert np.median(kept["q"][inside] / (rain * way[inside])) == pytest.approx(1.0, abs=0.05)
    normal = (rain * way[inside] * 0.04 / np.sqrt(slope)) ** 0.6
    assert np.median(found.depth_m[inside] / normal) == pytest.approx(1.0, abs=0.05)


def test_rain_on_a_cone_runs_off_alike_in_every_direction():
    """Steady flow at radius r carries the rain on the disc within it over its circumference: q = i r / 2."""
    n_cells = 101
    x, y = np.meshgrid(np.arange(n_cells) - 50, np.arange(n_cells) - 50)
    radius = np.hypot(x, y)
    kept = {}

    def watch(time_s, depth, flow_x, flow_y):
        kept["q"] = np.hypot(flow_x[:, 1:] + flow_x[:, :-1], flow_y[1:] + flow_y[:-1]) / 2.0

    move((80.0 - radius) * 0.08, end_s=1500.0, rain_m_s=mm_h(50.0), roughness_n=0.03, watch=watch)
    flow = kept["q"]
    is_ring = (radius > 34) & (radius < 36)
    ratio = flow[is_ring] / (mm_h(50.0) * radius[is_ring] / 2.0)
    assert ratio.mean() == pytest.approx(1.0, abs=0.05)
    assert ratio.min() > 0.90 and ratio.max() < 1.10
    for turned in (flow[::-1], flow[:, ::-1], flow.T):
        assert np.abs(turned - flow).max() < 1e-3 * flow.max()


@pytest.mark.parametrize("still_m", [0.1, 0.5])
def test_a_dam_break_onto_water_for_information(still_m, capsys):
    """Stoker 1957 (Water Waves, section 10.8, from memory): printed, and asserted no further than the scheme can go.

    Without advection there is no bore: onto shallow water the front lags far behind. It must not outrun the exact one,
    and no water may be lost.
    """
    cell_m, gravity = 0.5, 9.81
    x = (np.arange(400) + 0.5) * cell_m - 100.0
    depth = np.tile(np.where(x < 0, 1.0, still_m), (3, 1))
    settings = type(FREE)(froude_max=10.0, own_weight=0.8, courant=0.5, span_s=1.0)
    found = move(
        np.zeros(depth.shape),
        end_s=12.0,
        depth_m=depth,
        cell_m=cell_m,
        roughness_n=1e-4,
        is_edge_closed=True,
        settings=settings,
    )
    celerity = np.sqrt(gravity)

    def jump(middle):
        speed = 2 * (celerity - np.sqrt(gravity * middle))
        return speed - (middle - still_m) * np.sqrt(gravity * (middle + still_m) / (2 * middle * still_m))

    middle = brentq(jump, still_m, 1.0)
    exact_m = 12.0 * middle * 2 * (celerity - np.sqrt(gravity * middle)) / (middle - still_m)
    front_m = x[np.flatnonzero(found.depth_m[1] > still_m + 0.02).max()]
    with capsys.disabled():
        print(f"\ndam break of 1 m onto {still_m} m: front at {front_m:.1f} m, exact {exact_m:.1f} m")
    assert 0.5 * exact_m < front_m < 1.05 * exact_m
    assert abs(found.balance.error_m3) < 1e-4 * found.balance.start_m3
