"""Where water can be caught and stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from screening.models.findings import Verdict


@dataclass(frozen=True, kw_only=True, eq=False)
class Capture:
    """Routes from where water can be caught to where the ground may take it, and storage there.

    Parameters
    ----------
    zones
        Candidate zones in their order on each lot: see `columns.ZONE_COLUMNS`.
    points, routes
        Collection points, and pipes from them to the zones with the routes of overflow: see
        `columns.COLLECTION_COLUMNS`, `ROUTE_COLUMNS`.
    options, quantities, cautions
        Storage in the best zone of each lot, what it takes to build, and what it sets off: see
        `columns.STORAGE_COLUMNS`, `QUANTITY_COLUMNS`, `CAUTION_COLUMNS`.
    verdicts
        Checks of the storage.
    """

    zones: gpd.GeoDataFrame
    points: gpd.GeoDataFrame
    routes: gpd.GeoDataFrame
    options: pd.DataFrame
    quantities: pd.DataFrame
    cautions: pd.DataFrame
    verdicts: tuple[Verdict, ...] = ()
