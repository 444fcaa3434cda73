"""The kernels of a local-inertial step, beside the formulas they stand for and beside plain Python."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from screening.kernels import inertial_rows
from screening.kernels.inertial import (
    CLOSED_M,
    Faces,
    Links,
    Scheme,
    Span,
    advance,
    inside,
    no_maxima,
    nothing_left,
    padded,
    padded_cell,
    still_water,
)

ROOT = Path(__file__).parents[2]
G = 9.81
EMPTY = np.empty(0, np.int64)


def _step(dt, dx=1.0, weight=1.0, froude=1e3):
    f = np.float32
    return inertial_rows.Step(
        friction=f(0.5 * G * dt),
        pull=f(G * dt / dx),
        own=f(weight),
        beside=f(0.5 * (1 - weight)),
        least_depth=f(1e-5),
        froude=f(froude * np.sqrt(G)),
        ratio=f(dt / dx),
    )


def small_run(n_threads=1):
    """A few steps on a small ground with a wall, a link and a gap: arrays by name."""
    shape = (7, 9)
    rng = np.random.default_rng(5)
    faces = Faces(*(padded(shape, CLOSED_M) for _ in range(4)), padded(shape, 0.03**2))
    level = rng.random(shape) * 0.1
    for part, axis, is_after in zip(faces[:4], (1, 1, 0, 0), (False, True, False, True), strict=True):
        grid = inside(part, shape)
        top = np.maximum(level, np.roll(level, 1, axis))
        grid[:] = top - (level if is_after else np.roll(level, 1, axis))
        (grid[:, :1] if axis == 1 else grid[:1])[:] = CLOSED_M
    faces.x_before[4, 5] = faces.x_after[4, 5] = CLOSED_M
    water, maxima, left = still_water(shape), no_maxima(shape), nothing_left()
    inside(water.depth, shape)[:] = rng.random(shape) * 0.05
    source = padded(shape)
    inside(source, shape)[:] = 1e-5
    links = Links(
        start=np.array([0, 1]),
        cell=padded_cell(np.array([30]), shape),
        sill_m=np.zeros(1),
        drop_m=np.zeros(1),
        outlet=padded_cell(np.array([5]), shape),
        capacity_m3_s=np.array([1e-3]),
        taken_m3=np.zeros(1),
        peak_m3_s=np.zeros(1),
    )
    gaps = padded_cell(np.array([62]), shape)
    signal = advance(
        water,
        faces,
        source,
        shape=shape,
        scheme=Scheme(
            cell_m=1.0,
            own_weight=0.85,
            least_depth_m=1e-5,
            froude_max=1.5,
            wet_depth_m=0.01,
            speed_depth_m=0.005,
            track_s=0.5,
        ),
        span=Span(0.0, 8, 0.25, True),
        links=links,
        gaps=gaps,
        maxima=maxima,
        left=left,
        n_threads=n_threads,
    )
    named = {f"water {key}": value for key, value in water._asdict().items()}
    named |= {f"maxima {key}": value for key, value in maxima._asdict().items()}
    named |= {f"left {key}": value for key, value in left._asdict().items()}
    return named | {"taken": links.taken_m3, "peak": links.peak_m3_s, "signal": np.array([signal])}


def test_the_inverse_cube_root_is_as_exact_as_it_says():
    depth = np.geomspace(1e-5, 20.0, 4001).astype(np.float32)
    found = np.array([inertial_rows._root(each) for each in depth], float)
    assert np.abs(found * depth.astype(float) ** (1 / 3) - 1.0).max() < 2e-5


@pytest.mark.parametrize("n", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("depth", [0.001, 0.02, 0.4])
@pytest.mark.parametrize("fall", [-0.3, -0.01, 0.05])
def test_the_flow_of_a_face_solves_the_implicit_equation(n, depth, fall):
    """q (1 + g dt n2 |q| / h^(7/3)) = q_old - g dt h dz / dx: the root of the quadratic, in float64."""
    dt, own = 0.3, 0.004
    rough = np.float32(2 * n**2)
    level0, level1 = np.float32(depth), np.float32(depth + fall)
    over = max(depth, depth + fall)
    found = inertial_rows._flow(level0, level1, rough, np.float32(own), np.float32(0), np.float32(0), _step(dt))
    pushed = own - G * dt * over * fall
    b = G * dt * n**2 / over ** (7 / 3)
    exact = np.sign(pushed) * (np.sqrt(1 + 4 * b * abs(pushed)) - 1) / (2 * b)
    assert float(found) == pytest.approx(exact, rel=2e-4, abs=1e-9)


def test_flow_along_a_face_slows_the_flow_over_it():
    f = np.float32
    slow, free = (
        inertial_rows._flow(f(0.05), f(0.04), f(0.005), f(0.01), f(0), f(along), _step(0.3)) for along in (0.1, 0.0)
    )
    assert 0.0 < slow < free
    b = G * 0.3 * 0.0025 / 0.05 ** (7 / 3)
    pushed = 0.01 + G * 0.3 * 0.05 * 0.01
    assert slow * (1 + b * np.hypot(slow, 0.1)) == pytest.approx(pushed, rel=0.02)


def test_a_flow_is_held_to_its_froude_number_and_a_film_does_not_flow():
    f = np.float32
    capped = inertial_rows._flow(f(0.1), f(-0.9), f(1e-6), f(0.0), f(0), f(0), _step(1.0, froude=1.5))
    assert float(capped) == pytest.approx(1.5 * np.sqrt(G) * 0.1**1.5, rel=1e-5)
    assert inertial_rows._flow(f(9e-6), f(-0.9), f(1e-3), f(0.1), f(0), f(0), _step(1.0)) == 0.0


def test_a_cell_gives_no_more_than_it_has():
    shape = (1, 3)
    faces = Faces(*(padded(shape) for _ in range(4)), padded(shape, 1e-8))
    for part in (faces.y_before, faces.y_after):
        part[:] = CLOSED_M
    water = still_water(shape)
    inside(water.depth, shape)[0, 1] = 0.5
    links = Links(np.zeros(1, np.int64), EMPTY, np.empty(0), np.empty(0), EMPTY, *(np.empty(0),) * 3)
    left = nothing_left()
    advance(
        water,
        faces,
        padded(shape),
        shape=shape,
        scheme=Scheme(
            cell_m=1.0,
            own_weight=1.0,
            least_depth_m=1e-5,
            froude_max=100.0,
            wet_depth_m=0.01,
            speed_depth_m=0.005,
            track_s=1.0,
        ),
        span=Span(0.0, 1, 2.0, False),
        links=links,
        gaps=EMPTY,
        maxima=no_maxima(shape),
        left=left,
    )
    depth = inside(water.depth, shape)[0]
    assert depth[1] == 0.0 and depth[0] == pytest.approx(0.25) and depth[2] == pytest.approx(0.25)


def test_nothing_is_read_beyond_the_grid():
    """What the ring and the spare row hold does not count: once a row past the end gave random NaN."""
    shape = (4, 5)
    depths = []
    for junk in (0.0, 123.0):
        faces = Faces(*(padded(shape) for _ in range(4)), padded(shape, 1e-3))
        for part in faces[:4]:
            part[:, shape[1] + 2 :] = junk
        faces.y_before[1] = faces.y_after[1] = faces.y_before[5] = faces.y_after[5] = CLOSED_M
        faces.x_before[:, 1] = faces.x_after[:, 1] = faces.x_before[:, 6] = faces.x_after[:, 6] = CLOSED_M
        water = still_water(shape)
        for part in (water.depth, water.flow_x, water.flow_y, water.next_x, water.next_y):
            part[-1], part[:, shape[1] + 2 :] = junk, junk
        water.flow_y[-1] = 0.0
        inside(water.depth, shape)[:] = np.arange(20).reshape(shape) / 100.0
        links = Links(np.zeros(1, np.int64), EMPTY, np.empty(0), np.empty(0), EMPTY, *(np.empty(0),) * 3)
        advance(
            water,
            faces,
            padded(shape),
            shape=shape,
            scheme=Scheme(
                cell_m=1.0,
                own_weight=0.85,
                least_depth_m=1e-5,
                froude_max=1.5,
                wet_depth_m=0.01,
                speed_depth_m=0.005,
                track_s=1.0,
            ),
            span=Span(0.0, 20, 0.2, True),
            links=links,
            gaps=EMPTY,
            maxima=no_maxima(shape),
            left=nothing_left(),
        )
        depths.append(inside(water.depth, shape).copy())
    assert np.array_equal(*depths)
    assert depths[0].sum(dtype=float) == pytest.approx(1.9, rel=1e-6)


def test_cells_keep_their_place_in_the_padded_grid():
    shape = (3, 20)
    grid = padded(shape)
    inside(grid, shape)[:] = np.arange(60).reshape(shape)
    assert grid.shape == (6, 32)
    assert grid.ravel()[padded_cell(np.array([0, 19, 20, 59]), shape)].tolist() == [0, 19, 20, 59]
    assert padded_cell(np.array([-1]), shape).tolist() == [-1]


def test_threads_give_the_same_bits():
    one, two = small_run(1), small_run(3)
    for name, value in one.items():
        if name == "left by_edges":
            assert two[name] == pytest.approx(value, rel=1e-12)
        elif not name.startswith("water next"):
            assert np.array_equal(two[name], value), name


def test_the_kernels_give_the_same_in_plain_python(tmp_path):
    script = (
        "import numpy as np, sys; from tests.kernels.test_inertial import small_run; "
        "np.savez(sys.argv[1], **small_run())"
    )
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1"}
    command = [sys.executable, "-W", "error", "-c", script, str(tmp_path / "plain.npz")]
    subprocess.run(command, check=True, cwd=ROOT, env=environment)
    plain = np.load(tmp_path / "plain.npz")
    for name, value in small_run().items():
        # Sums of four may be taken in another order, and a product added without rounding in between.
        assert plain[name] == pytest.approx(value, rel=2e-4, abs=2e-6), name
