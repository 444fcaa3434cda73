"""Can water get there, and what would hold it: pipes from collection points to zones, and storage in the best."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.capture.collection import CollectionPoint, find_collection_points, tabulate_points
from screening.capture.storage_options import PlannedStorage, StoragePlace, plan_storage, spread_rain
from screening.grid import Grid, draw_path, rasterize
from screening.models import I64, Block, Bool, Capture, GroundFindings, InfiltrationZones, Inflow, Storm, Surface
from screening.outfall.pipe_routes import GravityPipe, Terrain, lay_pipe
from screening.schema.columns import (
    CAUTION_COLUMNS,
    QUANTITY_COLUMNS,
    ROUTE_COLUMNS,
    STORAGE_COLUMNS,
    ZONE_COLUMNS,
    declared,
    declared_plain,
)
from screening.schema.criteria import Criteria
from screening.storage.inflow import DrainingArea
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd

_TOO_LITTLE = ("takes a part", "does not fit", "too deep", "empties too slowly")
_MOST_ZONES = 2
"""Zones of a lot whose storage is worked out: the best, and the next where the best cannot take all."""


_PIPE_FIELDS = (
    "reach",
    "why",
    "length_m",
    "ground_fall_m",
    "fall_needed_m",
    "pipe_slope_pct",
    "extra_depth_m",
    "cover_max_m",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Overflow:
    """The way of overflow from a zone: cells, what it comes to first in words, fall, and whether it leaves the lot."""

    path: I64
    runs_to: str
    fall_m: float
    leaves_lot: bool


def plan_capture(
    block: Block,
    surface: Surface,
    walls: Walls,
    ground: GroundFindings,
    storm: Storm,
    zones: InfiltrationZones,
    *,
    criteria: Criteria,
) -> Capture:
    """Lead the water of each chosen lot to its zones by gravity, rank the zones, and size storage in the best.

    Parameters
    ----------
    block, surface, walls, ground, storm, zones
        Of the same window.
    criteria
        The `storage_`, `rate_`, `separation_` and `setback_` thresholds, `capture_rain_mm`,
        `interception_distance_m`, `outlet_pipe_slope_min_pct`, `drawdown_max_h`, `stone_void_frac`, `chamber_`,
        `initial_abstraction_ratio`.

    Returns
    -------
    Ranked zones, collection points, ways, storage with quantities, checks and cautions.
    """
    points = find_collection_points(block, surface, walls, ground, criteria=criteria)
    runoff_m3 = storm.runoff_m3.ravel().copy()
    beyond = ground.flow.inflow
    runoff_m3[beyond.cell] += beyond.runoff_m3
    point_table = tabulate_points(points, block, surface, ground.flow, runoff_m3)
    cells = _cells_by_shape(block.grid, zones.table.geometry)
    pipes = _lay_pipes(block, surface, points, zones, cells, criteria)
    ranked = _rank_zones(zones.table, point_table, pipes, criteria, block.grid.crs)
    side = np.full(surface.elev_m.size, -1, np.int64)
    at_wall = np.flatnonzero(walls.side >= 0)[::-1]  # where a cell is beside several walls, the first has it
    side[walls.zone_cells[at_wall]] = at_wall
    overflows = [_overflow(block, surface, walls, ground, side, own) for own in cells]
    planned = _plan_storage(
        points=points,
        point_table=point_table,
        ranked=ranked,
        pipes=pipes,
        overflows=overflows,
        storm=storm,
        beyond=beyond,
        criteria=criteria,
    )
    return Capture(
        zones=ranked,
        points=point_table,
        routes=_tabulate_routes(point_table, ranked, pipes, overflows, block.grid, criteria),
        options=declared_plain([plan.row for plan in planned], STORAGE_COLUMNS),
        quantities=declared_plain([row for plan in planned for row in plan.quantities], QUANTITY_COLUMNS),
        cautions=declared_plain([row for plan in planned for row in plan.cautions], CAUTION_COLUMNS),
        verdicts=tuple(verdict for plan in planned for verdict in plan.verdicts),
    )


def _cells_by_shape(grid: Grid, shapes: Any) -> list[I64]:
    """Flat indices of the cells of each shape; where two overlap, the later one has them."""
    from screening.kernels.zones import ragged_from_labels

    label = rasterize(grid, list(shapes), range(1, len(shapes) + 1))
    start, cells = ragged_from_labels(label, len(shapes))
    return [cells[one:after] for one, after in itertools.pairwise(start.tolist())]


def _lay_pipes(
    block: Block,
    surface: Surface,
    points: tuple[CollectionPoint, ...],
    zones: InfiltrationZones,
    cells: list[I64],
    criteria: Criteria,
) -> dict[tuple[int, int], GravityPipe]:
    """Lay a pipe from each collection point to each zone of its lot, by their rows."""
    pipes: dict[tuple[int, int], GravityPipe] = {}
    zone_lots = zones.table["lot_id"].to_numpy()
    on_lots = _cells_by_shape(block.grid, block.lots.geometry)
    for row, lot in enumerate(block.lots.itertuples()):
        own_points = [number for number, point in enumerate(points) if point.lot == row]
        own_zones = np.flatnonzero(zone_lots == lot.lot_id).tolist()
        if not own_points or not own_zones:
            continue
        near = block.structures.geometry[block.structures.geometry.intersects(lot.geometry)]
        open_cells = on_lots[row][surface.structure_index.ravel()[on_lots[row]] == 0]
        terrain = Terrain(
            grid=block.grid, elev_m=surface.elev_m, open_cells=open_cells, lot=lot.geometry, structures=near
        )
        for point, zone in itertools.product(own_points, own_zones):
            if cells[zone].size > 1:
                pipes[point, zone] = lay_pipe(points[point].cell, cells[zone], terrain, criteria=criteria)
    return pipes


def _rank_zones(
    table: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
    pipes: dict[tuple[int, int], GravityPipe],
    criteria: Criteria,
    crs: str,
) -> gpd.GeoDataFrame:
    """Put the zones of each lot in order: known soil first, then the water that reaches them and that their stone has
    room for at one time, then rate and area.
    """
    reached: dict[int, float] = dict.fromkeys(range(len(table)), 0.0)
    n_reached: dict[int, int] = dict.fromkeys(range(len(table)), 0)
    for (point, zone), pipe in pipes.items():
        if pipe.reach == "reachable":
            # A millilitre less or more must not decide.
            reached[zone] = round(reached[zone] + float(points["own_runoff_m3"].iloc[point]), 6)
            n_reached[zone] += 1
    n_points = points["lot_id"].value_counts()
    rank, why = np.zeros(len(table), np.int64), np.full(len(table), "", dtype=object)
    for lot_id, own in table.reset_index(drop=True).groupby("lot_id", sort=False):

        def order(zone: int, own: Any = own) -> tuple[bool, float, float, float]:
            row = own.loc[zone]
            room_m3 = row["area_m2"] * row["storage_depth_m"] * criteria.storage.stone_void_frac
            rate = np.nan_to_num(row["rate_low_mm_h"])
            return row["status"] != "candidate", -min(reached[zone], round(room_m3, 6)), -rate, -row["area_m2"]

        in_order = sorted(own.index, key=order)
        for place, zone in enumerate(in_order, start=1):
            rank[zone] = place
            why[zone] = _zone_words(own, zone, n_reached[zone], int(n_points.get(lot_id, 0)))
    ranked = table.assign(zone_rank=rank, why=why)
    # An empty column of words would take another type than a full one.
    return declared(ranked.drop(columns="geometry"), ZONE_COLUMNS, geometry=table.geometry, crs=crs)


def _zone_words(own: Any, zone: int, n_reached: int, n_points: int) -> str:
    """What speaks for a zone and against it: shares and words alone, so that it reads the same in every unit."""
    row = own.loc[zone]
    said = ["soil not assessed" if row["status"] != "candidate" else f"group {row['hsg']}"]
    if n_points == 0:
        said.append("no place to catch water was found on the lot")
    else:
        said.append(f"water of {n_reached} of {n_points} collection points reaches it by gravity")
    if len(own) > 1:
        is_largest = row["area_m2"] == own["area_m2"].max()
        said.append("the largest of the lot" if is_largest else "not the largest of the lot")
    said.append(f"slope {row['slope_pct']:.0f} %")
    return "; ".join(said)


def _overflow(
    block: Block, surface: Surface, walls: Walls, ground: GroundFindings, beside: I64, cells: I64
) -> _Overflow:
    """Follow overflow from the lowest ground of a zone to what it comes to first; `beside` gives the place in
    `walls.zone_cells` of cells beside walls, else -1.
    """
    from screening.kernels.accumulate import downstream_path

    elev_m, label = surface.elev_m.ravel(), ground.depressions.label.ravel()
    path = downstream_path(ground.flow.receiver, int(cells[elev_m[cells].argmin()]))
    is_beside = beside[path] >= 0
    lot = _lot_at(block, path)
    stops = np.flatnonzero(is_beside | (label[path] > 0) | (lot != lot[0]))
    end = int(stops[0]) if stops.size else path.size - 1
    cell = int(path[end])
    if is_beside[end]:
        number = walls.zone[beside[cell]]
        runs_to = f"the walls of {block.structures['structure_id'].iloc[walls.structure[number]]}"
    elif label[cell] > 0:
        runs_to = f"low spot {ground.depressions.table['low_spot_id'].iloc[int(label[cell]) - 1]}"
    elif lot[end] != lot[0]:
        runs_to = "ground off the lot"
    else:
        runs_to = "the edge of the window"
    return _Overflow(
        path=path[: end + 1],
        runs_to=runs_to,
        fall_m=float(elev_m[path[0]] - elev_m[cell]),
        leaves_lot=bool(lot[end] != lot[0]),
    )


def _lot_at(block: Block, cells: I64) -> I64:
    """Row of the lot that each cell lies on, the later one where two do; -1 = none."""
    import shapely

    row, col = np.divmod(cells, block.grid.n_cols)
    x = block.grid.west_m + (col + 0.5) * block.grid.cell_m
    y = block.grid.north_m - (row + 0.5) * block.grid.cell_m
    found = np.full(cells.size, -1, np.int64)
    place, lot = shapely.STRtree(block.lots.geometry.to_numpy()).query(shapely.points(x, y), predicate="within")
    np.maximum.at(found, place, lot)
    return found


def _plan_storage(
    points: tuple[CollectionPoint, ...],
    point_table: gpd.GeoDataFrame,
    ranked: gpd.GeoDataFrame,
    pipes: dict[tuple[int, int], GravityPipe],
    overflows: list[_Overflow],
    storm: Storm,
    beyond: Inflow,
    criteria: Criteria,
) -> list[PlannedStorage]:
    """Work out storage in the best zone of each lot, and in the next where that one cannot take all."""
    rain = spread_rain(storm.rain, criteria=criteria)
    drains_there = np.zeros(storm.curve_number.size, bool)
    planned: list[PlannedStorage] = []
    n_places = 0
    by_zone: dict[int, list[int]] = {}
    for (point, zone), pipe in pipes.items():
        if pipe.reach == "reachable":
            by_zone.setdefault(zone, []).append(point)
    for _, own in ranked.reset_index(drop=True).groupby("lot_id", sort=False):
        for zone in own.sort_values("zone_rank").index[:_MOST_ZONES].tolist():
            used = by_zone.get(zone, [])
            drains_there[:] = False
            for point in used:
                drains_there[points[point].catchment] = True
            n_places += 1
            place = StoragePlace(
                storage_id=f"ST-{n_places}",
                zone=ranked.iloc[zone].drop("geometry").to_dict(),
                points=tuple(point_table["point_id"].iloc[used]),
                areas=tuple(_draining_areas(drains_there, storm, beyond, criteria)) if used else (),
                pipe_run_m=sum(pipes[point, zone].length_m for point in used),
                extra_depth_m=max((pipes[point, zone].extra_depth_m for point in used), default=0.0),
                overflow_to=overflows[zone].runs_to,
            )
            found = plan_storage(place, rain, criteria=criteria)
            planned += found
            if any(plan.row["status"] not in _TOO_LITTLE for plan in found):
                break
    return planned


def _draining_areas(drains_there: Bool, storm: Storm, beyond: Inflow, criteria: Criteria) -> Iterator[DrainingArea]:
    """Gather the ground that drains to storage by curve number, and what lies beyond the window."""
    number = storm.curve_number.ravel()[drains_there]
    number = number[~np.isnan(number)]
    n_cells: dict[float, int] = {}
    while number.size:
        # There are few numbers: taking them one by one is quicker than putting all in order.
        is_like = number == number[0]
        n_cells[float(number[0])] = int(np.count_nonzero(is_like))
        number = number[~is_like]
    for value, count in sorted(n_cells.items()):
        yield DrainingArea(count * storm.grid.cell_area_m2, value)
    from_beyond = float(beyond.area_m2[drains_there[beyond.cell]].sum())
    if from_beyond > 0.0:
        yield DrainingArea(from_beyond, criteria.flow.context_curve_number)


def _tabulate_routes(
    points: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
    pipes: dict[tuple[int, int], GravityPipe],
    overflows: list[_Overflow],
    grid: Grid,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Make the table of pipes, those of a lot together, and of the ways of overflow after them."""
    rows: list[dict[str, Any]] = []
    shapes: list[Any] = []
    for (point, zone), pipe in pipes.items():
        shapes.append(pipe.line)
        rows.append(
            {
                "kind": "collection",
                "point_id": points["point_id"].iloc[point],
                "fall_available_m": pipe.ground_fall_m + criteria.storage.storage_extra_depth_max_m,
                "n_structures_crossed": pipe.n_structures,
                "n_lot_lines_crossed": pipe.n_lot_lines,
                "runs_to": f"zone {zones['zone_id'].iloc[zone]}",
                **_names_of(zones, zone),
                **{name: getattr(pipe, name) for name in _PIPE_FIELDS},
            }
        )
    for zone, overflow in enumerate(overflows):
        if overflow.path.size > 1:  # else it leaves where it overflows
            shapes.append(draw_path(grid, overflow.path))
            rows.append(_overflow_row(zones, zone, overflow, shapes[-1].length))
    for number, row in enumerate(rows, start=1):
        row["route_id"] = f"W-{number}"
    return declared(rows, ROUTE_COLUMNS, geometry=shapes, crs=grid.crs)


def _names_of(zones: gpd.GeoDataFrame, zone: int) -> dict[str, str]:
    return {name: zones[name].iloc[zone] for name in ("zone_id", "lot_id")}


def _overflow_row(zones: gpd.GeoDataFrame, zone: int, overflow: _Overflow, length_m: float) -> dict[str, Any]:
    unknown = ("fall_available_m", "fall_needed_m", "pipe_slope_pct", "extra_depth_m", "cover_max_m")
    return {
        "kind": "overflow",
        "point_id": "",
        "reach": "over ground",
        "why": "by steepest descent from the lowest ground of the zone",
        "length_m": length_m,
        "ground_fall_m": overflow.fall_m,
        "n_structures_crossed": 0,
        "n_lot_lines_crossed": int(overflow.leaves_lot),
        "runs_to": overflow.runs_to,
        **_names_of(zones, zone),
        **dict.fromkeys(unknown, np.nan),
    }
