"""Low spots: where water stands before it runs on, and how much."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from screening.models import (
    F32,
    I32,
    I64,
    Bool,
    DepressionHierarchy,
    FlowField,
    LowSpots,
    NestedZones,
    Surface,
)
from screening.schema.criteria import Criteria


def find_low_spots(
    surface: Surface, flow: FlowField, hierarchy: DepressionHierarchy, *, criteria: Criteria
) -> LowSpots:
    """Find the low spots deep and wide enough to report.

    Of low spots within a low spot those are reported that are deep and wide enough on both sides of where they join:
    a pan with one dimple is one low spot. One whose only way over leads across a structure (an enclosed courtyard)
    is kept and marked `is_enclosed`, but its depth and volume are not assessed: what drains it cannot be seen in
    elevation.

    Parameters
    ----------
    surface, flow, hierarchy
        Of the same window.
    criteria
        `low_spot_min_depth_m`, `low_spot_min_area_m2`.

    Returns
    -------
    The outermost low spots, numbered from the largest volume down, then those within them (`LS-1.1`).
    """
    kept, names, part_of = _chosen(hierarchy, _is_wide_and_deep(hierarchy, criteria))
    own = hierarchy.table.iloc[kept - 1]
    spill_cell, level = own["spill_cell"].to_numpy(np.int64), own["spill_elev_m"].to_numpy(np.float64)
    is_enclosed = surface.structure_index.ravel()[spill_cell] > 0
    measured = np.where(is_enclosed, np.nan, 1.0)
    zones = _zones_of(hierarchy, kept)
    found = pd.DataFrame(
        {
            "low_spot_id": pd.Series(names, dtype=object),
            "part_of": pd.Series(part_of, dtype=object),
            "depth_max_m": own["depth_max_m"].to_numpy(float) * measured,
            "volume_m3": own["volume_m3"].to_numpy(float) * measured,
            "area_m2": own["area_m2"].to_numpy(float) * measured,
            "spill_elev_m": level * measured,
            "pit_elev_m": surface.routed_elev_m.ravel()[own["pit_cell"].to_numpy(np.int64)],
            "is_enclosed": is_enclosed,
        }
    )
    label = np.zeros(surface.grid.shape, np.int32)
    label.ravel()[zones.cells] = zones.outermost[zones.innermost] + 1
    is_shown = np.concatenate(([False], ~is_enclosed[: part_of.count("")]))
    depth = np.where(is_shown[label], flow.filled_elev_m - surface.routed_elev_m, np.float32(0)).astype(np.float32)
    return LowSpots(
        grid=surface.grid,
        label=label,
        depth_m=depth,
        level_m=level,
        spill_cell=_first_below(flow, spill_cell, level),
        node=kept,
        zones=zones,
        found=found,
    )


def label_low_spots(surface: Surface, flow: FlowField, *, criteria: Criteria) -> I32:
    """Label the outermost low spots deep and wide enough to report, without measuring them.

    Returns
    -------
    int32, shape of the grid: the number of a low spot, 0 elsewhere.
    """
    from screening.kernels.depressions import label_depressions, measure_depressions

    label, n_found = label_depressions(surface.routed_elev_m, flow.filled_elev_m)
    found = measure_depressions(surface.routed_elev_m, flow.filled_elev_m, flow.receiver, label, n_found)
    area = found.n_cells * surface.grid.cell_area_m2
    is_kept = (found.depth_max >= criteria.depressions.low_spot_min_depth_m) & (
        area >= criteria.depressions.low_spot_min_area_m2
    )
    number = np.concatenate(([0], np.where(is_kept, np.arange(1, n_found + 1), 0))).astype(np.int32)
    return number[label]


def _is_wide_and_deep(hierarchy: DepressionHierarchy, criteria: Criteria) -> Bool:
    """Nodes worth reporting; all around such a node are so too."""
    table = hierarchy.table
    is_deep = table["depth_max_m"].to_numpy() >= criteria.depressions.low_spot_min_depth_m
    is_wide = table["area_m2"].to_numpy() >= criteria.depressions.low_spot_min_area_m2
    worth: Bool = is_deep & is_wide
    return worth


def _chosen(hierarchy: DepressionHierarchy, is_worth: Bool) -> tuple[I64, list[str], list[str]]:
    """Choose the nodes to report: the outermost, and parts whose sibling is worth reporting too.

    Returns
    -------
    Nodes, their names, and the name of the low spot that each is part of.
    """
    table = hierarchy.table
    volume, pit = table["volume_m3"].to_numpy(), table["pit_cell"].to_numpy(np.int64)
    parts = table[["child_a", "child_b"]].to_numpy()

    def by_size(nodes: NDArray[Any]) -> list[int]:
        order = np.lexsort((pit[nodes - 1], -volume[nodes - 1]))
        return [int(node) for node in nodes[order]]

    def parts_of(node: int) -> list[int]:
        """The nodes next within a node where it splits into two worth reporting."""
        while True:
            worth = [int(part) for part in parts[node - 1] if part > 0 and is_worth[part - 1]]
            if len(worth) != 1:
                return by_size(np.array(worth, np.int64)) if worth else []
            node = worth[0]

    outermost = by_size(np.flatnonzero(is_worth & (table["parent"].to_numpy() == 0)) + 1)
    found = [(node, f"LS-{number}", "") for number, node in enumerate(outermost, start=1)]
    for node, name, _ in found:
        # the list grows while it is walked: parts are named within parts
        found += [(part, f"{name}.{number}", name) for number, part in enumerate(parts_of(node), start=1)]
    nodes, names, part_of = zip(*found, strict=True) if found else ((), (), ())
    return np.array(nodes, np.int64), list(names), list(part_of)


def _zones_of(hierarchy: DepressionHierarchy, nodes: I64) -> NestedZones:
    """Cells that each node covers when full; nodes come after those around them."""
    from screening.kernels.tree_cells import cells_by_zone

    table = hierarchy.table
    parent = np.concatenate(([0], table["parent"])).astype(np.int32)
    spill = np.concatenate(([-np.inf], table["spill_elev_m"])).astype(np.float32)
    leaf = hierarchy.leaf.ravel()[hierarchy.cell]
    place, innermost, zone_first, zone_last, around = cells_by_zone(
        leaf=leaf,
        elev_of=hierarchy.cell_elev_m,
        first=hierarchy.first,
        last=hierarchy.last,
        parent=parent,
        spill_elev=spill,
        nodes=nodes,
    )
    return NestedZones(
        cells=hierarchy.cell[place], innermost=innermost, first=zone_first, last=zone_last, around=around
    )


def low_spot_depths(elev_m: F32, *, cell_area_m2: float, criteria: Criteria) -> F32:
    """Measure how deep the low spot is that covers each cell of a surface, its deepest place counting.

    Parameters
    ----------
    elev_m
        float32 [m], NaN = no data.
    cell_area_m2
        Area of a cell [m2].
    criteria
        `low_spot_min_depth_m`, `low_spot_min_area_m2`, `nodata_drains`.

    Returns
    -------
    float32 of the same shape [m], 0 where no low spot is deep and wide enough to report.
    """
    from screening.kernels.depressions import label_depressions
    from screening.kernels.fill import fill_depressions

    filled = fill_depressions(elev_m, criteria.terrain.nodata_drains)
    label, n_found = label_depressions(elev_m, filled)
    cells = np.flatnonzero(label)
    spot = label.ravel()[cells]
    depth_max = np.zeros(n_found + 1, np.float32)
    np.maximum.at(depth_max, spot, filled.ravel()[cells] - elev_m.ravel()[cells])
    area = np.bincount(spot, minlength=n_found + 1) * cell_area_m2
    depth_max[
        (depth_max < criteria.depressions.low_spot_min_depth_m) | (area < criteria.depressions.low_spot_min_area_m2)
    ] = 0
    depths: F32 = depth_max[label]
    return depths


def _first_below(flow: FlowField, start: I64, level: NDArray[Any]) -> I64:
    """Follow the water that overflows until it is below the level it stood at.

    Low spots of one level may lie in one flat, where the paths from one cross another and back: only strictly
    lower ground says where the water goes next.
    """
    filled = flow.filled_elev_m.ravel()
    cell = start.copy()
    while True:
        receiver = flow.receiver[cell].astype(np.int64)
        moves = (filled[cell] >= level) & (receiver != cell)
        if not moves.any():
            return cell
        cell = np.where(moves, receiver, cell)
