"""What reaches each structure: ponding at its walls, water running to it, and why we say so."""

from __future__ import annotations

import dataclasses
import itertools
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.depressions.threshold_rainfall import RAIN_CAP_MM
from screening.flow.dispersive import context_area_of
from screening.models import (
    F64,
    I64,
    Block,
    Bool,
    Depressions,
    Exposure,
    FlowField,
    PeakFlows,
    Ponding,
    Storm,
    Surface,
    Verdict,
)
from screening.schema.columns import INFLOW_POINT_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.storm.rainfall_tables import how_often
from screening.structures.fall_away import bare_ground, judge_fall, measure_fall_away
from screening.structures.wall_inflow import InflowPoints, by_side, find_inflow_cells, find_inflow_points
from screening.structures.walls import SMALL_CELLS, Walls
from screening.structures.wording import exposure_words

if TYPE_CHECKING:
    import geopandas as gpd

_NOT_ADDED = {
    "peak_l_s": np.nan,
    "threshold_rainfall_mm": np.nan,
    "threshold_return_yr": np.nan,
    "threshold_returns": "",
}
"""Of a structure before `add_rains_and_peaks`."""


def assess_exposure(
    block: Block,
    surface: Surface,
    walls: Walls,
    flow: FlowField,
    depressions: Depressions,
    storm: Storm,
    ponding: Ponding,
    *,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> Exposure:
    """Assess the structures of the chosen lots, side by side.

    Parameters
    ----------
    block, surface, walls, flow, depressions, storm, ponding
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`, `flow_path_min_area_m2`, `fall_away_distance_m`,
        `fall_away_min_pct`, `fall_away_paved_min_pct`, `elevation_rmse_m`.

    Returns
    -------
    Structures in the order of `block.structures`, those on a chosen lot only, unranked until `rank_structures`; their
    sides; the places where flow paths meet them.
    """
    own_runoff = storm.runoff_m3.ravel()
    inflow_points = find_inflow_points(
        flow,
        walls,
        gathers_at=_gathering_places(walls, surface, depressions),
        runoff_through_m3=runoff_through_m3,
        own_runoff_m3=own_runoff,
    )
    inflow_cells = _inflow_cells(block, flow, walls, inflow_points, runoff_through_m3, criteria)
    rows = _side_rows(
        block=block,
        surface=surface,
        flow=flow,
        depressions=depressions,
        ponding=ponding,
        walls=walls,
        inflow_points=inflow_points,
        inflow_cells=inflow_cells,
        criteria=criteria,
    )
    lines = [side.line for side in walls.sides]
    sides = declared(rows, SIDE_COLUMNS, geometry=lines, crs=block.grid.crs)
    structures = _structures(block, flow, depressions, walls, rows, criteria)
    start, cells = walls.cells_by_side()
    return Exposure(structures=structures, sides=sides, inflow_points=inflow_cells, side_start=start, side_cells=cells)


def storm_depths(block: Block, walls: Walls, depressions: Depressions, ponding: Ponding) -> pd.DataFrame:
    """Measure the water that a storm leaves at the walls of each structure, as `assess_exposure` does beside all else.

    Parameters
    ----------
    block, walls, depressions, ponding
        Of the same window.

    Returns
    -------
    `structure_id` and `pond_depth_storm_m`, in the order of `assess_exposure`.
    """
    start, cells = walls.cells_by_side()
    depth = _storm_depth_m(depressions, ponding, cells)
    deepest = dict.fromkeys(walls.structure.tolist(), np.nan)
    for side, (first, end) in zip(walls.sides, itertools.pairwise(start.tolist()), strict=True):
        if end > first:
            deepest[side.structure] = np.fmax(deepest[side.structure], depth[first:end].max())
    ids = block.structures["structure_id"].to_numpy(object)[walls.structure]
    return pd.DataFrame({"structure_id": ids, "pond_depth_storm_m": list(deepest.values())})


def add_rains_and_peaks(
    exposure: Exposure, walls: Walls, ponding: Ponding, peaks: PeakFlows, storm: Storm, *, criteria: Criteria
) -> Exposure:
    """Add the threshold rainfall of each wall and how often it comes, and the peak flow that arrives.

    Parameters
    ----------
    exposure, walls, ponding, storm
        Of the same window.
    peaks
        Of the ground that drains past each side, in the order of `exposure.sides`. The part of it that arrives there
        has its share of the peak.
    criteria
        For the reasons in words, which say it too.
    """
    sides, structures = exposure.sides, exposure.structures
    arriving = sides["contributing_area_m2"].to_numpy(float)
    share = np.divide(arriving, peaks.area_m2, out=np.zeros(arriving.size), where=peaks.area_m2 > 0)
    peak_l_s = np.where(arriving > 0, peaks.peak_m3_s * np.minimum(share, 1.0) * 1000.0, 0.0)
    sides = sides.assign(tc_min=peaks.time_of_concentration_h * 60.0, peak_l_s=peak_l_s)
    rain = ponding.threshold_rainfall_mm[walls.structure]
    rain = np.where(rain < RAIN_CAP_MM, rain, np.nan)
    often = [how_often(storm.rain, depth) for depth in rain.tolist()]
    # A side whose peak is not assessed leaves the structure's open too.
    total = sides.groupby("structure_id")["peak_l_s"].agg(lambda own: own.sum(skipna=False))
    structures = structures.assign(
        peak_l_s=structures["structure_id"].map(total).to_numpy(float),
        threshold_rainfall_mm=rain,
        threshold_return_yr=np.array([years for years, _ in often], np.float64),
        threshold_returns=pd.Series([words for _, words in often], structures.index, dtype=object),
    )
    rows = structures.drop(columns="geometry").to_dict("records")
    why = pd.Series([exposure_words(row, criteria) for row in rows], structures.index, dtype=object)
    structures = structures.assign(exposure_why=why)
    return dataclasses.replace(exposure, sides=sides, structures=structures)


def rank_structures(structures: gpd.GeoDataFrame, verdicts: tuple[Verdict, ...]) -> gpd.GeoDataFrame:
    """Score structures by the points of their verdicts and put them in order, the most exposed first.

    Structures of one score follow by depth at the wall when full, then by contributing area, then as in their file.
    """
    points = dict.fromkeys(structures["structure_id"], 0.0)
    for verdict in verdicts:
        if verdict.subject_kind == "structure" and verdict.subject_id in points:
            points[verdict.subject_id] += verdict.points
    score = structures["structure_id"].map(points).to_numpy(float)
    depth, area = (structures[name].to_numpy(float) for name in ("pond_depth_full_m", "contributing_area_m2"))
    order = np.lexsort((-np.nan_to_num(area), -np.nan_to_num(depth), -score))
    rank = np.empty(score.size, np.int64)
    rank[order] = np.arange(1, score.size + 1)
    return structures.assign(exposure_rank=rank, exposure_score=score)


def _full_depth_m(depressions: Depressions, cells: I64) -> F64:
    """Depth of the water at cells when all low spots are full; 0 in enclosed courtyards."""
    return depressions.depth_m.ravel()[cells].astype(np.float64)


def _storm_depth_m(depressions: Depressions, ponding: Ponding, cells: I64) -> F64:
    """Depth of the water at cells that the storm leaves; 0 in enclosed courtyards."""
    return np.where(_in_courtyard(depressions, cells), 0.0, ponding.water_depth_m.ravel()[cells].astype(np.float64))


def _low_spot_at(depressions: Depressions, cell: int) -> tuple[str, float]:
    """Id and spill elevation of the low spot that a cell lies in."""
    row = depressions.table.iloc[int(depressions.label.ravel()[cell]) - 1]
    return str(row["low_spot_id"]), float(row["spill_elev_m"])


def _in_courtyard(depressions: Depressions, cells: I64) -> Bool:
    in_courtyard: Bool = depressions.is_courtyard[depressions.label.ravel()[cells]]
    return in_courtyard


def _gathering_places(walls: Walls, surface: Surface, depressions: Depressions) -> I64:
    """Lowest ground beside the same walls in the same low spot, by cell of `walls.zone_cells`; else the cell itself."""
    label = depressions.label.ravel()[walls.zone_cells]
    ground = surface.routed_elev_m.ravel()[walls.zone_cells]
    place = np.arange(walls.zone_cells.size)
    wet = np.flatnonzero((walls.side >= 0) & (label > 0))
    order = wet[np.lexsort((ground[wet], label[wet], walls.zone[wet]))]
    pair = np.column_stack((walls.zone[order], label[order]))
    is_first = np.ones(order.size, bool)
    is_first[1:] = (np.diff(pair, axis=0) != 0).any(axis=1)
    place[order] = order[np.flatnonzero(is_first)[np.cumsum(is_first) - 1]]
    return place


def _inflow_cells(
    block: Block,
    flow: FlowField,
    walls: Walls,
    inflow_points: InflowPoints,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Where flow paths meet walls."""
    import shapely

    rows = find_inflow_cells(
        flow, walls, inflow_points, runoff_through_m3=runoff_through_m3, min_area_m2=criteria.flow.flow_path_min_area_m2
    )
    points = []
    names = _names(block)
    for number, row in enumerate(rows, start=1):
        place = row["zone_place"]
        cell = int(walls.zone_cells[place])
        side = walls.sides[int(walls.side[place])]
        row |= names[side.structure]
        row |= {"inflow_point_id": f"WA-{number}", "side": side.name}
        row["edge_contaminated"] = bool(flow.edge_sides.ravel()[cell] != 0)
        at_row, at_col = divmod(cell, flow.grid.n_cols)
        points.append(shapely.Point(flow.grid.x_of(at_col), flow.grid.y_of(at_row)))
    return declared(rows, INFLOW_POINT_COLUMNS, geometry=points, crs=block.grid.crs)


def _names(block: Block) -> list[dict[str, Any]]:
    """Ids and kind of each structure."""
    records: list[dict[str, Any]] = block.structures[["structure_id", "lot_id", "kind"]].to_dict("records")
    return records


def _side_rows(
    block: Block,
    surface: Surface,
    flow: FlowField,
    depressions: Depressions,
    ponding: Ponding,
    walls: Walls,
    inflow_points: InflowPoints,
    inflow_cells: gpd.GeoDataFrame,
    criteria: Criteria,
) -> list[dict[str, Any]]:
    area, runoff = by_side(walls, inflow_points.area_m2), by_side(walls, inflow_points.runoff_m3)
    n_paths = Counter(zip(inflow_cells["structure_id"], inflow_cells["side"], strict=True))
    names = _names(block)
    lots = dict(zip(block.lots["lot_id"], block.lots.geometry, strict=True)) if "lots" in block.given else {}
    own_lots = [lots.get(names[side.structure]["lot_id"]) for side in walls.sides]
    falls = measure_fall_away(walls.sides, own_lots, bare_ground(block, surface), criteria=criteria)
    start, cells = walls.cells_by_side()
    rows = []
    for number, side in enumerate(walls.sides):
        beside = cells[start[number] : start[number + 1]]
        row = dict(names[side.structure])
        fall = falls[number]
        is_known = beside.size > 0
        row |= {
            "side_id": f"{row['structure_id']} {side.name}",
            "side": side.name,
            "length_m": side.line.length,
            "contributing_area_m2": area[number] if is_known else np.nan,
            "wall_inflow_m3": max(runoff[number], 0.0) if is_known else np.nan,
            "n_inflow_points": n_paths[row["structure_id"], side.name],
            "lowest_grade_m": float(surface.routed_elev_m.ravel()[beside].min()) if is_known else np.nan,
            "pond_depth_full_m": _full_depth_m(depressions, beside).max() if is_known else np.nan,
            "pond_depth_storm_m": _storm_depth_m(depressions, ponding, beside).max() if is_known else np.nan,
            "fall_away_pct": fall.fall_away_pct,
            "fall_required_pct": fall.required_pct,
            "fall_error_pct": fall.error_pct,
            "fall_distance_m": fall.distance_m,
            "paved_frac": fall.paved_frac,
            "edge_contaminated": bool((flow.edge_sides.ravel()[beside] != 0).any()),
        }
        row["exposure"] = _exposure(
            row, has_enclosed_courtyard=bool(_in_courtyard(depressions, beside).any()), criteria=criteria
        )
        rows.append(row)
    return rows


def _exposure(row: dict[str, Any], *, has_enclosed_courtyard: bool, criteria: Criteria) -> str:
    """Ponding before run-on before low; a courtyard that no ground drains is not assessed unless it shows more."""
    if row["pond_depth_full_m"] != row["pond_depth_full_m"]:
        return "not assessed"
    if row["pond_depth_full_m"] >= criteria.depressions.low_spot_min_depth_m:
        return "ponding"
    if row["contributing_area_m2"] >= criteria.structures.structure_area_flag_m2:
        return "run-on"
    return "not assessed" if has_enclosed_courtyard else "low"


def _structures(
    block: Block,
    flow: FlowField,
    depressions: Depressions,
    walls: Walls,
    side_rows: list[dict[str, Any]],
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Each structure from its sides."""
    n_under, names = walls.n_footprint_cells(), _names(block)
    beyond = context_area_of(flow, walls.zone_start, walls.zone_cells)
    of_structure: dict[int, list[dict[str, Any]]] = {}
    for side, side_row in zip(walls.sides, side_rows, strict=True):
        of_structure.setdefault(side.structure, []).append(side_row)
    rows = []
    for number, structure in enumerate(walls.structure.tolist()):
        ring, own = walls.ring_of(number), of_structure[structure]
        row: dict[str, Any] = names[structure] | _arriving(own) | _least_fall(own) | _deepest(own, ring, depressions)
        row |= {
            "exposure_rank": 0,
            "exposure_score": np.nan,
            "context_area_m2": beyond[number] if ring.size else np.nan,
            "pond_depth_storm_m": max(_known(own, "pond_depth_storm_m"), default=np.nan),
            "lowest_adjacent_grade_m": min(_known(own, "lowest_grade_m"), default=np.nan),
            "has_enclosed_courtyard": bool(_in_courtyard(depressions, ring).any()),
            "is_small": bool(n_under[number] < SMALL_CELLS),
            "edge_contaminated": bool((flow.edge_sides.ravel()[ring] != 0).any()),
        }
        row["freeboard_m"] = row["lowest_adjacent_grade_m"] - row["spill_elev_m"]
        row["exposure"] = _exposure(row, has_enclosed_courtyard=row["has_enclosed_courtyard"], criteria=criteria)
        row |= _NOT_ADDED
        row["exposure_why"] = exposure_words(row, criteria)
        rows.append(row)
    footprints = block.structures.geometry.iloc[walls.structure]
    return declared(rows, STRUCTURE_COLUMNS, geometry=footprints, crs=block.grid.crs)


def _known(own: list[dict[str, Any]], name: str) -> list[float]:
    """Values of the sides that have one."""
    return [float(row[name]) for row in own if row[name] == row[name]]


def _arriving(own: list[dict[str, Any]]) -> dict[str, Any]:
    """Totals of the sides, and the side at which most arrives."""
    area, runoff = _known(own, "contributing_area_m2"), _known(own, "wall_inflow_m3")
    most = next((row for row in own if area and row["contributing_area_m2"] == max(area)), None)
    return {
        "contributing_area_m2": sum(area) if area else np.nan,
        "wall_inflow_m3": sum(runoff) if runoff else np.nan,
        "n_inflow_points": sum(row["n_inflow_points"] for row in own),
        "inflow_side": most["side"] if most else "",
        "inflow_side_area_m2": most["contributing_area_m2"] if most else np.nan,
    }


def _least_fall(own: list[dict[str, Any]]) -> dict[str, Any]:
    """The side that speaks for the structure: one that fails, else one not known, else the least that passes."""
    names = ("fall_away_pct", "fall_required_pct", "fall_error_pct")

    def order(row: dict[str, Any]) -> tuple[int, float]:
        outcome = judge_fall(*(row[name] for name in names))
        margin = row["fall_away_pct"] - row["fall_required_pct"]
        is_measured = margin == margin
        group = {"failed": 0, "not assessed": 1 if is_measured else 2, "passed": 3}[outcome]
        return group, margin if is_measured else 0.0

    least = min(own, key=order)
    return {"fall_away_side": least["side"]} | {name: least[name] for name in names}


def _deepest(own: list[dict[str, Any]], ring: I64, depressions: Depressions) -> dict[str, Any]:
    """The low spot that stands deepest against the wall when full, and the side where it does."""
    nothing = {"pond_depth_full_m": np.nan, "pond_side": "", "low_spot_id": "", "spill_elev_m": np.nan}
    if ring.size == 0:
        return nothing
    depth = _full_depth_m(depressions, ring)
    deepest = float(depth.max())
    if deepest <= 0:
        return nothing | {"pond_depth_full_m": 0.0}
    spot, level = _low_spot_at(depressions, int(ring[depth.argmax()]))
    side = next(row["side"] for row in own if row["pond_depth_full_m"] == deepest)
    return {"pond_depth_full_m": deepest, "pond_side": side, "low_spot_id": spot, "spill_elev_m": level}
