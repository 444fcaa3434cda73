"""Storage in one zone for the water that reaches it, of stone alone and with chambers: size, drawdown, overflow,
quantities, checks and cautions.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from screening.capture.storage_builds import StorageBuild, builds_of, deepest_m
from screening.capture.storage_rows import PlannedStorage, QuantityRow, StoragePlace, StorageRow, ZoneFacts
from screening.models import Rain, Verdict
from screening.schema.codes.capture import StoneShare, StorageKind, StorageReason, StorageStatus
from screening.schema.codes.storage import QuantityKind
from screening.schema.criteria import Criteria
from screening.storage.cautions import SiteCaution, SiteFacts, site_cautions
from screening.storage.hyetographs import Hyetograph, nested_hyetograph, nrcs_hyetograph, uniform_hyetograph
from screening.storage.inflow import Inflow, runoff_inflow
from screening.storage.quantities import estimate_quantities
from screening.storage.sizing import Sizing, soil_of
from screening.storage.verdicts import Below, judge_drawdown, judge_storage
from screening.storm.rainfall_tables import rain_depth_mm

_STEP_H = 0.25
"""Steps of the storm in storage."""
_SAME_M = 1e-9
_COMPARED = {
    StoneShare.EXCAVATION: QuantityKind.EXCAVATION,
    StoneShare.STONE: QuantityKind.STONE,
    StoneShare.FABRIC: QuantityKind.FABRIC,
}
"""Quantities of chambers that are compared with those of stone alone."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Asked:
    """What storage is sized for: a zone, the rain and its runoff there."""

    place: StoragePlace
    rain: Hyetograph
    inflow: Inflow

    def row(self, kind: StorageKind, status: StorageStatus, *reasons: StorageReason, **sizes: float) -> StorageRow:
        """Make the row of one kind of storage, with what was sized."""
        place, zone = self.place, self.place.zone
        return StorageRow(
            storage_id=" ".join(part for part in (place.storage_id, kind) if part),
            zone_id=zone.zone_id,
            lot_id=zone.lot_id,
            points=", ".join(place.points),
            rain_mm=self.rain.depth_mm,
            distribution=self.rain.distribution,
            distribution_h=self.rain.duration_h,
            inflow_m3=self.inflow.total_m3,
            rate_low_mm_h=zone.rate_low_mm_h,
            rate_high_mm_h=zone.rate_high_mm_h,
            rate_from=zone.rate_from,
            hsg=zone.hsg,
            room_m2=zone.area_m2,
            overflow_end=place.overflow_end,
            overflow_id=place.overflow_id,
            kind=kind,
            status=status,
            reasons=reasons,
            **sizes,  # type: ignore[arg-type]
        )

    def unsized(self, status: StorageStatus, reason: StorageReason) -> PlannedStorage:
        """Say why nothing is sized."""
        return PlannedStorage(row=self.row(StorageKind.NONE, status, reason))


def spread_rain(rain: Rain, *, criteria: Criteria) -> Hyetograph:
    """Spread the rain that storage is sized for over its hours.

    The depths of the rainfall table nested, where the storm comes from one; else an NRCS distribution over 24 h: II
    by default, which falls harder than the others and so asks for more storage.

    Parameters
    ----------
    rain
        Of the screening.
    criteria
        `capture_rain_mm` in its place; `rainfall_distribution`.
    """
    table, years, hours = rain.table, rain.return_period_yr, rain.duration_h
    if criteria.capture.capture_rain_mm > 0.0:
        return nrcs_hyetograph(criteria.capture.capture_rain_mm, criteria.storm.rainfall_distribution, step_h=_STEP_H)
    if table is None or years is None or hours is None or rain.is_duration_assumed or not np.isfinite(years):
        return nrcs_hyetograph(rain.depth_mm, criteria.storm.rainfall_distribution, step_h=_STEP_H)
    if hours <= table.durations_h[0]:
        return uniform_hyetograph(rain.depth_mm, duration_h=hours, step_h=_STEP_H)
    return nested_hyetograph(
        lambda duration_h: rain_depth_mm(table, return_period_yr=years, duration_h=duration_h),
        duration_h=hours,
        step_h=_STEP_H,
    )


