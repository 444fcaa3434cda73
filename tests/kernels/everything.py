"""Run every kernel on small grids; as a program, write the arrays to the given file."""

import sys

import numpy as np

from screening.kernels import (
    accumulate,
    conduit_links,
    d8,
    depressions,
    dinfinity,
    direction_codes,
    fill,
    flow_paths,
    hierarchy,
    inflow_cells,
    multiflow,
    multiflow_zones,
    order,
    pools,
    runoff,
    shares,
    slope,
    spill_merge,
    spill_tree,
    tracers,
    travel_time,
    tree_cells,
    upstream_counts,
    zones,
)
from tests.made_ground import bumps, suburb


def everything():
    """Arrays by name, of terrain with flats, gaps, single rows and columns."""
    terrains = {
        "suburb": suburb(41, 37, 1),
        "rounded": bumps(13, 17, 2, step_m=1.0),
        "gaps": bumps(17, 13, 3, step_m=0.1, gap_share=0.25),
        "noise": bumps(12, 19, 4),
        "row": bumps(1, 23, 5, step_m=0.1),
        "column": bumps(23, 1, 6, gap_share=0.1),
        "nothing": np.full((3, 4), np.nan, np.float32),
    }
    results = {}
    for name, elev in terrains.items():
        for nodata_drains in (True, False):
            for key, value in _run(elev, nodata_drains).items():
                results[f"{name} {nodata_drains} {key}"] = np.asarray(value)
    return results


def _run(elev, nodata_drains):
    rng = np.random.default_rng(7)
    n_rows, n_cols = elev.shape
    weight = rng.random(elev.shape)
    zone = rng.integers(0, 4, elev.shape).astype(np.int32)
    target = (rng.random(elev.shape) < 0.1).astype(np.uint8)
    filled = fill.fill_depressions(elev, nodata_drains)
    codes = d8.flow_directions(filled, nodata_drains)
    receiver = d8.receivers(codes)
    down = order.downstream_order(receiver)
    n_upstream = upstream_counts.count_upstream(codes)
    tree = hierarchy.build_hierarchy(elev, fill.build_basin_graph(elev, nodata_drains))
    tree_cell, tree_first, tree_last = tree_cells.cells_by_leaf(elev, tree)
    label, n = depressions.label_depressions(elev, filled)
    multi = multiflow.accumulate_multiflow(filled, codes, weight, shares.freeman())
    multi_order = multiflow.multiflow_order(filled, codes)
    cells = rng.integers(0, elev.size, 5)
    start = np.array([0, 2, 2, 5])
    next_cell, last_cell = inflow_cells.next_zone_cells(receiver, *zones.ragged_from_labels(zone, 3))
    dzdx, dzdy = slope.horn_gradient(elev, 2.0)
    main = travel_time.main_donors(receiver, down, n_upstream.ravel().astype(np.float64))
    step = travel_time.step_lengths(receiver, n_cols, 2.0)
    path_slope = travel_time.path_slopes(receiver, main, step, elev.ravel(), 7.0, 0.001)
    longest = travel_time.longest_travel_time(
        receiver, down, main, step, weight.ravel() * step, step / 9.0, n_upstream.ravel() > 9, 11.0, 3.0, 0.01
    )
    return {
        **_pour(elev, filled, tree, rng),
        "main donors": main,
        "step": step,
        "path slope": path_slope,
        "travel time": longest,
        "filled": filled,
        **{f"tree {name}": np.asarray(part) for name, part in tree._asdict().items()},
        "tree cells": tree_cell,
        "tree first": tree_first,
        "tree last": tree_last,
        "codes": codes,
        "power of two": direction_codes.to_power_of_two(codes),
        "receiver": receiver,
        "order": down,
        "n_upstream": n_upstream,
        "sum": accumulate.accumulate(receiver, down, weight.ravel()),
        "nearest": accumulate.nearest_label_downstream(receiver, down, zone.ravel()),
        "path": flow_paths.downstream_path(receiver, int(cells[0])),
        "path to label": flow_paths.path_to_label(receiver, int(cells[0]), zone.ravel(), passing=1),
        "mask": accumulate.upstream_mask(receiver, down, target.ravel() > 0),
        "bits": accumulate.carry_downstream(receiver, down, zone.ravel().astype(np.uint8)),
        "zone area": accumulate.zone_upstream_total(receiver, n_upstream.ravel().astype(np.float64), start, cells),
        "zone cells": accumulate.zone_upstream_cells(receiver, n_rows, n_cols, cells),
        "next zone cell": next_cell,
        "last cell before": last_cell,
        "multi": multi,
        "multi order": multi_order,
        "inflow": multiflow_zones.zone_inflow(filled, codes, multi, zone, 3, shares.freeman()),
        "reach": multiflow_zones.reach_fraction(filled, codes, multi_order, target, zone, shares.freeman()),
        "multi by slope": multiflow.accumulate_multiflow(filled, codes, weight, shares.qin(0.5)),
        "dinf": dinfinity.accumulate_dinf(filled, codes, weight),
        "dinf reach": dinfinity.reach_fraction_dinf(filled, codes, target, zone),
        "label": label,
        **depressions.measure_depressions(elev, filled, receiver, label, n)._asdict(),
        "level for volume": depressions.level_for_volume(np.sort(weight.ravel()), weight.size, 3.0),
        "dzdx": dzdx,
        "dzdy": dzdy,
        "slope": slope.horn_slope_pct(elev, 2.0),
        "aspect": slope.aspect_deg(elev, 2.0),
        **_run_conduit_links(elev, nodata_drains, weight, target, zone),
        **_run_tracers(filled, receiver, label, target, rng),
    }


