"""D-infinity from one cell to its neighbours, facet by facet as Tarboton (1997) has it."""

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from screening.kernels.dinfinity import accumulate_dinf
from screening.kernels.direction_codes import OUTLET

# Side and diagonal of each facet, as (row, col), from east through north.
FACETS = (
    ((1, 2), (0, 2)),
    ((0, 1), (0, 2)),
    ((0, 1), (0, 0)),
    ((1, 0), (0, 0)),
    ((1, 0), (2, 0)),
    ((2, 1), (2, 0)),
    ((2, 1), (2, 2)),
    ((1, 2), (2, 2)),
)
NORTH = 1


def shares_of(elev):
    """Part of the water of the middle that each neighbour gets; north all of it where no facet falls."""
    shares, steepest = np.zeros((3, 3)), 0.0
    for side, diagonal in FACETS:
        along, across = elev[1, 1] - elev[side], elev[side] - elev[diagonal]
        angle, squared = np.arctan2(across, along), along**2 + across**2
        if across <= 0 or along <= 0:
            angle, squared = (0.0, max(along, 0.0) ** 2) if across <= 0 else (np.pi / 4, squared)
        if across > 0 and across >= along:
            angle, squared = np.pi / 4, max(elev[1, 1] - elev[diagonal], 0.0) ** 2 / 2
        if np.isfinite(squared) and squared > steepest:
            steepest, shares = squared, np.zeros((3, 3))
            shares[side], shares[diagonal] = 1 - angle / (np.pi / 4), angle / (np.pi / 4)
    if steepest == 0.0:
        shares[0, 1] = 1.0
    return shares


@settings(max_examples=400, deadline=None)
@given(st.lists(st.one_of(st.integers(0, 5), st.floats(0, 5, width=32)), min_size=9, max_size=9))
@example([5, 4, 3, 6, 5, 4, 7, 6, 5])  # a plane that falls to the corner: two facets have it on their edge
def test_the_steepest_facet_takes_the_water_and_its_angle_shares_it(values):
    elev = np.array(values, np.float32).reshape(3, 3)
    codes = np.full((3, 3), OUTLET, np.uint8)
    codes[1, 1] = NORTH
    weight = np.zeros((3, 3))
    weight[1, 1] = 1.0
    found = accumulate_dinf(elev, codes, weight)
    assert found[1, 1] == 1.0
    found[1, 1] = 0.0
    np.testing.assert_allclose(found, shares_of(elev.astype(np.float64)), atol=1e-6)
