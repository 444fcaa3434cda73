"""No cell undrained and no cycle, whatever the ground: 1,000 grids for each routing method."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels.accumulate import accumulate
from screening.kernels.d8 import flow_directions, receivers
from screening.kernels.dinfinity import accumulate_dinf, reach_fraction_dinf
from screening.kernels.direction_codes import NODATA, OUTLET
from screening.kernels.facets import dinf_shares
from screening.kernels.fill import fill_depressions
from screening.kernels.multiflow import accumulate_multiflow, multiflow_order
from screening.kernels.multiflow_zones import reach_fraction
from screening.kernels.order import downstream_order
from screening.kernels.receiver_sets import lower_neighbours, order_of_graph
from screening.kernels.shares import freeman, qin

STEPS = np.array([(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)])


@st.composite
def grounds(draw):
    """Plateaus, pits, terraces, noise and gaps, on grids down to one row, one column, one cell."""
    n_rows, n_cols = draw(st.sampled_from([(1, 1), (1, 13), (11, 1), (2, 9), (3, 4), (9, 14), (16, 7)]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    elev = rng.random((n_rows, n_cols)) * 4 + draw(st.sampled_from([0.0, 0.5])) * np.arange(n_cols)
    step_m = draw(st.sampled_from([0.0, 0.1, 1.0, 8.0]))
    if step_m:
        elev = np.floor(elev / step_m) * step_m
    for _ in range(draw(st.integers(0, 2))):
        row, col = rng.integers(n_rows), rng.integers(n_cols)
        elev[row : row + 4, col : col + 5] = rng.choice([-3.0, 2.0, np.nan])
    elev[rng.random(elev.shape) < draw(st.sampled_from([0.0, 0.1, 0.5, 1.0]))] = np.nan
    return elev.astype(np.float32)


def edges_of(graph):
    """Cells and their receivers, of a graph of sets of neighbours."""
    bits = graph[:, :, np.newaxis] >> np.arange(8) & 1
    row, col, k = np.nonzero(bits)
    near = np.column_stack((row, col)) + STEPS[k]
    assert ((near >= 0) & (near < graph.shape)).all()
    return row * graph.shape[1] + col, near[:, 0] * graph.shape[1] + near[:, 1]


def check_order(order, valid, cells, to):
    """Each cell with data once, and each before all that it drains to: so there is no cycle."""
    np.testing.assert_array_equal(np.sort(order), np.flatnonzero(valid))
    assert valid.ravel()[to].all()
    place = np.full(valid.size, -1)
    place[order] = np.arange(order.size)
    assert (place[cells] < place[to]).all()


@settings(max_examples=1000, deadline=None)
@given(elev=grounds(), nodata_drains=st.booleans())
def test_every_cell_drains_and_nothing_is_lost(elev, nodata_drains):
    filled = fill_depressions(elev, nodata_drains)
    codes = flow_directions(filled, nodata_drains)
    valid, outlet = codes != NODATA, codes == OUTLET
    np.testing.assert_array_equal(valid, ~np.isnan(elev))
    weight = np.random.default_rng(0).random(elev.shape)
    pen, target = np.zeros(elev.shape, np.int32), outlet.astype(np.uint8)

    receiver = receivers(codes)
    order = downstream_order(receiver)
    goes_on = np.flatnonzero(valid.ravel() & ~outlet.ravel())
    check_order(order, valid, goes_on, receiver[goes_on])
    totals = [accumulate(receiver, order, weight.ravel()).reshape(elev.shape)]

    graph, _ = dinf_shares(filled, codes)
    spread = order_of_graph(graph, codes)
    check_order(spread, valid, *edges_of(graph))
    np.testing.assert_array_equal((graph == 0) & valid, outlet)
    reached = [reach_fraction_dinf(filled, codes, target, pen)]
    totals.append(accumulate_dinf(filled, codes, weight))

    lower = lower_neighbours(filled, codes)
    spread = multiflow_order(filled, codes)
    check_order(spread, valid, *edges_of(lower))
    np.testing.assert_array_equal((lower == 0) & valid, outlet)
    for law in (freeman(), qin(0.5)):
        reached.append(reach_fraction(filled, codes, spread, target, pen, law))
        totals.append(accumulate_multiflow(filled, codes, weight, law))

    for fraction in reached:
        # all the water of each cell reaches an outlet
        np.testing.assert_allclose(fraction[valid], 1, atol=1e-9)
    for total in totals:
        assert total[outlet].sum() == pytest.approx(weight[valid].sum(), rel=1e-9, abs=1e-12)
        assert (total[valid] >= weight[valid]).all() and (total[~valid] == 0).all()
