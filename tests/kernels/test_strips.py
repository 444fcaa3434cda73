"""Rows cut into strips, and numbers counted up in another order, must not change what is found."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels import basins, d8, multiflow, saddles, upstream_counts
from screening.kernels.accumulate import accumulate
from screening.kernels.fill import build_basin_graph, fill_basins, fill_depressions
from screening.kernels.hierarchy import build_hierarchy
from screening.kernels.neighbours import flat_offsets
from screening.kernels.receiver_sets import count_donors, lower_neighbours
from screening.kernels.shares import freeman
from tests.made_ground import bumps


def everything(elev):
    filled = fill_depressions(elev, True)
    codes = d8.flow_directions(filled, True)
    tree = build_hierarchy(elev, build_basin_graph(elev, True))
    weight = np.where(np.isnan(elev), 0.0, 1.0)
    return {
        "filled": filled,
        "codes": codes,
        "n_upstream": upstream_counts.count_upstream(codes),
        "multiple flow": multiflow.accumulate_multiflow(filled, codes, weight, freeman()),
        **{name: np.asarray(part) for name, part in tree._asdict().items()},
    }


@pytest.mark.parametrize("cuts", [(1,), (7, 8), (3, 20, 21, 40), tuple(range(1, 50))])
@pytest.mark.parametrize("step_m", [0.0, 0.5])
def test_strips_of_any_height(monkeypatch, cuts, step_m):
    elev = bumps(50, 37, 11, step_m=step_m, gap_share=0.04)
    whole = everything(elev)
    for module in (basins, saddles, upstream_counts, multiflow):
        monkeypatch.setattr(module, "strip_rows", lambda n_rows, n_cols: np.array([0, *cuts, n_rows], np.int64))
    cut = everything(elev)
    for name, expected in whole.items():
        if name == "multiple flow":
            np.testing.assert_allclose(cut[name], expected, rtol=1e-12, err_msg=name)
        else:
            np.testing.assert_array_equal(cut[name], expected, err_msg=name)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_basins_and_saddles_in_any_order(seed):
    """Basins under other numbers, and saddles listed in another order, flood and merge to the same."""
    rng = np.random.default_rng(seed)
    elev = rng.integers(0, 9, (14, 17)).astype(np.float32)
    graph = build_basin_graph(elev, True)
    names = np.concatenate(([0], 1 + rng.permutation(graph.outlet_elev.size - 1))).astype(np.int32)
    order = rng.permutation(graph.basin_a.size)
    a, b = names[graph.basin_a[order]], names[graph.basin_b[order]]
    outlets = [np.empty_like(part) for part in (graph.outlet_elev, graph.outlet_cell)]
    for part, source in zip(outlets, (graph.outlet_elev, graph.outlet_cell), strict=True):
        part[names] = source
    shuffled = graph._replace(
        label=names[graph.label],
        basin_a=np.minimum(a, b),
        basin_b=np.maximum(a, b),
        saddle_elev=graph.saddle_elev[order],
        saddle_cell=graph.saddle_cell[order],
        outlet_elev=outlets[0],
        outlet_cell=outlets[1],
    )
    np.testing.assert_array_equal(fill_basins(elev, shuffled), fill_basins(elev, graph))
    ours, other = build_hierarchy(elev, graph), build_hierarchy(elev, shuffled)
    for name in ("volume", "spill_elev", "n_cells", "catchment_cells"):
        np.testing.assert_array_equal(np.sort(getattr(ours, name)), np.sort(getattr(other, name)), err_msg=name)


@pytest.mark.parametrize("factor", [0.25, 2.0, 1024.0])
def test_heights_in_another_unit(factor):
    """By powers of two, so that every comparison keeps its bits."""
    elev = bumps(40, 55, 12, step_m=0.125, gap_share=0.03)
    ours, scaled = everything(elev), everything(elev * np.float32(factor))
    np.testing.assert_array_equal(scaled["filled"], ours["filled"] * np.float32(factor))
    np.testing.assert_array_equal(scaled["volume"], ours["volume"] * factor)
    for name in ("codes", "n_upstream", "parent", "spill_cell", "leaf"):
        np.testing.assert_array_equal(scaled[name], ours[name], err_msg=name)


def test_weights_add_up_however_they_are_split():
    elev = bumps(30, 41, 13)
    codes = d8.flow_directions(fill_depressions(elev, True), True)
    receiver = d8.receivers(codes)
    from screening.kernels.order import downstream_order

    order = downstream_order(receiver)
    first, second = np.random.default_rng(1).random((2, elev.size))
    both = accumulate(receiver, order, first) + accumulate(receiver, order, second)
    np.testing.assert_allclose(accumulate(receiver, order, first + second), both, rtol=1e-12)


@pytest.mark.parametrize("rows", [(0, 5), (5, 6), (5, 12), (12, 20)])
def test_a_strip_writes_nothing_outside_itself(rows):
    """Strips run at the same time: water that leaves one waits at its seam."""
    filled = fill_depressions(bumps(20, 150, 2, gap_share=0.04), True)
    codes = d8.flow_directions(filled, True)
    strip = np.array(rows, np.int64)
    outside = np.ones(filled.shape, bool)
    outside[slice(*rows)] = False

    lower = lower_neighbours(filled, codes)
    left, total = count_donors(lower), np.ones(filled.shape)
    before = left.copy()
    multiflow._accumulate_in_strips(filled, lower, left, total, strip, freeman())
    assert (left[outside] == before[outside]).all() and (total[outside] == 1.0).all()
    assert (left[~outside] != before[~outside]).any()

    n_donors, n_upstream = np.empty(filled.shape, np.uint8), np.full(filled.shape, 7, np.int32)
    upstream_counts._count_donors(codes, n_donors)
    before = n_donors.copy()
    upstream_counts._count_in_strips(codes, n_donors, n_upstream, strip)
    assert (n_donors[outside] == before[outside]).all() and (n_upstream[outside] == 7).all()
    assert (n_upstream[~outside] != 7).any()


@pytest.mark.parametrize(
    ("cell", "neighbour", "expected"),
    [(28, 6, True), (27, 6, False), (34, 6, True), (7, 1, True), (14, 1, False), (29, 5, True)],
)
def test_what_leads_out_of_a_strip(cell, neighbour, expected):
    """The second to fifth row of a grid of seven columns."""
    found = multiflow._leads_out(cell, 1 << neighbour, flat_offsets(7), 7, 35)
    assert bool(found) == expected
