"""An independent reference: the overland-flow component of landlab on ground that nobody here made.

Adams et al. 2017, doi 10.5194/gmd-10-1645-2017: the same equations (de Almeida et al. 2012) in other hands, with the
usual semi-implicit friction and flow held to a Froude number of 1.
"""

import numpy as np
import pytest

from screening.motion.settings import MotionSettings
from tests.motion.runs import mm_h, move

pytestmark = [pytest.mark.realdata]

RAIN_MM_H, END_S, CELL_M, N = 80.0, 600.0, 2.0, 0.05
INSIDE = np.s_[8:-8, 8:-8]


def window(real_data):
    """70 x 90 cells without gaps."""
    import rasterio

    with rasterio.open(real_data / "alexandria" / "dtm.tif") as source:
        elev = source.read(1, masked=True).filled(np.nan).astype(float)
    part = elev[50:120, 0:90]
    assert not np.isnan(part).any()
    return part


def run_landlab(elev, end_s):
    """Depth at the end [m], and the largest."""
    landlab = pytest.importorskip("landlab")
    from landlab.components import OverlandFlow

    grid = landlab.RasterModelGrid(elev.shape, xy_spacing=CELL_M)
    # Its rows run from south to north.
    grid.add_field("topographic__elevation", elev[::-1].ravel().copy(), at="node")
    depth = grid.add_zeros("surface_water__depth", at="node")
    flow = OverlandFlow(
        grid, mannings_n=N, steep_slopes=True, rainfall_intensity=mm_h(RAIN_MM_H), g=9.81, theta=0.85, alpha=0.6
    )
    time_s, most = 0.0, np.zeros(elev.size)
    while time_s < end_s:
        step_s = min(flow.calc_time_step(), CELL_M / 2.0, end_s - time_s)
        flow.overland_flow(step_s)
        time_s += step_s
        most = np.maximum(most, depth)
    return depth.reshape(elev.shape)[::-1], most.reshape(elev.shape)[::-1]


def test_depths_are_those_of_landlab(real_data):
    elev = window(real_data)
    theirs, theirs_most = run_landlab(elev, END_S)
    ours = move(
        elev,
        end_s=END_S,
        rain_m_s=mm_h(RAIN_MM_H),
        cell_m=CELL_M,
        roughness_n=N,
        settings=MotionSettings(froude_max=1.0),
    )
    a, b = ours.depth_m[INSIDE], theirs[INSIDE]
    deep = (a > 0.02) | (b > 0.02)
    assert deep.sum() > 300
    # Its friction knows the flow over a face alone, not the one along it: where flow is oblique its water is shallower.
    assert b.sum() < a.sum() < 1.08 * b.sum()
    assert np.median(np.abs(a - b)[deep]) < 0.003
    assert np.quantile(np.abs(a - b)[deep], 0.95) < 0.01
    assert np.corrcoef(a[deep], b[deep])[0, 1] > 0.99
    for limit_m, share in ((0.02, 0.85), (0.05, 0.9), (0.10, 0.85)):
        one, other = ours.depth_max_m[INSIDE] > limit_m, theirs_most[INSIDE] > limit_m
        assert (one & other).sum() > share * (one | other).sum()
