"""Where water can be caught on a lot: low spots, lines uphill of walls, driveways and downspouts, with their ground."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.capture.cells import cells_by_shape
from screening.grid import cells_along
from screening.models import F64, I32, I64, Block, Depressions, FlowField, Surface, TerrainFindings, freeze
from screening.schema.codes.capture import PointKind
from screening.schema.codes.structures import ExposureKind
from screening.schema.columns import COLLECTION_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.structures.walls import Walls

if TYPE_CHECKING:
    import geopandas as gpd

_NO_LENGTH_M = 1e-3
_STEP = 2.0**-30
"""Water and ground are counted in steps of a cubic millimetre, so that sums of up to 8 million cubic metres are exact
whatever their order: a lot finds the same in any window, and what two points share is taken off without a rest."""


@dataclass(frozen=True, kw_only=True, eq=False)
class CollectionPoint:
    """One place where water can be caught.

    Parameters
    ----------
    lot
        Row of `Block.lots`.
    kind, source_id
        See `columns.COLLECTION_COLUMNS`.
    cell
        Flat index of the cell where a pipe begins.
    mouth
        Flat indices of the cells that water reaches it through, int64; ascending where they are all of its ground.
    flow
        What leads water to its mouth; None = nothing but the mouth itself drains to it.
    """

    lot: int
    kind: PointKind
    source_id: str
    cell: int
    mouth: I64
    flow: FlowField | None

    def __post_init__(self) -> None:
        freeze(self.mouth)

    @property
    def catchment(self) -> I64:
        """Flat indices of the ground and roof that drain to it, int64, ascending.

        Simulated each time: a block of many lots on one stream could not hold those of all its points.
        """
        return self.mouth if self.flow is None else _upstream(self.flow, self.mouth)


def find_collection_points(
    block: Block, surface: Surface, walls: Walls, terrain: TerrainFindings, *, criteria: Criteria
) -> tuple[CollectionPoint, ...]:
    """Find where water can be caught on the chosen lots.

    Low spots that are outermost and not walled in, at their lowest ground on the lot; a line uphill of each wall
    that much ground runs on to, at its lowest ground; driveways that shed to a wall, likewise; downspouts, at the
    ground beside them.

    Parameters
    ----------
    block, surface, walls, terrain
        Of the same window.
    criteria
        `interception_distance_m`.

    Returns
    -------
    By lot; on a lot by the size of what drains to each, the smallest first, so that a point comes before those below
    it.
    """
    lot = block.lot_index.ravel()
    found = [
        *_at_downspouts(block, surface, terrain.flow),
        *_at_lines(block, surface, walls, terrain, lot, criteria),
        *_at_driveways(block, surface, terrain, lot),
        *_in_low_spots(block, surface, terrain.flow, terrain.depressions, lot),
    ]
    all_cells = _accumulated(terrain.flow, np.ones(terrain.flow.receiver.size))
    n_cells = _through(terrain.flow, all_cells, [point.mouth for point in found])
    by_size = sorted(range(len(found)), key=lambda number: (found[number].lot, n_cells[number]))
    return tuple(found[number] for number in by_size)


def _upstream(flow: FlowField, cells: I64) -> I64:
    from screening.kernels.accumulate import zone_upstream_cells

    return zone_upstream_cells(flow.receiver, flow.grid.n_rows, flow.grid.n_cols, cells, flow.link_cell)


def _accumulated(flow: FlowField, amounts: F64) -> F64:
    """What drains through each cell, in steps of a cubic millimetre."""
    from screening.kernels.accumulate import accumulate

    return accumulate(flow.receiver, flow.order, np.round(amounts / _STEP) * _STEP)


def _through(flow: FlowField, accumulated: F64, zones: list[I64], *, together: I64 | None = None) -> F64:
    """Total of the amounts of all cells that drain through each zone, its own included, each once; `together` gives
    the number of the first of the zones that count as one with it, all between them included.
    """
    from screening.kernels.accumulate import zone_upstream_total

    starts = np.concatenate(([0], np.cumsum([zone.size for zone in zones], dtype=np.int64)))
    cells = np.concatenate([np.empty(0, np.int64), *zones])
    first = starts[:-1] if together is None else starts[together]
    return zone_upstream_total(flow.receiver, accumulated, first, cells, starts[1:])


def _lowest(surface: Surface, cells: I64) -> int | None:
    """The lowest open ground of some cells; None where there is none."""
    open_ground = cells[(surface.structure_index.ravel()[cells] == 0) & ~np.isnan(surface.elev_m.ravel()[cells])]
    return int(open_ground[surface.elev_m.ravel()[open_ground].argmin()]) if open_ground.size else None


def _lot_rows(block: Block) -> dict[str, int]:
    return {lot_id: row for row, lot_id in enumerate(block.lots["lot_id"])}


def _in_low_spots(
    block: Block, surface: Surface, flow: FlowField, depressions: Depressions, lot: I32
) -> Iterator[CollectionPoint]:
    table = depressions.table
    is_in = np.zeros(flow.receiver.size, np.bool_)
    for row in np.flatnonzero((table["part_of"] == "") & ~table["is_enclosed"].to_numpy(bool)).tolist():
        cells = depressions.zones.cells_of(row)
        numbers = np.unique(lot[cells][lot[cells] > 0]).tolist()
        if not numbers:
            continue
        # All of it drains through the cells where water leaves it: a large one lies on many lots.
        is_in[cells] = True
        onward = flow.receiver[cells]
        mouth = cells[~is_in[onward] | (onward == cells)]
        is_in[cells] = False
        for number in numbers:
            pit = _lowest(surface, cells[lot[cells] == number])
            if pit is not None:
                yield CollectionPoint(
                    lot=number - 1,
                    kind=PointKind.LOW_SPOT,
                    source_id=table["low_spot_id"].iloc[row],
                    cell=pit,
                    mouth=mouth,
                    flow=flow,
                )


def _at_lines(
    block: Block, surface: Surface, walls: Walls, terrain: TerrainFindings, lot: I32, criteria: Criteria
) -> Iterator[CollectionPoint]:
    """Lines beside walls that much ground runs on to, their wall moved outward, where they stay on the lot."""
    import shapely
    from shapely.affinity import translate

    rows, away = _lot_rows(block), criteria.capture.interception_distance_m
    sides = terrain.exposure.sides
    for number in np.flatnonzero(sides["exposure"] == ExposureKind.RUN_ON).tolist():
        row = rows.get(sides["lot_id"].iloc[number])
        if row is None:
            continue
        moved = shapely.union_all(
            [translate(edge.line, edge.normal[0] * away, edge.normal[1] * away) for edge in walls.sides[number].edges]
        ).intersection(block.lots.geometry.iloc[row])
        lines = [part for part in shapely.get_parts(moved) if part.geom_type == "LineString"]
        # Where a line only touches the lot, a piece without length is left.
        lines = [part for part in lines if part.length > _NO_LENGTH_M]
        if not lines:
            continue
        along = np.concatenate([cells_along(block.grid, line, closed=True) for line in lines])
        cells = np.unique(along[:, 0] * block.grid.n_cols + along[:, 1])
        cells = cells[surface.structure_index.ravel()[cells] == 0]
        lowest = _lowest(surface, cells[lot[cells] == row + 1])
        if lowest is not None:
            side_id = sides["side_id"].iloc[number]
            yield CollectionPoint(
                lot=row, kind=PointKind.LINE, source_id=side_id, cell=lowest, mouth=cells, flow=terrain.flow
            )


def _at_driveways(block: Block, surface: Surface, terrain: TerrainFindings, lot: I32) -> Iterator[CollectionPoint]:
    rows = _lot_rows(block)
    flagged = terrain.driveways[terrain.driveways["is_flagged"].to_numpy(bool)]
    for driveway, cells in zip(flagged.itertuples(), cells_by_shape(block.grid, flagged.geometry), strict=True):
        row = rows.get(driveway.lot_id)
        lowest = None if row is None else _lowest(surface, cells[lot[cells] == row + 1])
        if row is not None and lowest is not None:
            yield CollectionPoint(
                lot=row,
                kind=PointKind.DRIVEWAY,
                source_id=driveway.driveway_id,
                cell=lowest,
                mouth=cells,
                flow=terrain.flow,
            )


def _at_downspouts(block: Block, surface: Surface, flow: FlowField) -> Iterator[CollectionPoint]:
    rows, pipes = _lot_rows(block), surface.conduits
    # A roof may keep its route although it has a downspout.
    leads = flow.receiver[pipes.roof_cell] == pipes.roof_target
    cells, targets = pipes.roof_cell[leads], pipes.roof_target[leads]
    owner = surface.structure_index.ravel()[cells] - 1
    for structure, target in np.unique(np.column_stack((owner, targets)), axis=0).tolist():
        row = rows.get(block.structures["lot_id"].iloc[structure])
        if row is not None:
            roof = np.sort(cells[(owner == structure) & (targets == target)])
            name = block.structures["structure_id"].iloc[structure]
            yield CollectionPoint(
                lot=row, kind=PointKind.DOWNSPOUT, source_id=name, cell=target, mouth=roof.astype(np.int64), flow=None
            )


def tabulate_points(
    points: tuple[CollectionPoint, ...], block: Block, surface: Surface, flow: FlowField, runoff_m3: F64
) -> gpd.GeoDataFrame:
    """Make the table of collection points, numbered in their order.

    Parameters
    ----------
    points
        From `find_collection_points`.
    block, surface, flow
        Of the same window.
    runoff_m3
        Runoff of each cell and of what comes in there from beyond the window, float64 (n_cells,) [m3].

    Returns
    -------
    `columns.COLLECTION_COLUMNS` and points. Own runoff adds up, on a lot, to that of all its points, each cell once.
    """
    import shapely

    grid = block.grid
    area_m2 = np.full(flow.receiver.size, grid.cell_area_m2)
    area_m2[flow.inflow.cell] += flow.inflow.area_m2
    lot = np.array([point.lot for point in points], np.int64)
    mouths = [point.mouth for point in points]
    water_m3 = _accumulated(flow, runoff_m3)
    area, runoff = _through(flow, _accumulated(flow, area_m2), mouths), _through(flow, water_m3, mouths)
    # What the points of a lot up to this one catch together, less what those before it do, is its own.
    together = _through(flow, water_m3, mouths, together=np.searchsorted(lot, lot))
    own = np.maximum(together - np.where(np.diff(lot, prepend=-1) == 0, np.roll(together, 1), 0.0), 0.0)
    cells = np.array([point.cell for point in points], np.int64)
    at_row, at_col = np.divmod(cells, grid.n_cols)
    columns = {
        "point_id": [f"CP-{number}" for number in range(1, len(points) + 1)],
        "lot_id": [block.lots["lot_id"].iloc[point.lot] for point in points],
        "kind": [point.kind for point in points],
        "source_id": [point.source_id for point in points],
        "ground_elev_m": surface.elev_m.ravel()[cells].astype(np.float64),
        "area_m2": area,
        "runoff_m3": runoff,
        "own_runoff_m3": own,
        # Bits are carried down: the mouth has those of all that drains to it.
        "edge_contaminated": [bool((flow.edge_sides.ravel()[point.mouth] != 0).any()) for point in points],
    }
    x, y = grid.west_m + (at_col + 0.5) * grid.cell_m, grid.north_m - (at_row + 0.5) * grid.cell_m
    shapes = [shapely.Point(place) for place in zip(x.tolist(), y.tolist(), strict=True)]
    return declared(columns, COLLECTION_COLUMNS, geometry=shapes, crs=grid.crs)
