"""The depression hierarchy by published matrices, closed forms and a flood of single cells."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.kernels import compiling, hierarchy, tree_cells
from screening.kernels.depressions import label_depressions
from screening.kernels.fill import build_basin_graph, fill_basins
from screening.kernels.hierarchy import build_hierarchy
from screening.kernels.tree_cells import cells_by_leaf
from tests.kernels.matrices import NESTED, RAMP_LAKES, RICHDEM
from tests.made_ground import bumps, suburb


def hierarchy_of(elev, nodata_drains=True):
    elev = np.ascontiguousarray(elev, np.float32)
    graph = build_basin_graph(elev, nodata_drains)
    return build_hierarchy(elev, graph), fill_basins(elev, graph)


def rows(found):
    """What brute force can name of each node: pit, spill, cells, volume; but no steps of a merge of several."""
    out = []
    for node in range(1, found.parent.size):
        child = found.child_a[node]
        if child >= 0 and found.spill_elev[child] == found.spill_elev[node]:
            continue
        pit_elev = float(found.spill_elev[node]) - float(found.depth_max[node])
        spill_elev = float(found.spill_elev[node])
        out.append(
            (round(pit_elev, 4), round(spill_elev, 4), int(found.n_cells[node]), round(float(found.volume[node]), 3))
        )
    return sorted(out)


def flood_cell_by_cell(elev, nodata_drains=True):
    """Raise the water over all cells at once, height by height, and note each pool where it first overflows."""
    n_rows, n_cols = elev.shape
    z = elev.astype(np.float64)
    known = ~np.isnan(z)
    near = {}
    for row, col in np.argwhere(known):
        around = [(r, c) for r in (row - 1, row, row + 1) for c in (col - 1, col, col + 1) if (r, c) != (row, col)]
        inside = [(r, c) for r, c in around if 0 <= r < n_rows and 0 <= c < n_cols]
        is_outlet = len(inside) < 8 or (nodata_drains and not all(known[place] for place in inside))
        near[row, col] = [place for place in inside if known[place]], is_outlet
    pool_of, pools, found = {}, {}, []
    for height in np.unique(z[known]):
        fresh = [tuple(place) for place in np.argwhere(z == height)]
        seen = set()
        for start in fresh:
            if start in seen:
                continue
            stack, cells, touched, drains = [start], [], set(), False
            seen.add(start)
            while stack:
                place = stack.pop()
                cells.append(place)
                drains |= near[place][1]
                for other in near[place][0]:
                    if other in pool_of:
                        # A pool may join two parts of this height from below.
                        if pool_of[other] not in touched:
                            touched.add(pool_of[other])
                            for rim in pools[pool_of[other]][0]:
                                for beyond in near[rim][0]:
                                    if z[beyond] == height and beyond not in seen:
                                        seen.add(beyond)
                                        stack.append(beyond)
                    elif z[other] == height and other not in seen:
                        seen.add(other)
                        stack.append(other)
            drains |= any(pools[pool][1] for pool in touched)
            closed = [pool for pool in touched if not pools[pool][1]]
            if drains or len(closed) > 1:
                for pool in closed:
                    depths = [height - z[place] for place in pools[pool][0]]
                    found.append((round(height - max(depths), 4), round(height, 4), len(depths), round(sum(depths), 3)))
            for pool in touched:
                cells += pools.pop(pool)[0]
            pools[start] = cells, drains
            pool_of.update(dict.fromkeys(cells, start))
    return sorted(found)


def test_the_published_nested_case():
    # Barnes, Callaghan & Wickert, fill-spill-merge unit tests: volumes to their own sill (8) 73 and 2, merged 111.
    found, _ = hierarchy_of(NESTED)
    assert sorted(found.volume[1:].tolist()) == [2.0, 73.0, 111.0]
    assert found.spill_elev[1:].tolist() == [8.0, 8.0, 9.0]
    assert found.parent.tolist() == [0, 3, 3, 0]
    assert found.spills_to.tolist() == [0, 2, 1, 0]
    assert found.depth_max.tolist() == [0.0, 1.0, 7.0, 8.0]
    # 64 cells are the ocean's, 36 the two depressions'; one cell falls either way (30 and 6, or 29 and 7).
    assert found.catchment_cells[3] == 36 and sorted(found.catchment_cells[1:3].tolist()) in ([6, 30], [7, 29])
    assert (found.leaf == 0).sum() == 64


def test_the_published_fill_matrix():
    # richdem unit tests, depressions testdem1: 18 cell-units are filled.
    found, filled = hierarchy_of(RICHDEM)
    assert found.volume[found.parent == 0].sum() == 18.0 == (filled - RICHDEM).sum()


def test_three_lakes_on_a_ramp():
    # landlab's test of three pits: areas 2, 1, 2 and volumes 2, 2, 4.
    found, _ = hierarchy_of(RAMP_LAKES)
    lakes = sorted(zip(found.n_cells[1:].tolist(), found.volume[1:].tolist(), strict=True))
    assert lakes == [(1, 2.0), (2, 2.0), (2, 4.0)]


@pytest.mark.parametrize("cell_m", [1.0, 0.5])
@pytest.mark.parametrize(
    ("shape", "volume", "tolerance"),
    [
        # Closed forms: cone pi R^2 H / 3; spherical cap pi h^2 (3 rho - h) / 3 with rho 50.5; paraboloid pi R^2 H / 2.
        (lambda r: r / 10 - 1, np.pi * 100 / 3, 0.001),
        (lambda r: 49.5 - np.sqrt(np.maximum(50.5**2 - r**2, 0)), np.pi * (3 * 50.5 - 1) / 3, 0.002),
        (lambda r: (r / 10) ** 2 - 1, np.pi * 100 / 2, 0.002),
    ],
    ids=["cone", "cap", "paraboloid"],
)
def test_analytic_pits(shape, volume, tolerance, cell_m):
    n = int(30 / cell_m)
    row, col = np.mgrid[: n + 1, : n + 7].astype(float)
    reach = np.hypot(row - n / 2, col - n / 2 - 3) * cell_m
    found, _ = hierarchy_of(np.minimum(shape(reach), 0.0))
    outermost = found.volume[found.parent == 0].max() * cell_m**2
    assert outermost == pytest.approx(volume, rel=tolerance)
    assert found.depth_max.max() == pytest.approx(1.0, abs=1e-6)


@st.composite
def grids(draw):
    n_rows, n_cols = draw(st.sampled_from([(1, 1), (1, 9), (8, 1), (5, 7), (9, 8), (12, 15)]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    elev = rng.integers(0, draw(st.sampled_from([2, 4, 12, 1000])), (n_rows, n_cols)).astype(np.float32)
    if draw(st.booleans()):
        elev[rng.random(elev.shape) < 0.15] = np.nan
    return elev


@given(grids())
@settings(max_examples=300, deadline=None)
def test_same_as_a_flood_of_single_cells(elev):
    found, filled = hierarchy_of(elev)
    assert rows(found) == flood_cell_by_cell(elev)
    top = found.parent == 0
    top[0] = False
    assert found.volume[top].sum() == pytest.approx(np.nansum(filled - elev, dtype=np.float64), abs=1e-6)
    check_tree(found, elev)
    np.testing.assert_array_equal(np.sort(cells_by_leaf(elev, found)[0]), np.flatnonzero(filled > elev))


def check_tree(found, elev):
    for node in range(1, found.parent.size):
        # Water goes over the saddle into a leaf that is not part of the node itself.
        inside = {node}
        for child in range(node, 0, -1):
            if found.parent[child] in inside:
                inside.add(child)
        assert found.spills_to[node] not in inside
        assert found.parent[node] == 0 or found.parent[node] > node
        assert elev.ravel()[found.spill_cell[node]] == found.spill_elev[node]
        assert elev.ravel()[found.pit_cell[node]] == pytest.approx(found.spill_elev[node] - found.depth_max[node])
        assert found.volume[node] > 0 and found.depth_max[node] > 0
    top = np.flatnonzero(found.parent == 0)[1:]
    assert found.catchment_cells[top].sum() + (found.leaf == 0).sum() == (~np.isnan(elev)).sum()


@pytest.mark.parametrize("elev", [suburb(150, 190, 3), bumps(90, 140, 4, step_m=0.1, gap_share=0.05)])
def test_outermost_nodes_are_the_pools_of_the_fill(elev):
    found, filled = hierarchy_of(elev)
    label, n = label_depressions(elev, filled)
    depth = np.nan_to_num(filled.astype(np.float64) - elev, nan=0.0)
    volumes = np.bincount(label.ravel(), weights=depth.ravel(), minlength=n + 1)[1:]
    top = np.flatnonzero(found.parent == 0)[1:]
    assert found.volume[top].sum() == pytest.approx(volumes.sum(), rel=1e-9)
    assert found.volume[top].max() == pytest.approx(volumes.max(), rel=1e-9)


@pytest.mark.parametrize("turn", [np.rot90, np.fliplr, np.flipud, np.transpose])
def test_the_tree_turns_with_the_ground(turn):
    elev = bumps(60, 80, 7)
    assert np.unique(elev).size == elev.size
    assert rows(hierarchy_of(elev)[0]) == rows(hierarchy_of(np.ascontiguousarray(turn(elev)))[0])


def test_the_tree_does_not_depend_on_where_the_window_lies():
    elev = np.round(bumps(70, 90, 8), 1)
    wide = np.full((90, 120), 200.0, np.float32)
    wide[11:81, 17:107] = elev
    wide[10, 16:108] = wide[81, 16:108] = wide[10:82, 16] = wide[10:82, 107] = np.nan
    inner, outer = hierarchy_of(elev)[0], hierarchy_of(wide)[0]
    assert inner.parent.tolist() == outer.parent.tolist()
    row, col = np.divmod(outer.spill_cell[1:], 120)
    assert inner.spill_cell[1:].tolist() == ((row - 11) * 90 + col - 17).tolist()
    assert inner.leaf.tolist() == outer.leaf[11:81, 17:107].tolist()


def test_ground_walled_in_by_no_data_drains_at_its_lowest():
    elev = np.full((7, 8), np.nan, np.float32)
    elev[2:5, 2:6] = [[5, 6, 5, 6], [6, 7, 6, 4], [5, 6, 5, 6]]
    found, filled = hierarchy_of(elev, nodata_drains=False)
    assert np.isfinite(found.spill_elev[1:]).all()
    assert found.volume[found.parent == 0].sum() == pytest.approx(np.nansum(filled - elev))


def test_cells_of_a_node_stand_together():
    elev = bumps(60, 80, 9)
    found, filled = hierarchy_of(elev)
    cells, first, last = cells_by_leaf(elev, found)
    np.testing.assert_array_equal(np.sort(cells), np.flatnonzero(filled > elev))
    for node in range(1, found.parent.size):
        own = elev.ravel()[cells[first[node] : last[node]]].astype(np.float64)
        below = own[own < found.spill_elev[node]]
        assert below.size == found.n_cells[node]
        assert (float(found.spill_elev[node]) - below).sum() == pytest.approx(found.volume[node], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("elev", [suburb(60, 70, 5), bumps(50, 40, 6, step_m=0.5, gap_share=0.05), np.zeros((4, 5))])
def test_cells_stand_by_leaf_then_by_elevation(elev):
    elev = np.ascontiguousarray(elev, np.float32)
    found, _ = hierarchy_of(elev)
    cells, first, last = cells_by_leaf(elev, found)
    for leaf in range(1, found.n_leaves + 1):
        own = cells[first[leaf] : last[leaf]]
        assert (found.leaf.ravel()[own] == leaf).all()
        np.testing.assert_array_equal(own, own[np.lexsort((own, elev.ravel()[own]))])
    assert (last - first)[1 : found.n_leaves + 1].sum() == cells.size
    for node in range(found.n_leaves + 1, found.parent.size):
        a, b = found.child_a[node], found.child_b[node]
        assert (first[node], last[node]) == (first[a], last[b]) and last[a] == first[b]


@pytest.mark.parametrize("n_pits", [1, 2, 3, 10, 130])
def test_a_tree_as_deep_as_it_has_leaves(n_pits):
    # A channel between walls: pits at 0, 1, 2 ... m, after each a sill 1.5 m higher; every pool joins all before it.
    pit, wall = np.arange(n_pits), 3.0 * n_pits
    elev = np.full((3, 2 * n_pits + 2), wall, np.float32)
    elev[1, 1:-1:2], elev[1, 2:-1:2] = pit, pit + 1.5
    found, _ = hierarchy_of(elev)
    assert found.n_leaves == n_pits and found.parent.size == 2 * n_pits
    for k in range(1, n_pits):
        node = n_pits + k
        level = wall if k == n_pits - 1 else k + 1.5
        bed = np.concatenate((pit[: k + 1], pit + 1.5))
        assert (found.child_a[node], found.child_b[node]) == ((1, 2) if k == 1 else (k + 1, node - 1))
        assert found.spill_elev[node] == level
        assert found.n_cells[node] == (bed < level).sum()
        assert found.volume[node] == np.maximum(level - bed, 0).sum()


@pytest.mark.parametrize("elev", [suburb(150, 190, 3), bumps(60, 60, 4, step_m=1.0)])
def test_cells_are_counted_at_the_first_node_that_covers_them(elev):
    found, filled = hierarchy_of(elev)
    expected = np.zeros(found.parent.size, np.int64)
    for cell in np.flatnonzero(filled > elev):
        node = found.leaf.ravel()[cell]
        while found.spill_elev[node] <= elev.ravel()[cell]:
            node = found.parent[node]
        expected[node] += 1
    for node in range(1, expected.size):
        if found.child_a[node] >= 0:
            expected[node] += expected[found.child_a[node]] + expected[found.child_b[node]]
    np.testing.assert_array_equal(found.n_cells, expected)


def test_parts_and_threads_change_nothing(monkeypatch):
    elev = suburb(230, 170, 2)
    elev[np.random.default_rng(3).random(elev.shape) < 0.05] = np.nan
    results = []
    for n_cells in (10**6, 1000):
        for module in (compiling, hierarchy, tree_cells):
            monkeypatch.setattr(module, "SERIAL_CELLS", n_cells)
        found, _ = hierarchy_of(elev, False)
        results.append((*found, *cells_by_leaf(elev, found)))
    for one, other in zip(*results, strict=True):
        np.testing.assert_array_equal(one, other)


def walled(cells, shape=(5, 7), wall=9.0):
    elev = np.full(shape, wall, np.float32)
    for (row, col), height in cells.items():
        elev[row, col] = height
    return elev


@pytest.mark.parametrize("is_only_way_out", [True, False])
def test_a_pit_that_has_a_way_out_is_not_opened_for_want_of_data_elsewhere(is_only_way_out):
    if is_only_way_out:  # over the first cell of all
        elev = np.full((5, 7), np.nan, np.float32)
        elev[0, 0], elev[1:4, 1:6] = 5.0, 6.0
    else:
        elev = np.full((5, 7), 6.0, np.float32)
        elev[3, 5], elev[2, 0] = np.nan, 4.0
    elev[2, 2] = 0.0
    found, filled = hierarchy_of(elev, nodata_drains=False)
    assert found.n_leaves == 1 and found.volume[1] == pytest.approx(np.nansum(filled - elev)) and filled[2, 2] == 6.0


def test_the_pit_is_the_lowest_cell_and_the_first_of_those_alike():
    # 0 and -0 are one height; 1e-8 lies above 0, though not in a float32 beside 1.
    for heights, pit in (((0.0, -0.0, -0.0), 8), ((2e-8, 1e-8, 2e-8), 9), ((-0.0, 0.0, 1.0), 8)):
        found, _ = hierarchy_of(walled({(1, 1 + k): height for k, height in enumerate(heights)}))
        assert found.pit_cell[1:].tolist() == [pit]


def test_of_pits_that_tie_the_first_is_that_of_the_node():
    # The pits at (1, 1) and (3, 3) join at 1 m, then the one at (1, 5) comes in by the second of them at 2 m.
    pits = {(1, 1): 0.0, (3, 3): 0.0, (1, 5): 0.0}
    found, _ = hierarchy_of(walled(pits | {(2, 2): 1.0, (2, 4): 2.0}))
    outermost = np.flatnonzero(found.parent == 0)[1:]
    assert found.pit_cell[outermost].tolist() == [1 * 7 + 1] and found.n_leaves == 3


def test_a_bowl_takes_the_ground_of_the_whole_window_up_to_its_last_cell():
    row, col = np.mgrid[-4:5, -5:6]
    elev = np.hypot(row, col)
    found, _ = hierarchy_of(elev)
    assert found.n_leaves == 1 and found.leaf.min() == 1
    assert found.catchment_cells.tolist()[1:] == [elev.size]
    assert found.n_cells[1] == (elev < found.spill_elev[1]).sum()


def test_closed_ground_with_one_pit_drains_there():
    elev = np.full((5, 5), np.nan)
    elev[1:4, 1:4] = [[2, 2, 2], [2, 1, 2], [2, 2, 2]]
    found, filled = hierarchy_of(elev, nodata_drains=False)
    assert found.n_leaves == 0
    np.testing.assert_array_equal(filled, elev.astype(np.float32))


@pytest.mark.parametrize("rows", [1, 2, 4])
def test_saddles_listed_by_several_strips_count_once(rows, monkeypatch):
    elev = bumps(30, 24, 5, step_m=0.5)
    whole, _ = hierarchy_of(elev)
    for module in ("basins", "saddles"):
        monkeypatch.setattr(f"screening.kernels.{module}.strip_rows", lambda n, _: np.unique([*range(0, n, rows), n]))
    found, _ = hierarchy_of(elev)
    for name in ("leaf", "parent", "pit_cell", "spill_cell", "spill_elev", "n_cells", "catchment_cells"):
        np.testing.assert_array_equal(getattr(found, name), getattr(whole, name), err_msg=name)