def plan_storage(place: StoragePlace, rain: Hyetograph, *, criteria: Criteria) -> tuple[PlannedStorage, ...]:
    """Size storage in a zone for the water that reaches it: a bed of stone, and chambers where the criteria have some.

    The depth of stone alone is that of the criteria, less where groundwater, a restrictive layer or the time of
    emptying at the slower rate ask for less; chambers have their own. Footprints at the slower rate are at most the
    zone: what it cannot take overflows.

    Parameters
    ----------
    place
        The zone and its water.
    rain
        From `spread_rain`.
    criteria
        See `capture.plan_capture`.

    Returns
    -------
    Stone alone, then chambers; a single row that says why where nothing is sized.
    """
    inflow = runoff_inflow(rain, place.areas, ratio=criteria.storm.initial_abstraction_ratio)
    asked = _Asked(place=place, rain=rain, inflow=inflow)
    if not place.points:
        return (asked.unsized(StorageStatus.NO_WATER, StorageReason.NO_POINT_REACHES),)
    if not place.zone.rate_low_mm_h > 0.0:
        return (asked.unsized(StorageStatus.NOT_ASSESSED, StorageReason.RATE_UNKNOWN),)
    if inflow.total_m3 <= 0.0:
        return (asked.unsized(StorageStatus.NOT_NEEDED, StorageReason.NO_RUNOFF),)
    stone, *others = [_sized(asked, build, criteria) for build in builds_of(place, inflow, criteria)]
    return (stone, *(_compare(other, stone) for other in others))


def _sized(asked: _Asked, build: StorageBuild, criteria: Criteria) -> PlannedStorage:
    place, zone = asked.place, asked.place.zone
    sizes = {
        "depth_m": build.depth_m,
        "base_depth_m": build.depth_m + criteria.storage.storage_cover_m + place.extra_depth_m,
    }
    # Stone of the least depth is sized all the same, and its check fails: there is no shallower one.
    if build.kind is not StorageKind.STONE and build.depth_m > deepest_m(place, criteria) + _SAME_M:
        row = asked.row(build.kind, StorageStatus.TOO_DEEP, StorageReason.BASE_TOO_DEEP, **sizes)
        return PlannedStorage(row=row)
    slow, fast = (soil_of(criteria, rate) for rate in (zone.rate_low_mm_h, zone.rate_high_mm_h))
    needs = build.size(slow)
    needs_fast = needs if fast == slow else build.size(fast)
    built, built_fast = (
        sizing if sizing.gallery.footprint_m2 <= zone.area_m2 else build.fill(soil)
        for sizing, soil in ((needs, slow), (needs_fast, fast))
    )
    sizes |= {
        "volume_low_m3": needs_fast.volume_needed_m3,
        "volume_high_m3": needs.volume_needed_m3,
        "footprint_low_m2": needs_fast.gallery.footprint_m2,
        "footprint_high_m2": needs.gallery.footprint_m2,
    }
    if built is None or built_fast is None:
        row = asked.row(build.kind, StorageStatus.NO_ROOM, StorageReason.NO_ROOM_FOR_CHAMBER, **sizes)
        return PlannedStorage(row=row)
    longest_h = criteria.storage.drawdown_max_h * (1.0 + _SAME_M)
    status, reasons = _judge_fit(
        has_room=needs.gallery.footprint_m2 <= zone.area_m2,
        has_room_fast=needs_fast.gallery.footprint_m2 <= zone.area_m2,
        in_time=built.drawdown_h <= longest_h,
        in_time_fast=built_fast.drawdown_h <= longest_h,
    )
    sizes |= {
        "built_footprint_m2": built.gallery.footprint_m2,
        "overflow_m3": built.routing.overflow_total_m3,
        "drawdown_low_h": built_fast.drawdown_h,
        "drawdown_high_h": built.drawdown_h,
    }
    row = asked.row(build.kind, status, *reasons, **sizes)
    return PlannedStorage(
        row=row,
        quantities=_quantities(row, place, built, built_fast, criteria),
        cautions=_cautions(row, zone, criteria),
        verdicts=_verdicts(row, zone, built, criteria),
    )


