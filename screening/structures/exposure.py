"""What reaches each structure: ponding at its walls, water running to it, in this storm and in others."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screening.depressions.threshold_rainfall import RAIN_CAP_MM, RainReturns, ThresholdRains, rain_returns
from screening.models import F64, Block, Exposure, FlowField, LowSpots, PeakFlows, Ponding, Storm, Surface, Verdict
from screening.schema.columns import INFLOW_POINT_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS, before_verdicts, declared
from screening.schema.criteria import Criteria
from screening.structures.measures import (
    SideMeasure,
    StructureMeasure,
    measure_sides,
    measure_structures,
)
from screening.structures.wall_inflow import (
    InflowPoints,
    by_side,
    find_inflow_cells,
    find_inflow_points,
    first_at_walls,
)
from screening.structures.wall_water import gathering_places, storm_depth_of_sides, storm_depth_of_structures
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True, eq=False)
class WallMeasures:
    """What the ground says of the structures on chosen lots, before any storm.

    Parameters
    ----------
    inflow_points
        Where water that meets the walls goes next.
    sides, structures
        By place in `Walls.sides` and `Walls.structure`.
    """

    inflow_points: InflowPoints
    sides: list[SideMeasure]
    structures: list[StructureMeasure]

    @property
    def table(self) -> pd.DataFrame:
        """The structures as a table, with what checks need and no shapes."""
        return pd.DataFrame(self.structures, columns=list(StructureMeasure.__dataclass_fields__))


@dataclass(frozen=True, kw_only=True, eq=False)
class SideWater:
    """What a storm brings to each side, by place in `Walls.sides`: float64, NaN = not known.

    Parameters
    ----------
    runoff_m3
        Storm runoff that meets the walls there first.
    depth_m
        Deepest water that the storm leaves beside it.
    time_of_concentration_min, peak_l_s
        Of the ground that drains past it, and of the part of that which arrives there.
    """

    runoff_m3: F64
    depth_m: F64
    time_of_concentration_min: F64
    peak_l_s: F64


def measure_walls(
    block: Block, surface: Surface, walls: Walls, flow: FlowField, low_spots: LowSpots, *, criteria: Criteria
) -> WallMeasures:
    """Measure what drains to the walls of the structures on chosen lots, how deep water can stand there, and the fall.

    Parameters
    ----------
    block, surface, walls, flow, low_spots
        Of the same window.
    criteria
        As for `assess_exposure`.
    """
    points = find_inflow_points(flow, walls, gathers_at=gathering_places(walls, surface, low_spots))
    own_m2 = np.full(flow.receiver.size, flow.grid.cell_area_m2)
    arriving_m2 = first_at_walls(flow, walls, points, through=flow.contributing_area_m2.ravel(), own=own_m2)
    sides = measure_sides(block, surface, walls, flow, low_spots, arriving_m2=arriving_m2, criteria=criteria)
    structures = measure_structures(block, walls, flow, low_spots, sides, criteria=criteria)
    return WallMeasures(inflow_points=points, sides=sides, structures=structures)


def assess_exposure(
    block: Block,
    surface: Surface,
    walls: Walls,
    flow: FlowField,
    low_spots: LowSpots,
    *,
    storm: Storm,
    ponding: Ponding,
    thresholds: ThresholdRains,
    peaks: PeakFlows,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> Exposure:
    """Assess the structures of the chosen lots, side by side.

    Parameters
    ----------
    block, surface, walls, flow, low_spots
        Of the same window.
    storm, ponding, thresholds
        The storm, what it leaves standing, and the rains that bring water to each structure.
    peaks
        Of the ground that drains past each side, in the order of `walls.sides`. The part of it that arrives there has
        its share of the peak.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `low_spot_min_depth_m`, `structure_area_flag_m2`, `flow_path_min_area_m2`, `fall_away_distance_m`,
        `fall_away_min_pct`, `fall_away_paved_min_pct`, `elevation_rmse_m`.

    Returns
    -------
    Structures in the order of `block.structures`, those on a chosen lot only, without the columns that follow from
    verdicts (`rank_structures`); their sides; the places where flow paths meet them.
    """
    measured = measure_walls(block, surface, walls, flow, low_spots, criteria=criteria)
    arriving_m3 = first_at_walls(
        flow, walls, measured.inflow_points, through=runoff_through_m3, own=storm.runoff_m3.ravel()
    )
    water = _water_at_sides(walls, measured, low_spots, ponding, peaks, arriving_m3)
    points = _tabulate_inflow(block, flow, walls, measured.inflow_points, runoff_through_m3, criteria)
    start, cells = walls.cells_by_side()
    rain = thresholds.of_structures_mm[walls.structure]
    rain = np.where(rain < RAIN_CAP_MM, rain, np.nan)
    return Exposure(
        structures=_tabulate_structures(block, walls, measured, water, points, rain_returns(storm.rain, rain)),
        sides=_tabulate_sides(block, walls, measured, water, points),
        inflow_points=points,
        side_start=start,
        side_cells=cells,
    )


def rank_structures(structures: gpd.GeoDataFrame, verdicts: tuple[Verdict, ...]) -> gpd.GeoDataFrame:
    """Score structures by the points of their verdicts and put them in order, the most exposed first.

    Structures of one score follow by depth at the wall when full, then by contributing area, then as in their file.

    Returns
    -------
    `columns.STRUCTURE_COLUMNS`, complete.
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
    ranked = structures.drop(columns="geometry").assign(exposure_rank=rank, exposure_score=score)
    return declared(ranked, STRUCTURE_COLUMNS, geometry=structures.geometry, crs=structures.crs)


