"""Run every kernel on small grids; as a program, write the arrays to the given file."""

import sys

import numpy as np

from screening.kernels import (
    accumulate,
    d8,
    depressions,
    dinfinity,
    fill,
    hierarchy,
    multiflow,
    order,
    shares,
    slope,
    tree_cells,
)
from tests.terrain import bumps, suburb


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
    n_upstream = d8.count_upstream(codes)
    tree = hierarchy.build_hierarchy(elev, fill.build_basin_graph(elev, nodata_drains))
    tree_cell, tree_first, tree_last = tree_cells.cells_by_leaf(elev, tree)
    label, n = depressions.label_depressions(elev, filled)
    multi = multiflow.accumulate_multiflow(filled, codes, weight, shares.freeman())
    multi_order = multiflow.multiflow_order(filled, codes)
    cells = rng.integers(0, elev.size, 5)
    start = np.array([0, 2, 2, 5])
    dzdx, dzdy = slope.horn_gradient(elev, 2.0)
    return {
        "filled": filled,
        **{f"tree {name}": np.asarray(part) for name, part in tree._asdict().items()},
        "tree cells": tree_cell,
        "tree first": tree_first,
        "tree last": tree_last,
        "codes": codes,
        "power of two": d8.to_power_of_two(codes),
        "receiver": receiver,
        "order": down,
        "n_upstream": n_upstream,
        "sum": accumulate.accumulate(receiver, down, weight.ravel()),
        "nearest": accumulate.nearest_label_downstream(receiver, down, zone.ravel()),
        "path": accumulate.downstream_path(receiver, int(cells[0])),
        "mask": accumulate.upstream_mask(receiver, down, target.ravel() > 0),
        "bits": accumulate.carry_downstream(receiver, down, zone.ravel().astype(np.uint8)),
        "zone area": accumulate.zone_upstream_total(receiver, n_upstream.ravel().astype(np.float64), start, cells),
        "zone cells": accumulate.zone_upstream_cells(receiver, n_rows, n_cols, cells),
        "multi": multi,
        "multi order": multi_order,
        "inflow": multiflow.zone_inflow(filled, codes, multi, zone, 3, shares.freeman()),
        "reach": multiflow.reach_fraction(filled, codes, multi_order, target, zone, shares.freeman()),
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
    }


if __name__ == "__main__":
    np.savez(sys.argv[1], **everything())