def _compare(other: PlannedStorage, stone: PlannedStorage) -> PlannedStorage:
    """Say what another kind takes compared with stone alone, in shares."""
    if not other.quantities:
        return other
    shares = [
        (StoneShare.FOOTPRINT, other.row.footprint_high_m2 / stone.row.footprint_high_m2),
        (StoneShare.DEPTH, other.row.depth_m / stone.row.depth_m),
    ]
    if other.row.overflow_m3 == stone.row.overflow_m3 == 0.0:
        most, least = ({line.quantity: line.high for line in one.quantities} for one in (other, stone))
        shares += [(share, most[kind] / least[kind]) for share, kind in _COMPARED.items()]
    return dataclasses.replace(other, row=dataclasses.replace(other.row, stone_shares=tuple(shares)))


def _judge_fit(
    *, has_room: bool, has_room_fast: bool, in_time: bool, in_time_fast: bool
) -> tuple[StorageStatus, tuple[StorageReason, ...]]:
    """Judge room and time of emptying, each at the slower and at the faster rate."""
    slowly = () if in_time else (StorageReason.SLOW_AT_SLOWER_RATE,)
    if not in_time_fast:
        return StorageStatus.TOO_SLOW, (StorageReason.SLOW_AT_BOTH_RATES,)
    if not has_room_fast:
        return StorageStatus.TAKES_PART, (StorageReason.PART_OF_ROOM, *slowly)
    if has_room and in_time:
        return StorageStatus.FITS, (StorageReason.ROOM_FOR_ALL,)
    small = () if has_room else (StorageReason.SMALL_AT_SLOWER_RATE,)
    return StorageStatus.FITS_AT_FASTER_RATE, (*small, *slowly)


def _quantities(
    row: StorageRow, place: StoragePlace, built: Sizing, built_fast: Sizing, criteria: Criteria
) -> tuple[QuantityRow, ...]:
    """From the least for the smaller bed to the most for the larger."""
    cover = criteria.storage.storage_cover_m + place.extra_depth_m
    large, small = (
        estimate_quantities(sizing.gallery, cover_m=cover, pipe_run_m=place.pipe_run_m)
        for sizing in (built, built_fast)
    )
    return tuple(
        QuantityRow(
            storage_id=row.storage_id,
            lot_id=row.lot_id,
            quantity=most.kind,
            low=least.amount.low,
            high=most.amount.high,
            unit=most.unit,
            assumed=most.assumed,
            sides=most.sides,
        )
        for most, least in zip(large, small, strict=True)
    )


def _known(value: float) -> float | None:
    return None if value != value or value == float("inf") else float(value)


def _cautions(row: StorageRow, zone: ZoneFacts, criteria: Criteria) -> tuple[SiteCaution, ...]:
    facts = SiteFacts(
        pit_depth_m=row.base_depth_m,
        base_depth_m=row.base_depth_m,
        drawdown_h=row.drawdown_high_h,
        overflow_m3=row.overflow_m3,
        overflow_end=row.overflow_end,
        overflow_id=row.overflow_id,
        water_depth_m=_known(zone.water_depth_m),
        rock_depth_m=_known(zone.restrictive_depth_m),
        structure_m=_known(zone.structure_m),
        lot_line_m=_known(zone.lot_line_m),
        well_m=_known(zone.well_m),
        septic_m=_known(zone.septic_m),
        slope_pct=_known(zone.slope_pct),
    )
    return site_cautions(facts, criteria=criteria)


def _verdicts(row: StorageRow, zone: ZoneFacts, built: Sizing, criteria: Criteria) -> tuple[Verdict, ...]:
    """Checks at the slower rate, which is none that was measured."""
    below = Below(
        base_depth_m=row.base_depth_m,
        water_depth_m=_known(zone.water_depth_m),
        rock_depth_m=_known(zone.restrictive_depth_m),
    )
    return (
        *judge_storage(built, below, lot_id=row.lot_id, storage_id=row.storage_id, criteria=criteria),
        *judge_drawdown(built, lot_id=row.lot_id, storage_id=row.storage_id),
    )