def _water_at_sides(
    walls: Walls, measured: WallMeasures, low_spots: LowSpots, ponding: Ponding, peaks: PeakFlows, arriving_m3: F64
) -> SideWater:
    area = np.array([side.contributing_area_m2 for side in measured.sides], np.float64)
    share = np.divide(area, peaks.area_m2, out=np.zeros(area.size), where=peaks.area_m2 > 0)
    runoff = np.where(np.isnan(area), np.nan, np.maximum(by_side(walls, arriving_m3), 0.0))
    return SideWater(
        runoff_m3=runoff,
        depth_m=storm_depth_of_sides(walls, low_spots, ponding),
        time_of_concentration_min=peaks.time_of_concentration_h * 60.0,
        peak_l_s=np.where(area > 0, peaks.peak_m3_s * np.minimum(share, 1.0) * 1000.0, 0.0),
    )


def _tabulate_inflow(
    block: Block,
    flow: FlowField,
    walls: Walls,
    inflow_points: InflowPoints,
    runoff_through_m3: F64,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Where flow paths meet walls."""
    import shapely

    found = find_inflow_cells(
        flow, walls, inflow_points, runoff_through_m3=runoff_through_m3, min_area_m2=criteria.flow.flow_path_min_area_m2
    )
    cells = walls.zone_cells[np.array([each.zone_place for each in found], np.int64)]
    sides = [walls.sides[int(walls.side[each.zone_place])] for each in found]
    row, col = np.divmod(cells, flow.grid.n_cols)
    own = block.structures.iloc[[side.structure for side in sides]]
    table = pd.DataFrame(found, columns=["contributing_area_m2", "runoff_m3", "from_bearing_deg"]).assign(
        inflow_point_id=[f"WA-{number}" for number in range(1, len(found) + 1)],
        structure_id=own["structure_id"].to_numpy(object),
        lot_id=own["lot_id"].to_numpy(object),
        side=[str(side.name) for side in sides],
        edge_contaminated=flow.edge_sides.ravel()[cells] != 0,
    )
    x, y = flow.grid.x_of(0) + col * flow.grid.cell_m, flow.grid.y_of(0) - row * flow.grid.cell_m
    places = [shapely.Point(at) for at in zip(x.tolist(), y.tolist(), strict=True)]
    return declared(table, INFLOW_POINT_COLUMNS, geometry=places, crs=block.grid.crs)


def _tabulate_sides(
    block: Block, walls: Walls, measured: WallMeasures, water: SideWater, points: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    own = block.structures.iloc[[side.structure for side in walls.sides]]
    ids = own["structure_id"].to_numpy(object)
    names = [side.side for side in measured.sides]
    n_paths = Counter(zip(points["structure_id"], points["side"], strict=True))
    falls = [side.fall for side in measured.sides]
    lines = [side.line for side in walls.sides]
    columns = {
        "side_id": [f"{structure_id} {name}" for structure_id, name in zip(ids, names, strict=True)],
        "structure_id": ids,
        "lot_id": own["lot_id"].to_numpy(object),
        "side": names,
        "exposure": [side.exposure.value for side in measured.sides],
        "length_m": [line.length for line in lines],
        "contributing_area_m2": [side.contributing_area_m2 for side in measured.sides],
        "wall_inflow_m3": water.runoff_m3,
        "tc_min": water.time_of_concentration_min,
        "peak_l_s": water.peak_l_s,
        "n_inflow_points": [n_paths[pair] for pair in zip(ids, names, strict=True)],
        "lowest_grade_m": [side.lowest_grade_m for side in measured.sides],
        "pond_depth_full_m": [side.pond_depth_full_m for side in measured.sides],
        "pond_depth_storm_m": water.depth_m,
        "fall_away_pct": [fall.fall_away_pct for fall in falls],
        "fall_required_pct": [fall.required_pct for fall in falls],
        "fall_error_pct": [fall.error_pct for fall in falls],
        "fall_distance_m": [fall.distance_m for fall in falls],
        "paved_frac": [fall.paved_frac for fall in falls],
        "edge_contaminated": [side.edge_contaminated for side in measured.sides],
    }
    return declared(columns, SIDE_COLUMNS, geometry=lines, crs=block.grid.crs)


def _tabulate_structures(
    block: Block,
    walls: Walls,
    measured: WallMeasures,
    water: SideWater,
    points: gpd.GeoDataFrame,
    returns: RainReturns,
) -> gpd.GeoDataFrame:
    """Each structure from its sides, and the rain that brings water to it."""
    bounds = np.searchsorted(walls.structure_of_side, np.arange(walls.structure.size + 1)).tolist()
    own_sides = [slice(first, end) for first, end in itertools.pairwise(bounds)]
    n_paths = Counter(points["structure_id"])
    table = measured.table.assign(
        wall_inflow_m3=[_total_of_known(water.runoff_m3[own]) for own in own_sides],
        # A side whose peak is not assessed leaves the structure's open too.
        peak_l_s=[float(water.peak_l_s[own].sum()) for own in own_sides],
        n_inflow_points=[n_paths[structure.structure_id] for structure in measured.structures],
        pond_depth_storm_m=storm_depth_of_structures(walls, water.depth_m),
        threshold_rainfall_mm=returns.rain_mm,
        threshold_return_yr=returns.return_period_yr,
        threshold_return_code=[code.value for code in returns.code],
        threshold_return_bound_yr=returns.bound_yr,
    )
    footprints = block.structures.geometry.iloc[walls.structure]
    return declared(table, before_verdicts(STRUCTURE_COLUMNS), geometry=footprints, crs=block.grid.crs)


def _total_of_known(values: F64) -> float:
    """Sum of what is known; NaN where nothing is."""
    known = values[~np.isnan(values)].tolist()
    return sum(known) if known else np.nan
