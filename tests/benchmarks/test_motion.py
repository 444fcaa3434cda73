"""Water in motion beside a plain kernel of the same equations, and landlab: nanoseconds for a cell and a step.

pytest tests/benchmarks/test_motion.py --benchmark-only -s

The shortest of many short bursts counts, and processor time is told beside wall time: on a machine with busy
neighbours a long run says more of them than of the kernel.
"""

import importlib.util
import os
import time

import numba
import numpy as np
import pytest

from screening.grid import Grid
from screening.kernels import inertial
from screening.motion.ground import lay_ground
from screening.motion.links import kernel_links
from screening.motion.settings import MotionSettings
from tests.blocks import CRS, NORTH, WEST
from tests.made_ground import suburb

pytestmark = pytest.mark.benchmark

SIDE = int(os.environ.get("SCREENING_BENCH_MOTION_CELLS", "300"))
N_STEPS, STEP_S, ROUNDS, RAIN_M_S, N = 100, 0.28, 5, 50.0 / 3.6e6, 0.05
BURST, BURSTS = 8, 600
SHARE_OF_PLAIN = 0.5
"""On one thread a step takes no more than this share of a plain one."""
TWO_HOURS_STEPS, ONE_THREAD_S = 7200 / 0.28, 24.0
"""Two hours at the mean step that 1 m cells have."""


@numba.njit
def plain_step(level, depth, flow_x, flow_y, dt, dx, rain):
    """Bates et al. 2010, equation 11, as it is written: float64, one loop a term, closed edges."""
    n_rows, n_cols = depth.shape
    for i in range(n_rows):
        for j in range(1, n_cols):
            over = max(level[i, j] + depth[i, j], level[i, j - 1] + depth[i, j - 1]) - max(level[i, j], level[i, j - 1])
            if over > 1e-5:
                slope = (level[i, j] + depth[i, j] - level[i, j - 1] - depth[i, j - 1]) / dx
                rubbed = 1.0 + 9.81 * dt * N**2 * abs(flow_x[i, j]) / over ** (7.0 / 3.0)
                flow_x[i, j] = (flow_x[i, j] - 9.81 * over * dt * slope) / rubbed
            else:
                flow_x[i, j] = 0.0
    for i in range(1, n_rows):
        for j in range(n_cols):
            over = max(level[i, j] + depth[i, j], level[i - 1, j] + depth[i - 1, j]) - max(level[i, j], level[i - 1, j])
            if over > 1e-5:
                slope = (level[i, j] + depth[i, j] - level[i - 1, j] - depth[i - 1, j]) / dx
                rubbed = 1.0 + 9.81 * dt * N**2 * abs(flow_y[i, j]) / over ** (7.0 / 3.0)
                flow_y[i, j] = (flow_y[i, j] - 9.81 * over * dt * slope) / rubbed
            else:
                flow_y[i, j] = 0.0
    for i in range(n_rows):
        for j in range(n_cols):
            net = flow_x[i, j] - flow_x[i, j + 1] + flow_y[i, j] - flow_y[i + 1, j]
            depth[i, j] = max(depth[i, j] + dt / dx * net, 0.0) + rain * dt


def _ours(n_threads):
    """Call that makes `N_STEPS` steps, on water that has rained for a while."""
    elev = suburb(SIDE, SIDE, 1)
    ground = lay_ground(
        Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=SIDE, n_cols=SIDE), elev, roughness_n=N
    )
    shape, settings = ground.grid.shape, MotionSettings()
    water, maxima, left = inertial.still_water(shape), inertial.no_maxima(shape), inertial.nothing_left()
    source, links = inertial.padded(shape, RAIN_M_S), kernel_links((), ground)
    scheme = inertial.Scheme(
        cell_m=1.0,
        own_weight=settings.own_weight,
        least_depth_m=settings.least_depth_m,
        froude_max=settings.froude_max,
        wet_depth_m=settings.wet_depth_m,
        speed_depth_m=settings.speed_depth_m,
        track_s=settings.track_s,
    )

    def run(n_steps=N_STEPS):
        inertial.advance(
            water,
            ground.faces,
            source,
            shape=shape,
            scheme=scheme,
            span=inertial.Span(0.0, n_steps, STEP_S, True),
            links=links,
            gaps=ground.gap_cells,
            maxima=maxima,
            left=left,
            n_threads=n_threads,
        )

    run(1000)
    return run


def _plain():
    elev = suburb(SIDE, SIDE, 1).astype(float)
    depth, flow_x, flow_y = np.zeros((SIDE, SIDE)), np.zeros((SIDE, SIDE + 1)), np.zeros((SIDE + 1, SIDE))

    def run(n_steps=20):
        for _ in range(n_steps):
            plain_step(elev, depth, flow_x, flow_y, 0.1, 1.0, RAIN_M_S)

    run(1)
    run(200)
    return run


def _ns(run, n_steps, rounds):
    """Shortest wall time and shortest processor time of a cell and a step [ns]."""
    walls, processors = [], []
    for _ in range(rounds):
        wall, processor = time.perf_counter(), time.process_time()
        run(n_steps)
        processors.append(time.process_time() - processor)
        walls.append(time.perf_counter() - wall)
    return min(walls) / n_steps / SIDE**2 * 1e9, min(processors) / n_steps / SIDE**2 * 1e9


def _landlab_ns(n_steps=2):
    from landlab import RasterModelGrid
    from landlab.components import OverlandFlow

    grid = RasterModelGrid((SIDE, SIDE), xy_spacing=1.0)
    grid.add_field("topographic__elevation", suburb(SIDE, SIDE, 1).astype(float).ravel(), at="node")
    grid.add_zeros("surface_water__depth", at="node")
    flow = OverlandFlow(grid, mannings_n=N, steep_slopes=True, rainfall_intensity=RAIN_M_S)

    def run(steps):
        for _ in range(steps):
            flow.overland_flow(0.1)

    run(2)
    return _ns(run, n_steps, 3)


def test_a_step_beside_a_plain_one_and_landlab(benchmark):
    one = _ours(1)
    benchmark.pedantic(one, rounds=ROUNDS)
    ours, plain = _ns(one, BURST, BURSTS), _ns(_plain(), 2, 100)
    seconds = ours[1] * SIDE**2 * TWO_HOURS_STEPS / 1e9
    said = [f"one thread {ours[0]:.1f} ns ({ours[1]:.1f} of the processor)", f"plain {plain[0]:.1f} ({plain[1]:.1f})"]
    if numba.get_num_threads() > 1:
        two = _ns(_ours(2), BURST, BURSTS)
        said.append(f"two threads {two[0]:.1f}")
    if importlib.util.find_spec("landlab"):
        theirs = _landlab_ns()
        said.append(f"landlab {theirs[0]:.0f} ({theirs[1]:.0f})")
    else:
        said.append("landlab is not installed")
    print(f"\n{SIDE} x {SIDE} cells, a cell-step: {'; '.join(said)}; two hours {seconds:.1f} s on one thread")
    benchmark.extra_info |= {"ns": ours[1], "plain_ns": plain[1]}
    assert ours[1] <= SHARE_OF_PLAIN * plain[1]
    assert seconds * 300**2 / SIDE**2 <= ONE_THREAD_S
