"""Water at rest stays at rest, and water that comes to rest stands where it must."""

import numpy as np
import pytest

from screening.models import Rain
from screening.motion.settings import MotionSettings
from screening.motion.simulate import simulate_window
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from screening.structures.walls import find_walls
from screening.terrain.surface import build_surface
from tests.blocks import box, make_block
from tests.motion.runs import mm_h, move


def _lake(seed, step_m):
    rng = np.random.default_rng(seed)
    elev = 300.0 + rng.uniform(0.0, 1.0, (40, 56))
    if step_m:
        elev = np.round(elev / step_m) * step_m
    elev[0] = elev[-1] = elev[:, 0] = elev[:, -1] = 303.0
    is_wall = np.zeros(elev.shape, bool)
    is_wall[12:20, 20:35] = True
    return elev, is_wall, np.where(is_wall, 0.0, np.maximum(300.5 - elev, 0.0))


def test_a_lake_at_rest_over_islands_and_walls_stays_exactly():
    """The well-balanced property; levels that float32 holds exactly, so not one bit may change."""
    elev, is_wall, depth = _lake(1, 2.0**-10)
    found = move(elev, end_s=300.0, depth_m=depth, is_wall=is_wall)
    assert found.n_steps > 500
    assert np.array_equal(found.depth_m, depth.astype(np.float32))
    assert found.unit_flow_max_m2_s.max() == 0.0


def test_a_lake_of_any_level_stays_but_for_the_rounding_of_its_depths():
    elev, is_wall, depth = _lake(2, 0.0)
    found = move(elev, end_s=300.0, depth_m=depth, is_wall=is_wall)
    assert np.abs(found.depth_m - depth).max() < 1e-5
    assert found.unit_flow_max_m2_s.max() < 1e-5


def test_rain_into_a_closed_bowl_stands_at_the_static_level():
    """One pool over two pits: volume over the hypsometry, solved by bisection."""
    row, col = np.mgrid[:40, :52]
    elev = ((row - 19.5) ** 2 + (col - 25.5) ** 2) / 400.0 + 0.3 * np.exp(-(((col - 25.5) / 3.0) ** 2))
    elev[0] = elev[-1] = elev[:, 0] = elev[:, -1] = 9.0
    found = move(elev, end_s=7200.0, rain_m_s=mm_h(200.0), rain_s=600.0, roughness_n=0.02)
    water = mm_h(200.0) * 600.0 * elev.size
    low, high = 0.0, 9.0
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        low, high = (middle, high) if np.maximum(middle - elev, 0.0).sum() < water else (low, middle)
    is_deep = low - elev > 0.01
    assert is_deep.sum() > 200
    assert np.abs(found.depth_m - (low - elev))[is_deep].max() < 1e-3
    assert abs(found.balance.error_m3) < 1e-4 * water


def test_an_upper_pool_stands_at_its_sill_once_it_has_run_over():
    elev = np.tile(np.linspace(1.2, 0.0, 60), (9, 1))
    elev[:, 18:23] -= 0.4
    elev[:, 45:50] -= 0.4
    elev[0] = elev[-1] = elev[:, 0] = elev[:, -1] = 9.0
    found = move(elev, end_s=7200.0, rain_m_s=mm_h(480.0), rain_s=600.0, roughness_n=0.02)
    level = (elev + found.depth_m)[4, 18:23]
    assert level == pytest.approx(elev[4, 23:45].max(), abs=0.002)


@pytest.mark.parametrize("depth_mm", [30.0, 70.0])
def test_a_block_fills_to_the_levels_of_fill_spill_merge(depth_mm):
    """Two pits, one of which may overflow into the other; the package's own pour, to 1 mm."""
    row, col = np.mgrid[:30, :44]
    elev = 10.0 + 0.02 * np.minimum(np.hypot(row - 14.5, col - 12.0), np.hypot(row - 14.5, col - 31.0) + 4.0)
    elev[0] = elev[-1] = elev[:, 0] = elev[:, -1] = 12.0
    criteria = Criteria()
    block = make_block(elev, roads=[(box(0, 0, 30, 44),)])
    surface = build_surface(block, criteria=criteria)
    rain = Rain(depth_mm=depth_mm, label="test", source="test", duration_h=0.5)
    storm = design_storm(block, surface, rain=rain, criteria=criteria)
    walls = find_walls(block, surface)
    static = screen_block(block, criteria=criteria, rain=rain).ponding
    settings = MotionSettings(after_rain_h=3.0)
    found = simulate_window(block, surface, walls, storm, criteria=criteria, settings=settings, n_threads=1)
    is_deep = static.water_depth_m > 0.01
    assert is_deep.sum() > 100
    assert np.abs(found.depth_end_m - static.water_depth_m)[is_deep].max() < 1e-3
    assert found.balance.runoff_m3 == pytest.approx(static.runoff_m3, rel=1e-5)
    assert found.balance.error_worst_frac < 1e-4
