"""Where each driveway sheds its water: how much of it meets a wall on its lot, and over which edges it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.driveways.edges import EdgePiece, cut_edge, line_of, neighbours_of
from screening.driveways.shape import fit_driveway_shape
from screening.driveways.storms import StormFields, storm_fields
from screening.driveways.tables import arrow_rows, edge_rows, low_point_rows, shed, shed_row, storm_row, unknown_row
from screening.driveways.terrain import DrivewayGround, lay_out
from screening.driveways.tracers import send_tracers
from screening.flow.dispersive import context_area_of, fraction_reaching
from screening.grid import polygonize_cells, rasterize
from screening.models import (
    F64,
    I32,
    Block,
    Bool,
    Concentration,
    Depressions,
    DrivewayStudy,
    FlowField,
    Storm,
    Surface,
)
from screening.schema.columns import DRIVEWAY_COLUMNS, DRIVEWAY_TABLES, declared, declared_plain
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd
    from shapely.geometry.base import BaseGeometry


def study_driveways(
    block: Block, surface: Surface, flow: FlowField, *, runoff_through_m3: F64, criteria: Criteria
) -> gpd.GeoDataFrame:
    """Study the driveways of the chosen lots.

    Water is followed from each driveway cell, spreading by the flow's dispersive method, until it touches a wall or
    leaves the lot; the share that meets a wall first is the mean over the driveway. A driveway is a few cells wide,
    so its own cells beyond the lot line (the apron) count as its lot.

    Parameters
    ----------
    block, surface, flow
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `driveway_to_structure_flag_frac`.

    Returns
    -------
    `columns.DRIVEWAY_COLUMNS` and polygons, those on a chosen lot only.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.slope import horn_slope_pct
    from screening.kernels.zones import ragged_from_labels

    grid = flow.grid
    driveways = block.driveways[block.driveways["lot_id"] != ""].reset_index(drop=True)
    n_driveways = len(driveways)
    label = rasterize(grid, list(driveways.geometry), range(1, n_driveways + 1))
    # A roof over a driveway (a carport, a garage drawn over it) sheds as a roof.
    label[surface.structure_index > 0] = 0
    starts, cells = ragged_from_labels(label, n_driveways)
    share = _share_to_wall(block, surface, flow, label, driveways["lot_id"].tolist()).ravel()
    slope = horn_slope_pct(surface.elev_m, grid.cell_m).ravel()
    contributing = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), starts, cells)
    beyond = context_area_of(flow, starts, cells)
    runoff = zone_upstream_total(flow.receiver, runoff_through_m3, starts, cells)
    rows = []
    for number in range(n_driveways):
        own = cells[starts[number] : starts[number + 1]]
        own = own[flow.receiver[own] >= 0]
        to_wall = float(share[own].mean()) if own.size else np.nan
        rows.append(
            {
                "driveway_id": driveways["driveway_id"].iloc[number],
                "lot_id": driveways["lot_id"].iloc[number],
                "area_m2": driveways.geometry.iloc[number].area,
                "to_structure_frac": to_wall,
                "slope_pct": float(np.nanmean(slope[own])) if own.size else np.nan,
                "contributing_area_m2": contributing[number] if own.size else np.nan,
                "context_area_m2": beyond[number] if own.size else np.nan,
                "run_on_area_m2": contributing[number] - own.size * grid.cell_area_m2 if own.size else np.nan,
                "runoff_m3": runoff[number] if own.size else np.nan,
                **unknown_row(""),
                "is_flagged": to_wall > criteria.driveways.driveway_to_structure_flag_frac,
                "edge_contaminated": bool((flow.edge_sides.ravel()[own] != 0).any()),
            }
        )
    return declared(rows, DRIVEWAY_COLUMNS, geometry=driveways.geometry, crs=grid.crs)


def _share_to_wall(block: Block, surface: Surface, flow: FlowField, driveway: I32, lot_ids: list[str]) -> F64:
    """Share of the water of each cell that touches a wall before it leaves its lot."""
    lots = block.lots["lot_id"].tolist()
    lot = rasterize(flow.grid, list(block.lots.geometry), range(1, len(lots) + 1))
    lot_of_driveway = np.array([0, *(lots.index(lot_id) + 1 for lot_id in lot_ids)], np.int32)
    lot = np.where(driveway > 0, lot_of_driveway[driveway], lot).astype(np.int32)
    return fraction_reaching(flow, _beside_walls(surface), pen=lot)


def _beside_walls(surface: Surface) -> Bool:
    from scipy import ndimage

    walls = surface.structure_index > 0
    beside: Bool = ndimage.binary_dilation(walls, np.ones((3, 3), bool)) & ~walls
    return beside