def _run_tracers(filled, receiver, label, target, rng):
    """Tracers over a square in the middle of the ground."""
    n_rows, n_cols = filled.shape
    west, north = n_cols / 4, n_rows / 4
    corners = np.array([(west, north), (3 * west, north), (3 * west, 3 * north), (west, 3 * north)])
    to = np.roll(corners, -1, axis=0)
    begins = np.cumsum([0, *np.hypot(*(to - corners).T)[:3]])
    edges = np.column_stack((corners, to, begins))
    code = np.where(np.isnan(filled), 0, tracers.ON_PATCH).astype(np.uint8)
    x, y = rng.uniform(0, n_cols, 40), rng.uniform(0, n_rows, 40)
    inside = ((np.abs(x - 2 * west) < west) & (np.abs(y - 2 * north) < north)).astype(np.uint8)
    leaves, enters, fate, ponds = tracers.walk_tracers(
        filled.astype(np.float64), receiver.reshape(filled.shape), code, label, edges, x, y, inside
    )
    n_ponds = int(ponds.max(initial=0))
    gone, held = tracers.pour_into_ponds(rng.random(40), ponds, np.arange(1, n_ponds + 1), np.full(n_ponds + 1, 0.5))
    is_zone = target.ravel()
    leaving = np.flatnonzero((is_zone > 0) & (receiver >= 0) & (is_zone[receiver] == 0)).astype(np.int64)
    return {
        "tracers leave": leaves,
        "tracers enter": enters,
        "tracers fate": fate,
        "tracers ponds": ponds,
        "tracers gone": gone,
        "tracers held": held,
        "comes back": inflow_cells.where_it_comes_back(receiver, is_zone, leaving),
    }


def _run_conduit_links(elev, nodata_drains, weight, target, zone):
    """The same ground with pipes, and with cells led down as roofs are."""
    rng = np.random.default_rng(11)
    known = np.flatnonzero(~np.isnan(elev.ravel())).astype(np.int64)
    ends = rng.choice(known, (4, 2)) if known.size else np.empty((0, 2), np.int64)
    pipes = conduit_links.Pipes(ends[:, 0], ends[:, 1], elev.ravel()[ends].max(axis=1) + np.float32(0.1))
    led = rng.choice(known, (6, 2)) if known.size else np.empty((0, 2), np.int64)
    graph = fill.with_pipes(fill.build_basin_graph(elev, nodata_drains), pipes)
    filled = fill.fill_basins(elev, graph)
    codes, piped = d8.directions_through(filled, nodata_drains, pipes)
    found = d8.lead_down(filled, codes, piped, led[:, 0], led[:, 1])
    receiver = d8.receivers(codes, found)
    multi_order = multiflow.multiflow_order(filled, codes, found)
    law = shares.freeman()
    results = {
        "filled": filled,
        "codes": codes,
        "from": found.cell,
        "to": found.target,
        "receiver": receiver,
        "order": order.downstream_order(receiver, found),
        "multi": multiflow.accumulate_multiflow(filled, codes, weight, law, found),
        "multi order": multi_order,
        "reach": multiflow_zones.reach_fraction(filled, codes, multi_order, target, zone, law, found),
        "dinf": dinfinity.accumulate_dinf(filled, codes, weight, found),
        "dinf reach": dinfinity.reach_fraction_dinf(filled, codes, target, zone, found),
    }
    return {f"conduit links {name}": value for name, value in results.items()}


def _pour(elev, filled, tree, rng):
    cell, first, last = tree_cells.cells_by_leaf(elev, tree)
    ground = elev.ravel()[cell]
    spill = spill_tree.build_spill_tree(tree.parent, tree.child_a, tree.child_b, tree.spills_to, tree.volume)
    poured = spill_merge.pour(spill, rng.random(tree.n_leaves + 1) * 3)
    pool = spill_merge.pool_of_nodes(tree.parent, poured)
    tops = np.unique(pool[pool > 0]).astype(np.int64)
    held = tree.volume[tops] - spill.own_capacity[tops] + poured.own[tops]
    level, depth = pools.level_pools(ground, first, last, tree.spill_elev, tops, held, poured.is_full[tops])
    classes = np.array([60, 98], np.float32)
    number = rng.choice(np.append(classes, np.float32(np.nan)), elev.size)
    area = runoff.area_by_class(np.maximum(tree.leaf, 0).ravel(), number, classes, tree.n_leaves + 1)
    nodes = np.arange(1, tree.parent.size)
    leaf = np.maximum(tree.leaf, 0).ravel().astype(np.int64)
    level_wanted = np.nan_to_num(elev.ravel().astype(np.float64)) + 0.05
    covered_leaf = tree.leaf.ravel()[cell]
    by_zone = tree_cells.cells_by_zone(covered_leaf, ground, first, last, tree.parent, tree.spill_elev, nodes[::-2])
    return {
        **{f"cells by zone {number}": part for number, part in enumerate(by_zone)},
        "leaves": spill.leaves,
        "room": spill.own_capacity,
        **{f"pools {name}": part for name, part in poured._asdict().items()},
        "pool": pool,
        "pool level": level,
        "pool depth": depth,
        "area by class": area,
        "sum by label": runoff.sum_by_label(leaf.astype(np.int32), elev.ravel(), tree.n_leaves + 1),
        "area by node": spill_tree.sum_over_parts(tree.child_a, tree.child_b, area),
        "water by rain": spill_merge.own_water_by_rain(spill, area, np.sort(rng.random((5, 2)), axis=0), nodes),
        "node at level": pools.node_at_level(leaf, level_wanted, tree.parent, tree.spill_elev),
        "volume below": pools.volume_below(
            ground, first, last, tree.n_leaves, nodes, tree.spill_elev[1:].astype(np.float64)
        ),
    }


if __name__ == "__main__":
    np.savez(sys.argv[1], **everything())
