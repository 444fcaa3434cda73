"""Where water can be caught and stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.schema.codes.capture import (
    LotStorageReason,
    Rejection,
    StorageKind,
    StorageReason,
    StorageStatus,
)
from screening.schema.codes.outfall import RouteReason

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from screening.models.findings import Verdict


@dataclass(frozen=True)
class RejectedShare:
    """A reason that turns ground of a lot away, and the share of the lot; None where the lot shows no ground at all."""

    reason: Rejection
    share_frac: float | None


@dataclass(frozen=True, kw_only=True)
class LotStorage:
    """Whether storage works on a lot, and what stands behind that or in its way.

    Parameters
    ----------
    status
        The best that storage does, `none found` or `not assessed`.
    reason
        Where that comes from.
    kind, reasons, room_frac
        Of the best storage: see `columns.STORAGE_COLUMNS`; room of the zone over what all of the rain needs.
    n_points
        Collection points of the lot.
    route_reasons
        How many of the pipes to its zones have each reason.
    """

    status: StorageStatus
    reason: LotStorageReason
    kind: StorageKind = StorageKind.NONE
    reasons: tuple[StorageReason, ...] = ()
    room_frac: float = float("nan")
    n_points: int = 0
    route_reasons: tuple[tuple[RouteReason, int], ...] = ()


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
