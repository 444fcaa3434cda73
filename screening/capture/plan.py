"""Can water get there, and what would hold it: pipes from collection points to zones, and storage in the best."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from screening.capture.cells import cells_by_shape
from screening.capture.collection import CollectionPoint, find_collection_points, tabulate_points
from screening.capture.overflow import Overflow, follow_overflow, places_beside
from screening.capture.ranking import rank_zones
from screening.capture.routes import lay_pipes, tabulate_routes
from screening.capture.storage_options import plan_storage, spread_rain
from screening.capture.storage_rows import PlannedStorage, StoragePlace, ZoneFacts, tabulate_storage
from screening.models import I64, Block, Capture, InfiltrationZones, Inflow, Storm, Surface, TerrainFindings
from screening.outfall.pipe_routes import GravityPipe
from screening.schema.codes.capture import StorageStatus
from screening.schema.codes.outfall import Reach
from screening.schema.criteria import Criteria
from screening.storage.inflow import DrainingArea
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd

_TOO_LITTLE = (
    StorageStatus.TAKES_PART,
    StorageStatus.NO_ROOM,
    StorageStatus.TOO_DEEP,
    StorageStatus.TOO_SLOW,
)
_MOST_ZONES = 2
"""Zones of a lot whose storage is worked out: the best, and the next where the best cannot take all."""


def plan_capture(
    block: Block,
    surface: Surface,
    walls: Walls,
    terrain: TerrainFindings,
    storm: Storm,
    zones: InfiltrationZones,
    *,
    criteria: Criteria,
) -> Capture:
    """Lead the water of each chosen lot to its zones by gravity, rank the zones, and size storage in the best.

    Parameters
    ----------
    block, surface, walls, terrain, storm, zones
        Of the same window.
    criteria
        The `storage_`, `rate_`, `separation_` and `setback_` thresholds, `capture_rain_mm`,
        `interception_distance_m`, `outlet_pipe_slope_min_pct`, `drawdown_max_h`, `stone_void_frac`, `chamber_`,
        `initial_abstraction_ratio`.

    Returns
    -------
    Ranked zones, collection points, routes, storage with quantities, checks and cautions.
    """
    points = find_collection_points(block, surface, walls, terrain, criteria=criteria)
    runoff_m3 = storm.runoff_m3.ravel().copy()
    beyond = terrain.flow.inflow
    runoff_m3[beyond.cell] += beyond.runoff_m3
    point_table = tabulate_points(points, block, surface, terrain.flow, runoff_m3)
    cells = cells_by_shape(block.grid, zones.table.geometry)
    pipes = lay_pipes(block, surface, points, zones, cells, criteria=criteria)
    ranked = rank_zones(zones.table, point_table, pipes, criteria=criteria, crs=block.grid.crs)
    beside = places_beside(walls, surface.elev_m.size)
    overflows = [follow_overflow(block, surface, walls, terrain, beside=beside, cells=own) for own in cells]
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
    options, quantities, cautions = tabulate_storage(planned)
    return Capture(
        zones=ranked,
        points=point_table,
        routes=tabulate_routes(point_table, ranked, pipes, overflows, block.grid, criteria=criteria),
        options=options,
        quantities=quantities,
        cautions=cautions,
        verdicts=tuple(verdict for plan in planned for verdict in plan.verdicts),
    )


def _plan_storage(
    *,
    points: tuple[CollectionPoint, ...],
    point_table: gpd.GeoDataFrame,
    ranked: gpd.GeoDataFrame,
    pipes: Mapping[tuple[int, int], GravityPipe],
    overflows: list[Overflow],
    storm: Storm,
    beyond: Inflow,
    criteria: Criteria,
) -> list[PlannedStorage]:
    """Work out storage in the best zone of each lot, and in the next where that one cannot take all."""
    rain = spread_rain(storm.rain, criteria=criteria)
    planned: list[PlannedStorage] = []
    n_places = 0
    by_zone: dict[int, list[int]] = {}
    for (point, zone), pipe in pipes.items():
        if pipe.reach is Reach.REACHABLE:
            by_zone.setdefault(zone, []).append(point)
    for _, own in ranked.reset_index(drop=True).groupby("lot_id", sort=False):
        for zone in own.sort_values("zone_rank").index[:_MOST_ZONES].tolist():
            used = by_zone.get(zone, [])
            # What drains to several points counts once.
            drains_there = np.unique(np.concatenate([np.empty(0, np.int64), *(points[at].catchment for at in used)]))
            n_places += 1
            place = StoragePlace(
                storage_id=f"ST-{n_places}",
                zone=ZoneFacts.of_row(own.loc[zone]),
                points=tuple(point_table["point_id"].iloc[used]),
                areas=tuple(_draining_areas(drains_there, storm, beyond, criteria)),
                pipe_run_m=sum(pipes[point, zone].length_m for point in used),
                extra_depth_m=max((pipes[point, zone].extra_depth_m for point in used), default=0.0),
                overflow_end=overflows[zone].end,
                overflow_id=overflows[zone].end_id,
            )
            found = plan_storage(place, rain, criteria=criteria)
            planned += found
            if any(plan.row.status not in _TOO_LITTLE for plan in found):
                break
    return planned


def _draining_areas(cells: I64, storm: Storm, beyond: Inflow, criteria: Criteria) -> Iterator[DrainingArea]:
    """Gather the ground that drains to storage by curve number, and what lies beyond the window."""
    number = storm.curve_number.ravel()[cells]
    number = number[~np.isnan(number)]
    n_cells: dict[float, int] = {}
    while number.size:
        # There are few numbers: taking them one by one is quicker than putting all in order.
        is_like = number == number[0]
        n_cells[float(number[0])] = int(np.count_nonzero(is_like))
        number = number[~is_like]
    for value, count in sorted(n_cells.items()):
        yield DrainingArea(count * storm.grid.cell_area_m2, value)
    from_beyond = float(beyond.area_m2[np.isin(beyond.cell, cells)].sum())
    if from_beyond > 0.0:
        yield DrainingArea(from_beyond, criteria.flow.context_curve_number)
