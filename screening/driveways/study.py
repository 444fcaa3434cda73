"""Where each driveway sheds its water: how much of it meets a wall on its lot, and over which edges it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.driveways.edges import cut_edge, line_of, neighbours_of
from screening.driveways.pouring import shed
from screening.driveways.rows import ShedRow, shed_row, unknown_row
from screening.driveways.shape import fit_driveway_shape
from screening.driveways.share import measure_driveways
from screening.driveways.storms import StormFields, storm_fields
from screening.driveways.tables import (
    ArrowRow,
    EdgeRow,
    LowPointRow,
    StormRow,
    arrow_rows,
    edge_rows,
    low_point_rows,
    storm_row,
)
from screening.driveways.terrain import DrivewayTerrain, lay_out
from screening.driveways.tracers import send_tracers
from screening.grid import polygonize_cells
from screening.models import F64, Block, Concentration, DrivewayStudy, FlowField, LowSpots, Storm, Surface
from screening.schema.codes.driveways import ShapeLimit
from screening.schema.columns import DRIVEWAY_COLUMNS, DRIVEWAY_TABLES, before_verdicts, declared, declared_plain
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd
    from shapely.geometry.base import BaseGeometry


def study_driveways(
    block: Block,
    surface: Surface,
    flow: FlowField,
    low_spots: LowSpots,
    *,
    storms: Sequence[Storm],
    runoff_through_m3: F64,
    concentration: Concentration,
    criteria: Criteria,
    in_brief: bool = False,
) -> tuple[gpd.GeoDataFrame, DrivewayStudy]:
    """Study the driveways of the chosen lots.

    Parameters
    ----------
    block, surface, flow, low_spots, concentration
        Of the same window.
    storms
        The screened storm first; the ways of the water are the same in all of them.
    runoff_through_m3
        Storm runoff of the screened storm that drains through each cell, float64 (n_cells,) [m3].
    criteria
        Those of `criteria.driveways`, and of peaks.
    in_brief
        Leave out over which metres of their edges they shed their own rain and their run-on, and to what.

    Returns
    -------
    `columns.DRIVEWAY_COLUMNS` without those that follow from verdicts, and polygons, those on a chosen lot only; the
    study of their edges, empty in brief.
    """
    measured = measure_driveways(block, surface, flow, criteria=criteria)
    found = _Collected()
    if in_brief:
        rows = [unknown_row(ShapeLimit.NOT_ASKED)] * len(measured.table)
    else:
        fields = [storm_fields(storm, surface, flow, concentration, criteria=criteria) for storm in storms]
        rows = _study_edges(block, surface, flow, low_spots, fields, found, criteria=criteria)
    plain = [name for name in ShedRow.__dataclass_fields__ if name != "share_columns"]
    table = pd.concat(
        (
            measured.with_water(surface, flow, runoff_through_m3),
            pd.DataFrame({name: pd.Series([getattr(row, name) for row in rows], dtype=object) for name in plain}),
            pd.DataFrame([row.share_columns for row in rows], index=range(len(rows))),
        ),
        axis=1,
    )
    shapes = block.own_driveways.geometry
    tabled = declared(table, before_verdicts(DRIVEWAY_COLUMNS), geometry=shapes, crs=block.grid.crs)
    return tabled, found.study(block.grid.crs)


def _study_edges(
    block: Block,
    surface: Surface,
    flow: FlowField,
    low_spots: LowSpots,
    fields: Sequence[StormFields],
    found: _Collected,
    *,
    criteria: Criteria,
) -> list[ShedRow]:
    """Study the edges of each driveway, collect their rows, and give what its own row gains."""
    around, low_spot = neighbours_of(block), low_spots.label > 0
    rows = []
    for driveway in block.own_driveways.itertuples(index=False):
        driveway_id, lot_id = str(driveway.driveway_id), str(driveway.lot_id)
        shape = _without_structures(block, driveway.geometry)
        terrain = None if shape is None else lay_out(shape, surface, flow)
        if terrain is None:
            rows.append(unknown_row(ShapeLimit.NO_OPEN_GROUND))
            continue
        pieces = cut_edge(
            terrain.outline,
            around,
            driveway_id=driveway_id,
            lot_id=lot_id,
            low_spot=low_spot,
            block=block,
            criteria=criteria,
        )
        tracers = send_tracers(terrain, flow)
        poured = [shed(terrain, tracers, pieces, storm, criteria=criteria) for storm in fields]
        ids = {"driveway_id": driveway_id, "lot_id": lot_id}
        by_storm = [storm_row(tracers, one, **ids, criteria=criteria) for one in poured]
        found.storms += by_storm
        found.edges += edge_rows(tracers, pieces, poured[0], **ids, criteria=criteria)
        found.edge_lines += [line_of(terrain.outline, piece) for piece in pieces]
        found.arrows += arrow_rows(terrain, **ids, criteria=criteria)
        found.low_points += low_point_rows(terrain, **ids, criteria=criteria)
        found.areas.append((driveway_id, lot_id, _terrain_above(terrain, flow)))
        fitted = fit_driveway_shape(terrain, criteria=criteria)
        area_m2 = driveway.geometry.area
        rows.append(shed_row(fitted, terrain, poured[0], by_storm[0], whole_area_m2=area_m2, criteria=criteria))
    return rows


class _Collected:
    """Rows and shapes of the study, as they come."""

    def __init__(self) -> None:
        self.edges: list[EdgeRow] = []
        self.edge_lines: list[BaseGeometry] = []
        self.arrows: list[ArrowRow] = []
        self.low_points: list[LowPointRow] = []
        self.areas: list[tuple[str, str, BaseGeometry]] = []
        self.storms: list[StormRow] = []

    def study(self, crs: str) -> DrivewayStudy:
        """Make the tables."""
        outlines = [outline for *_, outline in self.areas]
        areas = [{"driveway_id": own, "lot_id": lot, "area_m2": outline.area} for own, lot, outline in self.areas]
        return DrivewayStudy(
            edges=declared(self.edges, DRIVEWAY_TABLES["driveway_edges"], geometry=self.edge_lines, crs=crs),
            arrows=declared(self.arrows, DRIVEWAY_TABLES["driveway_arrows"], geometry=_points(self.arrows), crs=crs),
            low_points=declared(
                self.low_points, DRIVEWAY_TABLES["driveway_low_points"], geometry=_points(self.low_points), crs=crs
            ),
            areas=declared(areas, DRIVEWAY_TABLES["driveway_areas"], geometry=outlines, crs=crs),
            storms=declared_plain(self.storms, DRIVEWAY_TABLES["driveway_storms"]),
        )


def _points(rows: Sequence[ArrowRow | LowPointRow]) -> Any:
    import shapely

    return np.atleast_1d(shapely.points([row.x_m for row in rows], [row.y_m for row in rows]))


def _without_structures(block: Block, shape: BaseGeometry) -> BaseGeometry | None:
    """The part of a driveway that no structure covers; None if nothing is left."""
    import shapely

    near = block.structures.geometry[block.structures.intersects(shape)]
    left = shape.difference(near.union_all()) if len(near) else shape
    parts = [part for part in shapely.get_parts(left).tolist() if part.geom_type == "Polygon" and part.area > 0]
    return shapely.MultiPolygon(parts) if parts else None


def _terrain_above(terrain: DrivewayTerrain, flow: FlowField) -> BaseGeometry:
    from screening.kernels.accumulate import zone_upstream_cells

    own = terrain.window_cells(np.flatnonzero((terrain.covered_frac >= 0.5).ravel()).astype(np.int64), flow.grid)
    own = own[flow.receiver[own] >= 0]
    cells = zone_upstream_cells(flow.receiver, flow.grid.n_rows, flow.grid.n_cols, own, flow.link_cell)
    outline: BaseGeometry = polygonize_cells(flow.grid, cells)
    return outline
