"""What the study of driveways found beside their one row each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True, kw_only=True, eq=False)
class DrivewayStudy:
    """Edges, flow and storms of the driveways on chosen lots: see `columns.DRIVEWAY_TABLES`.

    Parameters
    ----------
    edges
        Pieces of edge as lines.
    arrows
        Points with the way down and its slope.
    low_points
        Points.
    areas
        Ground that drains to each driveway, polygons.
    storms
        One row a driveway and storm, the screened storm first.
    """

    edges: gpd.GeoDataFrame
    arrows: gpd.GeoDataFrame
    low_points: gpd.GeoDataFrame
    areas: gpd.GeoDataFrame
    storms: pd.DataFrame


def no_study() -> DrivewayStudy:
    """Give the study of no driveways."""
    from screening.schema.columns import DRIVEWAY_TABLES, declared, declared_plain

    edges, arrows, low_points, areas = (
        declared([], DRIVEWAY_TABLES[f"driveway_{name}"], geometry=[], crs=None)
        for name in ("edges", "arrows", "low_points", "areas")
    )
    return DrivewayStudy(
        edges=edges,
        arrows=arrows,
        low_points=low_points,
        areas=areas,
        storms=declared_plain([], DRIVEWAY_TABLES["driveway_storms"]),
    )
