"""What the study of driveways found beside their one row each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.schema.codes.driveways import ShedsTo

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class ShedShare:
    """Share of the water of a driveway that goes one way.

    Parameters
    ----------
    is_own
        Of its own rain; else of its run-on.
    sheds_to, to_id
        What it comes to, and the id of that structure or driveway; None = it stays in low points.
    frac
        Of all its own rain, or of all its run-on.
    """

    is_own: bool
    sheds_to: ShedsTo | None
    to_id: str
    frac: float


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
