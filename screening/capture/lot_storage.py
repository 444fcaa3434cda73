"""Whether anything works on a lot, and why not: zones, routes and storage in one status with its reasons."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pandas as pd

from screening.models import InfiltrationZones, LotStorage
from screening.schema.codes.capture import (
    GroundStatus,
    LotStorageReason,
    RouteKind,
    StorageReason,
    StorageStatus,
)
from screening.schema.codes.outfall import Reach

_ORDER = list(StorageStatus)
_IMPROVEMENTS = (
    StorageStatus.FITS,
    StorageStatus.FITS_AT_FASTER_RATE,
    StorageStatus.TAKES_PART,
    StorageStatus.NOT_NEEDED,
)


def storage_of_lots(
    zones: InfiltrationZones, points: pd.DataFrame, routes: pd.DataFrame, options: pd.DataFrame
) -> pd.DataFrame:
    """Say of each lot whether storage works on it and, where none does, what stands against it.

    Reasons name no ids and no lengths, so that they are the same for a lot alone, in any block and in every unit.

    Parameters
    ----------
    zones, points, routes, options
        Of the same window: see `models.Capture`.

    Returns
    -------
    `lot_id`, `storage_status` (the best status of storage, `none found` or `not assessed`) and `storage_found`, a
    `models.LotStorage`.
    """
    collection = routes[routes["kind"] == RouteKind.COLLECTION]
    parts = [dict(list(table.groupby("lot_id"))) for table in (points, collection, options)]
    found = []
    for lot_id, ground in zip(zones.by_lot["lot_id"], zones.by_lot["infiltration_status"], strict=True):
        own_points, pipes, own = (_rows(part.get(lot_id)) for part in parts)
        found.append(_judge(GroundStatus(ground), len(own_points), pipes, own))
    columns = {"lot_id": zones.by_lot["lot_id"].tolist(), "storage_status": [each.status for each in found]}
    return pd.DataFrame(columns).assign(storage_found=found)


def _rows(table: pd.DataFrame | None) -> list[Any]:
    return [] if table is None else list(table.itertuples(index=False))


def _judge(ground: GroundStatus, n_points: int, pipes: list[Any], options: list[Any]) -> LotStorage:
    """Take the first of these that stands in the way: ground, water, a route by gravity, room."""
    if not options:
        is_open = ground is GroundStatus.NOT_ASSESSED
        return LotStorage(
            status=StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND,
            reason=LotStorageReason.GROUND_UNKNOWN if is_open else LotStorageReason.NO_GROUND,
        )
    best = min(options, key=lambda row: _ORDER.index(row.status))
    if best.status in _IMPROVEMENTS:
        return _as_best(best, StorageStatus(best.status))
    if not n_points:
        return LotStorage(status=StorageStatus.NONE_FOUND, reason=LotStorageReason.NO_POINT)
    if best.status == StorageStatus.NO_WATER:
        # Unknown ground on a route leaves it open.
        is_open = any(pipe.reach == Reach.NOT_ASSESSED for pipe in pipes)
        return LotStorage(
            status=StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND,
            reason=LotStorageReason.NO_ROUTE,
            n_points=n_points,
            route_reasons=tuple(Counter(pipe.reason for pipe in pipes).items()),
        )
    is_open = best.status == StorageStatus.NOT_ASSESSED
    return _as_best(best, StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND)


def _as_best(best: Any, status: StorageStatus) -> LotStorage:
    takes_part = StorageReason.PART_OF_ROOM in best.reasons
    return LotStorage(
        status=status,
        reason=LotStorageReason.AS_STORAGE,
        kind=best.kind,
        reasons=best.reasons,
        room_frac=best.room_m2 / best.footprint_high_m2 if takes_part else float("nan"),
    )