def shed_driveways(
    block: Block,
    surface: Surface,
    flow: FlowField,
    depressions: Depressions,
    driveways: gpd.GeoDataFrame,
    storms: Sequence[Storm],
    concentration: Concentration,
    *,
    criteria: Criteria,
) -> tuple[gpd.GeoDataFrame, DrivewayStudy]:
    """Find over which metres of its edge each driveway sheds its own rain and its run-on, and to what.

    Parameters
    ----------
    block, surface, flow, depressions, concentration
        Of the same window.
    driveways
        From `study_driveways`.
    storms
        The screened storm first; the ways of the water are the same in all of them.
    criteria
        Those of `criteria.driveways`, and of peaks.

    Returns
    -------
    The driveways with the rest of their columns filled in for the screened storm, and the study.
    """
    fields = [storm_fields(storm, surface, flow, concentration, criteria=criteria) for storm in storms]
    around = neighbours_of(block)
    low_spot = depressions.label > 0
    collected = _Collected()
    rows = []
    for place, driveway in enumerate(driveways.itertuples(index=False)):
        ids = {"driveway_id": str(driveway.driveway_id), "lot_id": str(driveway.lot_id)}
        open_shape = _without_structures(block, driveway.geometry)
        ground = None if open_shape is None else lay_out(open_shape, surface, flow)
        if ground is None:
            rows.append(unknown_row("under a structure, or no elevation on it"))
            continue
        pieces = cut_edge(
            ground.outline,
            around,
            driveway_id=ids["driveway_id"],
            lot_id=ids["lot_id"],
            low_spot=low_spot,
            block=block,
            criteria=criteria,
        )
        rows.append(
            collected.add(
                ground, pieces, flow, fields, ids, area_m2=driveways.geometry.iloc[place].area, criteria=criteria
            )
        )
    filled = driveways.copy()
    for name in {name for row in rows for name in row}:
        filled[name] = [row.get(name, np.nan) for row in rows]
    table = declared(filled.drop(columns="geometry"), DRIVEWAY_COLUMNS, geometry=driveways.geometry, crs=block.grid.crs)
    return table, collected.study(block.grid.crs)


def leave_out_edges(block: Block, driveways: gpd.GeoDataFrame) -> tuple[gpd.GeoDataFrame, DrivewayStudy]:
    """Stand in for `shed_driveways` where nobody asks over which edges water leaves: the driveways as they are."""
    return driveways, _Collected().study(block.grid.crs)


class _Collected:
    """Rows and shapes of the study, as they come."""

    def __init__(self) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {name: [] for name in DRIVEWAY_TABLES}
        self.shapes: dict[str, list[BaseGeometry]] = {name: [] for name in DRIVEWAY_TABLES}

    def add(
        self,
        ground: DrivewayGround,
        pieces: list[EdgePiece],
        flow: FlowField,
        fields: list[StormFields],
        ids: dict[str, str],
        *,
        area_m2: float,
        criteria: Criteria,
    ) -> dict[str, Any]:
        """Study one driveway, keep its rows, and give what its own row gains."""
        import shapely

        tracers = send_tracers(ground, flow)
        shape = fit_driveway_shape(ground, criteria=criteria)
        poured = [shed(ground, tracers, pieces, storm, criteria=criteria) for storm in fields]
        by_storm = [storm_row(tracers, pieces, one, ids, criteria=criteria) for one in poured]
        self.rows["driveway_storms"] += by_storm
        self.rows["driveway_edges"] += edge_rows(tracers, pieces, poured[0], ids, criteria=criteria)
        self.shapes["driveway_edges"] += [line_of(ground.outline, piece) for piece in pieces]
        for name, found in (
            ("driveway_arrows", arrow_rows(ground, ids, criteria=criteria)),
            ("driveway_low_points", low_point_rows(ground, ids, criteria=criteria)),
        ):
            self.rows[name] += found[0]
            self.shapes[name] += list(np.atleast_1d(np.asarray(shapely.points(found[1]), dtype=object)))
        outline = _ground_above(ground, flow)
        self.rows["driveway_areas"].append(ids | {"area_m2": outline.area})
        self.shapes["driveway_areas"].append(outline)
        return shed_row(
            shape, ground, tracers, pieces, poured[0], by_storm[0], whole_area_m2=area_m2, criteria=criteria
        )

    def study(self, crs: str) -> DrivewayStudy:
        """Make the tables."""
        frames = {
            name: declared(self.rows[name], columns, geometry=self.shapes[name], crs=crs)
            for name, columns in DRIVEWAY_TABLES.items()
            if name != "driveway_storms"
        }
        storms = declared_plain(self.rows["driveway_storms"], DRIVEWAY_TABLES["driveway_storms"])
        return DrivewayStudy(
            edges=frames["driveway_edges"],
            arrows=frames["driveway_arrows"],
            low_points=frames["driveway_low_points"],
            areas=frames["driveway_areas"],
            storms=storms,
        )


def _without_structures(block: Block, shape: BaseGeometry) -> BaseGeometry | None:
    """The part of a driveway that no structure covers; None if nothing is left."""
    near = block.structures.geometry[block.structures.intersects(shape)]
    left = shape.difference(near.union_all()) if len(near) else shape
    import shapely

    parts = [part for part in shapely.get_parts(left).tolist() if part.geom_type == "Polygon" and part.area > 0]
    return shapely.MultiPolygon(parts) if parts else None


def _ground_above(ground: DrivewayGround, flow: FlowField) -> BaseGeometry:
    from screening.kernels.accumulate import zone_upstream_cells

    own = ground.window_cells(np.flatnonzero((ground.covered_frac >= 0.5).ravel()).astype(np.int64), flow.grid)
    own = own[flow.receiver[own] >= 0]
    cells = zone_upstream_cells(flow.receiver, flow.grid.n_rows, flow.grid.n_cols, own, flow.link_cell)
    outline: BaseGeometry = polygonize_cells(flow.grid, cells)
    return outline
