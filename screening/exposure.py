"""What reaches each structure: ponding at its walls, water running to it, and why we say so."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from screening.columns import STRUCTURE_COLUMNS, declared
from screening.criteria import Criteria
from screening.models import F64, Block, Depressions, FlowField, Ponding, Storm, Surface

if TYPE_CHECKING:
    import geopandas as gpd


def assess_exposure(
    block: Block,
    surface: Surface,
    flow: FlowField,
    depressions: Depressions,
    storm: Storm,
    ponding: Ponding,
    *,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Assess the structures of the chosen lots.

    Parameters
    ----------
    block, surface, flow, depressions, storm, ponding
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`.

    Returns
    -------
    `columns.STRUCTURE_COLUMNS` and footprints, in the order of `block.structures`, those on a chosen lot only.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.zones import ring_of_labels

    starts, cells = ring_of_labels(surface.structure_index, len(block.structures))
    zone_starts, zone_cells = _with_footprints(surface, starts, cells, len(block.structures))
    reach = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), zone_starts, zone_cells)
    runoff = zone_upstream_total(flow.receiver, runoff_through_m3, zone_starts, zone_cells)
    own_runoff = _roof_runoff(surface, storm, len(block.structures))
    rows = []
    for number in np.flatnonzero(block.structures["lot_id"] != "").tolist():
        ring = cells[starts[number] : starts[number + 1]]
        ring = ring[~np.isnan(surface.routed_elev_m.ravel()[ring])]
        footprint = float((zone_starts[number + 1] - zone_starts[number]) - (starts[number + 1] - starts[number]))
        row: dict[str, Any] = block.structures.loc[number, ["structure_id", "lot_id", "kind"]].to_dict()
        row |= _at_the_wall(ring, surface, depressions, ponding)
        row["contributing_area_m2"] = reach[number] - footprint * flow.grid.cell_area_m2
        row["runoff_arriving_m3"] = max(runoff[number] - own_runoff[number], 0.0)
        row["is_small"] = footprint < 4
        row["edge_contaminated"] = bool((flow.edge_sides.ravel()[ring] != 0).any())
        row |= _judge(row, is_known=ring.size > 0, criteria=criteria)
        rows.append(row)
    footprints = block.structures.geometry[block.structures["lot_id"] != ""]
    return declared(rows, STRUCTURE_COLUMNS, geometry=footprints, crs=block.grid.crs)


def _with_footprints(surface: Surface, starts: Any, cells: Any, n_structures: int) -> tuple[Any, Any]:
    """Ring and footprint cells of each structure as one zone: water crosses a wall only by its own roof."""
    from screening.kernels.zones import ragged_from_labels

    own_starts, own_cells = ragged_from_labels(surface.structure_index, n_structures)
    zone = np.concatenate(
        (
            np.repeat(np.arange(n_structures), np.diff(starts)),
            np.repeat(np.arange(n_structures), np.diff(own_starts)),
        )
    )
    both = np.concatenate((cells, own_cells))
    order = np.argsort(zone, kind="stable")
    return starts + own_starts, both[order]


def _roof_runoff(surface: Surface, storm: Storm, n_structures: int) -> F64:
    """Runoff volume of each roof [m3]."""
    volume = storm.runoff_mm.ravel().astype(np.float64) * (surface.grid.cell_area_m2 / 1000.0)
    by_structure = np.bincount(surface.structure_index.ravel(), weights=volume, minlength=n_structures + 1)
    return by_structure[1:].astype(np.float64)


def _at_the_wall(ring: Any, surface: Surface, depressions: Depressions, ponding: Ponding) -> dict[str, Any]:
    """Lowest adjacent grade, and the low spot that stands deepest against the wall."""
    ground = surface.routed_elev_m.ravel()[ring].astype(np.float64)
    label = depressions.label.ravel()[ring]
    table = depressions.table
    row: dict[str, Any] = {
        "lowest_adjacent_grade_m": float(ground.min()) if ring.size else np.nan,
        "low_spot_id": "",
        "pond_depth_full_m": 0.0,
        "pond_depth_storm_m": 0.0,
        "freeboard_m": np.nan,
        "in_court": False,
    }
    for spot in np.unique(label[label > 0]).tolist():
        if table["is_enclosed"].iloc[spot - 1]:
            row["in_court"] = True
            continue
        lowest = float(ground[label == spot].min())
        full = float(table["spill_elev_m"].iloc[spot - 1]) - lowest
        if full > row["pond_depth_full_m"]:
            row |= {
                "low_spot_id": table["low_spot_id"].iloc[spot - 1],
                "pond_depth_full_m": full,
                "pond_depth_storm_m": float(ponding.water_depth_m.ravel()[ring[label == spot]].max()),
                "freeboard_m": row["lowest_adjacent_grade_m"] - float(table["spill_elev_m"].iloc[spot - 1]),
            }
    return row


def _judge(row: dict[str, Any], *, is_known: bool, criteria: Criteria) -> dict[str, str]:
    """Put the exposure and its reason in words; the numbers stay in their own columns."""
    if not is_known:
        return {"exposure": "not assessed", "exposure_why": "no elevation at its walls"}
    reasons = []
    ponds = row["pond_depth_full_m"] >= criteria.low_spot_min_depth_m
    runs = row["contributing_area_m2"] >= criteria.structure_area_flag_m2
    if ponds:
        when = (
            "stands against the wall in this storm" if row["pond_depth_storm_m"] > 0 else "reaches the wall when full"
        )
        reasons.append(f"low spot {row['low_spot_id']} {when}")
    if runs:
        reasons.append("ground uphill drains to its walls")
    if row["in_court"]:
        reasons.append("a court between walls has no way out over ground: a drain must be looked for")
    if not ponds and not runs and row["in_court"]:
        return {"exposure": "not assessed", "exposure_why": "; ".join(reasons)}
    exposure = "ponding" if ponds else "run-on" if runs else "low"
    return {"exposure": exposure, "exposure_why": "; ".join(reasons) or "little ground drains to its walls"}
