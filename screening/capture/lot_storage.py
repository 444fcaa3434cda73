"""Whether anything works on a lot, and why not: zones, routes and storage in one status with its reasons."""

from __future__ import annotations

import dataclasses
from collections import Counter
from dataclasses import dataclass
from typing import Any

import pandas as pd

from screening.models import InfiltrationZones
from screening.schema.codes.capture import (
    InfiltrationStatus,
    LotStorageReason,
    RouteKind,
    StorageKind,
    StorageReason,
    StorageStatus,
)
from screening.schema.codes.outfall import Reach
from screening.schema.codes.packing import CODES_JOIN, pack

_ORDER = list(StorageStatus)
_IMPROVEMENTS = (
    StorageStatus.FITS,
    StorageStatus.FITS_AT_FASTER_RATE,
    StorageStatus.TAKES_PART,
    StorageStatus.NOT_NEEDED,
)


@dataclass(frozen=True, kw_only=True)
class _LotStorage:
    """Columns of `columns.SUMMARY_COLUMNS`: what storage does on a lot, and what is behind that or in its way.

    Parameters
    ----------
    storage_status, storage_reason
        The best that storage does, `none found` or `not assessed`; and where that comes from.
    storage_kind, storage_reasons, storage_room_frac
        Of the best storage, the reasons joined; room of the zone over what all of the rain needs.
    n_collection_points
        Of the lot.
    route_reasons
        How many of the pipes to its zones have each `RouteReason`, as `codes.packing.pack` joins them.
    """

    storage_status: StorageStatus
    storage_reason: LotStorageReason
    storage_kind: StorageKind = StorageKind.NONE
    storage_reasons: str = ""
    storage_room_frac: float = float("nan")
    n_collection_points: int = 0
    route_reasons: str = ""


_COLUMNS = [part.name for part in dataclasses.fields(_LotStorage)]


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
    `lot_id`, `storage_status` (the best status of storage, `none found` or `not assessed`), and what its words are
    made from: see `columns.SUMMARY_COLUMNS`.
    """
    collection = routes[routes["kind"] == RouteKind.COLLECTION]
    parts = [dict(list(table.groupby("lot_id"))) for table in (points, collection, options)]
    found = []
    for lot_id, status in zip(zones.by_lot["lot_id"], zones.by_lot["infiltration_status"], strict=True):
        own_points, pipes, own = (_rows(part.get(lot_id)) for part in parts)
        found.append(_judge(InfiltrationStatus(status), len(own_points), pipes, own))
    columns: dict[str, list[object]] = {name: [getattr(each, name) for each in found] for name in _COLUMNS}
    return pd.DataFrame({"lot_id": zones.by_lot["lot_id"].tolist()} | columns)


def _rows(table: pd.DataFrame | None) -> list[Any]:
    return [] if table is None else list(table.itertuples(index=False))


def _judge(status: InfiltrationStatus, n_points: int, pipes: list[Any], options: list[Any]) -> _LotStorage:
    """Take the first of these that stands in the way: ground, water, a route by gravity, room."""
    if not options:
        is_open = status is InfiltrationStatus.NOT_ASSESSED
        return _LotStorage(
            storage_status=StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND,
            storage_reason=LotStorageReason.GROUND_UNKNOWN if is_open else LotStorageReason.NO_GROUND,
        )
    best = min(options, key=lambda row: _ORDER.index(row.status))
    if best.status in _IMPROVEMENTS:
        return _as_best(best, StorageStatus(best.status))
    if not n_points:
        return _LotStorage(storage_status=StorageStatus.NONE_FOUND, storage_reason=LotStorageReason.NO_POINT)
    if best.status == StorageStatus.NO_WATER:
        # Unknown ground on a route leaves it open.
        is_open = any(pipe.reach == Reach.NOT_ASSESSED for pipe in pipes)
        return _LotStorage(
            storage_status=StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND,
            storage_reason=LotStorageReason.NO_ROUTE,
            n_collection_points=n_points,
            route_reasons=pack(Counter(pipe.reason for pipe in pipes).items()),
        )
    is_open = best.status == StorageStatus.NOT_ASSESSED
    return _as_best(best, StorageStatus.NOT_ASSESSED if is_open else StorageStatus.NONE_FOUND)


def _as_best(best: Any, status: StorageStatus) -> _LotStorage:
    takes_part = StorageReason.PART_OF_ROOM in best.reasons
    return _LotStorage(
        storage_status=status,
        storage_reason=LotStorageReason.AS_STORAGE,
        storage_kind=best.kind,
        storage_reasons=CODES_JOIN.join(best.reasons),
        storage_room_frac=best.room_m2 / best.footprint_high_m2 if takes_part else float("nan"),
    )
