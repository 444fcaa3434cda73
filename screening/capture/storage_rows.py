"""Rows of storage in one zone, of its quantities and cautions, whole before they are tables."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from screening.models import Verdict
from screening.schema.codes.capture import (
    RateBasis,
    RouteEnd,
    StoneShare,
    StorageKind,
    StorageReason,
    StorageStatus,
)
from screening.schema.codes.storage import PitSides, QuantityKind, RainDistribution
from screening.schema.columns import CAUTION_COLUMNS, QUANTITY_COLUMNS, STORAGE_COLUMNS, declared_plain
from screening.storage.cautions import SiteCaution
from screening.storage.inflow import DrainingArea
from screening.storage.ranges import Range

if TYPE_CHECKING:
    import pandas as pd

_NOT_SIZED = float("nan")


@dataclass(frozen=True, kw_only=True)
class ZoneFacts:
    """What storage asks of a zone: columns of `columns.ZONE_COLUMNS`."""

    zone_id: str
    lot_id: str
    area_m2: float
    slope_pct: float
    hsg: str
    rate_low_mm_h: float
    rate_high_mm_h: float
    rate_from: RateBasis
    water_depth_m: float
    restrictive_depth_m: float
    structure_m: float
    lot_line_m: float
    well_m: float
    septic_m: float

    @classmethod
    def of_row(cls, row: Any) -> ZoneFacts:
        """Take them from a row of the table."""
        return cls(**{part.name: row[part.name] for part in dataclasses.fields(cls)})


@dataclass(frozen=True, kw_only=True, eq=False)
class StoragePlace:
    """A zone with the water that reaches it.

    Parameters
    ----------
    storage_id
        What it will be called, before its kind.
    zone
        The zone.
    points
        Ids of the collection points whose water reaches it.
    areas
        All that drains to them, each cell once, by curve number.
    pipe_run_m
        Pipe from all of them.
    extra_depth_m
        How much deeper than under its least cover the storage lies for the sake of the pipes.
    overflow_end, overflow_id
        What its overflow comes to first, and its id.
    """

    storage_id: str
    zone: ZoneFacts
    points: tuple[str, ...]
    areas: tuple[DrainingArea, ...]
    pipe_run_m: float
    extra_depth_m: float
    overflow_end: RouteEnd
    overflow_id: str


@dataclass(frozen=True, kw_only=True)
class StorageRow:
    """Columns of `columns.STORAGE_COLUMNS`; what was not sized is NaN."""

    storage_id: str
    zone_id: str
    lot_id: str
    points: str
    rain_mm: float
    distribution: RainDistribution
    distribution_h: float
    inflow_m3: float
    rate_low_mm_h: float
    rate_high_mm_h: float
    rate_from: RateBasis
    hsg: str
    room_m2: float
    overflow_end: RouteEnd
    overflow_id: str
    kind: StorageKind = StorageKind.NONE
    status: StorageStatus
    reasons: tuple[StorageReason, ...]
    stone_shares: tuple[tuple[StoneShare, float], ...] = ()
    depth_m: float = _NOT_SIZED
    base_depth_m: float = _NOT_SIZED
    volume_low_m3: float = _NOT_SIZED
    volume_high_m3: float = _NOT_SIZED
    footprint_low_m2: float = _NOT_SIZED
    footprint_high_m2: float = _NOT_SIZED
    built_footprint_m2: float = _NOT_SIZED
    overflow_m3: float = _NOT_SIZED
    drawdown_low_h: float = _NOT_SIZED
    drawdown_high_h: float = _NOT_SIZED


@dataclass(frozen=True, kw_only=True)
class QuantityRow:
    """Columns of `columns.QUANTITY_COLUMNS`."""

    storage_id: str
    lot_id: str
    quantity: QuantityKind
    low: float
    high: float
    unit: str
    assumed: Range
    sides: PitSides | None


@dataclass(frozen=True, kw_only=True, eq=False)
class PlannedStorage:
    """Storage as a row, with its quantities, cautions and checks."""

    row: StorageRow
    quantities: tuple[QuantityRow, ...] = ()
    cautions: tuple[SiteCaution, ...] = ()
    verdicts: tuple[Verdict, ...] = field(default=())


def tabulate_storage(planned: Iterable[PlannedStorage]) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Make the tables of storage, of its quantities and of its cautions."""
    each = list(planned)
    options = [_columns_of(plan.row) for plan in each]
    quantities = [_columns_of(row) for plan in each for row in plan.quantities]
    cautions = [
        _columns_of(caution) | {"what": caution.what, "lot_id": plan.row.lot_id, "storage_id": plan.row.storage_id}
        for plan in each
        for caution in plan.cautions
    ]
    return (
        declared_plain(options, STORAGE_COLUMNS),
        declared_plain(quantities, QUANTITY_COLUMNS),
        declared_plain(cautions, CAUTION_COLUMNS),
    )


def _columns_of(row: StorageRow | QuantityRow | SiteCaution) -> dict[str, object]:
    """Fields of a row by name, as they are: codes and ranges stay whole."""
    return {part.name: getattr(row, part.name) for part in dataclasses.fields(row)}
