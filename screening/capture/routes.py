"""Pipes from collection points to zones, and the table of them and of the routes of overflow."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.capture.cells import cells_by_label
from screening.capture.collection import CollectionPoint
from screening.capture.overflow import Overflow
from screening.grid import Grid, draw_path
from screening.models import I64, Block, InfiltrationZones, Surface
from screening.outfall.pipe_routes import GravityPipe, Terrain, lay_pipe
from screening.schema.codes.capture import RouteEnd, RouteKind
from screening.schema.codes.outfall import Reach, RouteReason
from screening.schema.columns import ROUTE_COLUMNS, declared
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True)
class _Route:
    """Columns of `columns.ROUTE_COLUMNS`; overflow has no pipe, and so no fall to need and no cover."""

    kind: RouteKind
    point_id: str
    zone_id: str
    lot_id: str
    reach: Reach
    reason: RouteReason
    length_m: float
    ground_fall_m: float
    fall_available_m: float = float("nan")
    fall_needed_m: float = float("nan")
    pipe_slope_pct: float = float("nan")
    extra_depth_m: float = float("nan")
    cover_max_m: float = float("nan")
    n_structures_crossed: int
    n_lot_lines_crossed: int
    end: RouteEnd
    end_id: str


def lay_pipes(
    block: Block,
    surface: Surface,
    points: tuple[CollectionPoint, ...],
    zones: InfiltrationZones,
    cells: list[I64],
    *,
    criteria: Criteria,
) -> dict[tuple[int, int], GravityPipe]:
    """Lay a pipe from each collection point to each zone of its lot.

    Parameters
    ----------
    block, surface, points, zones
        Of the same window.
    cells
        Of each zone, flat indices.
    criteria
        As for `pipe_routes.lay_pipe`.

    Returns
    -------
    Pipes by the rows of point and zone.
    """
    pipes: dict[tuple[int, int], GravityPipe] = {}
    points_of: dict[int, list[int]] = {}
    for number, point in enumerate(points):
        points_of.setdefault(point.lot, []).append(number)
    zones_of = zones.table.reset_index(drop=True).groupby("lot_id", sort=False).indices
    on_lots = cells_by_label(block.lot_index, len(block.lots))
    for row, lot in enumerate(block.lots.itertuples()):
        if row not in points_of or lot.lot_id not in zones_of:
            continue
        near = np.sort(block.structures.sindex.query(lot.geometry, predicate="intersects"))
        terrain = Terrain(
            grid=block.grid,
            elev_m=surface.elev_m,
            open_cells=on_lots[row][surface.structure_index.ravel()[on_lots[row]] == 0],
            lot=lot.geometry,
            structures=block.structures.geometry.iloc[near],
        )
        for number, zone in itertools.product(points_of[row], zones_of[lot.lot_id].tolist()):
            if cells[zone].size > 1:
                pipes[number, zone] = lay_pipe(points[number].cell, cells[zone], terrain, criteria=criteria)
    return pipes


def tabulate_routes(
    points: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
    pipes: Mapping[tuple[int, int], GravityPipe],
    overflows: list[Overflow],
    grid: Grid,
    *,
    criteria: Criteria,
) -> gpd.GeoDataFrame:
    """Make the table of pipes, those of a lot together, and of the routes of overflow after them.

    Parameters
    ----------
    points, zones
        Tables of the same window.
    pipes, overflows
        By the rows of point and zone, and of each zone.
    grid
        Of the window.
    criteria
        `storage_extra_depth_max_m`.
    """
    routes: list[_Route] = []
    shapes: list[Any] = []
    names = list(zip(zones["zone_id"], zones["lot_id"], strict=True))
    deeper_m = criteria.storage.storage_extra_depth_max_m
    for (point, zone), pipe in pipes.items():
        routes.append(_pipe_route(pipe, points["point_id"].iloc[point], *names[zone], deeper_m=deeper_m))
        shapes.append(pipe.line)
    for (zone_id, lot_id), overflow in zip(names, overflows, strict=True):
        if overflow.path.size > 1:  # else it leaves where it overflows
            shapes.append(draw_path(grid, overflow.path))
            routes.append(_overflow_route(overflow, zone_id, lot_id, length_m=shapes[-1].length))
    rows = [{"route_id": f"W-{number}"} | asdict(route) for number, route in enumerate(routes, start=1)]
    return declared(rows, ROUTE_COLUMNS, geometry=shapes, crs=grid.crs)


def _pipe_route(pipe: GravityPipe, point_id: str, zone_id: str, lot_id: str, *, deeper_m: float) -> _Route:
    return _Route(
        kind=RouteKind.COLLECTION,
        point_id=point_id,
        zone_id=zone_id,
        lot_id=lot_id,
        reach=pipe.reach,
        reason=pipe.reason,
        length_m=pipe.length_m,
        ground_fall_m=pipe.ground_fall_m,
        fall_available_m=pipe.ground_fall_m + deeper_m,
        fall_needed_m=pipe.fall_needed_m,
        pipe_slope_pct=pipe.pipe_slope_pct,
        extra_depth_m=pipe.extra_depth_m,
        cover_max_m=pipe.cover_max_m,
        n_structures_crossed=pipe.n_structures,
        n_lot_lines_crossed=pipe.n_lot_lines,
        end=RouteEnd.ZONE,
        end_id=zone_id,
    )


def _overflow_route(overflow: Overflow, zone_id: str, lot_id: str, *, length_m: float) -> _Route:
    return _Route(
        kind=RouteKind.OVERFLOW,
        point_id="",
        zone_id=zone_id,
        lot_id=lot_id,
        reach=Reach.OVER_GROUND,
        reason=RouteReason.STEEPEST_DESCENT,
        length_m=length_m,
        ground_fall_m=overflow.fall_m,
        n_structures_crossed=0,
        n_lot_lines_crossed=int(overflow.leaves_lot),
        end=overflow.end,
        end_id=overflow.end_id,
    )
